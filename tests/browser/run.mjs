// The app as a person uses it: by clicks and keys, on a phone and a laptop, with and without the network.
//
// `node run.mjs` runs all, `node run.mjs WORD` those whose name holds the word. Pictures of every screen stay in target/pictures.
import { LAPTOP, PHONE, STAGES, browser as launch, check, ferry, person, picture, served, shop, sound, stage, start, watched } from './house.mjs';

const tests = [];
const test = (name, run) => tests.push({ name, run });
const SIZES = [['phone', PHONE], ['laptop', LAPTOP]];

for (const [size, viewport] of SIZES) {
  for (const theme of ['light', 'dark']) {
    test(`every screen is sound and has its picture, ${size}, ${theme}`, async ({ browser, base }) => {
      const page = await person(browser, viewport, theme);
      await start(page, base);
      await sound(page, 'start');
      await picture(page, `${size}-${theme}-start`);
      for (const [place, word] of [['#/new', 'new job'], ['#/me', 'you']]) {
        await page.evaluate((place) => { location.hash = place; }, place);
        await page.waitForSelector('.page.narrow h1');
        await sound(page, word);
        await picture(page, `${size}-${theme}-${word.replace(' ', '-')}`);
      }
      await ferry(page, base);
      await sound(page, 'the whole seat');
      await picture(page, `${size}-${theme}-whole`);
      for (const name of STAGES) {
        await stage(page, name);
        await sound(page, name);
        await picture(page, `${size}-${theme}-${name}`);
      }
      for (const name of ['turn', 'seat', 'bore']) {
        await stage(page, name, 'inboard', true);
        await page.waitForSelector('.giant');
        await sound(page, `${name} at arm's length`);
        await picture(page, `${size}-${theme}-${name}-large`, false);
      }
      check(page.faults.length === 0, page.faults.join('\n'));
      await page.context().close();
    });
  }

  test(`a bush is turned by keys into its band, ${size}`, async ({ browser, base }) => {
    const page = await person(browser, viewport);
    await ferry(page, base);
    await stage(page, 'turn', 'inboard', true);
    const field = page.locator('#lathe-answer');
    const asked = async () => (await page.locator('.reply label').textContent()).trim();
    const todo = async () => (await page.locator('.giant .todo').textContent()).trim();
    let [cuts, forecast] = [0, ''];
    for (let i = 0; i < 60 && (await todo()) !== 'Landed'; i += 1) {
      const question = await asked();
      const shows = (await page.locator('.giant .lines').textContent()).match(/will show([\d.]+)/);
      if (shows) forecast = shows[1];
      const before = await page.locator('.giant').textContent();
      let answer = '';
      if (question.startsWith('air')) answer = '21.5';
      else if (question.startsWith('part')) answer = '24';
      else if (question.startsWith('gauge on its standard')) answer = '0';
      else if (question.startsWith('gauge on the part')) answer = forecast;
      else if (question.startsWith('cut made')) cuts += 1;
      else if (question.startsWith('done')) answer = forecast;
      if (cuts === 1 && question.startsWith('cut made')) await picture(page, `${size}-turn-command`, false);
      await field.fill(answer);
      await field.press('Enter');
      await page.waitForFunction((before) => document.querySelector('.giant')?.textContent.replace(/\d+:\d\d since/, '') !== before.replace(/\d+:\d\d since/, ''), before);
    }
    check((await todo()) === 'Landed', `it did not land: ${await page.locator('.giant').textContent()}`);
    check(cuts === 3, `${cuts} cuts were made`);
    await picture(page, `${size}-turn-landed`, false);
    await page.getByRole('button', { name: 'Accept the part' }).click();
    await page.waitForFunction(() => document.querySelector('.giant .todo')?.textContent === 'This part is over');
    await stage(page, 'release');
    await page.waitForFunction(() => /outside of the bush/.test(document.querySelector('.stage').textContent));
    check(page.faults.length === 0, page.faults.join('\n'));
    await page.context().close();
  });
}

