// Who takes part is named by keys; who is in date is seen on a page and said where somebody is chosen; a newcomer is led over
// the drawn foredeck; the marks are printed from the settings; the survey pack says what is missing.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { overflow } from './support/look.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

const PHONE = { viewport: { width: 390, height: 844 } };

const shot = async (page, name) => {
  if (process.env.CLEARHAWSE_SHOTS) await page.screenshot({ path: `${process.env.CLEARHAWSE_SHOTS}/${name}.png`, fullPage: true });
};

const states = (page) => page.locator('[data-drill="foredeck-induction"]').evaluateAll((all) => all.map((cell) => cell.dataset.state));

/** Works the induction's sheet in sight; the questions are answered rightly, the second signs on the other phone. */
const RIGHT = {
  'ask-runaway': 'aft, and tell', 'ask-locker': 'stay out', 'ask-stand': 'aft of the windlass', 'ask-line': 'out of its way',
  'ask-order': 'ask for it again',
};

test('names are pressed in and out, and a visitor is written down', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(page, ship, 'Ravi Thorne');
  await bow.begin(page, 'hose-drill');
  assert.equal(await bow.title(page), 'who');
  const keys = page.locator('.sheet-choices.is-people .button[data-person]');
  await keys.first().waitFor(bow.PATIENCE);
  assert.ok((await keys.count()) > 2, 'the crew is offered');
  assert.ok(await bow.first(page).isDisabled(), 'nobody is named yet');
  await keys.nth(0).click();
  await keys.nth(1).click();
  await keys.nth(1).click();
  assert.equal(await page.locator('.button[data-person][aria-pressed="true"]').count(), 1, 'a second press takes a name out');
  await page.getByLabel(say('VISITOR')).fill('Jo Vane');
  await page.getByRole('button', { name: say('WRITE_NAME') }).click();
  await page.locator('.names-said', { hasText: 'Jo Vane' }).waitFor(bow.PATIENCE);
  await shot(page, 'names-390');
  assert.deepEqual(await overflow(page, 'names', [360, 390]), []);
  await bow.press(page, () => document.querySelector('.sheet-title')?.dataset.step === 'story');
});

test('an induction leads over the drawn foredeck place by place, a wrong answer holds it up', async (t) => {
  const ship = await makeShip(t);
  const mate = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(mate, ship, 'Ravi Thorne');
  const hand = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(hand, ship, 'Tam Orrin');

  await bow.open(mate, ship.url('/drills'));
  await mate.locator('.drills tbody tr').first().waitFor(bow.PATIENCE);
  assert.ok(!(await states(mate)).includes('in'), 'nobody has been shown round');
  await bow.open(mate, ship.url('/bow'));
  const run = await bow.begin(mate, 'foredeck-induction');
  await mate.locator('.button[data-person="orrin"]').click();
  const at = (page, step) => page.waitForFunction((wanted) => document.querySelector('.sheet-title')?.dataset.step === wanted, step, bow.PATIENCE);
  const press = (step) => bow.press(mate, (wanted) => document.querySelector('.sheet-title')?.dataset.step === wanted, step);
  const second = async (step) => {
    if (!hand.url().endsWith(run)) await bow.open(hand, ship.url(run));
    await at(hand, step);
    await bow.press(hand, (was) => document.querySelector('.sheet-title')?.dataset.step !== was, step);
  };
  await press('language');
  await press('still');
  await bow.first(mate).click();
  await second('still');
  await at(mate, 'place-1');
  for (let place = 1; place <= 15; place += 1) {
    await mate.locator(`.foredeck-place.is-here[data-place="${place}"]`).waitFor(bow.PATIENCE);
    if (place === 5) {
      await shot(mate, 'induction-place-390');
      assert.deepEqual(await overflow(mate, 'induction', [360, 390]), []);
    }
    await press(place < 15 ? `place-${place + 1}` : 'ask-runaway');
  }
  // A wrong answer is out of limits, and the work stops until it is answered rightly.
  await mate.locator('.sheet-choices .button', { hasText: 'screw the brake' }).click();
  await bow.first(mate).click();
  await mate.locator('.chain-row.is-wrong, .chain-row.is-out, .run-alarms li').first().waitFor(bow.PATIENCE);
  assert.equal(await bow.title(mate), 'ask-runaway');
  const questions = Object.keys(RIGHT);
  for (const [n, step] of questions.entries()) {
    await at(mate, step);
    await mate.locator('.sheet-choices .button', { hasText: RIGHT[step] }).click();
    await press(questions[n + 1] ?? 'shown-stop');
  }
  await press('newcomer-signs');
  await bow.first(mate).click();
  await second('newcomer-signs');
  await at(mate, 'accepted');
});

test('the drawn foredeck, the marks, the survey pack and who is in date are pages to read and print', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(page, ship, 'Maren Holt');

  await bow.open(page, ship.url('/foredeck'));
  await page.locator('.foredeck-part').first().waitFor(bow.PATIENCE);
  assert.equal(await page.locator('.foredeck-part').count(), 15);
  assert.equal(await page.locator('.foredeck-place').count(), 15);
  const rescue = page.locator('#place-15');
  await rescue.locator('[data-item="GM-1"]').waitFor(bow.PATIENCE);
  await page.locator('svg a[href="#place-15"]').click();
  await shot(page, 'foredeck-390');

  await page.goto(ship.url('/marks'));
  const starboard = page.locator('.marks-cable[data-side="starboard"]');
  await starboard.locator('tr[data-mark="1"]').waitFor(bow.PATIENCE);
  assert.match(await starboard.innerText(), /m stays inboard/);
  await page.emulateMedia({ media: 'print' });
  await shot(page, 'marks-print');
  await page.emulateMedia({ media: null });

  await page.goto(ship.url('/survey'));
  await page.locator('.survey-sum').waitFor(bow.PATIENCE);
  // Each thing missing has its line, on the page that the program draws in place of the ship's too.
  await page.waitForFunction(
    () => {
      const missing = Number(document.querySelector('html[data-started] .survey-sum')?.dataset.missing);
      return missing > 0 && document.querySelectorAll('.survey-lines li').length === missing;
    },
    null,
    bow.PATIENCE,
  );
  assert.equal(await page.locator('.survey-part').count(), 8);
  // Each line leads to where it is put right.
  await page.locator('.survey-part[data-about="defects"] a, .survey-part[data-about="rounds"] a').first().click();
  await page.waitForURL(/\/(defects|procedures\/)/, bow.PATIENCE);
});

test('who is not in date is said where somebody is chosen to go into the locker', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(page, ship, 'Maren Holt');
  await page.goto(ship.url('/procedures/locker-entry'));
  const step = page.locator('.procedure-step', { hasText: say('forward.should_be_in_date').split('{')[0].trim() });
  await step.first().waitFor(bow.PATIENCE);
  assert.match(await step.first().innerText(), /Entry and rescue drill, Induction to the foredeck/);

  await bow.open(page, ship.url('/bow'));
  await bow.begin(page, 'hose-drill');
  // There nobody needs to be in date, so nothing is said under the names.
  await page.locator('.button[data-person]').first().waitFor(bow.PATIENCE);
  assert.equal(await page.locator('.button[data-person] .key-why').count(), 0);
});
