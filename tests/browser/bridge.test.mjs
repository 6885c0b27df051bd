// The bridge's page: what the watch sees and hears is so, at once, and stays until somebody has looked.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { inThreeLights, overflow } from './support/look.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

const { PATIENCE } = bow;
const PHONE = { viewport: { width: 390, height: 844 } };
/** A screen of 24 inches across, with 1920 x 1080 points: one is 0.2767 mm. */
const SCREEN = { viewport: { width: 1920, height: 1080 } };
const MM_PER_POINT = (24 * 25.4 * (16 / Math.hypot(16, 9))) / 1920;
/** 3.5 mm for each metre, read from 2 m: IMO MSC/Circ.982, 5.6; the figure from memory. */
const LEAST_MM = 7;

/** Heights of the capital letters of what `selector` finds, mm on that screen, as the browser itself draws that font. */
const heights = (page, selector) =>
  page.locator(selector).evaluateAll((found, point) => {
    const pen = document.createElement('canvas').getContext('2d');
    return found.map((one) => {
      const { fontStyle, fontWeight, fontSize, fontFamily } = getComputedStyle(one);
      pen.font = `${fontStyle} ${fontWeight} ${fontSize} ${fontFamily}`;
      return pen.measureText('H').actualBoundingBoxAscent * point;
    });
  }, MM_PER_POINT);

async function atTheBow(t, ship, name) {
  const page = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(page, ship, name);
  return page;
}

async function onTheBridge(t, ship, options = SCREEN) {
  const page = await (await open(t, profile(t), options)).newPage();
  await bow.enrol(page, ship, 'Ravi Thorne');
  await page.goto(ship.url('/bridge'));
  await page.locator('.bridge-head').waitFor(PATIENCE);
  return page;
}

/** Types a reading on the sheet that is open. */
async function reads(page, value) {
  const label = await page.locator('.keypad').getAttribute('aria-label');
  await bow.type(page, value);
  await bow.first(page).click();
  return label;
}

test('a reading out of limits stays on the bridge after a better one, until the officer has put on record that they saw it', async (t) => {
  const ship = await makeShip(t);
  const hand = await atTheBow(t, ship, 'Tam Orrin');
  const bridge = await onTheBridge(t, ship);

  // Nobody has touched the page since it was opened: it says that it is mute, until somebody does.
  const mute = bridge.locator('.bridge-mute');
  await mute.waitFor(PATIENCE);
  await bridge.locator('.bridge-head h1').click();
  await mute.waitFor({ state: 'detached', ...PATIENCE });

  await bow.begin(hand, 'anchors-ready');
  while (!(await hand.locator('.keypad').count())) await bow.work(hand);
  const step = await bow.title(hand);
  const label = await reads(hand, '0');
  const point = (await hand.locator('.keypad').count()) ? label : step;
  const bar = bridge.locator('.alarm-bar .alarm-line');
  await bar.waitFor({ timeout: 120_000 });
  const said = (await bar.first().innerText()).toLowerCase();

  // The next reading is good. The alarm stands on, and nothing on the page is larger.
  await bow.keysAwake(hand);
  if ((await bow.title(hand)) === step) await bow.readings(hand);
  await bow.allAboard(hand);
  await bridge.locator('.run-alarms', { hasText: 'no officer has said' }).waitFor({ timeout: 120_000 });
  assert.ok(await bar.count(), `wiped by the next good reading: ${point}, ${said}`);
  const [alarm] = await heights(bridge, '.alarm-bar .alarm-line a');
  assert.ok(alarm >= LEAST_MM, `the alarm's letters are ${alarm.toFixed(1)} mm high`);
  const all = (await heights(bridge, '.bridge *')).filter(Number.isFinite);
  assert.ok(Math.max(...all) <= alarm, `something is larger than the alarm: ${Math.max(...all).toFixed(1)} mm`);
  for (const what of ['.bar-value', '.run-alarms .status-word']) {
    const found = await heights(bridge, what);
    assert.ok(found.length > 0 && Math.min(...found) >= LEAST_MM, `${what}: ${found.map((one) => one.toFixed(1))} mm`);
  }
  const broken = [...(await inThreeLights(bridge, 'bridge-alarm')), ...(await overflow(bridge, 'bridge-alarm', [390, 1280, 1920]))];
  assert.deepEqual(broken, []);

  // The officer's key is put away: it is asked for, and the alarm stands until the record is there.
  await bridge.setViewportSize(SCREEN.viewport);
  await bridge.getByRole('button', { name: say('ALARM_SEEN_ON_RECORD') }).click();
  await bow.typePin(bridge, bow.PIN);
  await bar.waitFor({ state: 'detached', timeout: 120_000 });
  const acknowledged = async () => {
    const board = await (await fetch('/api/v1/board')).json();
    const lines = board.open.flatMap((card) => card.view.history);
    const found = lines.filter((line) => 'acknowledge' in line.event);
    return found.length > 0 && found.map((line) => line.by);
  };
  let by = await bridge.evaluate(acknowledged);
  for (let look = 0; !by && look < 60; look += 1) {
    await bridge.waitForTimeout(500);
    by = await bridge.evaluate(acknowledged);
  }
  assert.deepEqual(by, ['thorne']);
});

