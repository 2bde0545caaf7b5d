// What this phone holds: signed chunks, appended and never altered, and what is known of others'
// copies. A write has happened once its promise is kept: the browser was told to flush it.
import { openDB, type DBSchema, type IDBPDatabase } from 'idb';
import type { JobRow } from './shapes';

interface Schema extends DBSchema {
  settings: { key: string; value: string };
  jobs: { key: string; value: JobRow };
  chunks: { key: number; value: { job: string; bytes: Uint8Array }; indexes: { job: string } };
  snapshots: { key: string; value: { job: string; bytes: Uint8Array; upto: number } };
  thumbnails: { key: string; value: Uint8Array };
  originals: { key: string; value: { hash: string; job: string; size: number; name: string; type: string } };
  /** `other`: it came from another phone, which may hand it in as well. */
  uploads: { key: string; value: { hash: string; job: string; other?: boolean } };
  certificates: { key: string; value: Uint8Array };
  peers: { key: string; value: { device: string; name: string; office: boolean } };
  tables: { key: string; value: { device: string; job: string; table: string } };
  held: { key: string; value: { device: string; original: boolean; hash: string } };
}

/** One thing that the engine staged. */
export interface Staged {
  what: 'row' | 'piece' | 'original' | 'thumbnail' | 'certificate' | 'table' | 'held' | 'peer';
  job: string;
  device: string;
  hash: string;
  name: string;
  office: boolean;
  original: boolean;
  table: string;
  offset: number;
  size: number;
  bytes: Uint8Array;
}

const STORES = ['settings', 'jobs', 'chunks', 'snapshots', 'thumbnails', 'originals', 'uploads',
  'certificates', 'peers', 'tables', 'held'] as const;

export class Store {
  private constructor(private readonly db: IDBPDatabase<Schema>) {}

  static async open(): Promise<Store> {
    const db = await openDB<Schema>('chalkwalk-field', 1, {
      upgrade(db) {
        db.createObjectStore('settings');
        db.createObjectStore('jobs', { keyPath: 'job' });
        db.createObjectStore('chunks', { autoIncrement: true }).createIndex('job', 'job');
        db.createObjectStore('snapshots', { keyPath: 'job' });
        db.createObjectStore('thumbnails');
        db.createObjectStore('originals', { keyPath: 'hash' });
        db.createObjectStore('uploads', { keyPath: 'hash' });
        db.createObjectStore('certificates');
        db.createObjectStore('peers', { keyPath: 'device' });
        db.createObjectStore('tables');
        db.createObjectStore('held');
      },
    });
    return new Store(db);
  }

  setting(name: string): Promise<string | undefined> { return this.db.get('settings', name); }

  async setSetting(name: string, value: string): Promise<void> {
    const tx = this.db.transaction('settings', 'readwrite', { durability: 'strict' });
    await Promise.all([tx.store.put(value, name), tx.done]);
  }

  /** A picture of the record that can always be drawn again: it waits for no disk. */
  async setView(name: string, value: string): Promise<void> { await this.db.put('settings', value, name); }

  /** The key of a job's last chunk; 0 where it has none. */
  async lastKey(job: string): Promise<number> {
    const cursor = await this.db.transaction('chunks').store.index('job').openKeyCursor(job, 'prev');
    return cursor?.primaryKey ?? 0;
  }

  jobs(): Promise<JobRow[]> { return this.db.getAll('jobs'); }

  async setJob(row: JobRow): Promise<void> { await this.db.put('jobs', row); }

  /** All of it, or nothing: kept on the disk when the promise is. */
  async write(staged: Staged[], photo?: { hash: string; job: string; size: number; name: string; type: string }): Promise<void> {
    if (staged.length === 0 && !photo) return;
    const tx = this.db.transaction(STORES, 'readwrite', { durability: 'strict' });
    const puts: Promise<unknown>[] = [];
    for (const one of staged) {
      switch (one.what) {
        case 'row': {
          puts.push(tx.objectStore('chunks').add({ job: one.job, bytes: one.bytes }));
          break;
        }
        case 'original':
          puts.push(tx.objectStore('originals').put({ hash: one.hash, job: one.job, size: one.size, name: `${one.hash.slice(0, 16)}.jpg`, type: 'image/jpeg' }));
          puts.push(tx.objectStore('uploads').put({ hash: one.hash, job: one.job, other: true }));
          break;
        case 'thumbnail': puts.push(tx.objectStore('thumbnails').put(one.bytes, one.hash)); break;
        case 'certificate': puts.push(tx.objectStore('certificates').put(one.bytes, one.device)); break;
        case 'peer': puts.push(tx.objectStore('peers').put({ device: one.device, name: one.name, office: one.office })); break;
        case 'table': puts.push(this.mergeTable(tx.objectStore('tables'), one)); break;
        case 'held': puts.push(tx.objectStore('held').put(
          { device: one.device, original: one.original, hash: one.hash },
          `${one.device} ${one.original} ${one.hash}`)); break;
      }
    }
    for (const job of new Set(staged.filter((one) => one.what === 'row').map((one) => one.job))) {
      puts.push(this.knowJob(tx.objectStore('jobs'), job));
    }
    if (photo) {
      puts.push(tx.objectStore('originals').put(photo));
      puts.push(tx.objectStore('uploads').put({ hash: photo.hash, job: photo.job }));
    }
    try {
      await Promise.all([...puts, tx.done]);
    } catch (error) {
      tx.done.catch(() => undefined);
      throw error;
    }
  }

