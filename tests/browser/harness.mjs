// A real office server on a copy of the demo's job, and a real browser in front of it.
//
// CHALKWALK: the program. CHALKWALK_DEMO: the folder that `chalkwalk demo --out` made.
// CHALKWALK_NODE: the folder with node_modules. CHALKWALK_SHOTS: where pictures of pages are laid.
import { execFileSync, spawn } from 'node:child_process';
import { cpSync, mkdirSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import assert from 'node:assert/strict';

const wanted = (name) => {
  const value = process.env[name];
  if (!value) throw new Error(`set ${name}: tests/run does it`);
  return value;
};
const program = wanted('CHALKWALK');
const demo = wanted('CHALKWALK_DEMO');
const modules = createRequire(join(wanted('CHALKWALK_NODE'), 'package.json'));
const { chromium } = modules('playwright-core');
const axeSource = readFileSync(modules.resolve('axe-core/axe.min.js'), 'utf8');

/** Screens that pages must hold on. */
export const SIZES = { desk: { width: 1280, height: 900 }, phone: { width: 390, height: 844 } };
export const PASSWORD = 'four quiet words here';

const FLAGS = ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run',
  '--disable-background-networking', '--disable-component-update', '--disable-sync'];

/** A browser; `more` are switches of its own. */
export function launch(more = []) {
  return chromium.launch({ executablePath: '/usr/bin/chromium', headless: true, args: [...FLAGS, ...more] });
}

/** Starts a server on a copy of the demo's office, with its first admin signed up. */
export async function startOffice(options = {}) {
  const folder = mkdtempSync(join(tmpdir(), 'chalkwalk-browser-'));
  const data = join(folder, 'office');
  if (options.empty) mkdirSync(data);
  else cpSync(join(demo, 'office'), data, { recursive: true });
  const office = { folder, data, errors: [] };
  await serve(office, '127.0.0.1:0');
  office.browser = await launch();
  office.admin = await join_(office, office.first, 'Marit Oldacre');
  return Object.assign(office, {
    stop: () => stop(office),
    kill: () => kill(office),
    revive: () => revive(office),
    restart: () => restart(office),
    page: (opts) => page(office, opts),
    jobs: () => jobs(office),
    person: (role, name) => person(office, role, name),
  });
}

async function serve(office, listen) {
  office.child = spawn(program, ['serve', '--data', office.data, '--listen', listen, '--json',
    '--company', 'Tessel Ford Roofing (invented)'], { stdio: ['ignore', 'pipe', 'pipe'] });
  office.child.stderr.on('data', (text) => office.errors.push(String(text)));
  const line = await new Promise((resolve, reject) => {
    let text = '';
    office.child.stdout.on('data', (piece) => {
      text += piece;
      if (text.includes('\n')) resolve(text.split('\n')[0]);
    });
    office.child.on('exit', () => reject(new Error(`the server ended: ${office.errors.join('')}`)));
  });
  const said = JSON.parse(line);
  office.url = said.pages.replace(/\/$/, '');
  office.devices = said.devices;
  office.first = (said.first_admin ?? [])[0];
}

/** Ends the server as power loss would. */
async function kill(office) {
  const gone = new Promise((resolve) => office.child.on('exit', resolve));
  office.child.kill('SIGKILL');
  await gone;
}

/** Starts it again at the same address. */
const revive = (office) => serve(office, new URL(office.url).host);

async function restart(office) {
  await kill(office);
  await revive(office);
}

async function stop(office) {
  await office.browser?.close();
  const gone = new Promise((resolve) => office.child.on('exit', resolve));
  office.child.kill('SIGTERM');
  await gone;
  rmSync(office.folder, { recursive: true, force: true });
}

/** Uses a one-time link; gives the cookies of the sign-in. */
async function join_(office, link, name) {
  const context = await office.browser.newContext();
  const tab = await context.newPage();
  await tab.goto(link);
  await tab.fill('[name=name]', name);
  await tab.fill('[name=password]', PASSWORD);
  await tab.fill('[name=again]', PASSWORD);
  await tab.click('main button');
  await tab.waitForURL(`${office.url}/`);
  const state = await context.storageState();
  await context.close();
  return { name, state };
}

/** Invites somebody in a part (crew, estimator, admin) and joins as them. */
async function person(office, role, name) {
  const { tab, close } = await page(office, {});
  await tab.goto(`${office.url}/people`);
  await tab.locator('form[action$="/people/invite"] [name=role]').selectOption(role);
  await tab.locator('form[action$="/people/invite"] button').click();
  const link = await tab.locator('main code').first().innerText();
  await close();
  return join_(office, link.trim(), name);
}

/**
 * A tab, signed in as the first admin unless `as` says otherwise (`as: null` is signed out).
 * What the console says at the level of error, and every failed script, fails `close`.
 */
