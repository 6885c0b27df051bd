// A phone after years: closed runs are put away, a start reads rows in their place, and whoever looks at one has it read back.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { openMortal } from './support/crash.mjs';
import { ship as makeShip } from './support/ship.mjs';

const PHONE = { viewport: { width: 390, height: 844 } };

/** What the phone has of a store: names and bytes. Runs in the page. */
function rows(page, name) {
  return page.evaluate(async (name) => {
    const opening = indexedDB.open('clearhawse');
    const database = await new Promise((done) => (opening.onsuccess = () => done(opening.result)));
    const store = database.transaction(name).objectStore(name);
    const answers = [store.getAllKeys(), store.getAll()].map((one) => new Promise((done) => (one.onsuccess = () => done(one.result))));
    const [keys, values] = await Promise.all(answers);
    database.close();
    return keys.map((key, at) => [key, [...values[at]]]);
  }, name);
}

/** Changes what the phone has put away; runs in the page. */
function spoil(page, how) {
  return page.evaluate(async (how) => {
    const opening = indexedDB.open('clearhawse');
    const database = await new Promise((done) => (opening.onsuccess = () => done(opening.result)));
    const writing = database.transaction('kept', 'readwrite');
    const store = writing.objectStore('kept');
    const asked = store.getAllKeys();
    const keys = await new Promise((done) => (asked.onsuccess = () => done(asked.result)));
    const run = keys.find((key) => key.startsWith('run/'));
    if (how === 'gone' && run) store.delete(run);
    if (how === 'changed') {
      const got = store.get(run);
      got.onsuccess = () => {
        const bytes = got.result;
        bytes[bytes.length - 1] ^= 1;
        store.put(bytes, run);
      };
    }
    await new Promise((done) => (writing.oncomplete = done));
    database.close();
  }, how);
}

async function until(probe, what) {
  for (let round = 0; round < 240; round += 1) {
    const found = await probe();
    if (found) return found;
    await new Promise((done) => setTimeout(done, 250));
  }
  throw new Error(`waited in vain for ${what}`);
}

const runs = (kept) => kept.map(([name]) => name).filter((name) => name.startsWith('run/'));

/** Counts the records that a page reads from its disk. */
function countRead() {
  window.recordsRead = 0;
  const all = IDBObjectStore.prototype.getAll;
  IDBObjectStore.prototype.getAll = function (...what) {
    const asked = all.apply(this, what);
    if (this.name === 'records') asked.addEventListener('success', () => (window.recordsRead += asked.result.length));
    return asked;
  };
}

test('a start reads rows in place of the records of closed runs, and a closed run is read back when looked at', async (t) => {
  const ship = await makeShip(t);
  const browser = await open(t, profile(t), PHONE);
  const page = await browser.newPage();
  await page.addInitScript(countRead);
  await bow.enrol(page, ship, 'Tam Orrin');
  const path = await bow.begin(page, 'anchors-ready');
  await bow.allAboard(page);
  await bow.work(page);
  const chain = await bow.chain(page);
  const kept = await until(async () => {
    const kept = await rows(page, 'kept');
    return runs(kept).length > 0 && kept;
  }, 'rows');
  const records = (await rows(page, 'records')).length;
  const closed = runs(kept)[0].slice('run/'.length);

  await ship.cut();
  await page.goto(ship.url(path));
  await page.locator('.sheet-title').waitFor(bow.PATIENCE);
  assert.deepEqual(await bow.chain(page), chain, 'the open run is as it was');
  const read = await page.evaluate(() => window.recordsRead);
  assert.ok(read > 0 && read < records, `${read} of ${records} were read`);

  // Offline, from its records on the phone.
  await page.goto(ship.url(`/bow/run/${closed}`));
  await page.locator('[data-state="closed"]').waitFor(bow.PATIENCE);
  const shown = await bow.chain(page);
  assert.ok(shown.length > 0, 'its steps are shown');

  // A row that is changed or gone is found out: everything is read, and the same is shown.
  for (const how of ['changed', 'gone']) {
    await page.goto('about:blank');
    await page.goto(ship.url('/bow'));
    await until(async () => runs(await rows(page, 'kept')).length > 0, 'rows again');
    await spoil(page, how);
    await page.goto(ship.url(path));
    await page.locator('.sheet-title').waitFor(bow.PATIENCE);
    assert.deepEqual(await bow.chain(page), chain, `a row is ${how}`);
    assert.equal(await page.evaluate(() => window.recordsRead), records, `a row is ${how}`);
  }

  // What is ticked then still comes aboard.
  await bow.unlock(page);
  await bow.work(page);
  await ship.start();
  await bow.networkIsBack(page);
  await bow.allAboard(page);
});

test('a phone that is killed while it puts runs away goes on with everything, each time', async (t) => {
  const ship = await makeShip(t);
  const folder = profile(t);
  let { page, kill } = await openMortal(folder, PHONE.viewport);
  await bow.enrol(page, ship, 'Tam Orrin');
  await page.waitForSelector('html[data-offline="ready"]', { state: 'attached', ...bow.PATIENCE });
  const path = await bow.begin(page, 'anchors-ready');
  await bow.allAboard(page);
  await bow.work(page);
  const chain = await bow.chain(page);
  await bow.allAboard(page);
  await ship.cut();
  for (const afterMs of [0, 300, 900]) {
    // Without rows it puts them all away anew.
    await page.goto('about:blank');
    await page.goto(ship.url(path));
    await page.locator('.sheet-title').waitFor(bow.PATIENCE);
    await spoil(page, 'gone');
    await page.goto('about:blank');
    await page.goto(ship.url(path));
    await page.locator('.sheet-title').waitFor(bow.PATIENCE);
    await new Promise((done) => setTimeout(done, afterMs));
    await kill();
    ({ page, kill } = await openMortal(folder, PHONE.viewport));
    await page.goto(ship.url(path));
    await page.locator('.sheet-title').waitFor(bow.PATIENCE);
    assert.deepEqual(await bow.chain(page), chain, `killed after ${afterMs} ms`);
  }
  const kept = await until(async () => {
    const kept = await rows(page, 'kept');
    return runs(kept).length > 0 && kept;
  }, 'rows');
  assert.ok(kept.some(([name]) => name === 'mark'));
  await bow.unlock(page);
  await bow.work(page);
});
