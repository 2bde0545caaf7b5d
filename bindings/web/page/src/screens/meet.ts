// Two phones meet with no server: by a direct link that two QR codes make, or by a bundle.
import { html, nothing, svg, type TemplateResult } from 'lit-html';
import { until } from 'lit-html/directives/until.js';
import { call } from '../client';
import { leave, meeting, offer, part, took } from '../meeting';
import { icon, note } from '../parts-of-page';
import { once } from '../record';
import { canScan, closeCamera, openCamera, scan, scanning, squares } from '../scan';
import { app, redraw, toast, wrong } from '../state';
import { path, screen } from '../screen';
import { day, hand } from '../hand';

let drawn = { text: '', picture: Promise.resolve(html``) };
function code(text: string): unknown {
  if (drawn.text !== text) {
    drawn = { text, picture: squares(text).then((rows) => {
      const dark = rows.flatMap((row, y) => row.map((on, x) => (on ? `M${x + 3} ${y + 3}h1v1h-1z` : ''))).join('');
      const side = rows.length + 6;
      return html`<svg class="code" viewBox="0 0 ${side} ${side}" role="img" aria-label="code for the other phone's camera">${svg`<path d=${dark}></path>`}</svg>`;
    }) };
  }
  return until(drawn.picture, html`<p>…</p>`);
}

const take = async (text: string): Promise<boolean> => {
  const good = await took(text).catch((error: unknown) => { wrong(error); return true; });
  redraw();
  return good;
};

async function look(): Promise<void> {
  await openCamera();
  redraw();
  await scan(document.querySelector<HTMLVideoElement>('#scan')!, take);
  redraw();
}

const shut = () => { closeCamera(); redraw(); };

function scanner(words: string, main: boolean): TemplateResult | typeof nothing {
  if (!canScan()) return nothing;
  return scanning() ? html`<video id="scan" muted playsinline></video><button class="wide" @click=${shut}>Stop the camera</button>`
    : html`<button class="wide ${main ? 'main' : ''}" @click=${() => void look().catch((error: unknown) => { shut(); wrong(error); })}>${icon('qr-code')}<span>${words}</span></button>`;
}

function typed(): TemplateResult {
  const paste = (event: Event) => {
    event.preventDefault();
    const area = (event.target as HTMLFormElement).querySelector('textarea')!;
    void take(area.value).then((good) => { if (good) area.value = ''; else wrong(new Error('This is not the text of a meeting: it begins with chalkwalk:meet.')); });
  };
  return html`<form class="inline" @submit=${paste}><textarea id="theirs" rows="2" aria-label="text of the other phone" placeholder="or paste the other phone's text"></textarea><button>Take</button></form>`;
}

async function share(): Promise<void> {
  if (navigator.share) await navigator.share({ text: meeting.text }).catch(() => undefined);
  else { await navigator.clipboard.writeText(meeting.text); toast('The text is copied.'); }
}

const shown = (n: string, words: string) => html`<h2>${n}</h2><p>${words}</p>${code(meeting.text)}
  <details><summary>The same as text</summary><output id="ours">${meeting.text}</output><button class="wide" @click=${() => void share().catch(wrong)}>Share or copy it</button></details>`;

const stop = html`<button class="wide" @click=${() => { closeCamera(); part(); }}>Stop</button>`;

function direct(): TemplateResult {
  const { met } = meeting;
  switch (meeting.phase) {
    case 'gathering': return html`<p>Looking for a way to the other phone…</p>${stop}`;
    case 'offering': return html`${shown('1 · Show this', 'The other phone scans it under “Scan their code”.')}
      <h2>2 · Scan their answer</h2>${scanner('Scan their code', true)}${typed()}${stop}`;
    case 'answering': return html`${shown('Show this back', 'The first phone scans it. Then the two are linked.')}${stop}`;
    case 'open': return html`<div class="note ${met?.settled ? 'good' : ''}" role="status"><p><b>${met?.settled ? `You and ${met.person} hold the same.` : met?.person ? `Linked with ${met.person}: exchanging.` : 'Linked: looking who it is.'}</b></p>
        ${met ? html`<p>Taken: ${met.changes} entries, ${met.files} small pictures, ${met.originals} originals.</p>` : nothing}
        <p>As long as both pages stay open, what one records comes to the other at once.</p></div>
      <a class="button main wide" href=${path()}>${icon('house')}<span>On with the houses</span></a><button class="wide" @click=${() => void leave()}>End the meeting</button>`;
    case 'none': return html`<p>Both phones on one Wi-Fi, or one on the other's hotspot. No internet and no server is needed.</p>
      <button class="main wide" @click=${() => void offer().catch(wrong)}>${icon('qr-code')}<span>Show my code first</span></button>${scanner('Scan their code', false)}
      <details><summary>Without a camera</summary>${typed()}</details>
      <label class="check"><input type="checkbox" .checked=${meeting.originals} @change=${(event: Event) => { meeting.originals = (event.target as HTMLInputElement).checked; }}><span>Take the other's originals as well<small>They then lie on two phones before the office has them.</small></span></label>`;
  }
}

function bundle(): TemplateResult {
  const opened = (event: Event) => {
    const input = event.target as HTMLInputElement;
    const file = input.files?.[0];
    input.value = '';
    if (!file) return;
    void once(async () => {
      const said = await call('takeBundle', file);
      const refused = Object.values(said.refused);
      toast(refused.length ? `Part was refused: ${refused.join('; ')}` : `${said.new_changes} entries and ${said.files} small pictures from ${said.maker ?? 'the other phone'} are kept.`);
    });
  };
  return html`<h2>Or hand over a bundle</h2><p>Through the phone's own sharing (near-by, cable, card). It holds the record and the small pictures, no originals.</p>
    <button class="wide" ?disabled=${!app.state!.jobs.length} @click=${() => once(async () => hand(await call('bundle', app.state!.jobs.map((job) => job.job)), `crew-${day()}.bundle`, 'For the other phone'))}>${icon('upload')}<span>Hand a bundle over</span></button>
    <label class="button wide">${icon('download')}<span>Take a bundle</span><input type="file" class="hidden-input" @change=${opened}></label>
    ${note('', html`<p>Either way counts only between devices of your office: all is signed, and what does not fit is refused whole.</p>`)}`;
}

export const meet = () => screen({
  title: () => 'The other phone',
  back: path(),
  load: async () => { app.state = await call('state'); },
  draw: () => html`${direct()}${meeting.phase === 'none' ? bundle() : nothing}`,
});
