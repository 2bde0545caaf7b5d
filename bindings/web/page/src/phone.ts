// Another phone, over a channel that the page holds (a worker has none of its own): frames come
// and go as messages. Originals go over it too, whoever took them.
import { closePieces } from './files';
import { Link, type Event } from './link';

const ALIVE = 5_000;

export class PhoneLink extends Link {
  readonly number = 1;
  private open = false;
  private met = { person: '', changes: 0, files: 0, originals: 0, settled: false };
  private alive: ReturnType<typeof setInterval> | undefined;

  get isOpen(): boolean { return this.open; }

  /** The channel is open. In the desk's turn. */
  async begin(initiator: boolean, originals: boolean): Promise<void> {
    await this.desk.prepareMeeting(undefined, true);
    this.open = true;
    this.met = { person: '', changes: 0, files: 0, originals: 0, settled: false };
    this.alive = setInterval(() => this.tick(), ALIVE);
    await this.pump(() => this.desk.engine.beginSession(this.number, initiator, originals));
  }

  /** A frame came. In the desk's turn. */
  async took(frame: Uint8Array): Promise<void> {
    if (this.open) await this.pump(() => this.desk.engine.receive(this.number, frame));
  }

  /** The channel is gone, or the people end it. In the desk's turn. */
  async end(): Promise<void> {
    if (!this.open) return;
    await this.pump(() => this.desk.engine.leaveSession(this.number));
    this.hangUp();
  }

  hangUp(): void {
    if (!this.open) return;
    this.open = false;
    clearInterval(this.alive);
    this.desk.engine.dropSession(this.number);
    closePieces();
    this.desk.rest();
    this.desk.tell({ news: 'parted' });
  }

  protected send(frame: Uint8Array<ArrayBuffer>): void { this.desk.tell({ news: 'frame', frame }); }

  protected heard(event: Event): void {
    switch (event.event) {
      case 'connected': this.met.person = event.person ?? ''; break;
      case 'took': this.met.changes += event.new_changes ?? 0; this.met.settled = false; break;
      case 'took_file': if (event.original) this.met.originals += 1; else this.met.files += 1; break;
      case 'settled': this.met.settled = true; break;
      case 'ended':
        this.hangUp();
        if (!event.finished && event.words) this.desk.tell({ news: 'broken', words: `The meeting ended: ${event.words}` });
        return;
      default: return;
    }
    this.desk.tell({ news: 'met', ...this.met });
  }
}
