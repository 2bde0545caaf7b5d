// What the page may ask of its worker, and what the worker tells.
import type {
  Account, Conflict, House, OpenPoint, Peer, PhotoNote, PhotoState, Pitch, Place, PlaceView,
  Receipt, RecordView, State, Sun,
} from './shapes';

export interface Calls {
  state(): State;
  enrol(ask: { code: string; pin: string | null; person: string; device_name: string }): void;
  begin(property: object): string;
  open(job: string): House;
  house(job: string): House;
  place(job: string, at: string): PlaceView;
  record(job: string, at: string): { record: RecordView | null; photos: RecordView[] };
  photos(job: string): PhotoState[];
  peers(job: string): Peer[];
  conflicts(job: string): Conflict[];
  check(job: string): OpenPoint[];
  account(job: string): Account;
  heads(job: string): { heads: string[]; changes: number };
  act(job: string, action: object): Receipt;
  add(job: string, record: object, hits: number | null): Receipt;
  addPhoto(job: string, file: File, note: PhotoNote, place: Place | null): Receipt & { warnings: string[] };
  mark(job: string, photo: string, marks: object[]): Receipt;
  thumbnail(hash: string): Blob | null;
  original(hash: string): Blob | null;
  bundle(jobs: string[]): Blob;
  takeBundle(file: Blob): { maker: string | null; new_changes: number; files: number; refused: Record<string, string> };
  exported(job: string): Blob;
  sync(): void;
  /** The phone is put away: all that makes the next opening quick is written. */
  rest(): void;
  /** The channel to another phone is open, brought a frame, or is gone. */
  meetBegin(initiator: boolean, originals: boolean): void;
  meetTook(frame: Uint8Array): void;
  meetEnd(): void;
  sun(place: Place, bearing: number, pitch: number | null): Sun;
  pitch(degrees: number): Pitch;
}

export type CallName = keyof Calls;

export type Ask = { n: number; name: CallName; args: unknown[] };
export type Reply = { n: number; value?: unknown; error?: string };

/** What the worker tells unasked. */
export type News =
  | { news: 'changed'; job: string }
  | { news: 'frame'; frame: Uint8Array<ArrayBuffer> }
  | { news: 'met'; person: string; changes: number; files: number; originals: number; settled: boolean }
  | { news: 'parted' }
  | { news: 'link'; state: string }
  | { news: 'uploads'; waiting: number }
  | { news: 'ready' }
  | { news: 'elsewhere' }
  | { news: 'broken'; words: string };
