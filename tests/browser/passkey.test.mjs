// The phone's own lock beside the PIN, for whoever asks for it: with Chromium's virtual authenticator in the phone's place.
import assert from 'node:assert/strict';
import { cpSync, lstatSync } from 'node:fs';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say, says } from './support/words.mjs';

const PHONE = { viewport: { width: 390, height: 844 } };
/** A phone's lock that is asked in vain says so when its time is over. */
const ASKED_IN_VAIN = { timeout: 120_000 };
const AUTHENTICATOR = {
  protocol: 'ctap2',
  ctap2Version: 'ctap2_1',
  transport: 'internal',
  hasResidentKey: true,
  hasUserVerification: true,
  isUserVerified: true,
  hasPrf: true,
  automaticPresenceSimulation: true,
};

const door = (page) => page.locator('.unlock-sheet');
const keyNamed = (page, sentence) => page.getByRole('button', { name: say(`unlock_sheet.${sentence}`), exact: true });
const isDone = (page) => door(page).waitFor({ state: 'detached', ...bow.PATIENCE });

/** The ship under a name: passkeys are made for none of the addresses that are numbers. */
function named(ship) {
  const port = ship.address.split(':').at(-1);
  return { url: (path = '/') => `http://localhost:${port}${path}`, codeFor: (name) => ship.codeFor(name) };
}

/** A page in the profile of `folder`, with an authenticator of its own. */
async function pageIn(t, folder) {
  const browser = await open(t, folder, PHONE);
  const page = await browser.newPage();
  const faults = [];
  page.on('pageerror', (error) => faults.push(String(error)));
  const cdp = await browser.newCDPSession(page);
  await cdp.send('WebAuthn.enable');
  const add = async () => (await cdp.send('WebAuthn.addVirtualAuthenticator', { options: AUTHENTICATOR })).authenticatorId;
  return { browser, page, faults, cdp, add, authenticatorId: await add() };
}

/** What is kept of the one person on the phone; runs in the page. */
async function readRow() {
  const opening = indexedDB.open('clearhawse');
  const database = await new Promise((done) => (opening.onsuccess = () => done(opening.result)));
  const all = async (name) => {
    const asked = database.transaction(name).objectStore(name).getAll();
    return new Promise((done) => (asked.onsuccess = () => done(asked.result)));
  };
  const [holder] = (await all('people')).map((row) => JSON.parse(row));
  const kept = (await all('keys')).find((one) => one.kind === 'pin');
  database.close();
  const { has_phone_lock: isLocked, tries } = holder;
  return { isLocked, wrong: tries.wrong, beside: Object.keys(kept.phone ?? {}).sort() };
}

const row = (page) => page.evaluate(readRow);

/** Goes to the phone's lock from the head of the page, and types the PIN there. */
async function setLock(page, sentence, pin = bow.PIN) {
  await page.locator('.person-mark').click(bow.PATIENCE);
  await keyNamed(page, sentence).click(bow.PATIENCE);
  await bow.typePin(page, pin);
}

/** Types a PIN where whoever has the phone is asked for it. */
async function tryPin(page, pin = bow.PIN) {
  await page.locator('.person-mark').click(bow.PATIENCE);
  await door(page).locator('.person-key[aria-pressed="true"]').click(bow.PATIENCE);
  await bow.typePin(page, pin);
}

/** Waits for what the sheet says of a try. */
const saysOnSheet = (page, sentence, patience = bow.PATIENCE) =>
  door(page).getByText(say(`unlock_sheet.${sentence}`)).waitFor(patience);

test('a second lock: put on, opened out of range, signed with, kept over another PIN, and taken off', async (t) => {
  const ship = await makeShip(t);
  const { page, faults, cdp, authenticatorId } = await pageIn(t, profile(t));
  await bow.enrol(page, named(ship), 'Tam Orrin');
  assert.deepEqual(await row(page), { isLocked: false, wrong: 0, beside: [] }, 'nobody has it who did not ask');

  // A wrong PIN makes no passkey.
  await setLock(page, 'PHONE_LOCK', '40295716');
  await saysOnSheet(page, 'WRONG_PIN');
  assert.deepEqual((await cdp.send('WebAuthn.getCredentials', { authenticatorId })).credentials, []);
  await bow.typePin(page, bow.PIN);
  await isDone(page);
  assert.deepEqual(await row(page), { isLocked: true, wrong: 0, beside: ['check', 'id', 'salt'] });
  const { credentials } = await cdp.send('WebAuthn.getCredentials', { authenticatorId });
  assert.deepEqual(credentials.map((one) => one.rpId), ['localhost']);

  await bow.begin(page, 'anchors-ready');
  await ship.cut();
  await page.reload();
  await page.locator('.sheet-title').waitFor(bow.PATIENCE);
  await tryPin(page);
  await isDone(page);
  assert.ok(await bow.isUnlocked(page));
  await bow.work(page);
  await ship.start();
  await bow.allAboard(page);

  // With the phone's lock opened, a wrong PIN is counted as ever.
  await page.reload();
  await tryPin(page, '40295716');
  await saysOnSheet(page, 'WRONG_PIN');
  assert.equal((await row(page)).wrong, 1);
  await bow.typePin(page, bow.PIN);
  await isDone(page);

  // Another PIN leaves the lock on.
  await page.locator('.person-mark').click();
  await keyNamed(page, 'CHANGE_PIN').click();
  for (const [asked, pin] of [['CHANGE_OLD', bow.PIN], ['CHANGE_NEW', '40295716'], ['CHANGE_AGAIN', '40295716']]) {
    await door(page).locator(`h3:text-is("${say(`unlock_sheet.${asked}`)}")`).waitFor(bow.PATIENCE);
    await bow.typePin(page, pin);
  }
  await isDone(page);
  assert.ok((await row(page)).isLocked);

  // Taken off with both, and the PIN alone opens.
  await setLock(page, 'PHONE_LOCK_OFF', '40295716');
  await isDone(page);
  assert.deepEqual(await row(page), { isLocked: false, wrong: 0, beside: [] });
  await cdp.send('WebAuthn.removeVirtualAuthenticator', { authenticatorId });
  await page.reload();
  await tryPin(page, '40295716');
  await isDone(page);
  assert.ok(await bow.isUnlocked(page));
  assert.deepEqual(faults, []);
});

