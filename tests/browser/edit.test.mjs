// Changing the record at the pages beyond findings: parts, measures, test squares and hits, layers,
// places, photos and the marks on them, the house itself, and taking back a question.
import { test, before, after } from 'node:test';
import assert from 'node:assert/strict';
import { accessible, fits, page, phoneOf, shot, SIZES, sound, startOffice } from './harness.mjs';

let office, job, estimator, second, crew;
const MARKUP = '"><img src=x onerror=alert(1)><script>alert(2)</script>\'&amp;';
/** Every deed is done by one of two people at different screens. */
const BOTH = [{ scripts: false, size: SIZES.phone }, {}];

before(async () => {
  office = await startOffice();
  [job] = await office.jobs();
  estimator = await office.person('estimator', 'Ines Calder');
  second = await office.person('estimator', 'Jonas Reed');
  crew = await office.person('crew', 'Pia Holt');
});
after(async () => office?.stop());

const at = (path) => `${office.url}/jobs/${job}${path}`;
const record = (tab) => tab.locator('form.narrow button.main').click();
const stated = (tab) => tab.locator('.stated').first().innerText();
const main = (tab) => tab.locator('main').innerText();

/** The demo's phone; `records` are those it has once it met the office. */
function phone(name, of) {
  const own = phoneOf(office, name, of);
  return { ...own, records: () => { own.sync(); return own.run('show', job).record.records; } };
}

/** The addresses of the places of one kind. */
async function places(tab, kind) {
  await tab.goto(at('/sides'));
  const all = await tab.locator('#places tbody a').evaluateAll((links) => links.map((a) => a.getAttribute('href')));
  return all.filter((href) => href.includes(`/sides/${kind}/`)).map((href) => href.split(`/jobs/${job}`)[1]);
}

/** The first record that a table with this label leads to. */
async function first(tab, place, label) {
  await tab.goto(at(place));
  const href = await tab.locator(`[aria-label="${label}"] tbody a[href*="/records/"]`).first().getAttribute('href');
  return href.split(`/jobs/${job}`)[1];
}

test('every page of a record holds at both sizes, in the dark and without scripts', async () => {
  const { tab, close } = await page(office, { as: estimator });
  const [slope] = await places(tab, 'slope');
  const part = await first(tab, '/sides/elevation/front', 'Table of parts');
  const square = await first(tab, '/sides', 'Table of test squares');
  await tab.goto(at('/walk'));
  const photo = await tab.locator('.picture-facts a[href*="/records/photo/"]').getAttribute('href');
  await close();
  const own = (path, name) => sound(office, `/jobs/${job}${path}`, name, { as: estimator });
  await own(part, 'part');
  await own(`${part}/edit`, 'part-edit');
  await own(square, 'square');
  await own('/records/test_square/new', 'square-new');
  await own(slope.replace('/sides/', '/records/'), 'slope-record');
  await own(`${slope.replace('/sides/', '/records/')}/edit`, 'slope-edit');
  await own('/records/eave_opening/new', 'eave-new');
  await own('/records/property/house/edit', 'house-edit');
  const id = photo.split('/').pop();
  await own(`/records/photo/${id}`, 'photo');
  await own(`/marks/${id}`, 'marks');
});

