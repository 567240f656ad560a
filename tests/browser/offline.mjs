// The offline day: the network is cut in mid-cut, and the tablet is shut, killed and opened again before it is back.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { LAPTOP, PATIENCE, PHONE, check, ended, go, lasting, light, picture, signIn, signedIn, staffed, stage, start, test, watched } from './house.mjs';

const rows = (page, count) => page.waitForFunction((count) => document.querySelectorAll('.readings-table tbody tr.reading').length === count, count, { timeout: PATIENCE });
const sizes = (page) => page.locator('.readings-table tbody tr.reading td:nth-child(3)').allTextContents();
const nth = (i) => `120.${String(i + 1).padStart(3, '0')}`;

/** A new job of one seat, made by hand. */
export async function newJob(page, number, seat = 'seat 1') {
  await go(page, '#/new');
  await page.fill('#job-number', number);
  await page.fill('#job-seats', seat);
  await page.getByRole('button', { name: 'Start the job' }).click();
  await page.locator('.stages').waitFor({ state: 'attached' });
}

/** Types one size into a cell of the grid and waits until it is on the disk. */
export async function type(page, cell, size, count) {
  const field = page.locator(`#cell-${cell}`);
  await field.fill(size);
  await field.press('Enter');
  await rows(page, count);
}

/** Answers at the lathe until the screen asks for this. */
async function answer(page, until) {
  const field = page.locator('#lathe-answer');
  for (let i = 0; i < 20; i += 1) {
    const question = (await page.locator('.reply label').textContent()).trim();
    if (question.startsWith(until)) return;
    const before = await page.locator('.giant').textContent();
    const forecast = (await page.locator('.giant .lines').textContent()).match(/will show([\d.]+)/)?.[1] ?? '';
    const text = question.startsWith('air') ? '21.5' : question.startsWith('part') ? '24' : question.startsWith('gauge on its standard') ? '0' : question.startsWith('gauge on') ? forecast : '';
    await field.fill(text);
    await field.press('Enter');
    await page.waitForFunction((before) => document.querySelector('.giant')?.textContent.replace(/\d+:\d\d since/, '') !== before.replace(/\d+:\d\d since/, ''), before);
  }
}

test('the offline day: cut in mid-cut, forty entries, reload, closed tab, killed browser, back: nothing lost, order kept', async () => {
  const house = await staffed();
  const folder = mkdtempSync(join(tmpdir(), 'bushwright-tablet-'));
  let tablet = await lasting(folder, LAPTOP);
  let page = watched(tablet.pages()[0] ?? await tablet.newPage());
  await signIn(page, house.base, 'Runa');
  await page.evaluate(() => navigator.serviceWorker.ready);
  await newJob(page, 'OFF-40');
  await light(page, /^\W*saved$/);

  // In mid-cut on a practice bush as well: the dialogue stands where it was.
  await start(page, house.base);
  await page.getByRole('button', { name: /Ferry ramp winch/ }).click();
  await page.locator('.stages .done').first().waitFor();
  await stage(page, 'turn', 'inboard', true);
  await answer(page, 'cut made');
  const command = await page.locator('.giant .digits').first().textContent();
  await house.stop();
  await tablet.setOffline(true);
  await page.locator('#lathe-answer').press('Enter');
  await page.waitForFunction((before) => !document.querySelector('.reply label')?.textContent.startsWith('cut made'), command);
  const asked = await page.locator('.reply label').textContent();
  await page.reload();
  await page.locator('.giant').waitFor();
  check((await page.locator('.reply label').textContent()) === asked, 'after a reload the dialogue at the lathe stands where it was');

  await go(page, '#/job/OFF-40/seat%201/measure');
  await page.locator('#cell-0').waitFor();
  for (let i = 0; i < 20; i += 1) await type(page, i % 4, nth(i), i + 1);
  await light(page, 'offline: 20 kept here');
  await picture(page, 'offline-20', false);
  await page.reload();
  await rows(page, 20);
  for (let i = 20; i < 30; i += 1) await type(page, i % 4, nth(i), i + 1);
  await page.close();
  page = watched(await tablet.newPage());
  await page.goto(`${house.base}/#/job/OFF-40/seat%201/measure`);
  await rows(page, 30);
  for (let i = 30; i < 40; i += 1) await type(page, i % 4, nth(i), i + 1);
  await light(page, 'offline: 40 kept here');

  // The battery is flat: the browser gets no chance to put anything in order.
  await killed(tablet, folder);
  tablet = await lasting(folder, LAPTOP);
  await tablet.setOffline(true);
  page = watched(await tablet.newPage());
  await page.goto(`${house.base}/#/job/OFF-40/seat%201/measure`);
  await rows(page, 40);
  await light(page, 'offline: 40 kept here');
  await stage(page, 'brief', 'seat 1');
  await stage(page, 'measure', 'seat 1');
  await page.locator('.answer').filter({ hasText: '120.02' }).waitFor();
  await picture(page, 'offline-40-after-the-battery', false);

  await house.again();
  await tablet.setOffline(false);
  await light(page, /^\W*saved$/);
  check((await sizes(page)).join() === Array.from({ length: 40 }, (_, i) => shownSize(i)).join(), `the order here is ${await sizes(page)}`);
  const there = await page.evaluate(() => fetch('/api/jobs/OFF-40').then((answer) => answer.json()));
  const read = JSON.stringify(there).match(/"size_mm":([\d.]+)/g)?.map((text) => Number(text.split(':')[1])) ?? [];
  check(read.length === 40, `the server has ${read.length} readings`);
  check(read.every((size, i) => Math.abs(size - Number(nth(i))) < 1e-9), `the order there is ${read}`);
  check(page.faults.length === 0, page.faults.join('\n'));
  await tablet.close();
  await house.close();
  rmSync(folder, { recursive: true, force: true });
});

