// Cautions, where a climb begins.
import { html, type TemplateResult } from 'lit-html';
import { add, amend } from '../record';
import { app } from '../state';
import type { House } from '../shapes';

/** Ladder and roof cautions: open until the crew says that it has read them on this visit. */
export function climb(house: House): TemplateResult {
  const words = app.state!.vocabulary;
  const visit = house.lists['visit']?.find((one) => !one.struck)?.at;
  const read = () => visit ? void amend(house.id, visit, { cautions_read: true }, 'Cautions read')
    : void add(house.id, { visit: { day: new Date().toLocaleDateString('sv'), arrived_at: Date.now(), cautions_read: true } }, 'Cautions read');
  const done = house.lists['visit']?.some((one) => one.fields['cautions_read']);
  return html`<details class="note warn" ?open=${!done}><summary>Before you climb</summary><ul>${words.cautions.map((one) => html`<li>${one.text}</li>`)}</ul><p>${words.deference}</p>
    ${done ? html`<p>✓ read on this visit</p>` : html`<button class="wide" @click=${read}>We have read this</button>`}</details>`;
}

