// The crew's page in real Chromium as a phone: the visit, the loss of everything around it, and
// that nothing acknowledged is ever lost.
import { test as tried, before, after } from 'node:test';
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { accessible, fits, launch, shot, startOffice } from './harness.mjs';
import { ask, begun, enrolled, fieldAt, kept, linked, native, phone, settled, until, watch } from './field.mjs';

/** No test runs longer than this, on a machine with much else to do. */
const test = (name, body) => tried(name, { timeout: 180_000 }, body);

let office;
const pictures = join(import.meta.dirname, '../../fixtures/photos');
const jpeg = (n) => join(pictures, readdirSync(pictures).filter((name) => name.endsWith('.jpg')).sort()[n]);
before(async () => { office = await startOffice({ empty: true }); });
after(async () => office?.stop());

const part = (tab, name) => tab.locator('.part', { hasText: name }).first();
const saved = (tab) => tab.locator('.toast', { hasText: 'kept on this phone' }).waitFor();

async function sound(tab, name) {
  await accessible(tab);
  await fits(tab);
  await shot(tab, `field-${name}`);
}

test('a visit by two, one-handed: enrol, walk, find, prove, check, recap', async () => {
  const rep = await enrolled(office, 'Rosa');
  await sound(rep.tab, 'jobs');
  const job = await begun(rep.tab);
  await sound(rep.tab, 'house');

  await rep.tab.click('.plan a[href$="elevation/front"]');
  await rep.tab.getByText('Overview of the whole side').waitFor();
  await rep.tab.setInputFiles('input[capture]', jpeg(0));
  await rep.tab.getByText('Another overview').waitFor();
  // Cleared is one tap.
  await part(rep.tab, 'downspout').getByLabel('cleared').click();
  await saved(rep.tab);
  await rep.tab.locator('[aria-label="downspout: cleared"][aria-pressed=true]').waitFor();
  await sound(rep.tab, 'side');
  // A finding: two taps, then its pair.
  await part(rep.tab, 'window screen').getByLabel('damage').click();
  await sound(rep.tab, 'cause');
  await rep.tab.locator('.big button', { hasText: 'hail' }).click();
  await rep.tab.locator('.slot', { hasText: '1 · far' }).waitFor();
  await rep.tab.locator('label', { hasText: 'Far: where it is' }).locator('input').setInputFiles(jpeg(1));
  await rep.tab.locator('.slot.full').first().waitFor();
  await rep.tab.locator('label', { hasText: 'Near: what it is' }).locator('input').setInputFiles(jpeg(2));
  await rep.tab.locator('.slot.full').nth(1).waitFor();
  for (const _ of [1, 2, 3]) await rep.tab.getByLabel('one more: Hits that you count').click();
  await rep.tab.locator('.stepper output', { hasText: '3' }).first().waitFor();
  for (const _ of [1, 2]) await rep.tab.getByLabel('one more: Of how many').click();
  await rep.tab.getByLabel('one more: Damaged').click();
  await rep.tab.getByText('round marks, no scrape').click();
  await rep.tab.locator('[aria-pressed=true]', { hasText: 'round marks' }).waitFor();
  await sound(rep.tab, 'finding');
  const found = await ask(rep.tab, 'place', job, 'elevation/front');
  assert.equal(found.findings[0].my_hits, 3);
  assert.deepEqual([found.findings[0].fields.units, found.findings[0].fields.units_total], [1, 2]);
  assert.deepEqual(found.photos.map((photo) => photo.fields.role).sort(), ['close_up', 'overview', 'standoff']);

  // The last tap is taken back, and stays in the record.
  await rep.tab.goto(`${fieldAt(office)}#/job/${job}/place/elevation/front`);
  await part(rep.tab, 'fascia').getByLabel('cleared').click();
  await saved(rep.tab);
  await rep.tab.click('.bar .undo');
  await until('the part is struck', async () => (await ask(rep.tab, 'place', job, 'elevation/front')).parts.some((one) => one.fields.component === 'fascia' && one.struck));

  for (const [screen, name] of [['check', 'check'], ['recap', 'recap'], ['safe', 'safe'], ['owner', 'owner'], ['settle', 'settle']]) {
    await rep.tab.goto(`${fieldAt(office)}#/job/${job}/${screen}`);
    await rep.tab.waitForTimeout(400);
    await sound(rep.tab, name);
  }
  // Each open point leads to where it is settled: a screen of its own, or a step of the visit.
  await rep.tab.goto(`${fieldAt(office)}#/job/${job}/check`);
  await rep.tab.locator('a.row').first().waitFor();
  const points = await rep.tab.locator('a.row').evaluateAll((all) => all.map((a) => [a.getAttribute('href'), a.innerText.split('\n')[0]]));
  assert.ok(points.length > 15);
  const leads = new Map(points.map(([href, words]) => [words, href.split(job)[1]]));
  for (const [words, href] of leads) assert.match(href, /^\/(place|finding|photo|owner|recap|settle|safe|step)/, `nothing leads to: ${words}`);
  assert.equal(leads.get('The right elevation was not walked.'), '/place/elevation/right');
  assert.equal(leads.get('No eave opening was recorded.'), '/step/eave');
  assert.equal(leads.get('The owner was not interviewed.'), '/owner');
  assert.equal(leads.get('Nobody signed that the visit took place.'), '/recap');
  await rep.tab.locator('a.row', { hasText: 'No eave opening' }).click();
  await rep.tab.waitForFunction(() => { const at = document.querySelector('#step-eave')?.getBoundingClientRect().top; return at !== undefined && Math.abs(at) < 200; });
  await rep.tab.getByText('Before you climb').waitFor();

  // The owner signs that the visit took place.
  await rep.tab.goto(`${fieldAt(office)}#/job/${job}/recap`);
  const box = await rep.tab.locator('svg.sign').boundingBox();
  await rep.tab.locator('svg.sign').scrollIntoViewIfNeeded();
  const at = await rep.tab.locator('svg.sign').boundingBox() ?? box;
  await rep.tab.mouse.move(at.x + 30, at.y + 60);
  await rep.tab.mouse.down();
  await rep.tab.mouse.move(at.x + 200, at.y + 90, { steps: 5 });
  await rep.tab.mouse.up();
  await rep.tab.click('text=Keep the signature');
  await rep.tab.getByText('Signed by Ines Vale').waitFor();

  // The helper's phone has it by the office; both speak of the same thing differently and settle it.
  const helper = await enrolled(office, 'Bram');
  await helper.tab.locator('a.row', { hasText: '12 Sample Lane' }).click();
  await helper.tab.getByText('Walk the sides').waitFor();
  await settled(job, rep.tab, helper.tab);
  await helper.tab.reload();
  await helper.tab.getByText('New from').waitFor();
  await sound(helper.tab, 'house-partner');
  const finding = (await ask(helper.tab, 'place', job, 'elevation/front')).findings[0].at;
  await Promise.all([rep, helper].map((one) => one.context.setOffline(true)));
  const amend = (tab, cause) => ask(tab, 'act', job, { amend: { id: finding.split('/')[1], set: { finding: { cause } } } });
  await amend(rep.tab, 'mechanical');
  await amend(helper.tab, 'wind');
  await Promise.all([rep, helper].map((one) => one.context.setOffline(false)));
  await settled(job, rep.tab, helper.tab);
  await helper.tab.goto(`${fieldAt(office)}#/job/${job}/settle`);
  await sound(helper.tab, 'conflict');
  await helper.tab.locator('.big button', { hasText: 'wind' }).click();
  await helper.tab.getByText('You two agree on everything').waitFor();
  const heads = await settled(job, rep.tab, helper.tab);

  // A native device and the server hold the very same, originals too.
  await until('originals are at the office', async () => { await ask(rep.tab, 'sync'); return (await ask(rep.tab, 'photos', job)).every((photo) => photo.safe); });
  const other = native(office, 'Nat');
  other.on('sync', '--office');
  const shown = JSON.parse(other.on('show', job, '--json'));
  assert.deepEqual(shown.heads.sort(), heads);
  assert.match(JSON.stringify(shown), /window screen|screen/);
  assert.deepEqual(rep.said.concat(helper.said).filter((line) => !/WebSocket|ERR_INTERNET|Failed to load/.test(line)), []);
  await rep.close();
  await helper.close();
});