const shownSize = (i) => `${Number(nth(i)).toFixed(3)} mm`;

/** Ends the browser as a flat battery does. */
async function killed(tablet, folder) {
  const { execFileSync } = await import('node:child_process');
  const { readlinkSync } = await import('node:fs');
  const pid = Number(readlinkSync(join(folder, 'SingletonLock')).split('-').pop());
  check(pid > 1 && execFileSync('ps', ['-o', 'args=', '-p', String(pid)]).toString().includes(folder), `${pid} is not the browser of this test`);
  const gone = new Promise((done) => tablet.on('close', done));
  process.kill(pid, 'SIGKILL');
  await gone;
}

test('two tabs of one browser have the same entries, whoever wrote them', async ({ browser, base }) => {
  const page = await signedIn(browser, LAPTOP, base, 'Runa');
  await newJob(page, 'TABS-1');
  await stage(page, 'measure', 'seat 1');
  const other = watched(await page.context().newPage());
  await other.goto(`${base}/#/job/TABS-1/seat%201/measure`);
  await other.locator('#cell-0').waitFor();
  await page.context().setOffline(true);
  await type(page, 0, '80.001', 1);
  await rows(other, 1);
  await type(other, 0, '80.002', 2);
  await rows(page, 2);
  await Promise.all([type(page, 1, '80.003', 4), type(other, 1, '80.004', 4)]);
  await rows(page, 4);
  await rows(other, 4);
  await page.context().setOffline(false);
  await Promise.all([light(page, /^\W*saved$/), light(other, /^\W*saved$/)]);
  check((await sizes(page)).join() === (await sizes(other)).join(), `${await sizes(page)} and ${await sizes(other)}`);
  await ended(page);
  check(other.faults.length === 0, other.faults.join('\n'));
});

test('a page that is not served securely says so, and keeps what is written all the same', async () => {
  // Behind a proxy without a certificate: a name that the browser does not trust as it trusts loopback.
  const house = await staffed();
  const base = house.base.replace('127.0.0.1', 'shop.test');
  const folder = mkdtempSync(join(tmpdir(), 'bushwright-plain-'));
  let tablet = await lasting(folder, PHONE, ['--host-resolver-rules=MAP shop.test 127.0.0.1']);
  let page = watched(tablet.pages()[0]);
  await page.goto(`${base}/`);
  await page.locator('.strip').filter({ hasText: 'not served securely' }).waitFor();
  await newJob(page, 'PLAIN-1');
  await stage(page, 'measure', 'seat 1');
  await type(page, 0, '80.001', 1);
  await picture(page, 'phone-not-secure', false);
  await tablet.close();
  tablet = await lasting(folder, PHONE, ['--host-resolver-rules=MAP shop.test 127.0.0.1']);
  page = watched(tablet.pages()[0]);
  await page.goto(`${base}/#/job/PLAIN-1/seat%201/measure`);
  await rows(page, 1);
  check(page.faults.length === 0, page.faults.join('\n'));
  await tablet.close();
  await house.close();
  rmSync(folder, { recursive: true, force: true });
});
