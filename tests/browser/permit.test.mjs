// A permit stops at a meter whose date is past: nothing below it is worked, no consent is asked for, and the officer who puts
// the date right in the register opens the work again.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { Party } from './support/party.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

/** Writes until when a meter is calibrated, on the page of the item. */
async function calibrated(page, ship, code, day, why) {
  await bow.open(page, ship.url(`/gear/${code}`));
  const form = page.locator('.order-more', { hasText: say('gear.CHANGE') }).first();
  await form.locator('summary').first().click();
  await form.locator('#item-calibrated-until').fill(day);
  await form.locator('#item-why').fill(why);
  await bow.hold(page, say('gear.CHANGE_KEY'), form);
}

test('an expired meter blocks the permit and says why, until the register has its new date', async (t) => {
  const ship = await makeShip(t);
  const party = await Party.muster(t, ship, ['Tam Orrin', 'Ravi Thorne', 'Maren Holt']);
  const { hand, second, master } = party;
  for (const { page } of party.people) await page.clock.install();
  await calibrated(second, ship, 'GM-1', '2024-01-31', 'the paper says so');
  await second.locator('.gear-standing', { hasText: say('gear.NOT_USABLE') }).waitFor(bow.PATIENCE);
  await bow.open(second, ship.url('/bow'));
  await bow.allAboard(second);

  const path = await bow.begin(hand, 'locker-entry');
  await party.turnTo(path);
  for (let n = 0; (await bow.title(hand)) !== 'which-meter'; n += 1) {
    assert.ok(n < 60, `never came to the meter: ${await party.standing(hand)}`);
    await party.work({
      ventilate: async () => {
        await bow.keysAwake(hand);
        if (await bow.first(hand).isEnabled()) await bow.first(hand).click();
        for (const { page } of party.people) await page.clock.fastForward(3 * 3_600_000);
        for (const { page } of party.people) {
          await page.waitForTimeout(1500);
          if (!(await bow.isUnlocked(page))) await bow.unlock(page);
        }
      },
    });
  }

  // The register says why beside its name; it can be named all the same, and then the step stands in red.
  const meter = hand.locator('[data-item="GM-1"]');
  await meter.locator('.item-why', { hasText: 'which is past' }).waitFor(bow.PATIENCE);
  await meter.click();
  await bow.first(hand).click();
  await hand.locator('.chain-row[data-step="which-meter"].is-out').waitFor(bow.PATIENCE);
  await hand.locator('.sheet-words', { hasText: 'which is past' }).first().waitFor(bow.PATIENCE);

  // Nothing below it can be worked, and the permit is not asked for on the bridge.
  for (const step of ['bump', 'zero', 'permit-checked', 'permit']) {
    await hand.locator(`.chain-row[data-step="${step}"]`).locator('button').first().click();
    await hand.locator(`.sheet-title[data-step="${step}"]`).waitFor(bow.PATIENCE);
    // A hold that is not due has no key at all.
    const first = bow.first(hand);
    assert.ok((await first.count()) === 0 || (await first.isDisabled()), `${step} is worked with an expired meter`);
  }
  await bow.open(master, ship.url('/bridge'));
  await master.locator('.bridge-due', { hasText: 'gas meter 1' }).waitFor(bow.PATIENCE);
  assert.equal(await master.locator('.hold-card', { hasText: 'permit' }).count(), 0);

  // It has come back from ashore: the officer writes its new date. The meter was named already, so the step passes with the
  // news, and the work below it goes on.
  await calibrated(second, ship, 'GM-1', '2099-01-31', 'calibrated ashore');
  await bow.open(second, ship.url(path));
  await bow.allAboard(second);
  const isNamed = async (page) => (await page.locator('.chain-row[data-step="which-meter"].is-done').count()) > 0;
  await party.until(hand, isNamed, 'the new date comes forward');
  await party.awake(hand);
  await hand.locator('.chain-row[data-step="bump"]').locator('button').first().click();
  await hand.locator('.sheet-title[data-step="bump"]').waitFor(bow.PATIENCE);
  const wantsSecond = (sign) => document.querySelector('.action-sheet').innerText.includes(sign);
  await bow.press(hand, wantsSecond, say('SIGN_SECOND'));
});