test('after one visit the page opens with the network off and the server gone, and records', async () => {
  const one = await enrolled(office, 'Ola');
  await kept(one.tab);
  const job = await begun(one.tab, '3 Quiet Row');
  await one.context.setOffline(true);
  await one.tab.close();
  const tab = await one.context.newPage();
  await tab.goto(fieldAt(office));
  await tab.locator('a.row', { hasText: '3 Quiet Row' }).click();
  await tab.locator('.plan a[href$="elevation/left"]').click();
  await part(tab, 'gutter').getByLabel('cleared').click();
  await saved(tab);
  await one.context.setOffline(false);
  await office.restart();
  await settled(job, tab);
  await one.close();
});

test('a page killed in mid write loses nothing that it said was kept', async () => {
  const one = await enrolled(office, 'Pia');
  const job = await begun(one.tab, '5 Broken Street');
  let said = [];
  await one.tab.exposeFunction('acknowledged', (text) => said.push(text));
  // Notes as fast as they are kept, until the page's process is gone.
  void one.tab.evaluate(async (job) => {
    for (let n = 0; ; n += 1) {
      await globalThis.chalkwalk.call('add', job, { note: { about: 'elevation/front', text: `note ${n}` } }, null);
      await globalThis.acknowledged(`note ${n}`);
    }
  }, job).catch(() => {});
  await until('some notes are kept', async () => said.length > 15);
  const crash = one.context.newCDPSession(one.tab).then((session) => session.send('Page.crash'));
  await Promise.race([crash.catch(() => {}), new Promise((resolve) => setTimeout(resolve, 3_000))]);
  await one.tab.close().catch(() => {});
  const tab = await one.context.newPage();
  await tab.goto(`${fieldAt(office)}#/job/${job}/place/elevation/front`);
  await tab.getByText('note 0').first().waitFor();
  const held = (await ask(tab, 'place', job, 'elevation/front')).notes.map((note) => note.fields.text);
  for (const text of said) assert.ok(held.includes(text), `${text} was acknowledged and is gone`);
  // A page that is merely closed as well.
  const before = said.length;
  said = [];
  await settled(job, tab);
  assert.ok(before > 15);
  await one.close();
});

