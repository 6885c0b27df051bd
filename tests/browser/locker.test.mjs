// People go into the chain locker and every one of them comes out: the permit in full, at phone size.
import assert from 'node:assert/strict';
import { join } from 'node:path';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { Party } from './support/party.mjs';
import { inSight } from './support/look.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

const MINUTE = 60_000;

/** The air as it should be, and with too little oxygen, in the order of the points. */
const GOOD = ['20.9', '0', '0', '0', '0.04'];
const BAD = ['19.5', '0', '0', '0', '0.04'];

/** Lets time pass on every phone at once. */
async function pass(party, minutes) {
  for (const { page } of party.people) await page.clock.fastForward(minutes * MINUTE);
  // A key that was not used for so long has locked itself.
  for (const { page } of party.people) {
    await page.waitForTimeout(1500);
    if (!(await bow.isUnlocked(page))) await bow.unlock(page);
  }
}

const nextStep = (page, was) =>
  page.waitForFunction((before) => document.querySelector('.sheet-title')?.dataset.step !== before, was, bow.PATIENCE);

/** Works the run until the sheet shows the step `wanted`. */
async function workTo(party, wanted, special = {}) {
  for (let n = 0; (await bow.title(party.hand)) !== wanted; n += 1) {
    assert.ok(n < 120, `never came to ${wanted}: ${await party.standing(party.hand)}`);
    await party.work(special);
  }
}

/** The master sets the locker's volume from her plans. */
async function setVolume(page, ship, value) {
  await bow.open(page, ship.url('/settings'));
  const row = page.locator('tr', { hasText: 'locker_volume' });
  await row.locator('summary').click();
  await row.getByLabel(say('ship.VALUE')).fill(value);
  await row.getByLabel(say('ship.SOURCE'), { exact: true }).fill("the ship's capacity plan");
  await bow.hold(page, say('ship.PUT_IN_FORCE'), row);
  await row.getByText(/Maren Holt/).waitFor(bow.PATIENCE);
  await bow.open(page, ship.url('/bow'));
}

const key = (page, name) => page.locator('.action-sheet').getByRole('button', { name });
const why = (page, words) => page.locator('.action-sheet .sheet-why', { hasText: words }).waitFor(bow.PATIENCE);
const list = (page) => key(page, say('GOES_IN')).waitFor(bow.PATIENCE);
const said = (page, words) => page.locator('.action-sheet .sheet-words', { hasText: words }).waitFor(bow.PATIENCE);

/** Asks who goes in; a key that news from another phone has moved meanwhile takes no press, and is pressed again. */
async function askWho(page) {
  const names = page.locator('.sheet-choices.is-people .button', { hasText: 'Tam Orrin' });
  for (let press = 0; press < 4; press += 1) {
    await key(page, say('GOES_IN')).click();
    if (await names.waitFor({ timeout: 5_000 }).then(() => true, () => false)) return;
  }
  assert.fail('pressed, and nobody was asked for');
}

/** Puts the crew's member on the list by a key, or a visitor by name. */
async function goesIn(page, name, visitor = false) {
  await askWho(page);
  if (visitor) {
    await page.getByLabel(say('VISITOR')).fill(name);
    await bow.first(page).click();
  } else {
    await key(page, name).click();
  }
  await key(page, new RegExp(`${name}.* is out`)).waitFor(bow.PATIENCE);
}

/** Says why a person cannot go in, and goes back to the list. */
async function keptOut(page, name) {
  await askWho(page);
  const refused = key(page, name);
  assert.ok(await refused.isDisabled(), `${name} is kept out`);
  const words = await refused.innerText();
  await key(page, say('CANCEL')).click();
  await list(page);
  return words;
}

/** Types the five readings of the air; the last press keeps them. */
async function readAir(page, values) {
  await key(page, say('READ_AIR')).click();
  for (const value of values) {
    const point = await page.locator('.keypad').getAttribute('aria-label');
    await bow.type(page, value);
    await bow.first(page).click();
    const next = (was) => document.querySelector('.keypad')?.getAttribute('aria-label') !== was;
    await page.waitForFunction(next, point, bow.PATIENCE);
  }
  await list(page);
}

