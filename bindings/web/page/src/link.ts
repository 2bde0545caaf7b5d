// One session of the engine over something that carries frames: the office's socket, or another
// phone. Frames are sent only once all that they acknowledge is written.
import type { Desk } from './desk';

export interface Event { event: string; job?: string; new_changes?: number; words?: string; finished?: boolean; original?: boolean; person?: string }

export abstract class Link {
  /** How the engine knows its session. */
  abstract readonly number: number;

  constructor(protected readonly desk: Desk) { desk.links.push(this); }

  /** Whether frames can go. */
  abstract get isOpen(): boolean;
  protected abstract send(frame: Uint8Array<ArrayBuffer>): void;
  protected abstract heard(event: Event): void;
  /** Ends it at once; what was not acknowledged goes at the next meeting. */
  abstract hangUp(): void;

  /** There is news of a job here. */
  news(job: string): void {
    if (this.isOpen) void this.desk.turn(() => this.pump(() => this.desk.engine.tick(this.number, job)));
  }

  protected tick(): void {
    if (this.isOpen) void this.desk.turn(() => this.pump(() => this.desk.engine.tick(this.number)));
  }

  /** One step of the session. */
  protected async pump(step: () => void): Promise<void> {
    const { engine } = this.desk;
    step();
    const frames = engine.frames(this.number) as Uint8Array<ArrayBuffer>[];
    const events = JSON.parse(engine.events(this.number)) as Event[];
    try {
      await this.desk.commit();
    } catch (error) {
      this.hangUp();
      this.desk.tell({ news: 'broken', words: String((error as Error).message ?? error) });
      return;
    }
    if (this.isOpen) for (const frame of frames) this.send(frame);
    const changed = new Set<string>();
    for (const event of events) {
      if (event.event === 'took' && event.job && event.new_changes) {
        await this.desk.title(event.job).catch(() => undefined);
        changed.add(event.job);
      }
      if (event.event === 'took_file' && event.job) changed.add(event.job);
      this.heard(event);
    }
    if (changed.size) this.desk.tidySoon();
    for (const job of changed) {
      this.desk.tell({ news: 'changed', job });
      // What one link brought goes on over the other.
      for (const other of this.desk.links) if (other !== this) other.news(job);
    }
  }
}
