// Several people on one phone: each with a key behind a PIN, opened to sign and put away again.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { complaints, inThreeLights, install, overflow, thumb } from './support/look.mjs';
import { Ship, folder, ship as makeShip } from './support/ship.mjs';
import { say, says } from './support/words.mjs';

const PHONE = { viewport: { width: 390, height: 844 } };
const ORRIN = '739146';
const THORNE = '406928';

/** A phone whose page's clock the test moves; timers and the time go on by themselves until then. */
async function phoneOf(t, ship) {
  const browser = await open(t, profile(t), PHONE);
  const page = await browser.newPage();
  await page.clock.install();
  const faults = [];
  page.on('pageerror', (error) => faults.push(String(error)));
  return { page, faults, ship };
}

const door = (page) => page.locator('.unlock-sheet');
const mark = (page) => page.locator('.person-mark');
const who = (page) => mark(page).getAttribute('aria-label');

async function isLocked(page) {
  await page.locator('.person-mark[data-state="locked"]').waitFor(bow.PATIENCE);
}

async function pickPerson(page, name) {
  await mark(page).click();
  await door(page).getByRole('button', { name: new RegExp(name) }).click();
}

/** Tries a PIN on the sheet, and waits for the answer. */
async function tryPin(page, pin) {
  await bow.typePin(page, pin);
  await page.getByText(/This is not the PIN|Too many wrong PINs/).waitFor(bow.PATIENCE);
}

/** Everything that the browser keeps for the program, as an intruder's script would read it; runs in the page. */
async function readStore() {
  const opening = indexedDB.open('clearhawse');
  const database = await new Promise((done) => (opening.onsuccess = () => done(opening.result)));
  const all = {};
  const extractable = [];
  for (const name of database.objectStoreNames) {
    const store = database.transaction(name).objectStore(name);
    const asked = [store.getAllKeys(), store.getAll()];
    const answers = asked.map((one) => new Promise((done) => (one.onsuccess = () => done(one.result))));
    const [keys, values] = await Promise.all(answers);
    all[name] = keys.map((key, at) => [key, values[at]]);
  }
  const keys = all.keys.flatMap(([name, value]) => Object.entries(value).map(([part, each]) => [`${name}.${part}`, each]));
  for (const [name, each] of keys) {
    if (!(each instanceof CryptoKey)) continue;
    const exported = await crypto.subtle.exportKey(each.type === 'public' || each.type === 'secret' ? 'raw' : 'pkcs8', each).then(
      () => true,
      () => false,
    );
    if (each.extractable || exported) extractable.push(name);
  }
  database.close();
  const kinds = keys.filter(([, each]) => each instanceof CryptoKey).map(([name, each]) => `${name}: ${each.type} ${each.algorithm.name}`);
  return { extractable, kinds, version: database.version, people: all.people.map(([, row]) => JSON.parse(row)), records: all.records.length };
}

/** Tries what a script can do without the PIN: peel the device's layer off and open what is inside with a guess. */
async function peel() {
  const opening = indexedDB.open('clearhawse');
  const database = await new Promise((done) => (opening.onsuccess = () => done(opening.result)));
  const store = database.transaction('keys').objectStore('keys');
  const get = (name) => new Promise((done) => (store.get(name).onsuccess = (event) => done(event.target.result)));
  const all = await new Promise((done) => (store.getAll().onsuccess = (event) => done(event.target.result)));
  const device = (await get('device'))?.key;
  const kept = all.find((one) => one.kind === 'pin');
  database.close();
  const bound = new Uint8Array([...new TextEncoder().encode(`clearhawse v1 ${kept.form} `), ...kept.public]);
  const inner = new Uint8Array(
    await crypto.subtle.decrypt({ name: 'AES-GCM', iv: kept.outerIv, additionalData: bound }, device, kept.wrapped),
  );
  const asKey = (bytes) => crypto.subtle.importKey('pkcs8', bytes, 'Ed25519', false, ['sign']).then(() => true, () => false);
  const guessed = await crypto.subtle.importKey('raw', new Uint8Array(32), 'AES-GCM', false, ['decrypt']);
  const opened = await crypto.subtle
    .decrypt({ name: 'AES-GCM', iv: kept.innerIv, additionalData: bound }, guessed, inner)
    .then(() => true, () => false);
  return { stored: await asKey(kept.wrapped), inner: await asKey(inner), opened, stretch: JSON.parse(kept.stretch) };
}

