// Makes the walk quick: the pages beside this one are fetched ahead, and a step swaps what is
// shown. Without it every step is a plain link.
document.documentElement.classList.add('scripted');

const AHEAD = 3;
const KEPT = 60;
const pages = new Map();
const pictures = new Map();
let turn = 0;

const shown = () => document.querySelector('[data-walk]');
const link = (rel) => shown()?.querySelector(`a[rel=${rel}]`);

function fetched(href) {
  if (!pages.has(href)) {
    pages.set(href, load(href).catch(() => { pages.delete(href); return null; }));
    while (pages.size > KEPT) pages.delete(pages.keys().next().value);
  }
  return pages.get(href);
}

async function load(href) {
  const answer = await fetch(href, { headers: { accept: 'text/html' } });
  if (!answer.ok || answer.redirected) return null;
  const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
  const part = page.querySelector('[data-walk]');
  return part && { part, title: page.title };
}

function picture(src) {
  if (!src || pictures.has(src)) return;
  const image = new Image();
  image.src = src;
  pictures.set(src, image);
  while (pictures.size > KEPT) pictures.delete(pictures.keys().next().value);
}

/** Fetches the pages after and before, their small pictures, and the next original. */
async function ahead(rel, part, steps, own) {
  let at = part;
  for (let step = 0; step < steps && own === turn; step += 1) {
    const way = at.querySelector(`a[rel=${rel}]`);
    if (!way) return;
    picture(way.dataset.thumbnail);
    if (step === 0 && rel === 'next') rest(way.dataset.original, own);
    const next = await fetched(way.getAttribute('href'));
    if (!next) return;
    at = next.part;
  }
}

/** The next original only where somebody rests on this photo. */
function rest(src, own) {
  setTimeout(() => { if (own === turn) picture(src); }, 400);
}

async function go(href, focus) {
  turn += 1;
  const own = turn;
  const next = await fetched(href);
  if (own !== turn) return;
  if (!next) { location.assign(href); return; }
  const part = document.importNode(next.part, true);
  shown().replaceWith(part);
  document.title = next.title;
  history.replaceState(null, '', href);
  if (focus) (part.querySelector(focus) ?? part.querySelector('a[rel]'))?.focus({ preventScroll: true });
  settle();
}

function settle() {
  const part = shown();
  if (!part) return;
  const own = turn;
  const state = (name, on) => part.querySelector(`[data-${name}]`)?.setAttribute('aria-pressed', String(on));
  state('marks', !document.documentElement.classList.contains('no-marks'));
  state('fill', Boolean(document.fullscreenElement));
  const strip = part.querySelector('.neighbours ol');
  const here = strip?.querySelector('[aria-current]');
  if (here) strip.scrollLeft = here.offsetLeft - strip.clientWidth / 2 + here.clientWidth / 2;
  const stations = part.querySelector('.stations ul');
  const station = stations?.querySelector('[aria-current]');
  if (station) stations.scrollLeft = station.offsetLeft - 40;
  ahead('next', part, AHEAD, own);
  ahead('prev', part, 1, own);
}

function zoom(at) {
  const frame = shown().querySelector('.frame');
  if (!frame.querySelector('[data-whole]')) return;
  const box = frame.querySelector('.picture').getBoundingClientRect();
  const share = at
    ? [(at.clientX - box.left) / box.width, (at.clientY - box.top) / box.height]
    : [0.5, 0.5];
  const on = frame.classList.toggle('zoomed');
  frame.tabIndex = on ? 0 : -1;
  shown().querySelector('[data-zoom]')?.setAttribute('aria-pressed', String(on));
  if (!on) return;
  frame.scrollLeft = frame.scrollWidth * share[0] - frame.clientWidth / 2;
  frame.scrollTop = frame.scrollHeight * share[1] - frame.clientHeight / 2;
  frame.focus({ preventScroll: true });
}

function marks() {
  document.documentElement.classList.toggle('no-marks');
  settle();
}

function fill() {
  if (document.fullscreenElement) document.exitFullscreen();
  else document.querySelector('main').requestFullscreen?.();
}

/** The station before or after this one. */
function station(by) {
  const all = [...shown().querySelectorAll('.stations a')];
  const at = all.findIndex((one) => one.hasAttribute('aria-current'));
  all[at + by]?.click();
}

document.addEventListener('click', (event) => {
  if (event.button !== 0 || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
  const step = event.target.closest('[data-walk] a[data-step]');
  if (step) {
    event.preventDefault();
    const rel = step.getAttribute('rel');
    const place = rel ? `a[rel=${rel}]` : step.closest('.stations') ? '.stations [aria-current]' : '.neighbours [aria-current]';
    go(step.getAttribute('href'), place);
    return;
  }
  const whole = event.target.closest('[data-walk] [data-whole]');
  if (whole) { event.preventDefault(); zoom(event.detail ? event : null); return; }
  if (event.target.closest('[data-zoom]')) zoom();
  if (event.target.closest('[data-marks]')) marks();
  if (event.target.closest('[data-fill]')) fill();
});

document.addEventListener('keydown', (event) => {
  if (event.metaKey || event.ctrlKey || event.altKey || event.target.closest('input, textarea, select')) return;
  const zoomed = shown()?.querySelector('.frame.zoomed');
  const keys = {
    ArrowLeft: () => !zoomed && link('prev')?.click(),
    ArrowRight: () => !zoomed && link('next')?.click(),
    '[': () => station(-1),
    ']': () => station(1),
    z: () => zoom(),
    m: marks,
    f: fill,
    Escape: () => zoomed && zoom(),
  };
  const act = keys[event.key];
  if (!act || !shown()) return;
  if (zoomed && event.key.startsWith('Arrow')) return;
  if (event.key.startsWith('Arrow')) event.preventDefault();
  act();
});

let from = null;
document.addEventListener('touchstart', (event) => {
  const on = event.touches.length === 1 && event.target.closest('.frame:not(.zoomed)');
  from = on ? { x: event.touches[0].clientX, y: event.touches[0].clientY } : null;
}, { passive: true });
document.addEventListener('touchend', (event) => {
  if (!from) return;
  const x = event.changedTouches[0].clientX - from.x;
  const y = event.changedTouches[0].clientY - from.y;
  from = null;
  if (Math.abs(x) < 50 || Math.abs(x) < 2 * Math.abs(y)) return;
  link(x < 0 ? 'next' : 'prev')?.click();
}, { passive: true });

document.addEventListener('fullscreenchange', settle);
settle();
