// The page's worker: it alone writes. One tab at a time has it; another may ask for it.
import { Desk } from './desk';
import { OfficeLink } from './office';
import { PhoneLink } from './phone';
import { prepared } from './picture';
import type { Ask, CallName, Calls, News, Reply } from './calls';
import type { House } from './shapes';

type Answers = { [Name in CallName]: (...args: Parameters<Calls[Name]>) => Promise<ReturnType<Calls[Name]>> };

/** Milliseconds until the other houses that were open last are opened behind the list. */
const LOOKING = 100;
/** Milliseconds until what the first photo needs is read. */
const SETTLED = 10_000;

const scope = self as unknown as DedicatedWorkerGlobalScope;
const tell = (news: News) => scope.postMessage(news, news.news === 'frame' ? [news.frame.buffer] : []);
const base = new URL('../', scope.location.href);
const tabs = new BroadcastChannel('chalkwalk-tabs');
const waiting: Ask[] = [];
let answers: Answers | undefined;

function made(desk: Desk, office: OfficeLink, phone: PhoneLink): Answers {
  const json = <T>(text: string) => JSON.parse(text) as T;
  const told = async <T>(job: string, work: () => Promise<T>): Promise<T> => {
    const value = await work();
    woken(job);
    desk.tidySoon();
    return value;
  };
  const woken = (job: string) => { for (const link of desk.links) link.news(job); office.wake(); };
  const reading = <T>(job: string, read: () => string) => desk.ensureOpen(job).then(() => json<T>(read()));
  return {
    state: () => desk.state(),
    enrol: async (ask) => { await desk.enrol(ask); office.connect(); },
    begin: async (property) => { const job = await desk.begin(property); woken(job); return job; },
    open: async (job) => {
      const kept = await desk.keptHouse(job);
      // The document opens behind it; whatever is asked next waits for that.
      const house = desk.turn(async () => {
        await desk.ensureOpen(job);
        desk.tidySoon();
        return kept ?? json<House>(desk.engine.house(job));
      });
      // The list's words can wait.
      void house.then((house) => desk.title(job, house)).catch(() => undefined);
      if (!kept) return house;
      house.catch((error: unknown) => tell({ news: 'broken', words: String(error) }));
      return kept;
    },
    house: (job) => reading(job, () => desk.engine.house(job)),
    place: (job, at) => reading(job, () => desk.engine.place(job, at)),
    record: (job, at) => reading(job, () => desk.engine.record(job, at)),
    photos: (job) => reading(job, () => desk.engine.photos(job)),
    peers: (job) => reading(job, () => desk.engine.peers(job)),
    conflicts: (job) => reading(job, () => desk.engine.conflicts(job)),
    check: (job) => reading(job, () => desk.engine.check(job)),
    account: (job) => reading(job, () => desk.engine.account(job)),
    heads: (job) => reading(job, () => desk.engine.heads(job)),
    act: (job, action) => told(job, () => desk.changed(job, () => desk.engine.act(job, JSON.stringify(action)))),
    add: (job, record, hits) => told(job, () => desk.changed(job, () => desk.engine.add(job, JSON.stringify(record), hits ?? undefined))),
    addPhoto: (job, file, note, place) => told(job, () => desk.addPhoto(job, file, note, place)),
    mark: (job, photo, marks) => told(job, () => desk.changed(job, () => desk.engine.mark(job, photo, JSON.stringify(marks)))),
    thumbnail: async (hash) => {
      const bytes = await desk.store.thumbnail(hash);
      return bytes ? new Blob([bytes as Uint8Array<ArrayBuffer>], { type: 'image/jpeg' }) : null;
    },
    original: (hash) => desk.original(hash),
    bundle: async (jobs) => {
      await desk.prepareMeeting(jobs);
      return new Blob([desk.engine.writeBundle(jobs) as Uint8Array<ArrayBuffer>], { type: 'application/octet-stream' });
    },
    takeBundle: async (file) => {
      await desk.prepareMeeting();
      let said: string;
      try { said = desk.engine.readBundle(new Uint8Array(await file.arrayBuffer())); } finally { await desk.commit(); }
      for (const row of await desk.store.jobs()) { await desk.ensureOpen(row.job); await desk.title(row.job); woken(row.job); }
      return json(said);
    },
    exported: async (job) => {
      await desk.ensureOpen(job);
      return new Blob([desk.engine.export(job) as Uint8Array<ArrayBuffer>], { type: 'application/octet-stream' });
    },
    meetBegin: (initiator, originals) => phone.begin(initiator, originals),
    meetTook: (frame) => phone.took(frame),
    meetEnd: () => phone.end(),
    sync: async () => { office.connect(); void office.upload(); },
    rest: () => desk.tidy(1),
    sun: async (place, bearing, rise) => json(desk.sun(place, bearing, rise)),
    pitch: async (degrees) => json(desk.pitch(degrees)),
  };
}

async function answer(ask: Ask, desk: Desk): Promise<void> {
  const call = answers![ask.name] as (...args: unknown[]) => Promise<unknown>;
  // Pictures are read beside the record, and a house is shown before its turn.
  const beside = ask.name === 'thumbnail' || ask.name === 'original' || ask.name === 'open';
  const run = () => call(...ask.args);
  try {
    const value = await (beside ? run() : desk.turn(run));
    scope.postMessage({ n: ask.n, value } satisfies Reply);
  } catch (error) {
    const words = error instanceof Error ? error.message : String(error);
    scope.postMessage({ n: ask.n, error: words } satisfies Reply);
    // An engine that trapped is not to be trusted: the page starts another from the disk.
    if (error instanceof WebAssembly.RuntimeError) tell({ news: 'broken', words: 'restart' });
  }
}

async function lead(): Promise<void> {
  const desk = await Desk.begin(base, tell);
  const office = new OfficeLink(desk);
  const phone = new PhoneLink(desk);
  answers = made(desk, office, phone);
  scope.onmessage = (message: MessageEvent<Ask>) => void answer(message.data, desk);
  for (const ask of waiting.splice(0)) void answer(ask, desk);
  tell({ news: 'ready' });
  office.connect();
  void office.upload();
  setTimeout(() => void desk.openLast().catch(() => undefined), LOOKING);
  setTimeout(() => void prepared().catch(() => undefined), SETTLED);
  scope.addEventListener('online', () => office.connect());
  await new Promise<void>((resolve) => {
    tabs.onmessage = (message: MessageEvent<string>) => {
      if (message.data !== 'let go') return;
      // What is on its way is finished first.
      void desk.turn(async () => {
        scope.onmessage = null;
        for (const link of desk.links) link.hangUp();
        tell({ news: 'elsewhere' });
        resolve();
      });
    };
  });
}

scope.onmessage = (message: MessageEvent<Ask | 'take over'>) => {
  if (message.data === 'take over') tabs.postMessage('let go');
  else waiting.push(message.data);
};

void (async () => {
  const held = await navigator.locks.request('chalkwalk-writer', { ifAvailable: true }, async (lock) => {
    if (!lock) return false;
    await lead();
    return true;
  });
  if (held) return;
  tell({ news: 'elsewhere' });
  await navigator.locks.request('chalkwalk-writer', lead);
})().catch((error: unknown) => tell({ news: 'broken', words: String(error) }));
