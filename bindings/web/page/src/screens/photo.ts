// One photo: what it is for, and marks drawn beside it.
import { html, nothing, svg, type TemplateResult } from 'lit-html';
import { call } from '../client';
import { choice } from '../parts-of-page';
import { act, amend, recorded } from '../record';
import { app, redraw } from '../state';
import { path, screen } from '../screen';
import type { Mark, RecordView } from '../shapes';

type Data = { record: RecordView | null; url: string | null };
const drawing = { photo: '', marks: [] as Mark[], begun: false, size: 45, arrow: undefined as { from: [number, number]; to: [number, number] } | undefined };

/** Marks over a picture of any shape: rings stay round. Places are thousandths of width and height,
 * radii thousandths of the width. */
export function overlay(marks: Mark[], tall: number): unknown {
  return marks.map((mark) => {
    if ('ring' in mark) return svg`<circle cx=${mark.ring.x} cy=${mark.ring.y * tall} r=${mark.ring.r}></circle>`;
    if ('arrow' in mark) {
      const { from: [ax, ay], to: [bx, by] } = mark.arrow;
      return svg`<line x1=${ax} y1=${ay * tall} x2=${bx} y2=${by * tall}></line><circle class="tip" cx=${bx} cy=${by * tall} r="14"></circle>`;
    }
    return svg`<text x=${mark.text.x} y=${mark.text.y * tall}>${mark.text.text}</text>`;
  });
}

function at(event: PointerEvent): [number, number] {
  const box = (event.currentTarget as Element).getBoundingClientRect();
  const part = (of: number) => Math.min(1000, Math.max(0, Math.round(of * 1000)));
  return [part((event.clientX - box.left) / box.width), part((event.clientY - box.top) / box.height)];
}

const down = (event: PointerEvent) => { const from = at(event); drawing.arrow = { from, to: from }; };
const move = (event: PointerEvent) => { if (drawing.arrow) { drawing.arrow.to = at(event); redraw(); } };
const gone = () => { drawing.arrow = undefined; redraw(); };

/** A tap rings a hit; a stroke is an arrow to its end. */
const up = () => {
  const drawn = drawing.arrow;
  drawing.arrow = undefined;
  if (!drawn) return;
  const [[ax, ay], [bx, by]] = [drawn.from, drawn.to];
  const far = Math.hypot(bx - ax, by - ay) > 60;
  drawing.marks.push(far ? { arrow: drawn } : { ring: { x: ax, y: ay, r: drawing.size } });
  drawing.begun = true;
  redraw();
};

function picture(data: Data, record: RecordView): TemplateResult {
  const tall = record.tall ?? 0.75;
  const live = drawing.arrow && Math.hypot(drawing.arrow.to[0] - drawing.arrow.from[0], drawing.arrow.to[1] - drawing.arrow.from[1]) > 60 ? [{ arrow: drawing.arrow }] : [];
  return html`<figure class="whole">${data.url ? html`<img src=${data.url} alt="photo by ${record.who}">` : html`<p>The picture comes with the next meeting.</p>`}
    <svg class="marks" viewBox="0 0 1000 ${1000 * tall}" preserveAspectRatio="none" role="img" aria-label="marks; tap to ring a hit, draw a line for an arrow"
      @pointerdown=${down} @pointermove=${move} @pointerup=${up} @pointercancel=${gone}>${overlay([...drawing.marks, ...live], tall)}</svg></figure>`;
}

const ROLES = [['overview', 'overview'], ['standoff', 'far'], ['close_up', 'near'], ['measurement', 'tape or gauge'], ['layer', 'layer'], ['panorama', 'turn from the ridge'], ['document', 'label or paper']]
  .map(([code, label]) => ({ code: code!, label: label! }));
const SIZES = [{ code: '25', label: 'small rings' }, { code: '45', label: 'middle' }, { code: '90', label: 'large' }];

export const photo = (job: string, id: string) => screen<Data>({
  title: () => 'Photo',
  back: path('job', job),
  load: async () => {
    const { record } = await call('record', job, `photo/${id}`);
    if (app.house?.id !== job) app.house = await call('house', job);
    if (drawing.photo !== id || !drawing.begun) Object.assign(drawing, { photo: id, begun: false, marks: [...(record?.marks ?? [])] });
    const hash = record?.hash;
    const blob = hash ? (await call('original', hash)) ?? (await call('thumbnail', hash)) : null;
    return { record, url: blob ? URL.createObjectURL(blob) : null };
  },
  draw: (data) => {
    const record = data.record;
    if (!record) return html`<p>This photo is not on this phone yet.</p>`;
    const keep = async () => {
      if (await recorded(job, () => call('mark', job, id, drawing.marks), 'Marks, beside the photo')) { drawing.begun = false; redraw(); }
    };
    const fewer = () => { drawing.marks.pop(); drawing.begun = true; redraw(); };
    return html`${picture(data, record)}
      <p class="soft">Tap to ring a hit, draw a line for an arrow. The photo itself stays as it was.</p>
      <div class="buttons two"><button ?disabled=${!drawing.marks.length} @click=${fewer}>One mark less</button>
        <button class="main" ?disabled=${!drawing.begun} @click=${keep}>Keep the marks</button></div>
      ${choice('Size of a ring', SIZES, String(drawing.size), (size) => { drawing.size = Number(size); redraw(); })}
      <p class="soft">${record.who} · ${new Date(record.taken_at ?? record.made_at).toLocaleString()}${record.placed ? ' · place known' : ' · no place'}</p>
      ${choice('What it is for', ROLES, record.fields['role'], (role) => void amend(job, record.at, { role }, 'Role'))}
      ${choice('Where', (app.house?.places ?? []).map((row) => ({ code: row.at, label: row.name })), record.fields['place'], (place) => void amend(job, record.at, { place }, 'Place'))}
      ${record.struck ? nothing : html`<button class="wide risky" @click=${() => act(job, { strike: { at: record.at, reason: 'not of use, struck by the crew' } }, 'Struck')}>Strike it (the file stays)</button>`}`;
  },
});