test('several runs stand side by side, with what a consent stands on, and the ways to the other pages', async (t) => {
  const ship = await makeShip(t);
  const hand = await atTheBow(t, ship, 'Tam Orrin');
  const bridge = await onTheBridge(t, ship, { viewport: { width: 1280, height: 800 } });
  for (const slug of ['windlass-weekly', 'hose-test', 'secured-for-sea', 'windlass-monthly', 'anchors-ready']) {
    await bow.open(hand, ship.url('/bow'));
    await bow.begin(hand, slug);
  }
  await bow.allAboard(hand);
  await bridge.locator('.bridge-card').nth(4).waitFor({ timeout: 120_000 });
  const tops = await bridge.locator('.bridge-card-step').evaluateAll((found) => found.map((one) => one.getBoundingClientRect()).map(({ left, bottom }) => ({ left: Math.round(left), bottom })));
  assert.ok(new Set(tops.map(({ left }) => left)).size >= 2, 'the width is used');
  assert.ok(tops.filter(({ bottom }) => bottom <= 800).length >= 4, `of five runs, in sight: ${JSON.stringify(tops)}`);
  // The head is one row: the lights do not take another.
  const light = await bridge.locator('.bridge-head .light-switch').boundingBox();
  const name = await bridge.locator('.bridge-head h1').boundingBox();
  assert.ok(light.y < name.y + name.height, `the lights begin at ${light.y}`);
  assert.deepEqual(await inThreeLights(bridge, 'bridge-five'), []);
  for (const way of ['/bow', '/crew', '/settings', '/rounds', '/plan', '/roll']) {
    assert.equal(await bridge.locator(`.bridge-head a[href="${way}"]`).count(), 1, way);
  }
});

test('a message goes from bow to bridge and back, signed, and whoever reads it says so', async (t) => {
  const ship = await makeShip(t);
  const hand = await atTheBow(t, ship, 'Tam Orrin');
  const bridge = await onTheBridge(t, ship, { viewport: { width: 1280, height: 800 } });
  const path = await bow.begin(hand, 'windlass-weekly');
  const card = bridge.locator('.bridge-card', { hasText: 'Weekly windlass round' });
  const write = async (page, within, text) => {
    await within.getByRole('button', { name: say('MESSAGE_WRITE') }).click();
    await within.locator('textarea').fill(text);
    const key = within.getByRole('button', { name: say('MESSAGE_SEND') });
    await key.scrollIntoViewIfNeeded();
    const box = await key.boundingBox();
    await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
    await page.mouse.down();
    const pad = page.locator('.pin-pad');
    await Promise.race([key.waitFor({ state: 'detached', ...PATIENCE }), pad.waitFor(PATIENCE).catch(() => {})]);
    await page.mouse.up();
    if (await pad.count()) await bow.typePin(page, bow.PIN);
  };

  await write(hand, hand.locator('.bow-list .messages'), 'Swivel looks dry, greased it');
  const said = card.locator('.message.is-unread', { hasText: 'Swivel looks dry' });
  await said.waitFor({ timeout: 120_000 });
  await said.getByRole('button', { name: say('MESSAGE_IS_READ') }).click();
  await bow.typePin(bridge, bow.PIN);
  const mine = hand.locator('.bow-list .message', { hasText: 'Swivel looks dry' });
  await mine.getByText(/Ravi Thorne \d\d:\d\d/).waitFor({ timeout: 120_000 });

  // The answer stands over the step at hand, with its key under a thumb.
  await write(bridge, card.locator('.messages'), 'Well done. Look at the drum end too');
  const answer = hand.locator('.bow-message', { hasText: 'drum end' });
  await answer.waitFor({ timeout: 120_000 });
  const key = answer.getByRole('button', { name: say('MESSAGE_IS_READ') });
  const box = await key.boundingBox();
  assert.ok(box.height >= 56 && box.y + box.height <= 844, JSON.stringify(box));
  assert.deepEqual(await overflow(hand, 'bow-message', [360, 390]), []);
  await hand.setViewportSize(PHONE.viewport);
  await key.click();
  await answer.waitFor({ state: 'detached', ...PATIENCE });
  await card.locator('.message', { hasText: 'drum end' }).getByText(/Tam Orrin \d\d:\d\d/).waitFor({ timeout: 120_000 });
  assert.equal(new URL(hand.url()).pathname, path, 'the work goes on where it was');
});

