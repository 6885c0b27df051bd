// What a deckhand does at the bow, by the screen's steps, keys and sentences.
import assert from 'node:assert/strict';
import { say, says } from './words.mjs';

/** Long enough for a slow machine; a step that needs it has failed. */
export const PATIENCE = { timeout: 90_000 };

/** After so long without an answer a press is taken for lost: the news had moved its key at that moment. */
const A_PRESS = { timeout: 12_000 };

/** Readings that are within the demo ship's limits. */
export const READINGS = {
  oxygen: '20.9',
  'standby pressure': '55',
  'set 1': '280',
  'set 2': '270',
  'oil temperature': '31',
  'tank level': '90',
  'wash-water pressure': '4.2',
  'fire main': '6.5',
  'pressure in the hose': '8.5',
  flowing: '4.2',
  length: '18',
};

/** A PIN without a pattern, long enough for a master; whoever needs another names it. */
export const PIN = '73914608';

/** Types a PIN on the pad in sight and presses the key that ends it. */
export async function typePin(page, pin) {
  const pad = page.locator('.pin-pad');
  await pad.waitFor(PATIENCE);
  await pad.pressSequentially(pin);
  await pad.locator('.is-end').click();
}

/** Chooses a PIN on the enrolment's page and proves the key after the page has loaded again; returns when the code is asked for. */
export async function makeKey(page, ship, pin = PIN) {
  await page.goto(ship.url('/bow/enrol'));
  await typePin(page, pin);
  await page.getByText(say('unlock_sheet.PROVE_BODY')).waitFor(PATIENCE);
  await typePin(page, pin);
  await page.getByLabel(say('unlock_sheet.CODE')).waitFor(PATIENCE);
}

/** Enrols `name` on this device with a code of `ship`, and waits until the pages are kept for offline. */
export async function enrol(page, ship, name, pin = PIN) {
  await makeKey(page, ship, pin);
  await page.getByLabel(say('unlock_sheet.CODE')).fill(ship.codeFor(name));
  await page.getByRole('button', { name: say('unlock_sheet.ASK') }).click();
  await page.getByText(says('unlock_sheet.you_are', { name })).waitFor(PATIENCE);
  await page.getByRole('link', { name: say('unlock_sheet.TO_PHONE_CHECK') }).click();
  await page.getByRole('link', { name: say('unlock_sheet.TO_BOW') }).click();
  await page.waitForURL('**/bow', PATIENCE);
  await page.waitForSelector('html[data-offline="ready"]', { state: 'attached', ...PATIENCE });
}

/** Enrols the first of a ship that has no name yet, who is her master. */
export async function enrolFirst(page, ship, { ship: name, name: master }) {
  await makeKey(page, ship);
  await page.getByLabel(say('unlock_sheet.CODE')).fill(ship.firstCode);
  await page.getByLabel(say('unlock_sheet.SHIPS_NAME')).fill(name);
  await page.getByLabel(say('unlock_sheet.PARTICULARS')).fill('motor yacht, 41 m');
  await page.getByLabel(say('unlock_sheet.MASTERS_NAME')).fill(master);
  await page.getByRole('button', { name: say('unlock_sheet.ASK') }).click();
  await page.getByText(say('unlock_sheet.you_are', { name: master, rank: say('unlock_sheet.MASTER'), ship: name })).waitFor(PATIENCE);
}

/** Whether the key of whoever has the phone is open, as the mark at the head of the page says. */
export const isUnlocked = async (page) => (await page.locator('.person-mark').getAttribute('data-state')) === 'unlocked';

/** Opens the key of whoever has the phone, as after each start of the page. */
export async function unlock(page, pin = PIN) {
  await page.locator('.person-mark').click(PATIENCE);
  await page.locator('.unlock-sheet .person-key[aria-pressed="true"]').click(PATIENCE);
  await typePin(page, pin);
  await page.locator('.unlock-sheet').waitFor({ state: 'detached', ...PATIENCE });
}

/** Opens a page of the program and the key of whoever has the phone. */
export async function open(page, address, pin = PIN) {
  await page.goto(address);
  await unlock(page, pin);
}

/** Starts a procedure from the list; returns the path of its run. */
export async function begin(page, slug) {
  // Where one is under way already, as on the demo's ship, the page asks whether another is meant. News may draw the list
  // anew under a press, which then does nothing.
  const another = page.locator('.start-begin', { hasText: say('BEGIN_ANOTHER') });
  const isAnswered = () => location.pathname.startsWith('/bow/run/') || document.querySelector('.start-begin') !== null;
  for (let press = 0; press < 4 && !(await page.evaluate(isAnswered)); press += 1) {
    await page.locator(`[data-slug="${slug}"]`).click();
    await page.waitForFunction(isAnswered, null, A_PRESS).catch(() => {});
  }
  if (await another.isVisible()) await another.click();
  await page.waitForURL('**/bow/run/*', PATIENCE);
  await page.locator('.sheet-title').waitFor(PATIENCE);
  return new URL(page.url()).pathname;
}

/** Which step the sheet shows, by its id; where it shows none, the run's state. */
export const title = (page) => page.locator('.sheet-title').evaluate(({ dataset }) => dataset.step ?? dataset.state);
export const first = (page) => page.locator('.sheet-actions .is-first');
export const state = (page) => page.locator('.sync-line').innerText();

