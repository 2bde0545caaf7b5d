// What stands on every page: the bar, the ways through a job, the skip link, no sideways scroll.
import { test, before, after } from 'node:test';
import assert from 'node:assert/strict';
import { page, sound, startOffice } from './harness.mjs';

let office, job;
before(async () => { office = await startOffice(); [job] = await office.jobs(); });
after(async () => office?.stop());

test('the list and the front page hold at both sizes', async () => {
  await sound(office, '/', 'jobs');
  await sound(office, `/jobs/${job}`, 'house');
});

test('the first key press offers the way past the bar', async () => {
  const { tab, close } = await page(office);
  await tab.goto(`${office.url}/jobs/${job}`);
  await tab.keyboard.press('Tab');
  assert.equal(await tab.evaluate(() => document.activeElement.textContent), 'To the content');
  await tab.keyboard.press('Enter');
  assert.equal(await tab.evaluate(() => document.activeElement.id), 'main');
  await close();
});

test('an address of nothing says so', async () => {
  const { tab, close } = await page(office, { allow: [/404/] });
  const answer = await tab.goto(`${office.url}/jobs/01KQ0000000000000000000000`);
  assert.equal(answer.status(), 404);
  assert.match(await tab.locator('main').innerText(), /No page stands at this address/);
  await close();
});
