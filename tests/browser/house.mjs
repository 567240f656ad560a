// What every browser test needs: a shop over the real program, Debian's chromium, axe, and checks that hold on every screen.
//
// No test waits for a time: each waits for what a person would see, and a wait that is not met within PATIENCE is a failure.
import { spawn } from 'node:child_process';
import { cpSync, mkdtempSync, readFileSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { chromium } from 'playwright-core';

const here = dirname(fileURLToPath(import.meta.url));
export const root = join(here, '../..');
export const pictures = join(root, 'target/pictures');
const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');

export const PHONE = { width: 360, height: 740 };
export const LAPTOP = { width: 1366, height: 768 };
export const STAGES = ['brief', 'measure', 'alloy', 'fit', 'stock', 'turn', 'seat', 'bore', 'release'];
const quiet = [/405 \(Method Not Allowed\)/, /401 \(Unauthorized\)/, /ERR_CONNECTION_REFUSED/, /ERR_CONNECTION_RESET/, /ERR_EMPTY_RESPONSE/, /ERR_INTERNET_DISCONNECTED/, /Failed to fetch/, /Cross-Origin-Opener-Policy header has been ignored/];

/** How long a person would wait for anything, ms. */
export const PATIENCE = 30_000;
export const PASSWORD = 'three words apart';

const known = [];
/** Names a test; those of the command line are run. */
export const test = (name, run) => known.push({ name, run });
export const tests = () => known;

/** The app's files alone, without a server that keeps entries, at the address BASE or by `cargo serve --static`; stopped with `close`. */
export async function served() {
  if (process.env.BASE) return { base: process.env.BASE, close() {} };
  const [program, ...rest] = (process.env.SERVE ?? 'cargo serve --static --built --port 0').split(' ');
  const child = spawn(program, rest, { cwd: root, stdio: ['ignore', 'pipe', 'inherit'] });
  const base = await new Promise((found, lost) => {
    let text = '';
    child.stdout.on('data', (chunk) => {
      text += chunk;
      const address = text.match(/http:\/\/127\.0\.0\.1:\d+/);
      if (address) found(address[0]);
    });
    child.on('exit', () => lost(new Error(`the site is not served: ${text}`)));
  });
  return { base, close: () => child.kill() };
}

/** A shop of its own over the real program: its address, the code of its owner, and ways to stop it and to start it again. */
export async function shop(address = '127.0.0.1:0') {
  const program = process.env.PROGRAM ?? join(root, 'target/release/bushwright');
  const folder = mkdtempSync(join(tmpdir(), 'bushwright-browser-'));
  const store = join(folder, 'shop.db');
  let child;
  const begin = (listen) => new Promise((found, lost) => {
    child = spawn(program, ['serve', '--store', store, '--listen', listen], { stdio: ['ignore', 'pipe', 'ignore'] });
    let text = '';
    child.stdout.on('data', (chunk) => {
      text += chunk;
      const address = text.match(/Serving on (http:\/\/(127\.0\.0\.1:\d+))/);
      if (address) found({ base: address[1], listen: address[2], code: text.match(/owner \(.*\):\n\s+(\S+)/)?.[1] });
    });
    child.on('error', lost);
    child.on('exit', () => lost(new Error(`the server stopped: ${text}`)));
  });
  const stop = () => new Promise((done) => { child.on('exit', done); child.kill('SIGKILL'); });
  const first = await begin(address);
  const close = async () => { await stop(); rmSync(folder, { recursive: true, force: true }); };
  /** The shop as it is now, to be put back later; both while it is stopped. */
  const keep = () => cpSync(folder, `${folder}.kept`, { recursive: true });
  const putBack = () => {
    rmSync(folder, { recursive: true });
    cpSync(`${folder}.kept`, folder, { recursive: true });
    rmSync(`${folder}.kept`, { recursive: true });
  };
  return { ...first, stop, again: () => begin(first.listen), close, keep, putBack };
}

/** A shop whose owner is Runa, with those people beside her. */
export async function staffed(people = []) {
  const house = await shop();
  const answered = await fetch(`${house.base}/api/owner`, told({ code: house.code, name: 'Runa', password: PASSWORD }));
  check(answered.ok, `no owner: ${answered.status} ${await answered.clone().text()}`);
  const cookie = answered.headers.getSetCookie().map((one) => one.split(';')[0]).join('; ');
  for (const [name, role] of people) {
    const added = await fetch(`${house.base}/api/people`, told({ name, roles: [role], password: PASSWORD }, cookie));
    check(added.ok, `${name} could not be added: ${added.status} ${await added.clone().text()}`);
  }
  return house;
}

const told = (body, cookie = '') => ({ method: 'POST', headers: { 'Content-Type': 'application/json', Cookie: cookie }, body: JSON.stringify(body) });

const launching = { executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium', args: ['--no-sandbox', '--enable-precise-memory-info'] };

export const launch = () => chromium.launch(launching);
export { launch as browser };

/** A browser with a disk of its own that outlives it: what is kept there is found again by the next one. */
export async function lasting(folder, viewport, args = []) {
  const context = await chromium.launchPersistentContext(folder, { ...launching, args: [...launching.args, ...args], viewport, reducedMotion: 'reduce' });
  context.setDefaultTimeout(PATIENCE);
  return context;
}

/** A page of a person of their own; everything that the browser complains of is kept in `page.faults`. */
export async function person(browser, viewport, colorScheme = 'light', options = {}) {
  const context = await browser.newContext({ viewport, colorScheme, reducedMotion: 'reduce', ...options });
  context.setDefaultTimeout(PATIENCE);
  return watched(await context.newPage());
}

/** The page of a person who has signed in by the form. */
export async function signedIn(browser, viewport, base, name, options = {}) {
  const page = await person(browser, viewport, 'light', options);
  await signIn(page, base, name);
  return page;
}

export async function signIn(page, base, name) {
  await page.goto(`${base}/#/me`);
  await page.fill('#sign-name', name);
  await page.fill('#sign-password', PASSWORD);
  await page.getByRole('button', { name: 'Sign in' }).click();
  await page.getByText(`Signed in as ${name}`).waitFor();
}

/** Goes to a place by its address. */
export const go = (page, place) => page.evaluate((place) => { location.hash = place; }, place);

/** Waits until the save light says this. */
export const light = (page, words) => page.locator('.light').filter({ hasText: words }).waitFor({ timeout: PATIENCE });

/** Nothing was complained of by the browser, and the page is put away. */
export async function ended(...pages) {
  const faults = pages.flatMap((page) => page.faults);
  check(faults.length === 0, faults.join('\n'));
  for (const page of pages) await page.context().close();
}

export function watched(page) {
  page.faults = [];
  const keep = (text) => { if (!quiet.some((known) => known.test(text))) page.faults.push(text); };
  page.on('pageerror', (fault) => keep(String(fault)));
  page.on('console', (said) => { if (said.type() === 'error') keep(said.text()); });
  return page;
}

export async function start(page, base) {
  await page.goto(`${base}/`);
  await page.waitForSelector('.demos');
}

/** Opens the ferry winch and waits for its sheet. */
export async function ferry(page, base) {
  await start(page, base);
  await page.getByRole('button', { name: /Ferry ramp winch/ }).click();
  await page.waitForSelector('.stages .done');
}

export async function stage(page, name, seat = 'inboard', large = false) {
  await page.evaluate(([name, seat, large]) => {
    const job = location.hash.split('/')[2];
    location.hash = `#/job/${job}/${encodeURIComponent(seat)}/${name}${large ? '/large' : ''}`;
  }, [name, seat, large]);
  await page.waitForFunction((word) => document.querySelector('#stage-title')?.textContent.toLowerCase().includes(word), name);
  await page.waitForFunction(() => !document.querySelector('.answer')?.textContent.includes('Working it out'));
}

/** Axe, no sideways scrolling, targets of 48 px and more. */
export async function sound(page, name) {
  if (!(await page.evaluate(() => 'axe' in window))) await page.evaluate(axe);
  const tags = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];
  // From the top: what stays in sight while a person scrolls covers something elsewhere.
  await page.evaluate(() => scrollTo({ top: 0, behavior: 'instant' }));
  const found = await page.evaluate((tags) => window.axe.run(document, { runOnly: tags }), tags);
  const told = found.violations.map((rule) => `${rule.id}: ${rule.nodes.slice(0, 3).map((node) => `${node.target} ${node.failureSummary}`).join(' | ')}`);
  check(told.length === 0, `${name}: axe finds ${told.join('\n')}`);
  const wide = await page.evaluate(() => document.documentElement.scrollWidth - innerWidth);
  const out = () => {
    const found = [];
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_ALL);
    for (let node = walk.nextNode(); node; node = walk.nextNode()) {
      const range = document.createRange();
      range.selectNodeContents(node);
      const right = Math.max(range.getBoundingClientRect().right, node.getBoundingClientRect?.().right ?? 0);
      const inside = (node.parentElement ?? document.body).closest('.scroll');
      if (right > innerWidth + 0.5 && !inside) found.push(`${node.nodeName} ${node.className ?? ''} ${node.id ?? ''} ${node.textContent.slice(0, 40)} ${right}`);
    }
    return found.slice(-4).join(' | ');
  };
  check(wide <= 0, `${name}: the page is ${wide} px wider than the window: ${wide > 0 ? await page.evaluate(out) : ''}`);
  const small = await page.evaluate(() => [...document.querySelectorAll('button, input, select, textarea, summary, a')]
    .filter((one) => one.offsetParent !== null && !one.closest('p, .hint, .skip') && one.type !== 'checkbox' && one.type !== 'file' && !one.classList.contains('skip'))
    .map((one) => ({ height: one.getBoundingClientRect().height, text: (one.textContent || one.id).trim().slice(0, 40) }))
    .filter((one) => one.height > 0 && one.height < 47.5));
  check(small.length === 0, `${name}: targets under 48 px: ${JSON.stringify(small.slice(0, 5))}`);
}

export function check(holds, words) {
  if (!holds) throw new Error(words);
}

export const picture = (page, name, fullPage = true) => page.screenshot({ path: join(pictures, `${name}.png`), fullPage });
