// The whole ferry-winch job, from an empty shop to the signed release and its PDF, by clicks and keys alone.
import { readFileSync } from 'node:fs';
import { LAPTOP, PHONE, check, ended, go, launch, light, person, picture, shop, sound, test, PASSWORD } from './house.mjs';

const BRIEF = {
  machine: 'ramp winch, drum pedestal',
  failed: 'bushes worn oval on the loaded side, 0.9 mm; grease came late after each winter lay-up',
  'duty-load': '180', 'duty-peak_load': '310', 'duty-motion': 'rotation', 'duty-speed': '9', 'duty-lubrication': 'grease',
  'duty-relube': 'marginal', 'duty-dirt': 'dusty', 'duty-shock': 'moderate', 'duty-oil_vg': '220', 'duty-sea_water': 'yes', 'duty-intermittent': 'yes',
};
const STATES = {
  'cold start': { bush: '-20', housing: '-20', journal: '-20' },
  running: { bush: '60', housing: '45', journal: '62' },
};
const GAUGES = {
  stick: { name: 'inside micrometer with extension rods, no. 14', resolution: '0.001', repeatability: '0.003', repeats: '22', correction: '0.002 ± 0.002 mm', temperature: '22', thermometer: '0.4', due: '2027-03-31' },
  ring: { name: 'outside micrometer 200-225, no. 9', resolution: '0.001', repeatability: '0.002', repeats: '18', correction: '0.000 ± 0.002 mm', temperature: '22', due: '2027-03-31' },
};
const BORE = `240.062 31.6;240.069 31.5;240.043 31.4;240.039 31.4;240.068 31.3;240.072 31.2;240.052 31.1;240.039 31.0;240.069 31.0;240.072 30.9;240.049 30.8;240.044 30.7`.split(';');
const JOURNAL = ['207.981', '207.979', '207.980', '207.982'];

/** A person at a screen: fields by their words, keys, buttons. */
function hands(page) {
  const opened = async (field) => {
    await field.waitFor({ state: 'attached' });
    await field.evaluate((one) => { for (let fold = one.closest('details'); fold; fold = fold.parentElement.closest('details')) fold.open = true; });
  };
  const fill = async (id, text) => {
    const field = page.locator(`[id="${id}"]`);
    await opened(field);
    if (await field.evaluate((one) => one.tagName) === 'SELECT') await field.selectOption(text);
    else await field.fill(text);
  };
  const give = async (fields, prefix = '') => {
    for (const [key, text] of Object.entries(fields)) await fill(`f-${prefix}${key}`, text);
  };
  const record = async () => {
    await page.locator('.trying').getByRole('button', { name: 'Record' }).click();
    await page.locator('.trying').waitFor({ state: 'detached' });
  };
  const name = async (section, word) => {
    const field = page.locator(`#new-${section}`);
    await opened(field);
    await field.fill(word);
    await field.press('Enter');
  };
  const decide = async (question, answer, because) => {
    const form = page.locator(`form.decide:has([id="d-${question}-because"])`);
    await opened(form.locator(`[id="d-${question}-because"]`));
    for (const [part, text] of Object.entries(answer)) await fill(`d-${question}-${part}`, text);
    await fill(`d-${question}-because`, because);
    await form.getByRole('button', { name: 'Record the decision' }).click();
    await form.locator('.taken').waitFor();
  };
  const stage = async (word) => {
    // On a phone the column stands on the page of the whole seat; the links under a stage lead on.
    const link = page.locator('.stages a').filter({ has: page.locator('.name', { hasText: new RegExp(`^${word}$`, 'i') }) });
    if (!(await link.isVisible())) await page.locator('.neighbours .all').click();
    await link.click();
    await page.waitForFunction((word) => document.querySelector('#stage-title')?.textContent.toLowerCase().includes(word), word);
    await page.waitForFunction(() => !document.querySelector('.answer')?.textContent.includes('Working it out'));
  };
  const done = (stage) => page.locator('.stages li.done').filter({ has: page.locator('.name', { hasText: new RegExp(`^${stage}$`, 'i') }) }).waitFor({ state: 'attached' });
  return { fill, give, record, name, decide, stage, done, opened };
}

