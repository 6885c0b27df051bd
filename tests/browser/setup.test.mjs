// The first hour aboard: from an empty data folder to the first Anchors ready with the ship's own gear and limits that her
// master confirmed, counted in fields, letters and presses; and a sister ship that is set up from her two tables.
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { overflow } from './support/look.mjs';
import { signedByTwo } from './support/second.mjs';
import { Ship, folder } from './support/ship.mjs';
import { say, says } from './support/words.mjs';

const PHONE = { viewport: { width: 390, height: 844 } };
const BRIDGE = { viewport: { width: 1280, height: 800 } };

/** The gear of a small ship, as her master types it. */
const GEAR = `kind,name,side,figures
anchor,port anchor,port,mass 480 kg
anchor,starboard anchor,starboard,mass 480 kg
windlass,port windlass,port,pull 40 kN; speed 9 m/min
windlass,starboard windlass,starboard,pull 40 kN; speed 9 m/min
brake,port brake,port,lining 9 mm
brake,starboard brake,starboard,lining 9 mm
clutch,port clutch,port,
clutch,starboard clutch,starboard,
chain-stopper,port stopper,port,
chain-stopper,starboard stopper,starboard,
devils-claw,port claw,port,
devils-claw,starboard claw,starboard,
`;

const CABLE = '27.5 red\n27.5 white\n27.5 blue\n27.5 red\n27.5';

/**
 * What a tired officer does with two fingers on a phone, in seconds: to find a field, to type a letter, to press a key, to
 * hold one. Common practice, no source: three letters in two seconds is slow.
 */
const FIELD_S = 6;
const LETTER_S = 0.7;
const PRESS_S = 3;
const HOLD_S = 5;
const MOST_S = 20 * 60;

/** Counts what is done by hand. */
class Hand {
  fields = 0;
  letters = 0;
  presses = 0;
  holds = 0;

  constructor(page) {
    this.page = page;
  }

  async fill(field, text) {
    this.fields += 1;
    this.letters += text.length;
    await field.fill(text);
  }

  async press(key) {
    this.presses += 1;
    await key.click(bow.PATIENCE);
  }

  async hold(name, within = this.page) {
    this.holds += 1;
    await bow.hold(this.page, name, within);
  }

  /** What one of the helpers of the bow did. */
  did({ fields = 0, letters = 0, presses = 0 }) {
    this.fields += fields;
    this.letters += letters;
    this.presses += presses;
  }

  get seconds() {
    return this.fields * FIELD_S + this.letters * LETTER_S + this.presses * PRESS_S + this.holds * HOLD_S;
  }
}

const part = (page, name) => page.locator(`.setup-part[data-part="${name}"]`);
const isDone = (page, name, done = true) =>
  page.locator(`.setup-part[data-part="${name}"][data-done="${done}"]`).waitFor(bow.PATIENCE);

/** Goes from the page of the first hour to where a part is said. */
const go = (hand, name, way) => hand.press(part(hand.page, name).getByRole('link', { name: say(way) }));

/** Back to the page of the first hour, as the phone's own key does. */
async function back(hand) {
  hand.presses += 1;
  await hand.page.goBack();
  await hand.page.locator('.setup-part').first().waitFor(bow.PATIENCE);
}

async function emptyShip(t) {
  const ship = new Ship(folder(t, 'data'));
  t.after(() => ship.cut());
  await ship.start();
  return ship;
}

/** The first of an empty ship, on the page of the first hour. */
async function begin(t, ship, name) {
  const page = await (await open(t, profile(t), BRIDGE)).newPage();
  await bow.enrolFirst(page, ship, { ship: name, name: 'Ines Calder' });
  const hand = new Hand(page);
  // The PIN twice and its end; the code, the ship's name, what she is, the master's.
  hand.did({ fields: 4, letters: 8 + name.length + 17 + 11, presses: 2 * (bow.PIN.length + 1) + 1 });
  await bow.open(page, ship.url('/setup'));
  hand.did({ presses: 2 + bow.PIN.length + 1 });
  await isDone(page, 'ship');
  for (const open of ['people', 'gear', 'cables', 'limits', 'ready']) await isDone(page, open, false);
  return hand;
}