/** Waits until the keys of the sheet answer: while they are new they sleep. */
export const keysAwake = (page) =>
  page.waitForFunction(() => !document.querySelector('.action-sheet [aria-disabled="true"]'), null, PATIENCE);

/**
 * Presses the sheet's first key until `isWorked(argument)` is so in the page. News from another phone that comes between
 * looking and pressing moves the key, which then takes no press.
 */
export async function press(page, isWorked, argument) {
  for (let tries = 0; tries < 6; tries += 1) {
    await keysAwake(page);
    if (await page.evaluate(isWorked, argument)) return;
    if (await first(page).isEnabled(PATIENCE)) await first(page).click(A_PRESS).catch(() => {});
    if (await page.waitForFunction(isWorked, argument, A_PRESS).then(() => true, () => false)) return;
  }
  assert.fail(`pressed, and nothing came of it: ${await page.locator('.action-sheet').innerText()}`);
}

/** How many links of the chain are closed. */
export const closedLinks = (page) => page.locator('.chain-row.is-done').count();

/** What stands on the chain: each step's words with its state and note. */
export const chain = (page) => page.locator('.chain-row').allInnerTexts();

/** Types on the bow's own keypad. */
export async function type(page, number) {
  for (const sign of number) {
    const name = { '.': say('parts.KEY_POINT'), '-': say('parts.KEY_MINUS') }[sign] ?? sign;
    await page.locator('.keypad').getByRole('button', { name, exact: true }).click();
  }
}

/** Holds a key that wants to be held. */
export async function hold(page, name, within = page) {
  const key = within.getByRole('button', { name: new RegExp(name) });
  await key.waitFor(PATIENCE);
  await holdDown(page, key);
}

/**
 * Keeps a key pressed until it has done its work, however long the machine takes: it has gone, or the sheet has come to
 * another step, which may have a key of the same name. One that moved from under the thumb is pressed again.
 */
export async function holdDown(page, key) {
  const held = await key.elementHandle(PATIENCE);
  const was = await page.evaluate(() => document.querySelector('.sheet-title')?.dataset.step);
  const isWorked = ([element, step]) =>
    !element.isConnected || document.querySelector('.sheet-title')?.dataset.step !== step;
  for (let press = 0; press < 4; press += 1) {
    if (await page.evaluate(isWorked, [held, was])) return;
    await key.scrollIntoViewIfNeeded(PATIENCE);
    await keysAwake(page);
    const box = await key.boundingBox(PATIENCE);
    await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
    await page.mouse.down();
    const isGone = await page.waitForFunction(isWorked, [held, was], { ...A_PRESS, polling: 50 }).then(() => true, () => false);
    await page.mouse.up();
    if (isGone) return;
  }
  assert.fail(`held, and nothing came of it: ${await key.innerText()}`);
}

/** Works the step on the sheet as it should be; returns when the next one is there. */
export async function work(page) {
  const step = await title(page);
  const done = await closedLinks(page);
  const sheet = page.locator('.action-sheet');
  const gone = (was) =>
    document.querySelectorAll('.chain-row.is-done').length > was.done &&
    document.querySelector('.sheet-title')?.dataset.step !== was.step;
  if (await sheet.locator('.keypad').count()) {
    await readings(page);
  } else {
    // Each item of a step that asks for each has its own keys; one key says that all are good.
    const each = sheet.locator('.each-all, .each-item:only-child .button');
    if (await each.count()) await each.first().click();
    const answer = sheet.locator('.sheet-choices .button');
    if (await answer.count()) await answer.first().click();
    await press(page, gone, { step, done });
  }
  await page.waitForFunction(gone, { step, done }, PATIENCE);
  return step;
}

/** Types every reading of the step, from the one with number `from` on, each within its limits. */
export async function readings(page, from = 0) {
  const points = await page.locator('.keypad .point').count();
  const step = await title(page);
  for (let at = from; at < Math.max(points, 1); at += 1) {
    const label = await page.locator('.keypad').getAttribute('aria-label');
    const known = Object.entries(READINGS).find(([word]) => label.includes(word));
    assert.ok(known, `no reading known for ${label}`);
    const kept = (was) => {
      const sheet = document.querySelector('.sheet-title')?.dataset.step;
      return sheet !== was.step || document.querySelector('.keypad')?.getAttribute('aria-label') !== was.label;
    };
    await type(page, known[1]);
    await press(page, kept, { step, label });
  }
}

/** Works steps until the sheet shows that one. */
export async function workUntil(page, wanted) {
  const worked = [];
  while ((await title(page)) !== wanted) {
    assert.ok(worked.length < 60, `never came to ${wanted}: ${worked.join(' / ')}`);
    worked.push(await work(page));
  }
  return worked;
}

/** Waits until no record of this phone waits for the ship. */
export const allAboard = (page) => page.locator('.sync-line.is-aboard').waitFor({ timeout: 120_000 });

/** The browser notices that there is a network again: a hint to try at once, where failures have made the tries rare. */
export const networkIsBack = (page) => page.evaluate(() => dispatchEvent(new Event('online')));
