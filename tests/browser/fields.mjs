// What is typed: by a gauge, by hand, wrongly.
import { LAPTOP, STAGES, check, ended, ferry, go, person, picture, signedIn, stage, start, test } from './house.mjs';

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
  await ended(page);
});