/** Reads a feature by a gauge that types: digits, Enter, the next cell waits. */
async function read(page, feature, gauge, stations, angles, sizes, part) {
  const { fill } = hands(page);
  await page.getByRole('button', { name: feature, exact: true }).click();
  await fill('r-gauge', gauge);
  if (part) await fill('r-part', part);
  await page.fill('#r-stations', stations);
  await page.locator('#r-stations').press('Tab');
  await page.fill('#r-angles', angles);
  await page.locator('#r-angles').press('Tab');
  await page.locator(`#cell-${sizes.length - 1}`).waitFor();
  await page.focus('#cell-0');
  const before = await page.locator('.readings-table tbody tr').count();
  for (const [i, size] of sizes.entries()) {
    await page.keyboard.type(size);
    await page.keyboard.press('Enter');
    if (i + 1 < sizes.length) await page.waitForFunction((i) => document.activeElement?.id === `cell-${i}`, i + 1);
  }
  await page.waitForFunction((count) => document.querySelectorAll('.readings-table tbody tr').length === count, before + sizes.length);
}

/** Turns to the band as the screen says, each reading as it was foretold. */
async function turn(page, size, stage) {
  const field = page.locator('#lathe-answer');
  const todo = async () => (await page.locator('.giant .todo').textContent()).trim();
  let [cuts, forecast] = [0, ''];
  for (let i = 0; i < 60 && (await todo()) !== 'Landed'; i += 1) {
    const question = (await page.locator('.reply label').textContent()).trim();
    const shows = (await page.locator('.giant .lines').textContent()).match(/will show([\d.]+)/);
    if (shows) forecast = shows[1];
    const before = await standing(page);
    let answer = '';
    if (question.startsWith('air')) answer = '21.5';
    else if (question.startsWith('part')) answer = '24';
    else if (question.startsWith('gauge on its standard')) answer = '0';
    else if (question.startsWith('gauge on the part') || question.startsWith('done')) answer = forecast;
    else if (question.startsWith('cut made')) cuts += 1;
    if (cuts === 1 && question.startsWith('cut made')) await picture(page, `job-${size}-${stage}-command`, false);
    await field.fill(answer);
    await field.press('Enter');
    await page.waitForFunction((before) => document.querySelector('.giant')?.textContent.replace(/\d+:\d\d(:\d\d)? since/, '') !== before, before);
  }
  check((await todo()) === 'Landed', `it did not land: ${await page.locator('.giant').textContent()}`);
  await picture(page, `job-${size}-${stage}-landed`, false);
  await page.getByRole('button', { name: 'Accept the part' }).click();
  await page.waitForFunction(() => document.querySelector('.giant .todo')?.textContent === 'This part is over');
  await page.getByRole('link', { name: 'At the desk' }).click();
  return cuts;
}

const standing = async (page) => (await page.locator('.giant').textContent()).replace(/\d+:\d\d(:\d\d)? since/, '');

/** The two ends of a band as a sentence of the stage says them. */
async function band(page, before) {
  const text = await page.locator('.answer').first().textContent();
  const found = text.match(new RegExp(`${before}([\\d.]+)(?: mm)? to ([\\d.]+) mm`, 'i'));
  check(found, `no band in: ${text}`);
  return [found[1], found[2]];
}

