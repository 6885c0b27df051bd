// Whose work is inside the program can be read in the program.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { ship as makeShip } from './support/ship.mjs';

test('the first page leads to the names and licences of all that is inside', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t))).newPage();
  await page.goto(ship.url('/'));
  await page.locator('html[data-started]').waitFor({ state: 'attached', ...bow.PATIENCE });
  await page.locator('a[href="/notices.txt"]').click();
  await page.waitForURL('**/notices.txt', bow.PATIENCE);
  const answer = await page.request.get(ship.url('/notices.txt'));
  assert.equal(answer.headers()['content-type'], 'text/plain; charset=utf-8');
  const text = await answer.text();
  for (const part of ['SIL OPEN FONT LICENSE', 'leptos 0.8', 'rusqlite 0.', 'Permission is hereby granted']) {
    assert.ok(text.includes(part), part);
  }
});