test('the first photo is kept with no signal, though what reads it was never read before', async () => {
  const one = await enrolled(office, 'Orla');
  await kept(one.tab);
  const job = await begun(one.tab, '4 Dim Corner');
  await one.tab.close();
  await office.kill();
  const tab = await one.context.newPage();
  await tab.goto(`${fieldAt(office)}#/job/${job}/place/elevation/front`);
  await tab.getByText('Overview of the whole side').waitFor();
  await tab.setInputFiles('input[capture]', jpeg(10));
  await tab.getByText('Another overview').waitFor();
  const [photo] = await ask(tab, 'photos', job);
  assert.equal(photo.size, statSync(jpeg(10)).size);
  assert.ok(await tab.evaluate(async (hash) => (await globalThis.chalkwalk.call('thumbnail', hash)).size > 500, photo.hash));
  await office.revive();
  await settled(job, tab);
  await one.close();
  // A page that is not whole on the phone yet keeps no half of a photo, says so, and goes on.
  const other = await enrolled(office, 'Odo', { serviceWorkers: 'block' });
  const second = await begun(other.tab, '6 Dim Corner');
  await other.context.route(/photo-\w+\.wasm/, (route) => route.abort());
  await other.tab.reload();
  await other.tab.goto(`${fieldAt(office)}#/job/${second}/place/elevation/front`);
  await other.tab.getByText('Overview of the whole side').waitFor();
  await other.tab.setInputFiles('input[capture]', jpeg(10));
  await other.tab.locator('.toast.bad', { hasText: 'Open the page once with a signal' }).waitFor();
  assert.equal((await ask(other.tab, 'photos', second)).length, 0);
  await other.context.unroute(/photo-\w+\.wasm/);
  await other.tab.setInputFiles('input[capture]', jpeg(10));
  await other.tab.getByText('Another overview').waitFor();
  await other.close();
});

