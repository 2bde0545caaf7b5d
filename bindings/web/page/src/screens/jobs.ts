// The houses on this phone, and a new one.
import { html, nothing } from 'lit-html';
import { call } from '../client';
import { icon } from '../parts-of-page';
import { once } from '../record';
import { app, go } from '../state';
import { path, screen } from '../screen';
import { troubles } from './troubles';

const form = { street: '', town: '', owner: '', date_of_loss: '' };

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
