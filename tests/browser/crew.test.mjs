// The crew's page: the master takes somebody on, hands out a code, and withdraws the device again.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { complaints, inThreeLights, overflow } from './support/look.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say, says } from './support/words.mjs';

const { PATIENCE } = bow;

/** A device of its own, at that size. */
async function device(t, viewport) {
  const browser = await open(t, profile(t), { viewport });
  return browser.pages()[0] ?? browser.newPage();
}

test('the master takes a hand on with a code, sees the device, and withdraws it', async (t) => {
  const ship = await makeShip(t);
  const bridge = await device(t, { width: 1280, height: 800 });
  const heard = complaints(bridge);
  await bow.enrol(bridge, ship, 'Maren Holt');
  await bridge.goto(ship.url('/crew'));
  await bridge.getByRole('heading', { name: say('crew.CREW') }).waitFor(PATIENCE);

  await bridge.getByText(say('crew.TAKE_ON')).click();
  const form = bridge.locator('section details[open]').first();
  await form.getByLabel(say('crew.NAME'), { exact: true }).fill('Nell Foss');
  await form.getByLabel(say('crew.RANK'), { exact: true }).fill('deckhand');
  const save = form.getByRole('button', { name: say('crew.SAVE') });
  await save.scrollIntoViewIfNeeded();
  const box = await save.boundingBox();
  await bridge.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await bridge.mouse.down();
  // The page was loaded anew and the key is put away: nothing is sent before its PIN.
  await bridge.locator('.pin-pad').waitFor(PATIENCE);
  await bridge.mouse.up();
  const row = bridge.locator('.crew-row', { hasText: 'Nell Foss' });
  assert.equal(await row.count(), 0);
  await bow.typePin(bridge, bow.PIN);
  await row.waitFor(PATIENCE);
  await row.getByText(say('crew.NO_DEVICE')).waitFor(PATIENCE);

  await row.getByRole('button', { name: say('crew.HAND_OUT') }).click();
  const shown = row.locator('.code-digits');
  await shown.waitFor(PATIENCE);
  const digits = await shown.innerText();
  assert.match(digits, /^\d{4} \d{4}$/);
  await row.getByRole('img', { name: say('crew.code_picture', { name: 'Nell Foss' }) }).waitFor(PATIENCE);
  const broken = [...(await inThreeLights(bridge, 'crew')), ...(await overflow(bridge, 'crew', [390, 768, 1280]))];
  assert.deepEqual(broken, []);

  const hand = await device(t, { width: 390, height: 844 });
  await bow.makeKey(hand, ship);
  await hand.getByLabel(say('crew.CODE')).fill(digits);
  await hand.getByRole('button', { name: say('unlock_sheet.ASK') }).click();
  await hand.getByText(says('unlock_sheet.you_are', { name: 'Nell Foss' })).waitFor(PATIENCE);
  const key = row.locator('.crew-key');
  await key.getByText(say('crew.SPEAKS'), { exact: true }).waitFor(PATIENCE);

  // A code is spent by its use.
  const second = await device(t, { width: 390, height: 844 });
  await bow.makeKey(second, ship);
  await second.getByLabel(say('crew.CODE')).fill(digits);
  await second.getByRole('button', { name: say('unlock_sheet.ASK') }).click();
  await second.getByText(/never given out, was used, or is too old/).waitFor(PATIENCE);

  await key.getByText(say('crew.WITHDRAW')).first().click();
  await key.getByLabel(say('crew.REASON')).fill('phone over the side');
  const withdraw = key.getByRole('button', { name: say('crew.WITHDRAW') });
  // From a time that has passed: first the master looks at what is in doubt.
  const anHourAgo = new Date(Date.now() - 3_600_000).toISOString().slice(0, 16).replace('T', ' ');
  await key.getByLabel(say('crew.FROM')).fill(anHourAgo);
  assert.ok(await withdraw.isDisabled());
  await key.getByRole('button', { name: say('crew.SHOW_DOUBT') }).click();
  await key.getByText(say('crew.NO_DOUBT')).waitFor(PATIENCE);
  await withdraw.scrollIntoViewIfNeeded();
  const place = await withdraw.boundingBox();
  await bridge.mouse.move(place.x + place.width / 2, place.y + place.height / 2);
  await bridge.mouse.down();
  await key.getByText('phone over the side', { exact: false }).first().waitFor(PATIENCE);
  await bridge.mouse.up();
  await row.getByText(/Withdrawn from .*phone over the side/).waitFor(PATIENCE);

  // Shut out from the next request on; what stands on the phone can still be read there.
  const refused = await hand.evaluate(async () => {
    const answer = await fetch('/api/v1/board');
    return [answer.status, await answer.text()];
  });
  assert.equal(refused[0], 403);
  assert.match(refused[1], /over the side/);

  // The phone says so by itself, on every page, and what becomes of what it holds.
  const gone = hand.locator('.withdrawn-bar');
  await gone.getByText(/over the side/).waitFor({ timeout: 120_000 });
  await hand.goto(ship.url('/bow/phone'));
  await gone.waitFor(PATIENCE);
  await hand.locator('.sync-line.is-refused').getByText(say('parts.records_withdrawn[other]', { n: '0' })).waitFor(PATIENCE);
  assert.deepEqual(await overflow(hand, 'withdrawn', [390]), []);

  assert.deepEqual(heard, []);

  // It signs nothing more, whether the ship is there or not.
  await ship.cut();
  await hand.goto(ship.url('/bow'));
  await gone.waitFor(PATIENCE);
  await hand.locator('[data-slug="anchors-ready"]').click();
  await hand.locator('.banner').getByText(/withdrawn this phone's key/).first().waitFor(PATIENCE);
  assert.equal(await hand.locator('.sheet-title').count(), 0, 'nothing was begun');
});
