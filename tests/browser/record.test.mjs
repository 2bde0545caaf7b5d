// Findings, open points, sides and slopes: what people at the office do with the record.
import { test, before, after } from 'node:test';
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { createServer } from 'node:http';
import { join } from 'node:path';
import { accessible, fits, page, PASSWORD, phoneOf, shot, SIZES, sound, startOffice } from './harness.mjs';

let office, job, estimator, second, crew;
const MARKUP = '"><img src=x onerror=alert(1)><script>alert(2)</script>\'&amp;';

before(async () => {
  office = await startOffice();
  [job] = await office.jobs();
  estimator = await office.person('estimator', 'Ines Calder');
  second = await office.person('estimator', 'Jonas Reed');
  crew = await office.person('crew', 'Pia Holt');
});
after(async () => office?.stop());

const at = (path) => `${office.url}/jobs/${job}${path}`;

const phone = (name, of) => phoneOf(office, name, of);

/** Where a finding with this address is changed. */
const own = (finding) => finding.replace('/findings/', '/records/finding/');

/** The address of the finding with these words in its name. */
async function finding(tab, words) {
  await tab.goto(at('/findings'));
  const href = await tab.locator('table.findings th a', { hasText: words }).first().getAttribute('href');
  return `${office.url}${href}`;
}

test('every page holds at both sizes, in the dark and without scripts', async () => {
  const { tab, close } = await page(office, { as: estimator });
  const one = (await finding(tab, 'Window screen, screens 1 and 3')).replace(office.url, '');
  await tab.goto(at('/sides'));
  const places = await tab.locator('#places tbody a').evaluateAll((all) => all.map((a) => a.getAttribute('href')));
  await close();
  const slope = places.find((path) => path.includes('/slope/'));
  const eaves = `/jobs/${job}/sides`;
  await sound(office, `/jobs/${job}/findings`, 'findings', { as: estimator });
  await sound(office, one, 'finding', { as: estimator });
  await sound(office, `${own(one)}/edit`, 'finding-edit', { as: estimator });
  await sound(office, `/jobs/${job}/records/finding/new`, 'finding-new', { as: estimator });
  await sound(office, `/jobs/${job}/open`, 'open', { as: estimator });
  await sound(office, `/jobs/${job}/open/ask`, 'ask', { as: estimator });
  await sound(office, eaves, 'sides', { as: estimator });
  await sound(office, slope, 'slope', { as: estimator });
  await sound(office, `/jobs/${job}/sides/elevation/left`, 'elevation', { as: estimator });
});

test('a selection of findings stands in the address and needs no script', async () => {
  for (const opts of [{ scripts: false, size: SIZES.phone }, {}]) {
    const { tab, close } = await page(office, { as: estimator, ...opts });
    await tab.goto(at('/findings'));
    const all = await tab.locator('table.findings tbody tr').count();
    assert.equal(all, 34, 'all of the demo, the struck one too');
    await tab.selectOption('[name=cause]', 'hail');
    await tab.selectOption('[name=place]', 'elevation/left');
    await tab.click('form.filter button');
    await tab.waitForURL(/cause=hail/);
    const rows = tab.locator('table.findings tbody tr');
    assert.equal(await rows.count(), 6);
    assert.match(await tab.locator('[role=status]').innerText(), /6 of 34 findings/);
    assert.equal(await tab.locator('[name=cause]').inputValue(), 'hail');
    await tab.getByRole('link', { name: 'Show all' }).click();
    await tab.waitForURL((url) => !url.search.includes('cause=hail'));
    assert.equal(await rows.count(), all);
    await tab.goto(at('/findings?who=nobody'));
    assert.match(await tab.locator('main').innerText(), /No finding is of this kind/);
    await close();
  }
});

