// A second person signs later, on a phone of their own: the work goes on past the step, and what lacks it stays wanted.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { inThreeLights, overflow } from './support/look.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

const PHONE = { viewport: { width: 390, height: 844 } };
const DESK = { viewport: { width: 1280, height: 800 } };

/** A procedure of the ship's own, as a master writes it in the editor. */
const STORE = `slug = "bosuns-store"
title = "Bosun's store"
edition = "1"
purpose = "Leave the store as it is found."

[[step]]
id = "sweep"
do = "Sweep the store"

[[step]]
id = "paint"
do = "Lock the paint locker"
second = "later"

[[step]]
id = "lamp"
do = "Hang the lamp back"
`;

async function enrolled(t, ship, name, options = PHONE) {
  const page = await (await open(t, profile(t), options)).newPage();
  await bow.enrol(page, ship, name);
  return page;
}

const row = (page, step) => page.locator(`.chain-row[data-step="${step}"]`);
const toSign = (page) => page.locator('.start-sign');

/** Lets a phone try the ship until `look` finds something. */
async function until(page, look) {
  const end = Date.now() + 120_000;
  while (!(await look.count())) {
    assert.ok(Date.now() < end, 'it never came');
    await bow.networkIsBack(page);
    await page.waitForTimeout(400);
  }
}

test('the bosun goes on alone out of range, and the second signs on their own phone', async (t) => {
  const ship = await makeShip(t);
  const hand = await enrolled(t, ship, 'Tam Orrin');
  const second = await enrolled(t, ship, 'Maren Holt');
  const bridge = await enrolled(t, ship, 'Ravi Thorne', DESK);
  await bow.begin(hand, 'anchors-ready');
  await bow.allAboard(hand);

  // Out of range and alone: the work goes past the brakes, up to the hold.
  await ship.cut();
  await bow.workUntil(hand, 'brakes');
  await bow.work(hand);
  assert.equal(await bow.title(hand), 'stoppers', 'the work goes on');
  assert.match(await row(hand, 'brakes').innerText(), new RegExp(say('SECOND_STILL')));
  const line = hand.locator('.bow-seconds');
  assert.equal(await line.innerText(), say('seconds_wanted[one]'));
  await bow.workUntil(hand, 'stoppers-off');
  const waits = hand.locator('.sheet-words', { hasText: 'first the second signature of: Set both band brakes' });
  await waits.first().waitFor(bow.PATIENCE);
  assert.deepEqual(await overflow(hand, 'bow-second-wanted', [360, 390]), []);
  await hand.setViewportSize(PHONE.viewport);

  // Who did it cannot sign: the phone says so, and offers those who share it.
  await row(hand, 'brakes').locator('button').first().click();
  await hand.getByRole('button', { name: say('SIGN_AS_ANOTHER') }).waitFor(bow.PATIENCE);
  assert.ok(await bow.first(hand).isDisabled(), 'nobody signs for two');
  await hand.getByRole('button', { name: say('CLOSE_STEP') }).click();
  await waits.first().waitFor(bow.PATIENCE);

  // Records come: the bridge shows what is wanted, and the second's own phone asks for it.
  await ship.start();
  await bow.networkIsBack(hand);
  await bow.allAboard(hand);
  await bridge.goto(ship.url('/bridge'));
  const wanted = bridge.locator('.bridge-card .card-seconds.is-later', { hasText: 'Set both band brakes' });
  await wanted.waitFor({ timeout: 120_000 });
  assert.match(await wanted.innerText(), /1 step wants a second signature[\s\S]*Tam Orrin, .*\d\d:\d\d/);
  await bow.open(second, ship.url('/bow'));
  await until(second, toSign(second));
  const asked = await toSign(second).innerText();
  for (const said of ['Set both band brakes', 'Anchors ready', 'Tam Orrin', say('SECOND_BY_YOU')]) {
    assert.ok(asked.includes(said), `${said}: ${asked}`);
  }
  assert.deepEqual(await inThreeLights(second, 'bow-to-sign'), []);
  await toSign(second).click();
  await second.locator('.sheet-title[data-step="brakes"]').waitFor(bow.PATIENCE);
  assert.match(await second.locator('.sheet-second').innerText(), /^Tam Orrin, \d\d:\d\d/);
  await second.getByRole('button', { name: say('NOT_SO'), exact: true }).waitFor(bow.PATIENCE);
  const broken = [...(await inThreeLights(second, 'bow-sign-later')), ...(await overflow(second, 'bow-sign-later', [360, 390]))];
  assert.deepEqual(broken, []);
  await second.setViewportSize(PHONE.viewport);
  await bow.keysAwake(second);
  await second.getByRole('button', { name: say('SIGN_SECOND') }).click();
  await second.locator('.bow-seconds').waitFor({ state: 'detached', ...bow.PATIENCE });
  await second.locator('.bow-back').click();
  await second.getByText(say('UNDER_WAY')).waitFor(bow.PATIENCE);
  assert.equal(await toSign(second).count(), 0);

  // The hold waits for consent alone now, on every page.
  await bow.allAboard(second);
  await wanted.waitFor({ state: 'detached', timeout: 120_000 });
  for (let look = 0; (await line.count()) && look < 200; look += 1) {
    await bow.networkIsBack(hand);
    await hand.waitForTimeout(400);
  }
  assert.equal(await line.count(), 0);
  await bridge.locator('.hold-card', { hasText: 'take the stoppers off' }).waitFor({ timeout: 120_000 });
});

