// The shop and looking back: cards by keys and clicks, refusals at their fields, what comes of it in a job; and pictures of every screen
// in every setting that a person may have.
//
// `node shop.mjs` runs all, `node shop.mjs WORD` those whose name holds the word. Pictures stay in target/pictures.
import { LAPTOP, PHONE, STAGES, browser as launch, check, ferry, person, picture, served, sound, stage, start } from './house.mjs';

const tests = [];
const test = (name, run) => tests.push({ name, run });
const SETTINGS = [
  ['phone', PHONE, 'light', {}],
  ['phone-dark', PHONE, 'dark', {}],
  ['floor', PHONE, 'light', {}],
  ['wide', { width: 1440, height: 900 }, 'light', {}],
  ['wide-dark', { width: 1440, height: 900 }, 'dark', {}],
  ['zoomed', { width: 720, height: 450 }, 'light', { deviceScaleFactor: 2 }],
  ['4k', { width: 3840, height: 2160 }, 'light', {}],
];

async function go(page, place, heading) {
  await page.evaluate((place) => { location.hash = place; }, place);
  await page.waitForFunction((heading) => document.querySelector('h1')?.textContent === heading, heading);
}

/** Fills the form that is open: label to text; a list is of buttons to press. */
async function fill(page, values) {
  for (const [label, value] of Object.entries(values)) {
    if (Array.isArray(value)) {
      for (const word of value) await page.locator('.card-form').getByRole('button', { name: word, exact: true }).click();
      continue;
    }
    const field = page.locator('.card-form').getByLabel(label, { exact: true });
    if ((await field.evaluate((one) => one.tagName)) === 'SELECT') await field.selectOption({ label: value });
    else await field.fill(value);
  }
}

async function record(page) {
  await page.locator('.card-form').getByRole('button', { name: 'Record' }).click();
  await page.waitForFunction(() => !document.querySelector('.card-form'));
}

async function add(page, deed, values) {
  await page.getByRole('button', { name: deed, exact: true }).click();
  await fill(page, values);
  await record(page);
}

/** What the browser complained of; that files alone were served is no fault. */
const complaints = (page) => page.faults.filter((fault) => !/404 \(Not Found\)/.test(fault));

const day = (days) => new Date(Date.now() + days * 86_400_000).toISOString().slice(0, 10);

/** A small shop: two gauges, one of them out of date, and one of everything else. */
async function furnish(page) {
  await go(page, '#/shop', 'Shop');
  const gauge = { 'smallest size': '160', 'largest size': '250', 'smallest step': '0.002', 'repeats within, if known': '0.004' };
  await add(page, 'Add a gauge', { name: 'bore gauge', 'what it is, if known': 'two-point bore gauge, No 7', ...gauge });
  await page.getByRole('button', { name: 'Record a check: bore gauge' }).click();
  await fill(page, { 'checked on': day(-400), 'good until': day(-35), 'against what, if known': 'setting ring 200, No 4', 'certificate, if known': 'K 118', 'doubt of the correction': '0.0015', 'correction table, if known': '160 0.001\n240 -0.003' });
  await record(page);
  await add(page, 'Add a gauge', { name: 'micrometer', 'what it is, if known': 'outside micrometer 225-250, No 3', ...gauge });
  await page.getByRole('button', { name: 'Record a check: micrometer' }).click();
  await fill(page, { 'checked on': day(-30), 'good until': day(335), 'doubt of the correction': '0.001' });
  await record(page);
  await add(page, 'Add a lathe', { name: 'large lathe', holds: '36', 'repeats within': '8', swings: '600', 'between centres': '2000' });
  await add(page, 'Add a press', { name: '200 t press', force: '2000', daylight: '900' });
  await add(page, 'Add a blank', { name: 'bar 7', alloy: 'CC493K leaded gunmetal', kind: 'cored bar', outside: '260', 'inside, if known': '190', length: '800', 'lot, if known': 'L 2241', 'certificate, if known': '3.1 / 8817', 'price of all of it': '1850', 'came on': day(-90) });
  await page.getByRole('button', { name: 'Cut a length off: bar 7' }).click();
  await fill(page, { 'length with the cut': '195', 'for which job, if known': 'W-2611' });
  await record(page);
  await add(page, 'Add a customer', { name: 'Lake ferries', 'about, if known': 'the workshop at the landing stage; boats leave at six' });
  await add(page, 'Add a person', { name: 'A. Turner', roles: ['floor', 'office'] });
}

