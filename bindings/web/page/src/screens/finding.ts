// Damage: part (tapped already), cause, then far and near. Everything else may follow or not.
import { html, nothing } from 'lit-html';
import { call } from '../client';
import { camera, choice, icon, note, stepper, thumb } from '../parts-of-page';
import { SEEN } from '../parts';
import { act, add, amend } from '../record';
import { app, go, label } from '../state';
import { path, screen } from '../screen';
import type { RecordView } from '../shapes';
import { squareFeet } from '../lengths';
import { lengthStepper } from './measures';
import { noteForm } from './place';

const words = () => app.state!.vocabulary;

/** The second tap: which cause. It is recorded with it. */
export const found = (job: string, place: string, component: string) => screen({
  title: () => 'Damaged by what?',
  back: path('job', job, 'place', place),
  load: async () => undefined,
  draw: () => html`<p class="under">${label(words().Component, component)}</p><div class="big">${words().Cause.map((cause) => html`<button @click=${async () => {
    const made = await add(job, { finding: { place, component, condition: 'damaged', cause: cause.code } }, `${label(words().Component, component)}, ${cause.label}`);
    if (made) go(`/job/${job}/finding/${made.record.split('/')[1]}`);
  }}>${cause.label}</button>`)}</div>
  ${note('', html`<p>Say what you see: whether anybody pays for it is not the crew's to say.</p>`)}`,
});

type Data = { record: RecordView | null; photos: RecordView[] };

export const finding = (job: string, id: string) => screen<Data>({
  title: (data) => label(words().Component, data.record?.fields['component']),
  back: path('job', job),
  load: () => call('record', job, `finding/${id}`),
  draw: (data) => {
    const record = data.record;
    if (!record) return html`<p>This finding is not on this phone yet.</p>`;
    const { fields, at } = record;
    const place = String(fields['place'] ?? '');
    const standing = data.photos.filter((photo) => !photo.struck);
    const far = standing.find((photo) => photo.fields['role'] === 'standoff');
    const near = standing.filter((photo) => photo.fields['role'] === 'close_up');
    const component = words().Component.find((word) => word.code === fields['component']);
    const set = (change: object, said: string) => void amend(job, at, change, said);
    const reasons = String(fields['cause_reason'] ?? '').split('; ').filter(Boolean);
    const rest = standing.filter((photo) => photo !== far && photo !== near[0]);
    const shows = (role: string) => ({ role, place, shows: [at] });
    if (record.struck) return html`${note('warn', html`<p>Struck: ${record.struck}. It stays in the record.</p>`)}
      <button class="wide" @click=${() => act(job, { reinstate: { at } }, 'Stands again')}>Let it stand again</button>`;
    return html`
      <p class="under">${label(words().Condition, fields['condition'])} by ${label(words().Cause, fields['cause'])} · <a href=${path('job', job, 'place', place)}>back to the place</a></p>
      ${record.unsettled.length ? html`<a class="note bad" href=${path('job', job, 'settle')}><p>You two stated ${record.unsettled.join(', ')} differently: choose.</p></a>` : nothing}
      <section class="pairs" aria-label="the pair of photos">
        <div class="slot ${far ? 'full' : ''}">${far ? thumb(job, far, 'far ✓') : html`<span>1 · far</span>`}</div>
        <div class="slot ${near.length ? 'full' : ''}">${near[0] ? thumb(job, near[0], `near ✓ ${near.length > 1 ? near.length : ''}`) : html`<span>2 · near</span>`}</div>
      </section>
      <div class="buttons">${far ? nothing : camera(job, 'Far: where it is', shows('standoff'), { main: true })}
        ${camera(job, far ? 'Near: what it is' : 'Near, without the far one', shows('close_up'), { main: Boolean(far) && near.length === 0 })}
        ${camera(job, 'Tape or gauge', shows('measurement'))}</div>
      ${far ? nothing : html`<p class="soft">The far one first: it shows which side, which storey, which panel. Chalk the hits before the near one.</p>`}
      ${stepper('Hits that you count', record.my_hits, (hits) => void act(job, { count: { at, hits } }, `${hits} ${hits === 1 ? 'hit' : 'hits'}`))}
      ${record.hits && record.hits !== record.my_hits ? html`<p class="soft">${record.hits} with your partner's.</p>` : nothing}
      ${component?.of_total || fields['units_total'] ? html`
        ${stepper('Damaged', fields['units'] as number, (units) => set({ units, units_total: Math.max(units, Number(fields['units_total'] ?? 0)) }, `${units} damaged`), 0)}
        ${stepper('Of how many', fields['units_total'] as number, (units_total) => set({ units_total }, `of ${units_total}`), Number(fields['units'] ?? 0))}` : nothing}
      <fieldset class="choice"><legend>What speaks for ${label(words().Cause, fields['cause'])}</legend><div class="chips">
        ${(SEEN[String(fields['cause'] ?? 'unsure')] ?? []).map((reason) => html`<button aria-pressed=${reasons.includes(reason)} @click=${() => {
          const left = reasons.includes(reason) ? reasons.filter((one) => one !== reason) : [...reasons, reason];
          if (left.length) set({ cause_reason: left.join('; ') }, 'Reason');
          else void amend(job, at, {}, 'Reason', ['cause_reason']);
        }}>${reason}</button>`)}</div></fieldset>
      <details><summary>More of it</summary>
        ${choice('Cause', words().Cause, fields['cause'], (cause) => set({ cause }, label(words().Cause, cause)))}
        ${choice('State', words().Condition.filter((word) => word.code !== 'not_present'), fields['condition'], (condition) => set({ condition }, label(words().Condition, condition)))}
        ${choice('It still works?', words().Severity, fields['severity'], (severity) => set({ severity }, label(words().Severity, severity)))}
        ${choice('Who may read it', [{ code: 'shared', label: 'everybody' }, { code: 'office_only', label: 'the office only' }], fields['audience'] ?? 'shared', (audience) => set({ audience }, 'Reader'))}
        ${stepper('Storey', fields['storey'] as number, (storey) => set({ storey }, `storey ${storey}`), 1, 4)}
        ${stepper('From the left', fields['from_left'] as number, (from_left) => set({ from_left }, `${from_left} from the left`), 1, 60)}
        ${lengthStepper('Above the ground', fields['height'], 6, 36, (height) => set({ height }, `${height} up`))}
        ${lengthStepper('How long', fields['extent_length'], 12, 12, (extent_length) => set({ extent_length }, extent_length))}
        ${stepper('How many square feet', squareFeet(fields['extent_area']), (feet) => set({ extent_area: `${feet} sq ft` }, `${feet} sq ft`), 1)}
        ${choice('Colour', words().Finish, fields['finish'], (finish) => set({ finish }, label(words().Finish, finish)))}
        ${choice('Material', words().Material, fields['material'], (material) => set({ material }, label(words().Material, material)))}
      </details>
      ${rest.length ? html`<div class="thumbs">${rest.map((photo) => thumb(job, photo))}</div>` : nothing}
      ${noteForm(job, at)}
      <button class="wide risky" @click=${() => act(job, { strike: { at, reason: 'withdrawn by the crew on the spot' } }, 'Struck')}>${icon('x')}<span>Strike it (it stays readable)</span></button>`;
  },
});
