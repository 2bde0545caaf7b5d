// A crew's phone before the office: its page in an emulated phone, and what it holds.
import { execFileSync } from 'node:child_process';
import assert from 'node:assert/strict';
import { join } from 'node:path';
import { SIZES } from './harness.mjs';

const program = process.env.CHALKWALK;

/** Runs the command; gives what it printed. */
export function chalkwalk(...args) {
  return execFileSync(program, args, { encoding: 'utf8' });
}

/** A one-time code for a device, while the server runs. */
export function invite(office) {
  const said = chalkwalk('invite', '--data', office.data, '--role', 'crew', '--json');
  return JSON.parse(said).code;
}

/** Where the crew's page stands. */
export const fieldAt = (office) => `${office.url}/field/`;

/** A phone of its own: nothing shared with another. */
export async function phone(office, options = {}) {
  const { camera: _, ...rest } = options;
  const context = await office.browser.newContext({
    viewport: SIZES.phone, deviceScaleFactor: 2, hasTouch: true, isMobile: true, reducedMotion: 'reduce',
    geolocation: { latitude: 39.78, longitude: -89.65 }, permissions: options.camera ? ['geolocation', 'camera'] : ['geolocation'], serviceWorkers: 'allow', acceptDownloads: true, ...rest,
  });
  const tab = await context.newPage();
  const said = [];
  watch(tab, said);
  await tab.goto(fieldAt(office));
  return { office, context, tab, said, close: () => context.close() };
}

export function watch(tab, said) {
  tab.on('pageerror', (error) => said.push(String(error)));
  tab.on('console', (message) => { if (message.type() === 'error') said.push(message.text()); });
}

/** Joins the office by the page's own form. */
export async function enrolled(office, person, options) {
  const one = await phone(office, options);
  await one.tab.fill('#code', invite(office));
  await one.tab.fill('#person', person);
  await one.tab.click('main button.main');
  await one.tab.getByText('Begin a house').waitFor();
  return one;
}

/** Waits until the page is kept for use with no signal. */
export async function kept(tab) {
  await tab.evaluate(async () => {
    const registration = await navigator.serviceWorker.ready;
    while (registration.active?.state !== 'activated') await new Promise((resolve) => setTimeout(resolve, 50));
  });
}

/** Links two phones by their codes, handed over as text. */
export async function linked(first, second, { seen } = {}) {
  await first.goto(`${new URL(first.url()).href.split('#')[0]}#/meet`);
  await first.click('text=Show my code first');
  await first.locator('#ours').waitFor({ state: 'attached' });
  await seen?.();
  await second.goto(`${new URL(second.url()).href.split('#')[0]}#/meet`);
  if (!(await second.locator('#theirs').isVisible())) await second.click('text=Without a camera');
  await second.fill('#theirs', await first.locator('#ours').textContent());
  await second.click('text=Take >> visible=true');
  await second.getByText('Show this back').waitFor();
  await first.fill('#theirs', await second.locator('#ours').textContent());
  await first.click('text=Take >> visible=true');
}

/** Asks the page's worker, once the page has begun: a page that is loaded may not have run its module yet. */
export async function ask(tab, name, ...args) {
  await tab.waitForFunction('globalThis.chalkwalk !== undefined');
  return tab.evaluate(([name, args]) => globalThis.chalkwalk.call(name, ...args), [name, args]);
}

/** Begins a house by the page's own form; gives its id. */
export async function begun(tab, street = '12 Sample Lane') {
  await tab.click('text=Begin a house');
  await tab.fill('#street', street);
  await tab.fill('#town', 'Invented');
  await tab.fill('#owner', 'Ines Vale');
  await tab.fill('#date_of_loss', '2026-04-21');
  await tab.click('main button.main');
  await tab.getByText('Walk the sides').waitFor();
  return tab.url().match(/job\/([0-9A-Z]{26})/)[1];
}

/** Waits until something holds, looking again and again. */
export async function until(what, holds, patience = 30_000) {
  const end = Date.now() + patience;
  let last;
  while (Date.now() < end) {
    last = await holds().catch((error) => error);
    if (last === true) return;
    await new Promise((resolve) => setTimeout(resolve, 200));
  }
  assert.fail(`${what}: ${last}`);
}

/** Waits until phones hold the same, and all of it is at the office. */
export async function settled(job, ...tabs) {
  await until('the same heads everywhere', async () => {
    const heads = [];
    for (const tab of tabs) {
      await ask(tab, 'sync');
      heads.push(JSON.stringify((await ask(tab, 'heads', job)).heads));
      const peers = await ask(tab, 'peers', job);
      if (!peers.some((peer) => peer.office && peer.lacking === 0)) return false;
    }
    return heads.every((head) => head === heads[0]);
  });
  return (await ask(tabs[0], 'heads', job)).heads;
}

/** A native device of the office in a folder of its own. */
export function native(office, person) {
  const folder = join(office.folder, person);
  const on = (...args) => chalkwalk('--notebook', folder, ...args);
  on('init', '--person', person);
  on('enrol', office.url, '--code', invite(office));
  return { folder, on };
}
