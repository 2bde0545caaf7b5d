// The office: one live session over a WebSocket while there is a signal, and the queue of
// originals behind it. Both go on where they stood after the page was closed.
import { getOriginal } from './files';
import { refusal, type Desk } from './desk';
import { Link, type Event } from './link';

const LONGEST_WAIT = 60_000;
const ALIVE = 5_000;

export class OfficeLink extends Link {
  readonly number = 0;
  private socket: WebSocket | undefined;
  private wait = 1_000;
  private again: ReturnType<typeof setTimeout> | undefined;
  private uploading = false;
  private token: { text: string; ends: number } | undefined;

  constructor(desk: Desk) {
    super(desk);
    setInterval(() => this.tick(), ALIVE);
  }

  get isOpen(): boolean { return this.socket?.readyState === WebSocket.OPEN; }

  /** Connects where there is a signal and an office. */
  connect(): void {
    clearTimeout(this.again);
    if (this.socket) return;
    void this.desk.turn(async () => {
      if (this.socket || !(await this.desk.store.setting('enrolment'))) return;
      const at = new URL('sync', this.desk.base);
      at.protocol = at.protocol === 'https:' ? 'wss:' : 'ws:';
      const socket = new WebSocket(at);
      socket.binaryType = 'arraybuffer';
      this.socket = socket;
      this.say('calling');
      // Jobs are opened once somebody answers: with no signal nothing is spent on it.
      socket.onopen = () => void this.desk.turn(async () => {
        this.wait = 1_000;
        await this.desk.prepareMeeting();
        await this.pump(() => this.desk.engine.beginSession(this.number, true, false));
      }).catch(() => socket.close());
      socket.onmessage = (message: MessageEvent<ArrayBuffer>) => {
        const frame = new Uint8Array(message.data);
        void this.desk.turn(() => this.pump(() => this.desk.engine.receive(this.number, frame))).catch(() => socket.close());
      };
      socket.onclose = () => this.lost(socket);
      socket.onerror = () => this.lost(socket);
    });
  }

  hangUp(): void { this.socket?.close(); }

  /** There is news here: it goes as soon as there is a signal. */
  wake(): void {
    if (!this.isOpen) this.connect();
    void this.upload();
  }

  private lost(socket: WebSocket): void {
    if (this.socket !== socket) return;
    this.socket = undefined;
    void this.desk.turn(async () => { this.desk.engine.dropSession(this.number); this.desk.rest(); });
    this.say('off');
    this.again = setTimeout(() => this.connect(), this.wait);
    this.wait = Math.min(this.wait * 2, LONGEST_WAIT);
  }

  private say(state: string): void {
    this.desk.link = state;
    this.desk.tell({ news: 'link', state });
  }

  protected send(frame: Uint8Array<ArrayBuffer>): void { this.socket?.send(frame); }

  protected heard(event: Event): void {
    if (event.event === 'connected') { this.say('talking'); void this.upload(); }
    if (event.event === 'settled') this.say('settled');
    if (event.event === 'ended') {
      this.hangUp();
      if (!event.finished && event.words) this.desk.tell({ news: 'broken', words: `The office ended the exchange: ${event.words}` });
    }
  }

  /** Hands in originals, one after the other, until none waits or the signal is gone. */
  async upload(): Promise<void> {
    if (this.uploading) return;
    this.uploading = true;
    try {
      // One that the office does not take yet holds up none of the others.
      const put = new Set<string>();
      for (;;) {
        const next = (await this.desk.store.uploads()).find((one) => !put.has(one.hash));
        if (!next) break;
        put.add(next.hash);
        const offices = (await this.desk.store.peers()).filter((peer) => peer.office).map((peer) => peer.device);
        if (offices.length === 0) break;
        if (!(await this.put(next))) continue;
        await this.desk.store.uploaded(next.hash, offices);
        await this.desk.turn(async () => this.desk.engine.knowHeld(undefined, true, next.hash));
        this.desk.tell({ news: 'uploads', waiting: await this.desk.store.countUploads() });
      }
    } catch {
      // No signal: the queue stands in the store and goes on at the next meeting.
    } finally {
      this.uploading = false;
    }
  }

  private async put(next: { hash: string; job: string; other?: boolean }): Promise<boolean> {
    const file = await getOriginal(next.hash);
    if (!file) return false;
    const headers = { authorization: `Bearer ${await this.bearer()}` };
    if (next.other && !(await this.lacks(next, headers))) return true;
    const at = new URL(`photos/${next.hash}?job=${next.job}`, this.desk.base);
    const answer = await fetch(at, { method: 'PUT', headers, body: file });
    if (answer.status === 200 || answer.status === 201) return true;
    if (answer.status === 401) this.token = undefined;
    // The record of the photo comes first: the office asks for it by the change that names it.
    if (answer.status !== 404 && answer.status !== 403) this.desk.tell({ news: 'broken', words: refusal(await answer.text(), answer.status) });
    return false;
  }

  /** Whoever took a photo may have handed it in meanwhile. */
  private async lacks(next: { hash: string; job: string }, headers: Record<string, string>): Promise<boolean> {
    const answer = await fetch(new URL('photos/lacking', this.desk.base), {
      method: 'POST', headers: { ...headers, 'content-type': 'application/json' }, body: JSON.stringify({ job: next.job, hashes: [next.hash] }) });
    return !answer.ok || JSON.stringify(await answer.json()).includes(next.hash);
  }

  private async bearer(): Promise<string> {
    if (this.token && this.token.ends > Date.now() + 30_000) return this.token.text;
    const identity = JSON.parse((await this.desk.store.setting('identity')) ?? '{}') as { device: string };
    const ask = async <T>(path: string, body: object): Promise<T> => {
      const answer = await fetch(new URL(path, this.desk.base), {
        method: 'POST', headers: { 'content-type': 'application/json' }, body: JSON.stringify(body) });
      if (!answer.ok) throw new Error(refusal(await answer.text(), answer.status));
      return await answer.json() as T;
    };
    const asked = Date.now();
    const { challenge } = await ask<{ challenge: string }>('token/challenge', { device: identity.device });
    const signature = this.desk.engine.answerChallenge(challenge);
    const given = await ask<{ token: string }>('token', { challenge, signature });
    // Not by the office's clock: a phone's may be wrong. Tokens count for ten minutes.
    this.token = { text: given.token, ends: asked + 8 * 60_000 };
    return given.token;
  }
}