export async function page(office, { as = office.admin, size = SIZES.desk, scripts = true, dark = false, allow = [] } = {}) {
  const context = await office.browser.newContext({
    viewport: size, javaScriptEnabled: scripts, storageState: as?.state,
    colorScheme: dark ? 'dark' : 'light', hasTouch: size === SIZES.phone, reducedMotion: 'reduce',
  });
  const tab = await context.newPage();
  const said = [];
  tab.on('console', (message) => { if (message.type() === 'error') said.push(message.text()); });
  tab.on('pageerror', (error) => said.push(String(error)));
  tab.on('request', (request) => {
    if (!request.url().startsWith(office.url)) said.push(`asked for ${request.url()}`);
  });
  const close = async () => {
    const bad = said.filter((line) => !allow.some((pattern) => pattern.test(line)));
    await context.close();
    assert.deepEqual(bad, [], 'the console is quiet and nothing is loaded from elsewhere');
  };
  return { tab, context, close, said };
}

/** The ids of the jobs listed on the first page. */
async function jobs(office) {
  const { tab, close } = await page(office, {});
  await tab.goto(`${office.url}/`);
  const hrefs = await tab.locator('main a[href*="/jobs/"]').evaluateAll((all) => all.map((a) => a.getAttribute('href')));
  await close();
  return [...new Set(hrefs.map((href) => href.match(/\/jobs\/([0-9A-Z]{26})/)?.[1]).filter(Boolean))];
}

/** No violation of the rules of WCAG 2.2 A and AA that axe-core can see, on the page as it is. */
export async function accessible(tab) {
  await tab.evaluate(axeSource);
  const found = await tab.evaluate(() => globalThis.axe.run(document, {
    runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'],
  }));
  const words = found.violations.map((v) => `${v.id}: ${v.help}\n  ${v.nodes.map((n) => n.html.slice(0, 160)).join('\n  ')}`);
  assert.deepEqual(words, [], tab.url());
}

/** Nothing is wider than the screen, but what scrolls by itself. */
export async function fits(tab) {
  const { wide, width } = await tab.evaluate(() => {
    const width = document.documentElement.clientWidth;
    const scrolls = (node) => {
      for (let at = node; at && at !== document.body; at = at.parentElement) {
        if (['auto', 'scroll', 'hidden', 'clip'].includes(getComputedStyle(at).overflowX)) return true;
      }
      return false;
    };
    const wide = [...document.body.querySelectorAll('*')]
      .filter((node) => node.getBoundingClientRect().right > width + 1 && !scrolls(node))
      .map((node) => node.outerHTML.slice(0, 120));
    return { wide, width: document.documentElement.scrollWidth - width };
  });
  assert.deepEqual(wide, [], `too wide: ${tab.url()}`);
  assert.ok(width <= 1, `the page scrolls sideways by ${width}: ${tab.url()}`);
}

/** Lays a picture of the whole page where CHALKWALK_SHOTS says. */
export async function shot(tab, name) {
  const folder = process.env.CHALKWALK_SHOTS;
  if (!folder) return;
  mkdirSync(folder, { recursive: true });
  await tab.screenshot({ path: join(folder, `${name}.png`), fullPage: true });
}

/** A heading of a table stands above its column, where the table is not stacked for a phone. */
export async function columns(tab) {
  const off = await tab.evaluate(() => {
    const left = (cell) => cell.getBoundingClientRect().left;
    return [...document.querySelectorAll('table')].filter((table) => {
      const heads = table.tHead?.rows[0]?.cells, row = table.tBodies[0]?.rows[0];
      if (!heads?.[0].offsetParent || !row || row.cells.length !== heads.length) return false;
      return [...heads].some((head, at) => Math.abs(left(head) - left(row.cells[at])) > 1);
    }).map((table) => table.className);
  });
  assert.deepEqual(off, [], `headings beside their columns: ${tab.url()}`);
}

/** What holds of every page: it fits, it is accessible, at both sizes, light and dark, with and
 * without scripts. `ready` waits for what the page shows. */
export async function sound(office, path, name, { ready = 'main', as = office.admin } = {}) {
  for (const [label, opts] of Object.entries({
    desk: {}, phone: { size: SIZES.phone }, dark: { dark: true }, plain: { scripts: false, size: SIZES.phone },
  })) {
    const { tab, close } = await page(office, { as, ...opts });
    const answer = await tab.goto(`${office.url}${path}`);
    assert.equal(answer.status(), 200, path);
    await tab.locator(ready).first().waitFor();
    await fits(tab);
    if (label === 'desk') await columns(tab);
    if (label !== 'plain') await accessible(tab);
    if (label !== 'plain') await shot(tab, `${name}-${label}`);
    await close();
  }
}

/** The demo's phone, in a copy of its own: `run` plays a verb on its notebook, `sync` meets the office. */
export function phoneOf(office, name, of = 'rep') {
  const folder = join(office.folder, name);
  cpSync(join(process.env.CHALKWALK_DEMO, of), folder, { recursive: true });
  const run = (...words) => JSON.parse(execFileSync(process.env.CHALKWALK,
    ['--notebook', folder, '--json', ...words], { encoding: 'utf8', maxBuffer: 64 << 20 }));
  const address = office.devices.includes('://') ? office.devices : `http://${office.devices}`;
  return { folder, run, sync: () => run('sync', address.replace(/\/$/, '')) };
}
