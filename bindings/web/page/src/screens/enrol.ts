// The first screen of a new phone: the office's code, a name, done.
import { html, nothing } from 'lit-html';
import { call } from '../client';
import { note } from '../parts-of-page';
import { once } from '../record';
import { app, go, redraw } from '../state';
import { screen } from '../screen';

const form = { code: '', pin: null as string | null, person: '', device_name: '' };
let scanning: MediaStream | undefined;

/** A text of the office's picture, or the code alone. */
export function readTicket(text: string): { code: string; pin: string | null; at: string | null } | undefined {
  const trimmed = text.trim();
  if (!trimmed.startsWith('chalkwalk:enrol?')) {
    const letters = trimmed.replace(/[^0-9A-Za-z]/g, '');
    return letters.length === 12 ? { code: trimmed, pin: null, at: null } : undefined;
  }
  const fields = new URLSearchParams(trimmed.slice('chalkwalk:enrol?'.length));
  const code = fields.get('code');
  return code ? { code, pin: fields.get('pin'), at: fields.get('at') } : undefined;
}

interface Detector { detect(from: HTMLVideoElement): Promise<{ rawValue: string }[]> }
declare const BarcodeDetector: { new (options: { formats: string[] }): Detector } | undefined;
const canScan = () => typeof BarcodeDetector !== 'undefined' && 'mediaDevices' in navigator;

async function scan(): Promise<void> {
  scanning = await navigator.mediaDevices.getUserMedia({ video: { facingMode: 'environment' } });
  redraw();
  const video = document.querySelector<HTMLVideoElement>('#scan');
  if (!video) return;
  video.srcObject = scanning;
  await video.play();
  const detector = new BarcodeDetector!({ formats: ['qr_code'] });
  while (scanning) {
    const [found] = await detector.detect(video).catch(() => []);
    if (found && take(found.rawValue)) stop();
    await new Promise((resolve) => setTimeout(resolve, 200));
  }
}

function stop(): void {
  for (const track of scanning?.getTracks() ?? []) track.stop();
  scanning = undefined;
  redraw();
}

function take(text: string): boolean {
  const ticket = readTicket(text);
  if (!ticket) return false;
  form.code = ticket.code;
  form.pin = ticket.pin;
  redraw();
  return true;
}

const send = (event: Event) => {
  event.preventDefault();
  void once(async () => {
    const ticket = readTicket(form.code);
    if (!ticket) throw new Error('This is not a code of an office: twelve letters and digits, or the text of its picture.');
    const pin = ticket.pin ?? form.pin;
    await call('enrol', { code: ticket.code, pin, person: form.person, device_name: form.device_name || `${form.person}'s phone` });
    await navigator.storage.persist?.();
    app.state = await call('state');
    go('/');
  });
};

export const enrol = () => screen({
  title: () => 'Join your office',
  load: async () => undefined,
  draw: () => html`
    ${app.secure ? nothing : note('bad', html`<p>This page was opened without a safe connection (https). A phone keeps nothing then. Ask the office for the address that begins with <b>https</b>.</p>`)}
    <p>Ask the office for a code for one device. This is the only time that a signal is needed.</p>
    <form @submit=${send}>
      <div class="field"><label for="code">Code, or the text of the picture</label>
        <input id="code" autocomplete="off" autocapitalize="characters" spellcheck="false" required .value=${form.code}
          @input=${(event: Event) => { form.code = (event.target as HTMLInputElement).value; form.pin = null; }}></div>
      ${canScan() ? html`<button type="button" @click=${() => (scanning ? stop() : void scan().catch(() => stop()))}>${scanning ? 'Stop the camera' : 'Read the picture with the camera'}</button>
        ${scanning ? html`<video id="scan" muted playsinline></video>` : nothing}` : nothing}
      <div class="field"><label for="person">Your name, as the record will show it</label>
        <input id="person" autocomplete="name" required maxlength="80" .value=${form.person} @input=${(event: Event) => { form.person = (event.target as HTMLInputElement).value; }}></div>
      <div class="field"><label for="device">This phone's name</label>
        <input id="device" maxlength="80" placeholder="such as: Ada's phone" .value=${form.device_name} @input=${(event: Event) => { form.device_name = (event.target as HTMLInputElement).value; }}></div>
      <button class="main wide" ?disabled=${app.busy}>Join</button>
    </form>`,
});