test('two people share a phone: each signs with a key of their own, and it takes two taps and a PIN to change', async (t) => {
  const ship = await makeShip(t);
  const { page, faults } = await phoneOf(t, ship);
  await bow.enrol(page, ship, 'Tam Orrin', ORRIN);
  await bow.begin(page, 'anchors-ready');
  const first = await bow.work(page);

  await pickPerson(page, 'Tam Orrin');
  await page.getByRole('button', { name: say('unlock_sheet.SOMEBODY_ELSE') }).click();
  await page.getByRole('button', { name: say('unlock_sheet.ADD_PERSON') }).click();
  await page.waitForURL('**/bow/enrol');
  await bow.enrol(page, ship, 'Ravi Thorne', THORNE);
  assert.equal(await who(page), 'Ravi Thorne, unlocked');
  await page.locator('.start-run').first().click();
  await bow.work(page);

  await pickPerson(page, 'Tam Orrin');
  await bow.typePin(page, ORRIN);
  await door(page).waitFor({ state: 'detached', ...bow.PATIENCE });
  assert.equal(await who(page), 'Tam Orrin, unlocked');
  await bow.work(page);
  await bow.allAboard(page);
  const chain = await bow.chain(page);
  const done = chain.filter((row) => /\d\d:\d\d/.test(row));
  assert.match(done[0], /Tam Orrin/, first);
  assert.match(done[1], /Ravi Thorne/);
  assert.match(done[2], /Tam Orrin/);
  const { people } = await page.evaluate(readStore);
  assert.deepEqual(people.map((one) => one.person).sort(), ['orrin', 'thorne']);
  assert.notEqual(people[0].device, people[1].device);
  assert.deepEqual(faults, []);
});

test('what the phone keeps opens nothing without the PIN', async (t) => {
  const ship = await makeShip(t);
  const { page } = await phoneOf(t, ship);
  await bow.enrol(page, ship, 'Tam Orrin', ORRIN);
  const kept = await page.evaluate(readStore);
  assert.deepEqual(kept.extractable, []);
  assert.deepEqual(kept.kinds, ['device.key: secret AES-GCM'], 'no signing key lies there ready to use');
  const peeled = await page.evaluate(peel);
  assert.deepEqual([peeled.stored, peeled.inner, peeled.opened], [false, false, false]);
  assert.ok(peeled.stretch.memory_kib >= 19 * 1024 && peeled.stretch.passes >= 2, 'at least what is recommended for each turn');
});

test('wrong PINs are counted on disk and each wait is longer, over a start of the page too', async (t) => {
  const ship = await makeShip(t);
  const { page } = await phoneOf(t, ship);
  await bow.enrol(page, ship, 'Tam Orrin', ORRIN);
  await page.reload();
  await isLocked(page);
  await pickPerson(page, 'Tam Orrin');
  for (const pin of ['111222', '333444', '555666']) await tryPin(page, pin);
  await page.getByText(/Too many wrong PINs\. Try again in \d+ s/).waitFor(bow.PATIENCE);
  const { people } = await page.evaluate(readStore);
  assert.equal(people[0].tries.wrong, 3);

  // A start of the page takes nothing back: the right PIN has to wait as well.
  await page.reload();
  await isLocked(page);
  await pickPerson(page, 'Tam Orrin');
  await page.locator('.pin-pad').pressSequentially(ORRIN);
  await page.getByText(says('unlock_sheet.wait_for')).waitFor(bow.PATIENCE);
  assert.ok(await page.locator('.pin-pad').getByRole('button', { name: say('unlock_sheet.UNLOCK') }).isDisabled());

  // After the wait a fourth wrong one doubles it; then the right one opens and takes the count back.
  await page.clock.fastForward(31_000);
  for (let n = 0; n < ORRIN.length; n += 1) await page.locator('.pin-pad').press('Backspace');
  await tryPin(page, '777888');
  await page.getByText(/Try again in (1 min|5\d s)/).waitFor(bow.PATIENCE);
  await page.clock.fastForward(61_000);
  await bow.typePin(page, ORRIN);
  await door(page).waitFor({ state: 'detached', ...bow.PATIENCE });
  assert.equal((await page.evaluate(readStore)).people[0].tries.wrong, 0);
});

