// The worker's desk: the engine, the store, and the rule between them. Whatever the engine staged
// is written before anything is answered or sent. Where that fails the engine is made anew from
// what is on the disk, so that the page never shows what the disk does not hold.
import init, { Engine, checkEnrolment, freshIdentity, pitch, sun, vocabulary } from '../engine/engine';
import address from '../engine/engine.wasm';
import { closePieces, getOriginal, putOriginal, putPiece } from './files';
import type { Link } from './link';
import { look } from './picture';
import { Store, type Staged } from './store';
import type { News } from './calls';
import type { House, PhotoNote, Place, Receipt, State, Vocabulary } from './shapes';

/** Chunks behind a snapshot before a new one is made. */
const SNAPSHOT_EVERY = 200;
/** Houses that are opened before anybody asks for them. */
const LAST = 2;

const words = { full: 'This phone has no room left: nothing of this was recorded. Free some space, then do it again.' };

export class Desk {
  engine!: Engine;
  link = 'off';
  readonly links: Link[] = [];
  /** Originals that a meeting may read from. */
  private readonly files = new Map<string, File>();
  /** `behind`: chunks since the snapshot; `shown`: the house is kept as it now is. */
  private readonly open = new Map<string, { behind: number; shown?: boolean }>();
  private queue: Promise<unknown> = Promise.resolve();
  private words!: Vocabulary;

  private constructor(readonly store: Store, readonly base: URL, readonly tell: (news: News) => void) {}

  static async begin(base: URL, tell: (news: News) => void): Promise<Desk> {
    const [store] = await Promise.all([Store.open(), init({ module_or_path: new URL(address, self.location.href) })]);
    const desk = new Desk(store, base, tell);
    desk.words = JSON.parse(vocabulary()) as Vocabulary;
    await desk.rebuild();
    // Whoever comes back mostly goes on where they were; the list stands on the screen meanwhile, as it
    // was last seen. An engine that failed at it is not to be trusted.
    await desk.openLast(1).catch(() => desk.rebuild());
    return desk;
  }

  /** One thing at a time: the engine and the disk never part. */
  turn<T>(work: () => Promise<T>): Promise<T> {
    const next = this.queue.then(work, work);
    this.queue = next.catch(() => undefined);
    return next;
  }

  /** Makes the engine from what is on the disk. */
  async rebuild(): Promise<void> {
    const jobs = [...this.open.keys()];
    this.open.clear();
    const [identity, enrolment] = await Promise.all([this.store.setting('identity'), this.store.setting('enrolment')]);
    const own = enrolment ? identity : undefined;
    this.engine = new Engine(own ?? freshIdentity('nobody yet', 'phone', 'crew'), own ? enrolment : undefined);
    const { store, engine } = this;
    const [certificates, peers, tables, held, thumbnails, originals] = await Promise.all([
      store.certificates(), store.peers(), store.tables(), store.held(), store.thumbnailNames(), store.originals()]);
    for (const [device, bytes] of certificates) engine.knowCertificate(device, bytes);
    for (const peer of peers) engine.knowPeer(peer.device, peer.name, peer.office);
    for (const one of tables) engine.knowTable(one.device, one.job, one.table);
    for (const one of held) engine.knowHeld(one.device, one.original, one.hash);
    for (const hash of thumbnails) engine.knowThumbnail(hash);
    for (const { hash, size } of originals) engine.knowOriginal(hash, size);
    engine.readBy((hash: string, offset: number, most: number) => {
      const file = this.files.get(hash);
      return file ? new Uint8Array(new FileReaderSync().readAsArrayBuffer(file.slice(offset, offset + most))) : undefined;
    });
    for (const job of jobs) await this.ensureOpen(job);
  }

  /** Writes what is staged; on failure goes back to what the disk holds. */
  async commit(photo?: { hash: string; job: string; size: number; name: string; type: string }): Promise<void> {
    const staged = this.engine.takeStaged() as Staged[];
    try {
      for (const one of staged) if (one.what === 'piece') await putPiece(one.hash, one.offset, one.bytes);
      await this.store.write(staged, photo);
      for (const one of staged) if (one.what === 'original') closePieces(one.hash);
    } catch (error) {
      closePieces();
      // The sessions of the engine that was are gone with it.
      for (const link of this.links) link.hangUp();
      await this.rebuild();
      throw full(error) ? new Error(words.full) : error;
    }
    for (const one of staged) {
      if (one.what === 'original') await this.mayRead(one.hash);
      if (one.what !== 'row') continue;
      const open = this.open.get(one.job) ?? { behind: 0 };
      open.behind += 1;
      open.shown = false;
      this.open.set(one.job, open);
    }
  }

