// The anchor is let go and brought up, with the cable log, at phone size.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { Party } from './support/party.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

/** What the demo's plan orders, and the bow does otherwise. */
const ORDERED = { anchor: 'port', method: 'lower all the way with the windlass' };

const HERE = { latitude: -43.51237, longitude: -20.06145, accuracy: 6 };

/** Logs marks, lead and strain on the three big keys, then says that the length ordered is out. */
async function logTheCable({ hand }) {
  const sheet = hand.locator('.action-sheet');
  for (let mark = 1; mark <= 4; mark += 1) {
    await sheet.getByRole('button', { name: new RegExp(`Mark ${mark}`) }).click();
    await sheet.getByText(new RegExp(`${mark} shackles? at the gypsy`)).first().waitFor(bow.PATIENCE);
  }
  await sheet.getByRole('button', { name: say('LEADS') }).click();
  await sheet.getByRole('button', { name: '1', exact: true }).click();
  await sheet.getByRole('button', { name: say('GROWS_LONG_STAY') }).click();
  await sheet.getByText(say('oclock', { hour: 1 })).first().waitFor(bow.PATIENCE);
  await sheet.getByRole('button', { name: say('WEIGHS') }).click();
  await sheet.getByRole('button', { name: say('STRAIN_HEAVY'), exact: true }).click();
  await sheet.locator('.log-key', { hasText: say('STRAIN_HEAVY') }).waitFor(bow.PATIENCE);
  await sheet.getByRole('button', { name: say('THATS_ALL') }).click();
  await hand.waitForFunction(() => document.querySelector('.sheet-title')?.dataset.step !== 'cable', null, bow.PATIENCE);
}

