// One photo: what it is for, and marks drawn beside it.
import { html, nothing, svg } from 'lit-html';
import { call } from '../client';
import { choice } from '../parts-of-page';
import { act, amend, once } from '../record';
import { app, redraw, toast } from '../state';
import { path, screen } from '../screen';
import type { RecordView } from '../shapes';

type Ring = { ring: { x: number; y: number; r: number } };
type Data = { record: RecordView | null; url: string | null; original: boolean };
const drawing = { photo: '', rings: [] as Ring[], size: 40 };

export const photo = (job: string, id: string) => screen<Data>({
  title: () => 'Photo',
  back: path('job', job),
  load: async () => {
    const { record } = await call('record', job, `photo/${id}`);
    if (drawing.photo !== id) Object.assign(drawing, { photo: id, rings: [] });
    const hash = record?.hash;
    const blob = hash ? (await call('original', hash)) ?? (await call('thumbnail', hash)) : null;
    return { record, url: blob ? URL.createObjectURL(blob) : null, original: Boolean(blob && hash && blob.size > 96 << 10) };
  },
  draw: (data) => {
    const record = data.record;
    if (!record) return html`<p>This photo is not on this phone yet.</p>`;
    const put = (event: MouseEvent) => {
      const box = (event.currentTarget as Element).getBoundingClientRect();
      const x = Math.round(((event.clientX - box.left) / box.width) * 1000);
      const y = Math.round(((event.clientY - box.top) / box.height) * 1000);
      drawing.rings.push({ ring: { x, y, r: drawing.size } });
      redraw();
    };
    const keep = () => once(async () => {
      await call('mark', job, id, drawing.rings);
      drawing.rings = [];
      toast('Marks kept beside the photo. The photo itself is as it was.');
    });
    return html`<figure class="whole">${data.url ? html`<img src=${data.url} alt="photo by ${record.who}">` : html`<p>The picture comes with the next meeting.</p>`}
      <svg viewBox="0 0 1000 1000" preserveAspectRatio="none" role="img" aria-label="marks; tap to ring a hit" @click=${put}>${drawing.rings.map(({ ring }) => svg`<ellipse cx=${ring.x} cy=${ring.y} rx=${ring.r} ry=${ring.r}></ellipse>`)}</svg></figure>
      <p class="soft">${record.who} · ${new Date(record.taken_at ?? record.made_at).toLocaleString()}${record.placed ? ' · place known' : ' · no place'}</p>
      <div class="buttons"><button ?disabled=${!drawing.rings.length} @click=${() => { drawing.rings.pop(); redraw(); }}>One ring less</button>
        <button class="main" ?disabled=${!drawing.rings.length} @click=${keep}>Keep ${drawing.rings.length || ''} marks</button></div>
      <p class="soft">Tap the picture to ring a hit.${record.fields['marks'] ? ' Marks are kept already; new ones replace them.' : ''}</p>
      ${choice('What it is for', [['overview', 'overview'], ['standoff', 'far'], ['close_up', 'near'], ['measurement', 'tape or gauge'], ['layer', 'layer'], ['panorama', 'turn from the ridge'], ['document', 'label or paper']].map(([code, label]) => ({ code: code!, label: label! })), record.fields['role'], (role) => void amend(job, record.at, { role }, 'Role'))}
      ${choice('Where', (app.house?.places ?? []).map((row) => ({ code: row.at, label: row.name })), record.fields['place'], (place) => void amend(job, record.at, { place }, 'Place'))}
      ${record.struck ? nothing : html`<button class="wide risky" @click=${() => act(job, { strike: { at: record.at, reason: 'not of use, struck by the crew' } }, 'Struck')}>Strike it (the file stays)</button>`}`;
  },
});