  private async knowJob(jobs: { get(job: string): Promise<JobRow | undefined>; put?(row: JobRow): Promise<unknown> }, job: string): Promise<void> {
    if (!(await jobs.get(job))) await jobs.put?.({ job, title: '', opened: Date.now() });
  }

  // What a peer was told to hold only grows: of two words on an author the greater number counts.
  private async mergeTable(tables: { get(key: string): Promise<{ table: string } | undefined>; put?(value: { device: string; job: string; table: string }, key: string): Promise<unknown> }, one: Staged): Promise<void> {
    const key = `${one.device} ${one.job}`;
    const before = await tables.get(key);
    const all = new Map<string, [string, number, string]>();
    const rows = [before?.table ?? '[]', one.table].flatMap((text) => JSON.parse(text) as [string, number, string][]);
    for (const row of rows) {
      const known = all.get(row[0]);
      if (!known || known[1] < row[1]) all.set(row[0], row);
    }
    await tables.put?.({ device: one.device, job: one.job, table: JSON.stringify([...all.values()]) }, key);
  }

  /** A job's snapshot, the key of the last chunk in it, and the chunks behind it. */
  async opening(job: string): Promise<{ snapshot?: Uint8Array; upto: number; chunks: Uint8Array[] }> {
    const snapshot = await this.db.get('snapshots', job);
    const upto = snapshot?.upto ?? 0;
    const { chunks } = await this.chunks(job, upto);
    return snapshot ? { snapshot: snapshot.bytes, upto, chunks } : { upto, chunks };
  }

  /** The chunks of a job behind a key, in their order, and the key of its last. */
  async chunks(job: string, after = 0): Promise<{ chunks: Uint8Array[]; last: number }> {
    const index = this.db.transaction('chunks').store.index('job');
    if (after === 0) {
      const [keys, rows] = await Promise.all([index.getAllKeys(job), index.getAll(job)]);
      return { chunks: rows.map((row) => row.bytes), last: keys.at(-1) ?? 0 };
    }
    // A snapshot holds the many before it: only those behind it are read, from the last on.
    const chunks: Uint8Array[] = [];
    let cursor = await index.openCursor(job, 'prev');
    const last = cursor?.primaryKey ?? 0;
    while (cursor && cursor.primaryKey > after) {
      chunks.push(cursor.value.bytes);
      cursor = await cursor.continue();
    }
    return { chunks: chunks.reverse(), last };
  }

  async setSnapshot(job: string, bytes: Uint8Array, upto: number): Promise<void> {
    await this.db.put('snapshots', { job, bytes, upto });
  }

  async dropSnapshot(job: string): Promise<void> { await this.db.delete('snapshots', job); }

  thumbnail(hash: string): Promise<Uint8Array | undefined> { return this.db.get('thumbnails', hash); }
  thumbnailNames(): Promise<string[]> { return this.db.getAllKeys('thumbnails'); }
  original(hash: string) { return this.db.get('originals', hash); }
  originals() { return this.db.getAll('originals'); }
  uploads() { return this.db.getAll('uploads'); }
  countUploads(): Promise<number> { return this.db.count('uploads'); }
  peers() { return this.db.getAll('peers'); }
  tables() { return this.db.getAll('tables'); }
  held() { return this.db.getAll('held'); }

  async certificates(): Promise<[string, Uint8Array][]> {
    const tx = this.db.transaction('certificates');
    const [keys, values] = await Promise.all([tx.store.getAllKeys(), tx.store.getAll()]);
    return keys.map((key, at) => [key, values[at]!]);
  }

  /** The office said that it holds this original durably. */
  async uploaded(hash: string, offices: string[]): Promise<void> {
    const tx = this.db.transaction(['uploads', 'held'], 'readwrite', { durability: 'strict' });
    const puts = offices.map((device) => tx.objectStore('held').put({ device, original: true, hash }, `${device} true ${hash}`));
    await Promise.all([tx.objectStore('uploads').delete(hash), ...puts, tx.done]);
  }
}