for (const [size, viewport] of [['phone', PHONE], ['laptop', LAPTOP]]) {
  test(`the whole ferry-winch job from the brief to the signed release, ${size}`, async ({ browser }) => {
    const house = await shop();
    const page = await person(browser, viewport, 'light', { acceptDownloads: true });
    const { give, record, name, decide, stage, done } = hands(page);

    // An empty shop, its first owner, a new job.
    await page.goto(`${house.base}/#/owner/${house.code}`);
    await page.fill('#owner-name', 'Runa');
    await page.fill('#owner-password', PASSWORD);
    await sound(page, 'the first owner');
    await picture(page, `job-${size}-owner`);
    await page.getByRole('button', { name: 'Make it mine' }).click();
    await page.locator('.welcome').waitFor();
    await picture(page, `job-${size}-welcome`);
    await page.locator('.welcome').getByRole('link', { name: 'Start a job' }).click();
    await page.fill('#job-number', 'W-2611');
    await page.fill('#job-title', 'Ramp winch, pedestal bush');
    await page.fill('#job-customer', 'Sound ferries, east quay');
    await page.fill('#job-seats', 'inboard');
    await page.getByRole('button', { name: 'Start the job' }).click();

    await page.locator('.stages').waitFor({ state: 'attached' });
    await stage('brief');
    await give(BRIEF);
    for (const [state, fields] of Object.entries(STATES)) {
      await name('state', state);
      await give(fields, `state-${state.replace(' ', '-')}-`);
    }
    await give({ 'job-draws': '20000' });
    await record();
    await picture(page, `job-${size}-brief`);

    await stage('measure');
    await give({ 'housing-metal': 'GE240', 'shop-room': '21.5' });
    for (const [gauge, fields] of Object.entries(GAUGES)) {
      await name('gauge', gauge);
      await give(fields, `gauge-${gauge}-`);
    }
    await record();
    await read(page, 'housing bore', 'stick', '15 90 165', '0 45 90 135', BORE);
    await done('measure');
    await page.locator('.answer').filter({ hasText: '240.03' }).waitFor();
    await read(page, 'journal', 'ring', '', '', JOURNAL, '21.5');
    await sound(page, 'measured');
    await picture(page, `job-${size}-measure`);

    await stage('alloy');
    await give({ 'journal-metal': '42CrMo4', 'journal-hardness': '280', 'journal-Rz': '2', 'bush-length': '180' });
    await record();
    await decide('alloy', { choice: 'CC492K' }, 'stands the sea, forgives late grease, in stock');
    await done('alloy');

    await stage('fit');
    await give({ 'housing-outside': '420 ± 6 mm', 'housing-Rz': '6', 'bush-Rz': '6', 'bush-lead': '5', 'bush-bore_left': '1', 'shop-lathe_holds': '36' });
    await record();
    await page.locator('.answer').filter({ hasText: /turn .*to/i }).first().waitFor();
    const [low, high] = await band(page, 'turn (?:the outside )?to ');
    await decide('band', { low, high }, 'as advised');
    await done('fit');
    await picture(page, `job-${size}-fit`);

    await stage('stock');
    await name('stock', 'ring');
    await give({ kind: 'cast_ring', outside: '252', bore: '196', length: '420', price: '14.5 ± 0.5' }, 'stock-ring-');
    await give({ 'shop-rate': '72', 'shop-setup': '45', 'shop-swarf_price': '4.2', 'shop-scrap_chance': '0.02', 'cutting-speed': '110', 'cutting-feed': '0.25', 'cutting-depth': '2' });
    await record();
    await decide('blank', { choice: 'ring' }, 'nearest to the size');
    await done('stock');

    await stage('turn');
    await page.getByRole('link', { name: "At arm's length" }).click();
    check((await turn(page, size, 'turn')) > 1, 'a bush takes more than one cut');
    await done('turn');

    await stage('seat');
    await give({ 'shop-press': '1000', 'seating-method': 'press' });
    await record();
    await page.locator('.cautions li').first().waitFor();
    await decide('seating', { choice: 'press' }, 'the press is at hand');
    await page.getByRole('link', { name: "At arm's length" }).click();
    const above = await page.evaluate(() => document.querySelector('.cautions').getBoundingClientRect().top < document.querySelector('.clock').getBoundingClientRect().top);
    check(above, 'cautions stand above the clock');
    await page.locator('.clock').getByRole('button', { name: /clock starts/ }).click();
    await page.locator('.clock .todo').filter({ hasText: 'since press' }).waitFor();
    await picture(page, `job-${size}-seat-clock`);
    await page.locator('.clock').getByRole('button', { name: 'Fitted' }).click();
    await page.locator('.clock .todo').filter({ hasText: 'since fitted' }).waitFor();
    await page.getByRole('link', { name: 'At the desk' }).click();
    await done('seat');

    await stage('bore');
    await page.getByRole('link', { name: "At arm's length" }).click();
    await turn(page, size, 'bore');
    await done('bore');
    await picture(page, `job-${size}-bore`);

    await stage('release');
    await page.locator('.stage').filter({ hasText: 'finished bore in its band' }).waitFor();
    await picture(page, `job-${size}-release-unsigned`);
    await page.locator('.answer').filter({ hasText: 'it waits for a signature' }).waitFor();
    await page.getByRole('button', { name: 'Sign as released' }).click();
    await page.locator('.answer').filter({ hasText: 'Every requirement is met and it is signed' }).waitFor();
    await light(page, /^\W*saved$/);
    await sound(page, 'released');
    await picture(page, `job-${size}-released`);

    // The record as the server has it, and its PDF.
    const job = await page.evaluate(() => fetch('/api/jobs/W-2611').then((answer) => answer.json()));
    check(JSON.stringify(job).includes('"released"'), 'the server has the signature');
    const pdf = await page.evaluate(() => fetch('/api/jobs/W-2611/sheet.pdf').then(async (answer) => [answer.status, new TextDecoder('latin1').decode((await answer.arrayBuffer()).slice(0, 5))]));
    check(pdf[0] === 200 && pdf[1] === '%PDF-', `the PDF is ${pdf}`);
    await ended(page);
    await house.close();
  });
}