test('a finding shows its standoff beside its close-ups, and who recorded it when', async () => {
  const { tab, close } = await page(office, { as: estimator });
  await tab.goto(await finding(tab, 'Window screen, screens 1 and 3'));
  const figures = await tab.locator('.pair > div').evaluateAll((all) => all.map((div) => div.innerText));
  assert.equal(figures.length, 2);
  assert.match(figures[0], /Standoff/);
  assert.match(figures[1], /Close-up/);
  for (const picture of await tab.locator('.pair img').all()) {
    assert.ok(await picture.evaluate((img) => img.decode().then(() => img.naturalWidth > 0)));
  }
  assert.match(await tab.locator('.deeds').innerText(), /Recorded[\s\S]*A photo of it/);
  await close();
});

test('a change at the page is in the history, and reaches a phone by sync', async () => {
  const rep = phone('phone-change');
  const { tab, close } = await page(office, { as: estimator, scripts: false, size: SIZES.phone });
  const one = await finding(tab, 'Fence board');
  await tab.goto(one);
  await tab.getByRole('link', { name: 'Edit', exact: true }).click();
  await tab.fill('[name=cause_reason]', 'Round marks on the windward faces alone.');
  await tab.fill('[name=units]', '9');
  await tab.selectOption('[name=severity]', 'cosmetic');
  await tab.click('form.narrow button.main');
  assert.match(await tab.locator('[role=status]').innerText(), /The change is recorded/);
  const history = await tab.locator('.deeds > li').last().innerText();
  assert.match(history, /Ines Calder \(estimator/);
  assert.match(history, /Units damaged: 8 → 9/);
  await close();
  rep.sync();
  const id = one.split('/').pop();
  const held = rep.run('show', job).record.records.findings[id].fields;
  assert.deepEqual([held.units, held.severity, held.cause_reason],
    [9, 'cosmetic', 'Round marks on the windward faces alone.']);
});

test('a finding is changed by keyboard alone', async () => {
  const { tab, close } = await page(office, { as: estimator });
  await tab.goto(await finding(tab, 'Downspout, left front'));
  const reach = async (wanted) => {
    for (let presses = 0; presses < 120; presses += 1) {
      await tab.keyboard.press('Tab');
      const here = await tab.evaluate(() => `${document.activeElement.innerText ?? ''}|${document.activeElement.name ?? ''}`);
      if (wanted.test(here)) return;
    }
    assert.fail(`the keyboard does not reach ${wanted}`);
  };
  await reach(/^Edit\|/);
  await tab.keyboard.press('Enter');
  await tab.waitForURL(/\/edit$/);
  await reach(/\|finish$/);
  await tab.keyboard.type('bare');
  await reach(/\|audience$/);
  await reach(/^Record\|/);
  await tab.keyboard.press('Enter');
  await tab.waitForURL(/done=changed/);
  assert.match(await tab.locator('.stated').first().innerText(), /Finish\s+bare/);
  await close();
});

test('what cannot be read is said beside its field and nothing typed is lost', async () => {
  const { tab, close } = await page(office, { as: estimator, allow: [/422/] });
  const one = await finding(tab, 'Mailbox');
  await tab.goto(`${own(one)}/edit`);
  await tab.fill('[name=units]', 'a few');
  await tab.fill('[name=height]', '46');
  await tab.fill('[name=text]', 'Kept words.');
  await tab.click('form.narrow button.main');
  assert.equal(await tab.locator('[aria-invalid=true]').count(), 2);
  assert.match(await tab.locator('#height-wrong').innerText(), /write 12' 6-1\/2"/);
  assert.equal(await tab.inputValue('[name=text]'), 'Kept words.');
  assert.equal(await tab.inputValue('[name=units]'), 'a few');
  await accessible(tab);
  await shot(tab, 'finding-wrong-desk');
  await tab.fill('[name=units]', '2');
  await tab.fill('[name=height]', '46 in');
  await tab.click('form.narrow button.main');
  // More than there are is the record's own refusal.
  assert.match(await tab.locator('#units-wrong').innerText(), /2 of 1 cannot be damaged/);
  await tab.fill('[name=units]', '1');
  await tab.click('form.narrow button.main');
  assert.match(await tab.locator('.stated').first().innerText(), /3' 10"/);
  await close();
});

test('two people change the same field: both values, and the person chooses', async () => {
  const one = await page(office, { as: estimator, allow: [/409/] });
  const two = await page(office, { as: second, size: SIZES.phone, scripts: false });
  const path = await finding(one.tab, 'Shed wall');
  for (const { tab } of [one, two]) await tab.goto(`${own(path)}/edit`);
  await two.tab.selectOption('[name=cause]', 'wind');
  await two.tab.click('form.narrow button.main');
  assert.match(await two.tab.locator('[role=status]').innerText(), /recorded/);
  await two.close();

  const { tab } = one;
  await tab.selectOption('[name=cause]', 'mechanical');
  await tab.fill('[name=cause_reason]', 'A ladder leaned here.');
  await tab.click('form.narrow button.main');
  const clash = tab.locator('fieldset.clash');
  assert.equal(await clash.count(), 1);
  const words = await clash.innerText();
  assert.match(words, /wind[\s\S]*Jonas Reed \(estimator[\s\S]*mechanical/);
  assert.equal(await tab.inputValue('[name=cause_reason]'), 'A ladder leaned here.');
  await accessible(tab);
  await fits(tab);
  await shot(tab, 'finding-clash-desk');
  // Sent again without a choice nothing is written either.
  await Promise.all([tab.waitForEvent('load'), tab.locator('form.narrow').evaluate((form) => form.submit())]);
  assert.equal(await tab.locator('fieldset.clash').count(), 1);
  await tab.check('[name=take-cause][value=theirs]');
  await tab.click('form.narrow button.main');
  const stated = await tab.locator('main').innerText();
  assert.match(stated, /Cause\s+wind/);
  assert.match(stated, /A ladder leaned here/);
  await one.close();
});

test('a finding is added once however often its form is sent, struck, and stands again', async () => {
  const { tab, close } = await page(office, { as: estimator, allow: [/422/] });
  await tab.goto(at('/records/finding/new'));
  await tab.click('form.narrow button.main');
  assert.equal(await tab.locator('[aria-invalid=true]').count(), 3, 'place, part, condition');
  await tab.selectOption('[name=place]', 'elevation/rear');
  await tab.selectOption('[name=component]', 'meter');
  await tab.selectOption('[name=condition]', 'damaged');
  await tab.fill('[name=text]', 'Glass of the meter cracked.');
  await tab.click('form.narrow button.main');
  const path = tab.url().split('?')[0];
  assert.match(await tab.locator('h2').first().innerText(), /Meter/);
  // The same form once more, as a second press or a browser that repeats it would send it.
  await tab.goto(at('/records/finding/new'));
  const form = { id: path.split('/').pop(), place: 'elevation/rear', component: 'meter', condition: 'damaged' };
  const again = await tab.request.post(at('/records/finding'), { form, headers: { 'sec-fetch-site': 'same-origin' } });
  assert.equal(again.status(), 200, 'it leads to the finding');
  await tab.goto(at('/findings?component=meter'));
  assert.equal(await tab.locator('table.findings tbody tr').count(), 1);
  await tab.goto(path);
  await tab.getByRole('button', { name: 'Keep it in the office' }).click();
  assert.match(await tab.locator('p.under').innerText(), /office only/);
  await tab.fill('#reason', 'The crack was a reflection.');
  await tab.getByRole('button', { name: 'Strike' }).click();
  assert.match(await tab.locator('main').innerText(), /Struck by Ines Calder[\s\S]*The crack was a reflection/);
  await tab.getByRole('button', { name: 'Reinstate' }).click();
  assert.equal(await tab.locator('h2.struck').count(), 0);
  await close();
});

test('markup in every text field is shown as text', async () => {
  const { tab, close } = await page(office, { as: estimator });
  await tab.goto(at('/records/finding/new'));
  await tab.selectOption('[name=place]', 'elevation/front');
  await tab.selectOption('[name=component]', 'chimney_cap');
  await tab.selectOption('[name=condition]', 'unsure');
  for (const name of ['unit_name', 'cause_reason', 'text']) await tab.fill(`[name=${name}]`, `${name} ${MARKUP}`);
  await tab.click('form.narrow button.main');
  const path = tab.url().split('?')[0];
  for (const name of ['unit_name', 'cause_reason', 'text']) {
    assert.ok((await tab.locator('main').innerText()).includes(`${name} ${MARKUP}`), name);
  }
  await tab.goto(`${own(path)}/edit`);
  assert.equal(await tab.inputValue('[name=text]'), `text ${MARKUP}`);
  await tab.goto(at(`/open/ask?about=finding/${path.split('/').pop()}`));
  await tab.fill('[name=text]', `question ${MARKUP}`);
  await tab.click('form.narrow button');
  assert.ok((await tab.locator('.asked').innerText()).includes(`question ${MARKUP}`));
  await tab.fill('.asked [name=text]', `answer ${MARKUP}`);
  await tab.getByRole('button', { name: 'Answer' }).click();
  assert.ok((await tab.locator('.answer').innerText()).includes(`answer ${MARKUP}`));
  await tab.fill('#reason', `reason ${MARKUP}`);
  await tab.getByRole('button', { name: 'Strike' }).click();
  assert.ok((await tab.locator('.note.warn').innerText()).includes(`reason ${MARKUP}`));
  for (const where of ['/findings', '/open', '/sides', '/sides/elevation/front', `/findings?who=${encodeURIComponent(MARKUP)}`]) {
    await tab.goto(at(where));
    assert.equal(await tab.locator('main img[src=x], main script').count(), 0, where);
  }
  await close();
});

test('a question asked in the browser reaches a phone, and its answer with a photo comes back', async () => {
  const rep = phone('phone-asked');
  const asking = await page(office, { as: estimator, scripts: false });
  const path = await finding(asking.tab, 'Chimney flashing');
  await asking.tab.goto(path);
  await asking.tab.getByRole('link', { name: 'Ask about this photo' }).first().click();
  assert.match(await asking.tab.locator('.subject').innerText(), /About: /);
  await asking.tab.fill('[name=text]', 'Is the step flashing behind it bent too?');
  await asking.tab.click('form.narrow button');
  assert.match(await asking.tab.locator('[role=status]').innerText(), /on its way/);
  assert.match(await asking.tab.locator('#questions').innerText(), /waiting for an answer/);
  await shot(asking.tab, 'open-asked-desk');
  await asking.close();

  assert.deepEqual(rep.run('questions', job), []);
  rep.sync();
  const [asked] = rep.run('questions', job).filter((one) => one.text.startsWith('Is the step'));
  assert.equal(asked.by, 'Ines Calder');
  assert.match(asked.about, /^photo\//);
  const picture = join(office.folder, 'answer.jpg');
  const originals = execFileSync('find', [join(rep.folder, 'photos'), '-type', 'f', '-size', '+20k'], { encoding: 'utf8' });
  // Any picture of the phone with another tail is a new file: JPEG readers pass over what follows its end.
  execFileSync('sh', ['-c', `cat "$1" > "$2"; printf x >> "$2"`, 'sh', originals.split('\n')[0], picture]);
  rep.run('answer', job, asked.question, '--text', 'No, it is straight.', '--photo', picture);
  rep.sync();

  const { tab, close } = await page(office, { as: estimator });
  await tab.goto(at('/open'));
  const card = tab.locator('.asked', { hasText: 'Is the step flashing' });
  const words = await card.innerText();
  assert.match(words, /answered/);
  assert.match(words, /No, it is straight[\s\S]*Wren Halloran/);
  assert.ok(await card.locator('.answer img').evaluate((img) => img.decode().then(() => img.naturalWidth > 0)));
  await shot(tab, 'open-answered-desk');
  await close();
});

test('somebody of the crew answers at the page and cannot ask, change or settle', async () => {
  const asking = await page(office, { as: estimator });
  await asking.tab.goto(at('/open/ask?about=elevation/rear'));
  await asking.tab.fill('[name=text]', 'How high is the rear eave?');
  await asking.tab.click('form.narrow button');
  await asking.close();
  const { tab, close } = await page(office, { as: crew, size: SIZES.phone, scripts: false, allow: [/403/] });
  const seen = await tab.goto(at('/open'));
  assert.equal(seen.status(), 200, 'the crew sees a job that nobody is assigned to');
  const card = tab.locator('.asked', { hasText: 'How high is the rear eave' });
  await card.locator('[name=text]').fill('Nine feet by tape.');
  await card.getByRole('button', { name: 'Answer' }).click();
  assert.match(await tab.locator('main').innerText(), /Nine feet by tape[\s\S]*Pia Holt \(crew/);
  assert.equal(await tab.getByRole('link', { name: 'Ask the crew' }).count(), 0);
  await tab.goto(at('/findings'));
  assert.equal(await tab.getByRole('link', { name: 'Add a finding' }).count(), 0);
  const refused = await tab.goto(at('/records/finding/new'));
  assert.equal(refused.status(), 403);
  await close();
});

test('what two phones stated apart is shown side by side and settled once', async () => {
  const [rep, helper] = [phone('phone-left'), phone('phone-right', 'helper')];
  const held = rep.run('show', job).record.records.findings;
  const [id] = Object.entries(held).find(([, one]) => one.fields.component === 'ridge_vent');
  const { writeFileSync } = await import('node:fs');
  for (const [device, cause] of [[rep, 'hail'], [helper, 'wear_or_age']]) {
    const file = join(device.folder, 'say.json');
    writeFileSync(file, JSON.stringify([{ amend: { id, set: { finding: { cause } } } }]));
    device.run('record', job, file);
  }
  rep.sync();
  helper.sync();
  const one = await page(office, { as: estimator });
  const two = await page(office, { as: second, allow: [/409/] });
  for (const { tab } of [one, two]) await tab.goto(at('/open'));
  const card = (tab) => tab.locator('#settle article');
  const words = await card(one.tab).innerText();
  assert.match(words, /Cause[\s\S]*Ridge vent/);
  assert.match(words, /Wren Halloran/);
  assert.match(words, /Tobias Quill/);
  await accessible(one.tab);
  await shot(one.tab, 'open-conflict-desk');
  await one.tab.goto(at(`/findings/${id}`));
  assert.match(await one.tab.locator('main').innerText(), /Two people stated differently: Cause/);
  await one.tab.goto(at(`/records/finding/${id}/edit`));
  assert.equal(await one.tab.locator('[name=cause]').count(), 0, 'settled elsewhere');
  await one.tab.goto(at('/open'));
  await card(one.tab).locator('.statements > div', { hasText: 'wear or age' }).getByRole('button').click();
  assert.match(await one.tab.locator('[role=status]').innerText(), /It is settled/);
  await one.close();
  await card(two.tab).locator('.statements > div', { hasText: 'hail' }).getByRole('button').click();
  const late = await two.tab.locator('[role=alert]').innerText();
  assert.match(late, /Nothing was written[\s\S]*wear or age[\s\S]*Ines Calder/);
  await shot(two.tab, 'open-settled-late-desk');
  await two.close();
  rep.sync();
  assert.equal(rep.run('show', job).record.records.findings[id].fields.cause, 'wear_or_age');
});

test('a sign-in that ended in mid edit loses nothing that was typed', async () => {
  for (const [n, opts] of [{ scripts: false, size: SIZES.phone }, {}].entries()) {
    const { tab, close } = await page(office, { as: estimator, ...opts, allow: [/401/] });
    const path = await finding(tab, 'Condenser');
    await tab.goto(`${own(path)}/edit`);
    await tab.context().clearCookies();
    const words = `Fins bent, "left" & front, ${n} <b>\nsecond line`;
    await tab.fill('[name=text]', words);
    await tab.click('form.narrow button.main');
    assert.match(await tab.locator('h1').innerText(), /signed out meanwhile/);
    assert.ok((await tab.locator('.said').allInnerTexts()).some((said) => said.includes('<b>\nsecond line')));
    await fits(tab);
    if (n === 1) await accessible(tab);
    await shot(tab, `signed-out-${n ? 'desk' : 'phone'}`);
    await tab.fill('[name=sign-in-login]', 'Ines Calder');
    await tab.fill('[name=sign-in-password]', 'not the right words');
    await tab.click('main button.main');
    assert.match(await tab.locator('[role=alert]').innerText(), /do not go together/);
    await tab.fill('[name=sign-in-password]', PASSWORD);
    await tab.click('main button.main');
    assert.equal(tab.url().split('?')[0], path);
    assert.ok((await tab.locator('p.said').first().innerText()).includes(`${n} <b>\nsecond line`));
    // And the person is signed in from here on.
    await tab.goto(at('/open'));
    assert.match(await tab.locator('h2').first().innerText(), /Open points/);
    await close();
  }
});

test("another site's form changes nothing, and paths of tricks lead nowhere", async () => {
  const { tab, close } = await page(office, { as: estimator, allow: [/403/, /404/, /400/, /asked for/] });
  const path = await finding(tab, 'Gutter');
  const elsewhere = createServer((_, answer) => {
    answer.setHeader('content-type', 'text/html');
    answer.end(`<!doctype html><title>x</title><form method=post action="${own(path)}/strike"><input name=reason value=x></form>
      <script>document.forms[0].submit()</script>`);
  });
  await new Promise((resolve) => elsewhere.listen(0, '127.0.0.1', resolve));
  for (const host of ['127.0.0.1', 'localhost']) {
    await tab.goto(`http://${host}:${elsewhere.address().port}/`);
    await tab.waitForURL(`${own(path)}/strike`);
    assert.match(await tab.locator('h1').innerText(), /Not from this page|Signed out|Sign in/);
  }
  elsewhere.close();
  await tab.goto(path);
  assert.equal(await tab.locator('h2.struck').count(), 0, 'it still stands');
  for (const trick of ['/findings/..%2f..%2faudit', '/findings/%2e%2e%2f', '/findings/a%00b', '/sides/slope/..%2f..',
    '/sides/photo/front', '/sides/elevation/%3Cscript%3E', '/findings/%ff', '/sides/elevation/nowhere']) {
    const answer = await tab.request.get(at(trick), { maxRedirects: 0 });
    assert.ok([400, 404].includes(answer.status()), `${trick}: ${answer.status()}`);
  }
  await close();
});

test('the sides show counts, pitches beside the report, layers, intervals, hits and storms', async () => {
  const { tab, close } = await page(office, { as: estimator });
  await tab.goto(at('/sides'));
  const words = (selector) => tab.locator(selector).innerText();
  assert.match(await words('#pitch'), /7\/12 by pitch gauge[\s\S]*1 in 12 apart/);
  assert.match(await words('#layers'), /Felt|felt/);
  assert.match(await words('#layers'), /could not see/);
  assert.match(await words('#squares'), /12\s[\s\S]*95 %/);
  assert.equal(await tab.locator('#hits svg[role=img]').count(), 1);
  assert.match(await words('#hits'), /The counts fit hail driven from the south/);
  assert.equal(await tab.locator('#storms svg[role=img]').count(), 1);
  assert.equal(await tab.locator('#storms tbody tr').count(), 5);
  // Garwood's exact interval for 12 events, as published for 95 %: 6.201 to 20.962.
  assert.match(await words('#squares'), /6\.2 to 21\.0/);
  await close();
});
