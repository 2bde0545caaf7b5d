// The scope, the insurer's scope beside it, the sheets, custody: each page, and each thing an
// estimator does there.
import { test, before, after } from 'node:test';
import assert from 'node:assert/strict';
import { readFileSync, writeFileSync } from 'node:fs';
import { execFileSync } from 'node:child_process';
import { join } from 'node:path';
import { SIZES, page, shot, sound, startOffice } from './harness.mjs';

let office, job, estimator;
before(async () => {
  office = await startOffice();
  [job] = await office.jobs();
  estimator = await office.person('estimator', 'Ines Tarr');
});
after(async () => office?.stop());

const at = (path) => `${office.url}/jobs/${job}${path}`;
const as = (options = {}) => page(office, { as: estimator, ...options });

/** Another's scope, invented: some of it as ours has it, some less, some only theirs. */
function theirs(rows, head = 'Description,Location,Qty,Unit,Unit price,Total') {
  const file = join(office.folder, `theirs-${rows.length}-${head.length}.csv`);
  writeFileSync(file, `${head}\n${rows.join('\n')}\n`);
  return file;
}

test('the pages hold at both sizes, light, dark and without scripts', async () => {
  for (const [path, name] of [['/scope', 'scope'], ['/scope/inputs', 'scope-inputs'], ['/scope/line/new', 'scope-new'],
    ['/beside', 'beside'], ['/production', 'production'], ['/account', 'account'], ['/custody', 'custody']]) {
    await sound(office, `/jobs/${job}${path}`, name, { as: estimator });
  }
  await sound(office, '/prices', 'prices', { as: estimator });
});

