// What the page knows at the moment, and how it draws itself anew.
import type { House, State } from './shapes';

export interface Toast { words: string; bad?: boolean }

export const app = {
  state: undefined as State | undefined,
  house: undefined as House | undefined,
  elsewhere: false,
  trouble: '' as string,
  toast: undefined as Toast | undefined,
  /** What takes the last action back. */
  undo: undefined as { words: string; back(): Promise<void> } | undefined,
  busy: false,
  battery: undefined as number | undefined,
  secure: globalThis.isSecureContext,
};

let drawn = () => {};
export function onDraw(draw: () => void): void { drawn = draw; }
export function redraw(): void { drawn(); }

let gone: ReturnType<typeof setTimeout> | undefined;
/** Words at the foot of the screen, for a while. */
export function toast(words: string): void {
  clearTimeout(gone);
  app.toast = { words };
  gone = setTimeout(() => { app.toast = undefined; redraw(); }, 4_000);
  redraw();
}

/** Words that stay until they are put away. */
export function wrong(error: unknown): void {
  clearTimeout(gone);
  app.toast = { words: error instanceof Error ? error.message : String(error), bad: true };
  redraw();
}

export function putAway(): void { app.toast = undefined; redraw(); }
export function label(list: { code: string; label: string }[] | undefined, code: unknown): string {
  return list?.find((word) => word.code === code)?.label ?? String(code ?? '');
}

export function go(to: string): void { location.hash = to; }
