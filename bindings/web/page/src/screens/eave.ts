// The eave opening: each layer as it was seen, not seen, or could not be seen.
import { html, nothing, type TemplateResult } from 'lit-html';
import { camera, choice, note, stepper } from '../parts-of-page';
import { add, amend } from '../record';
import type { PlaceView } from '../shapes';
import { lengthStepper } from './measures';

const METAL: [string, string][] = [['metal', 'metal']];
const LAYERS: [string, string, [string, string][]][] = [
  ['starter', 'Starter', [['proper_strip', 'proper strip'], ['reversed_shingle', 'reversed shingle']]],
  ['drip_edge', 'Drip edge', METAL],
  ['gutter_apron', 'Gutter apron', METAL],
  ['underlayment', 'Underlayment', [['felt_15', '15 lb felt'], ['felt_30', '30 lb felt'], ['synthetic', 'synthetic']]],
  ['ice_barrier', 'Ice barrier', [['standard', 'standard'], ['high_temperature', 'high temperature']]],
  ['deck', 'Deck', [['plywood', 'plywood'], ['osb', 'oriented strand board'], ['spaced_boards', 'spaced boards'], ['planks', 'planks']]],
];
const LINING: [string, string][] = [['open_metal', 'open metal'], ['closed_cut', 'closed-cut'], ['woven', 'woven'], ['roll_roofing', 'roll roofing'], ['membrane_under', 'membrane under']];
const REASONS = ['sealed down, not forced', 'gutter in the way', 'guard in the way', 'too steep to reach', 'seen from the attic only'];

export function eave(job: string, place: PlaceView, side: PlaceView | undefined): TemplateResult {
  const fields = place.record?.fields ?? {};
  const set = (change: object, words: string) => void amend(job, place.at, change, words);
  const layer = (field: string, title: string, kinds: [string, string][]) => choice(title,
    [...kinds.flatMap(([code, said]) => [{ code: `seen:${code}`, label: said }]), { code: 'absent', label: 'none, seen' }, { code: 'not_seen', label: 'could not see' }],
    told(fields[field]), (code) => set({ [field]: asked(code) }, title));
  const boards = /planks|spaced_boards/.test(JSON.stringify(fields['deck'] ?? ''));
  const doubt = JSON.stringify(fields).includes('could_not_see');
  const width = side?.measurements.filter((one) => one.fields['of'] === 'gutter_width' && !one.struck).at(-1);
  const taped = width && side?.photos.some((photo) => photo.shows?.includes(width.at) && !photo.struck);
  const at = `elevation/${fields['side'] ?? 'front'}`;
  return html`${note('warn', html`<p>Nothing is broken to look. What cannot be seen is said so, and confirmed at tear-off.</p>`)}
    ${LAYERS.map(([field, title, kinds]) => layer(field, title, kinds))}
    ${boards ? lengthStepper('Widest gap', fields['widest_gap'], 0.25, 0.25, (widest_gap) => set({ widest_gap }, 'Widest gap')) : nothing}
    ${choice('Beside a valley?', [{ code: 'true', label: 'yes' }, { code: 'false', label: 'no' }], String(fields['beside_valley'] ?? ''), (code) => set({ beside_valley: code === 'true' }, 'Beside a valley'))}
    ${fields['beside_valley'] ? layer('valley_lining', 'Lining of the valley', LINING) : nothing}
    ${doubt ? choice('Why it could not be seen', REASONS.map((code) => ({ code, label: code })), fields['reason'], (reason) => set({ reason }, 'Reason')) : nothing}
    ${stepper('Layers of roofing', fields['roofing_layers'] as number, (n) => set({ roofing_layers: n }, 'Layers'), 0, 5)}
    <div class="buttons">${camera(job, 'A photo of the layers', { role: 'layer', place: place.at, shows: [place.at] }, { main: true })}</div>
    ${choice('Gutter width, by tape', ['5"', '6"', '7"'].map((code) => ({ code, label: code.replace('"', ' in') })), width?.fields['length'],
      (length) => void add(job, { measurement: { place: at, of: 'gutter_width', length, method: 'tape' } }, `Gutter ${length}`))}
    ${width ? html`<div class="buttons">${camera(job, taped ? 'Another picture of the tape' : 'The tape across the gutter', { role: 'measurement', place: at, shows: [width.at] }, { main: !taped })}</div>`
      : html`<p class="soft">Lay the tape across, tap the width, then take its picture.</p>`}`;
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
