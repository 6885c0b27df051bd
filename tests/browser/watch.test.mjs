// The anchor watch: a night that is replayed sixty times as fast, from 'anchor is here' to the alarm, seen, and Dragging begun.
import assert from 'node:assert/strict';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { inThreeLights } from './support/look.mjs';
import { folder, ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

const { PATIENCE } = bow;
/** A page that waits for the night waits longer: two of its hours are two minutes. */
const NIGHT = { timeout: 240_000 };
const SCREEN = { viewport: { width: 1280, height: 800 } };
const RATE = 60;
const QUIET_MIN = 60;
const DRAG_MIN = 60;

const sentence = (body) => {
  let sum = 0;
  for (const sign of body) sum ^= sign.charCodeAt(0);
  return `$${body}*${sum.toString(16).toUpperCase().padStart(2, '0')}`;
};

/** An hour at anchor in the demo's bay, then half a knot to the south with the wind ahead. */
function night() {
  const lines = [];
  const begun = 1_795_608_000_000;
  for (let second = 0; second < (QUIET_MIN + DRAG_MIN) * 60; second += 1) {
    const dragged = Math.max(0, second - QUIET_MIN * 60) * 0.257; // m/s in half a knot
    const minutes = 25.002 + dragged / 1852 + (second % 7) * 0.0001;
    const at = begun + second * 1000;
    const south = minutes.toFixed(4).padStart(7, '0');
    lines.push(`${at} ${sentence(`GPGGA,120000.00,43${south},S,02051.4020,W,2,09,0.9,5.0,M,0.0,M,,`)}`);
    lines.push(`${at} ${sentence(`HEHDT,${((((second % 40) - 20) / 10 + 360) % 360).toFixed(1)},T`)}`);
    lines.push(`${at} ${sentence('WIMWV,002.0,R,18.0,N,A')}`);
  }
  return `${lines.join('\n')}\n`;
}

/** Holds a key that stays where it is, until what it does has come about. */
async function holdUntil(page, key, isDone) {
  for (let press = 0; press < 4; press += 1) {
    await key.scrollIntoViewIfNeeded(PATIENCE);
    const box = await key.boundingBox(PATIENCE);
    await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
    await page.mouse.down();
    const has = await isDone.waitFor({ timeout: 10_000 }).then(() => true, () => false);
    await page.mouse.up();
    if (has) return;
  }
  assert.fail(`held, and nothing came of it: ${await key.innerText()}`);
}

test('a replayed night goes through the page to the alarm; the officer has seen it, and Dragging is begun', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), SCREEN)).newPage();
  await bow.enrol(page, ship, 'Ravi Thorne');
  await page.goto(ship.url('/watch'));
  await page.locator('.watch-standing', { hasText: say('anchor.NO_INPUTS') }).waitFor(PATIENCE);

  const file = join(folder(t, 'night'), 'night.nmea');
  writeFileSync(file, night());
  await ship.cut();
  ship.more = ['--instruments', `file:${file}?rate=${RATE}`];
  await ship.start();
  await bow.open(page, ship.url('/watch'));

  // What is replayed says so; the receiver is heard; the anchor is put where the hawse is.
  await page.locator('.watch-standing .is-alarm, .watch-standing .banner').first().waitFor(PATIENCE);
  const here = page.getByRole('button', { name: say('anchor.ANCHOR_HERE') });
  await page.waitForFunction(
    (name) => [...document.querySelectorAll('.watch-keys button')].some((key) => key.textContent.includes(name) && !key.disabled),
    say('anchor.ANCHOR_HERE'),
    PATIENCE,
  );
  // The ring is drawn once the cable is known; its place is on record before.
  const begun = page.locator('.watch-standing', { hasText: say('anchor.NOBODY_KEEPS') });
  await holdUntil(page, here, begun);
  await page.locator('.watch-cable input').fill('110');
  await page.getByRole('button', { name: say('anchor.PUT_DOWN') }).click();
  await page.locator('.watch-plot .watch-ring').waitFor(PATIENCE);
  assert.equal(await page.locator('[data-about="outside"]').count(), 0, 'she lies where she let go');
  await inThreeLights(page, 'watch');

  // She drags: the page says so, and an officer's word that it is seen stands beside it.
  const alarm = page.locator('[data-about="outside"][data-level="3"]');
  await alarm.first().waitFor(NIGHT);
  await alarm.first().getByRole('button', { name: say('anchor.SEEN') }).click();
  await page.locator('.watch-alarm', { hasText: 'Ravi Thorne' }).first().waitFor(PATIENCE);

  // What is heard stands on its own page, sentence by sentence.
  const inputs = await (await page.request.get(ship.url('/api/v1/watch/inputs'))).json();
  assert.deepEqual(inputs.sources[0].sentences.map(({ name }) => name), ['GPGGA', 'HEHDT', 'WIMWV']);
  assert.ok(inputs.sources[0].sentences.every(({ refused }) => refused === 0));

  // The night as it was: its minutes under a slider, its alarms with who saw them.
  await page.goto(ship.url('/watch/night'));
  await page.locator('.watch-slider input').waitFor(PATIENCE);
  const said = page.locator('.watch-night-said');
  const last = await said.innerText();
  await page.locator('.watch-slider input').fill('0');
  await page.waitForFunction((before) => document.querySelector('.watch-night-said').innerText !== before, last, PATIENCE);
  await page.locator('.watch-table td', { hasText: 'Ravi Thorne' }).first().waitFor(PATIENCE);

  await bow.open(page, ship.url('/watch'));
  await holdUntil(page, page.getByRole('button', { name: say('anchor.DRAGGING') }), page.locator('.sheet-title'));
  await page.waitForURL('**/bow/run/**', PATIENCE);
  await page.getByText(say('anchor.as_watched', { what: '' }).trim().slice(0, 20)).first().waitFor(PATIENCE);
});
