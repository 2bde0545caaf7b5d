// Marks by hand: a tap on the picture rings a hit, a line drawn on it is an arrow. What is drawn fills
// the rows of the form, which alone is sent; without this script the rows are filled by number.
const picture = document.querySelector('[data-draw]');
const form = document.querySelector('[data-marks-form]');
const layer = picture?.querySelector('svg.marks');
document.documentElement.classList.add('scripted');

const rows = () => [...form.querySelectorAll('[data-mark]')];
const of = (row, name) => row.querySelector(`[name="${name}"]`);

/** Only the fields that a kind of mark has are shown. */
function fit(row) {
  const kind = of(row, 'kind').value;
  for (const field of row.querySelectorAll('[data-of]')) {
    field.hidden = !field.dataset.of.split(' ').includes(kind);
  }
}

/** A row that holds no mark; another one where all are used. */
function free() {
  const empty = rows().find((row) => !of(row, 'kind').value);
  if (empty) return empty;
  const last = rows().at(-1);
  const number = rows().length + 1;
  const next = last.cloneNode(true);
  next.querySelector('legend').textContent = `Mark ${number}`;
  for (const field of next.querySelectorAll('[id]')) field.id = field.id.replace(/\d+$/, number);
  for (const label of next.querySelectorAll('label')) label.htmlFor = label.htmlFor.replace(/\d+$/, number);
  for (const input of next.querySelectorAll('input, select')) input.value = '';
  last.after(next);
  return next;
}

const tall = () => layer.viewBox.baseVal.height / 1000;
const number = (row, name) => Number.parseFloat(of(row, name).value) * 10;

function shape(name, values) {
  const made = document.createElementNS('http://www.w3.org/2000/svg', name);
  for (const [key, value] of Object.entries(values)) made.setAttribute(key, value);
  layer.append(made);
  return made;
}

/** The picture shows what the rows say. */
function redraw() {
  if (!layer) return;
  layer.replaceChildren();
  for (const row of rows()) {
    const kind = of(row, 'kind').value;
    const x = number(row, 'x'), y = number(row, 'y') * tall();
    if (!kind || Number.isNaN(x + y)) continue;
    if (kind === 'ring') shape('circle', { class: 'ring', cx: x, cy: y, r: number(row, 'size') || 30 });
    if (kind === 'words') shape('text', { x, y }).textContent = of(row, 'words').value;
    const toX = number(row, 'to-x'), toY = number(row, 'to-y') * tall();
    if (kind === 'arrow' && !Number.isNaN(toX + toY)) {
      shape('line', { x1: x, y1: y, x2: toX, y2: toY });
      shape('circle', { class: 'tip', cx: toX, cy: toY, r: 12 });
    }
  }
}

function put(values) {
  const row = free();
  for (const [name, value] of Object.entries(values)) {
    of(row, name).value = typeof value === 'number' ? value.toFixed(1) : value;
  }
  fit(row);
  fit(free());
  redraw();
}

/** Where on the picture, in percent. */
function place(event) {
  const box = picture.getBoundingClientRect();
  const percent = (at, from, length) => Math.min(100, Math.max(0, ((at - from) / length) * 100));
  return [percent(event.clientX, box.left, box.width), percent(event.clientY, box.top, box.height)];
}

let from = null;
if (picture && form && layer) {
  picture.classList.add('drawable');
  picture.addEventListener('pointerdown', (event) => { from = place(event); picture.setPointerCapture(event.pointerId); event.preventDefault(); });
  picture.addEventListener('pointercancel', () => { from = null; });
  picture.addEventListener('pointerup', (event) => {
    if (!from) return;
    const to = place(event);
    const far = Math.hypot(to[0] - from[0], to[1] - from[1]) > 4;
    if (far) put({ kind: 'arrow', x: from[0], y: from[1], 'to-x': to[0], 'to-y': to[1] });
    else put({ kind: 'ring', x: from[0], y: from[1], size: 3 });
    from = null;
  });
}
if (form) {
  rows().forEach(fit);
  form.addEventListener('input', (event) => {
    const row = event.target.closest('[data-mark]');
    if (row) { fit(row); fit(free()); redraw(); }
  });
}
