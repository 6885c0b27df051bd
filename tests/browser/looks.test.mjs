// Every page in three lights: looked at, held against WCAG 2.2 AA, and measured for a gloved thumb.
import assert from 'node:assert/strict';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { complaints, inThreeLights, install, light, overflow, thumb } from './support/look.mjs';
import { signedByTwo } from './support/second.mjs';
import { Ship, folder, ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

const PHONE = { width: 390, height: 844 };
const DESK = { width: 1280, height: 800 };

/** Takes the README's picture, where a folder for it is given: `CLEARHAWSE_PICTURES=../pictures`. */
async function picture(page, name, part) {
  if (!process.env.CLEARHAWSE_PICTURES) return;
  await light(page, 'day');
  await page.mouse.move(0, 0);
  await part?.scrollIntoViewIfNeeded();
  const cdp = await page.context().newCDPSession(page);
  const { data } = await cdp.send('Page.captureScreenshot', { format: 'webp', quality: 82 });
  writeFileSync(join(process.env.CLEARHAWSE_PICTURES, `${name}.webp`), Buffer.from(data, 'base64'));
}

test('the pages at the bow are fit for a gloved thumb in every light', async (t) => {
  const ship = await makeShip(t);
  const browser = await open(t, profile(t), { viewport: PHONE });
  const page = await browser.newPage();
  await install(page, ship.url());
  const found = complaints(page);
  const look = async (name) => {
    found.push(...(await inThreeLights(page, name)), ...(await thumb(page, name)), ...(await overflow(page, name, [360, 430])));
  };

  await bow.enrol(page, ship, 'Tam Orrin');
  await page.locator('.start-run').first().waitFor(bow.PATIENCE);
  await look('bow-home');

  await bow.begin(page, 'anchors-ready');
  await look('bow-confirm');
  await bow.workUntil(page, 'deck');
  await page.locator('.sheet-choices .button').first().click();
  await look('bow-choice');
  await bow.workUntil(page, 'locker-air');
  await bow.type(page, '20.9');
  await look('bow-reading');
  await picture(page, 'bow');
  await bow.first(page).click();
  await page.locator('.keypad[aria-label="oxygen, middle"]').waitFor(bow.PATIENCE);
  await bow.type(page, '19.2');
  await page.locator('.keypad.is-alarm').waitFor();
  await page.locator('.point', { hasText: '20.9' }).waitFor(bow.PATIENCE);
  await look('bow-reading-out');
  for (let n = 0; n < 4; n += 1) await page.getByRole('button', { name: say('parts.KEY_ERASE') }).click();
  await bow.readings(page, 1);
  await page.getByRole('button', { name: say('NOT_SO') }).click();
  await page.getByText(say('SAY_WHAT_IS_WRONG')).waitFor();
  await look('bow-not-so');
  await page.getByRole('button', { name: say('CANCEL') }).click();
  await bow.workUntil(page, 'brakes');
  const second = await (await open(t, profile(t), { viewport: PHONE })).newPage();
  await bow.enrol(second, ship, 'Maren Holt');
  await signedByTwo(page, second, page.url());
  await bow.workUntil(page, 'stoppers-off');
  await look('bow-hold');
  assert.deepEqual(found, []);
});

test('the bridge and the office can be read and worked in every light', async (t) => {
  const ship = await makeShip(t);
  const phone = await (await open(t, profile(t), { viewport: PHONE })).newPage();
  const found = complaints(phone);
  await bow.enrol(phone, ship, 'Tam Orrin');
  const path = await bow.begin(phone, 'anchors-ready');

  const page = await (await open(t, profile(t), { viewport: DESK })).newPage();
  await install(page, ship.url());
  const more = complaints(page);
  const look = async (name, on = page) => found.push(...(await inThreeLights(on, name)));
  await bow.enrol(page, ship, 'Ravi Thorne');
  await bow.workUntil(phone, 'brakes');
  await signedByTwo(phone, page, ship.url(path));
  await bow.workUntil(phone, 'stoppers-off');
  await bow.allAboard(phone);
  await page.goto(ship.url('/'));
  await page.locator('.start-place').first().waitFor();
  await look('start');
  await bow.open(page, ship.url('/bridge'));
  await page.getByRole('button', { name: say('GIVE_CONSENT') }).waitFor(bow.PATIENCE);
  await look('bridge-hold');
  found.push(...(await page.evaluate(() => {
    // What is asked, its keys, and where each run stands are in sight without scrolling; what lies below is detail.
    const needed = [...document.querySelectorAll('.hold-what, .hold-act button, .hold-facts li, .bridge-card-step')];
    const below = needed.filter((one) => one.getBoundingClientRect().bottom > innerHeight);
    return below.map((one) => `bridge-hold: below the fold at 1280 x 800: ${one.innerText}`);
  })));
  await picture(page, 'bridge');
  await bow.hold(page, say('GIVE_CONSENT'), page.locator('.hold-card'));
  await page.locator('.hold-card').waitFor({ state: 'detached', ...bow.PATIENCE });
  await look('bridge-runs');

  // How each anchor is left is said last. The pages took minutes, and the phone may have locked its key meanwhile.
  if (!(await bow.isUnlocked(phone))) await bow.unlock(phone);
  await bow.workUntil(phone, 'all-done');
  await bow.hold(phone, say('CLOSE_RUN'));
  await phone.getByText(say('RUN_CLOSED')).waitFor(bow.PATIENCE);
  await bow.allAboard(phone);
  await look('bow-closed', phone);
  found.push(...(await thumb(phone, 'bow-closed')));

  const { vessel } = await (await page.request.get(ship.url('/api/v1/ship'))).json();
  for (const [name, address, wanted] of [
    ['office-vessels', '/office', '.table'],
    ['office-vessel', `/office/${vessel}`, '.time-row'],
    ['office-record', `/office/${vessel}/run/${path.split('/').at(-1)}`, '.seal'],
  ]) {
    await page.goto(ship.url(address));
    await page.locator(wanted).first().waitFor(bow.PATIENCE);
    await look(name);
    found.push(...(await overflow(page, name, [360, 390, 430])));
  }
  await picture(page, 'office', page.locator('.seal'));
  assert.deepEqual([...found, ...more], []);
});

test('the ship\'s own pages can be read and worked in every light, at the bow and on the bridge', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), { viewport: PHONE })).newPage();
  await install(page, ship.url());
  const found = complaints(page);
  await bow.enrol(page, ship, 'Maren Holt');
  for (const size of [PHONE, DESK]) {
    await page.setViewportSize(size);
    for (const [name, address, wanted] of [
      ['procedures', '/procedures', 'main a[href="/procedures/locker-entry"]'],
      ['procedure', '/procedures/locker-entry', '.procedure-step'],
      ['card', '/procedures/locker-entry/card', '.card-step'],
      ['rounds', '/rounds', '.table'],
      ['watch', '/watch', '.watch-keys'],
      ['inputs', '/watch/inputs', '.watch-inputs pre'],
      ['drills', '/drills', '.drills tbody tr'],
      ['survey', '/survey', '.survey-part'],
      ['foredeck', '/foredeck', '.foredeck-part'],
      ['marks', '/marks', '.marks-cable'],
      ['settings', '/settings', '.table'],
      ['setup', '/setup', '.setup-part'],
      ['defects', '/defects', 'main h1'],
      ['gear', '/gear', '.gear-row'],
      ['item', '/gear/GM-2', '.gear-standing'],
      ['kinds', '/gear/kinds', '[data-kind]'],
    ]) {
      const seen = `${name}-${size.width}`;
      await page.goto(ship.url(address));
      await page.locator(wanted).first().waitFor(bow.PATIENCE);
      found.push(...(await inThreeLights(page, seen)), ...(await overflow(page, seen, [360, 390, 430])));
    }
  }

  // A round that begins with choices asks them here as at the bow; the settings open under the master's hand.
  await page.setViewportSize(PHONE);
  await page.goto(ship.url('/settings'));
  const row = page.locator('tr', { hasText: 'locker_volume' });
  await row.locator('summary').click();
  await row.getByLabel(say('ship.VALUE')).waitFor(bow.PATIENCE);
  found.push(...(await inThreeLights(page, 'settings-change')), ...(await overflow(page, 'settings-change', [360, 390])));
  assert.deepEqual(found, []);
});