test('a dark screen locks, a photograph does not; a tick asks for the PIN and then lands', async (t) => {
  const ship = await makeShip(t);
  const { page, faults } = await phoneOf(t, ship);
  await bow.enrol(page, ship, 'Tam Orrin', ORRIN);
  await bow.begin(page, 'anchors-ready');
  const hide = (hidden) =>
    page.evaluate((is) => {
      Object.defineProperty(document, 'hidden', { configurable: true, value: is });
      Object.defineProperty(document, 'visibilityState', { configurable: true, value: is ? 'hidden' : 'visible' });
      document.dispatchEvent(new Event('visibilitychange'));
    }, hidden);
  await hide(true);
  await page.clock.fastForward(40_000);
  await hide(false);
  assert.equal(await who(page), 'Tam Orrin, unlocked', 'time for a photograph');
  await hide(true);
  await page.clock.fastForward(61_000);
  await hide(false);
  await isLocked(page);

  // Read as before; a press asks for the PIN, and goes on once it is typed.
  const step = await bow.title(page);
  const before = await bow.closedLinks(page);
  await bow.first(page).click();
  await door(page).waitFor(bow.PATIENCE);
  assert.equal(await bow.closedLinks(page), before);
  await door(page).getByRole('button', { name: say('unlock_sheet.NOT_NOW') }).click();
  assert.equal(await bow.title(page), step);
  await bow.first(page).click();
  await bow.typePin(page, ORRIN);
  await page.waitForFunction((was) => document.querySelectorAll('.chain-row.is-done').length > was, before, bow.PATIENCE);
  assert.equal(await who(page), 'Tam Orrin, unlocked');
  await bow.allAboard(page);

  // Half an hour without a press while a run is worked.
  await page.clock.fastForward(29 * 60_000);
  assert.equal(await who(page), 'Tam Orrin, unlocked');
  await page.clock.fastForward(2 * 60_000);
  await isLocked(page);
  assert.deepEqual(faults, []);
});

test('a lost PIN is a new enrolment: the old key is gone, what it signed stays', async (t) => {
  const ship = await makeShip(t);
  const { page } = await phoneOf(t, ship);
  await bow.enrol(page, ship, 'Tam Orrin', ORRIN);
  const path = await bow.begin(page, 'anchors-ready');
  await ship.cut();
  await bow.work(page);
  const chain = await bow.chain(page);
  const before = await page.evaluate(readStore);
  await ship.start();
  await page.reload();
  await isLocked(page);
  await pickPerson(page, 'Tam Orrin');
  await door(page).getByRole('button', { name: say('unlock_sheet.PIN_LOST') }).click();
  await page.getByText(say('unlock_sheet.LOST_HEAD')).waitFor();
  await door(page).getByRole('button', { name: say('unlock_sheet.ENROL_ANEW') }).click();
  await page.waitForURL('**/bow/enrol');
  await bow.enrol(page, ship, 'Tam Orrin', THORNE);
  await page.goto(ship.url(path));
  await page.locator('.sheet-title').waitFor(bow.PATIENCE);
  assert.deepEqual(await bow.chain(page), chain);
  await bow.unlock(page, THORNE);
  await bow.work(page);
  await bow.allAboard(page);
  const after = await page.evaluate(readStore);
  const old = after.people.find((one) => one.device === before.people[0].device);
  assert.ok(old.is_retired);
  assert.equal(after.people.filter((one) => !one.is_retired).length, 1);
  assert.ok(after.records > before.records);
  // The sheet offers one key to open, the new one.
  await mark(page).click();
  assert.equal(await door(page).locator('.person-key').count(), 1);
});

