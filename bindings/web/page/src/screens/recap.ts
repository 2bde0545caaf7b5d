// The owner reads what was found, and signs that the visit took place.
import { html, nothing } from 'lit-html';
import { call } from '../client';
import { add, amend } from '../record';
import { app, redraw } from '../state';
import { path, screen } from '../screen';
import type { Account, House } from '../shapes';

const pen = { strokes: [] as string[], down: false, signer: '' };
type Data = { account: Account; house: House };

const point = (event: PointerEvent) => {
  const box = (event.currentTarget as Element).getBoundingClientRect();
  return `${Math.round(((event.clientX - box.left) / box.width) * 1000)} ${Math.round(((event.clientY - box.top) / box.height) * 400)}`;
};
const down = (event: PointerEvent) => { (event.currentTarget as Element).setPointerCapture(event.pointerId); pen.down = true; pen.strokes.push(`M${point(event)}`); redraw(); };
const move = (event: PointerEvent) => { if (!pen.down) return; pen.strokes[pen.strokes.length - 1] += `L${point(event)}`; redraw(); };
const up = () => { pen.down = false; };

export const recap = (job: string) => screen<Data>({
  title: () => 'Recap',
  back: path('job', job),
  load: async () => ({ account: await call('account', job), house: await call('house', job) }),
  draw: ({ account, house }) => {
    const signed = house.lists['signature']?.filter((one) => !one.struck) ?? [];
    const held = house.lists['recap']?.[0];
    const sign = async () => {
      const made = await add(job, { signature: { signer: pen.signer.trim() || String(house.property?.['owner'] ?? 'owner'), signs_as: 'owner', statement: account.signature.means, strokes: pen.strokes.join('') } }, 'Signature');
      if (!made) return;
      pen.strokes = [];
      await amend(job, 'recap/house', { held_at: Date.now() }, 'Recap held');
    };
    return html`<article class="account"><h2>${account.address}</h2>
      ${account.looked_at.map((line) => html`<p>${line.text}</p>`)}
      ${account.observed.map((place) => html`<h3>${place.name}</h3><ul>${place.lines.map((line) => html`<li>${line.text}</li>`)}</ul>`)}
      ${account.before.length ? html`<h3>There before</h3><ul>${account.before.map((line) => html`<li>${line.text}</li>`)}</ul>` : nothing}
      ${account.unsure.length ? html`<h3>Not certain</h3><ul>${account.unsure.map((line) => html`<li>${line.text}</li>`)}</ul>` : nothing}
      ${account.next.length ? html`<h3>Next</h3><ul>${account.next.map((line) => html`<li>${line}</li>`)}</ul>` : nothing}
      ${account.cautions.map((line) => html`<p class="soft">${line}</p>`)}<p><b>${account.no_promise}</b></p></article>
      <div class="field"><label for="next">What happens next, in your words</label><textarea id="next" rows="2" .value=${String(held?.fields['next'] ?? '')} @change=${(event: Event) => amend(job, 'recap/house', { next: (event.target as HTMLTextAreaElement).value }, 'Next steps')}></textarea></div>
      ${signed.length ? html`<p class="note good">Signed by ${signed.map((one) => String(one.fields['signer'] ?? '')).join(', ')}.</p>` : html`
        <h2>Signature</h2><p>${app.state!.vocabulary.signature_means}</p>
        <div class="field"><label for="signer">Name</label><input id="signer" autocomplete="off" .value=${pen.signer || String(house.property?.['owner'] ?? '')} @input=${(event: Event) => { pen.signer = (event.target as HTMLInputElement).value; }}></div>
        <svg class="sign" viewBox="0 0 1000 400" preserveAspectRatio="none" role="img" aria-label="sign here with a finger" @pointerdown=${down} @pointermove=${move} @pointerup=${up} @pointercancel=${up}><path d=${pen.strokes.join('') || 'M0 0'}></path></svg>
        <div class="buttons"><button @click=${() => { pen.strokes = []; redraw(); }}>Clear it</button><button class="main" ?disabled=${!pen.strokes.length} @click=${sign}>Keep the signature</button></div>`}`;
  },
});
