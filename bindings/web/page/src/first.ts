// The first screen: the list of houses as it was last seen, drawn before the rest of the page is
// read. It is a picture of the record, never the record.
import type { State } from './shapes';

/** Where the page keeps the list as it was last drawn. */
const SEEN = 'chalkwalk-last-list';

function element(name: string, className: string, words = ''): HTMLElement {
  const made = document.createElement(name);
  made.className = className;
  made.textContent = words;
  return made;
}

function drawn(): boolean {
  const text = localStorage.getItem(SEEN);
  if (!text || location.hash.length > 2) return false;
  const state = JSON.parse(text) as State;
  if (!state.enrolled) return false;
  const head = element('header', 'bar');
  const bar = head.appendChild(element('div', ''));
  bar.append(element('h1', '', state.office || 'Houses'));
  const main = element('main', '');
  main.setAttribute('aria-busy', 'true');
  const rows = main.appendChild(element('ul', 'rows'));
  for (const job of state.jobs) {
    const row = rows.appendChild(element('li', '')).appendChild(element('a', 'row')) as HTMLAnchorElement;
    row.href = `#/job/${job.job}`;
    row.append(element('span', '', job.title || 'a house'));
  }
  document.querySelector('#page')!.replaceChildren(head, main);
  return true;
}

let shown = false;
try { shown = drawn(); } catch { localStorage.removeItem(SEEN); }
const rest = () => void import(new URL('app.js', document.baseURI).href);
if (shown) {
  // The rest is read once this stands on the screen.
  requestAnimationFrame(() => setTimeout(() => { performance.mark('first-screen'); rest(); }));
} else rest();