test('an enrolment that is cut off can be taken up or dropped, weak PINs are refused, a code may come by a picture', async (t) => {
  const ship = await makeShip(t);
  const { page } = await phoneOf(t, ship);
  const code = ship.codeFor('Tam Orrin').replace(' ', '');
  await page.goto(ship.url(`/bow/enrol#${code}`));
  await page.locator('.pin-pad').waitFor(bow.PATIENCE);
  assert.equal(new URL(page.url()).hash, '', 'the code does not stay in the address');
  for (const [pin, words] of [
    ['123456', /count up or down/],
    ['111111', /three different digits/],
    ['140785', /a date or a year/],
  ]) {
    await page.locator('.pin-pad').pressSequentially(pin);
    await page.getByText(words).waitFor(bow.PATIENCE);
    assert.ok(await page.getByRole('button', { name: say('unlock_sheet.MAKE_KEY') }).isDisabled());
    for (let n = 0; n < pin.length; n += 1) await page.locator('.pin-pad').press('Backspace');
  }
  await bow.typePin(page, THORNE);
  await page.getByText(say('unlock_sheet.PROVE_BODY')).waitFor(bow.PATIENCE);
  // Closed and come back: it goes on where it was; dropped, it begins anew and leaves no key behind.
  await page.goto(ship.url('/bow'));
  await page.getByText(say('ENROL_FIRST')).waitFor(bow.PATIENCE);
  await page.goto(ship.url('/bow/enrol'));
  await page.getByText(say('unlock_sheet.PROVE_BODY')).waitFor(bow.PATIENCE);
  await page.getByRole('button', { name: say('unlock_sheet.START_OVER') }).click();
  await page.getByRole('button', { name: say('unlock_sheet.MAKE_KEY') }).waitFor(bow.PATIENCE);
  assert.deepEqual((await page.evaluate(readStore)).people, []);
  await bow.makeKey(page, ship, ORRIN);
  assert.equal(await page.getByLabel(say('unlock_sheet.CODE')).inputValue(), code);
  await page.getByRole('button', { name: say('unlock_sheet.ASK') }).click();
  await page.getByText(says('unlock_sheet.you_are', { name: 'Tam Orrin' })).waitFor(bow.PATIENCE);
  // Good once.
  await bow.makeKey(page, ship, THORNE);
  await page.getByLabel(say('unlock_sheet.CODE')).fill(code);
  await page.getByRole('button', { name: say('unlock_sheet.ASK') }).click();
  await page.getByRole('alert').waitFor(bow.PATIENCE);
  assert.match(await page.getByRole('alert').innerText(), /code/);
});

test('the first to enrol names the ship and is her master', async (t) => {
  const ship = new Ship(folder(t, 'data'));
  t.after(() => ship.cut());
  await ship.start();
  const { page } = await phoneOf(t, ship);
  await bow.enrolFirst(page, ship, { ship: 'Brackwater', name: 'Ines Calder' });
  await page.goto(ship.url('/'));
  await page.getByText('Brackwater · Ines Calder').waitFor(bow.PATIENCE);
});

