// Hands a file to the person: by the phone's own sharing where it takes files, else as a download.

export async function hand(blob: Blob, name: string, words: string): Promise<void> {
  const file = new File([blob], name, { type: blob.type });
  if (navigator.canShare?.({ files: [file] })) {
    await navigator.share({ files: [file], title: words }).catch((error: Error) => { if (error.name !== 'AbortError') throw error; });
    return;
  }
  const link = document.createElement('a');
  link.href = URL.createObjectURL(blob);
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}

export const day = () => new Date().toLocaleDateString('sv');
