// One place: its overview, its parts one tap each, what was found, its measures.
import { html, nothing, type TemplateResult } from 'lit-html';
import { call } from '../client';
import { camera, choice, icon, note, stepper, thumb, time } from '../parts-of-page';
import { partsOf } from '../parts';
import { act, add, amend } from '../record';
import { app, go, label } from '../state';
import { path, screen } from '../screen';
import type { PlaceView, RecordView } from '../shapes';
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

function eave(job: string, place: PlaceView): TemplateResult {
  const fields = place.record?.fields ?? {};
  const layer = (field: string, title: string, kinds: [string, string][]) => choice(title,
    [...kinds.flatMap(([code, said]) => [{ code: `seen:${code}`, label: said }]), { code: 'absent', label: 'none, seen' }, { code: 'not_seen', label: 'could not see' }],
    told(fields[field]), (code) => void amend(job, place.at, { [field]: asked(code) }, title));
  return html`${note('warn', html`<p>Nothing is broken to look. What cannot be seen is said so, and confirmed at tear-off.</p>`)}
    ${layer('starter', 'Starter', [['proper_strip', 'proper strip'], ['reversed_shingle', 'reversed shingle']])}
    ${layer('drip_edge', 'Drip edge', [['metal', 'metal']])}${layer('gutter_apron', 'Gutter apron', [['metal', 'metal']])}
    ${layer('underlayment', 'Underlayment', [['felt_15', '15 lb felt'], ['felt_30', '30 lb felt'], ['synthetic', 'synthetic']])}
    ${layer('ice_barrier', 'Ice barrier', [['standard', 'standard'], ['high_temperature', 'high temperature']])}
    ${layer('deck', 'Deck', [['plywood', 'plywood'], ['osb', 'oriented strand board'], ['spaced_boards', 'spaced boards'], ['planks', 'planks']])}
    ${stepper('Layers of roofing', fields['roofing_layers'] as number, (n) => void amend(job, place.at, { roofing_layers: n }, 'Layers'), 0, 5)}
    ${camera(job, 'A photo of the layers', { role: 'layer', place: place.at }, { main: true })}
    ${camera(job, 'Tape across the gutter', { role: 'measurement', place: place.at })}
    ${choice('Gutter width', [{ code: '5 in', label: '5 in' }, { code: '6 in', label: '6 in' }, { code: '7 in', label: '7 in' }], undefined,
      (length) => void add(job, { measurement: { place: `elevation/${fields['side'] ?? 'front'}`, of: 'gutter_width', length, method: 'tape' } }, `Gutter ${length}`))}`;
}

// A layer stands in JSON as {"seen": what}, "seen_absent" or "could_not_see".
function told(value: unknown): string | undefined {
  if (value === 'seen_absent') return 'absent';
  if (value === 'could_not_see') return 'not_seen';
  const seen = (value as { seen?: string } | undefined)?.seen;
  return seen ? `seen:${seen}` : undefined;
}
function asked(code: string): unknown {
  if (code === 'absent') return 'seen_absent';
  if (code === 'not_seen') return 'could_not_see';
  return { seen: code.slice(5) };
}

function slope(job: string, place: PlaceView): TemplateResult {
  const square = place.squares.find((one) => !one.struck && one.mine);
  return html`${pitchGauge(job, place)}
    <h2>Test square, 10 ft by 10 ft</h2>
    ${square ? stepper('Hits inside it', square.my_hits ?? 0, (hits) => void act(job, { count: { at: square.at, hits } }, `${hits} hits`))
      : html`<div class="chips">${['typical', 'random', 'worst'].map((placement) => html`<button @click=${() => add(job, { test_square: { slope: place.at, width: "10'", height: "10'", placement } }, 'Test square', 0)}>+ ${placement} spot</button>`)}</div><p class="soft">Zero is counted too.</p>`}
    ${place.squares.filter((one) => !one.struck && !one.mine).map((one) => html`<p class="soft">${one.who} counted ${one.hits ?? 0}.</p>`)}`;
}

export const place = (job: string, at: string) => screen<PlaceView>({
  title: (data) => data.name,
  back: path('job', job),
  load: () => call('place', job, at),
  draw: (data) => {
    const record = data.record;
    const overview = data.photos.some((photo) => photo.fields['role'] === 'overview' && !photo.struck);
    const room = at.startsWith('room/');
    const walkable = /^(elevation|slope|structure)\//.test(at);
    const standing = data.findings.filter((one) => !one.struck);
    return html`
      ${at.startsWith('eave_opening/') ? eave(job, data) : html`
        <div class="buttons">${camera(job, room ? 'Ceiling' : overview ? 'Another overview' : 'Overview of the whole side', { role: 'overview', place: at }, { main: !overview })}
        ${camera(job, 'From the roll', { place: at }, { roll: true })}</div>
        ${room ? note('', html`<p>Ceilings are photographed even where nothing is reported: a later stain is then new.</p>`) : nothing}
        <ul class="parts" aria-label="parts">${partsOf(at).map((component) => partRow(job, data, component))}</ul>`}
      ${standing.length ? html`<h2>Found here</h2><ul class="rows">${data.findings.map((one) => findingRow(job, one, data.photos))}</ul>` : nothing}
      ${at.startsWith('slope/') ? slope(job, data) : nothing}
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
