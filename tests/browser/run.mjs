// The app as a person uses it: by clicks and keys, on a phone and a laptop, with and without the network.
//
// `node run.mjs` runs all, `node run.mjs WORD ..` those whose name holds one of the words; two at a time (JOBS=1: one). PROGRAM names the
// program (target/release/bushwright), CHROMIUM the browser. Pictures of every screen stay in target/pictures.
import { mkdirSync } from 'node:fs';
import { launch, picture, pictures, staffed, tests } from './house.mjs';
import './job.mjs';
import './offline.mjs';
import './people.mjs';
import './screens.mjs';
import './fields.mjs';

mkdirSync(pictures, { recursive: true });
const wanted = process.argv.slice(2);
const waiting = tests().filter(({ name }) => wanted.length === 0 || wanted.some((word) => name.includes(word)));
const house = await staffed([['Odd', 'floor']]);
const began = Date.now();
let failed = 0;

/** One hand: a browser of its own, and one test after the other in it. */
async function hand() {
  const browser = await launch();
  for (let next = waiting.shift(); next; next = waiting.shift()) {
    const begin = Date.now();
    const took = () => ((Date.now() - begin) / 1000).toFixed(1);
    try {
      await next.run({ browser, base: house.base, house });
      console.log(`holds  ${next.name} (${took()} s)`);
    } catch (fault) {
      failed += 1;
      console.log(`FAILS  ${next.name} (${took()} s)\n${String(fault.stack ?? fault).slice(0, 2500)}`);
      for (const page of browser.contexts().flatMap((context) => context.pages())) {
        console.log(`  at ${page.url()}; picture failed-${failed}; ${page.faults?.join('; ') ?? ''}`);
        await picture(page, `failed-${failed}`).catch(() => {});
      }
    }
    for (const context of browser.contexts()) await context.close();
  }
  await browser.close();
}

await Promise.all(Array.from({ length: Number(process.env.JOBS ?? 2) }, hand));
await house.close();
console.log(`${failed ? `${failed} fail` : 'all hold'} (${((Date.now() - began) / 1000).toFixed(0)} s)`);
process.exitCode = failed ? 1 : 0;
