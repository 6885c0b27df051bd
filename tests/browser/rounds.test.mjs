// What is due at intervals: started from the list of rounds with its choices, and seen by the office.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say, says } from './support/words.mjs';

test('a round that begins with a choice asks it before it starts, and the office sees it under way', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), { viewport: { width: 390, height: 844 } })).newPage();
  await bow.enrol(page, ship, 'Maren Holt');
  await bow.open(page, ship.url('/rounds'));
  const row = page.locator('tr', { hasText: 'Chain measurement' });
  await row.getByRole('button', { name: say('ship.START') }).click();
  const begin = page.getByRole('button', { name: say('BEGIN') });
  await begin.waitFor(bow.PATIENCE);
  assert.ok(await begin.isDisabled(), 'nothing is chosen yet');
  await page.locator('.start-choice').getByRole('button').first().click();
  const chosen = await page.locator('.start-choice [aria-pressed="true"]').innerText();
  await begin.click();
  await page.waitForURL('**/bow/run/*', bow.PATIENCE);
  await page.locator('.sheet-choices [aria-pressed="true"]', { hasText: chosen.trim().split('\n')[0] }).waitFor(bow.PATIENCE);
  await bow.allAboard(page);

  const { vessel } = await (await page.request.get(ship.url('/api/v1/ship'))).json();
  await page.goto(ship.url(`/office/${vessel}`));
  const line = page.locator('tr', { hasText: 'Chain measurement' });
  await line.waitFor(bow.PATIENCE);
  assert.match(await line.innerText(), /being worked/);
  assert.equal(await line.getByRole('button').count(), 0, 'the office starts nothing');
});

test('a survey is due by its date, and the cable is logged by the marks that the master describes', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), { viewport: { width: 390, height: 844 } })).newPage();
  await bow.enrol(page, ship, 'Maren Holt');

  // The ship's records are here: what comes in later draws the page anew, and with it the form that is open.
  await page.locator('.start-run').first().waitFor({ timeout: 120_000 });
  await bow.allAboard(page);

  // The hoses must be tested before the surveyor comes, whatever their interval says.
  await bow.open(page, ship.url('/rounds'));
  await page.locator('summary', { hasText: say('ship.SET_DATE') }).click();
  const form = page.locator('.order-more', { hasText: say('ship.SET_DATE') });
  await form.locator('select').selectOption({ label: 'Hose and hydrant test' });
  await form.getByText(say('ship.NO_DAY')).waitFor(bow.PATIENCE);
  const day = (days) => new Date(Date.now() + days * 86_400_000).toISOString().slice(0, 10);
  await form.getByLabel(say('ship.COUNTS_FROM')).fill(day(3));
  await form.getByLabel(say('ship.DUE_ON')).fill(day(1));
  await form.getByText(say('ship.DAYS_TURNED')).waitFor(bow.PATIENCE);
  await form.getByLabel(say('ship.COUNTS_FROM')).fill(day(-2));
  await bow.hold(page, say('ship.PUT_IN_FORCE'), form);
  const row = page.locator('tr', { hasText: 'Hose and hydrant test' });
  await page.getByText(new RegExp(`Hose and hydrant test: from ${day(-2)} .* until ${day(1)}`)).waitFor(bow.PATIENCE);
  await row.getByText(`${day(1)} 23:59 UTC`).waitFor(bow.PATIENCE);
  assert.match(await row.innerText(), /due soon/);
  await bow.hold(page, say('ship.TAKE_DATE_OFF'));
  await row.getByText(`${day(1)} 23:59 UTC`).waitFor({ state: 'detached', ...bow.PATIENCE });

  // A mistake is named with its line; what is right is in force at the bow at once.
  await bow.open(page, ship.url('/settings'));
  // A number beyond its bounds is never taken; one beyond what is usual, or from another source, wants its reason.
  const oxygen = page.locator('tr', { hasText: 'air_o2_min' });
  await oxygen.locator('summary').click();
  await oxygen.getByLabel(say('ship.VALUE')).fill('2.09');
  await oxygen.getByText(/must lie between 19.5 and 20.9 %/).waitFor(bow.PATIENCE);
  assert.ok(await oxygen.getByRole('button', { name: say('ship.PUT_IN_FORCE') }).isDisabled());
  await oxygen.getByLabel(say('ship.VALUE')).fill('20.8');
  await oxygen.getByText(says('ship.source_of', { old: '20.9' })).waitFor(bow.PATIENCE);
  await oxygen.getByLabel(say('ship.SOURCE'), { exact: true }).fill('the company');
  await oxygen.getByText(say('ship.WHY_UNUSUAL')).waitFor(bow.PATIENCE);
  await oxygen.getByLabel(say('ship.REASON')).fill('the meter reads 20.8 in clean air');
  await bow.hold(page, say('ship.PUT_IN_FORCE'), oxygen);
  await oxygen.getByText('the meter reads 20.8 in clean air').waitFor(bow.PATIENCE);
  const cable = page.locator('tr', { hasText: /^port/ });
  await cable.locator('summary').click();
  await cable.locator('textarea').fill('27.5 white\n27 pink');
  await cable.getByText('line 2: "pink" is no paint').waitFor(bow.PATIENCE);
  await cable.locator('textarea').fill('27.5 green orange\n27 black\n27.5');
  await bow.hold(page, say('ship.PUT_IN_FORCE'), cable);
  await cable.getByText('82.0 m in all').waitFor(bow.PATIENCE);
  await cable.getByText('1 green and orange, 2 black').waitFor(bow.PATIENCE);
  await bow.open(page, ship.url('/bow'));
  await page.locator('[data-slug="letting-go"]').click();
  await page.locator('.start-choice', { hasText: 'anchor' }).first().getByRole('button', { name: 'port' }).click();
  await page.getByRole('button', { name: /just above the bottom/ }).click();
  await page.getByRole('button', { name: say('BEGIN') }).click();
  await page.waitForURL('**/bow/run/*', bow.PATIENCE);
  await page.locator('.chain-row[data-step="cable"]').locator('button').first().click();
  await page.getByRole('button', { name: /Mark 1, green and orange passed/ }).waitFor(bow.PATIENCE);
});