test('what is tried stands beside what is recorded, and is recorded only when it is said', async ({ browser, base }) => {
  const page = await person(browser, LAPTOP);
  await ferry(page, base);
  await stage(page, 'fit');
  const before = await page.locator('.answer').first().textContent();
  const field = page.locator('#f-housing-outside');
  await field.fill('300');
  await page.waitForSelector('.answer.now');
  await page.waitForFunction((before) => document.querySelector('.answer.now').textContent.replace('trying', '') !== before, before);
  check((await page.locator('.answer.was').textContent()).includes(before), 'the recorded answer is out of sight');
  await picture(page, 'laptop-trying', false);
  await sound(page, 'trying');
  await page.locator('.trying').getByRole('button', { name: 'Put back' }).click();
  await page.waitForSelector('.answer.now', { state: 'detached' });
  check((await field.inputValue()).startsWith('420'), `the field is ${await field.inputValue()}`);
  await field.fill('300');
  await page.locator('.trying').getByRole('button', { name: 'Record' }).click();
  await page.waitForSelector('.trying', { state: 'detached' });
  await page.waitForFunction((before) => document.querySelector('.answer').textContent !== before, before);
  await page.reload();
  await page.waitForSelector('#f-housing-outside');
  await page.waitForFunction(() => document.querySelector('#f-housing-outside').value === '300');
  check(page.faults.length === 0, page.faults.join('\n'));
  await page.context().close();
});

test('bad input in every field gets one sentence and is not lost', async ({ browser, base }) => {
  const page = await person(browser, LAPTOP);
  await ferry(page, base);
  let fields = 0;
  for (const name of STAGES.slice(0, 8)) {
    await stage(page, name);
    await page.evaluate(() => document.querySelectorAll('#main details.group').forEach((one) => { one.open = true; }));
    for (const field of await page.locator('.field:visible input.figure[id^="f-"]').all()) {
      for (const bad of ['12 parsecs', '-1e300', '±']) {
        await field.fill(bad);
        const said = field.locator('xpath=ancestor::div[contains(concat(" ", @class, " "), " field ")]').locator('.bad');
        await said.filter({ hasText: 'allowed:' }).waitFor();
        check((await field.inputValue()) === bad, `${await field.getAttribute('id')}: what was typed is lost`);
      }
      fields += 1;
      await field.fill('');
    }
    const back = page.locator('.trying').getByRole('button', { name: 'Put back' });
    if (await back.count()) await back.click();
  }
  check(fields > 45, `only ${fields} fields were found`);
  check(page.faults.length === 0, page.faults.join('\n'));
  await page.context().close();
});

test('a gauge that types fills the grid, and a reading that stands out is marked at once', async ({ browser, base }) => {
  const page = await person(browser, LAPTOP);
  await start(page, base);
  await page.getByRole('link', { name: 'Start a job' }).first().click();
  await page.fill('#job-number', 'T-1');
  await page.fill('#job-seats', 'drive end');
  await page.getByRole('button', { name: 'Start the job' }).click();
  await page.waitForSelector('.stages');
  await stage(page, 'measure', 'drive end');
  await page.fill('#r-stations', '10 50 90');
  await page.locator('#r-stations').press('Tab');
  await page.waitForSelector('#cell-11');
  await page.focus('#cell-0');
  const sizes = ['80.012', '80.014', '80.011', '80.013', '80.012', '80.013', '80.062', '80.013', '80.011', '80.013', '80.012', '80.012'];
  for (const [i, size] of sizes.entries()) {
    await page.keyboard.type(`${size}`);
    await page.keyboard.press('Enter');
    if (i + 1 < sizes.length) await page.waitForFunction((i) => document.activeElement?.id === `cell-${i + 1}`, i);
  }
  await page.waitForFunction(() => document.querySelectorAll('.readings-table tbody tr').length === 12);
  await page.waitForSelector('tr.odd');
  check((await page.locator('tr.odd').count()) === 1, 'one reading stands out');
  check(/stands out by .*µm: take it again/.test(await page.locator('tr.odd').textContent()), await page.locator('tr.odd').textContent());
  await picture(page, 'laptop-odd-reading');
  await page.getByRole('button', { name: 'Take back the last reading' }).click();
  await page.waitForFunction(() => document.querySelectorAll('tr.dropped').length === 1);
  check((await page.locator('.readings-table tbody tr').count()) === 12, 'undo takes nothing away: both stay in sight');
  check(page.faults.length === 0, page.faults.join('\n'));
  await page.context().close();
});

