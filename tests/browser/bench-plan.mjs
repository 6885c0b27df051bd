// What a keystroke in the plan costs, processor slowed four times, against one frame of a screen; nothing is
// asserted about time.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium } from 'playwright-core';
import { FLAGS } from './support/browser.mjs';
import { ship as makeShip } from './support/ship.mjs';

const FRAME_MS = 1000 / 60;
const KEYS = 200;
const SLOWED = 4;

/** Types depths one after another; from the key to the page laid out again, ms each. */
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
      // What follows from a key is worked off before the next task.
      await new Promise((done) => {
        const { port1, port2 } = new MessageChannel();
        port1.onmessage = done;
        port2.postMessage(null);
      });
      document.body.getBoundingClientRect();
      taken.push(performance.now() - begun);
      said.add(proposed.innerText);
    }
    return { taken, changes: said.size };
  })();
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
  await page.goto(ship.url('/plan'));
  await page.locator('.plan-mark').waitFor();
  const cdp = await page.context().newCDPSession(page);
  await cdp.send('Emulation.setCPUThrottlingRate', { rate: SLOWED });
  await page.evaluate(type, 20); // the first ones compile
  const { taken, changes } = await page.evaluate(type, KEYS);
  if (changes < 3) throw new Error('the proposal did not follow what was typed');
  taken.sort((a, b) => a - b);
  for (const [what, part] of [['median', 0.5], ['95th percentile', 0.95]]) {
    const ms = taken[Math.floor((taken.length - 1) * part)];
    console.log(
      `plan, keystroke at ${SLOWED}x, ${what.padEnd(15)} ${ms.toFixed(1).padStart(7)} ms  against ${FRAME_MS.toFixed(1)} ms` +
        `  ratio ${(ms / FRAME_MS).toFixed(2)}  budget 1`,
    );
  }
} finally {
  for (const work of undo.reverse()) await work();
}
