// Shows what comes in as it comes in: where the office hears something new, the parts of the page
// that are marked for it are fetched anew. Without it there is a link that loads the page again.
const SLOWEST = 1500;
let source = null;
let due = null;

const parts = () => [...document.querySelectorAll('[data-live]')];

/** Somebody who types or stands in a part keeps it as it is until they leave it. */
const busy = (part) => part.contains(document.activeElement) && document.activeElement.matches('input, textarea, select');

async function refresh() {
  due = null;
  const answer = await fetch(location.href, { headers: { accept: 'text/html' } }).catch(() => null);
  if (!answer?.ok || answer.redirected) return;
  const page = new DOMParser().parseFromString(await answer.text(), 'text/html');
  for (const part of parts()) {
    const next = page.querySelector(`[data-live="${CSS.escape(part.dataset.live)}"]`);
    if (!next || busy(part) || next.innerHTML === part.innerHTML) continue;
    const focus = document.activeElement?.id;
    part.replaceWith(document.importNode(next, true));
    if (focus) document.getElementById(focus)?.focus({ preventScroll: true });
  }
}

function listen() {
  const at = parts()[0]?.dataset.news;
  if (source || !at || document.hidden) return;
  source = new EventSource(at);
  source.addEventListener('news', () => { due ??= setTimeout(refresh, SLOWEST); });
  source.addEventListener('open', () => document.documentElement.classList.add('hears'));
  source.addEventListener('error', () => document.documentElement.classList.remove('hears'));
}

document.addEventListener('visibilitychange', () => {
  if (!document.hidden) { listen(); if (source) refresh(); return; }
  source?.close();
  source = null;
});
addEventListener('pagehide', () => { source?.close(); source = null; });
listen();
