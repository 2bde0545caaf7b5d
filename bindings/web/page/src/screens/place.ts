// One place: its overview, its parts one tap each, what was found, its measures.
import { html, nothing, type TemplateResult } from 'lit-html';
import { call } from '../client';
import { camera, icon, note, thumb, time } from '../parts-of-page';
import { partsOf } from '../parts';
import { add, amend } from '../record';
import { app, go, label } from '../state';
import { path, screen } from '../screen';
import type { PlaceView, RecordView } from '../shapes';
import { climb } from './climb';
import { eave } from './eave';
import { counts, room as sizeOf, side, square } from './measures';
import { grazing, pitchGauge } from './senses';

const words = () => app.state!.vocabulary;

/** Damage: one tap here, one for the cause; then its photos. */
function partRow(job: string, place: PlaceView, component: string): TemplateResult {
  const name = label(words().Component, component);
  const standing = place.parts.find((part) => part.fields['component'] === component && !part.struck);
  const found = place.findings.filter((one) => one.fields['component'] === component && !one.struck);
  const condition = standing?.fields['condition'];
  const set = (code: string, said: string) => standing
    ? amend(job, standing.at, { condition: code }, said)
    : add(job, { component: { place: place.at, component, condition: code } }, said);
  return html`<li class="part"><span class="name">${name}${found.length ? html`<small>${found.length} found</small>` : nothing}${standing ? html`<small>${standing.mine ? '' : `by ${standing.who}`}</small>` : nothing}</span>
    <button class="tap good" aria-pressed=${condition === 'cleared'} aria-label="${name}: cleared" @click=${() => set('cleared', `${name} cleared`)}>✓<small>cleared</small></button>
    <a class="tap bad" aria-label="${name}: damage" href=${path('job', job, 'found', place.at, component)}>✕<small>damage</small></a>
    <button class="tap" aria-pressed=${condition === 'not_present'} aria-label="${name}: none here" @click=${() => set('not_present', `no ${name} here`)}>–<small>none</small></button></li>`;
}

export function findingRow(job: string, one: RecordView, photos: RecordView[]): TemplateResult {
  const fields = one.fields;
  const pair = photos.filter((photo) => photo.shows?.includes(one.at) && !photo.struck);
  const far = pair.some((photo) => photo.fields['role'] === 'standoff');
  const near = pair.some((photo) => photo.fields['role'] === 'close_up');
  return html`<li><a class="row ${one.struck ? 'struck' : ''}" href=${path('job', job, 'finding', one.at.split('/')[1]!)}>
    <span class="pair" aria-label="standoff ${far ? 'taken' : 'missing'}, close-up ${near ? 'taken' : 'missing'}"><i class=${far ? 'on' : ''}>far</i><i class=${near ? 'on' : ''}>near</i></span>
    <span>${label(words().Component, fields['component'])}, ${label(words().Condition, fields['condition'])}<small>${label(words().Cause, fields['cause'])}${fields['units'] ? ` · ${fields['units']} of ${fields['units_total'] ?? '?'}` : ''}${one.hits ? ` · ${one.hits} hits` : ''} · ${one.mine ? 'you' : one.who} ${time(one.made_at)}</small></span>${icon('chevron-right')}</a></li>`;
}

const WHOLE: Record<string, string> = { elevation: 'side', slope: 'slope', structure: 'structure' };

type Data = PlaceView & { side?: PlaceView };

export const place = (job: string, at: string) => screen<Data>({
  title: (data) => data.name,
  back: path('job', job),
  load: async () => {
    app.house = await call('house', job);
    const here: Data = await call('place', job, at);
    // The gutter at an eave is measured as a part of its side.
    const side = at.startsWith('eave_opening/') ? here.record?.fields['side'] : undefined;
    return side ? { ...here, side: await call('place', job, `elevation/${side}`) } : here;
  },
  draw: (data) => {
    const record = data.record;
    const overview = data.photos.some((photo) => photo.fields['role'] === 'overview' && !photo.struck);
    const room = at.startsWith('room/');
    const walkable = /^(elevation|slope|structure)\//.test(at);
    const standing = data.findings.filter((one) => !one.struck);
    return html`
      ${/^(eave_opening|slope)\//.test(at) ? climb(app.house!) : nothing}
      ${at.startsWith('eave_opening/') ? eave(job, data, data.side) : html`
        <div class="buttons">${camera(job, room ? 'Ceiling' : overview ? 'Another overview' : `Overview of the whole ${WHOLE[at.split('/')[0]!] ?? 'place'}`, { role: 'overview', place: at }, { main: !overview })}
        ${camera(job, 'From the roll', { place: at }, { roll: true })}</div>
        ${room ? note('', html`<p>Ceilings are photographed even where nothing is reported: a later stain is then new.</p>`) : nothing}
        <ul class="parts" aria-label="parts">${partsOf(at).map((component) => partRow(job, data, component))}</ul>`}
      ${standing.length ? html`<h2>Found here</h2><ul class="rows">${data.findings.map((one) => findingRow(job, one, data.photos))}</ul>` : nothing}
      ${at.startsWith('slope/') ? html`${pitchGauge(job, data)}${counts(job, data)}${square(job, data)}` : nothing}
      ${at.startsWith('elevation/') ? side(job, data) : nothing}
      ${room ? sizeOf(job, data) : nothing}
      ${walkable && !at.startsWith('structure/') ? grazing(job, data) : nothing}
      ${data.photos.length ? html`<h2>Photos here</h2><div class="thumbs">${data.photos.map((photo) => thumb(job, photo))}</div>` : nothing}
      <h2>Notes</h2>${data.notes.filter((one) => !one.struck).map((one) => html`<p>${String(one.fields['text'] ?? '')} <small class="soft">${one.who} ${time(one.made_at)}</small></p>`)}
      ${noteForm(job, at)}
      ${walkable ? html`<button class="wide ${record?.fields['walked'] ? '' : 'main'}" aria-pressed=${Boolean(record?.fields['walked'])} @click=${async () => { if (await amend(job, at, { walked: !record?.fields['walked'] }, 'Walked') && !record?.fields['walked']) go(`/job/${job}`); }}>${record?.fields['walked'] ? '✓ walked from left to right' : 'This place is walked'}</button>` : nothing}`;
  },
});

export function noteForm(job: string, about: string): TemplateResult {
  return html`<form class="inline" @submit=${async (event: Event) => {
    event.preventDefault();
    const area = (event.target as HTMLFormElement).querySelector('textarea')!;
    if (area.value.trim() && (await add(job, { note: { about, text: area.value.trim() } }, 'Note'))) area.value = '';
  }}><textarea rows="2" aria-label="a note, by the phone's dictation or by hand" placeholder="Say or write a note"></textarea><button>Add note</button></form>`;
}
