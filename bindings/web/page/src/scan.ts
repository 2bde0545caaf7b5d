// Reads a QR code with the camera: by the browser's own reader where it has one, otherwise by a
// library that is loaded when it is first needed.

interface Detector { detect(from: HTMLVideoElement): Promise<{ rawValue: string }[]> }
declare const BarcodeDetector: { new (options: { formats: string[] }): Detector; getSupportedFormats(): Promise<string[]> } | undefined;

export const canScan = () => 'mediaDevices' in navigator;

let camera: MediaStream | undefined;

export const scanning = () => camera !== undefined;

/** Opens the camera. */
export async function openCamera(): Promise<void> {
  camera = await navigator.mediaDevices.getUserMedia({ video: { facingMode: 'environment', width: { ideal: 1280 } } }).catch(() => {
    throw new Error('The camera was refused or is not there: paste the text instead, or allow the camera in the browser.');
  });
}

export function closeCamera(): void {
  for (const track of camera?.getTracks() ?? []) track.stop();
  camera = undefined;
}

/** Looks until a text is taken or the camera is closed. */
export async function scan(video: HTMLVideoElement, take: (text: string) => Promise<boolean> | boolean): Promise<void> {
  const own = camera;
  if (!own) return;
  video.srcObject = own;
  await video.play();
  const look = await reader();
  while (camera === own) {
    const text = await look(video).catch(() => undefined);
    if (text && camera === own && (await take(text))) { closeCamera(); return; }
    await new Promise((resolve) => setTimeout(resolve, 150));
  }
}

async function reader(): Promise<(video: HTMLVideoElement) => Promise<string | undefined>> {
  if (typeof BarcodeDetector !== 'undefined' && (await BarcodeDetector.getSupportedFormats().catch((): string[] => [])).includes('qr_code')) {
    const detector = new BarcodeDetector({ formats: ['qr_code'] });
    return async (video) => (await detector.detect(video))[0]?.rawValue;
  }
  const { decodeQR } = await import('qr/decode.js');
  const canvas = document.createElement('canvas');
  const paint = canvas.getContext('2d', { willReadFrequently: true })!;
  return async (video) => {
    [canvas.width, canvas.height] = [video.videoWidth, video.videoHeight];
    if (!canvas.width) return undefined;
    paint.drawImage(video, 0, 0);
    return decodeQR(paint.getImageData(0, 0, canvas.width, canvas.height), { timeLimit: 100 });
  };
}

/** Draws a text as a QR code: which squares are dark. */
export async function squares(text: string): Promise<boolean[][]> {
  const { encodeQR } = await import('qr');
  return encodeQR(text, 'raw', { ecc: 'low', border: 1 });
}