test('the server itself draws the bridge and the office, before the program has come', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), { viewport: DESK })).newPage();
  await bow.enrol(page, ship, 'Ravi Thorne');
  const drawn = async (path) => (await page.request.get(ship.url(path))).text();
  assert.match(await drawn('/bridge'), /class="bridge-card[\s\S]*Anchors ready/);
  assert.match(await drawn('/office'), /<table[\s\S]*Aldermere/);
});

test('a ship with nothing under way has quiet pages, not empty ones', async (t) => {
  const ship = new Ship(folder(t, 'data'));
  t.after(() => ship.cut());
  await ship.start();
  const page = await (await open(t, profile(t), { viewport: PHONE })).newPage();
  const found = complaints(page);
  await page.goto(ship.url('/bow'));
  await page.getByText(say('ENROL_FIRST')).waitFor(bow.PATIENCE);
  found.push(...(await inThreeLights(page, 'bow-unknown')), ...(await thumb(page, 'bow-unknown')));
  await bow.enrolFirst(page, ship, { ship: 'Brackwater', name: 'Ines Calder' });
  await page.setViewportSize(DESK);
  await page.goto(ship.url('/bridge'));
  await page.getByText(say('NOTHING_FORWARD')).waitFor(bow.PATIENCE);
  found.push(...(await inThreeLights(page, 'bridge-quiet')));
  await page.goto(ship.url('/office'));
  await page.locator('.office-main').waitFor();
  found.push(...(await inThreeLights(page, 'office-empty')));
  assert.deepEqual(found, []);
});
