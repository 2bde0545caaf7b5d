// Reads picture files, in a module of its own that loads after the page. Like all of the page's
// files it lies on the phone by then.
import address from '../photo/photo.wasm';
import type { Place } from './shapes';

export interface Looked {
  hash: string;
  size: number;
  warnings: string[];
  /** The small upright picture; none where the file cannot be decoded. */
  thumbnail: Uint8Array | null;
  /** What the engine is to sign. */
  capture: Uint8Array;
}

type Module = typeof import('../photo/photo');
let loading: Promise<Module> | undefined;

async function load(): Promise<Module> {
  const module = await import('../photo/photo');
  await module.default({ module_or_path: new URL(address, self.location.href) });
  return module;
}

/** The module, read where it was not before. */
export async function prepared(): Promise<Module> {
  loading ??= load();
  try {
    return await loading;
  } catch {
    loading = undefined;
    throw new Error('The part of the page that reads photos is not on this phone yet, so this photo was not kept. Open the page once with a signal.');
  }
}

/** Reads a picture file for a device. Nothing is kept. */
export async function look(file: Uint8Array, name: string, device: string, place: Place | null): Promise<Looked> {
  const module = await prepared();
  const [text, thumbnail, capture] = module.look(file, name, device, Date.now(), place ? JSON.stringify(place) : undefined) as [string, Uint8Array | null, Uint8Array];
  return { ...JSON.parse(text) as Pick<Looked, 'hash' | 'size' | 'warnings'>, thumbnail, capture };
}