test('a part is added, changed and struck with a reason, and a phone has it all', async () => {
  const rep = phone('phone-parts');
  for (const [n, opts] of BOTH.entries()) {
    const { tab, close } = await page(office, { as: estimator, ...opts, allow: [/422/] });
    await tab.goto(at('/sides/elevation/rear'));
    await tab.getByRole('link', { name: 'Add a part' }).click();
    assert.equal(await tab.inputValue('[name=place]'), 'elevation/rear', 'it is added where one stood');
    await record(tab);
    assert.equal(await tab.locator('#component-wrong').count(), 1);
    await tab.selectOption('[name=component]', 'downspout');
    await tab.fill('[name=count]', 'two');
    await tab.fill('[name=details]', `3 by 4 in ${MARKUP}`);
    await record(tab);
    assert.equal(await tab.inputValue('[name=count]'), 'two', 'what was typed is kept');
    await tab.fill('[name=count]', '2');
    await record(tab);
    assert.match(await tab.locator('[role=status]').innerText(), /It is recorded/);
    assert.ok((await main(tab)).includes(`3 by 4 in ${MARKUP}`));
    await tab.getByRole('link', { name: 'Edit', exact: true }).click();
    await tab.fill('[name=count]', '3');
    await tab.selectOption('[name=condition]', 'cleared');
    await record(tab);
    assert.match(await stated(tab), /How many there are\s+3/);
    assert.match(await tab.locator('.deeds > li').last().innerText(), /Ines Calder \(estimator[\s\S]*2 → 3/);
    const id = tab.url().split('/').pop().split('?')[0];
    await tab.fill('#reason', 'Counted on the wrong side.');
    await tab.getByRole('button', { name: 'Strike' }).click();
    assert.match(await main(tab), /Struck by Ines Calder[\s\S]*Counted on the wrong side/);
    assert.equal(await tab.getByRole('link', { name: 'Edit', exact: true }).count(), 0);
    let held = rep.records().components[id];
    assert.deepEqual([held.fields.count, held.struck.reason], [3, 'Counted on the wrong side.']);
    await tab.getByRole('button', { name: 'Reinstate' }).click();
    assert.equal(await tab.locator('h2.struck').count(), 0);
    held = rep.records().components[id];
    assert.equal(held.struck, undefined);
    await tab.goto(at('/sides/elevation/rear'));
    assert.equal(await tab.locator(`[aria-label="Table of parts"] a[href$="${id}"]`).count(), 1);
    if (n === 1) await shot(tab, 'elevation-parts-desk');
    await close();
  }
});

test('two people change one part: both values, and nothing of either is lost', async () => {
  const one = await page(office, { as: estimator, allow: [/409/] });
  const two = await page(office, { as: second, size: SIZES.phone, scripts: false });
  const part = await first(one.tab, '/sides/elevation/left', 'Table of parts');
  for (const { tab } of [one, two]) await tab.goto(at(`${part}/edit`));
  await two.tab.fill('[name=length]', "31' 6\"");
  await record(two.tab);
  assert.match(await two.tab.locator('[role=status]').innerText(), /The change is recorded/);
  await two.close();
  const { tab } = one;
  await tab.fill('[name=length]', '32 ft');
  await tab.fill('[name=details]', 'Half-round.');
  await record(tab);
  assert.match(await tab.locator('fieldset.clash').innerText(), /31' 6"[\s\S]*Jonas Reed \(estimator[\s\S]*32 ft/);
  assert.equal(await tab.inputValue('[name=details]'), 'Half-round.');
  await accessible(tab);
  await shot(tab, 'part-clash-desk');
  await tab.check('[name=take-length][value=mine]');
  await record(tab);
  assert.match(await stated(tab), /Length or width\s+32'/);
  assert.match(await stated(tab), /Half-round/);
  await one.close();
});

test('a measure is a pitch or a length, and says how it was taken', async () => {
  const { tab, close } = await page(office, { as: estimator, allow: [/422/] });
  const [slope] = await places(tab, 'slope');
  await tab.goto(at(slope));
  await tab.getByRole('link', { name: 'Add a measure' }).click();
  await tab.selectOption('[name=of]', 'pitch');
  await tab.fill('[name=length]', '6 in');
  await tab.selectOption('[name=method]', 'phone');
  await record(tab);
  assert.match(await tab.locator('#pitch-wrong').innerText(), /State the pitch/);
  await tab.fill('[name=pitch]', '6.5/12');
  await record(tab);
  assert.match(await tab.locator('#length-wrong').innerText(), /A pitch has no length/);
  await tab.fill('[name=length]', '');
  await record(tab);
  assert.match(await stated(tab), /Pitch\s+6.5\/12/);
  await tab.goto(at('/sides'));
  assert.match(await tab.locator('#pitch').innerText(), /6.5\/12 by phone inclinometer/);
  await close();
});

test('hits are counted in one\'s own name, added to the crew\'s, and a square can be struck', async () => {
  const rep = phone('phone-squares');
  for (const opts of BOTH) {
    const { tab, close } = await page(office, { as: estimator, ...opts, allow: [/422/] });
    const [slope] = await places(tab, 'slope');
    await tab.goto(at(slope));
    await tab.getByRole('link', { name: 'Add a test square' }).click();
    await tab.selectOption('[name=placement]', 'random');
    await tab.fill('[name=width]', '10 ft');
    await tab.fill('[name=hits]', '5');
    await record(tab);
    assert.match(await tab.locator('#height-wrong').innerText(), /both sides/);
    assert.equal(await tab.inputValue('[name=hits]'), '5');
    await tab.fill('[name=height]', '10 ft');
    await record(tab);
    assert.match(await stated(tab), /Hits counted\s+5 by Ines Calder/);
    const id = tab.url().split('/').pop().split('?')[0];
    await tab.locator('details[open] [name=hits]').fill('7');
    await tab.getByRole('button', { name: 'Record the count' }).click();
    assert.match(await stated(tab), /Hits counted\s+7 by Ines Calder/);
    await tab.goto(at('/sides'));
    assert.equal(await tab.locator(`#squares a[href$="${id}"]`).count(), 1);
    const held = rep.records().test_squares[id];
    assert.deepEqual(Object.values(held.tally), [7]);
    // The crew's own square keeps the crew's count beside the office's.
    const square = await first(tab, '/sides', 'Table of test squares');
    assert.ok(!square.endsWith(id));
    await tab.goto(at(`/records/test_square/${id}`));
    await tab.fill('#reason', 'Counted from photos alone.');
    await tab.getByRole('button', { name: 'Strike' }).click();
    assert.match(await main(tab), /Struck by Ines Calder/);
    await tab.goto(at('/sides'));
    assert.equal(await tab.locator(`#squares a[href$="${id}"]`).count(), 0);
    await tab.goto(at(slope));
    assert.match(await main(tab), /struck: Counted from photos alone/);
    await close();
  }
  const { tab, close } = await page(office, { as: estimator });
  const square = await first(tab, '/sides', 'Table of test squares');
  await tab.goto(at(square));
  const before = Number((await stated(tab)).match(/Hits counted\s+(\d+) by/)[1]);
  await tab.locator('summary', { hasText: 'counted yourself' }).click();
  await tab.locator('[name=hits]').fill('2');
  await tab.getByRole('button', { name: 'Record the count' }).click();
  const words = await stated(tab);
  assert.match(words, new RegExp(`${before} by (?!Ines)`), 'the crew\'s count stands');
  assert.match(words, /2 by Ines Calder/);
  await close();
});

test('layers at an eave are stated with how well they are known', async () => {
  const { tab, close } = await page(office, { as: estimator });
  const [slope] = await places(tab, 'slope');
  await tab.goto(at(slope));
  await tab.getByRole('link', { name: 'Add an eave opening' }).click();
  await tab.selectOption('[name=underlayment]', { label: '15 lb felt, inferred' });
  await tab.selectOption('[name=ice_barrier]', { label: 'none, seen absent' });
  await tab.selectOption('[name=beside_valley]', 'no');
  await record(tab);
  assert.match(await stated(tab), /Underlayment\s+15 lb felt, inferred/);
  await tab.getByRole('link', { name: 'Edit', exact: true }).click();
  await tab.selectOption('[name=underlayment]', { label: '30 lb felt, seen' });
  await record(tab);
  assert.match(await stated(tab), /Underlayment\s+30 lb felt, seen/);
  await tab.goto(at('/sides'));
  assert.match(await tab.locator('#layers').innerText(), /30 lb felt/);
  await close();
});

test('places, the house and its owner are put right; the four sides stay', async () => {
  const rep = phone('phone-places');
  const { tab, close } = await page(office, { as: estimator, allow: [/422/, /409/] });
  await tab.goto(at('/sides/elevation/front'));
  await tab.getByRole('link', { name: 'Edit', exact: true }).click();
  await tab.fill('[name=bearing]', '400');
  await record(tab);
  assert.match(await tab.locator('#bearing-wrong').innerText(), /0 to 360/);
  await tab.fill('[name=bearing]', '181.5');
  await record(tab);
  assert.match(await stated(tab), /Faces\s+181.5/);
  assert.equal(await tab.getByRole('button', { name: 'Strike' }).count(), 0);
  const struck = await tab.request.post(at('/records/elevation/front/strike'), {
    form: { reason: 'x' }, headers: { 'sec-fetch-site': 'same-origin' } });
  assert.equal(struck.status(), 409);
  await tab.goto(at('/sides'));
  await tab.getByRole('link', { name: 'A structure' }).click();
  await tab.selectOption('[name=kind]', 'shed');
  await tab.fill('[name=name]', 'tool shed');
  await record(tab);
  assert.match(await tab.locator('h2').first().innerText(), /Tool shed/);
  await tab.goto(at(''));
  await tab.getByRole('link', { name: 'Edit property' }).click();
  await tab.fill('[name=owner_phone]', '555 0142');
  await tab.fill('[name=time_zone]', 'Nowhere/Here');
  await record(tab);
  assert.match(await tab.locator('#time_zone-wrong').innerText(), /No such time zone/);
  await tab.fill('[name=time_zone]', 'America/Denver');
  await record(tab);
  assert.match(await stated(tab), /Telephone\s+555 0142/);
  await close();
  const held = rep.records();
  assert.equal(held.properties.house.fields.owner_phone, '555 0142');
  assert.equal(held.elevations.front.fields.bearing, 181.5);
  assert.equal(Object.values(held.structures).filter((one) => one.fields.name === 'tool shed').length, 1);
});

test('marks are drawn beside a photo, by number or by hand, and shown over it everywhere', async () => {
  const rep = phone('phone-marks');
  const { tab, close } = await page(office, { as: estimator, scripts: false, size: SIZES.phone, allow: [/422/] });
  await tab.goto(at('/findings?component=screen'));
  await tab.locator('table.findings th a').first().click();
  const finding = tab.url();
  await tab.getByRole('link', { name: 'Edit its words and marks' }).last().click();
  const id = tab.url().split('/').pop();
  await tab.getByRole('link', { name: 'Draw marks on it' }).click();
  const row = (n) => tab.locator('[data-mark]').nth(n);
  await row(0).locator('[name=kind]').selectOption('ring');
  await row(0).locator('[name=x]').fill('40');
  await row(0).locator('[name=y]').fill('lots');
  await tab.locator('[data-marks-form] button.main').click();
  assert.match(await tab.locator('[role=alert]').innerText(), /Mark 1: write a number from 0 to 100 from the top/);
  assert.equal(await row(0).locator('[name=x]').inputValue(), '40');
  await row(0).locator('[name=y]').fill('55.5');
  await row(0).locator('[name=size]').fill('6');
  await tab.locator('[data-marks-form] button.main').click();
  assert.match(await tab.locator('[role=status]').innerText(), /marks are recorded/);
  assert.equal(await tab.locator('.marked svg.marks circle.ring').count(), 1);
  await close();

  const hand = await page(office, { as: estimator });
  await hand.tab.goto(at(`/marks/${id}`));
  await hand.tab.locator('[data-draw] img').evaluate((img) => img.decode());
  const box = await hand.tab.locator('[data-draw]').boundingBox();
  await hand.tab.mouse.move(box.x + box.width * 0.7, box.y + box.height * 0.2);
  await hand.tab.mouse.down();
  await hand.tab.mouse.move(box.x + box.width * 0.42, box.y + box.height * 0.5);
  await hand.tab.mouse.up();
  await hand.tab.mouse.click(box.x + box.width * 0.25, box.y + box.height * 0.75);
  assert.equal(await hand.tab.locator('[data-draw] circle.ring').count(), 2);
  assert.equal(await hand.tab.locator('[data-draw] line').count(), 1);
  await accessible(hand.tab);
  await fits(hand.tab);
  await shot(hand.tab, 'marks-drawn-desk');
  await hand.tab.locator('[data-marks-form] button.main').click();
  assert.match(await hand.tab.locator('[role=status]').innerText(), /marks are recorded/);
  await hand.tab.goto(finding);
  assert.equal(await hand.tab.locator('.pair svg.marks circle.ring').count(), 2);
  await shot(hand.tab, 'finding-marked-desk');
  await hand.tab.goto(at(`/walk/${id}`));
  const stage = hand.tab.locator('.stage');
  assert.equal(await stage.locator('svg.marks circle.ring').count(), 2);
  // The ring lies where it was put: its middle over the picture's, to a pixel or two.
  const [ring, picture] = [await stage.locator('circle.ring').first().boundingBox(), await stage.locator('.picture').boundingBox()];
  assert.ok(Math.abs(ring.x + ring.width / 2 - picture.x - picture.width * 0.4) < 3);
  assert.ok(Math.abs(ring.y + ring.height / 2 - picture.y - picture.height * 0.555) < 3);
  assert.ok(Math.abs(ring.width - ring.height) < 1, 'a ring is round');
  await shot(hand.tab, 'walk-marked-desk');
  await hand.close();
  const small = await page(office, { as: estimator, size: SIZES.phone });
  await small.tab.goto(at(`/walk/${id}`));
  await small.tab.locator('.stage img').last().evaluate((img) => img.decode());
  await fits(small.tab);
  await shot(small.tab, 'walk-marked-phone');
  await small.tab.goto(finding);
  await shot(small.tab, 'finding-marked-phone');
  await small.close();
  const held = rep.records().photos[id];
  assert.ok(held.fields.marks, 'a phone has the marks');
});

test('two people draw on one photo, and both drawings can be kept', async () => {
  const one = await page(office, { as: estimator, allow: [/409/] });
  const two = await page(office, { as: second, scripts: false, size: SIZES.phone });
  await one.tab.goto(at('/walk'));
  const href = await one.tab.locator('.picture-facts a[href*="/marks/"]').getAttribute('href');
  const ring = async (tab, x, y) => {
    // Another free row stands below as soon as this one is used.
    const row = tab.locator('[data-mark]').nth(await tab.locator('[data-mark]').count() - 1);
    await row.locator('[name=kind]').selectOption('ring');
    await row.locator('[name=x]').fill(x);
    await row.locator('[name=y]').fill(y);
  };
  for (const { tab } of [one, two]) await tab.goto(`${office.url}${href}`);
  await ring(two.tab, '10', '10');
  await two.tab.locator('[data-marks-form] button.main').click();
  await two.close();
  await ring(one.tab, '80', '20');
  await one.tab.locator('[data-marks-form] button.main').click();
  assert.match(await one.tab.locator('[role=alert]').innerText(), /Somebody changed the marks[\s\S]*1 ring/);
  await shot(one.tab, 'marks-clash-desk');
  await one.tab.getByRole('button', { name: 'Record both' }).click();
  assert.match(await one.tab.locator('[role=status]').innerText(), /marks are recorded/);
  assert.equal(await one.tab.locator('.marked circle.ring').count(), 2);
  await one.close();
});

test('a question is taken back with a reason, and leaves the phones\' lists', async () => {
  const rep = phone('phone-question');
  for (const [n, opts] of BOTH.entries()) {
    const words = `Is the vent cap loose? ${n}`;
    const { tab, close } = await page(office, { as: estimator, ...opts, allow: [/422/] });
    await tab.goto(at('/open/ask'));
    await tab.fill('[name=text]', words);
    await tab.click('form.narrow button');
    rep.sync();
    assert.ok(rep.run('questions', job).some((asked) => asked.text === words));
    const card = tab.locator('.asked', { hasText: words });
    await card.locator('summary', { hasText: 'Withdraw' }).click();
    await card.locator('[name=reason]').fill('Seen on photo 12.');
    if (n === 1) await accessible(tab);
    await shot(tab, `open-withdraw-${n ? 'desk' : 'phone'}`);
    await card.getByRole('button', { name: 'Withdraw' }).click();
    assert.match(await tab.locator('[role=status]').innerText(), /withdrawn/);
    assert.equal(await card.count(), 0);
    await tab.locator('summary', { hasText: /withdrawn/ }).click();
    assert.match(await tab.locator('#questions').innerText(), /Seen on photo 12[\s\S]*Ines Calder/);
    rep.sync();
    assert.ok(!rep.run('questions', job).some((asked) => asked.text === words));
    await tab.getByRole('link', { name: words }).click();
    assert.match(await main(tab), /Struck by Ines Calder/);
    await close();
  }
});

test('the crew sees records and changes none, and strange addresses lead nowhere', async () => {
  const { tab, close } = await page(office, { as: crew, allow: [/403/, /404/] });
  const part = await first(tab, '/sides/elevation/front', 'Table of parts');
  const seen = await tab.goto(at(part));
  assert.equal(seen.status(), 200);
  assert.equal(await tab.locator('main form[action*="/records/"]').count(), 0);
  assert.equal((await tab.goto(at(`${part}/edit`))).status(), 403);
  const posted = await tab.request.post(at(part), { form: { count: '1' }, headers: { 'sec-fetch-site': 'same-origin' } });
  assert.equal(posted.status(), 403);
  await close();
  const office2 = await page(office, { as: estimator, allow: [/404/] });
  for (const path of ['/records/nothing/new', '/records/visit/new', '/records/question/new', '/records/photo/new',
    '/records/component/01J00000000000000000000009', '/records/component/..%2f..', '/records/slope/%3Cscript%3E', '/marks/front']) {
    assert.equal((await office2.tab.goto(at(path))).status(), 404, path);
  }
  await office2.close();
});