test('without the passkey the PIN opens nothing, says so, costs no try and shows the way out', async (t) => {
  const ship = await makeShip(t);
  const { page, faults, cdp, add, authenticatorId } = await pageIn(t, profile(t));
  await bow.enrol(page, named(ship), 'Tam Orrin');
  await setLock(page, 'PHONE_LOCK');
  await isDone(page);

  // The phone does not know whose finger it is: it costs no try.
  await page.reload();
  await cdp.send('WebAuthn.setUserVerified', { authenticatorId, isUserVerified: false });
  await tryPin(page);
  await saysOnSheet(page, 'PHONE_REFUSED', ASKED_IN_VAIN);
  assert.equal((await row(page)).wrong, 0);

  // The same name, of another authenticator: it gives another secret, or none.
  const [credential] = (await cdp.send('WebAuthn.getCredentials', { authenticatorId })).credentials;
  await cdp.send('WebAuthn.removeVirtualAuthenticator', { authenticatorId });
  await page.reload();
  const other = await add();
  await cdp.send('WebAuthn.addCredential', { authenticatorId: other, credential });
  await tryPin(page);
  const refusals = ['PHONE_OTHER', 'PHONE_CANNOT_OPEN'].map((one) => door(page).getByText(say(`unlock_sheet.${one}`)));
  await refusals[0].or(refusals[1]).waitFor(ASKED_IN_VAIN);
  assert.deepEqual(await row(page), { isLocked: true, wrong: 0, beside: ['check', 'id', 'salt'] });

  await cdp.send('WebAuthn.clearCredentials', { authenticatorId: other });
  await page.reload();
  await tryPin(page);
  await saysOnSheet(page, 'PHONE_REFUSED', ASKED_IN_VAIN);
  assert.equal(await bow.isUnlocked(page), false);
  assert.deepEqual(await row(page), { isLocked: true, wrong: 0, beside: ['check', 'id', 'salt'] });

  // Enrolled anew, on the same phone.
  await keyNamed(page, 'ENROL_ANEW').click();
  await page.waitForURL('**/bow/enrol');
  await bow.enrol(page, named(ship), 'Tam Orrin', '40295716');
  assert.ok(await bow.isUnlocked(page));
  assert.deepEqual(faults, []);
});

test('a copied profile opens nothing, whoever knows the PIN', async (t) => {
  const ship = await makeShip(t);
  const phone = profile(t);
  const { browser, page } = await pageIn(t, phone);
  await bow.enrol(page, named(ship), 'Tam Orrin');
  await setLock(page, 'PHONE_LOCK');
  await isDone(page);
  await browser.close();

  const copy = profile(t);
  cpSync(phone, copy, { recursive: true, filter: (path) => !lstatSync(path).isSymbolicLink() });
  const thief = await pageIn(t, copy);
  await thief.page.goto(named(ship).url('/bow'));
  await tryPin(thief.page);
  await saysOnSheet(thief.page, 'PHONE_REFUSED', ASKED_IN_VAIN);
  assert.equal(await bow.isUnlocked(thief.page), false);
  assert.deepEqual(await row(thief.page), { isLocked: true, wrong: 0, beside: ['check', 'id', 'salt'] });
});

test('it is offered at the end of an enrolment, advised to a master, and not where it cannot be had', async (t) => {
  const ship = await makeShip(t);
  const { page, cdp, authenticatorId } = await pageIn(t, profile(t));
  const enrol = async (at) => {
    await bow.makeKey(page, at);
    await page.getByLabel(say('unlock_sheet.CODE')).fill(ship.codeFor('Maren Holt'));
    await keyNamed(page, 'ASK').click();
    await page.getByText(says('unlock_sheet.you_are', { name: 'Maren Holt' })).waitFor(bow.PATIENCE);
  };
  await enrol(named(ship));
  await page.getByText(say('unlock_sheet.PHONE_ADVISED')).waitFor(bow.PATIENCE);
  await keyNamed(page, 'PHONE_LOCK').click();
  await bow.typePin(page, bow.PIN);
  await isDone(page);
  await keyNamed(page, 'PHONE_LOCK_OFF').waitFor(bow.PATIENCE);
  assert.ok((await row(page)).isLocked);

  // An address in numbers has no passkeys, and a phone without a lock of its own has none either.
  await enrol(ship);
  await page.locator('.person-mark').click(bow.PATIENCE);
  await keyNamed(page, 'CHANGE_PIN').waitFor(bow.PATIENCE);
  assert.equal(await keyNamed(page, 'PHONE_LOCK').count(), 0);
  assert.equal(await page.evaluate(() => window.clearhawseLock.isThere()), false);
  await page.goto(named(ship).url('/bow'));
  assert.equal(await page.evaluate(() => window.clearhawseLock.isThere()), true);
  await cdp.send('WebAuthn.removeVirtualAuthenticator', { authenticatorId });
  assert.equal(await page.evaluate(() => window.clearhawseLock.isThere()), false);
});
