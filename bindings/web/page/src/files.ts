// Originals in the browser's private file system, named by their hash. A file counts once the
// store names it: one that was cut short is written again.

async function folder(): Promise<FileSystemDirectoryHandle> {
  const root = await navigator.storage.getDirectory();
  return root.getDirectoryHandle('originals', { create: true });
}

/** Writes and flushes a file. */
export async function putOriginal(hash: string, bytes: Uint8Array): Promise<void> {
  const handle = await (await folder()).getFileHandle(hash, { create: true });
  if ('createSyncAccessHandle' in handle) {
    const access = await handle.createSyncAccessHandle();
    try {
      access.truncate(0);
      const wrote = access.write(bytes as Uint8Array<ArrayBuffer>, { at: 0 });
      if (wrote !== bytes.length) throw new DOMException('the file was not written whole', 'QuotaExceededError');
      access.flush();
    } finally {
      access.close();
    }
    return;
  }
  const writer = await (handle as FileSystemFileHandle).createWritable();
  await writer.write(bytes as Uint8Array<ArrayBuffer>);
  await writer.close();
}

const coming = new Map<string, FileSystemSyncAccessHandle>();

/** Appends to an original that comes from another phone, and flushes it. */
export async function putPiece(hash: string, offset: number, bytes: Uint8Array): Promise<void> {
  let access = coming.get(hash);
  if (!access) {
    access = await (await (await folder()).getFileHandle(hash, { create: true })).createSyncAccessHandle();
    coming.set(hash, access);
  }
  if (offset === 0) access.truncate(0);
  if (access.write(bytes as Uint8Array<ArrayBuffer>, { at: offset }) !== bytes.length) {
    throw new DOMException('the file was not written whole', 'QuotaExceededError');
  }
  access.flush();
}

/** Lets a file go that came whole, or all of them once the other phone is gone. */
export function closePieces(hash?: string): void {
  for (const [name, access] of coming) {
    if (hash !== undefined && name !== hash) continue;
    access.close();
    coming.delete(name);
  }
}

export async function getOriginal(hash: string): Promise<File | undefined> {
  try {
    return await (await (await folder()).getFileHandle(hash)).getFile();
  } catch {
    return undefined;
  }
}
