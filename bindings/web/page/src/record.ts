// What a tap records. Each promise is kept once it is on the disk; the words follow then.
import { call } from './client';
import { app, redraw, toast, wrong } from './state';
import type { PhotoNote, Place, Receipt } from './shapes';

export async function once<T>(work: () => Promise<T>): Promise<T | undefined> {
  if (app.busy) return undefined;
  app.busy = true;
  redraw();
  try {
    return await work();
  } catch (error) {
    wrong(error);
    return undefined;
  } finally {
    app.busy = false;
    await refresh();
  }
}

/** Reads again what the screen shows. */
let reread = async () => {};
export function onRefresh(read: () => Promise<void>): void { reread = read; }
export async function refresh(): Promise<void> {
  await reread().catch(wrong);
  redraw();
}

/** The action before is taken back by one tap, as long as the page lives. */
function said(job: string, words: string, receipt: Receipt): void {
  const { undo } = receipt;
  if (!receipt.changed) { toast('That stands already.'); return; }
  app.undo = undo ? { words, back: () => takeBack(job, undo as object) } : undefined;
  toast(`${words} · kept on this phone`);
}

async function takeBack(job: string, undo: object): Promise<void> {
  app.undo = undefined;
  if (await once(() => call('act', job, undo))) toast('Taken back. What was stays readable in the record.');
}

/** Does what records something, and says so once it is kept. */
export function recorded(job: string, work: () => Promise<Receipt>, words: string): Promise<Receipt | undefined> {
  return once(async () => {
    const receipt = await work();
    said(job, words, receipt);
    return receipt;
  });
}

/** Adds a record. */
export function add(job: string, record: object, words: string, hits: number | null = null): Promise<Receipt | undefined> {
  return recorded(job, () => call('add', job, record, hits), words);
}

export function act(job: string, action: object, words: string): Promise<Receipt | undefined> {
  return recorded(job, () => call('act', job, action), words);
}

export function amend(job: string, at: string, set: object, words: string, clear: string[] = []): Promise<Receipt | undefined> {
  const [kind, id] = at.split('/') as [string, string];
  return act(job, { amend: { id, set: { [kind]: set }, clear } }, words);
}

/** Takes photos in, one after the other. */
export function photos(job: string, files: Iterable<File>, note: PhotoNote): Promise<string[] | undefined> {
  return once(async () => {
    const taken: string[] = [];
    const warned = new Set<string>();
    for (const file of files) {
      const receipt = await call('addPhoto', job, file, note, await here());
      taken.push(receipt.record);
      for (const warning of receipt.warnings) warned.add(warning);
      if (receipt.changed) said(job, `Photo${warned.size ? ` (${[...warned].join('; ')})` : ''}`, receipt);
      else toast('This very photo is in the job already.');
    }
    return taken;
  });
}

let place: { at: number; value: Place } | undefined;
/** Where the phone is, as far as it says so; a place of the last two minutes is good enough. */
export async function here(): Promise<Place | null> {
  if (place && Date.now() - place.at < 120_000) return place.value;
  if (!('geolocation' in navigator)) return null;
  const allowed = await navigator.permissions?.query({ name: 'geolocation' }).catch(() => undefined);
  if (allowed?.state === 'denied') return null;
  return new Promise((resolve) => {
    // A photo never waits for satellites.
    const late = setTimeout(() => resolve(null), 1_500);
    navigator.geolocation.getCurrentPosition((got) => {
      clearTimeout(late);
      const value = { latitude: got.coords.latitude, longitude: got.coords.longitude, altitude_m: got.coords.altitude, accuracy_m: got.coords.accuracy };
      place = { at: Date.now(), value };
      resolve(value);
    }, () => { clearTimeout(late); resolve(null); }, { enableHighAccuracy: true, maximumAge: 60_000, timeout: 10_000 });
  });
}
