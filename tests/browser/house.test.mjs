// The jobs, preparing one, the front page of one, and the walk round the house.
import { test, before, after } from 'node:test';
import assert from 'node:assert/strict';
import { mkdtempSync, writeFileSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { SIZES, accessible, fits, page, shot, sound, startOffice } from './harness.mjs';

const fixtures = new URL('../../fixtures/', import.meta.url).pathname;
let office, job, estimator, crew;
before(async () => {
  office = await startOffice();
  [job] = await office.jobs();
  estimator = await office.person('estimator', 'Ines Calder');
  crew = await office.person('crew', 'Tomas Reyk');
});
after(async () => office?.stop());

const walkPages = async (tab) => (await tab.locator('.walk-bar p').innerText()).match(/(\d+) of (\d+)/).slice(1).map(Number);

test('the jobs, the house and the walk hold at every size', async () => {
  await sound(office, '/', 'jobs', { as: estimator });
  await sound(office, '/jobs/new', 'prepare', { as: estimator });
  await sound(office, `/jobs/${job}`, 'house', { as: estimator });
  await sound(office, `/jobs/${job}/walk`, 'walk', { as: estimator, ready: '.frame' });
  await sound(office, `/jobs/${job}`, 'house-crew', { as: crew });
});

test('jobs are found by owner, date and stage', async () => {
  const { tab, close } = await page(office, { as: estimator, scripts: false });
  await tab.goto(`${office.url}/`);
  await tab.fill('[name=q]', 'fenn lark');
  await tab.getByRole('button', { name: 'Search' }).click();
  assert.equal(await tab.locator('table.jobs tbody tr').count(), 1);
  assert.match(await tab.locator('table.jobs').innerText(), /Odalys Fenn/);
  await tab.fill('[name=q]', '<b>nobody');
  await tab.getByRole('button', { name: 'Search' }).click();
  assert.match(await tab.locator('main').innerText(), /No job is like that/);
  assert.equal(await tab.locator('main b b').count(), 0);
  await tab.goto(`${office.url}/?from=2026-04-21&to=2026-04-21`);
  assert.equal(await tab.locator('table.jobs tbody tr').count(), 1);
  const [first] = await tab.locator('.stages a').evaluateAll((all) => all.slice(1).map((a) => a.href));
  await tab.goto(first);
  assert.equal(await tab.locator('table.jobs tbody tr').count(), 1);
  await close();
});

for (const size of ['desk', 'phone']) {
  test(`the walk goes on by keys and links, ${size}`, async () => {
    const { tab, close } = await page(office, { as: estimator, size: SIZES[size] });
    await tab.goto(`${office.url}/jobs/${job}/walk`);
    const [, all] = await walkPages(tab);
    assert.ok(all > 50, `${all} photos`);
    await tab.waitForTimeout(800);
    let asked = 0;
    tab.on('request', (request) => { if (request.isNavigationRequest()) asked += 1; });
    await tab.keyboard.press('ArrowRight');
    await tab.waitForFunction(() => document.querySelector('.walk-bar p').textContent.startsWith('2 of'));
    const second = tab.url();
    assert.match(second, /\/walk\/[0-9A-Z]{26}$/);
    for (let at = 3; at <= 9; at += 1) {
      await tab.keyboard.press('ArrowRight');
      await tab.waitForFunction((n) => document.querySelector('.walk-bar p').textContent.startsWith(`${n} of`), at);
    }
    await tab.keyboard.press('ArrowLeft');
    await tab.waitForFunction(() => document.querySelector('.walk-bar p').textContent.startsWith('8 of'));
    assert.equal(asked, 0, 'no page was loaded anew');
    // What is shown is what its address shows.
    const heading = await tab.locator('figcaption h2').innerText();
    await tab.reload();
    assert.equal(await tab.locator('figcaption h2').innerText(), heading);
    await tab.getByRole('link', { name: 'After' }).focus();
    await tab.keyboard.press('Enter');
    await tab.waitForFunction(() => document.querySelector('.walk-bar p').textContent.startsWith('9 of'));
    assert.equal(await tab.evaluate(() => document.activeElement.rel), 'next', 'the focus stays on the way on');
    await tab.keyboard.press(']');
    await tab.waitForFunction(() => document.querySelectorAll('.stations a')[2].hasAttribute('aria-current') || !document.querySelector('.walk-bar p').textContent.startsWith('9 of'));
    await accessible(tab);
    await fits(tab);
    await close();
  });
}

test('a step is shown at once from what was fetched ahead', async () => {
  const { tab, close } = await page(office, { as: estimator });
  await tab.goto(`${office.url}/jobs/${job}/walk`);
  await tab.waitForTimeout(1500);
  const times = await tab.evaluate(async () => {
    const times = [];
    for (let step = 0; step < 3; step += 1) {
      const before = document.querySelector('[data-walk]');
      const began = performance.now();
      document.querySelector('a[rel=next]').click();
      while (document.querySelector('[data-walk]') === before) await new Promise((go) => setTimeout(go, 0));
      const small = document.querySelector('.small-one');
      await small.decode();
      times.push(performance.now() - began);
    }
    return times;
  });
  console.log(`# step in ms: ${times.map((t) => t.toFixed(1)).join(', ')}`);
  assert.ok(Math.max(...times) < 400, `${times}`);
  await close();
});

test('the walk goes on without scripts', async () => {
  // A picture shown by itself has no page to name its little picture: browsers guess one.
  const { tab, close } = await page(office, { as: estimator, scripts: false, size: SIZES.phone, allow: [/404/] });
  await tab.goto(`${office.url}/jobs/${job}/walk`);
  await tab.getByRole('link', { name: 'After' }).click();
  assert.deepEqual((await walkPages(tab))[0], 2);
  await tab.locator('.stations a').last().click();
  assert.ok((await walkPages(tab))[0] > 2);
  assert.equal(await tab.locator('.needs-script').first().isVisible(), false);
  await tab.locator('a.picture').click();
  assert.match(tab.url(), /\/original\/[0-9a-f]{64}$/);
  await close();
});

test('a close-up stands beside its standoff, its marks over it and never in it', async () => {
  const { tab, close } = await page(office, { as: estimator });
  await tab.goto(`${office.url}/jobs/${job}`);
  await tab.locator('.cards .brief a[href*="/walk/"]').first().click();
  await tab.locator('[data-walk]').waitFor();
  assert.ok(await tab.locator('.found').count() >= 1);
  assert.match(await tab.locator('.found').first().innerText(), /damaged/);
  assert.ok(await tab.locator('.closeby .thumb').count() >= 1, 'its pair is there');
  // Somewhere on the walk there are marks; the original under them is the file of its hash.
  for (let step = 0; step < 120 && await tab.locator('.stage svg.marks').count() === 0; step += 1) {
    const next = await tab.locator('a[rel=next]').first().getAttribute('href').catch(() => null);
    if (!next) break;
    await tab.goto(`${office.url}${next}`);
  }
  if (await tab.locator('.stage svg.marks').count() > 0) {
    await shot(tab, 'walk-marks-desk');
    await tab.keyboard.press('m');
    assert.equal(await tab.locator('.stage svg.marks').isVisible(), false);
    await tab.keyboard.press('m');
  }
  const box = await tab.locator('.picture').boundingBox();
  await tab.keyboard.press('z');
  await tab.locator('.frame.zoomed').waitFor();
  const large = await tab.locator('.picture').boundingBox();
  assert.ok(large.width > box.width, `${large.width} over ${box.width}`);
  await shot(tab, 'walk-zoomed-desk');
  await tab.keyboard.press('Escape');
  assert.equal(await tab.locator('.frame.zoomed').count(), 0);
  await close();
});

test('a swipe is a step', async () => {
  const { tab, close, context } = await page(office, { as: estimator, size: SIZES.phone });
  await tab.goto(`${office.url}/jobs/${job}/walk`);
  await tab.locator('.frame').scrollIntoViewIfNeeded();
  const box = await tab.locator('.frame').boundingBox();
  const session = await context.newCDPSession(tab);
  const y = box.y + box.height / 2;
  const touch = (type, x) => session.send('Input.dispatchTouchEvent', { type, touchPoints: type === 'touchEnd' ? [] : [{ x, y }] });
  await touch('touchStart', 300);
  for (const x of [250, 180, 100]) await touch('touchMove', x);
  await touch('touchEnd');
  await tab.waitForFunction(() => document.querySelector('.walk-bar p').textContent.startsWith('2 of'));
  await close();
});

test('pictures are kept by the browser for good', async () => {
  const { tab, close } = await page(office, { as: estimator });
  await tab.goto(`${office.url}/jobs/${job}/walk`);
  const src = await tab.locator('.small-one').getAttribute('src');
  const answer = await tab.request.get(`${office.url}${src}`);
  assert.equal(answer.headers()['cache-control'], 'private, max-age=31536000, immutable');
  await close();
});

test('the office says that a job is ready and hands it on', async () => {
  const { tab, close } = await page(office, { as: estimator, scripts: false, allow: [/409/] });
  const other = await page(office, { as: office.admin, scripts: false });
  await tab.goto(`${office.url}/jobs/${job}`);
  await other.tab.goto(`${office.url}/jobs/${job}`);
  await tab.getByRole('button', { name: 'It is ready' }).click();
  assert.match(await tab.locator('.status-line').innerText(), /said by Ines Calder/);
  // Somebody with the page of before is told, and overwrites nothing.
  await other.tab.getByRole('button', { name: 'Hand it on' }).click();
  assert.match(await other.tab.locator('main').innerText(), /Ines Calder marked this job ready/);
  await tab.getByRole('button', { name: 'Hand it on' }).click();
  assert.match(await tab.locator('.status-line').innerText(), /handed on/);
  await tab.getByRole('button', { name: 'Take the word back' }).click();
  assert.doesNotMatch(await tab.locator('.status-line').innerText(), /said by/);
  await close();
  other.said.length = 0;
  await other.close();
  const seen = await page(office, { as: crew });
  await seen.tab.goto(`${office.url}/jobs/${job}`);
  assert.equal(await seen.tab.getByRole('button', { name: 'It is ready' }).count(), 0);
  await seen.close();
});

test('a wrong form keeps what was typed, and a right one becomes the record', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'prepare-'));
  const photo = join(folder, 'photo.csv');
  writeFileSync(photo, Buffer.from([0xff, 0xd8, 0xff, 0xe0]));
  for (const scripts of [true, false]) {
    const street = `${scripts ? 7 : 9} Sallow Rise <i>`;
    const { tab, close } = await page(office, { as: estimator, scripts, size: scripts ? SIZES.desk : SIZES.phone, allow: [/422/] });
    await tab.goto(`${office.url}/jobs/new`);
    await tab.fill('[name=street]', street);
    await tab.fill('[name=owner]', 'Bettina Quarr');
    await tab.fill('[name=latitude]', '91');
    await tab.fill('[name=longitude]', '-98.7431');
    await tab.fill('[name=time_zone]', 'America/Chicago');
    await tab.fill('[name=date_of_loss]', '2026-04-21');
    await tab.setInputFiles('[name=measured]', photo);
    await tab.getByRole('button', { name: 'Begin the job' }).click();
    assert.equal(await tab.inputValue('[name=street]'), street);
    assert.equal(await tab.inputValue('[name=owner]'), 'Bettina Quarr');
    const words = await tab.locator('main').innerText();
    assert.match(words, /photo\.csv: the file is not text in UTF-8/);
    assert.match(words, /Choose the files again/);
    assert.equal(await tab.locator('[aria-invalid=true]').count(), 2);
    if (scripts) { await accessible(tab); await shot(tab, 'prepare-wrong-desk'); }
    await tab.fill('[name=latitude]', '33.2127');
    await tab.setInputFiles('[name=measured]', join(fixtures, 'scope/measurement-report.csv'));
    await tab.setInputFiles('[name=storm]', [join(fixtures, 'storm/daily-260421.csv'), join(fixtures, 'storm/storm-events-2026.csv')]);
    await tab.fill('[name=storm_day]', '2026-04-21');
    await tab.locator('[name=device]').first().check();
    await tab.getByRole('button', { name: 'Begin the job' }).click();
    await tab.waitForURL(/\/jobs\/[0-9A-Z]{26}$/);
    assert.match(await tab.locator('h1').innerText(), /Sallow Rise <i>/);
    assert.match(await tab.locator('.status-line').innerText(), /crew expected/);
    assert.match(await tab.locator('main').innerText(), /measurement-report\.csv/);
    assert.match(await tab.locator('main').innerText(), /\d+ reports? kept/);
    await fits(tab);
    await shot(tab, `prepared-${scripts ? 'desk' : 'phone'}`);
    await tab.goto(`${tab.url()}/walk`);
    assert.match(await tab.locator('main').innerText(), /No photo has come in yet/);
    await close();
  }
  rmSync(folder, { recursive: true, force: true });
});

test('the list shows what comes in as it comes in', async () => {
  const looking = await page(office, { as: crew });
  await looking.tab.goto(`${office.url}/`);
  await looking.tab.waitForFunction(() => document.documentElement.classList.contains('hears'));
  const { tab, close } = await page(office, { as: estimator, scripts: false });
  await tab.goto(`${office.url}/jobs/new`);
  await tab.fill('[name=street]', '31 Tern Bank');
  await tab.getByRole('button', { name: 'Begin the job' }).click();
  await looking.tab.getByText('31 Tern Bank').waitFor({ timeout: 10_000 });
  await close();
  await looking.close();
});
