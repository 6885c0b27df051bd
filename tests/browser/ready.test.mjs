// Making the anchors ready: what is in sight at each step with its keys, and how often a thumb presses.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { inSight } from './support/look.mjs';
import { Party } from './support/party.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

const HERE = { latitude: -43.51237, longitude: -20.06145, accuracy: 6 };
const LOOKED_AT = { words: '.sheet-title', caution: '.action-sheet .caution', keys: '.sheet-actions .button, .keypad .key' };

/** By so many presses of the first hand at most, without the digits of its readings. */
const MOST_PRESSES = { 'anchors-ready': 40 };

/** What can be walked by what each step says of itself; the others have stories of their own, with people, cables and waits. */
const WALKED = ['anchors-ready'];

/** Says a cable log, or another, is finished. */
const finish = async ({ hand }) => {
  const was = await bow.title(hand);
  await hand.locator('.action-sheet').getByRole('button', { name: say('THATS_ALL') }).click();
  await hand.waitForFunction((before) => document.querySelector('.sheet-title')?.dataset.step !== before, was, bow.PATIENCE);
};

for (const slug of WALKED) {
  test(`${slug} shows what is signed, and asks for few presses`, async (t) => {
    const ship = await makeShip(t);
    const options = { geolocation: HERE, permissions: ['geolocation'] };
    const party = await Party.muster(t, ship, ['Tam Orrin', 'Maren Holt'], options);
    const { hand } = party;
    await party.turnTo(await bow.begin(hand, slug));
    await hand.evaluate(() => {
      window.presses = { keys: 0, digits: 0 };
      const count = ({ target }) => (window.presses[target.closest('.keypad-keys') ? 'digits' : 'keys'] += 1);
      document.addEventListener('pointerdown', count, true);
    });
    const rows = [];
    const hidden = [];
    let steps = 0;
    const looked = new Set();
    for (let n = 0; n < 90; n += 1) {
      await hand.locator('.sheet-title').waitFor(bow.PATIENCE);
      const step = await bow.title(hand);
      if (step === 'all-done') break;
      if (!looked.has(step)) {
        looked.add(step);
        steps += 1;
        const seen = await inSight(hand, LOOKED_AT);
        rows.push(`${step.padEnd(20)} words ${seen.words.toFixed(2)} caution ${seen.caution.toFixed(2)} keys ${seen.keys.toFixed(2)}`);
        if (Math.min(seen.words, seen.caution, seen.keys) < 0.99) hidden.push(rows.at(-1));
      }
      const isLog = (await hand.locator('.action-sheet').getByRole('button', { name: say('THATS_ALL') }).count()) > 0;
      await party.work(isLog ? { [step]: finish } : {});
    }
    const presses = await hand.evaluate(() => window.presses);
    t.diagnostic(`${slug}: ${presses.keys} presses of the first hand and ${presses.digits} digits for ${steps} steps\n${rows.join('\n')}`);
    assert.equal(await bow.title(hand), 'all-done');
    assert.deepEqual(hidden, []);
    assert.ok(presses.keys <= (MOST_PRESSES[slug] ?? Number.POSITIVE_INFINITY), `${presses.keys} presses`);
    party.sound();
  });
}
