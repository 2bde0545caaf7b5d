// Prints what the crew's page takes, in Chromium slowed four times, and what opening the large job
// takes beside a native device in the same run:
// `CHALKWALK=… CHALKWALK_LARGE=…/large_house CHALKWALK_DEMO=… CHALKWALK_NODE=… node tests/browser/field-bench.mjs`.
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { startOffice } from './harness.mjs';
import { ask, begun, enrolled, fieldAt, kept, native, until } from './field.mjs';

const office = await startOffice({ empty: true });
const middle = (list) => list.sort((a, b) => a - b)[Math.floor(list.length / 2)];
const line = (what, is, most, unit) => console.log(`${what.padEnd(58)} ${is.toFixed(1).padStart(8)} ${unit}  at most ${most}${is <= most ? '' : '  OVER'}`);

try {
  const one = await enrolled(office, 'Bea');
  await kept(one.tab);
  const job = await begun(one.tab, '1 Measured Mile');
  const second = await ask(one.tab, 'begin', { street: '2 Measured Mile' });
  const slowed = async () => {
    const tab = await one.context.newPage();
    await (await one.context.newCDPSession(tab)).send('Emulation.setCPUThrottlingRate', { rate: 4 });
    return tab;
  };
  await one.tab.close();
  const firsts = [];
  for (let n = 0; n < 7; n += 1) {
    const tab = await slowed();
    await tab.goto(fieldAt(office), { waitUntil: 'commit' });
    // Nothing is asked of the page meanwhile, as asking slows it as well. It says itself when the list
    // was on the screen, counted from the tap on its icon.
    await new Promise((resolve) => setTimeout(resolve, 3_000));
    assert.equal(await tab.locator('a.row', { hasText: '1 Measured Mile' }).count(), 1);
    firsts.push(await tab.evaluate(() => performance.getEntriesByName('first-screen')[0]?.startTime ?? Number.NaN));
    await tab.close();
  }
  line('first screen once installed, slowed four times', middle(firsts), 1_000, 'ms');

  const tab = await slowed();
  await tab.goto(fieldAt(office));
  await tab.getByText('1 Measured Mile').waitFor();
  const acting = async (tab) => {
    await ask(tab, 'open', job);
    return middle(await tab.evaluate(async (job) => {
      const times = [];
      for (let n = 0; n < 30; n += 1) {
        const began = performance.now();
        await globalThis.chalkwalk.call('add', job, { note: { about: 'elevation/front', text: `note ${n}` } }, null);
        times.push(performance.now() - began);
        await new Promise((resolve) => setTimeout(resolve, 20));
      }
      return times;
    }, job));
  };
  line('an action durable, slowed four times', await acting(tab), 50, 'ms');
  await tab.close();
  // The browser slows the page's thread alone, not its worker: four times the unslowed bounds both.
  const swift = await one.context.newPage();
  await swift.goto(fieldAt(office));
  await swift.getByText('1 Measured Mile').waitFor();
  line('four times an action that is not slowed', 4 * await acting(swift), 50, 'ms');
  await swift.close();

  // The large job: a native device records it, the office hands it on, the page opens it.
  const other = native(office, 'Nan');
  const large = execFileSync(process.env.CHALKWALK_LARGE, [other.folder], { encoding: 'utf8' }).trim();
  other.on('sync', '--office');
  const first = await one.context.newPage();
  await first.goto(fieldAt(office));
  await until('the page has the large job', async () => {
    await ask(first, 'sync');
    const { jobs } = await ask(first, 'state');
    return jobs.some((row) => row.job === large) && (await ask(first, 'heads', large)).changes > 2_600;
  }, 180_000);
  // With no signal, so that nothing else asks for the job.
  await one.context.setOffline(true);
  // The phone is put away with houses open, one after the other, and another page is opened.
  const last = async (page, ...houses) => {
    for (const house of houses) await ask(page, 'open', house);
    await ask(page, 'rest');
    await page.close();
  };
  await last(first, large);
  const tapped = async (after, ...before) => {
    const [live, shown, ready] = [[], [], []];
    for (let n = 0; n < 5; n += 1) {
      const page = await one.context.newPage();
      await page.goto(fieldAt(office));
      await page.waitForFunction('globalThis.chalkwalk');
      await ask(page, 'state');
      live.push(await page.evaluate(() => performance.now()));
      await page.waitForTimeout(after);
      const [seen, whole] = await page.evaluate(async (job) => {
        const began = performance.now();
        await globalThis.chalkwalk.call('open', job);
        const seen = performance.now() - began;
        await globalThis.chalkwalk.call('heads', job);
        return [seen, performance.now() - began];
      }, large);
      shown.push(seen);
      ready.push(whole);
      await last(page, ...before);
    }
    return { live: middle(live), shown: middle(shown), ready: middle(ready) };
  };
  const cases = {
    'a second after the list': await tapped(1_000, large),
    'at once': await tapped(0, large),
    // Before the first of these the case above was the last, so that its time is left out by the middle.
    'at once, another house open last': await tapped(0, job),
    'three seconds after the list, two other houses open last': await tapped(3_000, second, job),
  };
  const here = Number(execFileSync(process.env.CHALKWALK_LARGE, [other.folder, large], { encoding: 'utf8' }));
  console.log(`the large job (600 findings, 2,000 photos): native open in ${here.toFixed(0)} ms`);
  for (const [when, { live, shown, ready }] of Object.entries(cases)) {
    console.log(`tapped ${when}: the list live ${live.toFixed(0)} ms after the tap on the icon; shown in ${shown.toFixed(0)} ms, open to record in ${ready.toFixed(0)} ms`);
    line(`on the screen, tapped ${when}`, shown / here, 3, 'times native');
    line(`open to record, tapped ${when}`, ready / here, 3, 'times native');
  }
} finally {
  await office.stop();
}
