// Several people: signing in, two on one seat, a server that comes back with what others wrote meanwhile.
import { LAPTOP, PASSWORD, PATIENCE, PHONE, check, ended, go, light, person, picture, signedIn, sound, staffed, stage, test } from './house.mjs';
import { newJob, type } from './offline.mjs';

const rows = (page, count) => page.waitForFunction((count) => document.querySelectorAll('.readings-table tbody tr.reading').length === count, count, { timeout: PATIENCE });
const sizes = (page) => page.locator('.readings-table tbody tr.reading td:nth-child(3)').allTextContents();

test('signing in: a wrong password gets a sentence, the right one is let in, signing out keeps what is here', async ({ browser, base }) => {
  const page = await person(browser, PHONE);
  await page.goto(`${base}/#/me`);
  await page.fill('#sign-name', 'Runa');
  await page.fill('#sign-password', 'not this one at all');
  await page.getByRole('button', { name: 'Sign in' }).click();
  await page.locator('form .bad').filter({ hasText: 'allowed:' }).waitFor();
  check((await page.inputValue('#sign-name')) === 'Runa', 'the name is still there');
  await sound(page, 'sign in refused');
  await page.fill('#sign-password', PASSWORD);
  await page.keyboard.press('Enter');
  await page.getByText('Signed in as Runa').waitFor();
  await newJob(page, 'IN-1');
  await light(page, /^\W*saved$/);
  await go(page, '#/me');
  await page.getByRole('button', { name: 'Sign out' }).click();
  await page.locator('#sign-name').waitFor();
  await light(page, 'signed out');
  await go(page, '#/job/IN-1/seat%201/measure');
  await type(page, 0, '80.001', 1);
  await light(page, 'signed out: 1 kept here');
  await ended(page);
});

test('two people on one seat see what the other records within two seconds', async ({ browser, base }) => {
  const runa = await signedIn(browser, LAPTOP, base, 'Runa');
  const odd = await signedIn(browser, PHONE, base, 'Odd');
  await newJob(runa, 'TWO-1');
  await stage(runa, 'measure', 'seat 1');
  await go(odd, '#/job/TWO-1/seat%201/measure');
  await odd.locator('#cell-0').waitFor();
  const waits = [];
  for (let i = 0; i < 3; i += 1) {
    for (const [writer, reader] of [[runa, odd], [odd, runa]]) {
      const count = waits.length + 1;
      await type(writer, i, `80.00${count}`, count);
      const begin = Date.now();
      await rows(reader, count);
      waits.push(Date.now() - begin);
    }
  }
  console.log(`  what one records is with the other after ${waits.join(', ')} ms`);
  check(Math.max(...waits) < 2000, `it took ${waits} ms`);
  check((await sizes(runa)).join() === (await sizes(odd)).join(), 'both have the same order');
  await sound(odd, 'signed in, on a phone');
  await ended(runa, odd);
});

test('a server that dies and returns with newer entries: nothing lost, order kept', async ({ browser }) => {
  const house = await staffed([['Odd', 'floor']]);
  const odd = await signedIn(browser, PHONE, house.base, 'Odd');
  await newJob(odd, 'BACK-1');
  await stage(odd, 'measure', 'seat 1');
  await type(odd, 0, '80.001', 1);
  await light(odd, /^\W*saved$/);
  await house.stop();
  await light(odd, 'offline');
  for (const [i, size] of ['80.002', '80.003', '80.004'].entries()) await type(odd, i, size, i + 2);
  await light(odd, 'offline: 3 kept here');
  // It is back, and another writes before this tablet is.
  await odd.context().setOffline(true);
  await house.again();
  const runa = await signedIn(browser, LAPTOP, house.base, 'Runa');
  await go(runa, '#/job/BACK-1/seat%201/measure');
  await rows(runa, 1);
  await type(runa, 0, '80.011', 2);
  await type(runa, 1, '80.012', 3);
  await light(runa, /^\W*saved$/);
  await odd.reload();
  await rows(odd, 4);
  await odd.context().setOffline(false);
  await light(odd, /^\W*saved$/);
  await rows(odd, 6);
  await rows(runa, 6);
  const [here, there] = [await sizes(odd), await sizes(runa)];
  const of = (list, start) => list.filter((size) => size.startsWith(start)).join();
  check([...here].sort().join() === [...there].sort().join(), `${here} and ${there}`);
  for (const list of [here, there]) {
    check(of(list, '80.00') === '80.001 mm,80.002 mm,80.003 mm,80.004 mm', `the order of one is kept: ${list}`);
    check(of(list, '80.01') === '80.011 mm,80.012 mm', `and of the other: ${list}`);
  }
  await picture(odd, 'phone-back-again', false);
  await ended(odd, runa);
  await house.close();
});

test('a server that was put back to an older state and written on: the device keeps everything and offers it again', async ({ browser }) => {
  const house = await staffed([['Odd', 'floor']]);
  const odd = await signedIn(browser, PHONE, house.base, 'Odd');
  const runa = await signedIn(browser, LAPTOP, house.base, 'Runa');
  await newJob(odd, 'OLD-1');
  await stage(odd, 'measure', 'seat 1');
  await type(odd, 0, '80.001', 1);
  await light(odd, /^\W*saved$/);
  await go(runa, '#/job/OLD-1/seat%201/measure');
  await rows(runa, 1);
  await house.stop();
  house.keep();
  await house.again();
  await type(odd, 1, '80.002', 2);
  await type(odd, 2, '80.003', 3);
  await light(odd, /^\W*saved$/);
  await house.stop();
  await odd.context().setOffline(true);
  house.putBack();
  await house.again();
  // Another browser of Runa, which never saw what was lost, writes three on the older state.
  const fresh = await signedIn(browser, LAPTOP, house.base, 'Runa');
  await go(fresh, '#/job/OLD-1/seat%201/measure');
  await fresh.locator('#cell-0').waitFor();
  await runa.context().close();
  const there = await fresh.locator('.readings-table tbody tr.reading').count();
  for (let i = 0; i < 3; i += 1) await type(fresh, i, `80.01${i}`, there + i + 1);
  await light(fresh, /^\W*saved$/);
  await odd.context().setOffline(false);
  await rows(odd, 6);
  await light(odd, /^\W*saved$/);
  await rows(fresh, 6);
  check([...await sizes(odd)].sort().join() === [...await sizes(fresh)].sort().join(), 'both have all six');
  await picture(odd, 'phone-put-back', false);
  await ended(odd, fresh);
  await house.close();
});
