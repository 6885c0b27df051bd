// What goes wrong out of range: something else answers, the server fails, the disk is full, two tabs are open.
import assert from 'node:assert/strict';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { setTimeout as pause } from 'node:timers/promises';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { install } from './support/look.mjs';
import { folder, impostor, run, ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

const PHONE = { viewport: { width: 390, height: 844 } };

/** Room for the program and its records, bytes; a test that fills it must not take long. */
const ROOM = 40e6;

/** Says how much the browser may keep for the ship's pages. */
async function giveRoom(cdp, ship, quotaSize) {
  await cdp.send('Storage.overrideQuotaForOrigin', { origin: ship.url('').replace(/\/$/, ''), quotaSize });
}

/** Fills what room there is, down to the last bytes; runs in the page. */
async function fillDisk() {
  const opening = indexedDB.open('filler', 1);
  opening.onupgradeneeded = () => opening.result.createObjectStore('bytes', { autoIncrement: true });
  const database = await new Promise((done) => (opening.onsuccess = () => done(opening.result)));
  for (let size = 4_000_000; size >= 50; size = Math.floor(size / 4)) {
    for (let fits = true; fits; ) {
      const transaction = database.transaction('bytes', 'readwrite');
      transaction.objectStore('bytes').add(crypto.getRandomValues(new Uint8Array(Math.min(size, 65_536))));
      for (let more = size - 65_536; more > 0; more -= 65_536) {
        transaction.objectStore('bytes').add(crypto.getRandomValues(new Uint8Array(65_536)));
      }
      fits = await new Promise((done) => {
        transaction.oncomplete = () => done(true);
        transaction.onabort = () => done(false);
      });
    }
  }
  database.close();
}

/** A bosun's phone with a run just begun, everything so far on the ship. */
async function atWork(t, ship, room) {
  const browser = await open(t, profile(t), PHONE);
  const page = await browser.newPage();
  await install(page, ship.url());
  const cdp = await browser.newCDPSession(page);
  if (room) await giveRoom(cdp, ship, room);
  await bow.enrol(page, ship, 'Tam Orrin');
  const path = await bow.begin(page, 'anchors-ready');
  await bow.allAboard(page);
  return { browser, page, path, cdp };
}

const waiting = async (page) => Number((await bow.state(page)).match(/(\d+) waits?, safe here/)?.[1] ?? 0);

test('a log-in page that answers for the ship takes nothing and fools nobody', async (t) => {
  const ship = await makeShip(t);
  const { page, path } = await atWork(t, ship);
  await ship.cut();
  let asked = 0;
  const stop = await impostor(t, ship.address, (request, response) => {
    if (request.url.startsWith('/api/v1/sync/')) asked += 1;
    response.writeHead(200, { 'content-type': 'text/html' });
    response.end('<!DOCTYPE html><title>Harbour guest network</title><p>Accept the terms to go on.');
  });
  await bow.work(page);
  await bow.work(page);
  await until(() => asked >= 2);
  assert.equal(await waiting(page), 2);
  assert.doesNotMatch(await bow.state(page), /all on the ship/);
  // Started anew with the log-in page still there: it is the run that opens.
  await page.goto(ship.url(path));
  await page.locator('.sheet-title').waitFor(bow.PATIENCE);
  assert.equal(await bow.closedLinks(page), 2);
  assert.equal(await waiting(page), 2);
  assert.match(await bow.state(page), /Ship not heard/);
  await bow.unlock(page);
  await stop();
  await ship.start();
  await bow.allAboard(page);
  assert.equal(await bow.closedLinks(page), 2);
});

test('a server that fails is tried again, and nothing is lost', async (t) => {
  const ship = await makeShip(t);
  const { page } = await atWork(t, ship);
  await ship.cut();
  let asked = 0;
  const stop = await impostor(t, ship.address, (request, response) => {
    if (request.url.startsWith('/api/v1/sync/')) asked += 1;
    response.writeHead(500, { 'content-type': 'text/plain' });
    response.end('the store failed');
  });
  await bow.work(page);
  await until(() => asked >= 2);
  assert.equal(await waiting(page), 1);
  await stop();
  await ship.start();
  await bow.networkIsBack(page);
  await bow.allAboard(page);
  assert.equal(await bow.closedLinks(page), 1);
});

test('a full disk is said at once: the tick does not stand, what was ticked before does', async (t) => {
  const ship = await makeShip(t);
  const { page, path, cdp } = await atWork(t, ship, ROOM);
  await ship.cut();
  await bow.work(page);
  await bow.work(page);
  const before = await bow.chain(page);
  await page.evaluate(fillDisk);
  await bow.first(page).click();
  const alarm = page.getByRole('alert');
  await alarm.waitFor(bow.PATIENCE);
  assert.match(await alarm.innerText(), /NOT saved[\s\S]*storage is full[\s\S]*Everything ticked before is safe/);
  assert.deepEqual(await bow.chain(page), before, 'the tick does not show as done');

  await page.goto(ship.url(path));
  await page.locator('.sheet-title').waitFor(bow.PATIENCE);
  assert.deepEqual(await bow.chain(page), before, 'what was ticked is there after a reload');

  await giveRoom(cdp, ship, 20 * ROOM);
  await bow.unlock(page);
  await bow.work(page);
  assert.equal(await bow.closedLinks(page), 3, 'with room again the step can be done');
});

test('two tabs that tick at once make one chain', async (t) => {
  const ship = await makeShip(t);
  const { browser, page, path } = await atWork(t, ship);
  const other = await browser.newPage();
  await bow.open(other, ship.url('/bow'));
  const otherPath = await bow.begin(other, 'weighing');
  await ship.cut();
  for (let round = 0; round < 2; round += 1) {
    await Promise.all([bow.work(page), bow.work(other)]);
  }
  // Both on the same step: one of the two stands, and neither tab is left behind.
  await bow.open(other, ship.url(path));
  await other.locator('.sheet-title').waitFor(bow.PATIENCE);
  assert.equal(await bow.closedLinks(other), 2);
  await Promise.all([page, other].map(bow.keysAwake));
  const press = () => document.querySelector('.sheet-actions .is-first').click();
  await Promise.all([page.evaluate(press), other.evaluate(press)]);
  for (const tab of [page, other]) {
    await tab.waitForFunction(() => document.querySelectorAll('.chain-row.is-done').length === 3, null, bow.PATIENCE);
  }
  await ship.start();
  await bow.networkIsBack(page);
  await bow.allAboard(page);

  const { vessel } = await (await page.request.get(ship.url('/api/v1/ship'))).json();
  const cards = await (await page.request.get(ship.url('/api/v1/vessels'))).json();
  assert.equal(cards.find((card) => card.id === vessel).forks, 0, 'no number of the chain was used twice');
  const records = await page.request.get(ship.url(`/api/v1/vessels/${vessel}/records.cborseq`));
  const file = join(folder(t, 'files'), 'records.cborseq');
  writeFileSync(file, await records.body());
  const checked = run('verify', file);
  assert.equal(checked.status, 0, checked.out);
  for (const [run_, least] of [
    [path, 3],
    [otherPath, 2],
  ]) {
    const answer = await page.request.get(ship.url(`/api/v1/vessels/${vessel}/runs/${run_.split('/').at(-1)}`));
    const passed = (await answer.json()).card.view.progress.passed;
    assert.ok(passed >= least, `${passed} steps of ${run_} are on the ship`);
  }
});

test('the board on the bridge finds the ship again after something else has answered for her', async (t) => {
  const ship = await makeShip(t);
  const { page } = await atWork(t, ship);
  const bridge = await (await open(t, profile(t), { viewport: { width: 1280, height: 800 } })).newPage();
  await bow.enrol(bridge, ship, 'Ravi Thorne');
  await bow.open(bridge, ship.url('/bridge'));
  const count = bridge.locator('.bridge-card .chain-count').first();
  await count.waitFor(bow.PATIENCE);
  await ship.cut();
  let asked = 0;
  const stop = await impostor(t, ship.address, (request, response) => {
    if (request.url.startsWith('/api/v1/live')) asked += 1;
    response.writeHead(200, { 'content-type': 'text/html' });
    response.end('<!DOCTYPE html><title>Harbour guest network</title>');
  });
  await bow.work(page);
  await until(() => asked >= 1);
  await stop();
  await ship.start();
  await bow.allAboard(page);
  await count.filter({ hasText: '1 of' }).waitFor({ timeout: 120_000 });
});

test('a browser that does not promise to keep the records is said to', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(page, ship, 'Tam Orrin');
  await page.getByText(say('parts.NOT_PERSISTENT')).waitFor(bow.PATIENCE);
});

/** Waits until `is` holds, for what only this process can see. */
async function until(is) {
  const end = Date.now() + 120_000;
  while (!is()) {
    if (Date.now() > end) throw new Error(`never: ${is}`);
    await pause(50);
  }
}
