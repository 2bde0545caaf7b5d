// Prints what the crew's page takes, in Chromium slowed four times:
// `CHALKWALK=… CHALKWALK_DEMO=… CHALKWALK_NODE=… node tests/browser/field-bench.mjs`.
import { startOffice } from './harness.mjs';
import { ask, begun, enrolled, fieldAt, kept } from './field.mjs';

const office = await startOffice({ empty: true });
const middle = (list) => list.sort((a, b) => a - b)[Math.floor(list.length / 2)];
try {
  const one = await enrolled(office, 'Bea');
  await kept(one.tab);
  const job = await begun(one.tab, '1 Measured Mile');
  const slowed = async (tab) => {
    const session = await one.context.newCDPSession(tab);
    await session.send('Emulation.setCPUThrottlingRate', { rate: 4 });
  };
  const firsts = [];
  await one.tab.close();
  for (let n = 0; n < 5; n += 1) {
    const tab = await one.context.newPage();
    await slowed(tab);
    const began = performance.now();
    await tab.goto(fieldAt(office));
    await tab.getByText('1 Measured Mile').waitFor();
    firsts.push(performance.now() - began);
    await tab.close();
  }
  console.log(`first screen once installed: ${Math.round(middle(firsts))} ms (at most 1000)`);

  const tab = await one.context.newPage();
  await slowed(tab);
  await tab.goto(fieldAt(office));
  await tab.getByText('1 Measured Mile').waitFor();
  await ask(tab, 'open', job);
  const acts = await tab.evaluate(async (job) => {
    const times = [];
    for (let n = 0; n < 30; n += 1) {
      const began = performance.now();
      await globalThis.chalkwalk.call('add', job, { note: { about: 'elevation/front', text: `note ${n}` } }, null);
      times.push(performance.now() - began);
    }
    return times;
  }, job);
  console.log(`an action durable: ${middle(acts).toFixed(1)} ms (at most 50)`);
  // A large job, made here: what opening it takes for each change.
  await tab.evaluate(async (job) => {
    for (let n = 0; n < 600; n += 1) {
      await globalThis.chalkwalk.call('add', job, { finding: { place: 'elevation/front', component: 'screen', condition: 'damaged', cause: 'hail', text: `one of many, ${n}` } }, n % 9);
    }
  }, job);
  await tab.waitForTimeout(2_000);
  await tab.close();
  const again = await one.context.newPage();
  await again.goto(fieldAt(office));
  await again.getByText('1 Measured Mile').waitFor();
  await ask(again, 'state');
  const began = performance.now();
  await ask(again, 'open', job);
  console.log(`opening a job of 600 findings, not slowed: ${Math.round(performance.now() - began)} ms`);
} finally {
  await office.stop();
}
