// The hoses of a yearly sample, each with its own result: one fails, becomes a defect of that hose, is put right, and is closed;
// the round says which hoses are left.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { Party } from './support/party.mjs';
import { overflow } from './support/look.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say, says } from './support/words.mjs';

const item = (page, code) => page.locator(`.each-item[data-item="${code}"]`);
const found = (page, code, what) => item(page, code).locator(`[data-found="${what}"]`).click();

test('a hose that fails is followed from its result to the closed defect', async (t) => {
  const ship = await makeShip(t);
  const party = await Party.muster(t, ship, ['Tam Orrin', 'Ravi Thorne']);
  for (const { page } of party.people) await page.clock.install();
  const { hand, master: officer } = party;
  const path = await bow.begin(hand, 'hose-test');
  await party.turnTo(path);
  for (let n = 0; (await bow.title(hand)) !== 'each-tight'; n += 1) {
    assert.ok(n < 40, `never came to the hoses: ${await party.standing(hand)}`);
    await party.work({
      'hold-pressure': async () => {
        if (await bow.first(hand).isEnabled()) await bow.first(hand).click();
        for (const { page } of party.people) await page.clock.fastForward(5 * 60_000);
        await hand.waitForTimeout(1500);
      },
    });
  }

  // One is good, one is not, the others are left for another year. Each is a record of its own.
  const codes = await hand.locator('.each-item').evaluateAll((all) => all.map((one) => one.dataset.item));
  assert.ok(codes.length >= 2, `${codes}`);
  const [good, bad, ...others] = codes;
  assert.ok(await bow.first(hand).isDisabled(), 'nothing is said yet');
  await found(hand, good, 'good');
  await found(hand, bad, 'bad');
  for (const code of others) await found(hand, code, 'left');
  assert.deepEqual(await overflow(hand, 'each', [360, 390]), []);
  await bow.first(hand).click();
  await hand.locator('.sheet-words', { hasText: 'not good' }).first().waitFor(bow.PATIENCE);

  // It becomes a defect of that hose, out of service.
  await hand.getByRole('button', { name: say('NOT_SO') }).click();
  await hand.locator('#fault-item').selectOption(bad);
  await hand.locator('textarea').first().fill('bulges at the coupling');
  await hand.getByRole('button', { name: say('SEVERITY_OUT_OF_SERVICE') }).click();
  await bow.first(hand).click();
  await bow.allAboard(hand);
  await bow.open(officer, ship.url(`/gear/${bad}`));
  await officer.locator('.gear-defects', { hasText: 'bulges at the coupling' }).waitFor(bow.PATIENCE);

  // Put right and tried: the defect is closed with words, and its page says so.
  await bow.open(officer, ship.url('/defects'));
  const card = officer.locator('.defect-full', { hasText: 'bulges at the coupling' });
  const close = card.locator('.order-more', { hasText: say('ship.CLOSE_DEFECT') });
  await close.locator('summary').click();
  await close.locator('textarea').fill('new hose, tested at 8 bar');
  await bow.hold(officer, say('ship.CLOSE_DEFECT'), close);
  await card.locator('.defect-standing', { hasText: /^closed$/ }).waitFor(bow.PATIENCE);
  await bow.open(officer, ship.url('/bow'));
  await bow.allAboard(officer);
  await officer.goto(ship.url(`/gear/${bad}`));
  await officer.locator('.gear-defects', { hasText: say('ship.DEFECT_CLOSED') }).waitFor(bow.PATIENCE);

  // The round names the hoses that still have no result within five years.
  await officer.goto(ship.url('/rounds'));
  await officer.locator('[data-round="hose-test"]', { hasText: says('ship.each_in_time', { kind: 'fire hose' }) }).waitFor(bow.PATIENCE);
});
