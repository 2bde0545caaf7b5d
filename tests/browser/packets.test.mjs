// The packets of a job: asked for, waited for, stopped, fetched, checked; and what a shared link
// offers of them.
import { test, before, after } from 'node:test';
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { SIZES, page, sound, startOffice } from './harness.mjs';

let office, job, path, folder, estimator;
before(async () => {
  office = await startOffice();
  [job] = await office.jobs();
  path = `/jobs/${job}/packets`;
  folder = mkdtempSync(join(tmpdir(), 'chalkwalk-packets-'));
  estimator = await office.person('estimator', 'Ines Vantongeren');
});
after(async () => {
  await office?.stop();
  if (folder) rmSync(folder, { recursive: true, force: true });
});

/** Asks for a packet by keyboard and looks until it is ready. */
async function make(tab, kind, { bare = false } = {}) {
  await tab.goto(`${office.url}${path}`);
  await tab.locator(`#packet-${kind}`).focus();
  await tab.keyboard.press('Space');
  if (bare) await tab.locator('[name=without_places]').check();
  await tab.getByRole('button', { name: 'Make it' }).press('Enter');
  const row = tab.locator('table tbody tr').first();
  for (let looks = 0; looks < 600; looks += 1) {
    const words = await row.innerText();
    if (/ready and checked/.test(words)) return row;
    assert.doesNotMatch(words, /could not|stopped/, words);
    await new Promise((resolve) => setTimeout(resolve, 500));
    await tab.goto(`${office.url}${path}`);
  }
  return assert.fail('the packet was not ready in five minutes');
}

async function fetched(tab, row, name) {
  const href = await row.locator('a').first().getAttribute('href');
  const answer = await tab.request.get(`${office.url}${href}`);
  assert.equal(answer.status(), 200);
  assert.equal(answer.headers()['content-type'], 'application/zip');
  const file = join(folder, name);
  writeFileSync(file, await answer.body());
  execFileSync('unzip', ['-q', '-d', join(folder, name.replace('.zip', '')), file]);
  return join(folder, name.replace('.zip', ''));
}

function checked(bag) {
  const said = execFileSync(process.env.CHALKWALK, ['verify', bag], { encoding: 'utf8' });
  assert.match(said, /sealed: all in order/);
}

test('the page says what each packet is, before there is one', async () => {
  await sound(office, path, 'packets-none');
});

test('an estimator makes the adjuster\'s packet, fetches it, and it checks out', async () => {
  const { tab, close } = await page(office, { as: estimator, scripts: false, size: SIZES.phone });
  const row = await make(tab, 'shared');
  const bag = await fetched(tab, row, 'one.zip');
  checked(join(bag, 'shared'));
  const pdf = await tab.request.get(`${office.url}${await row.getByText('PDF alone').getAttribute('href')}`);
  assert.equal(pdf.headers()['content-type'], 'application/pdf');
  assert.ok((await pdf.body()).equals(readFileSync(join(bag, 'shared/data/report.pdf'))));
  await close();
  await sound(office, path, 'packets-made');
});

test('the owner\'s packet without places checks out too', async () => {
  const { tab, close } = await page(office, { as: estimator });
  const row = await make(tab, 'owner', { bare: true });
  assert.match(await row.innerText(), /without places/);
  const bag = await fetched(tab, row, 'two.zip');
  checked(join(bag, 'owner'));
  await close();
});

test('a packet can be stopped, and nothing of it is handed out', async () => {
  const { tab, close } = await page(office, { as: estimator, allow: [/404/] });
  await tab.goto(`${office.url}${path}`);
  // The second one waits for the first: there is time to stop it.
  await tab.locator('#packet-archive').check();
  await tab.getByRole('button', { name: 'Make it' }).click();
  await tab.locator('#packet-production').check();
  await tab.getByRole('button', { name: 'Make it' }).click();
  const row = tab.locator('table tbody tr').first();
  assert.match(await row.innerText(), /Production/);
  await row.getByRole('button', { name: 'Stop' }).click();
  for (let looks = 0; looks < 60; looks += 1) {
    if (/stopped/.test(await row.innerText())) break;
    await new Promise((resolve) => setTimeout(resolve, 500));
    await tab.goto(`${office.url}${path}`);
  }
  assert.match(await row.innerText(), /stopped/);
  assert.equal(await row.locator('a').count(), 0);
  await close();
});

test('without a choice nothing is made, and the page says what to do', async () => {
  const { tab, close } = await page(office, { as: estimator, allow: [/422/] });
  const answer = await tab.request.post(`${office.url}${path}`, {
    form: { packet: 'everything' }, headers: { origin: office.url, 'sec-fetch-site': 'same-origin' },
  });
  assert.equal(answer.status(), 422);
  assert.match(await answer.text(), /Choose which packet to make/);
  await close();
});

test('the tables come without a packet', async () => {
  const { tab, close } = await page(office, { as: estimator });
  await tab.goto(`${office.url}${path}`);
  const hrefs = await tab.locator('a[href*="/tables/"]').evaluateAll((all) => all.map((a) => a.getAttribute('href')));
  assert.ok(hrefs.length >= 6);
  for (const href of hrefs) {
    const answer = await tab.request.get(`${office.url}${href}`);
    assert.equal(answer.status(), 200, href);
    assert.match(answer.headers()['content-disposition'], /attachment/);
  }
  const gone = await tab.request.get(`${office.url}/jobs/${job}/tables/custody.json`);
  assert.equal(gone.status(), 404);
  await close();
});

test('crew see neither the chapter nor the packets', async () => {
  const crew = await office.person('crew', 'Bo Harlan');
  const { tab, close } = await page(office, { as: crew, allow: [/403/] });
  await tab.goto(`${office.url}/jobs/${job}`);
  assert.equal(await tab.locator(`a[href="${path}"]`).count(), 0);
  const answer = await tab.goto(`${office.url}${path}`);
  assert.equal(answer.status(), 403);
  await close();
});

test('a shared link offers the tables and the adjuster\'s packet, and no other', async () => {
  const { tab, close } = await page(office, {});
  await tab.goto(`${office.url}/jobs/${job}/access`);
  await tab.fill('#note', 'the adjuster');
  await tab.getByRole('button', { name: 'Make a link' }).click();
  const link = (await tab.locator('main code').first().innerText()).trim();
  await close();
  // The page names no icon of its own; a browser asks for one all the same.
  const outside = await page(office, { as: null, allow: [/404/] });
  await outside.tab.goto(link);
  for (const name of ['shared.zip', 'report.pdf', 'report.xlsx', 'findings.csv', 'report.json']) {
    assert.equal(await outside.tab.locator(`a[href="${name}"]`).count(), 1, name);
    const answer = await outside.tab.request.get(new URL(name, outside.tab.url()).href);
    assert.equal(answer.status(), 200, name);
  }
  for (const name of ['owner.zip', 'archive.zip', 'custody.json', 'comparison.csv']) {
    const answer = await outside.tab.request.get(new URL(name, outside.tab.url()).href);
    assert.equal(answer.status(), 404, name);
  }
  await outside.close();
});
