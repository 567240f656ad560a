// How fast the app is in the browser, as figures: `node speed.mjs` prints them and fails on none (bench/README.md says what they should be).
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { LAPTOP, check, launch, person, root, signIn, stage, staffed } from './house.mjs';

const median = (times) => [...times].sort((a, b) => a - b)[Math.floor(times.length / 2)];
const worst = (times) => Math.max(...times);
const told = (what, figure, aim) => console.log(`${what.padEnd(62)} ${figure.padStart(12)}   aim ${aim}`);

/** Private memory of the browser's process that holds the page with its two workers, and of its others (the service worker's), MB. */
async function memory(browser) {
  const session = await browser.newBrowserCDPSession();
  const { processInfo } = await session.send('SystemInfo.getProcessInfo');
  await session.detach();
  const held = (pid) => {
    const text = readFileSync(`/proc/${pid}/smaps_rollup`, 'utf8');
    return ['Private_Clean', 'Private_Dirty'].reduce((sum, key) => sum + Number(text.match(new RegExp(`${key}:\\s+(\\d+)`))?.[1] ?? 0), 0) / 1024;
  };
  const all = processInfo.filter(({ type }) => type === 'renderer').map(({ id }) => held(id)).sort((a, b) => b - a);
  return { page: all[0] ?? 0, others: all.slice(1).reduce((sum, one) => sum + one, 0) };
}

async function firstLoad(base) {
  const times = [];
  let bytes = 0;
  for (let i = 0; i < 5; i += 1) {
    const browser = await launch();
    const page = await person(browser, LAPTOP);
    const network = await page.context().newCDPSession(page);
    await network.send('Network.enable');
    bytes = 0;
    network.on('Network.loadingFinished', ({ encodedDataLength }) => { bytes += encodedDataLength; });
    await page.addInitScript(() => {
      new MutationObserver((_, seen) => {
        if (!document.querySelector('.demos button')) return;
        seen.disconnect();
        requestAnimationFrame(() => { window.usable = performance.now(); });
      }).observe(document, { childList: true, subtree: true });
    });
    await page.goto(`${base}/`);
    times.push(await page.waitForFunction(() => window.usable).then((found) => found.jsonValue()));
    await browser.close();
  }
  told('first load, empty cache, to usable (median of 5)', `${median(times).toFixed(0)} ms`, 'under 1000 ms');
  told('all that comes over the network for it', `${(bytes / 1e6).toFixed(2)} MB`, '1.5 MB at most');
}

/** Each errand of a worker from now on, as the page sees it: when it was sent, when answered, its time by the worker's clock, characters of the answer. */
const watchWorkers = (page) => page.addInitScript(() => {
  window.errands = [];
  const Plain = window.Worker;
  window.Worker = class extends Plain {
    constructor(...given) {
      super(...given);
      this.addEventListener('message', ({ data }) => {
        const one = this.errand;
        if (one) Object.assign(one, { back: performance.now(), took: Number(new TextDecoder().decode(data).match(/"took_ms":([\d.]+)/)?.[1]), long: data.length });
      });
    }
    postMessage(text, rest) {
      if (!(text instanceof Uint8Array)) return super.postMessage(text);
      const asked = new TextDecoder().decode(text);
      this.errand = { sent: performance.now(), at_once: asked.includes('"at_once":true') && asked.includes('"draws":2000') };
      window.errands.push(this.errand);
      super.postMessage(text, rest);
    }
  };
});

/** From a keystroke to the answer that was worked out anew, and to all draws; the longest that the page itself was busy. */
async function redraw(page) {
  await stage(page, 'fit', 'inboard 1');
  await page.locator('#f-housing-outside').waitFor();
  await page.waitForFunction(() => document.querySelector('.settling')?.textContent === '');
  const found = await page.evaluate(async () => {
    const field = document.querySelector('#f-housing-outside');
    const [first, settled, all, typing, busy, parts] = [[], [], [], [], [], []];
    new PerformanceObserver((list) => busy.push(...list.getEntries().map((one) => one.duration))).observe({ entryTypes: ['longtask'] });
    const seen = (when) => new Promise((done) => {
      if (when()) return done();
      const watch = new MutationObserver(() => { if (when()) { watch.disconnect(); done(); } });
      watch.observe(document.body, { childList: true, subtree: true, characterData: true });
    });
    for (let i = 0; i < 20; i += 1) {
      const pictures = document.querySelectorAll('.part .picture svg');
      const drawn = pictures[0];
      const begin = performance.now();
      field.value = String(400 - i);
      field.dispatchEvent(new InputEvent('input', { bubbles: true }));
      typing.push(performance.now() - begin);
      await seen(() => document.querySelector('.answer.now') && document.querySelector('.part .picture svg') !== drawn);
      first.push(performance.now() - begin);
      const quick = window.errands.findLast((one) => one.at_once && one.back);
      parts.push([quick.sent - begin, quick.took, quick.back - quick.sent - quick.took, performance.now() - quick.back, quick.long / 1000]);
      await seen(() => !document.querySelector('.settling')?.textContent.startsWith('first look'));
      settled.push(performance.now() - begin);
      await seen(() => document.querySelector('.settling')?.textContent === '');
      all.push(performance.now() - begin);
    }
    return { first, settled, all, typing, busy, parts };
  });
  told('a keystroke, until the page is free again (median, worst of 20)', `${median(found.typing).toFixed(1)}, ${worst(found.typing).toFixed(1)} ms`, 'under 16 ms');
  told('a changed input, until everything that follows is redrawn', `${median(found.first).toFixed(0)}, ${worst(found.first).toFixed(0)} ms`, 'one frame, 16 ms');
  const part = (i) => median(found.parts.map((one) => one[i])).toFixed(1);
  console.log(`  of it ${part(0)} ms until it is asked, ${part(1)} ms in the worker, ${part(2)} ms on the way (${part(4)} kB), ${part(3)} ms until it is drawn`);
  told('a changed input, until all 20000 draws are made', `${median(found.settled).toFixed(0)}, ${worst(found.settled).toFixed(0)} ms`, '100 ms');
  told('the same, until the finite elements are done too (after a pause)', `${median(found.all).toFixed(0)}, ${worst(found.all).toFixed(0)} ms`, '');
  told('longest that the page was busy at a stretch', found.busy.length ? `${worst(found.busy).toFixed(0)} ms` : 'under 50 ms', 'under 50 ms');
  await page.locator('.trying').getByRole('button', { name: 'Put back' }).click();
}

