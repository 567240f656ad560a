// Every screen in both themes, on a phone and a laptop: axe finds nothing, nothing is too small or too wide, a picture is kept.
import { LAPTOP, PHONE, STAGES, check, ended, ferry, go, person, picture, sound, stage, start, test } from './house.mjs';

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
      await ended(page);
    });
  }
}

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
  await ended(page);
});

test('what is tried stands beside what is recorded, and is recorded only when it is said', async ({ browser, base }) => {
  const page = await person(browser, LAPTOP);
  await ferry(page, base);
  await stage(page, 'fit');
  await page.waitForFunction(() => document.querySelector('.settling')?.textContent === '');
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
  await ended(page);
});
