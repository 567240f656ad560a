// What is typed: by a gauge, by hand, wrongly.
import { LAPTOP, STAGES, check, ended, ferry, go, person, picture, stage, start, test } from './house.mjs';

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
  await page.waitForFunction(() => document.querySelectorAll('.readings-table tbody tr.reading').length === 12);
  await page.waitForSelector('tr.odd');
  check((await page.locator('tr.odd').count()) === 1, 'one reading stands out');
  check(/stands out by .*µm: take it again/.test(await page.locator('tr.said-of').textContent()), await page.locator('tr.said-of').textContent());
  await picture(page, 'laptop-odd-reading');
  await page.getByRole('button', { name: 'Take back the last reading' }).click();
  await page.waitForFunction(() => document.querySelectorAll('tr.dropped').length === 1);
  check((await page.locator('.readings-table tbody tr.reading').count()) === 12, 'undo takes nothing away: both stay in sight');
  await ended(page);
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

  /** Whether the sentence stands there, and what was typed still does. */
  const refused = async (field, text, said) => {
    await page.locator(said).filter({ hasText: 'allowed:' }).first().waitFor();
    check((await page.locator(field).inputValue()) === text, `${field}: what was typed is lost`);
  };
  // Readings: a cell, the part's temperature, the stations, a pasted table.
  await stage(page, 'measure');
  for (const text of ['24O.062', '-3', '1e99', '240.062 hot', '±']) {
    await page.fill('#cell-0', text);
    await page.locator('#cell-0').press('Enter');
    await refused('#cell-0', text, '#cell-0-bad');
  }
  await page.fill('#r-part', 'warm');
  await page.fill('#cell-0', '240.062');
  await page.locator('#cell-0').press('Enter');
  await refused('#cell-0', '240.062', '#cell-0-bad');
  await page.fill('#r-part', '');
  await page.fill('#r-stations', 'near 90');
  await page.locator('#r-stations').press('Tab');
  await refused('#r-stations', 'near 90', '.new-set .bad');
  await page.fill('#r-stations', '');
  await page.locator('#r-stations').press('Tab');
  await page.locator('.new-set details summary').first().click();
  await page.fill('#r-paste', '15 0 240.062\n15 45 two-forty');
  await page.getByRole('button', { name: 'Record these' }).click();
  await refused('#r-paste', '15 0 240.062\n15 45 two-forty', '.new-set .bad');
  check(/line 2/.test(await page.locator('.new-set .bad').filter({ hasText: 'allowed:' }).textContent()), 'the line is named');
  // Decisions: no reason, no choice, ends that are no sizes or the wrong way round.
  await stage(page, 'fit');
  await page.evaluate(() => document.querySelectorAll('form.decide details').forEach((one) => { one.open = true; }));
  const band = 'form.decide:has(#d-band-low)';
  for (const [low, high, because] of [['240.1', '240.2', ''], ['about 240', '240.2', 'x'], ['240.2', '240.1', 'x'], ['', '', 'x']]) {
    await page.fill('#d-band-low', low);
    await page.fill('#d-band-high', high);
    await page.fill('#d-band-because', because);
    await page.locator(band).getByRole('button', { name: 'Record the decision' }).click();
    await refused('#d-band-low', low, `${band} .bad`);
  }
  // At the lathe.
  await stage(page, 'turn');
  for (const text of ['tepid', '-400', '1e12']) {
    await page.fill('#lathe-answer', text);
    await page.locator('#lathe-answer').press('Enter');
    await page.waitForFunction(() => document.querySelector('#lathe-said').textContent.trim() !== '');
    check((await page.inputValue('#lathe-answer')) === text, `at the lathe ${text} is lost`);
  }
  // A job without a number, and one without a seat.
  await go(page, '#/new');
  await page.getByRole('button', { name: 'Start the job' }).click();
  await refused('#job-number', '', '#job-fault');
  await page.fill('#job-number', 'B-1');
  await page.fill('#job-seats', ' ');
  await page.getByRole('button', { name: 'Start the job' }).click();
  await page.locator('#job-fault').filter({ hasText: 'the seats are empty' }).waitFor();
  await refused('#job-number', 'B-1', '#job-fault');
  await ended(page);
});