/** What was measured on a seat of the winch after its bush was made: outside, bore before and after it went in. */
async function made(page, seat, outside, before, after) {
  const read = async (at, feature, size) => {
    await stage(page, at, seat);
    await page.waitForFunction(() => document.querySelector('.settling')?.textContent === '');
    const pick = page.getByRole('button', { name: feature, exact: true });
    if (await pick.count()) await pick.click();
    await page.locator('.cells input').first().fill(size);
    await page.locator('.cells input').first().press('Enter');
    await page.waitForFunction((size) => [...document.querySelectorAll('.readings-table td')].some((cell) => cell.textContent.includes(size)), size);
  };
  await read('turn', 'bush outside', outside);
  await read('turn', 'bush bore', before);
  await read('bore', 'fitted bore', after);
}

test('cards are added, changed, refused at their field and retired', async ({ browser, base }) => {
  const page = await person(browser, LAPTOP);
  await start(page, base);
  await go(page, '#/shop', 'Shop');
  await sound(page, 'the empty shop');
  await picture(page, 'shop-empty');
  await page.getByRole('button', { name: 'Add a gauge', exact: true }).click();
  await fill(page, { name: 'bore gauge', 'smallest size': '300', 'largest size': '250', 'smallest step': 'fine' });
  await page.locator('.card-form').getByRole('button', { name: 'Record' }).click();
  await page.waitForFunction(() => /smallest step is "fine"/.test(document.querySelector('#card-resolution_mm-bad').textContent));
  check((await page.getByLabel('smallest step').inputValue()) === 'fine', 'what was typed is gone');
  await sound(page, 'a refused card');
  await picture(page, 'shop-refused');
  await fill(page, { 'smallest step': '0.002' });
  await page.locator('.card-form').getByRole('button', { name: 'Record' }).click();
  await page.waitForFunction(() => /largest size is 250/.test(document.querySelector('#card-high_mm-bad').textContent));
  await page.getByRole('button', { name: 'Leave it' }).click();
  await furnish(page);
  await page.waitForFunction(() => /out of date since/.test(document.querySelector('.need').textContent));
  await sound(page, 'the shop');
  await page.getByRole('button', { name: 'Change: large lathe' }).click();
  await fill(page, { holds: '30' });
  await sound(page, 'a card that is changed');
  await record(page);
  await page.waitForFunction(() => [...document.querySelectorAll('.kept')].some((card) => /large lathe/.test(card.textContent) && /30 µm/.test(card.textContent)));
  await page.getByRole('button', { name: 'Retire: 200 t press' }).click();
  await fill(page, { 'because, if known': 'sold' });
  await record(page);
  await page.waitForFunction(() => /retired: sold/.test(document.body.textContent));
  await page.reload();
  await page.waitForFunction(() => /retired: sold/.test(document.body.textContent));
  await page.getByRole('button', { name: 'inch', exact: true }).click();
  await page.waitForFunction(() => [...document.querySelectorAll('.kept')].some((card) => /200 t press/.test(card.textContent) && /lbf/.test(card.textContent)));
  check(complaints(page).length === 0, complaints(page).join('\n'));
  await page.context().close();
});

test('a card is written by keys alone', async ({ browser, base }) => {
  const page = await person(browser, LAPTOP);
  await start(page, base);
  await go(page, '#/shop', 'Shop');
  const reach = async (holds) => {
    for (let i = 0; i < 80; i += 1) {
      if (await page.evaluate(holds)) return;
      await page.keyboard.press('Tab');
    }
    throw new Error(`not reached by Tab: ${holds}`);
  };
  await reach(() => document.activeElement?.textContent === 'Add a customer');
  await page.keyboard.press('Enter');
  await page.waitForFunction(() => document.activeElement?.id === 'card-title');
  await page.keyboard.press('Tab');
  await page.keyboard.type('Lake ferries');
  await page.keyboard.press('Tab');
  await page.keyboard.type('boats leave at six');
  await page.keyboard.press('Enter');
  await page.waitForFunction(() => /boats leave at six/.test(document.querySelector('.kept')?.textContent ?? ''));
  await page.waitForFunction(() => document.activeElement?.id === 'shelf-customer');
  check(complaints(page).length === 0, complaints(page).join('\n'));
  await page.context().close();
});

test('readings at the press are kept and say how it goes', async ({ browser, base }) => {
  const page = await person(browser, PHONE);
  await start(page, base);
  await page.getByRole('button', { name: /Excavator link pin/ }).click();
  await page.waitForSelector('.stages .done');
  const seat = await page.evaluate(() => document.querySelector('.stages a').hash.split('/')[3]);
  await stage(page, 'seat', seat);
  const read = async (travel, force) => {
    await page.getByLabel('travel from first touch').fill(travel);
    await page.getByLabel('force', { exact: true }).fill(force);
    await page.getByRole('button', { name: 'Keep the reading' }).click();
  };
  await read('1', 'much');
  await page.waitForFunction(() => /the force is "much"/.test(document.querySelector('.pressed').textContent));
  await read('1', '1200');
  await page.waitForFunction(() => /1 reading since/.test(document.querySelector('.pressed').textContent));
  await page.waitForFunction(() => /by the readings so far/.test(document.querySelector('.lines').parentElement.textContent));
  await page.evaluate(() => scrollTo(0, 0));
  await sound(page, 'the press');
  await picture(page, 'phone-press');
  check(complaints(page).length === 0, complaints(page).join('\n'));
  await page.context().close();
});