test('the order in force, the second signature wanted and what a consent stands on are on the page', async (t) => {
  const ship = await makeShip(t);
  const hand = await atTheBow(t, ship, 'Tam Orrin');
  const bridge = await onTheBridge(t, ship);
  await bow.begin(hand, 'anchors-ready');
  await bow.workUntil(hand, 'stoppers-off');
  await bow.allAboard(hand);
  const seconds = bridge.locator('.card-seconds', { hasText: 'Set both band brakes' });
  const card = bridge.locator('.bridge-card', { hasText: 'Anchors ready', has: seconds });
  await card.waitFor({ timeout: 120_000 });
  await card.locator('.card-order-said').waitFor(PATIENCE);
  assert.equal(await bridge.locator('.hold-card').count(), 0, 'no consent is asked for over what a second has yet to see');
  assert.match(await card.locator('.bridge-card-step').innerText(), /first the second signature of/);

  // The officer looks at the brakes and signs, from the line on the board; then the hold asks, over what was done.
  await card.locator('.card-seconds a').click();
  await bridge.locator('.sheet-title[data-step="brakes"]').waitFor(PATIENCE);
  await bow.keysAwake(bridge);
  await bridge.getByRole('button', { name: say('SIGN_SECOND') }).click();
  await bow.typePin(bridge, bow.PIN);
  await bridge.locator('.bow-seconds').waitFor({ state: 'detached', ...PATIENCE });
  await bow.allAboard(bridge);
  await bridge.goto(ship.url('/bridge'));
  const hold = bridge.locator('.hold-card', { hasText: 'take the stoppers off' });
  await hold.waitFor({ timeout: 120_000 });
  const facts = await hold.locator('.hold-facts').innerText();
  assert.match(facts, /55/, 'the readings');
  assert.match(facts, /\d+ (s|min)/, 'and their ages');
  for (const what of ['.bar-value', '.hold-facts li']) {
    const found = await heights(bridge, what);
    t.diagnostic(`${what}: ${found.map((one) => one.toFixed(1)).join(', ')} mm`);
    assert.ok(found.length > 0, what);
  }
  const readings = await heights(bridge, '.bar-value');
  assert.ok(Math.min(...readings) >= LEAST_MM, `readings: ${readings.map((one) => one.toFixed(1))} mm`);
  assert.deepEqual(await overflow(bridge, 'bridge-hold', [1280, 1920]), []);
});

test('a board whose session has ended asks for the PIN, keeps what was heard, and never takes silence for nothing', async (t) => {
  const ship = await makeShip(t);
  const hand = await atTheBow(t, ship, 'Tam Orrin');
  const bridge = await onTheBridge(t, ship);
  await bow.begin(hand, 'windlass-weekly');
  await bow.allAboard(hand);
  const card = bridge.locator('.bridge-card', { hasText: 'Weekly windlass round' });
  await card.waitFor({ timeout: 120_000 });
  assert.equal(await bridge.locator('.person-mark').getAttribute('data-state'), 'locked');

  // The session ends while the key is put away, as by night.
  const ended = await bridge.evaluate(async () => (await fetch('/api/v1/session', { method: 'DELETE' })).status);
  assert.ok(ended < 300, `${ended}`);
  const asks = bridge.locator('.bridge-asks', { hasText: say('BOARD_ASKS_PIN') });
  await asks.waitFor({ timeout: 120_000 });
  assert.equal(await card.count(), 1, 'the last board stands');
  const age = bridge.locator('.bridge-head .age');
  const was = await age.innerText();
  await bridge.waitForFunction((before) => document.querySelector('.bridge-head .age')?.innerText !== before, was, PATIENCE);
  assert.deepEqual(await inThreeLights(bridge, 'bridge-asks'), []);

  // Loaded anew it has nothing to show, and says why: not that nothing is worked, and not that nobody answers.
  await bridge.reload();
  await asks.waitFor({ timeout: 120_000 });
  const said = await bridge.locator('.bridge').innerText();
  for (const untrue of ['NOTHING_FORWARD', 'NOTHING_FORWARD_BODY', 'BOARD_UNREACHED']) {
    assert.ok(!said.includes(say(untrue)), said);
  }
  await asks.getByRole('button', { name: say('TYPE_PIN') }).click();
  await bow.typePin(bridge, bow.PIN);
  await card.waitFor({ timeout: 120_000 });
  await asks.waitFor({ state: 'detached', ...PATIENCE });
});