/** Takes a hand on, whose phone is enrolled with the code that the master's page shows. */
async function takeOn(t, ship, master) {
  await go(master, 'people', 'setup.WAY_PEOPLE');
  await master.press(master.page.getByText(say('crew.TAKE_ON')));
  const form = master.page.locator('section details[open]').first();
  await master.fill(form.getByLabel(say('crew.NAME'), { exact: true }), 'Nell Foss');
  await master.fill(form.getByLabel(say('crew.RANK'), { exact: true }), 'bosun');
  await master.hold(say('crew.SAVE'), form);
  const row = master.page.locator('.crew-row', { hasText: 'Nell Foss' });
  await row.waitFor(bow.PATIENCE);
  await master.press(row.getByRole('button', { name: say('crew.HAND_OUT') }));
  const digits = await row.locator('.code-digits').innerText(bow.PATIENCE);

  const page = await (await open(t, profile(t), PHONE)).newPage();
  await bow.makeKey(page, ship);
  await page.getByLabel(say('crew.CODE')).fill(digits);
  await page.getByRole('button', { name: say('unlock_sheet.ASK') }).click();
  await page.getByText(says('unlock_sheet.you_are', { name: 'Nell Foss' })).waitFor(bow.PATIENCE);
  master.did({ fields: 1, letters: digits.length, presses: 2 * (bow.PIN.length + 1) + 1 });
  await back(master);
  await isDone(master.page, 'people');
  return page;
}

/** Takes a table in on the page in sight. */
async function takesTable(hand, id, summary, key, text, why) {
  const form = hand.page.locator(`.${id}-table`);
  await hand.press(form.locator('summary', { hasText: say(summary) }));
  await hand.fill(hand.page.locator(`#${id}-table-text`), text);
  await form.locator('.gear-in-order').waitFor(bow.PATIENCE);
  if (why) await hand.fill(hand.page.locator(`#${id}-table-why`), why);
  await hand.hold(say(key), form);
}

async function describes(hand, side) {
  const cable = hand.page.locator('tr', { hasText: new RegExp(`^${side}`) });
  await hand.press(cable.locator('summary'));
  await hand.fill(cable.locator('textarea'), CABLE);
  await hand.fill(cable.getByLabel(say('ship.CABLE_KEEP')), '10');
  await hand.hold(say('ship.PUT_IN_FORCE'), cable);
  await cable.getByText('137.5 m in all').waitFor(bow.PATIENCE);
}

async function changes(hand, key, value) {
  const row = hand.page.locator('tr', { hasText: key });
  await hand.press(row.locator('summary'));
  await hand.fill(row.getByLabel(say('ship.VALUE')), value);
  await hand.fill(row.getByLabel(say('ship.SOURCE'), { exact: true }), "the maker's book, page 12");
  await hand.hold(say('ship.PUT_IN_FORCE'), row);
  await row.getByText("the maker's book, page 12").first().waitFor(bow.PATIENCE);
}

/** Marks every group as right and confirms all of it with one key. */
async function confirms(hand) {
  const groups = hand.page.locator('.settings-group button');
  const count = await groups.count();
  assert.equal(count, 6);
  for (let at = 0; at < count; at += 1) await hand.press(groups.nth(at));
  await hand.hold(says('ship.confirm_marked[other]').source, hand.page.locator('.settings-marked'));
  await hand.page.locator('.settings-group button').first().waitFor({ state: 'detached', ...bow.PATIENCE });
}

