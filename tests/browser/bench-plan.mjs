// What a keystroke in the plan costs, processor slowed four times, against one frame of a screen; nothing is
// asserted about time.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium } from 'playwright-core';
import * as bow from './support/bow.mjs';
import { FLAGS } from './support/browser.mjs';
import { IS_SHORT, quantile, report } from './support/measure.mjs';
import { ship as makeShip } from './support/ship.mjs';

const FRAME_MS = 1000 / 60;
const KEYS = IS_SHORT ? 40 : 200;
const SLOWED = 4;

/** Types depths one after another; from the key to the whole page worked out, changed and laid out, ms each. */
function type(count) {
  const depth = document.querySelector('#plan-place-charted-depth-m');
  const proposed = document.querySelector('.plan-mark');
  const taken = [];
  const said = new Set();
  return (async () => {
    for (let at = 0; at < count; at += 1) {
      depth.value = `${8 + (at % 40)}.${at % 10}`;
      const begun = performance.now();
      depth.dispatchEvent(new Event('input', { bubbles: true }));
      // What follows from a key is worked off in microtasks, before anything else gets its turn.
      for (let turn = 0; turn < 50; turn += 1) await null;
      document.body.getBoundingClientRect();
      taken.push(performance.now() - begun);
      const before = proposed.innerText;
      await new Promise((done) => setTimeout(done));
      if (proposed.innerText !== before) throw new Error('the page went on changing after it was measured');
      said.add(proposed.innerText);
    }
    return { taken, changes: said.size };
  })();
}

const say = (what, ms) => report(`plan, keystroke at ${SLOWED}x, ${what}`, ms, 'ms', FRAME_MS, 1, 'a frame');

/** Processor time of the page's own thread so far, ms: what else the machine does is not in it. */
async function threadMs(cdp) {
  const { metrics } = await cdp.send('Performance.getMetrics');
  return 1000 * metrics.find(({ name }) => name === 'TaskDuration').value;
}

const undo = [];
try {
  const ship = await makeShip({ after: (work) => undo.push(work) });
  const folder = mkdtempSync(join(tmpdir(), 'clearhawse-bench-'));
  undo.push(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));
  const options = { executablePath: process.env.CHROMIUM, args: FLAGS, headless: true, viewport: { width: 1280, height: 800 } };
  const browser = await chromium.launchPersistentContext(folder, options);
  undo.push(() => browser.close());
  const page = await browser.newPage();
  // What the demo's master has signed fills the page: without it there is nothing to work out.
  await bow.enrol(page, ship, 'Maren Holt');
  await bow.open(page, ship.url('/plan'));
  await page.locator('.plan-mark').waitFor();
  const cdp = await page.context().newCDPSession(page);
  await cdp.send('Performance.enable', { timeDomain: 'threadTicks' });
  await page.evaluate(type, 20); // the first ones compile
  const before = await threadMs(cdp);
  const quick = await page.evaluate(type, KEYS);
  const thread = ((await threadMs(cdp)) - before) / KEYS;
  const spent = quick.taken.reduce((sum, ms) => sum + ms, 0);
  console.log(`plan, in the browser, shown: ${Math.round((KEYS * 1000) / spent)} a second`);
  say('processor time', thread * SLOWED);
  await cdp.send('Emulation.setCPUThrottlingRate', { rate: SLOWED });
  const { taken, changes } = await page.evaluate(type, KEYS);
  if (changes < 3) throw new Error('the proposal did not follow what was typed');
  say('median', quantile(taken, 0.5));
  say('95th percentile', quantile(taken, 0.95));
} finally {
  for (const work of undo.reverse()) await work();
}
