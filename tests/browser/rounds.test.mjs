// What is due at intervals: started from the list of rounds with its choices, and seen by the office.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { ship as makeShip } from './support/ship.mjs';

test('a round that begins with a choice asks it before it starts, and the office sees it under way', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), { viewport: { width: 390, height: 844 } })).newPage();
  await bow.enrol(page, ship, 'Maren Holt');
  await bow.open(page, ship.url('/rounds'));
  const row = page.locator('tr', { hasText: 'Chain measurement' });
  await row.getByRole('button', { name: 'Start it' }).click();
  const begin = page.getByRole('button', { name: 'Begin' });
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