test('a snapshot that is damaged, or older than it says, is seen, and every change is there', async () => {
  const one = await enrolled(office, 'Runa');
  const job = await begun(one.tab, '8 Second Copy');
  const note = (tab, text) => ask(tab, 'add', job, { note: { about: 'elevation/front', text } }, null);
  /** The snapshot that lies on the phone, altered on the way where it is said how. */
  const snapshot = (tab, how) => tab.evaluate(async ([job, how]) => {
    const asked = (request) => new Promise((resolve, reject) => { request.onsuccess = () => resolve(request.result); request.onerror = () => reject(request.error); });
    const db = await asked(indexedDB.open('chalkwalk-field'));
    try {
      const kept = await asked(db.transaction('snapshots').objectStore('snapshots').get(job));
      if (kept && how) {
        if (how === 'keep') { globalThis.older = kept; return true; }
        if (how === 'older') kept.bytes = globalThis.older.bytes;
        else kept.bytes[how === 'middle' ? kept.bytes.length >> 1 : 3] ^= 1;
        await asked(db.transaction('snapshots', 'readwrite').objectStore('snapshots').put(kept));
      }
      return kept && kept.bytes.length;
    } finally { db.close(); }
  }, [job, how]);
  let { tab } = one;
  // A tab of the office that does not run the page.
  const aside = await one.context.newPage();
  await aside.goto(`${office.url}/openapi.json`);
  for (const [n, how] of ['older', 'middle', 'start', undefined].entries()) {
    await note(tab, `before ${n}`);
    // It is written when the phone is put away.
    await ask(tab, 'rest');
    assert.ok(await snapshot(aside, 'keep'));
    await note(tab, `after ${n}`);
    const heads = await ask(tab, 'heads', job);
    await ask(tab, 'rest');
    await tab.close();
    assert.ok((await snapshot(aside, how)) > 100);
    tab = await one.context.newPage();
    await tab.goto(fieldAt(office));
    assert.deepEqual(await ask(tab, 'heads', job), heads, String(how));
    const notes = (await ask(tab, 'place', job, 'elevation/front')).notes.map((each) => each.fields.text);
    for (let m = 0; m <= n; m += 1) assert.ok(notes.includes(`before ${m}`) && notes.includes(`after ${m}`));
    // One that is not what it says is gone; a good one stays.
    assert.equal((await snapshot(aside)) === undefined, how !== undefined, String(how));
  }
  await settled(job, tab);
  await one.close();
});

test('a full phone says so, records nothing of it, and goes on once there is room', async () => {
  const one = await enrolled(office, 'Quin');
  const job = await begun(one.tab, '7 Narrow Way');
  const session = await one.context.newCDPSession(one.tab);
  const origin = new URL(office.url).origin;
  const { usage } = await session.send('Storage.getUsageAndQuota', { origin });
  await session.send('Storage.overrideQuotaForOrigin', { origin, quotaSize: Math.max(1, Math.floor(usage)) });
  await one.tab.goto(`${fieldAt(office)}#/job/${job}/place/elevation/front`);
  await one.tab.getByText('Overview of the whole side').waitFor();
  await one.tab.setInputFiles('input[capture]', jpeg(3));
  await one.tab.locator('.toast.bad', { hasText: 'no room' }).waitFor();
  assert.equal((await ask(one.tab, 'photos', job)).length, 0);
  await shot(one.tab, 'field-full');
  await session.send('Storage.overrideQuotaForOrigin', { origin });
  await one.tab.setInputFiles('input[capture]', jpeg(3));
  await one.tab.getByText('Another overview').waitFor();
  assert.equal((await ask(one.tab, 'photos', job)).length, 1);
  await settled(job, one.tab);
  await one.close();
});

test('a wrong clock and refused permissions hinder nothing', async () => {
  const one = await enrolled(office, 'Rune', { permissions: [] });
  await one.tab.close();
  const tab = await one.context.newPage();
  watch(tab, one.said);
  // Eleven years slow.
  await one.context.addInitScript(() => { const now = Date.now; Date.now = () => now() - 11 * 365 * 86_400_000; });
  const refuse = await one.context.newCDPSession(tab);
  for (const name of ['geolocation', 'camera']) await refuse.send('Browser.setPermission', { permission: { name }, setting: 'denied', origin: new URL(office.url).origin });
  await tab.goto(fieldAt(office));
  await tab.getByText('Begin a house').waitFor();
  await tab.getByText('Place is refused').waitFor();
  await shot(tab, 'field-refused');
  await tab.goto(`${fieldAt(office)}#/meet`);
  await tab.click('text=Scan their code');
  await tab.locator('.toast.bad', { hasText: 'paste the text' }).waitFor();
  await tab.goto(fieldAt(office));
  const job = await begun(tab, '9 Slow Court');
  await tab.locator('.plan a[href$="elevation/rear"]').click();
  await tab.getByText('Overview of the whole').waitFor();
  await tab.setInputFiles('input[capture]', jpeg(4));
  await tab.getByText('Another overview').waitFor();
  await settled(job, tab);
  await until('the original is at the office', async () => { await ask(tab, 'sync'); return (await ask(tab, 'photos', job)).every((photo) => photo.safe); });
  await one.close();
});

