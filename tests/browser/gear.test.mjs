// The register of the ship's gear: an item is put on, found, taken out of service; a meter that is out of service or out of
// date blocks the permit; a table is taken in whole or not at all.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { overflow } from './support/look.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

const PHONE = { viewport: { width: 390, height: 844 } };

const shot = async (page, name) => {
  if (process.env.CLEARHAWSE_SHOTS) await page.screenshot({ path: `${process.env.CLEARHAWSE_SHOTS}/${name}.png`, fullPage: true });
};

/** Opens a folded form. */
async function unfold(page, name) {
  const form = page.locator('.order-more', { hasText: name }).first();
  await form.locator('summary').first().click();
  return form;
}

/** Says what became of the item in sight. */
async function act(page, name, words) {
  const form = await unfold(page, name);
  await form.locator('textarea').fill(words);
  await bow.hold(page, name, form);
}

const standing = (page, word) => page.locator('.gear-standing', { hasText: word }).waitFor(bow.PATIENCE);
const rows = (page) => page.locator('.gear-row').evaluateAll((all) => all.map((row) => row.dataset.item));

test('an item is put on, found, taken out of service by a hand and put back by an officer', async (t) => {
  const ship = await makeShip(t);
  const mate = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(mate, ship, 'Ravi Thorne');
  await bow.open(mate, ship.url('/gear'));
  await mate.locator('.gear-row[data-item="GM-1"]').waitFor(bow.PATIENCE);
  // The cables that the settings describe are there.
  await mate.locator('.gear-row[data-item="cable-starboard"]').waitFor(bow.PATIENCE);
  await shot(mate, 'gear-list-390');

  const form = await unfold(mate, say('gear.PUT_ON'));
  await form.locator('#item-kind').selectOption('hose');
  await form.locator('#item-new-code').fill('ho-9');
  await form.locator('#item-name').fill('spare hose');
  await form.locator('#item-tested-until').fill('2031-05-01');
  await form.locator('#figure-length').fill('400');
  await form.locator('#item-why').fill('bought for the tender');
  await form.getByText('400 is not between 0 and 40 m').waitFor(bow.PATIENCE);
  await shot(mate, 'gear-form-390');
  await form.locator('#figure-length').fill('20');
  await bow.hold(mate, say('gear.PUT_ON_KEY'), form);
  await mate.locator('.gear-row[data-item="HO-9"]').waitFor(bow.PATIENCE);

  await mate.locator('#gear-find').fill('spare HOSE');
  await mate.waitForFunction(() => document.querySelectorAll('.gear-row').length === 1, null, bow.PATIENCE);
  assert.deepEqual(await rows(mate), ['HO-9']);

  // A hand finds it torn: they take it out of service, and may do no more.
  const hand = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(hand, ship, 'Tam Orrin');
  await bow.open(hand, ship.url('/gear/HO-9'));
  await standing(hand, say('gear.IN_SERVICE'));
  assert.equal(await hand.locator('.order-more', { hasText: say('gear.TAKE_OFF') }).count(), 0);
  await act(hand, say('gear.TAKE_OUT'), 'torn at the coupling');
  await standing(hand, say('gear.OUT_OF_SERVICE'));
  await standing(hand, 'torn at the coupling');
  await shot(hand, 'gear-item-390');
  assert.deepEqual(await overflow(hand, '/gear/HO-9', [390]), []);

  await bow.open(mate, ship.url('/gear/HO-9'));
  await standing(mate, 'torn at the coupling');
  await act(mate, say('gear.PUT_BACK'), 'cut short, tested at 8 bar');
  await standing(mate, say('gear.IN_SERVICE'));
  const lines = await mate.locator('.defect-history li').allInnerTexts();
  assert.equal(lines.length, 3);
  assert.match(lines[0], /Ravi Thorne.*cut short/s);
  assert.match(lines[1], /Tam Orrin.*torn/s);
  await mate.setViewportSize({ width: 1280, height: 800 });
  await shot(mate, 'gear-item-1280');
  await mate.goto(ship.url('/gear'));
  await mate.locator('.gear-row').first().waitFor(bow.PATIENCE);
  await shot(mate, 'gear-list-1280');
  await mate.goto(ship.url('/gear/labels'));
  await mate.locator('.gear-label .qr').first().waitFor(bow.PATIENCE);
  await shot(mate, 'gear-labels-1280');
});

test('a meter whose date is past is said to be so where the permit asks which is used', async (t) => {
  const ship = await makeShip(t);
  const mate = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(mate, ship, 'Ravi Thorne');
  await bow.open(mate, ship.url('/gear/GM-1'));
  const form = await unfold(mate, say('gear.CHANGE'));
  await form.locator('#item-calibrated-until').fill('2024-01-31');
  await form.locator('#item-why').fill('the paper says so');
  await bow.hold(mate, say('gear.CHANGE_KEY'), form);
  await standing(mate, say('gear.NOT_USABLE'));

  await bow.open(mate, ship.url('/bow'));
  await bow.begin(mate, 'locker-entry');
  const key = mate.locator('.chain-row', { hasText: 'Say which gas meter is used' });
  await key.first().click();
  await mate.locator('[data-item="GM-1"] .item-why', { hasText: 'which is past' }).waitFor(bow.PATIENCE);
  await mate.locator('#item-code').fill('gm-2');
  await mate.waitForFunction(
    () => document.querySelector('[data-item="GM-2"]')?.getAttribute('aria-pressed') === 'false',
    null,
    bow.PATIENCE,
  );
  await shot(mate, 'gear-step-390');
  assert.deepEqual(await overflow(mate, 'item sheet', [390]), []);
});

test('a table is taken in whole or not at all, and what is wrong is said by line and column', async (t) => {
  const ship = await makeShip(t);
  const mate = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(mate, ship, 'Ravi Thorne');
  await bow.open(mate, ship.url('/gear'));
  await mate.locator('.gear-row').first().waitFor(bow.PATIENCE);
  const before = (await rows(mate)).length;
  await unfold(mate, say('gear.TABLE'));
  const good = Array.from({ length: 100 }, (_, at) => `tail,tail ${at},2031-01-01`).join('\n');
  await mate.locator('#gear-table-text').fill(`kind,name,renew-by\n${good}\ntail,,2031-13-01\n`);
  await mate.locator('.mistakes', { hasText: 'line 102, column renew-by' }).waitFor(bow.PATIENCE);
  await mate.locator('.mistakes', { hasText: 'line 102, column name' }).waitFor(bow.PATIENCE);
  await mate.locator('#gear-table-why').fill('a hundred at once');
  await shot(mate, 'gear-table-390');
  await mate.locator('#gear-table-text').fill(`kind,name,renew-by\n${good}\n`);
  await mate.locator('.gear-in-order').waitFor(bow.PATIENCE);
  await bow.hold(mate, say('gear.TABLE_TAKE'), mate.locator('.gear-table'));
  await mate.waitForFunction((all) => document.querySelectorAll('.gear-row').length === all, before + 100, bow.PATIENCE);
  const [download] = await Promise.all([mate.waitForEvent('download'), mate.locator('.gear-table a').click()]);
  const out = readFileSync(await download.path(), 'utf8');
  assert.equal(out.split('\r\n').filter((line) => line.includes(',tail,')).length, 100);

  const answer = await mate.request.get(ship.url('/gear.csv'));
  assert.equal(answer.headers()['content-disposition'], 'attachment; filename="gear.csv"');
});
