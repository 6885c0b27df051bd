// A deckhand's phone in engines that are not Chromium's: enrolled, worked at the ship and out of her range, started again there.
//
// Both take http://127.0.0.1 for a secure context, and have its offline worker. Firefox is closed before it is started again;
// WebKitGTK's browser keeps nothing beyond its process when a driver works it, so that there it is the page that is left and loaded.
// Firefox lets no page be heard where there is no sound card, which the page then has to say; WebKitGTK plays into the void.
// Held keys are held by a thumb in Firefox; WebKitGTK's driver turns it into a mouse.
// What a camera gives comes as a file, as neither has a camera here.
import assert from 'node:assert/strict';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { PIN, READINGS } from './support/bow.mjs';
import { firefox, webkit } from './support/engines.mjs';
import { folder, run, ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

const FIRST = '.sheet-actions .is-first';

const step = () => document.querySelector('.sheet-title')?.dataset.step ?? document.querySelector('.sheet-title')?.dataset.state;
const closedLinks = () => document.querySelectorAll('.chain-row.is-done').length;
const isAboard = () => document.querySelector('.sync-line.is-aboard') !== null;

async function typePin(page) {
  await page.find('.pin-pad');
  for (const digit of PIN) await page.tap('.pin-pad .key', digit);
  await page.tap('.pin-pad .is-end');
}

async function enrol(page, ship, name) {
  await page.goto(ship.url('/bow/enrol'));
  await typePin(page);
  await page.until((text) => document.body.innerText.includes(text), say('unlock_sheet.PROVE_BODY'));
  await typePin(page);
  await page.type('.code-input', ship.codeFor(name));
  await page.tap('button', say('unlock_sheet.ASK'));
  await page.tap('a', say('unlock_sheet.TO_PHONE_CHECK'));
  await page.tap('a', say('unlock_sheet.TO_BOW'));
  await page.until(() => document.documentElement.dataset.offline === 'ready');
}

/** Opens the key of whoever has the phone, as after each start of the page. */
async function unlock(page) {
  await page.tap('.person-mark');
  await page.tap('.unlock-sheet .person-key[aria-pressed="true"]');
  await typePin(page);
  await page.until(() => !document.querySelector('.unlock-sheet'));
}

/** Starts a procedure from the list; returns the path of its run. */
async function begin(page, ship, slug) {
  await page.tap(`[data-slug="${slug}"]`);
  // Where one is under way already, as on the demo's ship, the page asks whether another is meant.
  const isAnswered = (another) =>
    location.pathname.startsWith('/bow/run/') || document.querySelector('.start-begin')?.innerText === another;
  await page.until(isAnswered, say('BEGIN_ANOTHER'));
  if ((await page.path()) === '/bow') await page.tap('.start-begin', say('BEGIN_ANOTHER'));
  await page.until(() => location.pathname.startsWith('/bow/run/'));
  await page.find('.sheet-title');
  return page.path();
}

/** Types each reading of the step on the bow's own keypad. */
async function readings(page, isWorked) {
  while (!(await isWorked())) {
    const label = await page.ask(() => document.querySelector('.keypad')?.getAttribute('aria-label') ?? null);
    if (label === null) continue;
    const known = Object.entries(READINGS).find(([word]) => label.includes(word));
    assert.ok(known, `no reading known for ${label}`);
    for (const sign of known[1]) await page.tap('.keypad .key', sign === '.' ? say('parts.KEY_POINT') : sign);
    await page.tap(FIRST);
    await page.until((label) => document.querySelector('.keypad')?.getAttribute('aria-label') !== label, label);
  }
}

/** Works the step on the sheet; returns its id when the next one is there. */
async function work(page) {
  const was = { step: await page.ask(step), done: await page.ask(closedLinks) };
  const isWorked = (was) =>
    document.querySelectorAll('.chain-row.is-done').length > was.done && document.querySelector('.sheet-title')?.dataset.step !== was.step;
  if (await page.ask(() => document.querySelector('.action-sheet .keypad') !== null)) {
    await readings(page, () => page.ask(isWorked, was));
  } else {
    const wantsAnswer = await page.ask(() => document.querySelector('.action-sheet .sheet-choices .button') !== null);
    if (wantsAnswer) await page.tap('.action-sheet .sheet-choices .button');
    await page.tap(FIRST);
  }
  await page.until(isWorked, was);
  return was.step;
}

async function workUntil(page, wanted) {
  const worked = [];
  while ((await page.ask(step)) !== wanted) {
    assert.ok(worked.length < 20, `never came to ${wanted}: ${worked.join(' / ')}`);
    worked.push(await work(page));
  }
  return worked;
}

/** Waits until the ship has every record, and what she has of a run is this. */
async function allAboard(page) {
  await page.ask(() => void dispatchEvent(new Event('online')));
  await page.until(isAboard);
}

const onTheShip = (page, path) =>
  page.ask(async (run) => {
    const { vessel } = await (await fetch('/api/v1/ship')).json();
    return (await (await fetch(`/api/v1/vessels/${vessel}/runs/${run}`)).json()).card.view;
  }, path.split('/').at(-1));

/** A picture as a camera gives it, drawn by the engine itself; returns its path. */
async function picture(page, into) {
  const encoded = await page.ask(() => {
    const canvas = Object.assign(document.createElement('canvas'), { width: 1600, height: 1200 });
    const brush = canvas.getContext('2d');
    for (let at = 0; at < 1200; at += 8) {
      brush.fillStyle = `hsl(${at % 360} 60% 50%)`;
      brush.fillRect(at, at, 400, 8);
    }
    return canvas.toDataURL('image/png').split(',')[1];
  });
  const path = join(into, 'brake.png');
  writeFileSync(path, Buffer.from(encoded, 'base64'));
  return path;
}

/** Whether a page that was touched can be heard here, tried beside the program. */
const canSound = (page) =>
  page.ask(async () => {
    const audio = new AudioContext();
    await Promise.race([audio.resume(), new Promise((done) => setTimeout(done, 3_000))]);
    return audio.state === 'running';
  });

async function story(t, engine) {
  const ship = await makeShip(t);
  const started = await engine.start(t);
  let { page } = started;
  await enrol(page, ship, 'Tam Orrin');

  // The page has been touched: it says whether it would be heard.
  const sounds = await canSound(page);
  const says = await page.ask(() => document.documentElement.dataset.sound === 'on');
  assert.equal(says, sounds, 'the page says whether it can sound');
  t.diagnostic(sounds ? 'the page sounds' : 'no page sounds in this engine here');

  // A photograph: taken, seen, and aboard after the record that names it.
  const defect = await begin(page, ship, 'defect-handover');
  await page.type('textarea.sheet-text', 'Port brake lining worn to the rivets');
  await page.tap(FIRST);
  await page.until(() => document.querySelector('.sheet-title')?.dataset.step === 'photo');
  await page.type('#step-photo', await picture(page, folder(t, 'camera')));
  await page.until(() => document.querySelector('.take-photo img.photo')?.naturalWidth === 1280);
  await page.tap(FIRST);
  await page.until(() => document.querySelector('.sheet-title')?.dataset.step === 'severity');
  await allAboard(page);

  // Ticks, a choice and readings within the ship's range.
  await page.goto(ship.url('/bow'));
  await unlock(page);
  const path = await begin(page, ship, 'anchors-ready');
  const worked = await workUntil(page, 'locker-look');
  assert.ok(worked.includes('locker-air'), 'readings were typed');
  await allAboard(page);
  assert.equal((await onTheShip(page, path)).progress.passed, worked.length);
  const photo = (await onTheShip(page, defect)).steps.find(({ id }) => id === 'photo').photo;
  await page.until(async (photo) => (await fetch(`/api/v1/photos/${photo}`)).ok, photo);

  // Out of range, started again: the run is there, and goes on.
  await ship.cut();
  page = await started.again();
  await page.goto(ship.url(path));
  await page.find('.sheet-title');
  assert.equal(await page.ask(closedLinks), worked.length);
  assert.equal(await page.ask(step), 'locker-look');
  await unlock(page);
  await work(page);
  await page.find('.sync-waiting', say('parts.records_wait[one]'));
  // A held key, gone once the work is stopped.
  const isStopped = (label) => [...document.querySelectorAll('.hold-label')].every((key) => key.innerText !== label);
  await page.hold('.hold-button', say('STOP_WORK'), isStopped, say('STOP_WORK'));
  await page.find('.sync-waiting', say('parts.records_wait[other]', { n: 2 }));

  // Back in range: the ship has both.
  await ship.start();
  await allAboard(page);
  const view = await onTheShip(page, path);
  assert.equal(view.progress.passed, worked.length + 1);
  assert.ok(view.stopped);
  assert.equal(await page.ask(() => document.querySelectorAll('.start-fault').length), 0);
}

test('a phone with Firefox is enrolled, worked out of range, started again there, and sends all', { skip: !firefox.isHere && 'no Firefox with geckodriver' }, (t) => story(t, firefox));
test('a phone with WebKit is enrolled, worked out of range, started again there, and sends all', { skip: !webkit.isHere && 'no WebKitWebDriver with Xvfb' }, (t) => story(t, webkit));
