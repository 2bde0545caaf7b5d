// What is safe where, export, and what two people stated differently.
import { html, nothing } from 'lit-html';
import { call } from '../client';
import { icon, note, time } from '../parts-of-page';
import { day, hand } from '../hand';
import { act, once } from '../record';
import { app, toast } from '../state';
import { path, screen } from '../screen';
import type { Conflict, Peer, PhotoState } from '../shapes';

/** The record, the document and every original of this phone, in one file. */
async function everything(job: string, photos: PhotoState[]): Promise<void> {
  const { downloadZip } = await import('client-zip');
  async function* files(): AsyncGenerator<{ name: string; input: Blob }> {
    yield { name: 'record.bundle', input: await call('bundle', [job]) };
    yield { name: 'document.automerge', input: await call('exported', job) };
    for (const photo of photos) {
      const input = await call('original', photo.hash);
      if (input) yield { name: `originals/${photo.hash}.jpg`, input };
    }
  }
  await hand(await downloadZip(files()).blob(), `house-${day()}.zip`, 'A house: record and photos');
}

type Safe = { photos: PhotoState[]; peers: Peer[] };
export const safe = (job: string) => screen<Safe>({
  title: () => 'What is safe where',
  back: path('job', job),
  load: async () => { app.state = await call('state'); return { photos: await call('photos', job), peers: await call('peers', job) }; },
  draw: ({ photos, peers }) => {
    const mine = photos.filter((photo) => photo.here);
    const atOffice = photos.filter((photo) => photo.safe).length;
    const office = peers.find((peer) => peer.office);
    const done = office && office.lacking === 0 && photos.every((photo) => photo.safe);
    return html`
      ${done ? note('good', html`<p><b>All of it is at the office</b>, as the office itself said.</p>`) : note('warn', html`<p><b>Not all of it is at the office.</b> Keep this phone until it is.</p>`)}
      <dl class="facts"><div><dt>The record</dt><dd>${office ? (office.lacking ? `${office.lacking} entries still to go` : 'all at the office') : 'the office was not met yet'}</dd></div>
        <div><dt>Originals here</dt><dd>${mine.length} of ${photos.length}</dd></div><div><dt>Originals at the office</dt><dd>${atOffice} of ${photos.length}</dd></div>
        <div><dt>Waiting to go</dt><dd>${app.state!.waiting}</dd></div></dl>
      ${peers.filter((peer) => !peer.office).map((peer) => html`<p>${peer.name}: ${peer.lacking ? `lacks ${peer.lacking} of your entries` : 'holds all you recorded'}</p>`)}
      <button class="main wide" @click=${() => once(async () => { await call('sync'); toast('Calling the office.'); })}>${icon('refresh-cw')}<span>Call the office now</span></button>
      <h2>Take it with you</h2><p class="soft">Everything, at any time, without anybody's leave.</p>
      <div class="buttons"><button @click=${() => once(async () => hand(await call('bundle', [job]), `house-${day()}.bundle`, 'The record of a house'))}>The record, as a bundle</button>
        <button @click=${() => once(async () => hand(await call('exported', job), `house-${day()}.automerge`, 'The document of a house'))}>The document</button>
        <button @click=${() => once(() => everything(job, mine))}>Everything in one ZIP: record and originals</button></div>
      <details><summary>Each photo</summary><ul class="rows">${photos.map((photo) => html`<li><a class="row" href=${path('job', job, 'photo', photo.id)}><span>${photo.hash.slice(0, 8)}<small>${photo.here ? 'here' : 'on the other phone'} · ${photo.safe ? 'safe at the office' : 'not at the office yet'}</small></span></a></li>`)}</ul></details>`;
  },
});

export const settle = (job: string) => screen<Conflict[]>({
  title: () => 'Stated differently',
  back: path('job', job),
  load: () => call('conflicts', job),
  draw: (list) => html`${list.map((one) => html`<fieldset class="choice"><legend>${one.field.replaceAll('_', ' ')} of ${one.at.split('/')[0]}</legend>
    <div class="big">${one.statements.map((statement) => html`<button @click=${() => act(job, { settle: { at: one.at, field: one.field, value: statement.value } }, 'Settled')}>${statement.words ?? 'nothing'}<small>${statement.who} ${time(statement.at)}</small></button>`)}</div></fieldset>`)}
    ${list.length ? nothing : html`<p class="note good">You two agree on everything.</p>`}`,
});