test('the screen that was tapped last stays, whichever is ready first', async () => {
  const one = await enrolled(office, 'Vala');
  await begun(one.tab, '3 Quick Tap');
  await one.tab.goto(fieldAt(office));
  await one.tab.locator('a.row').first().waitFor();
  await until('the engine is there', async () => (await ask(one.tab, 'state')).enrolled);
  // The list is read, and takes longer than the form that is tapped meanwhile.
  for (let n = 0; n < 5; n += 1) {
    await one.tab.evaluate(async () => {
      dispatchEvent(new HashChangeEvent('hashchange'));
      location.hash = '#/new';
      await globalThis.chalkwalk.call('state');
      await new Promise((resolve) => setTimeout(resolve, 300));
    });
    assert.equal(await one.tab.locator('#street').count(), 1, 'the form stays');
    await one.tab.evaluate(() => { location.hash = '#/'; });
    await one.tab.locator('a.row').first().waitFor();
  }
  await one.close();
});

test('two tabs: one writes, the other asks for it, both see the same', async () => {
  const one = await enrolled(office, 'Sten');
  const job = await begun(one.tab, '11 Two Doors');
  const second = await one.context.newPage();
  await second.goto(`${fieldAt(office)}#/job/${job}/place/elevation/front`);
  await second.getByText('open in another tab').waitFor();
  await shot(second, 'field-elsewhere');
  await second.click('text=Use it here');
  await part(second, 'gutter').getByLabel('cleared').click();
  await saved(second);
  await one.tab.getByText('open in another tab').waitFor();
  await one.tab.click('text=Use it here');
  await until('the first tab sees it', async () => (await ask(one.tab, 'place', job, 'elevation/front')).parts.length === 1);
  await one.close();
});

test('two phones meet by bundles with no signal', async () => {
  const [rep, helper] = [await enrolled(office, 'Tova'), await enrolled(office, 'Ulf')];
  for (const one of [rep, helper]) { await kept(one.tab); await one.context.setOffline(true); }
  const job = await begun(rep.tab, '13 Far Hollow');
  await rep.tab.goto(`${fieldAt(office)}#/meet`);
  const [download] = await Promise.all([rep.tab.waitForEvent('download'), rep.tab.click('text=Hand a bundle over')]);
  const file = join(office.folder, 'crew.bundle');
  await download.saveAs(file);
  await helper.tab.goto(`${fieldAt(office)}#/meet`);
  await sound(helper.tab, 'meet');
  await helper.tab.locator('label', { hasText: 'Take a bundle' }).locator('input').setInputFiles(file);
  await helper.tab.locator('.toast', { hasText: 'from Tova are kept' }).waitFor();
  assert.deepEqual(await ask(helper.tab, 'heads', job), await ask(rep.tab, 'heads', job));
  // What is no bundle, and one that was altered, change nothing.
  const altered = readFileSync(file);
  altered[Math.floor(altered.length / 2)] ^= 1;
  for (const buffer of [Buffer.from('no bundle'), altered]) {
    await helper.tab.locator('label', { hasText: 'Take a bundle' }).locator('input').setInputFiles({ name: 'x.bundle', mimeType: 'application/octet-stream', buffer });
    await helper.tab.locator('.toast.bad').waitFor();
    await helper.tab.click('.toast [aria-label="put away"]');
  }
  assert.deepEqual(await ask(helper.tab, 'heads', job), await ask(rep.tab, 'heads', job));
  await rep.close();
  await helper.close();
});

