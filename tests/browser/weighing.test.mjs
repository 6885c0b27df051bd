// The anchor is weighed at phone size: the cable comes home mark by mark, and a wrong entry is struck out.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { Party } from './support/party.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

test('the cable comes home mark by mark, a wrong entry stays readable, and the anchor is secured', async (t) => {
  const ship = await makeShip(t);
  const party = await Party.muster(t, ship, ['Tam Orrin', 'Maren Holt']);
  const path = await bow.begin(party.hand, 'weighing');
  await party.turnTo(path);

  // The first step is ticked too early, struck out with its reason, and done again.
  const first = await bow.title(party.hand);
  await bow.first(party.hand).click();
  await party.hand.waitForFunction((was) => document.querySelector('.sheet-title')?.dataset.step !== was, first, bow.PATIENCE);
  await party.hand.locator(`.chain-row[data-step="${first}"]`).locator('button').first().click();
  await party.hand.locator('.entries').getByRole('button', { name: say('STRIKE_OUT') }).click();
  await party.hand.getByLabel(say('STRIKE_REASON')).fill('the voice link was not tried yet');
  await bow.first(party.hand).click();
  await party.hand.locator('.entries s').waitFor(bow.PATIENCE);
  assert.match(await party.hand.locator('.entries').innerText(), /Struck out by Tam Orrin: the voice link was not tried yet/);
  await bow.first(party.hand).click();
  await party.hand.waitForFunction((was) => document.querySelector('.sheet-title')?.dataset.step !== was, first, bow.PATIENCE);

  await party.workToTheEnd({
    cable: async ({ hand }) => {
      const sheet = hand.locator('.action-sheet');
      const was = await bow.title(hand);
      // No log says what lies out: the bow asks, and never offers a mark that nobody has seen.
      const key = sheet.locator('.log-key.is-whole');
      assert.match(await key.innerText(), /Which mark is it\?/);
      const measured = sheet.locator('.cable-said span');
      assert.doesNotMatch((await measured.allInnerTexts()).join(), /^0 m/, 'what nobody has logged is not 0 m');
      await key.click();
      await sheet.getByRole('button', { name: /^3 ?red$/ }).waitFor(bow.PATIENCE);
      await sheet.getByRole('button', { name: say('AT_WATER') }).click();
      await sheet.getByRole('button', { name: /^4/ }).click();
      // At the water is not at the gypsy: the fourth joint is still to come over it.
      const seen = say('shackles_seen', { number: 4, place: say('AT_WATER') });
      await sheet.getByText(seen, { exact: true }).first().waitFor(bow.PATIENCE);
      const out = Number.parseFloat(await measured.innerText());
      assert.ok(out > 4 * 27.5 + 2, `${out} m, with the way from the gypsy to the water`);
      for (const next of [/Mark 4.* passed/, /Mark 3, red passed/, /Mark 2, blue passed/, /Mark 1, white passed/]) {
        await sheet.getByRole('button', { name: next }).click();
        await hand.waitForFunction((text) => !document.querySelector('.log-key.is-whole')?.innerText.match(text), next.source, bow.PATIENCE);
      }
      assert.match(await key.innerText(), /Anchor home in the hawse/);
      // The bridge draws the same, and what is still to come.
      const bridge = await hand.context().newPage();
      await bridge.goto(ship.url('/bridge'));
      const panel = bridge.locator('.bridge-cable');
      await panel.getByText(say('ONE_SHACKLE_OUT')).first().waitFor(bow.PATIENCE);
      // Whose cable it is stands in this device's own records, which open after the board is there.
      await panel.getByText(say('cable_of', { side: 'port' })).waitFor(bow.PATIENCE);
      await panel.locator('.cable-mark.is-out').first().waitFor({ state: 'attached', ...bow.PATIENCE });
      assert.equal(await panel.locator('.cable-mark.is-out').count(), 1);
      await bridge.close();
      await key.click();
      await sheet.getByText(say('NO_SHACKLE_OUT')).first().waitFor(bow.PATIENCE);
      await sheet.getByRole('button', { name: say('LEADS') }).click();
      await sheet.getByRole('button', { name: say('GROWS_UP_AND_DOWN') }).click();
      await sheet.locator('.log-keys').waitFor(bow.PATIENCE);
      await sheet.getByRole('button', { name: say('THATS_ALL') }).click();
      await hand.waitForFunction((before) => document.querySelector('.sheet-title')?.dataset.step !== before, was, bow.PATIENCE);
    },
  });
  await party.hold(party.hand, say('CLOSE_RUN'));
  await party.hand.getByText(say('RUN_CLOSED')).waitFor(bow.PATIENCE);
  await bow.allAboard(party.hand);

  const request = party.people[0].browser.request;
  const vessel = await (await request.get(ship.url('/api/v1/ship'))).json();
  const run = await (await request.get(ship.url(`/api/v1/vessels/${vessel.vessel}/runs/${path.split('/').at(-1)}`))).json();
  const log = run.card.view.steps.flatMap((step) => step.log).filter((line) => line.entry.mark);
  assert.deepEqual(log.map((line) => [line.entry.mark, line.entry.at]), [['4', 'water'], ['4', null], ['3', null], ['2', null], ['1', null], ['0', null]]);
  const struck = run.card.view.history.filter((line) => line.struck);
  assert.equal(struck.length, 1, 'one entry is struck out, and stands');
  assert.equal(run.card.view.closed.end, 'completed');
  party.sound();
});
