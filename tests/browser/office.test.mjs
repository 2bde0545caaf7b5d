// The office's own pages: who may sign in, devices, audit, storage, signing in, who sees a job.
import { test, before, after } from 'node:test';
import assert from 'node:assert/strict';
import { PASSWORD, SIZES, accessible, fits, page, shot, sound, startOffice } from './harness.mjs';

let office, job;
before(async () => { office = await startOffice(); [job] = await office.jobs(); });
after(async () => office?.stop());

test('the pages hold at both sizes, light, dark and without scripts', async () => {
  for (const [path, name] of [['/people', 'people'], ['/devices', 'devices'], ['/audit', 'audit'], ['/storage', 'storage'],
    ['/account', 'account-own'], [`/jobs/${job}/access`, 'access']]) {
    await sound(office, path, name);
  }
  await sound(office, '/sign-in', 'sign-in', { as: null });
});

test('somebody is invited, joins, is shut out and let in again', async () => {
  const admin = await page(office);
  await admin.tab.goto(`${office.url}/people`);
  await admin.tab.locator('form[action$="/people/invite"] [name=role]').selectOption('estimator');
  await admin.tab.getByRole('button', { name: 'Make a link' }).click();
  const link = (await admin.tab.locator('code.once').innerText()).trim();
  await accessible(admin.tab);
  await shot(admin.tab, 'people-link-desk');
  const { tab, close } = await page(office, { as: null, size: SIZES.phone, scripts: false, allow: [/422/] });
  await tab.goto(link);
  await tab.fill('[name=name]', 'Vera <i>Moss</i>');
  await tab.fill('[name=password]', 'short');
  await tab.fill('[name=again]', 'short');
  await tab.locator('main button').click();
  assert.equal(await tab.inputValue('[name=name]'), 'Vera <i>Moss</i>');
  await tab.locator('.note.bad').waitFor();
  await tab.fill('[name=password]', PASSWORD);
  await tab.fill('[name=again]', PASSWORD);
  await tab.locator('main button').click();
  await tab.waitForURL(`${office.url}/`);
  await close();
  await admin.tab.goto(`${office.url}/people`);
  const row = admin.tab.locator('tbody tr', { hasText: 'Vera <i>Moss</i>' });
  await row.getByRole('button', { name: 'Shut out' }).click();
  assert.match(await row.innerText(), /shut out/);
  await row.getByRole('button', { name: 'Let in again' }).click();
  await row.getByRole('button', { name: 'Shut out' }).waitFor();
  await row.getByRole('combobox').selectOption('crew');
  await row.getByRole('button', { name: 'Change' }).click();
  assert.equal(await row.getByRole('combobox').inputValue(), 'crew');
  await admin.close();
});

test('a device gets a code as text and as a picture, by keyboard alone', async () => {
  const { tab, close } = await page(office);
  await tab.goto(`${office.url}/devices`);
  await tab.locator('form[action$="/devices/invite"] [name=role]').focus();
  await tab.keyboard.press('Tab');
  await tab.keyboard.press('Enter');
  await tab.locator('.qr svg').waitFor();
  assert.match(await tab.locator('main').innerText(), /It counts once/);
  await fits(tab);
  await accessible(tab);
  await shot(tab, 'device-code-desk');
  await tab.goto(`${office.url}/devices`);
  await tab.locator('tbody th a').first().click();
  assert.match(await tab.locator('main').innerText(), /What it had/);
  const path = new URL(tab.url()).pathname;
  await close();
  await sound(office, path, 'device');
});

test('a device is shut out and let in again', async () => {
  const { tab, close } = await page(office);
  await tab.goto(`${office.url}/devices`);
  await tab.locator('tbody th a').last().click();
  await tab.getByRole('button', { name: 'Shut out' }).click();
  await tab.getByRole('button', { name: 'Let in again' }).click();
  await tab.getByRole('button', { name: 'It is lost' }).waitFor();
  await close();
});

