// What the phone's senses add: pitch, facing, sun. By hand always, as well.
import { html, nothing, type TemplateResult } from 'lit-html';
import { until } from 'lit-html/directives/until.js';
import { call } from '../client';
import { camera, choice } from '../parts-of-page';
import { add, amend, here } from '../record';
import { app, redraw, wrong } from '../state';
import type { PlaceView } from '../shapes';

const now = { tilt: undefined as number | undefined, heading: undefined as number | undefined, asked: false };
let heardTilt = 0;

interface Compass extends DeviceOrientationEvent { webkitCompassHeading?: number }
type Asks = { requestPermission?: () => Promise<string> };

async function listen(): Promise<void> {
  const asks = DeviceOrientationEvent as unknown as Asks;
  // Some phones ask the person first, and only after a tap.
  if (asks.requestPermission && (await asks.requestPermission()) !== 'granted') throw new Error('The phone gives no tilt: set the pitch by hand.');
  if (now.asked) return;
  now.asked = true;
  const hear = (event: Compass) => {
    const { beta, gamma, alpha } = event;
    if (beta !== null && gamma !== null) {
      const rad = Math.PI / 180;
      // The angle between the phone's back and the level: however it is turned on the slope.
      now.tilt = Math.acos(Math.min(1, Math.abs(Math.cos(beta * rad) * Math.cos(gamma * rad)))) / rad;
    }
    if (event.webkitCompassHeading !== undefined) now.heading = event.webkitCompassHeading;
    else if (event.absolute && alpha !== null) now.heading = (360 - alpha) % 360;
    if (Date.now() - heardTilt > 250) { heardTilt = Date.now(); redraw(); }
  };
  addEventListener('deviceorientationabsolute', hear as EventListener);
  addEventListener('deviceorientation', hear as EventListener);
  setTimeout(() => { if (now.tilt === undefined) wrong(new Error('This phone gives no tilt: set the pitch by hand.')); }, 1_500);
}

const first = new Map<string, number>();
const PITCHES = [2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 14];

/** The pitch of a slope: two readings that agree, or by hand. */
export function pitchGauge(job: string, place: PlaceView): TemplateResult {
  const measured = place.measurements.filter((one) => one.fields['of'] === 'pitch' && !one.struck);
  const keep = async (rise: number, method: string, remarks?: string) =>
    void add(job, { measurement: { place: place.at, of: 'pitch', pitch: `${rise}/12`, method, ...(remarks ? { remarks } : {}) } }, `Pitch ${rise}/12`);
  const read = async () => {
    if (now.tilt === undefined) { await listen().catch(wrong); return; }
    const reading = await call('pitch', now.tilt);
    const before = first.get(place.at);
    if (before === undefined) { first.set(place.at, now.tilt); redraw(); return; }
    first.delete(place.at);
    if (Math.abs(before - now.tilt) > 1.5) { wrong(new Error(`The two readings differ (${before.toFixed(1)} and ${now.tilt.toFixed(1)} degrees): lay the phone flat twice more.`)); return; }
    await keep(reading.rounded, 'phone', `read ${before.toFixed(1)} and ${now.tilt.toFixed(1)} degrees`);
  };
  return html`<h2>Pitch</h2>${measured.map((one) => html`<p>${String(one.fields['pitch'])} <small class="soft">${String(one.fields['method'])}, ${one.who}</small></p>`)}
    <button class="wide" @click=${read}>${now.tilt === undefined ? 'Use the phone: lay it flat on the slope' : first.has(place.at) ? html`${now.tilt.toFixed(1)}° — turn it round, tap again` : html`${now.tilt.toFixed(1)}° — tap to take`}</button>
    ${measured.length ? html`<div class="buttons">${camera(job, 'The gauge in the picture', { role: 'measurement', place: place.at, shows: measured.map((one) => one.at) })}</div>` : nothing}
    ${choice('By gauge, rise in 12', PITCHES.map((n) => ({ code: String(n), label: String(n) })), undefined, (rise) => void keep(Number(rise), 'gauge'))}`;
}

const POINTS = [['N', 0], ['NE', 45], ['E', 90], ['SE', 135], ['S', 180], ['SW', 225], ['W', 270], ['NW', 315]] as const;

async function sunWords(job: string, place: PlaceView, bearing: number): Promise<TemplateResult> {
  const property = app.house?.property;
  const at = property?.['latitude'] !== undefined && property['longitude'] !== undefined
    ? { latitude: Number(property['latitude']), longitude: Number(property['longitude']), altitude_m: null, accuracy_m: null } : await here();
  if (!at) return html`<p class="soft">Where the sun stands needs the house's place: allow it, or have the office enter it.</p>`;
  const pitch = place.at.startsWith('slope/') ? place.measurements.find((one) => one.fields['of'] === 'pitch' && !one.struck)?.fields['pitch'] : undefined;
  const rise = place.at.startsWith('slope/') ? Number(String(pitch ?? '6/12').split('/')[0]) : null;
  const sun = await call('sun', at, bearing, rise);
  const light: Record<string, string> = { grazing: 'It grazes this side now: shallow dents show best.', lit: 'It falls on this side now.', shade: 'This side is in the shade.', night: 'The sun is down.' };
  return html`<p><b>${light[sun.light] ?? ''}</b> ${sun.light === 'lit' || sun.light === 'grazing' ? `${sun.grazing_angle.toFixed(0)}° along the surface.` : ''}</p><p class="soft">${sun.best ?? ''}${rise !== null && !pitch ? ' Taken as 6 in 12 until the pitch is measured.' : ''}</p>`;
}

/** How the sun meets this side, and which way it faces. */
export function grazing(job: string, place: PlaceView): TemplateResult {
  const bearing = place.record?.fields['bearing'] as number | undefined;
  const set = (degrees: number) => void amend(job, place.at, { bearing: Math.round(degrees) % 360 }, `Faces ${Math.round(degrees)}°`);
  return html`<details ?open=${bearing !== undefined}><summary>Facing and sun</summary>
    ${bearing === undefined ? html`<p class="soft">Stand with your back to it, or tap.</p>` : until(sunWords(job, place, bearing).catch((error: unknown) => html`<p class="soft">${String((error as Error).message)}</p>`), html`<p>…</p>`)}
    <div class="chips">${POINTS.map(([name, degrees]) => html`<button aria-pressed=${bearing === degrees} @click=${() => set(degrees)}>${name}</button>`)}</div>
    <button @click=${() => (now.heading === undefined ? void listen().catch(wrong) : set(now.heading))}>${now.heading === undefined ? 'Use the compass' : html`Compass: ${Math.round(now.heading)}° — tap to take`}</button>
    ${now.heading === undefined ? nothing : html`<p class="soft">A compass near metal or a car lies: look whether it agrees with the street.</p>`}</details>`;
}