test('two phones meet by a direct link, with no server and no signal, originals too', async () => {
  const [rep, helper] = [await enrolled(office, 'Wanda', { camera: true }), await enrolled(office, 'Xaver', { camera: true })];
  for (const one of [rep, helper]) await kept(one.tab);
  // Emulation takes a phone off the local network as well: here the server itself is gone.
  await office.kill();
  const job = await begun(rep.tab, '17 No Signal');
  await rep.tab.goto(`${fieldAt(office)}#/job/${job}/place/elevation/front`);
  for (const n of [5, 6]) {
    await rep.tab.locator('input[capture]').first().setInputFiles(jpeg(n));
    await until('the photo is kept', async () => (await ask(rep.tab, 'photos', job)).length === n - 4);
  }
  // What is no code of a meeting is refused in words.
  await helper.tab.goto(`${fieldAt(office)}#/meet`);
  await helper.tab.click('text=Without a camera');
  for (const text of ['hello', 'chalkwalk:meet?s=1&u=x']) {
    await helper.tab.fill('#theirs', text);
    await helper.tab.click('text=Take >> visible=true');
    await helper.tab.locator('.toast.bad', { hasText: 'not the text of a meeting' }).waitFor();
    await helper.tab.click('.toast [aria-label="put away"]');
  }
  await linked(rep.tab, helper.tab, { seen: () => sound(rep.tab, 'meet-code') });
  for (const one of [rep, helper]) await one.tab.getByText('hold the same').waitFor();
  await sound(helper.tab, 'meet-linked');
  assert.deepEqual(await ask(helper.tab, 'heads', job), await ask(rep.tab, 'heads', job));
  // The originals came along, byte for byte as their names say.
  await until('the originals came', async () => (await ask(helper.tab, 'photos', job)).every((photo) => photo.here));
  for (const n of [5, 6]) assert.ok((await ask(helper.tab, 'photos', job)).some((photo) => photo.size === statSync(jpeg(n)).size));

  // As long as the link holds, what one records is with the other at once.
  await ask(helper.tab, 'add', job, { note: { about: 'elevation/front', text: 'seen from the roof' } }, null);
  await until('it comes over', async () => (await ask(rep.tab, 'place', job, 'elevation/front')).notes.length === 1);
  // One phone dies in the middle: what was acknowledged stands, and the next meeting goes on.
  await helper.tab.close();
  await rep.tab.locator('.toast.bad').or(rep.tab.getByText('Show my code first')).first().waitFor();
  await ask(rep.tab, 'add', job, { note: { about: 'elevation/front', text: 'while alone' } }, null);
  const again = await helper.context.newPage();
  await again.goto(fieldAt(office));
  await linked(rep.tab, again);
  await again.getByText('hold the same').waitFor();
  assert.deepEqual(await ask(again, 'heads', job), await ask(rep.tab, 'heads', job));

  // The helper alone finds a signal: the office gets the record and the rep's originals from there.
  await rep.context.setOffline(true);
  await office.revive();
  await settled(job, again);
  await until('the rep\'s originals are at the office', async () => { await ask(again, 'sync'); return (await ask(again, 'photos', job)).every((photo) => photo.safe); });
  const other = native(office, 'Nils');
  other.on('sync', '--office');
  assert.deepEqual(JSON.parse(other.on('show', job, '--json')).heads.sort(), (await ask(rep.tab, 'heads', job)).heads);
  await rep.close();
  await helper.close();
});

test('a phone of another office is given nothing', async () => {
  const elsewhere = await startOffice({ empty: true });
  try {
    const [own, other] = [await enrolled(office, 'Edda', { camera: true }), await enrolled(elsewhere, 'Fynn', { camera: true })];
    const job = await begun(own.tab, '25 Own House');
    await linked(own.tab, other.tab);
    const ended = (tab) => tab.locator('.toast.bad', { hasText: /meeting ended|other phone is gone/ }).waitFor();
    await Promise.all([ended(own.tab), ended(other.tab)]);
    await own.tab.getByText('Show my code first').waitFor();
    await other.tab.getByText('Show my code first').waitFor();
    assert.deepEqual((await ask(other.tab, 'state')).jobs, []);
    assert.equal((await ask(own.tab, 'heads', job)).heads.length, 1);
    await own.close();
    await other.close();
  } finally {
    await elsewhere.stop();
  }
});

test('a code is read by the camera', async () => {
  const first = await enrolled(office, 'Yara', { camera: true });
  await first.tab.goto(`${fieldAt(office)}#/meet`);
  await first.tab.click('text=Show my code first');
  await first.tab.locator('svg.code').waitFor();
  const text = await first.tab.locator('#ours').textContent();
  // The camera of the second phone sees the first one's screen: its picture as a film of one frame.
  await first.tab.setViewportSize({ width: 480, height: 640 });
  const film = join(office.folder, 'screen.mjpeg');
  writeFileSync(film, await first.tab.screenshot({ type: 'jpeg', quality: 90, scale: 'css' }));
  const browser = await launch(['--use-fake-device-for-media-stream', `--use-file-for-fake-video-capture=${film}`]);
  try {
    const second = await enrolled({ ...office, browser }, 'Zeno', { camera: true });
    await second.tab.goto(`${fieldAt(office)}#/meet`);
    await second.tab.click('text=Scan their code');
    await second.tab.getByText('Show this back').waitFor();
    assert.match(text, /^chalkwalk:meet\?s=1/);
    assert.match(await second.tab.locator('#ours').textContent(), /^chalkwalk:meet\?s=2/);
    await second.close();
  } finally {
    await browser.close();
  }
  await first.close();
});

