// The first screen of a new phone: the office's code, a name, done.
import { html, nothing } from 'lit-html';
import { call } from '../client';
import { icon, note } from '../parts-of-page';
import { once } from '../record';
import { canScan, closeCamera, openCamera, scan, scanning } from '../scan';
import { app, go, redraw, wrong } from '../state';
import { screen } from '../screen';

const form = { code: '', pin: null as string | null, person: '', device_name: '' };

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

function take(text: string): boolean {
  const ticket = readTicket(text);
  if (!ticket) return false;
  form.code = ticket.code;
  form.pin = ticket.pin;
  redraw();
  return true;
}

async function look(): Promise<void> {
  await openCamera();
  redraw();
  await scan(document.querySelector<HTMLVideoElement>('#scan')!, take);
  redraw();
}

const shut = () => { closeCamera(); redraw(); };

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
      ${canScan() ? html`${scanning() ? html`<video id="scan" muted playsinline></video>` : nothing}
        <button type="button" class="wide" @click=${() => (scanning() ? shut() : void look().catch((error: unknown) => { shut(); wrong(error); }))}>${icon('qr-code')}<span>${scanning() ? 'Stop the camera' : 'Read the picture with the camera'}</span></button>` : nothing}
      <div class="field"><label for="person">Your name, as the record will show it</label>
        <input id="person" autocomplete="name" required maxlength="80" .value=${form.person} @input=${(event: Event) => { form.person = (event.target as HTMLInputElement).value; }}></div>
      <div class="field"><label for="device">This phone's name</label>
        <input id="device" maxlength="80" placeholder="such as: Ada's phone" .value=${form.device_name} @input=${(event: Event) => { form.device_name = (event.target as HTMLInputElement).value; }}></div>
      <button class="main wide" ?disabled=${app.busy}>Join</button>
    </form>`,
});
