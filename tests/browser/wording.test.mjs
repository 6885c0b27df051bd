// Every page in a language with long words, accents and brackets: what stands outside the brackets is not
// worded, and what is wider than the phone would be so in any language with long words.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { overflow } from './support/look.mjs';
import { ship as makeShip } from './support/ship.mjs';

const PHONE = { width: 390, height: 844 };
const LANGUAGE = 'en-XA';

/** What is data: names of people, ships and things, numbers with their units, hashes, and the procedures' own texts. */
const DATA = '[data-text], .hash, .unit, [translate="no"], svg, output, code, pre, textarea, option, script, style, time';

/**
 * What the pages show and do not word yet, by the class of what it stands in: the engine's own words come as
 * finished English. The list only gets shorter.
 */
const NOT_YET = [
  '.action-sheet', '.alarm-bar', '.bow-order-said', '.bridge-card', '.cable-log', '.card-frame', '.caution', '.chain', '.chain-line',
  '.crew-row', '.defect-card',
  '.defect-full', '.device-line', '.enrol', '.hold-card', '.keypad', '.roll-heads', '.orders', '.person-mark', '.plan-beyond', '.plan-brief', '.plan-earlier', '.plan-out',
  '.plan-check', '.plan-form', '.plan-order', '.plan-proposal', '.plan-rules', '.procedure-list', '.procedure-step', '.record-entry',
  '.run-head', '.seal', '.start-run', '.sync-line', '.table', '.work-head',
];

/** Returns every text in JSON, to any depth. */
const textsIn = (value) =>
  typeof value === 'string' ? [value] : value && typeof value === 'object' ? Object.values(value).flatMap(textsIn) : [];

/** Returns what a page shows outside the brackets that is not data, nor one of the texts that are `known` to be. */
async function unworded(page, name, known) {
  const found = await page.evaluate(
    ([data, notYet, known]) => {
      const isKnown = new Set(known);
      const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
      const lines = new Map();
      while (walker.nextNode()) {
        const holder = walker.currentNode.parentElement;
        if (!holder || holder.closest(data) || holder.closest(notYet) || !holder.checkVisibility()) continue;
        if (isKnown.has(walker.currentNode.data.trim())) continue;
        const block = holder.closest('p, li, h1, h2, h3, button, a, td, th, dt, dd, label, summary, span, div') ?? holder;
        lines.set(block, (lines.get(block) ?? '') + walker.currentNode.data);
      }
      const outside = (text) => {
        let depth = 0;
        let left = '';
        for (const sign of text) {
          if (sign === '⟦') depth += 1;
          if (depth === 0) left += sign;
          if (sign === '⟧') depth -= 1;
        }
        return left;
      };
      // A word of four small letters or more that no bracket holds; names begin with a capital, units are shorter, and a
      // hash is read aloud in groups of four.
      return [...lines].map(([block, text]) => [block, outside(text).match(/(?<![\p{L}\d.-])(?![a-f]{4}(?!\p{L}))\p{Ll}{4,}(?!\p{L})/u)?.[0], text])
        .filter(([, word]) => word)
        .map(([block, word, text]) => `${block.tagName.toLowerCase()}.${block.className}: '${word}' in '${text.trim().slice(0, 80)}'`);
    },
    [DATA, NOT_YET.join(', '), known],
  );
  return [...new Set(found)].map((each) => `${name}: ${each}`);
}

test('every page is worded, and wide enough for a language with long words', async (t) => {
  const ship = await makeShip(t);
  const browser = await open(t, profile(t), { viewport: PHONE });
  const page = await browser.newPage();
  await bow.enrol(page, ship, 'Maren Holt');
  const run = await bow.begin(page, 'anchors-ready');
  await bow.allAboard(page);
  await browser.addCookies([{ name: 'language', value: LANGUAGE, url: ship.url() }]);
  await bow.open(page, ship.url('/bow'));
  const { vessel } = await (await page.request.get(ship.url('/api/v1/ship'))).json();

  // What procedures and the ship's particulars say is data, wherever it is shown.
  const said = async (path) => textsIn(await (await page.request.get(ship.url(`/api/v1/${path}`))).json());
  const known = [...(await said('procedures')), ...(await said('procedures/anchors-ready')), ...(await said('vessels')), ...(await said('ship'))];
  const found = [];
  const addresses = [
    '/', '/bow', '/bow/enrol', '/bow/phone', run, '/bow/plan', '/plan', '/bridge', '/watch', '/watch/inputs', '/watch/night', '/procedures', '/procedures/anchors-ready',
    '/procedures/anchors-ready/card', '/defects', '/gear', '/gear/labels', '/gear/kinds', '/gear/GM-1', '/rounds', '/drills', '/survey', '/foredeck', '/marks', '/crew', '/settings', '/setup', '/roll', '/proof', '/office',
    `/office/${vessel}`, `/office/${vessel}/roll`, `/office/${vessel}/run/${run.split('/').at(-1)}`,
  ];
  for (const address of addresses) {
    await page.goto(ship.url(address));
    await page.locator(`html[lang="${LANGUAGE}"][data-started]`).waitFor({ state: 'attached', ...bow.PATIENCE });
    await page.waitForFunction(() => document.body.innerText.includes('⟦'), null, bow.PATIENCE);
    const stands = () => {
      const before = window.shownBefore;
      window.shownBefore = document.body.innerText;
      return window.shownBefore === before;
    };
    await page.waitForFunction(stands, null, { polling: 300, ...bow.PATIENCE });
    found.push(...(await unworded(page, address, known)), ...(await overflow(page, address, [PHONE.width])));
  }
  assert.deepEqual(found, []);
});
