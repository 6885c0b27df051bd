// A phone that was enrolled before keys had PINs: what it kept is taken over, whichever version wrote it.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

const PHONE = { viewport: { width: 390, height: 844 } };

/** A page of the ship's address on which the program does not run. */
const bare = (page, ship) => page.goto(ship.url('/manifest.webmanifest'));

/** Enrols as the first version did, with one key that no PIN opens; runs in the page, and keeps it in a database of `version`. */
async function enrolAsBefore({ code, version }) {
  const hex = (bytes) => [...new Uint8Array(bytes)].map((byte) => byte.toString(16).padStart(2, '0')).join('');
  const pair = await crypto.subtle.generateKey('Ed25519', false, ['sign', 'verify']);
  const raw = new Uint8Array(await crypto.subtle.exportKey('raw', pair.publicKey));
  const claim = new TextEncoder().encode(`clearhawse enrolment v2\n${code}\n${hex(raw)}`);
  const proof = hex(await crypto.subtle.sign('Ed25519', pair.privateKey, claim));
  const asked = await fetch('/api/v1/enrol', {
    method: 'POST',
    headers: { 'content-type': 'application/json' },
    body: JSON.stringify({ code, public_key: hex(raw), protection: 'webcrypto', proof }),
  });
  if (!asked.ok) throw new Error(await asked.text());
  const { ship, person, records } = await asked.json();
  const bytes = records.map((each) => new Uint8Array(each.match(/../g).map((pair) => Number.parseInt(pair, 16))));
  return window.keepAsBefore(version, {
    // The program names a record by its chain and number; what came with the enrolment may lie under any name.
    records: bytes.map((each, at) => [`${'0'.repeat(64)}/${String(at).padStart(16, '0')}`, each]),
    keys: [['me', { kind: 'webcrypto', private: pair.privateKey, public: raw }]],
    notes: [['me', person], ['ship', JSON.stringify(ship)]],
  });
}

/** Puts everything into a database as an earlier version made it; runs before any script of a page. */
function install() {
  window.keepAsBefore = async (version, all) => {
    const deleting = indexedDB.deleteDatabase('clearhawse');
    await new Promise((done) => (deleting.onsuccess = done));
    const opening = indexedDB.open('clearhawse', version);
    const stores = ['records', 'keys', 'notes', ...(version > 1 ? ['photos'] : [])];
    opening.onupgradeneeded = () => stores.forEach((name) => opening.result.createObjectStore(name));
    const database = await new Promise((done) => (opening.onsuccess = () => done(opening.result)));
    const writing = database.transaction(stores, 'readwrite');
    for (const name of stores) for (const [key, value] of all[name] ?? []) writing.objectStore(name).put(value, key);
    await new Promise((done) => (writing.oncomplete = done));
    database.close();
  };
  window.readAll = async () => {
    const opening = indexedDB.open('clearhawse');
    const database = await new Promise((done) => (opening.onsuccess = () => done(opening.result)));
    const all = {};
    for (const name of database.objectStoreNames) {
      const store = database.transaction(name).objectStore(name);
      const answers = [store.getAllKeys(), store.getAll()].map((one) => new Promise((done) => (one.onsuccess = () => done(one.result))));
      const [keys, values] = await Promise.all(answers);
      all[name] = keys.map((key, at) => [key, values[at]]);
    }
    const { version } = database;
    database.close();
    return { all, version };
  };
}

/** Puts what is there now back into the form of an earlier version; runs in the page. */
async function putBack(version) {
  const { all } = await window.readAll();
  const [, row] = all.people[0];
  const kept = { ...all, notes: [...all.notes.filter(([name]) => name !== 'current'), ['me', JSON.parse(row).person]] };
  await window.keepAsBefore(version, kept);
  return all.records.length;
}

for (const version of [1, 2]) {
  test(`a phone with a database of version ${version} goes on as it was, and nothing that waited is lost`, async (t) => {
    const ship = await makeShip(t);
    const page = await (await open(t, profile(t), PHONE)).newPage();
    await page.addInitScript(install);
    await bare(page, ship);
    await page.evaluate(enrolAsBefore, { code: ship.codeFor('Tam Orrin').replace(' ', ''), version });

    // Nothing is asked for: the key goes on as it is.
    await page.goto(ship.url('/bow'));
    await page.locator('.person-mark[data-state="no-pin"]').waitFor(bow.PATIENCE);
    await page.waitForSelector('html[data-offline="ready"]', { state: 'attached', ...bow.PATIENCE });
    const path = await bow.begin(page, 'anchors-ready');
    await bow.allAboard(page);
    // The ship's register has to be here too: the run asks by it what holds each anchor.
    await page.locator('.chain-row[data-step="holds-port"]').waitFor({ state: 'attached', ...bow.PATIENCE });
    await ship.cut();
    await bow.work(page);
    await bow.work(page);
    const chain = await bow.chain(page);

    // The same with ticks that wait, in the form of the earlier version.
    await ship.start();
    await page.goto('about:blank');
    await bare(page, ship);
    const records = await page.evaluate(putBack, version);
    await ship.cut();
    await page.goto(ship.url(path));
    await page.locator('.sheet-title').waitFor(bow.PATIENCE);
    assert.deepEqual(await bow.chain(page), chain);
    assert.match(await bow.state(page), /2 wait, safe here/);
    const now = await page.evaluate(() => window.readAll());
    assert.equal(now.version, 4);
    assert.ok(now.all.records.length >= records);

    // The page says what to do; enrolled anew, there is a PIN, and what waited comes aboard.
    await page.goto(ship.url('/bow/phone'));
    await page.getByText(say('unlock_sheet.PIN_MISSING')).waitFor(bow.PATIENCE);
    await ship.start();
    await bow.enrol(page, ship, 'Tam Orrin');
    await bow.allAboard(page);
    await page.goto(ship.url(path));
    await bow.unlock(page);
    assert.deepEqual(await bow.chain(page), chain);
    await bow.work(page);
    await bow.allAboard(page);
    const after = await page.evaluate(() => window.readAll());
    assert.equal(after.all.keys.filter(([name]) => name === 'me').length, 0, 'the key without a PIN is gone');
  });
}