test('the offline day: forty entries, a reload, another tab, nothing lost', async ({ browser, base }) => {
  const page = await person(browser, LAPTOP);
  await start(page, base);
  await page.evaluate(() => navigator.serviceWorker.ready);
  await page.reload();
  await page.waitForSelector('.demos');
  await page.evaluate(() => { location.hash = '#/new'; });
  await page.fill('#job-number', 'OFF-40');
  await page.getByRole('button', { name: 'Start the job' }).click();
  await page.waitForSelector('.stages');
  await page.context().setOffline(true);
  await stage(page, 'measure', 'seat 1');
  for (let row = 0; row < 4; row += 1) {
    await page.focus('#cell-0');
    await page.evaluate(() => document.querySelectorAll('.cells input').forEach((one) => { one.value = ''; }));
    const lines = Array.from({ length: 10 }, (_, i) => (120 + (row * 10 + i) / 1000).toFixed(3)).join('\n');
    await page.locator('.new-set details summary').first().click();
    await page.fill('#r-paste', lines);
    await page.getByRole('button', { name: 'Record these' }).click();
    await page.waitForFunction((count) => document.querySelectorAll('.readings-table tbody tr').length === count, (row + 1) * 10);
    await page.locator('.new-set details summary').first().click();
  }
  const light = await page.locator('.light').textContent();
  check(/kept here/.test(light), `the light says ${light}`);
  await page.reload();
  await page.waitForFunction(() => document.querySelectorAll('.readings-table tbody tr').length === 40);
  const order = await page.locator('.readings-table tbody tr td:nth-child(3)').allTextContents();
  check(order.every((text, i) => text.startsWith(`120${i ? `.${String(i).padStart(3, '0').replace(/0+$/, '')}` : ''}`)), `the order is ${order.slice(0, 12)}`);
  const other = watched(await page.context().newPage());
  await other.goto(`${base}/#/job/OFF-40/seat%201/measure`);
  await other.waitForFunction(() => document.querySelectorAll('.readings-table tbody tr').length === 40);
  await page.focus('#cell-0');
  await page.keyboard.type('120.500');
  await page.keyboard.press('Enter');
  await other.waitForFunction(() => document.querySelectorAll('.readings-table tbody tr').length === 41);
  check(page.faults.length === 0 && other.faults.length === 0, [...page.faults, ...other.faults].join('\n'));
  await page.context().close();
});

test('two people on one seat, a server that dies and comes back: nothing lost, order kept', async ({ browser }) => {
  const house = await shop();
  const runa = await person(browser, LAPTOP);
  await runa.goto(`${house.base}/#/owner/${house.code}`);
  await runa.fill('#owner-name', 'Runa');
  await runa.fill('#owner-password', 'three words apart');
  await runa.getByRole('button', { name: 'Make it mine' }).click();
  await runa.waitForSelector('.demos');
  const added = await runa.evaluate(() => fetch('/api/people', {
    method: 'POST', headers: { 'Content-Type': 'application/json' }, body: JSON.stringify({ name: 'Odd', roles: ['floor'], password: 'other words apart' }),
  }).then((answer) => answer.status));
  check(added < 300, `Odd could not be added: ${added}`);
  const odd = await person(browser, PHONE);
  await odd.goto(`${house.base}/#/me`);
  await odd.fill('#sign-name', 'Odd');
  await odd.fill('#sign-password', 'other words apart');
  await odd.getByRole('button', { name: 'Sign in' }).click();
  await odd.getByText('Signed in as Odd').waitFor();

  await runa.evaluate(() => { location.hash = '#/new'; });
  await runa.fill('#job-number', 'TWO-1');
  await runa.getByRole('button', { name: 'Start the job' }).click();
  await stage(runa, 'measure', 'seat 1');
  await odd.evaluate(() => { location.hash = '#/job/TWO-1/seat%201/measure'; });
  await odd.waitForSelector('#cell-0');
  const begin = Date.now();
  await runa.focus('#cell-0');
  await runa.keyboard.type('80.012');
  await runa.keyboard.press('Enter');
  await odd.waitForFunction(() => document.querySelectorAll('.readings-table tbody tr').length === 1);
  console.log(`  what one records is with the other after ${Date.now() - begin} ms`);

  await house.stop();
  for (const size of ['80.013', '80.014', '80.015']) {
    await odd.locator('.cells input').first().fill(size);
    await odd.locator('.cells input').first().press('Enter');
  }
  await odd.waitForFunction(() => document.querySelector('.light').textContent.includes('offline: 3 kept here'));
  await odd.reload();
  await odd.waitForFunction(() => document.querySelectorAll('.readings-table tbody tr').length === 4);
  await house.again();
  await odd.waitForFunction(() => document.querySelector('.light').textContent.includes('saved'), undefined, { timeout: 20_000 });
  await runa.waitForFunction(() => document.querySelectorAll('.readings-table tbody tr').length === 4);
  const order = await runa.locator('.readings-table tbody tr td:nth-child(3)').allTextContents();
  check(order.join() === '80.012 mm,80.013 mm,80.014 mm,80.015 mm', `the order is ${order}`);
  await sound(odd, 'signed in, on a phone');
  check(runa.faults.length === 0 && odd.faults.length === 0, [...runa.faults, ...odd.faults].join('\n'));
  await runa.context().close();
  await odd.context().close();
  await house.close();
});

