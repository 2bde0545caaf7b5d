// Pieces that several screens draw.
import { html, nothing, type TemplateResult } from 'lit-html';
import { until } from 'lit-html/directives/until.js';
import { call } from './client';
import { photos } from './record';
import type { PhotoNote, RecordView } from './shapes';

export function icon(name: string): TemplateResult {
  return html`<img class="icon" src="icons/${name}.svg" alt="" width="24" height="24">`;
}

const pictures = new Map<string, Promise<string | null>>();
/** The address of a small picture; it is made once. */
export function picture(hash: string): Promise<string | null> {
  let known = pictures.get(hash);
  if (!known) {
    known = call('thumbnail', hash).then((blob) => {
      if (!blob) pictures.delete(hash);
      return blob ? URL.createObjectURL(blob) : null;
    });
    pictures.set(hash, known);
  }
  return known;
}

export function thumb(job: string, photo: RecordView, words = ''): TemplateResult {
  const role = String(photo.fields['role'] ?? 'photo').replace('_', '-');
  const hash = photo.hash;
  return html`<a class="thumb" href="#/job/${job}/photo/${photo.at.split('/')[1]}">
    ${hash ? until(picture(hash).then((url) => url ? html`<img src=${url} alt="${role} by ${photo.who}">` : html`<span class="waiting">${role}, still to come</span>`), html`<span class="waiting">…</span>`) : nothing}
    <span>${words || role}</span></a>`;
}

/** A large button that opens the camera. The files are kept before the screen says so. */
export function camera(job: string, words: string, note: PhotoNote, opts: { main?: boolean; roll?: boolean; then?: (taken: string[]) => void } = {}): TemplateResult {
  const took = async (event: Event) => {
    const input = event.target as HTMLInputElement;
    const files = [...(input.files ?? [])];
    input.value = '';
    if (files.length === 0) return;
    const taken = await photos(job, files, note);
    if (taken) opts.then?.(taken);
  };
  return html`<label class="button ${opts.main ? 'main' : ''}">${icon(opts.roll ? 'image' : 'camera')}<span>${words}</span>
    <input type="file" accept="image/*" class="hidden-input" ?multiple=${opts.roll ?? false} capture=${opts.roll ? nothing : 'environment'} @change=${took}></label>`;
}

/** A count by large buttons. */
export function stepper(words: string, value: number | null | undefined, set: (value: number) => void, least = 0, most = 9_999): TemplateResult {
  const now = value ?? 0;
  return html`<div class="stepper" role="group" aria-label=${words}><span>${words}</span>
    <button aria-label="one less: ${words}" ?disabled=${now <= least} @click=${() => set(now - 1)}>−</button>
    <output aria-live="polite">${value ?? '–'}</output>
    <button class="main" aria-label="one more: ${words}" ?disabled=${now >= most} @click=${() => set(now + 1)}>+</button></div>`;
}

/** One of several words. */
export function choice(words: string, list: { code: string; label: string }[], value: unknown, set: (code: string) => void): TemplateResult {
  return html`<fieldset class="choice"><legend>${words}</legend><div class="chips">
    ${list.map((word) => html`<button aria-pressed=${word.code === value} @click=${() => set(word.code)}>${word.label}</button>`)}
  </div></fieldset>`;
}

export function time(at: number | null | undefined): string {
  return at ? new Date(at).toLocaleTimeString([], { hour: '2-digit', minute: '2-digit' }) : '';
}

export function note(kind: '' | 'warn' | 'bad' | 'good', body: unknown): TemplateResult {
  return html`<div class="note ${kind}">${body}</div>`;
}
