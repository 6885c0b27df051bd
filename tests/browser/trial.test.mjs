// A mate tries an edit of a procedure before it is published: invented people work it, and nothing is put on record.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { inThreeLights, overflow } from './support/look.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say, says } from './support/words.mjs';

test('an edit is rehearsed on its page: well, otherwise, by whom it is not for, and to its end', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), { viewport: { width: 390, height: 844 } })).newPage();
  await bow.enrol(page, ship, 'Ravi Thorne');
  await bow.open(page, ship.url('/procedures/weighing'));
  await page.locator('.procedure-edit > details > summary').click();
  const text = page.locator('textarea.procedure-text').first();
  const before = await text.inputValue();
  assert.match(before, /^slug = "weighing"/m);
  // The edit that is tried: a step more, at the beginning.
  const step = '[[step]]\nid = "hats"\nsection = "Before"\ndo = "Hard hats on, and a count of heads"\n\n';
  await text.fill(before.replace('[[step]]\n', `${step}[[step]]\n`));

  const trial = page.locator('.trial');
  await trial.locator('summary').first().click();
  const press = async (name) => {
    const clock = trial.locator('[data-at]');
    const was = await clock.getAttribute('data-at');
    await trial.getByRole('button', { name, exact: true }).click();
    const gone = (was) => document.querySelector('.trial [data-at]')?.dataset.at !== was;
    await page.waitForFunction(gone, was, bow.PATIENCE);
  };
  await trial.getByRole('button', { name: say('ship.TRIAL_BEGIN') }).click();
  await trial.locator('.trial-step[data-step="hats"]').waitFor(bow.PATIENCE);
  await press(say('ship.AS_IT_SHOULD'));
  const next = await trial.locator('.trial-step').getAttribute('data-step');
  assert.notEqual(next, 'hats', 'the step of the edit is done');
  assert.match(await trial.locator('.trial-lines li').first().innerText(), /0:00:20 hand: /);

  // Otherwise, and taken back.
  await press(say('ship.OTHERWISE'));
  assert.match(await trial.locator('.trial-lines li').first().innerText(), /not as it should be|out of/);
  await press(say('ship.TAKE_BACK_LAST'));
  assert.equal(await trial.locator('.trial-step').getAttribute('data-step'), next);

  // A hand may not do what is the officer's: they are refused, and told why.
  await trial.locator('[data-who="hand"]').click();
  for (let n = 0; n < 40 && !(await trial.locator('.trial-lines li.is-refused').count()); n += 1) {
    await press(say('ship.AS_IT_SHOULD'));
  }
  const refused = await trial.locator('.trial-lines li.is-refused').first().innerText();
  assert.ok(refused.includes(says('ship.trial_refused', { why: '' }).source?.trim() ?? 'Refused'), refused);
  await page.evaluate(() => document.querySelector('.trial-keys').scrollIntoView({ block: 'start' }));
  const broken = [...(await inThreeLights(page, 'trial')), ...(await overflow(page, 'trial', [360, 390, 1280]))];
  assert.deepEqual(broken, []);

  await trial.locator('[data-who=""]').click();
  await press(say('ship.TO_THE_END'));
  await trial.getByText(say('ship.TRIAL_CLOSED')).waitFor(bow.PATIENCE);
  const acts = (await trial.locator('.trial-acts').inputValue()).split('\n').map((line) => JSON.parse(line));
  assert.ok(acts.length > 20 && acts.some(({ what }) => what.done?.step === 'hats'));

  // Nothing of it is on record: no run is under way, and the procedure is the one from before.
  await page.goto(ship.url('/bow'));
  await page.locator('[data-slug="weighing"]').waitFor(bow.PATIENCE);
  assert.equal(await page.locator('.run-row', { hasText: 'Weigh' }).count(), 0);
});