test('the server is killed again and again while a phone records and sends', async () => {
  const one = await enrolled(office, 'Abel');
  const job = await begun(one.tab, '19 Shaky Ground');
  await settled(job, one.tab);
  const kills = (async () => { for (let n = 0; n < 3; n += 1) { await new Promise((resolve) => setTimeout(resolve, 700)); await office.restart(); } })();
  await one.tab.goto(`${fieldAt(office)}#/job/${job}/place/elevation/front`);
  for (let n = 0; n < 60; n += 1) {
    await ask(one.tab, 'add', job, { note: { about: 'elevation/front', text: `note ${n}` } }, null);
    if (n % 20 === 0) await one.tab.locator('input[capture]').first().setInputFiles(jpeg(7 + n / 20));
  }
  await kills;
  const heads = await settled(job, one.tab);
  await until('all originals are at the office', async () => { await ask(one.tab, 'sync'); return (await ask(one.tab, 'photos', job)).every((photo) => photo.safe); });
  const other = native(office, 'Odo');
  other.on('sync', '--office');
  const shown = JSON.parse(other.on('show', job, '--json'));
  assert.deepEqual(shown.heads.sort(), heads);
  const place = await ask(one.tab, 'place', job, 'elevation/front');
  assert.equal(place.notes.length, 60);
  assert.equal(place.photos.length, 3);
  await one.close();
});

test('marks stay round and are found again; everything goes out in one file', async () => {
  const one = await enrolled(office, 'Cleo');
  const job = await begun(one.tab, '21 Round Rings');
  await one.tab.goto(`${fieldAt(office)}#/job/${job}/place/elevation/front`);
  await one.tab.getByText('Overview of the whole side').waitFor();
  await one.tab.setInputFiles('input[capture]', jpeg(8));
  await one.tab.locator('.thumbs .thumb').first().click();
  const picture = one.tab.locator('.whole img');
  await picture.waitFor();
  const box = await picture.boundingBox();
  const tap = async (x, y) => { await one.tab.mouse.move(box.x + box.width * x, box.y + box.height * y); await one.tab.mouse.down(); await one.tab.mouse.up(); };
  await tap(0.5, 0.5);
  await one.tab.mouse.move(box.x + box.width * 0.1, box.y + box.height * 0.2);
  await one.tab.mouse.down();
  await one.tab.mouse.move(box.x + box.width * 0.4, box.y + box.height * 0.4, { steps: 4 });
  await one.tab.mouse.up();
  await one.tab.click('text=Keep the marks');
  await saved(one.tab);
  await one.tab.reload();
  const ring = await one.tab.locator('.marks circle').first().boundingBox();
  assert.ok(Math.abs(ring.width - ring.height) < 1.5, `a ring of ${ring.width} by ${ring.height}`);
  assert.ok(Math.abs(ring.x + ring.width / 2 - (box.x + box.width / 2)) < 2);
  await one.tab.locator('.marks line').waitFor();
  await sound(one.tab, 'photo');
  const [photo] = await ask(one.tab, 'photos', job);
  const { record } = await ask(one.tab, 'record', job, `photo/${photo.id}`);
  assert.equal(record.marks.length, 2);

  await one.tab.goto(`${fieldAt(office)}#/job/${job}/safe`);
  const [download] = await Promise.all([one.tab.waitForEvent('download'), one.tab.click('text=Everything in one ZIP')]);
  const file = join(office.folder, 'all.zip');
  await download.saveAs(file);
  // Read by Python's own zipfile, checksums and all.
  const names = execFileSync('python3', ['-c', 'import sys, zipfile; z = zipfile.ZipFile(sys.argv[1]); assert z.testzip() is None; print("\\n".join(f"{i.filename} {i.file_size}" for i in z.infolist()))', file], { encoding: 'utf8' });
  assert.match(names, /^record\.bundle \d{3,}/m);
  assert.match(names, /^document\.automerge \d{3,}/m);
  assert.ok(names.includes(`originals/${photo.hash}.jpg ${statSync(jpeg(8)).size}`));
  await one.close();
});