test('the anchor is walked back and let go, every mark logged, and she is brought up', async (t) => {
  const ship = await makeShip(t);
  const party = await Party.muster(t, ship, ['Tam Orrin', 'Maren Holt'], { geolocation: HERE, permissions: ['geolocation'] });

  // What decides the work is asked before it starts.
  await party.hand.locator('[data-slug="letting-go"]').click();
  await party.hand.locator('.start-choice', { hasText: 'anchor' }).first().getByRole('button', { name: 'starboard' }).click();
  await party.hand.getByRole('button', { name: /just above the bottom/ }).click();
  await party.hand.getByRole('button', { name: say('BEGIN') }).click();
  await party.hand.waitForURL('**/bow/run/*', bow.PATIENCE);
  const path = new URL(party.hand.url()).pathname;
  await party.hand.locator('.sheet-title').waitFor(bow.PATIENCE);
  await party.turnTo(path);

  // The anchors were not made ready within twelve hours: only the officer's word lets it go on.
  assert.match(await party.hand.locator('.sheet-why').innerText(), /not yet/);
  const order = party.master.locator('.orders .is-fault').first();
  await order.locator('summary').click();
  await order.locator('textarea').fill('made ready this morning; the run is being closed on the bridge');
  await party.hold(party.master, say('GO_ON'));
  await party.until(party.hand, async (page) => (await page.locator('.sheet-why').count()) === 0, 'the order comes forward');

  const answer = (words) => async ({ hand }) => {
    const was = await bow.title(hand);
    // Chosen at the start: one press confirms it.
    await hand.locator('.sheet-choices [aria-pressed="true"]', { hasText: words }).waitFor(bow.PATIENCE);
    // The plan in force orders the other anchor, and another way: nothing is put on record without a reason.
    await hand.getByText(say('order_says', { ordered: ORDERED[was] })).waitFor(bow.PATIENCE);
    assert.ok(await bow.first(hand).isDisabled(), 'not without a word');
    await hand.getByLabel(say('WHY_NOT_AS_ORDERED')).fill(`no power on that side: ${was}`);
    await bow.first(hand).click();
    await hand.waitForFunction((before) => document.querySelector('.sheet-title')?.dataset.step !== before, was, bow.PATIENCE);
  };
  // Out of range the master's word is heard by radio. The master says that it was never given: the hold is back.
  let heard = false;
  const orderDown = async ({ hand, master }) => {
    const was = await bow.title(hand);
    if (heard) {
      await party.until(master, async () => (await bow.title(master)) === was, 'the master comes to the hold');
      await party.hold(master, say('GIVE_CONSENT'));
      await party.until(hand, async () => (await bow.title(hand)) !== was, 'the order comes forward');
      return;
    }
    heard = true;
    await party.hold(hand, say('HEARD_BY_RADIO'));
    const givers = hand.locator('.action-sheet .button', { hasText: ', ' });
    await givers.first().waitFor(bow.PATIENCE);
    assert.deepEqual(await givers.allInnerTexts(), ['Maren Holt, master'], 'nobody else can have given it');
    await givers.first().click();
    await hand.waitForFunction((before) => document.querySelector('.sheet-title')?.dataset.step !== before, was, bow.PATIENCE);
    const link = await hand.locator(`.chain-row[data-step="${was}"]`).innerText();
    assert.match(link, /Tam Orrin heard Maren Holt by radio, \d\d:\d\d/, 'who heard it, from whom, when');
    const bridge = await master.context().newPage();
    await bow.open(bridge, ship.url('/bridge'));
    await bridge.getByRole('button', { name: say('NOT_SAID') }).click(bow.PATIENCE);
    await party.until(hand, async () => (await bow.title(hand)) === was, 'the hold is back');
    await bridge.close();
  };
  await party.workToTheEnd({
    'may-go': orderDown,
    anchor: answer('starboard'),
    method: answer('just above the bottom'),
    'counted-at': async ({ hand }) => {
      await hand.locator('.sheet-choices').getByRole('button', { name: say('ON_DECK') }).click();
      assert.equal(await hand.getByLabel(say('WHY_NOT_AS_ORDERED')).count(), 0, 'as ordered');
      await bow.first(hand).click();
      await hand.waitForFunction(() => document.querySelector('.sheet-title')?.dataset.step !== 'counted-at', null, bow.PATIENCE);
    },
    touch: async ({ hand }) => {
      await hand.getByRole('button', { name: say('FIX_TAKE') }).click();
      await hand.getByText(say('fix_accuracy', { metres: 6 })).waitFor(bow.PATIENCE);
      assert.equal(await hand.getByLabel(`${say('LATITUDE')}, ${say('DEGREES')}`).inputValue(), '43');
      assert.equal(await hand.getByLabel(`${say('LATITUDE')}, ${say('MINUTES')}`).inputValue(), '30.7422');
      // Typed instead, as a receiver shows it, west and south can be said; then the fix is taken again.
      await hand.getByRole('button', { name: say('WEST'), exact: true }).click();
      await hand.getByLabel(`${say('LONGITUDE')}, ${say('MINUTES')}`).fill('60');
      await hand.locator('.sheet-blocked, .sheet-why').first().waitFor(bow.PATIENCE);
      assert.ok(await bow.first(hand).isDisabled(), 'no such minute');
      await hand.getByRole('button', { name: say('FIX_TAKE') }).click();
      await hand.getByText(say('fix_accuracy', { metres: 6 })).waitFor(bow.PATIENCE);
      await bow.first(hand).click();
      await hand.waitForFunction(() => document.querySelector('.sheet-title')?.dataset.step !== 'touch', null, bow.PATIENCE);
    },
    cable: logTheCable,
  });
  assert.ok(party.log.includes('a-cockbill'), 'the branch that was chosen');
  assert.ok(!party.log.includes('brake-only'), 'and no other');
  await party.hold(party.hand, say('CLOSE_RUN'));
  await party.hand.getByText(say('RUN_CLOSED')).waitFor(bow.PATIENCE);

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
  const told = run.card.view.messages.map((message) => [message.step, message.text]);
  const against = (step) => [step, say('not_as_ordered', { ordered: ORDERED[step], reason: `no power on that side: ${step}` })];
  assert.deepEqual(told, ['anchor', 'method'].map(against), 'what was as ordered needs no word');
  party.sound();
});