test('everything is reached by keyboard alone, at 320 px and at 4K, and prints', async ({ browser, base }) => {
  const page = await person(browser, { width: 320, height: 640 });
  await start(page, base);
  await page.keyboard.press('Tab');
  check((await page.evaluate(() => document.activeElement.className)) === 'skip', 'the first stop skips to the work');
  for (let i = 0; i < 40 && !/Ferry/.test(await page.evaluate(() => document.activeElement.textContent)); i += 1) await page.keyboard.press('Tab');
  await page.keyboard.press('Enter');
  await page.waitForSelector('.stages .done');
  await stage(page, 'fit');
  await sound(page, '320 px');
  await page.setViewportSize({ width: 3840, height: 2160 });
  await stage(page, 'measure');
  await sound(page, '4K');
  await picture(page, 'wide-measure', false);
  await page.emulateMedia({ media: 'print' });
  await picture(page, 'print-measure');
  await page.context().close();
});

test('the speeds of the browser are told', async ({ browser, base }) => {
  const page = await person(browser, LAPTOP);
  const begin = Date.now();
  await start(page, base);
  const first = Date.now() - begin;
  await page.getByRole('button', { name: /Turbine guide vanes/ }).click();
  await page.waitForSelector('.stages .done');
  await page.waitForFunction(() => ![...document.querySelectorAll('#seat option')].some((one) => one.textContent.startsWith('·')));
  const switched = await page.evaluate(async () => {
    const times = [];
    for (let i = 0; i < 20; i += 1) {
      const begin = performance.now();
      document.querySelector('button[aria-label="Seat after"]').click();
      await new Promise((done) => addEventListener('hashchange', () => requestAnimationFrame(() => setTimeout(done)), { once: true }));
      times.push(performance.now() - begin);
    }
    return times.sort((a, b) => a - b)[10];
  });
  const memory = await page.evaluate(() => performance.memory?.usedJSHeapSize ?? 0);
  console.log(`  first load to usable ${first} ms; switching seats ${switched.toFixed(0)} ms; JavaScript heap ${(memory / 1e6).toFixed(0)} MB`);
  await page.context().close();
});

const wanted = process.argv[2] ?? '';
const { base, close } = await served();
const browser = await launch();
let failed = 0;
for (const { name, run } of tests.filter(({ name }) => name.includes(wanted))) {
  const begin = Date.now();
  try {
    await run({ browser, base });
    console.log(`holds  ${name} (${((Date.now() - begin) / 1000).toFixed(1)} s)`);
  } catch (fault) {
    failed += 1;
    console.log(`FAILS  ${name}\n${String(fault.message ?? fault).slice(0, 2500)}`);
    for (const context of browser.contexts()) {
      for (const page of context.pages()) await picture(page, `failed-${failed}`).catch(() => {});
      await context.close();
    }
  }
}
await browser.close();
close();
process.exitCode = failed ? 1 : 0;
