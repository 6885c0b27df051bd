// The anchor is let go and brought up, with the cable log, at phone size.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { Party } from './support/party.mjs';
import { ship as makeShip } from './support/ship.mjs';

const HERE = { latitude: 43.51237, longitude: 7.06145, accuracy: 6 };

/** Logs marks, lead and strain on the three big keys, then says that the length ordered is out. */
async function logTheCable({ hand }) {
  const sheet = hand.locator('.action-sheet');
  for (let mark = 1; mark <= 4; mark += 1) {
    await sheet.getByRole('button', { name: new RegExp(`Mark ${mark}`) }).click();
    await sheet.getByText(new RegExp(`${mark} shackles? at the gypsy`)).first().waitFor(bow.PATIENCE);
  }
  await sheet.getByRole('button', { name: /How it leads/ }).click();
  await sheet.getByRole('button', { name: '1', exact: true }).click();
  await sheet.getByRole('button', { name: 'long stay' }).click();
  await sheet.getByText(/1 o'clock/).first().waitFor(bow.PATIENCE);
  await sheet.getByRole('button', { name: /How it weighs/ }).click();
  await sheet.getByRole('button', { name: 'heavy', exact: true }).click();
  await sheet.locator('.log-key', { hasText: 'heavy' }).waitFor(bow.PATIENCE);
  await sheet.getByRole('button', { name: 'That is all' }).click();
  await hand.waitForFunction(() => !document.querySelector('.sheet-title')?.innerText.includes('Log the cable'), null, bow.PATIENCE);
}

test('the anchor is walked back and let go, every mark logged, and she is brought up', async (t) => {
  const ship = await makeShip(t);
  const party = await Party.muster(t, ship, ['Tam Orrin', 'Maren Holt'], { geolocation: HERE, permissions: ['geolocation'] });

  // What decides the work is asked before it starts.
  await party.hand.locator('[data-slug="letting-go"]').click();
  await party.hand.locator('.start-choice', { hasText: 'anchor' }).first().getByRole('button', { name: 'starboard' }).click();
  await party.hand.getByRole('button', { name: /just above the ground/ }).click();
  await party.hand.getByRole('button', { name: 'Begin' }).click();
  await party.hand.waitForURL('**/bow/run/*', bow.PATIENCE);
  const path = new URL(party.hand.url()).pathname;
  await party.hand.locator('.sheet-title').waitFor(bow.PATIENCE);
  await party.turnTo(path);

  // The anchors were not made ready within twelve hours: only the officer's word lets it go on.
  assert.match(await party.hand.locator('.sheet-why').innerText(), /not yet/);
  const order = party.master.locator('.orders .is-fault').first();
  await order.locator('summary').click();
  await order.locator('textarea').fill('made ready this morning; the run is being closed on the bridge');
  await party.hold(party.master, 'Go on all the same');
  await party.until(party.hand, async (page) => (await page.locator('.sheet-why').count()) === 0, 'the order comes forward');

  const answer = (words) => async ({ hand }) => {
    const was = await bow.title(hand);
    // Chosen at the start: one press confirms it.
    await hand.locator('.sheet-choices [aria-pressed="true"]', { hasText: words }).waitFor(bow.PATIENCE);
    await bow.first(hand).click();
    await hand.waitForFunction((before) => document.querySelector('.sheet-title')?.innerText !== before, was, bow.PATIENCE);
  };
  // Out of range the master's word is heard by radio. The master says that it was never given: the hold is back.
  let heard = false;
  const orderDown = async ({ hand, master }) => {
    const was = await bow.title(hand);
    if (heard) {
      await party.until(master, async () => (await bow.title(master)) === was, 'the master comes to the hold');
      await party.hold(master, 'Give consent');
      await party.until(hand, async () => (await bow.title(hand)) !== was, 'the order comes forward');
      return;
    }
    heard = true;
    await party.hold(hand, 'Consent heard by radio');
    const givers = hand.locator('.action-sheet .button', { hasText: ', ' });
    await givers.first().waitFor(bow.PATIENCE);
    assert.deepEqual(await givers.allInnerTexts(), ['Maren Holt, master'], 'nobody else can have given it');
    await givers.first().click();
    await hand.waitForFunction((before) => document.querySelector('.sheet-title')?.innerText !== before, was, bow.PATIENCE);
    const bridge = await master.context().newPage();
    await bow.open(bridge, ship.url('/bridge'));
    await bridge.getByRole('button', { name: 'I did not say that' }).click(bow.PATIENCE);
    await party.until(hand, async () => (await bow.title(hand)) === was, 'the hold is back');
    await bridge.close();
  };
  await party.workToTheEnd({
    "master's order to put the anchor down": orderDown,
    'Say which anchor': answer('starboard'),
    'Say how the master wants it done': answer('walk back'),
    'Take the position as the anchor touches': async ({ hand }) => {
      await hand.getByRole('button', { name: "Take the phone's fix" }).click();
      await hand.getByText(/within 6 m/).waitFor(bow.PATIENCE);
      assert.equal(await hand.getByLabel('Latitude, degrees').inputValue(), '43');
      assert.equal(await hand.getByLabel('Latitude, minutes').inputValue(), '30.7422');
      // Typed instead, as a receiver shows it, west and south can be said; then the fix is taken again.
      await hand.getByRole('button', { name: 'W', exact: true }).click();
      await hand.getByLabel('Longitude, minutes').fill('60');
      await hand.locator('.sheet-blocked, .sheet-why').first().waitFor(bow.PATIENCE);
      assert.ok(await bow.first(hand).isDisabled(), 'no such minute');
      await hand.getByRole('button', { name: "Take the phone's fix" }).click();
      await hand.getByText(/within 6 m/).waitFor(bow.PATIENCE);
      await bow.first(hand).click();
      await hand.waitForFunction(() => !document.querySelector('.sheet-title')?.innerText.includes('Take the position'), null, bow.PATIENCE);
    },
    'Log the cable': logTheCable,
  });
  assert.ok(party.log.some((step) => step.includes('Walk back until the anchor hangs')), 'the branch that was chosen');
  assert.ok(!party.log.some((step) => step.includes('the anchor hangs on the brake')), 'and no other');
  await party.hold(party.hand, 'Close this run');
  await party.hand.getByText('This run is closed').waitFor(bow.PATIENCE);

  // The bridge has the log, and the fix with its accuracy.
  await bow.allAboard(party.hand);
  const request = party.people[0].browser.request;
  const vessel = await (await request.get(ship.url('/api/v1/ship'))).json();
  const run = await (await request.get(ship.url(`/api/v1/vessels/${vessel.vessel}/runs/${path.split('/').at(-1)}`))).json();
  const steps = Object.fromEntries(run.card.view.steps.map((step) => [step.id, step]));
  assert.deepEqual(steps.cable.log.map((line) => line.entry.mark).filter(Boolean), ['1', '2', '3', '4']);
  assert.deepEqual(
    steps.cable.log.map((line) => [line.entry.lead_oclock, line.entry.grows, line.entry.strain]).slice(-2),
    [[1, 'long-stay', null], [null, null, 3]],
  );
  assert.match(steps.touch.answer, /43\.51237/);
  party.sound();
});