for (const [label, options] of Object.entries({ desk: {}, plain: { scripts: false, size: SIZES.phone } })) {
  test(`a line is changed, left out and put back, each with its reason (${label})`, async () => {
    const { tab, close } = await as({ ...options, allow: [/status of 4/] });
    await tab.goto(at('/scope'));
    await tab.locator('table.scope tbody th a').first().click();
    const before = await tab.locator('[name=quantity]').inputValue();
    await tab.locator('form:has-text("Change the line") [name=quantity]').fill('1,234.5');
    await tab.locator('form:has-text("Change the line") [name=reason]').fill(`measured again (${label}) <b>`);
    await tab.getByRole('button', { name: 'Record the change' }).click();
    await tab.waitForURL(/\/scope#line-/);
    const row = tab.locator(`tr#${new URL(tab.url()).hash.slice(1)}`);
    assert.match(await row.innerText(), new RegExp(`measured again \\(${label}\\) <b>[^]*Ines Tarr[^]*1234.5`));
    await row.locator('th a').click();
    await tab.locator('form:has-text("Leave the line out") [name=reason]').fill('done last year');
    await tab.getByRole('button', { name: 'Leave it out' }).click();
    await tab.waitForURL(/\/scope#/);
    assert.match(await tab.locator('main').innerText(), /Left out by the office[^]*done last year/);
    await tab.locator(`tr${new URL(tab.url()).hash} th a`).click();
    if (label === 'desk') await shot(tab, 'scope-line-left-out');
    await tab.locator('form:has-text("Put the line back") [name=reason]').fill('it was another house');
    await tab.getByRole('button', { name: 'Put the line back' }).click();
    await tab.waitForURL(/\/scope#/);
    await tab.locator(`tr${new URL(tab.url()).hash} th a`).click();
    await tab.locator('form:has-text("Take the last change back") [name=reason]').fill('the gauge was right');
    await tab.getByRole('button', { name: 'Take the last change back' }).click();
    await tab.waitForURL(/\/scope#/);
    await tab.locator(`tr${new URL(tab.url()).hash} th a`).click();
    assert.equal(await tab.locator('[name=quantity]').inputValue(), before);
    await close();
  });
}

test('one line has all it rests on', async () => {
  const { tab, close } = await as();
  await tab.goto(at('/scope'));
  const href = await tab.locator('table.scope tbody tr:has(img) th a').first().getAttribute('href');
  await close();
  await sound(office, href, 'scope-line', { as: estimator });
});

test('two estimators who change the same line: the second hears of it and loses nothing typed', async () => {
  const one = await as();
  const two = await page(office, { allow: [/409/] });
  await one.tab.goto(at('/scope'));
  const href = await one.tab.locator('table.scope tbody th a').nth(1).getAttribute('href');
  for (const { tab } of [one, two]) await tab.goto(`${office.url}${href}`);
  for (const [{ tab }, value] of [[one, '7'], [two, '9']]) {
    await tab.locator('[name=quantity]').fill(value);
    await tab.locator('form:has-text("Change the line") [name=reason]').fill(`counted ${value}`);
    await tab.getByRole('button', { name: 'Record the change' }).click();
    await tab.waitForLoadState();
  }
  const words = await two.tab.locator('.note.warn').first().innerText();
  assert.match(words, /nothing was overwritten/);
  assert.match(words, /is now "7", by Ines Tarr; you typed "9"/);
  assert.equal(await two.tab.locator('[name=quantity]').inputValue(), '9');
  assert.equal(await two.tab.locator('form:has-text("Change the line") [name=reason]').inputValue(), 'counted 9');
  await shot(two.tab, 'scope-clash-desk');
  await two.tab.getByRole('button', { name: 'Record the change' }).click();
  await two.tab.waitForURL(/\/scope#/);
  await one.close();
  await two.close();
});

test('what is wrong is said at its field, and a reason is asked for', async () => {
  const { tab, close } = await as({ allow: [/422/] });
  await tab.goto(at('/scope/line/new'));
  await tab.fill('[name=item]', 'snow guard');
  await tab.fill('[name=quantity]', 'many');
  await tab.selectOption('[name=unit]', 'EA');
  await tab.fill('[name=reason]', 'asked for by the owner');
  await tab.getByRole('button', { name: 'Add the line' }).click();
  await tab.waitForSelector('[name=quantity][aria-invalid=true]');
  assert.equal(await tab.inputValue('[name=item]'), 'snow guard');
  await shot(tab, 'scope-new-wrong-desk');
  await tab.fill('[name=quantity]', '14');
  await tab.getByRole('button', { name: 'Add the line' }).click();
  await tab.waitForURL(/\/scope#/);
  assert.match(await tab.locator(`tr${new URL(tab.url()).hash}`).innerText(), /snow guard[^]*14 EA/);
  await close();
});

test('what the scope is made with is set for all, and who comes second hears of it', async () => {
  const one = await as();
  const two = await page(office, { allow: [/409|422/] });
  for (const { tab } of [one, two]) await tab.goto(at('/scope/inputs'));
  await one.tab.fill('[name=waste]', '12');
  await one.tab.fill('[name=edition]', 'IRC 2021');
  await one.tab.locator('main button').click();
  await one.tab.waitForURL(/\/scope$/);
  assert.match(await one.tab.locator('main').innerText(), /Code: IRC 2021 · waste: 12 % · set by Ines Tarr/);
  assert.match(await one.tab.locator('main').innerText(), /shingles for waste/);
  await two.tab.fill('[name=waste]', 'a lot');
  await two.tab.locator('main button').click();
  await two.tab.waitForSelector('[name=waste][aria-invalid=true]');
  // The page that said what was wrong is still of what was seen first.
  await two.tab.fill('[name=waste]', '15');
  await two.tab.locator('main button').click();
  await two.tab.locator('.note.warn').waitFor();
  assert.match(await two.tab.locator('.note.warn').innerText(), /Ines Tarr set this anew meanwhile[^]*waste 12 %/);
  assert.equal(await two.tab.inputValue('[name=waste]'), '15');
  await one.close();
  await two.close();
});

test('a price list of the company puts money on the lines', async () => {
  const { tab, close } = await as({ allow: [/422/] });
  await tab.goto(`${office.url}/prices`);
  const wrong = join(office.folder, 'prices.pdf');
  writeFileSync(wrong, '%PDF-1.7 not a table');
  await tab.setInputFiles('[name=file]', wrong);
  await tab.getByRole('button', { name: 'Put it in place' }).click();
  assert.match(await tab.locator('.note.bad').innerText(), /The file is a PDF/);
  const prices = join(office.folder, 'prices.csv');
  writeFileSync(prices, 'Item,Unit,Unit price\nGutter,LF,9.50\nPipe boot,EA,45\nShingles,SQ,310\nUnderlayment,SQ,42\nDownspout,LF,8\nBox vent,EA,88\nFence,EA,some\n');
  await tab.setInputFiles('[name=file]', prices);
  await tab.getByRole('button', { name: 'Put it in place' }).click();
  await tab.waitForSelector('text=What stands');
  assert.match(await tab.locator('main').innerText(), /6 prices · put in place by Ines Tarr[^]*"some" is not a price/);
  await close();
  await sound(office, '/prices', 'prices-listed', { as: estimator });
  await sound(office, `/jobs/${job}/scope`, 'scope-money', { as: estimator });
  const again = await as();
  await again.tab.goto(at('/scope'));
  assert.match(await again.tab.locator('.tally').innerText(), /at your own prices/);
  assert.match(await again.tab.locator('main').innerText(), /lines? ha(s|ve) no price/);
  await again.close();
});

test('the scope is taken as CSV and JSON', async () => {
  const { tab, context, close } = await as();
  await tab.goto(at('/scope'));
  const csv = await context.request.get(at('/scope.csv'));
  assert.match(csv.headers()['content-disposition'], /attachment; filename="scope.csv"/);
  assert.match(await csv.text(), /^key,place,item,work,quantity/);
  const json = await (await context.request.get(at('/scope.json'))).json();
  assert.ok(json.scope.lines.length > 10 && json.inputs);
  await close();
});

for (const [label, options] of Object.entries({ desk: {}, plain: { scripts: false, size: SIZES.phone } })) {
  test(`the insurer's scope is handed in, held beside ours, joined and parted (${label})`, async () => {
    const { tab, context, close } = await as({ ...options, allow: [/422/] });
    const ours = await (await context.request.get(at('/scope.json'))).json();
    const gutter = ours.scope.lines.find((line) => line.item === 'gutter' && line.quantity);
    const file = theirs([
      `Gutter remove and replace,${gutter.place_words},${gutter.quantity.value / 2},LF,9.00,100.00`,
      `Shutters of the north wing,,2,EA,40,80`,
      `Odd words that mean nothing ${label},,3,EA,1,3`,
      'Total,,,,,183',
    ]);
    await tab.goto(at('/beside'));
    if (await tab.locator('details:has-text("Hand in a scope"):not([open])').count()) {
      await tab.getByText('Hand in a scope').click();
    }
    await tab.fill('form[enctype] [name=name]', `the insurer, ${label}`);
    const picture = join(office.folder, 'roof.jpg');
    writeFileSync(picture, Buffer.from([0xff, 0xd8, 0xff, 0xe0, 0, 0]));
    await tab.setInputFiles('[name=file]', picture);
    await tab.getByRole('button', { name: 'Look at it' }).click();
    assert.match(await tab.locator('.note.bad').innerText(), /The file was not taken. The file is a picture: export the scope as CSV or XLSX/);
    await tab.setInputFiles('[name=file]', file);
    await tab.fill('form[enctype] [name=name]', `the insurer, ${label}`);
    await tab.getByRole('button', { name: 'Look at it' }).click();
    await tab.waitForURL(/\/beside\/read/);
    assert.match(await tab.locator('main').innerText(), /3 rows are items/);
    await shot(tab, `beside-read-${label}`);
    await tab.getByRole('button', { name: 'Keep it and compare' }).click();
    await tab.waitForURL(/\/beside\?of=/);
    await shot(tab, `beside-held-${label}`);
    const text = await tab.locator('main').innerText();
    assert.match(text, /less in theirs/);
    assert.match(text, /missing in theirs/);
    const row = tab.locator('table.beside tbody tr', { hasText: `mean nothing ${label}` });
    await row.getByRole('link', { name: /Join row/ }).click();
    await shot(tab, `beside-join-${label}`);
    await tab.getByRole('button', { name: 'Join with the ticked lines' }).click();
    assert.match(await tab.locator('.note.bad').innerText(), /Tick the lines/);
    if (await tab.locator('fieldset details:not([open]) summary').count()) await tab.locator('fieldset summary').click();
    await tab.locator('fieldset [name=line]').first().check();
    await tab.fill('[name=reason]', 'they call it so');
    await tab.getByRole('button', { name: 'Join with the ticked lines' }).click();
    await tab.waitForURL(/\/beside\?of=/);
    assert.match(await row.innerText(), /A person said so/);
    await row.getByRole('link', { name: new RegExp('Part or join row') }).last().click();
    await tab.getByRole('button', { name: 'Ours has none of it' }).click();
    await tab.waitForURL(/\/beside\?of=/);
    assert.match(await row.innerText(), /only in theirs/);
    await row.getByRole('link', { name: /Join row/ }).click();
    await tab.getByRole('button', { name: 'Take the word of a person back' }).click();
    await tab.waitForURL(/\/beside\?of=/);
    await close();
  });
}

test('the comparison and the list of differences hold, and the list is taken as CSV', async () => {
  await sound(office, `/jobs/${job}/beside`, 'beside-full', { as: estimator });
  await sound(office, `/jobs/${job}/beside/disputes`, 'disputes', { as: estimator });
  const { tab, context, close } = await as();
  await tab.goto(at('/beside/disputes'));
  assert.match(await tab.locator('main').innerText(), /states no opinion on what a policy pays for/);
  assert.ok(await tab.locator('ol.disputes img').count() > 0, 'differences show their photos');
  const csv = await (await context.request.get(at('/beside/disputes.csv'))).text();
  assert.match(csv, /^number,outcome,place/);
  await close();
});

test('columns that are not recognised are named by hand', async () => {
  const { tab, close } = await as();
  const file = theirs(['Gutter|30|LF', 'Pipe boot|2|EA', 'Box vent|1|EA'].map((row) => row.replaceAll('|', ',')), 'Foo,Bar,Baz');
  await tab.goto(at('/beside'));
  await tab.getByText('Hand in a scope').click();
  await tab.setInputFiles('[name=file]', file);
  await tab.getByRole('button', { name: 'Look at it' }).click();
  await tab.waitForURL(/\/beside\/read/);
  await tab.selectOption('[name=head]', '1');
  await tab.getByRole('button', { name: 'Look again' }).click();
  await tab.waitForURL(/said=yes/);
  await tab.selectOption('[name=item]', '1');
  await tab.selectOption('[name=quantity]', '2');
  await tab.selectOption('[name=unit]', '3');
  await tab.getByRole('button', { name: 'Look again' }).click();
  await tab.waitForURL(/quantity=2/);
  assert.match(await tab.locator('main').innerText(), /3 rows are items/);
  await shot(tab, 'beside-columns-desk');
  const path = new URL(tab.url());
  await tab.getByRole('button', { name: 'Keep it and compare' }).click();
  await tab.waitForURL(/\/beside\?of=/);
  await tab.getByText('Strike this scope').click();
  await tab.locator('form[action$="/strike"] [name=reason]').fill('not this house');
  await tab.getByRole('button', { name: 'Strike it' }).click();
  await tab.waitForURL(/\/beside$/);
  await close();
  await sound(office, path.pathname + path.search, 'beside-read', { as: estimator });
});

test('the findings are taken as CSV', async () => {
  const { context, close } = await as();
  const answer = await context.request.get(at('/custody/findings.csv'));
  assert.equal(answer.status(), 200);
  const csv = await answer.text();
  assert.match(csv, /^number,place/);
  assert.ok(csv.split('\n').length > 30, csv);
  await close();
});

test('custody is looked through by person and kind', async () => {
  const { tab, close } = await as();
  await tab.goto(at('/custody'));
  assert.match(await tab.locator('main').innerText(), /Every entry is held by a signature/);
  await tab.selectOption('[name=kind]', 'finding');
  await tab.getByRole('button', { name: 'Show' }).click();
  await tab.waitForURL(/kind=finding/);
  const words = await tab.locator('#deeds ~ div tbody th').allInnerTexts();
  assert.ok(words.length > 5 && words.every((what) => what.includes('finding')), words.join());
  await close();
});

test('the crew does not see these pages', async () => {
  const crew = await office.person('crew', 'Tom Sill');
  const { tab, close } = await page(office, { as: crew, allow: [/403/] });
  for (const path of ['/scope', '/beside', '/custody', '/packets']) {
    assert.equal((await tab.goto(at(path))).status(), 403, path);
  }
  await close();
});