async function seats(page, where) {
  await page.locator('button[aria-label="Seat after"]').waitFor();
  await page.waitForFunction(() => ![...document.querySelectorAll('#seat option')].some((one) => one.textContent.startsWith('·')), undefined, { timeout: 120_000 });
  const times = await page.evaluate(async () => {
    const times = [];
    for (let i = 0; i < 40; i += 1) {
      const begin = performance.now();
      const there = new Promise((done) => addEventListener('hashchange', () => requestAnimationFrame(() => setTimeout(done)), { once: true }));
      document.querySelector('button[aria-label="Seat after"]').click();
      await there;
      times.push(performance.now() - begin);
    }
    return times;
  });
  told(`switching seats in a job of 60, ${where} (median, worst of 40)`, `${median(times).toFixed(0)}, ${worst(times).toFixed(0)} ms`, 'under 50 ms');
}

const house = await staffed();
await firstLoad(house.base);
const browser = await launch();
const page = await person(browser, LAPTOP);
await watchWorkers(page);
await page.goto('about:blank');
const empty = await memory(browser);
await signIn(page, house.base, 'Runa');
// The ferry's inboard seat sixty times.
const demo = readFileSync(join(root, 'demo/ferry_ramp_winch.toml'), 'utf8');
const sixty = demo.slice(0, demo.indexOf('[seat.outboard]')).replace('"W-2611"', '"W-60"').replace('draws = 200000', 'draws = 20000').replace('[seat.inboard]\n', '[seat.inboard]\ncount = 60\n');
const kept = await page.evaluate((text) => fetch('/api/jobs', { method: 'POST', headers: { 'Content-Type': 'application/toml' }, body: text }).then(async (answer) => [answer.status, await answer.text()]), sixty);
check(kept[0] < 300, `the job of 60 seats was not taken: ${kept}`);
await page.evaluate(() => { location.hash = '#/'; });
await page.getByRole('link', { name: /W-60/ }).click();
await page.locator('.stages .done').first().waitFor();
await redraw(page);
await page.evaluate(() => { location.hash = '#/job/W-60/inboard%201'; });
await seats(page, 'the whole seat');
for (const name of ['measure', 'fit', 'turn']) {
  await stage(page, name, 'inboard 1');
  await seats(page, name);
}
const session = await page.context().newCDPSession(page);
await session.send('HeapProfiler.collectGarbage');
const held = await memory(browser);
told('memory of the page with its workers, 60 seats looked at', `${held.page.toFixed(0)} MB`, 'under 150 MB');
told('of it an empty page; beside it the service worker and a spare', `${empty.page.toFixed(0)}, ${held.others.toFixed(0)} MB`, '');
if (process.env.PROFILE) {
  await session.send('Profiler.enable');
  await session.send('Profiler.setSamplingInterval', { interval: 200 });
  await session.send('Profiler.start');
  await seats(page, 'turn, watched');
  const { profile } = await session.send('Profiler.stop');
  const own = new Map();
  const total = profile.timeDeltas.reduce((a, b) => a + b, 0);
  profile.samples.forEach((id, i) => own.set(id, (own.get(id) ?? 0) + profile.timeDeltas[i]));
  const by = new Map();
  for (const node of profile.nodes) by.set(node.callFrame.functionName || '(none)', (by.get(node.callFrame.functionName || '(none)') ?? 0) + (own.get(node.id) ?? 0));
  for (const [name, time] of [...by].sort((a, b) => b[1] - a[1]).slice(0, 25)) console.log(`${(time / 1000).toFixed(1).padStart(8)} ms ${((100 * time) / total).toFixed(1).padStart(5)} %  ${name}`);
}
await browser.close();
await house.close();