for (const [name, viewport, theme, options] of SETTINGS) {
  test(`every screen has its picture and is sound, ${name}`, async ({ browser, base }) => {
    const page = await person(browser, viewport, theme, options);
    if (name === 'floor') await page.addInitScript(() => localStorage.setItem('theme', 'floor'));
    const faults = [];
    const look = async (what, whole = true) => {
      await sound(page, what).catch((fault) => faults.push(fault.message));
      await picture(page, `all-${name}-${what.replaceAll(' ', '-')}`, whole);
    };
    await page.goto(`${base}/`);
    await page.waitForSelector('.demos');
    await look('empty start');
    await go(page, '#/back', 'Looking back');
    await look('empty back');
    for (const [place, heading] of [['#/new', 'Start a job'], ['#/me', 'You, at this browser']]) {
      await go(page, place, heading);
      await look(heading.split(' ')[0]);
    }
    await furnish(page);
    await look('shop');
    await page.getByRole('button', { name: 'Change: bar 7' }).click();
    await look('shop form');
    await start(page, base);
    await ferry(page, base);
    await look('whole');
    for (const of of STAGES) {
      await stage(page, of);
      await page.waitForFunction(() => document.querySelector('.settling')?.textContent === '');
      await look(of);
    }
    for (const of of ['turn', 'seat', 'bore']) {
      await stage(page, of, 'inboard', true);
      await page.waitForSelector('.giant');
      await look(`${of} large`, false);
    }
    await page.evaluate(() => { location.hash = '#/'; });
    await page.waitForSelector('.demos');
    await page.getByRole('button', { name: /Crusher pitman/ }).click();
    await page.waitForSelector('.stages .done');
    await page.evaluate(() => { location.hash = document.querySelector('.stages li:nth-child(7) a').hash; });
    await page.waitForFunction(() => document.querySelector('.settling')?.textContent === '' && document.querySelector('#stage-title')?.textContent.includes('Seat'));
    await look('seat cold');
    await page.evaluate(() => { location.hash += '/large'; });
    await page.waitForSelector('.giant');
    await look('seat cold large', false);
    const clock = page.locator('.clock');
    await clock.getByRole('button', { name: 'In the bath' }).click();
    await clock.getByRole('button', { name: /clock starts/ }).click();
    // The present moment lies on the picture of the gap, and moves.
    await page.locator('.now-mark text').filter({ hasText: 'now 0:' }).waitFor();
    const mark = await page.locator('.now-mark').innerHTML();
    await page.waitForFunction((mark) => document.querySelector('.now-mark').innerHTML !== mark, mark);
    await look('seat cold now', false);
    await page.evaluate(() => { location.hash = '#/job/practice%20W-2611/inboard/turn'; });
    await page.waitForFunction(() => document.querySelector('#stage-title')?.textContent.includes('Turn'));
    await made(page, 'inboard', '240.131', '209.501', '209.418');
    await made(page, 'outboard', '240.145', '209.501', '209.396');
    await go(page, '#/back', 'Looking back');
    await page.waitForFunction(() => !/Going through/.test(document.body.textContent), null, { timeout: 60_000 });
    await look('back');
    if (name === 'wide') {
      await page.emulateMedia({ media: 'print' });
      for (const of of ['fit', 'seat', 'release']) {
        await page.evaluate((of) => { location.hash = `#/job/practice%20W-2611/inboard/${of}`; }, of);
        await page.waitForFunction((of) => document.querySelector('#stage-title')?.textContent.toLowerCase().includes(of), of);
        await page.waitForFunction(() => document.querySelector('.settling')?.textContent === '');
        await picture(page, `all-print-${of}`);
      }
      await go(page, '#/shop', 'Shop');
      await picture(page, 'all-print-shop');
    }
    faults.push(...complaints(page));
    check(faults.length === 0, faults.join('\n'));
    await page.context().close();
  });
}

const wanted = process.argv[2] ?? '';
const site = await served();
const browser = await launch();
let failed = 0;
for (const { name, run } of tests.filter((one) => one.name.includes(wanted))) {
  try {
    await run({ browser, base: site.base });
    console.log(`ok      ${name}`);
  } catch (fault) {
    failed += 1;
    console.log(`FAILED  ${name}\n        ${process.env.WHOLE ? fault.stack : fault.message}`);
  }
}
await browser.close();
site.close();
process.exit(failed ? 1 : 0);