/** What calls for attention in this run. */
const alarms = (page) => page.locator('.run-alarms').innerText();

test('the permit is worked in full: two sign, one attends, bad air sends everybody out, and nobody is left inside', async (t) => {
  const ship = await makeShip(t);
  const party = await Party.muster(t, ship, ['Tam Orrin', 'Ravi Thorne', 'Maren Holt']);
  for (const { page } of party.people) await page.clock.install();
  const { hand, master } = party;
  await setVolume(master, ship, '40');
  await bow.allAboard(master);
  await party.told();

  const path = await bow.begin(hand, 'locker-entry');
  await party.turnTo(path);
  await workTo(party, 'air-top', {
    ventilate: async () => {
      // 5 x 40 m³ / 500 m³/h x ln 100 is 1.842 h, more than the least of one hour.
      const was = await bow.title(hand);
      await bow.keysAwake(hand);
      if (await bow.first(hand).isEnabled()) {
        await bow.first(hand).click();
        await nextStep(hand, was);
        return;
      }
      assert.match(await hand.locator('.timer-left').innerText(), /^1:(50|4[0-9]):/);
      await pass(party, 61);
      assert.equal(await bow.title(hand), was, 'an hour is not enough for this locker');
      await pass(party, 51);
      await nextStep(hand, was);
    },
    settle: async () => {
      const was = await bow.title(hand);
      await pass(party, 11);
      await nextStep(hand, was);
    },
  });

  // A reading out of limits is kept, and there is no way past it but a good one.
  await bow.type(hand, '20.1');
  await hand.getByRole('button', { name: say('KEEP_READING_OUT') }).click();
  await said(hand, '20.1 is below');
  await hand.locator('.keypad[aria-label="oxygen"]').waitFor(bow.PATIENCE);
  await workTo(party, 'fan-on');

  // Nobody went on in time: every test is too old, and is done again.
  await pass(party, 31);
  await hand.locator('.sheet-title[data-step="air-top"]').waitFor(bow.PATIENCE);
  await said(hand, 'too old');
  await workTo(party, 'inside');

  // Nobody goes in until someone attends, and that one never does.
  assert.match(await keptOut(hand, 'Tam Orrin'), /nobody attends/);
  await key(hand, say('NAME_ATTENDANT')).click();
  await key(hand, 'Ravi Thorne').click();
  await said(hand, say('attends', { name: 'Ravi Thorne' }));
  assert.match(await keptOut(hand, 'Ravi Thorne'), /attends at the hatch/);
  await askWho(hand);
  await hand.locator('.action-sheet .caution', { hasText: say('ENTRY_CAUTION') }).waitFor(bow.PATIENCE);
  await hand.getByLabel(say('VISITOR')).fill(' ravi  THORNE');
  await why(hand, 'attends at the hatch');
  await key(hand, say('CANCEL')).click();

  await goesIn(hand, 'Tam Orrin');
  await said(hand, say('inside[one]'));
  await hand.locator('.run-alarms', { hasText: 'inside alone' }).waitFor(bow.PATIENCE);
  await goesIn(hand, 'Jo Vane', true);
  await said(hand, say('inside[other]', { n: 2 }));
  assert.equal(await bow.first(hand).count(), 0, 'the list cannot be finished');
  // Nor can the run be broken off over their heads.
  await party.until(master, async () => (await key(master, /Jo Vane.* is out/).count()) > 0, 'the bridge has the list');
  const off = master.locator('.orders .order-more', { hasText: say('BREAK_OFF') });
  await off.locator('summary').click();
  await off.locator('textarea').fill('the weather');
  assert.ok(await off.getByRole('button', { name: say('BREAK_OFF') }).isDisabled());
  assert.match(await off.innerText(), /Jo Vane is still inside/);

  // Read in time, the air keeps the permit; a call that is late is told.
  await readAir(hand, GOOD);
  await pass(party, 25);
  await hand.locator('.run-alarms', { hasText: 'call to the people inside is overdue' }).waitFor(bow.PATIENCE);
  await readAir(hand, GOOD);
  await pass(party, 10);
  assert.doesNotMatch(await alarms(hand), /everybody out/);
  await key(hand, say('CALLED')).click();

  // Man down: the rescue team is written in whatever keeps others out, told on the bridge, and counted.
  await key(hand, say('MAN_DOWN')).click();
  await key(hand, 'Maren Holt').click();
  await key(hand, /Maren Holt, rescue team.* is out/).waitFor(bow.PATIENCE);
  await hand.locator('.alarm-bar', { hasText: 'man down' }).first().waitFor(bow.PATIENCE);
  await party.until(master, async () => /man down/i.test(await alarms(master)), 'the bridge is told of the man down');
  await key(hand, /Maren Holt, rescue team.* is out/).click();
  await said(hand, say('inside[other]', { n: 2 }));

  // Out of limits: everybody out, on every screen, and the list stays under the thumb.
  await readAir(hand, BAD);
  await hand.locator('.alarm-bar .is-danger', { hasText: 'everybody out' }).first().waitFor(bow.PATIENCE);
  await party.until(master, async () => /everybody out/.test(await alarms(master)), 'the bridge is told');
  assert.equal(await bow.title(hand), 'inside');
  // In the emergency the names, the call and the rescue lie under the thumb, with the alarm on one line.
  await hand.screenshot({ path: join(import.meta.dirname, '../../target/looks/people-everybody-out.png') });
  const seen = await inSight(hand, { names: '.people-inside .button', acts: '.sheet-choices.is-people .button', alarm: '.people-alarm' });
  assert.deepEqual(Object.entries(seen).filter(([, share]) => share < 0.99), []);
  const alarm = await hand.locator('.people-alarm').boundingBox();
  assert.ok(alarm.height > 20, `the alarm is ${alarm.height} px high`);
  await key(hand, /Tam Orrin.* is out/).click();
  await key(hand, /Jo Vane.* is out/).click();

  // The permit is dead: the air comes first again, and nobody goes in.
  await hand.locator('.sheet-title[data-step="air-top"]').waitFor(bow.PATIENCE);
  await hand.locator('.chain-row[data-step="inside"]').locator('button').first().click();
  await list(hand);
  await said(hand, say('inside[0]'));
  assert.match(await keptOut(hand, 'Tam Orrin'), /first: The master gives the permit/);
  await key(hand, say('EVERYONE_OUT')).click();
  await hand.locator('.sheet-title[data-step="tools-out"]').waitFor(bow.PATIENCE);

  // Closed out: as many tools as went in, two for the hatch and the windlass, the officer takes the permit back.
  await party.workToTheEnd();
  await party.until(master, async () => (await bow.title(master)) === 'all-done', 'the master sees it done');
  await party.hold(master, say('CLOSE_RUN'));
  await party.until(hand, (page) => page.getByText(say('RUN_CLOSED')).isVisible(), 'the phone sees it closed');
  await bow.allAboard(master);

  const request = party.people[2].browser.request;
  const vessel = await (await request.get(ship.url('/api/v1/ship'))).json();
  const run = await (await request.get(ship.url(`/api/v1/vessels/${vessel.vessel}/runs/${path.split('/').at(-1)}`))).json();
  const { view } = run.card;
  assert.equal(view.closed.end, 'completed');
  assert.deepEqual(view.inside, []);
  const steps = Object.fromEntries(view.steps.map((step) => [step.id, step]));
  for (const [id, step] of Object.entries(steps)) {
    if (step.kind.is === 'reading' && id.startsWith('air-')) assert.ok(step.second.signed, `${id} has two names`);
  }
  assert.equal(steps.inside.log.filter((entry) => entry.wrong.length > 0).length, 1);
  party.sound();
});