test('a phone is ready for the bow when everything is so, and says what is not', async (t) => {
  const ship = await makeShip(t);
  const browser = await open(t, profile(t), PHONE);
  const page = await browser.newPage();
  await install(page, ship.url());
  await bow.enrol(page, ship, 'Tam Orrin', ORRIN);
  await page.locator('.phone-check-link').click();
  await page.locator('.phone-check-line').first().waitFor(bow.PATIENCE);
  assert.match(await page.locator('.phone-check').innerText(), /Not ready yet[\s\S]*Add to Home Screen/);
  await page.getByRole('button', { name: say('unlock_sheet.SEND_TRIAL') }).click();
  await page.getByText(say('unlock_sheet.TRIAL_FINE')).waitFor(bow.PATIENCE);

  // Started from the home screen.
  await page.addInitScript(() => {
    const real = window.matchMedia.bind(window);
    window.matchMedia = (query) => (query === '(display-mode: standalone)' ? { matches: true } : real(query));
  });
  await bow.open(page, ship.url('/bow/phone'), ORRIN);
  await page.locator('.phone-check-head', { hasText: say('unlock_sheet.READY') }).waitFor(bow.PATIENCE);
  await page.goto(ship.url('/bow'));
  await page.locator('.phone-check-link', { hasText: say('unlock_sheet.READY') }).waitFor(bow.PATIENCE);
});

test('the pages about keys are fit for a gloved thumb in every light', async (t) => {
  const ship = await makeShip(t);
  const browser = await open(t, profile(t), PHONE);
  const page = await browser.newPage();
  await install(page, ship.url());
  const found = complaints(page);
  const look = async (name) => {
    found.push(...(await inThreeLights(page, name)), ...(await thumb(page, name)), ...(await overflow(page, name, [360, 430])));
  };
  await page.goto(ship.url('/bow/enrol'));
  await page.locator('.pin-pad').pressSequentially('123456');
  await look('enrol-pin');
  for (let n = 0; n < 6; n += 1) await page.locator('.pin-pad').press('Backspace');
  await bow.typePin(page, ORRIN);
  await page.getByText(say('unlock_sheet.PROVE_BODY')).waitFor(bow.PATIENCE);
  await look('enrol-again');
  await bow.typePin(page, ORRIN);
  await page.getByLabel(say('unlock_sheet.CODE')).waitFor(bow.PATIENCE);
  await look('enrol-code');
  await page.getByLabel(say('unlock_sheet.CODE')).fill(ship.codeFor('Tam Orrin'));
  await page.getByRole('button', { name: say('unlock_sheet.ASK') }).click();
  await page.getByText(says('unlock_sheet.you_are', { name: 'Tam Orrin' })).waitFor(bow.PATIENCE);
  await look('enrol-done');
  await page.getByRole('link', { name: say('unlock_sheet.TO_PHONE_CHECK') }).click();
  await page.getByRole('button', { name: say('unlock_sheet.SEND_TRIAL') }).waitFor(bow.PATIENCE);
  await look('phone-check');
  await page.goto(ship.url('/bow'));
  // The lights' key lies under the sheet: the sheet is opened anew in each light.
  const lookAtDoor = async (name, show) => {
    for (const each of ['day', 'dusk', 'night']) {
      await page.evaluate((wanted) => {
        localStorage.setItem('light', wanted);
        dispatchEvent(new Event('clearhawse-light'));
      }, each);
      await show();
      await page.screenshot({ path: new URL(`../../target/looks/${name}-${each}.png`, import.meta.url).pathname });
      found.push(...(await thumb(page, name)), ...(await overflow(page, name, [360, 430])));
      await door(page).getByRole('button', { name: say('unlock_sheet.NOT_NOW') }).click();
    }
  };
  await lookAtDoor('door-people', () => mark(page).click());
  await lookAtDoor('door-pin', () => pickPerson(page, 'Tam Orrin'));
  await lookAtDoor('door-lost', async () => {
    await pickPerson(page, 'Tam Orrin');
    await page.getByRole('button', { name: say('unlock_sheet.PIN_LOST') }).click();
  });
  await page.setViewportSize({ width: 1280, height: 800 });
  await lookAtDoor('door-pin-desk', () => pickPerson(page, 'Tam Orrin'));
  assert.deepEqual(found, []);
});
