// The page: which screen, its bar, and the words at its foot.
import { html, nothing, render } from 'lit-html';
import { begin, call, listen, takeOver } from './client';
import { meeting, met, part, sendFrame } from './meeting';
import { icon } from './parts-of-page';
import { once, onRefresh, refresh } from './record';
import { path, type Screen } from './screen';
import { check } from './screens/check';
import { enrol } from './screens/enrol';
import { finding, found } from './screens/finding';
import { house, owner } from './screens/house';
import { fresh, jobs } from './screens/jobs';
import { meet } from './screens/meet';
import { safe, settle } from './screens/more';
import { photo } from './screens/photo';
import { place } from './screens/place';
import { recap } from './screens/recap';
import type { State } from './shapes';
import { watchPermissions } from './screens/troubles';
import { app, onDraw, putAway, redraw, wrong } from './state';

let shown: Screen | undefined;
let data: unknown;
let scrolled = '';

function screenAt(hash: string): Screen {
  if (!app.state?.enrolled) return enrol();
  const [head, job = '', what, ...rest] = hash.replace(/^#\/?/, '').split('/').map(decodeURIComponent);
  if (head === 'new') return fresh();
  if (head === 'meet') return meet();
  if (head !== 'job') return jobs();
  switch (what) {
    case 'owner': return owner(job);
    case 'place': return place(job, rest.join('/'));
    case 'found': return found(job, `${rest[0]}/${rest[1]}`, rest[2] ?? '');
    case 'finding': return finding(job, rest[0] ?? '');
    case 'photo': return photo(job, rest[0] ?? '');
    case 'check': return check(job);
    case 'recap': return recap(job);
    case 'safe': return safe(job);
    case 'settle': return settle(job);
    default: return house(job, rest[0] ?? '');
  }
}

/** Screens asked for so far. */
let asked = 0;

async function show(): Promise<void> {
  asked += 1;
  const turn = asked;
  const next = screenAt(location.hash);
  const read = await next.load();
  // Another was asked for meanwhile, later and with newer data: it stays, however long this one took.
  if (turn !== asked) return;
  shown = next;
  data = read;
  redraw();
  if (scrolled !== location.hash) {
    scrolled = location.hash;
    const step = /\/step\/(\w+)$/.exec(location.hash)?.[1];
    const at = step && document.querySelector<HTMLElement>(`#step-${step}`);
    if (at) at.scrollIntoView();
    else scrollTo(0, 0);
    document.querySelector<HTMLElement>('h1')?.focus({ preventScroll: true });
  }
}

const LINK: Record<string, string> = { off: 'no signal', calling: 'calling', talking: 'syncing', settled: 'office has it' };

function draw(): void {
  const state = app.state;
  const link = state?.link ?? 'off';
  const title = shown?.title(data) ?? 'Chalkwalk';
  document.title = `${title} · Chalkwalk`;
  render(html`
    <header class="bar"><div>${shown?.back && state?.enrolled ? html`<a class="up" href=${shown.back} aria-label="back">${icon('arrow-left')}</a>` : html`<img src="icons/icon.svg" width="32" height="32" alt="">`}
      <h1 tabindex="-1">${title}</h1>${app.undo && state?.enrolled ? html`<button class="undo" aria-label="undo: ${app.undo.words}" @click=${() => void app.undo?.back()}>${icon('undo-2')}<small>undo</small></button>` : nothing}${state?.enrolled ? html`<span class="link ${link}" role="status">${meeting.phase === 'open' ? `with ${meeting.met?.person ?? 'a phone'}` : LINK[link] ?? link}${state.waiting ? html`<small>${state.waiting} to send</small>` : nothing}</span>` : nothing}</div></header>
    <main aria-busy=${app.busy}>${app.elsewhere ? html`<div class="note warn"><p><b>This page is open in another tab of this phone.</b> One at a time writes.</p><button class="main wide" @click=${() => { app.elsewhere = false; takeOver(); }}>Use it here</button></div>`
      : shown ? shown.draw(data) : html`<p>Opening…</p>`}
      ${app.trouble ? html`<div class="note bad" role="alert"><p>${app.trouble}</p></div>` : nothing}</main>
    <div class="foot" aria-live="polite">${app.toast ? html`<div class="toast ${app.toast.bad ? 'bad' : ''}" role=${app.toast.bad ? 'alert' : nothing}><span>${app.toast.words}</span><button aria-label="put away" @click=${putAway}>×</button></div>` : nothing}</div>`, document.querySelector<HTMLElement>('#page')!);
}

onDraw(draw);
// The list of houses as it was last seen stands on the screen already (`first.ts`); it is drawn in
// full before the engine is there.
const SEEN = 'chalkwalk-last-list';
function firstScreen(): void {
  const seen = localStorage.getItem(SEEN);
  if (!seen) return;
  app.state = { ...(JSON.parse(seen) as State), link: 'off' };
  const first = screenAt(location.hash);
  if (location.hash.length <= 2 && app.state.enrolled) shown = first;
}

onRefresh(async () => {
  app.state = await call('state');
  if (app.state.enrolled) localStorage.setItem(SEEN, JSON.stringify(app.state));
  await show();
});

listen((news) => {
  switch (news.news) {
    case 'ready': app.elsewhere = false; void refresh(); break;
    case 'elsewhere': app.elsewhere = true; redraw(); break;
    case 'link': if (app.state) app.state.link = news.state; redraw(); break;
    case 'uploads': if (app.state) app.state.waiting = news.waiting; redraw(); break;
    case 'frame': sendFrame(news.frame); break;
    case 'met': met(news); break;
    case 'parted': if (meeting.phase === 'open') part('The other phone is gone. What came is kept; the rest goes at the next meeting.'); break;
    // Somebody is tapping: the screen is drawn anew once that is done.
    case 'changed': if (!app.busy) void refresh(); break;
    case 'broken': if (news.words !== 'restart') wrong(news.words); break;
  }
});

addEventListener('hashchange', () => void show().catch(wrong));
addEventListener('online', () => void call('sync').catch(() => undefined));
document.addEventListener('visibilitychange', () => {
  if (app.state?.enrolled && !app.elsewhere) void call(document.visibilityState === 'visible' ? 'sync' : 'rest').catch(() => undefined);
});

watchPermissions();

interface Battery extends EventTarget { level: number }
void (navigator as unknown as { getBattery?: () => Promise<Battery> }).getBattery?.().then((battery) => {
  const told = () => { app.battery = battery.level; redraw(); };
  battery.addEventListener('levelchange', told);
  told();
}, () => undefined);

if ('serviceWorker' in navigator) {
  navigator.serviceWorker.register('sw.js').catch(() => {
    app.trouble = 'The browser did not keep this page for use without a signal: open it again with one.';
    redraw();
  });
}
try { firstScreen(); } catch { localStorage.removeItem(SEEN); }
document.querySelector('#page')!.replaceChildren();
draw();
begin();
// For tests and for whoever builds on it: the same calls that the page makes.
Object.assign(globalThis, { chalkwalk: { call, once, path } });
