// A screen: what it reads and how it draws it.
import type { TemplateResult } from 'lit-html';

export interface Screen<Data = unknown> {
  title(data: Data): string;
  /** Where the arrow back leads; none on the first screen. */
  back?: string;
  load(): Promise<Data>;
  draw(data: Data): TemplateResult;
}

export function screen<Data>(made: Screen<Data>): Screen { return made as Screen; }

export function path(...parts: string[]): string { return `#/${parts.join('/')}`; }