test('a 12-megapixel picture is kept whole', async () => {
  const one = await enrolled(office, 'Vega');
  const job = await begun(one.tab, '15 Wide View');
  // 4032 by 3024 of noise and shade, made by the browser's own encoder: as large as a phone's photo.
  const text = await one.tab.evaluate(async () => {
    const canvas = new OffscreenCanvas(4032, 3024);
    const paint = canvas.getContext('2d');
    for (let n = 0; n < 4000; n += 1) {
      paint.fillStyle = `hsl(${(n * 47) % 360} 60% ${20 + (n % 60)}%)`;
      paint.fillRect((n * 733) % 4032, (n * 389) % 3024, 160, 90);
    }
    const grain = paint.getImageData(0, 0, 4032, 3024);
    for (let n = 0; n < grain.data.length; n += 4) grain.data[n + 1] += ((n * 2_654_435_761) >>> 27) & 15;
    paint.putImageData(grain, 0, 0);
    const blob = await canvas.convertToBlob({ type: 'image/jpeg', quality: 0.92 });
    return new Promise((resolve) => {
      const reader = new FileReader();
      reader.onload = () => resolve(reader.result.split(',')[1]);
      reader.readAsDataURL(blob);
    });
  });
  const buffer = Buffer.from(text, 'base64');
  await one.tab.goto(`${fieldAt(office)}#/job/${job}/place/elevation/front`);
  await one.tab.getByText('Overview of the whole side').waitFor();
  const began = performance.now();
  await one.tab.setInputFiles('input[capture]', { name: 'wide.jpg', mimeType: 'image/jpeg', buffer });
  await one.tab.getByText('Another overview').waitFor();
  console.log(`12 megapixels, ${(buffer.length / 1e6).toFixed(1)} MB: kept in ${Math.round(performance.now() - began)} ms`);
  const [photo] = await ask(one.tab, 'photos', job);
  assert.equal(photo.size, buffer.length);
  const held = await one.tab.evaluate(async (hash) => (await globalThis.chalkwalk.call('original', hash)).size, photo.hash);
  assert.equal(held, buffer.length);
  assert.ok(await one.tab.evaluate(async (hash) => (await globalThis.chalkwalk.call('thumbnail', hash)).size > 500, photo.hash));
  await one.close();
});

test('the screens in the dark, and what the roof asks for', async () => {
  const one = await enrolled(office, 'Dora', { colorScheme: 'dark' });
  const job = await begun(one.tab, '23 Late Light');
  await sound(one.tab, 'house-dark');
  await one.tab.goto(`${fieldAt(office)}#/job/${job}/step/eave`);
  await one.tab.click('text=We have read this');
  await saved(one.tab);
  await one.tab.click('text=+ eave, front');
  await one.tab.getByText('Nothing is broken to look').waitFor();
  await one.tab.locator('fieldset', { hasText: 'Deck' }).getByText('planks').click();
  // A deck of boards: its widest gap, by quarters of an inch.
  for (const _ of [1, 2, 3]) await one.tab.getByLabel('more: Widest gap').click();
  await one.tab.locator('.stepper output', { hasText: '3/4"' }).waitFor();
  // The tape: the width, then the picture that shows it.
  await one.tab.getByText('6 in', { exact: true }).click();
  await one.tab.locator('label', { hasText: 'The tape across the gutter' }).locator('input').setInputFiles(jpeg(9));
  await one.tab.getByText('Another picture of the tape').waitFor();
  await sound(one.tab, 'eave-dark');
  await one.tab.goto(`${fieldAt(office)}#/job/${job}/step/roof`);
  await one.tab.click('text=+ front slope');
  await one.tab.getByText('Counted on this slope').waitFor();
  for (const _ of [1, 2]) await one.tab.getByLabel('one more: pipe boot').click();
  await one.tab.locator('fieldset', { hasText: 'By gauge' }).getByText('6', { exact: true }).click();
  await one.tab.getByText('The gauge in the picture').waitFor();
  await one.tab.click('text=+ typical spot');
  await one.tab.getByLabel('one more: Hits inside it').click();
  await one.tab.locator('[aria-label="Hits inside it"] output', { hasText: '1' }).waitFor();
  await sound(one.tab, 'slope-dark');
  for (const screen of ['check', 'recap', 'safe']) {
    await one.tab.goto(`${fieldAt(office)}#/job/${job}/${screen}`);
    await one.tab.locator('main > *').first().waitFor();
    await sound(one.tab, `${screen}-dark`);
  }
  // What was taken counts in the check.
  const open = (await ask(one.tab, 'check', job)).map((each) => each.point.rule);
  for (const rule of ['eave.opening', 'gutter.width', 'eave.deck-gap', 'roof.slopes', 'roof.pitch', 'visit.cautions']) assert.ok(!open.includes(rule), `${rule} is still open`);
  await one.close();
});

test('the first screen of a phone that is not enrolled', async () => {
  const one = await phone(office);
  await one.tab.getByText('Ask the office for a code').waitFor();
  await sound(one.tab, 'enrol');
  await one.tab.fill('#code', 'AAAA-BBBB-CCCC');
  await one.tab.fill('#person', 'Wim');
  await one.tab.click('main button.main');
  await one.tab.locator('.toast.bad').waitFor();
  await one.close();
});
