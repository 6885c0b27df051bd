// The crew's page: the master takes somebody on, hands out a code, and withdraws the device again.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { complaints, inThreeLights, overflow } from './support/look.mjs';
import { ship as makeShip } from './support/ship.mjs';

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
  await bridge.getByRole('heading', { name: 'Crew and devices' }).waitFor(PATIENCE);

  await bridge.getByText('Take somebody on').click();
  const form = bridge.locator('section details[open]').first();
  await form.getByLabel('Name', { exact: true }).fill('Nell Foss');
  await form.getByLabel('Rank', { exact: true }).fill('deckhand');
  const save = form.getByRole('button', { name: 'Put on record' });
  await save.scrollIntoViewIfNeeded();
  const box = await save.boundingBox();
  await bridge.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await bridge.mouse.down();
  const row = bridge.locator('.crew-row', { hasText: 'Nell Foss' });
  await row.waitFor(PATIENCE);
  await bridge.mouse.up();
  assert.match(await row.innerText(), /No device signs for them yet/);

  await row.getByRole('button', { name: 'Hand out a code' }).click();
  const shown = row.locator('.code-digits');
  await shown.waitFor(PATIENCE);
  const digits = await shown.innerText();
  assert.match(digits, /^\d{4} \d{4}$/);
  await row.getByRole('img', { name: /enrol Nell Foss/ }).waitFor(PATIENCE);
  const broken = [...(await inThreeLights(bridge, 'crew')), ...(await overflow(bridge, 'crew', [390, 768, 1280]))];
  assert.deepEqual(broken, []);

  const hand = await device(t, { width: 390, height: 844 });
  await bow.makeKey(hand, ship);
  await hand.getByLabel('One-time code').fill(digits);
  await hand.getByRole('button', { name: 'Ask the ship' }).click();
  await hand.getByText('You are Nell Foss').waitFor(PATIENCE);
  const key = row.locator('.crew-key');
  await key.getByText('signs', { exact: true }).waitFor(PATIENCE);

  // A code is spent by its use.
  const second = await device(t, { width: 390, height: 844 });
  await bow.makeKey(second, ship);
  await second.getByLabel('One-time code').fill(digits);
  await second.getByRole('button', { name: 'Ask the ship' }).click();
  await second.getByText(/never given out, was used, or is too old/).waitFor(PATIENCE);

  await key.getByText('Withdraw this device').first().click();
  await key.getByLabel('Why').fill('phone over the side');
  const withdraw = key.getByRole('button', { name: 'Withdraw this device' });
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
  assert.deepEqual(heard, []);
});