test('from an empty data folder to the first Anchors ready in under twenty minutes of typing', async (t) => {
  const ship = await emptyShip(t);
  const master = await begin(t, ship, 'Brackwater');
  assert.deepEqual(await overflow(master.page, '/setup', [390, 1280]), []);
  const nell = await takeOn(t, ship, master);

  await go(master, 'gear', 'setup.WAY_GEAR');
  await takesTable(master, 'gear', 'gear.TABLE', 'gear.TABLE_TAKE', GEAR, 'first hour');
  await master.page.locator('.gear-row', { hasText: 'starboard claw' }).waitFor(bow.PATIENCE);
  await back(master);
  await isDone(master.page, 'gear');

  await go(master, 'cables', 'setup.WAY_CABLES');
  for (const side of ['port', 'starboard']) await describes(master, side);
  await changes(master, 'hydraulic_min', '45');
  await changes(master, 'wash_min', '3.5');
  await confirms(master);
  await back(master);
  await isDone(master.page, 'cables');
  await isDone(master.page, 'limits');
  await isDone(master.page, 'ready', false);

  // The bosun works it; the master signs as second, and consents on the bridge.
  await nell.getByRole('link', { name: say('unlock_sheet.TO_PHONE_CHECK') }).click();
  await nell.getByRole('link', { name: say('unlock_sheet.TO_BOW') }).click();
  await nell.locator('[data-slug="anchors-ready"]').waitFor(bow.PATIENCE);
  const path = await bow.begin(nell, 'anchors-ready');
  const worked = await bow.workUntil(nell, 'brakes');
  worked.push(await signedByTwo(nell, master.page, ship.url(path)));
  worked.push(...(await bow.workUntil(nell, 'power')));
  // The limits that the master put in force an hour ago judge the reading.
  await nell.getByText(/45/).first().waitFor(bow.PATIENCE);
  worked.push(...(await bow.workUntil(nell, 'stoppers-off')));
  await bow.allAboard(nell);
  await bow.open(master.page, ship.url('/bridge'));
  const card = master.page.locator('.hold-card');
  await card.waitFor(bow.PATIENCE);
  await master.hold(say('GIVE_CONSENT'), card);
  await nell.locator('.sheet-title[data-step="left-port"]').waitFor({ timeout: 120_000 });
  worked.push(...(await bow.workUntil(nell, 'all-done')));
  await bow.hold(nell, say('CLOSE_RUN'));
  await nell.getByText(say('RUN_CLOSED')).waitFor(bow.PATIENCE);
  await bow.allAboard(nell);
  // A press for each step, a field for each of its eight readings, a PIN on either side.
  master.did({ fields: 8, letters: 8 * 4, presses: worked.length + 2 * (bow.PIN.length + 3) });

  await bow.open(master.page, ship.url('/setup'));
  await isDone(master.page, 'ready');
  await master.page.getByText(say('setup.done_of', { done: '6', all: '6' })).waitFor(bow.PATIENCE);
  const { fields, letters, presses, holds, seconds } = master;
  t.diagnostic(`${fields} fields, ${letters} letters, ${presses} presses, ${holds} keys held: ${Math.round(seconds)} s`);
  assert.ok(seconds < MOST_S, `${seconds} s of typing`);
});

test('a sister ship is set up from two tables, and nothing of it counts as confirmed', async (t) => {
  const aldermere = await emptyShip(t);
  const first = await begin(t, aldermere, 'Aldermere');
  await go(first, 'cables', 'setup.WAY_CABLES');
  for (const side of ['port', 'starboard']) await describes(first, side);
  await changes(first, 'hydraulic_min', '45');
  await confirms(first);
  const keep = async (page, table) => {
    const [file] = await Promise.all([page.waitForEvent('download'), page.locator(`.${table}-table a`).click()]);
    return readFileSync(await file.path(), 'utf8');
  };
  await first.press(first.page.locator('.limits-table summary'));
  const limits = await keep(first.page, 'limits');
  await back(first);
  await go(first, 'gear', 'setup.WAY_GEAR');
  await takesTable(first, 'gear', 'gear.TABLE', 'gear.TABLE_TAKE', GEAR, 'first hour');
  await first.page.locator('.gear-row', { hasText: 'port claw' }).waitFor(bow.PATIENCE);
  const gear = await keep(first.page, 'gear');

  const brackwater = await emptyShip(t);
  const second = await begin(t, brackwater, 'Brackwater');
  await go(second, 'limits', 'setup.WAY_LIMITS');
  // A line that cannot be is named, and nothing of the table is taken.
  await second.press(second.page.locator('.limits-table summary'));
  await second.page.locator('#limits-table-text').fill(limits.replace(/hydraulic_min,45/, 'hydraulic_min,4500'));
  await second.page.locator('.mistakes', { hasText: 'column value' }).waitFor(bow.PATIENCE);
  await second.page.locator('#limits-table-text').fill(limits);
  await second.page.locator('.limits-table .gear-in-order').waitFor(bow.PATIENCE);
  await second.hold(say('ship.LIMITS_TAKE'), second.page.locator('.limits-table'));
  const row = second.page.locator('tr', { hasText: 'hydraulic_min' });
  await row.getByText("the maker's book, page 12").first().waitFor(bow.PATIENCE);
  assert.match(await row.innerText(), new RegExp(say('ship.NOT_CONFIRMED')));
  await second.page.locator('tr', { hasText: /^starboard/ }).getByText('137.5 m in all').waitFor(bow.PATIENCE);
  await back(second);
  await isDone(second.page, 'cables');
  await isDone(second.page, 'limits', false);
  await go(second, 'gear', 'setup.WAY_GEAR');
  await takesTable(second, 'gear', 'gear.TABLE', 'gear.TABLE_TAKE', gear, 'as her sister');
  await second.page.locator('.gear-row', { hasText: 'port claw' }).waitFor(bow.PATIENCE);
  const codes = (page) => page.locator('.gear-row').evaluateAll((all) => all.map((one) => one.dataset.item).sort());
  assert.deepEqual(await codes(second.page), await codes(first.page));
  await back(second);
  await isDone(second.page, 'gear');
});