test('a master writes it in the editor, the run ends without it, and the record says so until the second has answered', async (t) => {
  const ship = await makeShip(t);
  const master = await enrolled(t, ship, 'Maren Holt');
  const hand = await enrolled(t, ship, 'Tam Orrin');
  await bow.open(master, ship.url('/procedures/weighing'));
  await master.locator('.procedure-edit > details > summary').click();
  const text = master.locator('textarea.procedure-text').first();
  await text.fill(STORE.replace('"later"', '"soon"'));
  await master.locator('.mistakes li', { hasText: `'second' must be true, false or "later"` }).waitFor(bow.PATIENCE);
  await text.fill(STORE);
  await master.getByText(say('ship.SOUND')).waitFor(bow.PATIENCE);
  // The key stays where it is: what was published is in force for another short name than this page's.
  const publish = master.locator('.procedure-edit .hold-button', { hasText: say('ship.PUBLISH') });
  await publish.scrollIntoViewIfNeeded(bow.PATIENCE);
  const box = await publish.boundingBox();
  await master.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await master.mouse.down();
  await master.waitForTimeout(2_000);
  await master.mouse.up();
  await master.goto(ship.url('/bow'));
  await master.locator('[data-slug="bosuns-store"]').waitFor(bow.PATIENCE);
  await bow.allAboard(master);
  await until(hand, hand.locator('[data-slug="bosuns-store"]'));
  const run = (await bow.begin(hand, 'bosuns-store')).split('/').at(-1);

  await ship.cut();
  await hand.locator('.sheet-title').waitFor(bow.PATIENCE);
  await bow.workUntil(hand, 'all-done');
  await hand.locator('.action-sheet .caution', { hasText: say('close_lacking[one]') }).waitFor(bow.PATIENCE);
  await bow.hold(hand, say('CLOSE_RUN'));
  await hand.getByText(say('RUN_CLOSED')).waitFor(bow.PATIENCE);
  await ship.start();
  await bow.networkIsBack(hand);
  await bow.allAboard(hand);

  // The office's record says what lacks, and what its end was without.
  const request = master.context().request;
  const { vessel } = await (await request.get(ship.url('/api/v1/ship'))).json();
  const record = await master.context().newPage();
  const lacking = record.locator('.record-lacking', { hasText: 'Lock the paint locker, Tam Orrin, ' });
  await record.goto(ship.url(`/office/${vessel}/run/${run}`));
  await lacking.waitFor(bow.PATIENCE);
  const end = record.locator('.entry-says', { hasText: 'without the second signature of: Lock the paint locker' });
  await end.waitFor(bow.PATIENCE);
  assert.deepEqual(await overflow(record, 'record-lacking', [390, 1280]), []);

  // The second looks, finds it otherwise, and says so: of a run that has ended.
  await bow.open(master, ship.url('/bow'));
  await until(master, toSign(master));
  await toSign(master).click();
  await master.locator('.sheet-title[data-step="paint"]').waitFor(bow.PATIENCE);
  await bow.keysAwake(master);
  await master.getByRole('button', { name: say('NOT_SO'), exact: true }).click();
  await master.locator('textarea').first().fill('the hasp is broken');
  await bow.keysAwake(master);
  await bow.first(master).click();
  await master.locator('.bow-seconds').waitFor({ state: 'detached', ...bow.PATIENCE });
  await bow.allAboard(master);
  await record.reload();
  await record.locator('.entry-says', { hasText: 'the hasp is broken' }).waitFor(bow.PATIENCE);
  assert.equal(await record.locator('.record-lacking').count(), 0, 'it is answered');
  assert.equal(await end.count(), 1, 'what the end lacked then stands');
});