for (const [label, options] of Object.entries({ desk: {}, plain: { scripts: false, size: SIZES.phone } })) {
  test(`a link to a job is made, opened and withdrawn (${label})`, async () => {
    const { tab, close } = await page(office, { ...options, allow: [/422/] });
    await tab.goto(`${office.url}/jobs/${job}/access`);
    await tab.fill('[name=note]', `the adjuster, ${label}`);
    await tab.fill('[name=days]', '9999');
    await tab.getByRole('button', { name: 'Make a link' }).click();
    await tab.waitForSelector('[name=days][aria-invalid=true]');
    assert.equal(await tab.inputValue('[name=note]'), `the adjuster, ${label}`);
    await tab.fill('[name=days]', '30');
    await tab.getByRole('button', { name: 'Make a link' }).click();
    const link = (await tab.locator('code.once').innerText()).trim();
    const outside = await page(office, { as: null, allow: [/410|404/] });
    assert.equal((await outside.tab.goto(link)).status(), 200);
    await tab.getByRole('link', { name: 'Who sees the job' }).click();
    await tab.locator('tbody tr', { hasText: `the adjuster, ${label}` }).getByRole('button', { name: 'Withdraw' }).click();
    assert.match(await tab.locator('tbody tr', { hasText: `the adjuster, ${label}` }).innerText(), /withdrawn/);
    assert.equal((await outside.tab.goto(link)).status(), 410);
    await outside.close();
    await tab.getByRole('button', { name: 'Assign' }).first().click();
    assert.match(await tab.locator('main').innerText(), /those assigned below see it/);
    await tab.getByRole('button', { name: 'Take off' }).first().click();
    await tab.getByRole('button', { name: 'Close the job' }).click();
    assert.match(await tab.locator('main').innerText(), /The job is closed/);
    await tab.getByRole('button', { name: 'Open the job again' }).click();
    await tab.getByRole('button', { name: 'Close the job' }).waitFor();
    await close();
  });
}

test('the audit is narrowed by who, what and job', async () => {
  const { tab, close } = await page(office);
  await tab.goto(`${office.url}/audit`);
  await tab.selectOption('[name=what]', 'share_made');
  await tab.selectOption('[name=job]', job);
  await tab.getByRole('button', { name: 'Show' }).click();
  const said = await tab.locator('tbody td[data-label=What]').allInnerTexts();
  assert.ok(said.length > 0 && said.every((what) => what === 'made a shared link'), said.join());
  await tab.selectOption('[name=who]', { label: 'Marit Oldacre' });
  await tab.getByRole('button', { name: 'Show' }).click();
  assert.equal((await tab.locator('tbody td[data-label=Who]').allInnerTexts()).length, said.length);
  await tab.getByRole('link', { name: 'Show all' }).click();
  assert.match(await tab.locator('main').innerText(), /looked at this list/);
  await close();
});

test('a wrong password says so and keeps the name; the right one goes where one wanted to go', async () => {
  const { tab, close } = await page(office, { as: null, allow: [/403/] });
  await tab.goto(`${office.url}/jobs/${job}/access`);
  await tab.fill('[name=login]', 'marit oldacre');
  await tab.fill('[name=password]', 'not the right one');
  await tab.keyboard.press('Enter');
  await tab.locator('.note.bad').waitFor();
  assert.equal(await tab.inputValue('[name=login]'), 'marit oldacre');
  assert.equal(await tab.inputValue('[name=password]'), '');
  await shot(tab, 'sign-in-wrong-desk');
  await tab.fill('[name=password]', PASSWORD);
  await tab.keyboard.press('Enter');
  await tab.waitForURL(/\/access$/);
  await close();
});

test('storage says what is held and which rules are in force', async () => {
  const { tab, close } = await page(office);
  await tab.goto(`${office.url}/storage`);
  const words = await tab.locator('main').innerText();
  assert.match(words, /of photos, each file once/);
  assert.match(words, /Most jobs\s+no limit/);
  assert.match(words, /never removed/);
  assert.match(words, /104 of 104|\d+ of \d+/);
  await close();
});

test('an estimator sees neither people nor audit nor storage', async () => {
  const estimator = await office.person('estimator', 'Ines Tarr');
  const { tab, close } = await page(office, { as: estimator, allow: [/403/] });
  for (const path of ['/people', '/audit', '/storage']) {
    assert.equal((await tab.goto(`${office.url}${path}`)).status(), 403, path);
  }
  await shot(tab, 'refused-desk');
  await close();
});
