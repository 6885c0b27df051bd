// A voice note from bow to bridge: spoken out of range, kept as one form of file, heard on the bridge and in the office.
//
// The microphone is Chromium's own stand-in, which beeps each second.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { FLAGS, open, profile } from './support/browser.mjs';
import { overflow } from './support/look.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

const { PATIENCE } = bow;
const PHONE = { viewport: { width: 390, height: 844 } };
const HEARS = [...FLAGS, '--use-fake-device-for-media-stream', '--use-fake-ui-for-media-stream'];
/** Until news has come from the bow to the bridge. */
const NEWS = { timeout: 120_000 };

/** How long what a player holds lasts, s, and why it cannot play it. */
const heard = (player) =>
  player.evaluate(async (audio) => {
    if (!(audio.duration > 0)) await new Promise((done) => audio.addEventListener('loadedmetadata', done, { once: true }));
    return { seconds: audio.duration, error: audio.error?.message ?? null };
  });

test('a voice note is spoken out of range, sent, heard on the bridge and marked as read', async (t) => {
  const ship = await makeShip(t);
  const phone = await open(t, profile(t), { ...PHONE, args: HEARS, permissions: ['microphone'] });
  const hand = await phone.newPage();
  await bow.enrol(hand, ship, 'Tam Orrin');
  const bridge = await (await open(t, profile(t), { viewport: { width: 1280, height: 800 } })).newPage();
  await bow.enrol(bridge, ship, 'Ravi Thorne');
  await bow.open(bridge, ship.url('/bridge'));
  const path = await bow.begin(hand, 'windlass-weekly');
  await bow.allAboard(hand);

  await phone.setOffline(true);
  const form = hand.locator('.bow-list .messages');
  await form.getByRole('button', { name: say('MESSAGE_WRITE') }).click();
  const send = form.getByRole('button', { name: say('MESSAGE_SEND') });
  assert.ok(await send.isDisabled(), 'nothing is said yet');
  await form.getByRole('button', { name: say('VOICE_SPEAK') }).click();
  const end = form.getByRole('button', { name: say('VOICE_END') });
  await end.waitFor(PATIENCE);
  assert.ok((await end.boundingBox()).height >= 56);
  await hand.waitForTimeout(2_500);
  await end.click();
  const mine = form.locator('audio.voice');
  await mine.waitFor(PATIENCE);
  const spoken = await heard(mine);
  assert.equal(spoken.error, null);
  assert.equal(spoken.seconds > 1 && spoken.seconds < 30, true, JSON.stringify(spoken));
  assert.deepEqual(await overflow(hand, 'voice note', [360, 390]), []);
  await hand.setViewportSize(PHONE.viewport);
  await bow.hold(hand, say('MESSAGE_SEND'), form);
  await hand.locator('.bow-list .message audio.voice').waitFor(PATIENCE);
  await phone.setOffline(false);

  const card = bridge.locator('.bridge-card', { hasText: 'Weekly windlass round' });
  const player = card.locator('.message.is-unread audio.voice');
  await player.waitFor(NEWS);
  const there = await heard(player);
  assert.deepEqual([there.seconds, there.error], [spoken.seconds, null]);
  await card.getByRole('button', { name: say('MESSAGE_IS_READ') }).click();
  await hand.locator('.bow-list .message').getByText(/Ravi Thorne \d\d:\d\d/).waitFor(NEWS);

  // The ship keeps it as one form of file, and gives it out as sound.
  const run = path.split('/').at(-1);
  const file = await bridge.evaluate(async (run) => {
    const { vessel } = await (await fetch('/api/v1/ship')).json();
    const { card } = await (await fetch(`/api/v1/vessels/${vessel}/runs/${run}`)).json();
    const reply = await fetch(`/api/v1/photos/${card.view.messages[0].voice}`);
    const bytes = new DataView(await reply.arrayBuffer());
    let loudest = 0;
    for (let at = 44; at + 1 < bytes.byteLength; at += 2) loudest = Math.max(loudest, Math.abs(bytes.getInt16(at, true)));
    return { kind: reply.headers.get('content-type'), rate: bytes.getUint32(24, true), loudest };
  }, run);
  assert.deepEqual([file.kind, file.rate], ['audio/vnd.wave', 8_000]);
  assert.ok(file.loudest > 1_000, `it is silent: ${file.loudest}`);
});

test('a page that may not use the microphone says so, and words go as before', async (t) => {
  const ship = await makeShip(t);
  const hand = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(hand, ship, 'Tam Orrin');
  await bow.begin(hand, 'windlass-weekly');
  const form = hand.locator('.bow-list .messages');
  await form.getByRole('button', { name: say('MESSAGE_WRITE') }).click();
  await form.getByRole('button', { name: say('VOICE_SPEAK') }).click();
  await form.locator('.sheet-blocked', { hasText: 'microphone' }).waitFor(PATIENCE);
  await form.locator('textarea').fill('the drum end is dry');
  await bow.hold(hand, say('MESSAGE_SEND'), form);
  await hand.locator('.bow-list .message', { hasText: 'the drum end is dry' }).waitFor(PATIENCE);
});