  async ensureOpen(job: string): Promise<void> {
    if (this.open.has(job)) return;
    const { snapshot, upto, chunks } = await this.store.opening(job);
    let behind = chunks.length;
    let sound = false;
    // One that is damaged, is of other chunks than it says, or lacks what the next builds on.
    try { sound = this.engine.open(job, snapshot, upto, chunks) === 0 || !snapshot; } catch { sound = false; }
    if (!sound) {
      // A snapshot can always be made again: the chunks are the truth.
      await this.store.dropSnapshot(job);
      const all = (await this.store.chunks(job)).chunks;
      this.engine.open(job, undefined, 0, all);
      behind = all.length;
    }
    this.open.set(job, { behind });
  }

  /** Opens the houses that were open last: a turn each, so that who asks meanwhile waits for one
   * alone. */
  async openLast(most = LAST): Promise<void> {
    const jobs = (await this.store.jobs()).sort((a, b) => b.opened - a.opened);
    for (const { job } of jobs.slice(0, most)) await this.turn(() => this.ensureOpen(job));
  }

  /** Tidies in a while. */
  tidySoon(): void { setTimeout(() => void this.turn(() => this.tidy(SNAPSHOT_EVERY)), 1_000); }

  /** Snapshots of what grew by so many chunks, when nobody waits. */
  async tidy(grown: number): Promise<void> {
    for (const [job, open] of this.open) {
      if (!open.shown) await this.keepHouse(job).then(() => { open.shown = true; }, () => undefined);
      if (open.behind < grown) continue;
      const last = await this.store.lastKey(job);
      const snapshot = this.engine.snapshot(job, last);
      if (!snapshot) continue;
      await this.store.setSnapshot(job, snapshot, last).then(() => { open.behind = 0; }, () => undefined);
    }
  }

  /** No meeting: small pictures need no memory. */
  rest(): void {
    if (this.links.every((link) => !link.isOpen)) this.engine.forgetThumbnails();
  }

  private async keepHouse(job: string): Promise<void> {
    const kept = { last: await this.store.lastKey(job), house: JSON.parse(this.engine.house(job)) as House };
    await this.store.setView(`house ${job}`, JSON.stringify(kept));
  }

  /** The house as it was last drawn, where nothing was recorded since: it is on the screen before
   * the document is open. */
  async keptHouse(job: string): Promise<House | undefined> {
    if (this.open.has(job)) return undefined;
    const [text, last] = await Promise.all([this.store.setting(`house ${job}`), this.store.lastKey(job)]);
    const kept = text ? JSON.parse(text) as { last: number; house: House } : undefined;
    return kept?.last === last ? kept.house : undefined;
  }

  /** All jobs open, with every chunk and small picture at hand, for a meeting. */
  async prepareMeeting(jobs?: string[], originals = false): Promise<void> {
    if (originals) for (const { hash } of await this.store.originals()) await this.mayRead(hash);
    const all = jobs ?? (await this.store.jobs()).map((row) => row.job);
    for (const job of all) {
      await this.ensureOpen(job);
      if (this.engine.needsRows(job)) this.engine.handInRows(job, (await this.store.chunks(job)).chunks);
      for (const photo of JSON.parse(this.engine.photos(job)) as { hash: string }[]) {
        const bytes = await this.store.thumbnail(photo.hash);
        if (bytes) this.engine.knowThumbnail(photo.hash, bytes);
      }
    }
  }

  async state(): Promise<State> {
    const [enrolment, identity, jobs, persisted, estimate, waiting] = await Promise.all([
      this.store.setting('enrolment'), this.store.setting('identity'), this.store.jobs(),
      navigator.storage.persisted?.() ?? false, navigator.storage.estimate?.() ?? {}, this.store.countUploads()]);
    return {
      enrolled: enrolment !== undefined,
      person: identity && enrolment ? (JSON.parse(identity) as { person: string }).person : '',
      office: this.engine.officeName(),
      jobs: jobs.sort((a, b) => b.opened - a.opened),
      vocabulary: this.words,
      persisted, usage: estimate.usage ?? 0, quota: estimate.quota ?? 0, link: this.link, waiting,
    };
  }

