// Measures and counts that a tap takes: no typing.
import { html, nothing, type TemplateResult } from 'lit-html';
import { inches, length } from '../lengths';
import { camera, choice, stepper } from '../parts-of-page';
import { act, add, amend } from '../record';
import { app, label } from '../state';
import type { PlaceView, RecordView } from '../shapes';

/** A length by large buttons; `step` and `start` in inches. */
export function lengthStepper(words: string, value: unknown, step: number, start: number, set: (length: string) => void): TemplateResult {
  const now = inches(value);
  return html`<div class="stepper" role="group" aria-label=${words}><span>${words}</span>
    <button aria-label="less: ${words}" ?disabled=${now === undefined || now <= step} @click=${() => set(length((now ?? start) - step))}>−</button>
    <output aria-live="polite">${now === undefined ? '–' : length(now)}</output>
    <button class="main" aria-label="more: ${words}" @click=${() => set(length(now === undefined ? start : now + step))}>+</button></div>`;
}

/** How large a room is; asked for where damage lies in it. */
export function room(job: string, place: PlaceView): TemplateResult {
  const fields = place.record?.fields ?? {};
  const one = (field: string, words: string, start: number) => lengthStepper(words, fields[field], 6, start, (value) => void amend(job, place.at, { [field]: value }, words));
  return html`<details ?open=${place.findings.some((found) => !found.struck)}><summary>Size of the room</summary>${one('length', 'Length', 144)}${one('width', 'Width', 120)}${one('height', 'Height', 96)}</details>`;
}

/** What a side tells of itself. */
export function side(job: string, place: PlaceView): TemplateResult {
  const fields = place.record?.fields ?? {};
  const guards = place.parts.find((part) => part.fields['component'] === 'gutter_guard' && part.fields['condition'] !== 'not_present' && !part.struck);
  const held = ['clipped on', 'screwed', 'under the shingles', 'lying in the gutter'];
  return html`${stepper('Storeys on this side', fields['storeys'] as number, (storeys) => void amend(job, place.at, { storeys }, 'Storeys'), 1, 4)}
    ${guards ? choice('How the guards are held', held.map((code) => ({ code, label: code })), guards.fields['details'], (details) => void amend(job, guards.at, { details }, 'Guards')) : nothing}`;
}

const COUNTED = ['pipe_boot', 'box_vent', 'turbine_vent', 'power_vent', 'exhaust_cap', 'skylight'];

/** Counts of a slope by a big plus. A part that is counted is there. */
export function counts(job: string, place: PlaceView): TemplateResult {
  const words = app.state!.vocabulary.Component;
  return html`<h2>Counted on this slope</h2>${COUNTED.map((component) => {
    const known = place.parts.find((part) => part.fields['component'] === component && !part.struck);
    const name = label(words, component);
    return stepper(name, known?.fields['count'] as number | undefined, (count) => void (known
      ? amend(job, known.at, { count }, `${count} ${name}`)
      : add(job, { component: { place: place.at, component, count } }, `${count} ${name}`)));
  })}
  ${stepper('Layers of roofing', place.record?.fields['layers'] as number, (layers) => void amend(job, place.at, { layers }, 'Layers'), 1, 4)}`;
}

/** A test square of one's own, its hits and its picture. */
export function square(job: string, place: PlaceView): TemplateResult {
  const mine = place.squares.find((one) => !one.struck && one.mine);
  const shown = (one: RecordView) => place.photos.some((photo) => photo.shows?.includes(one.at) && !photo.struck);
  return html`<h2>Test square, 10 ft by 10 ft</h2>
    ${mine ? html`${stepper('Hits inside it', mine.my_hits ?? 0, (hits) => void act(job, { count: { at: mine.at, hits } }, `${hits} ${hits === 1 ? 'hit' : 'hits'}`))}
        <div class="buttons">${camera(job, shown(mine) ? 'Another picture of the square' : 'The square in the picture', { role: 'measurement', place: place.at, shows: [mine.at] })}</div>`
      : html`<div class="chips">${['typical', 'random', 'worst'].map((placement) => html`<button @click=${() => add(job, { test_square: { slope: place.at, width: "10'", height: "10'", placement } }, 'Test square', 0)}>+ ${placement} spot</button>`)}</div><p class="soft">Zero is counted too.</p>`}
    ${place.squares.filter((one) => !one.struck && !one.mine).map((one) => html`<p class="soft">${one.who} counted ${one.hits ?? 0}.</p>`)}`;
}
