// What may spoil the visit, told before it does: storage, battery, permissions.
import { html, nothing, type TemplateResult } from 'lit-html';
import { call } from '../client';
import { note } from '../parts-of-page';
import { once } from '../record';
import { app, redraw } from '../state';

/** Room for about seventy photos. */
const LOW = 200 << 20;

const refused = new Set<string>();
/** Listens to what the person allows; browsers that do not say are not asked. */
export function watchPermissions(): void {
  for (const name of ['geolocation', 'camera']) {
    void navigator.permissions?.query({ name: name as PermissionName }).then((status) => {
      const told = () => { if (status.state === 'denied') refused.add(name); else refused.delete(name); redraw(); };
      status.onchange = told;
      told();
    }, () => undefined);
  }
}

/** What matters at the house as well. */
export function urgent(): TemplateResult {
  const state = app.state!;
  const left = state.quota - state.usage;
  return html`
    ${app.secure ? nothing : note('bad', html`<p>Opened without https: the browser may keep nothing. Ask the office for its safe address.</p>`)}
    ${state.quota && left < LOW ? note('bad', html`<p><b>Little room:</b> ${Math.max(0, Math.round(left / 1e6))} MB are left for photos. Free some before the visit.</p>`) : nothing}
    ${app.battery !== undefined && app.battery < 0.25 ? note('warn', html`<p><b>Battery at ${Math.round(app.battery * 100)} %.</b> Charge it before the roof.</p>`) : nothing}`;
}

export function troubles(): TemplateResult {
  const ask = () => once(async () => { await navigator.storage.persist?.(); app.state = await call('state'); });
  return html`${urgent()}
    ${app.state!.persisted ? nothing : note('warn', html`<p><b>The browser may clear this page's storage</b> when the phone runs short. Put the page on the home screen, and sync before the phone is put away.</p>
      <button class="wide" @click=${ask}>Ask the browser to keep it</button>`)}
    ${refused.has('geolocation') ? note('warn', html`<p><b>Place is refused:</b> photos then do not say where they were taken. Allow it in the browser's settings for this page.</p>`) : nothing}
    ${refused.has('camera') ? note('warn', html`<p><b>Camera is refused:</b> codes of the other phone cannot be scanned, only pasted. Photos are taken all the same.</p>`) : nothing}`;
}
