// The main job, end to end: a checklist worked at the bow with no network, watched on the bridge, read ashore.
import assert from 'node:assert/strict';
import { readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { openMortal } from './support/crash.mjs';
import { signedByTwo } from './support/second.mjs';
import { folder, run, ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

const PHONE = { width: 390, height: 844 };
const BRIDGE = { viewport: { width: 1280, height: 800 } };

/** Saves what a link of the page gives, and returns where. */
async function download(page, link, into) {
  const coming = page.waitForEvent('download', bow.PATIENCE);
  await page.getByRole('link', { name: link }).click();
  const file = await coming;
  const path = join(into, file.suggestedFilename());
  await file.saveAs(path);
  return path;
}

/** Finds a signature in an exported file: the last 64 bytes of the last record. */
function flipOneBit(path) {
  const bytes = readFileSync(path);
  bytes[bytes.length - 7] ^= 0x10;
  const flipped = `${path}.flipped`;
  writeFileSync(flipped, bytes);
  return flipped;
}

test('anchors are made ready with no network, consent is given on the bridge, and the office checks the record', async (t) => {
  const ship = await makeShip(t);
  const pocket = profile(t);

  // In harbour: the bosun's phone and the officer's tablet are enrolled.
  const phone = await openMortal(pocket, PHONE);
  await bow.enrol(phone.page, ship, 'Tam Orrin');
  const bridge = await (await open(t, profile(t), BRIDGE)).newPage();
  await bow.enrol(bridge, ship, 'Ravi Thorne');
  const path = await bow.begin(phone.page, 'anchors-ready');
  // The brakes want two: the officer looks at them and signs, still in harbour.
  const worked = await bow.workUntil(phone.page, 'brakes');
  worked.push(await signedByTwo(phone.page, bridge, ship.url(path)));
  await bow.allAboard(phone.page);

  // Out of range: worked to the hold.
  await ship.cut();
  worked.push(...(await bow.workUntil(phone.page, 'stoppers-off')));
  assert.ok(worked.length >= 20, `${worked.length} steps`);
  const before = await bow.chain(phone.page);
  assert.match(await bow.state(phone.page), /\d+ wait, safe here/);

  // The phone dies, and is started cold, still out of range, on the run itself.
  await phone.kill();
  const again = await openMortal(pocket, PHONE);
  const faults = [];
  again.page.on('pageerror', (error) => faults.push(error));
  await again.page.goto(ship.url(path));
  await again.page.locator('.sheet-title').waitFor(bow.PATIENCE);
  assert.deepEqual(await bow.chain(again.page), before, 'every tick with its time is still there');
  assert.equal(await bow.title(again.page), 'stoppers-off');
  const waiting = Number((await bow.state(again.page)).match(/(\d+) wait/)[1]);
  const since = worked.length - worked.findIndex((step) => step === 'brakes') - 1;
  assert.ok(waiting >= since, `${waiting} records wait`);

  // Back in range, the phone opened again by its PIN: nothing waits any more, and the bridge has it.
  await bow.unlock(again.page);
  await ship.start();
  await bow.allAboard(again.page);
  await bow.open(bridge, ship.url('/bridge'));
  const card = bridge.locator('.hold-card', { hasText: "Wait for the officer's consent to take the stoppers off" });
  await card.waitFor(bow.PATIENCE);
  assert.match(await card.innerText(), /Anchors ready[\s\S]*Tam Orrin has come to it/);
  // It stands on what was done, and the page says how old that is.
  assert.match(await card.locator('.hold-facts').innerText(), /\d+ (s|min)/);
  // The stream is cut at that moment: the answer is kept, and the card says that nobody has heard it yet.
  await ship.cut();
  await bow.hold(bridge, say('GIVE_CONSENT'), card);
  await card.getByText(say('ANSWER_NOT_SENT')).waitFor(bow.PATIENCE);
  await ship.start();
  await bow.networkIsBack(bridge);
  await card.waitFor({ state: 'detached', timeout: 120_000 });

  // The consent reaches the phone by itself; how each anchor is left is said, and the run is closed there.
  await again.page.locator('.sheet-title[data-step="left-port"]').waitFor({ timeout: 120_000 });
  assert.match((await bow.chain(again.page)).at(-3), /Ravi Thorne/);
  const left = await bow.workUntil(again.page, 'all-done');
  assert.deepEqual(left, ['left-port', 'left-starboard']);
  await again.page.getByText(say('ALL_DONE')).waitFor({ timeout: 120_000 });
  await bow.hold(again.page, 'Close this run');
  await again.page.getByText(say('RUN_CLOSED')).waitFor(bow.PATIENCE);
  await bow.allAboard(again.page);
  assert.deepEqual(faults, []);

  // The office: every record with its seal.
  const vessel = await (await bridge.request.get(ship.url('/api/v1/ship'))).json();
  await bridge.goto(ship.url(`/office/${vessel.vessel}/run/${path.split('/').at(-1)}`));
  // The program takes the place of the page that the server drew.
  await bridge.waitForSelector('html[data-started]', { state: 'attached', ...bow.PATIENCE });
  const seal = bridge.locator('.seal');
  await seal.waitFor(bow.PATIENCE);
  await bridge.locator('.record-entry').first().waitFor(bow.PATIENCE);
  assert.match(await seal.innerText(), /Checked and sound/);
  const entries = await bridge.locator('.record-entry').allInnerTexts();
  // The start, each reading and each thing that holds an anchor by itself, every other step, the second name, the consent,
  // how they are left, the close.
  const readings = 3 + 3 + 1 + 1;
  const holding = 6 + 6;
  assert.equal(entries.length, 1 + (worked.length - 4 - 2 + readings + holding) + 1 + 1 + left.length + 1, entries.join('\n---\n'));
  assert.match(entries.at(-4), /Ravi Thorne/);
  assert.match(entries.find((entry) => entry.includes('oxygen, bottom')), /20\.9/);

  // The file is checked without the ship.
  const files = folder(t, 'files');
  const records = await download(bridge, /Signed records/, files);
  const table = readFileSync(await download(bridge, /Table/, files), 'utf8');
  assert.equal(table.trim().split('\n').length, entries.length + 1, 'a row for each record, and the head');
  await ship.cut();
  const sound = run('verify', records);
  assert.equal(sound.status, 0, sound.out);
  const last = table.trim().split('\n').at(-1);
  const flipped = run('verify', flipOneBit(records));
  assert.equal(flipped.status, 1, flipped.out);
  const named = flipped.out.match(/[0-9a-f]{12,64}/g) ?? [];
  assert.ok(named.some((id) => last.includes(id)), `the fault names the record\n${flipped.out}\n${last}`);
});
