// A defect's life on the screen: raised at the bow, handed over, accepted for a time, put right and tried.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

const PHONE = { viewport: { width: 390, height: 844 } };

test('a defect that is raised at the bow is handed over, accepted, and closed, and every line of it stays', async (t) => {
  const ship = await makeShip(t);
  const phone = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(phone, ship, 'Tam Orrin');
  await bow.begin(phone, 'anchors-ready');
  await bow.workUntil(phone, 'brakes');
  await phone.getByRole('button', { name: say('NOT_SO') }).click();
  await phone.locator('textarea').first().fill('the port brake slips at the mark');
  await bow.first(phone).click();
  await phone.locator('.defect-card', { hasText: 'the port brake slips' }).first().waitFor(bow.PATIENCE);
  await bow.allAboard(phone);

  const master = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(master, ship, 'Maren Holt');
  await bow.open(master, ship.url('/defects'));
  const card = master.locator('.defect-full', { hasText: 'the port brake slips' });
  await card.waitFor(bow.PATIENCE);
  // Nothing lies over anything else: each part of the card begins below the one before.
  const over = await card.evaluate((node) => {
    const boxes = [...node.children].map((child) => child.getBoundingClientRect());
    return boxes.slice(1).filter((box, at) => box.top < boxes[at].bottom - 1).length;
  });
  assert.equal(over, 0, 'parts of the card lie over each other');
  const part = (name) => card.locator('.order-more', { hasText: name });
  const said = async (name, words) => {
    await part(name).locator('textarea').fill(words);
    await bow.hold(master, name, part(name));
  };

  await part(say('ship.HAND_OVER')).locator('summary').click();
  await part(say('ship.HAND_OVER')).locator('select').selectOption({ label: 'Ravi Thorne, chief officer' });
  await said(say('ship.HAND_OVER'), 'take the lining out and measure it');
  await card.getByText(say('ship.handed_to', { name: 'Ravi Thorne' })).first().waitFor(bow.PATIENCE);

  await part(say('ship.ACCEPT')).locator('summary').click();
  await part(say('ship.ACCEPT')).getByText(say('ship.DAY_FIRST')).waitFor(bow.PATIENCE);
  const day = new Date(Date.now() + 5 * 86_400_000).toISOString().slice(0, 10);
  await part(say('ship.ACCEPT')).locator('input[type="date"]').fill(day);
  await said(say('ship.ACCEPT'), 'starboard anchor only');
  await card.locator('.defect-standing', { hasText: day }).waitFor(bow.PATIENCE);

  await part(say('ship.CLOSE_DEFECT')).locator('summary').click();
  await said(say('ship.CLOSE_DEFECT'), 'new lining, held at twice the pull');
  await card.locator('.defect-standing', { hasText: /^closed$/ }).waitFor(bow.PATIENCE);
  const lines = await card.locator('.defect-history li').allInnerTexts();
  for (const [line, who, words] of [
    [0, 'Tam Orrin', 'slips at the mark'],
    [1, 'Maren Holt', 'take the lining out'],
    [2, 'Maren Holt', 'starboard anchor only'],
    [3, 'Maren Holt', 'new lining'],
  ]) {
    assert.ok(lines[line].includes(who) && lines[line].includes(words), `line ${line}: ${lines[line]}`);
  }
  assert.equal(await card.locator('.order-more').count(), 0, 'nothing more can be done with it');
});

test('an officer who is not ready says so, and the bow waits on with the reason', async (t) => {
  const ship = await makeShip(t);
  const phone = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(phone, ship, 'Tam Orrin');
  const path = await bow.begin(phone, 'locker-entry');
  const task = await bow.title(phone);
  await phone.locator('textarea.sheet-text').fill('free a stuck link');
  await bow.first(phone).click();
  await phone.waitForFunction((was) => document.querySelector('.sheet-title')?.dataset.step !== was, task, bow.PATIENCE);
  await bow.workUntil(phone, 'risk');
  await phone.locator('textarea.sheet-text').fill('RA 14');
  await bow.first(phone).click();
  await phone.locator('.sheet-title[data-step="may-prepare"]').waitFor(bow.PATIENCE);
  await bow.allAboard(phone);

  const mate = await (await open(t, profile(t), { viewport: { width: 1280, height: 800 } })).newPage();
  await bow.enrol(mate, ship, 'Ravi Thorne');
  await bow.open(mate, ship.url('/bridge'));
  const hold = mate.locator('.hold-card', { hasText: 'prepare the entry' });
  await hold.getByRole('button', { name: say('REFUSE_CONSENT') }).click(bow.PATIENCE);
  await phone.getByText('no consent: not yet, from the bridge').waitFor({ timeout: 120_000 });
  assert.equal(await bow.title(phone), 'may-prepare');
  await bow.hold(mate, say('GIVE_CONSENT'), hold);
  await phone.locator('.sheet-title[data-step="chain-still"]').waitFor({ timeout: 120_000 });
  assert.equal(new URL(phone.url()).pathname, path);
});

test('a form that stands open stays as it is when another phone brings news', async (t) => {
  const ship = await makeShip(t);
  const phone = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(phone, ship, 'Tam Orrin');
  const master = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(master, ship, 'Maren Holt');
  await bow.open(master, ship.url('/defects'));
  const part = master.locator('.defect-full .order-more', { hasText: say('ship.NOTE') }).first();
  await part.locator('summary').click();
  await part.locator('textarea').fill('half a sentence');

  await bow.begin(phone, 'anchors-ready');
  await bow.workUntil(phone, 'brakes');
  await phone.getByRole('button', { name: say('NOT_SO') }).click();
  await phone.locator('textarea').first().fill('the starboard brake slips');
  await bow.first(phone).click();
  await phone.locator('.defect-card', { hasText: 'the starboard brake slips' }).first().waitFor(bow.PATIENCE);
  await bow.allAboard(phone);
  await master.evaluate(() => dispatchEvent(new Event('online')));

  const news = master.getByText(say('NEWS_BEHIND_FORM'));
  await news.waitFor(bow.PATIENCE);
  assert.equal(await part.locator('textarea').inputValue(), 'half a sentence');
  await part.locator('summary').click();
  await master.locator('.defect-full', { hasText: 'the starboard brake slips' }).waitFor(bow.PATIENCE);
  await news.waitFor({ state: 'detached', ...bow.PATIENCE });
});
