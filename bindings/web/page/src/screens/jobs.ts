// The houses on this phone, and a new one.
import { html, nothing } from 'lit-html';
import { call } from '../client';
import { icon, note } from '../parts-of-page';
import { once } from '../record';
import { app, go } from '../state';
import { path, screen } from '../screen';

const LOW = 200 << 20;
const form = { street: '', town: '', owner: '', date_of_loss: '' };

function troubles() {
  const state = app.state!;
  const left = state.quota - state.usage;
  return html`
    ${app.secure ? nothing : note('bad', html`<p>Opened without https: the browser may keep nothing. Ask the office for its safe address.</p>`)}
    ${state.quota && left < LOW ? note('bad', html`<p><b>Little room:</b> ${Math.max(0, Math.round(left / 1e6))} MB are left for photos. Free some before the visit.</p>`) : nothing}
    ${state.persisted ? nothing : note('warn', html`<p><b>The browser may clear this page's storage</b> when the phone runs short. Put the page on the home screen, and sync before the phone is put away.</p>
      <button @click=${() => once(async () => { await navigator.storage.persist?.(); app.state = await call('state'); })}>Ask the browser to keep it</button>`)}
    ${app.battery !== undefined && app.battery < 0.25 ? note('warn', html`<p><b>Battery at ${Math.round(app.battery * 100)} %.</b> Charge it before the roof: a helper waits for nobody's cable.</p>`) : nothing}`;
}

export const jobs = () => screen({
  title: () => app.state?.office || 'Houses',
  load: async () => { app.state = await call('state'); },
  draw: () => html`
    ${troubles()}
    <ul class="rows">${app.state!.jobs.map((job) => html`<li><a class="row" href=${path('job', job.job)}>${icon('house')}<span>${job.title || 'a house'}</span>${icon('chevron-right')}</a></li>`)}</ul>
    ${app.state!.jobs.length ? nothing : html`<p>No house yet. One comes from the office with the next signal, or begin one here: it needs none.</p>`}
    <a class="button main wide" href=${path('new')}>${icon('plus')}<span>Begin a house</span></a>
    <a class="button wide" href=${path('meet')}>${icon('users')}<span>Meet the other phone</span></a>`,
});

const text = (name: keyof typeof form, words: string, type = 'text', required = false) => html`<div class="field"><label for=${name}>${words}</label>
  <input id=${name} type=${type} ?required=${required} autocomplete="off" .value=${form[name]} @input=${(event: Event) => { form[name] = (event.target as HTMLInputElement).value; }}></div>`;

const begin = (event: Event) => {
  event.preventDefault();
  void once(async () => {
    const property = Object.fromEntries(Object.entries(form).filter(([, value]) => value !== ''));
    const job = await call('begin', property);
    Object.assign(form, { street: '', town: '', owner: '', date_of_loss: '' });
    go(`/job/${job}`);
  });
};

export const fresh = () => screen({
  title: () => 'A new house',
  back: path(),
  load: async () => undefined,
  draw: () => html`<form @submit=${begin}>
    ${text('street', 'Street and number', 'text', true)}${text('town', 'Town')}${text('owner', 'Owner')}${text('date_of_loss', 'Day of the storm', 'date')}
    <button class="main wide" ?disabled=${app.busy}>Begin</button></form>`,
});
