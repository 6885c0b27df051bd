// Whose key can change crew, settings or procedures is asked for a longer PIN; a short one goes on opening, and is changed.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say, says } from './support/words.mjs';

const PHONE = { viewport: { width: 390, height: 844 } };
const SHORT = '739146';
const LONG = '73914608';

const door = (page) => page.locator('.unlock-sheet');

/** Waits until the sheet asks for it. */
const asksFor = (page, asked) => door(page).locator(`h3:text-is("${asked}")`).waitFor(bow.PATIENCE);

/** Types on the pad in sight what is asked for next, and goes on. */
async function types(page, asked, pin) {
  await asksFor(page, asked);
  await bow.typePin(page, pin);
}

test('a master is asked for a longer PIN when enrolling, and changes it; the old one opens nothing then', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), PHONE)).newPage();
  const faults = [];
  page.on('pageerror', (error) => faults.push(String(error)));
  await bow.makeKey(page, ship, SHORT);
  await page.getByLabel(say('unlock_sheet.CODE')).fill(ship.codeFor('Maren Holt'));
  await page.getByRole('button', { name: say('unlock_sheet.ASK') }).click();
  await page.getByText(says('unlock_sheet.you_are', { name: 'Maren Holt' })).waitFor(bow.PATIENCE);
  assert.equal(await page.getByRole('link', { name: say('unlock_sheet.TO_PHONE_CHECK') }).count(), 0);

  await page.getByRole('button', { name: say('unlock_sheet.LONGER_PIN') }).click();
  await types(page, say('unlock_sheet.CHANGE_OLD'), SHORT);
  // What is too short has no key that ends it.
  await asksFor(page, say('unlock_sheet.CHANGE_NEW'));
  await door(page).locator('.pin-pad').pressSequentially('402957');
  assert.ok(await door(page).locator('.is-end').isDisabled());
  for (let n = 0; n < 6; n += 1) await door(page).locator('.pin-pad').press('Backspace');
  await types(page, say('unlock_sheet.CHANGE_NEW'), LONG);
  // A slip is noticed, and asked for again.
  await types(page, say('unlock_sheet.CHANGE_AGAIN'), '73914609');
  await page.getByText(say('unlock_sheet.CHANGE_UNLIKE')).waitFor(bow.PATIENCE);
  await types(page, say('unlock_sheet.CHANGE_NEW'), LONG);
  await types(page, say('unlock_sheet.CHANGE_AGAIN'), LONG);
  await door(page).waitFor({ state: 'detached', ...bow.PATIENCE });
  await page.getByRole('link', { name: say('unlock_sheet.TO_PHONE_CHECK') }).click(bow.PATIENCE);

  // After a start of the page the new one opens the key, and the old one does not.
  await page.goto(ship.url('/bow'));
  await page.locator('.person-mark').click(bow.PATIENCE);
  await page.locator('.unlock-sheet .person-key[aria-pressed="true"]').click(bow.PATIENCE);
  assert.equal(await door(page).getByRole('button', { name: say('unlock_sheet.LONGER_PIN') }).count(), 0);
  await bow.typePin(page, SHORT);
  await page.getByText(say('unlock_sheet.WRONG_PIN')).waitFor(bow.PATIENCE);
  await bow.typePin(page, LONG);
  await door(page).waitFor({ state: 'detached', ...bow.PATIENCE });
  assert.ok(await bow.isUnlocked(page));
  assert.deepEqual(faults, []);
});

test('a short PIN of a deckhand is enough, and is changed with the old one in hand', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(page, ship, 'Tam Orrin', SHORT);
  await page.locator('.person-mark').click(bow.PATIENCE);
  await door(page).getByRole('button', { name: say('unlock_sheet.CHANGE_PIN') }).click();
  await types(page, say('unlock_sheet.CHANGE_OLD'), '111222');
  await types(page, say('unlock_sheet.CHANGE_NEW'), '402957');
  await types(page, say('unlock_sheet.CHANGE_AGAIN'), '402957');
  // The old one was wrong: it is asked for again, and the new one is not typed anew.
  await page.getByText(say('unlock_sheet.WRONG_PIN')).waitFor(bow.PATIENCE);
  await types(page, say('unlock_sheet.CHANGE_OLD'), SHORT);
  await door(page).waitFor({ state: 'detached', ...bow.PATIENCE });
  await page.reload();
  await bow.unlock(page, '402957');
});

test('a browser without Ed25519 keeps a software key, and its PIN is changed all the same', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), PHONE)).newPage();
  await page.addInitScript(() => {
    const make = crypto.subtle.generateKey.bind(crypto.subtle);
    SubtleCrypto.prototype.generateKey = (algorithm, ...rest) =>
      algorithm === 'Ed25519' ? Promise.reject(new DOMException('no such algorithm', 'NotSupportedError')) : make(algorithm, ...rest);
  });
  await bow.enrol(page, ship, 'Tam Orrin', SHORT);
  await page.locator('.person-mark').click(bow.PATIENCE);
  await door(page).getByRole('button', { name: say('unlock_sheet.CHANGE_PIN') }).click();
  await types(page, say('unlock_sheet.CHANGE_OLD'), SHORT);
  await types(page, say('unlock_sheet.CHANGE_NEW'), LONG);
  await types(page, say('unlock_sheet.CHANGE_AGAIN'), LONG);
  await door(page).waitFor({ state: 'detached', ...bow.PATIENCE });
  await page.reload();
  await bow.unlock(page, LONG);
});