  async enrol(ask: { code: string; pin: string | null; person: string; device_name: string }): Promise<void> {
    if (await this.store.setting('enrolment')) throw new Error('this phone is enrolled already');
    // The same key is offered again after a lost answer: the code counts for it once more.
    const kept = await this.store.setting('identity');
    let identity = kept && (JSON.parse(kept) as { person: string; device_name: string });
    if (!identity || identity.person !== ask.person.trim() || identity.device_name !== ask.device_name.trim()) {
      const fresh = freshIdentity(ask.person, ask.device_name, 'crew');
      await this.store.setSetting('identity', fresh);
      identity = JSON.parse(fresh);
    }
    const own = identity as unknown as { device: string; public: string; person: string; device_name: string; role: string };
    const answer = await fetch(new URL('enrol', this.base), {
      method: 'POST', headers: { 'content-type': 'application/json' },
      body: JSON.stringify({ code: ask.code, device: own.device, key: own.public, person: own.person, device_name: own.device_name, role: own.role }),
    }).catch(() => { throw new Error('The office cannot be reached: enrolling needs a signal once.'); });
    const text = await answer.text();
    if (!answer.ok) throw new Error(refusal(text, answer.status));
    checkEnrolment(JSON.stringify(identity), text, ask.pin ?? undefined);
    await this.store.setSetting('enrolment', text);
    await this.rebuild();
  }

  async begin(property: object): Promise<string> {
    const job = this.engine.begin(JSON.stringify(property));
    this.open.set(job, { behind: 0 });
    try {
      await this.commit();
    } catch (error) {
      this.open.delete(job);
      throw error;
    }
    await this.title(job);
    return job;
  }

  /** Keeps the list's words on a job in step. */
  async title(job: string, house?: House): Promise<void> {
    const property = (house ?? JSON.parse(this.engine.house(job)) as House).property;
    const title = [property?.street, property?.town].filter(Boolean).join(', ') || 'a house without an address';
    await this.store.setJob({ job, title, opened: Date.now() });
  }

  async changed(job: string, work: () => string): Promise<Receipt> {
    await this.ensureOpen(job);
    let receipt: Receipt;
    try {
      receipt = JSON.parse(work()) as Receipt;
    } finally {
      // A refused action may have left word of who joined: it is kept all the same.
      await this.commit();
    }
    return receipt;
  }

  async addPhoto(job: string, file: File, note: PhotoNote, place: Place | null): Promise<Receipt & { warnings: string[] }> {
    await this.ensureOpen(job);
    const bytes = new Uint8Array(await file.arrayBuffer());
    const { thumbnail, ...looked } = await look(bytes, file.name, this.engine.device(), place);
    const capture = this.engine.signCapture(looked.capture);
    if (!(await this.store.original(looked.hash))) {
      await putOriginal(looked.hash, bytes).catch((error: unknown) => { throw full(error) ? new Error(words.full) : error; });
    }
    if (thumbnail) {
      await this.store.write([{ what: 'thumbnail', hash: looked.hash, bytes: thumbnail } as Staged]).catch((error: unknown) => { throw full(error) ? new Error(words.full) : error; });
      this.engine.knowThumbnail(looked.hash, thumbnail);
    }
    const receipt = JSON.parse(this.engine.addPhoto(job, capture, JSON.stringify(note))) as Receipt;
    await this.commit({ hash: looked.hash, job, size: looked.size, name: file.name, type: file.type });
    this.engine.knowOriginal(looked.hash, looked.size);
    await this.mayRead(looked.hash);
    return { ...receipt, warnings: looked.warnings };
  }

  /** Lets a meeting read a file that is held whole. */
  private async mayRead(hash: string): Promise<void> {
    const file = this.files.has(hash) ? undefined : await getOriginal(hash);
    if (file) this.files.set(hash, file);
  }

  async original(hash: string): Promise<Blob | null> {
    const known = await this.store.original(hash);
    const file = known && (await getOriginal(hash));
    return file && file.size === known.size ? file : null;
  }

  sun(place: Place, bearing: number, rise: number | null): string {
    const offset = -new Date().getTimezoneOffset();
    return sun(place.latitude, place.longitude, bearing, rise ?? undefined, offset, Date.now());
  }

  pitch(degrees: number): string { return pitch(degrees); }
}

function full(error: unknown): boolean {
  return error instanceof DOMException && (error.name === 'QuotaExceededError' || error.name === 'AbortError');
}

export function refusal(text: string, status: number): string {
  try {
    const said = JSON.parse(text) as { error?: string };
    return said.error ?? text;
  } catch {
    return text.trim() || `the office answered ${status}`;
  }
}
