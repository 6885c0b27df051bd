// The plan: worked out with no ship in reach, wrong figures told in words, signed by the master, shown at the bow.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { complaints, inThreeLights, install, overflow, thumb } from './support/look.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say, says } from './support/words.mjs';

const PHONE = { width: 390, height: 844 };
const DESK = { width: 1280, height: 800 };
/** What the demo's master has ordered. */
const SIGNED_LAST = 'Port, 6 on deck, lower all the way with the windlass.';

const field = (page, label) => page.getByLabel(label, { exact: true });
const order = (page) => page.locator('.plan-order').innerText();
const mark = (page) => page.locator('.plan-mark').innerText();
const opened = (page) => page.locator('.plan-mark').waitFor(bow.PATIENCE);

/** What stands beside a field that is wrong. */
const wrong = async (page, label) => {
  const said = await field(page, label).getAttribute('aria-describedby');
  return page.locator(`#${said}`).innerText();
};

/** Types the high and low waters anew: those of a plan of another day are not signed. */
async function renewTides(page) {
  for (const input of await page.locator('.plan-row.is-tide input').all()) await input.fill(await input.inputValue());
}

/** Holds the key that signs until the page says that it is signed. */
async function sign(page, name = say('plan.SIGN')) {
  await renewTides(page);
  const key = page.getByRole('button', { name });
  await key.scrollIntoViewIfNeeded();
  const box = await key.boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.getByText(say('plan.SIGNED')).waitFor(bow.PATIENCE);
  await page.mouse.up();
}

test('the master plans with the ship out of reach, signs, and the bow has the order', async (t) => {
  const ship = await makeShip(t);
  const phone = await (await open(t, profile(t), { viewport: PHONE })).newPage();
  await bow.enrol(phone, ship, 'Tam Orrin');
  await phone.locator('.bow-order').waitFor(bow.PATIENCE);
  assert.match(await phone.locator('.bow-order').innerText(), /^port, 6 on deck, lower all the way with the windlass/i);

  const page = await (await open(t, profile(t), { viewport: DESK })).newPage();
  const faults = [];
  page.on('pageerror', (error) => faults.push(error));
  await bow.enrol(page, ship, 'Maren Holt');
  await page.locator('.bow-order').waitFor(bow.PATIENCE);
  await ship.cut();
  await bow.open(page, ship.url('/plan'));
  await opened(page);
  assert.equal(await order(page), SIGNED_LAST);

  // A depth typed changes the length, with nothing to ask.
  await field(page, say('plan.FIELD_CHARTED_DEPTH')).fill('12');
  assert.equal(await mark(page), '4');
  assert.match(await order(page), /^Port, 4 on deck, lower to just above the bottom/);
  await field(page, say('plan.FIELD_ORDERED_IF_SETTLED')).fill('5');
  assert.match(await order(page), /^Port, 5 on deck/);

  // What cannot be read is told where it stands; it stays as typed, and so does everything else.
  await field(page, say('plan.FIELD_GUSTS')).fill('22,5');
  assert.match(await wrong(page, say('plan.FIELD_GUSTS')), /Gusts is not a number: '22,5' has a comma/);
  assert.equal(await field(page, say('plan.FIELD_GUSTS')).inputValue(), '22,5');
  assert.equal(await field(page, say('plan.FIELD_CHARTED_DEPTH')).inputValue(), '12');
  await page.locator('.plan-limits', { hasText: 'No figure: rests on Gusts' }).waitFor(bow.PATIENCE);
  assert.match(await page.locator('.plan-check', { hasText: says('plan.brake_against') }).textContent(), /In limits/);
  assert.ok(await page.getByRole('button', { name: say('plan.SIGN') }).isDisabled());
  await field(page, say('plan.FIELD_GUSTS')).fill('12');
  assert.match(await wrong(page, say('plan.FIELD_GUSTS')), /must be at least the mean wind/);
  await field(page, say('plan.FIELD_GUSTS')).fill('22.5');
  assert.equal(await wrong(page, say('plan.FIELD_GUSTS')), '');
  await field(page, say('plan.FIELD_CHARTED_DEPTH')).fill('400');
  assert.match(await wrong(page, say('plan.FIELD_CHARTED_DEPTH')), /must be from 0 to 300/);
  assert.equal(await order(page), 'No order yet');
  await field(page, say('plan.FIELD_CHARTED_DEPTH')).fill('12');

  // To the board and back, nothing typed is lost; what lies in a row can be taken away and added.
  await page.getByRole('link', { name: say('plan.BACK_TO_BOARD') }).click();
  await page.waitForURL('**/bridge', bow.PATIENCE);
  await page.getByRole('link', { name: say('PLAN'), exact: true }).click();
  await opened(page);
  assert.equal(await field(page, say('plan.FIELD_GUSTS')).inputValue(), '22.5');
  const dangers = await page.locator('.plan-row.is-danger').count();
  await page.getByRole('button', { name: say('plan.ADD_DANGER') }).click();
  assert.equal(await page.locator('.plan-row.is-danger').count(), dangers + 1);
  await page.getByRole('button', { name: `Take away: Dangers near, ${dangers + 1}` }).click();
  assert.equal(await page.locator('.plan-row.is-danger').count(), dangers);

  // Signed out of reach; in reach again it comes to the bow by itself.
  await sign(page);
  assert.match(await page.locator('.plan-earlier-line').first().textContent(), /port, 5 on deck.*Signed by Maren Holt/s);
  await ship.start();
  const said = phone.locator('.bow-order', { hasText: 'port, 5 on deck' });
  await said.waitFor({ timeout: 120_000 });
  await said.getByRole('link').click();
  await phone.waitForURL('**/bow/plan', bow.PATIENCE);
  assert.equal(await mark(phone), '5');
  assert.equal(await phone.locator('.plan-out input').count(), 0, 'nothing to type at the bow');
  await phone.goBack();
  await phone.locator('[data-slug="letting-go"]').click();
  for (const [question, answer] of [
    ['Say which anchor', 'port'],
    ['Say how the master wants the anchor down', 'lower all the way with the windlass'],
  ]) {
    await phone.locator('.start-choice', { hasText: question }).getByText(answer, { exact: true }).click();
  }
  await phone.getByRole('button', { name: say('BEGIN') }).click();
  await phone.waitForURL('**/bow/run/*', bow.PATIENCE);
  assert.match(await phone.locator('.bow-order').innerText(), /port, 5 on deck/i);
  await phone.locator('.sheet-title').waitFor(bow.PATIENCE);
  assert.deepEqual(faults, []);
});

test('a plan that fails its own checks says so in its headline, is signed with a reason, and is shown so at the bow', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), { viewport: DESK })).newPage();
  await bow.enrol(page, ship, 'Maren Holt');
  await bow.open(page, ship.url('/plan'));
  await opened(page);
  assert.equal(await page.locator('.plan-failing').count(), 0);
  await field(page, say('plan.FIELD_ORDERED_IF_SETTLED')).fill('15');
  const failing = page.locator('.plan-failing');
  await failing.getByText(say('plan.FAILING')).waitFor(bow.PATIENCE);
  assert.match(await failing.innerText(), /Cable aboard: short/);
  const key = page.getByRole('button', { name: say('plan.SIGN_ALL_THE_SAME') });
  assert.ok(await key.isDisabled());
  await page.getByText(say('plan.REASON_FIRST')).waitFor(bow.PATIENCE);
  await page.getByLabel(say('plan.WHY_ALL_THE_SAME')).fill('for an hour, engines on, to take a pilot');
  await sign(page, say('plan.SIGN_ALL_THE_SAME'));
  await page.goto(ship.url('/bow'));
  await page.locator('.bow-order', { hasText: 'engines on, to take a pilot' }).waitFor(bow.PATIENCE);
  assert.match(await page.locator('.bow-order').innerText(), /fails its own checks/);
});

test('without a signed plan the page starts empty, and an example beside it cannot be signed', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), { viewport: DESK })).newPage();
  // Nobody is enrolled here, so no plan of the ship's is told.
  await page.goto(ship.url('/plan'));
  await page.getByText(say('plan.EMPTY')).waitFor(bow.PATIENCE);
  const typed = () => page.locator('.plan-in :is(input, select)').evaluateAll((all) => all.map((one) => one.value).filter(Boolean));
  assert.deepEqual(await typed(), []);
  assert.ok((await page.locator('.plan-in input').count()) > 30, 'the ship\'s own figures stand open too');
  assert.equal(await page.locator('.plan-in [aria-invalid]').count(), 0, 'missing is not wrong');
  assert.equal(await order(page), say('plan.NO_ORDER'));

  await page.getByRole('button', { name: say('plan.EXAMPLE_OPEN') }).click();
  const example = page.locator('.plan-example');
  await example.getByText(say('plan.EXAMPLE')).waitFor(bow.PATIENCE);
  assert.match(await example.locator('.plan-order').innerText(), /^Port, \d/);
  assert.equal(await example.locator('input, select, .hold-button').count(), 0, 'to be read only');
  assert.deepEqual(await typed(), [], 'nothing of it comes over');
  assert.ok(await page.getByRole('button', { name: say('plan.SIGN') }).isDisabled());
  assert.deepEqual(await overflow(page, 'plan-example', [360, 390, 768, 1024]), []);
  await page.setViewportSize(DESK);
  await page.getByRole('button', { name: say('plan.EXAMPLE_CLOSE') }).click();

  // What is typed counts down what is missing; taken away again it is wrong.
  const still = page.locator('.plan-group', { has: field(page, say('plan.FIELD_GUSTS')) }).locator('.plan-still');
  const before = await still.innerText();
  await field(page, say('plan.FIELD_GUSTS')).fill('22');
  assert.notEqual(await still.innerText(), before);
  await field(page, say('plan.FIELD_GUSTS')).fill('');
  assert.match(await wrong(page, say('plan.FIELD_GUSTS')), /is empty: type a number/);
});

test('those who are not the master are told why they cannot sign', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), { viewport: DESK })).newPage();
  // What the ship planned is told to her own people only; anyone may reckon.
  await page.goto(ship.url('/plan'));
  await page.getByText(say('plan.NOBODY_HERE')).waitFor(bow.PATIENCE);
  await bow.enrol(page, ship, 'Ravi Thorne');
  await page.goto(ship.url('/plan'));
  await page.getByText(say('plan.ONLY_MASTER')).waitFor(bow.PATIENCE);
  assert.ok(await page.getByRole('button', { name: say('plan.SIGN') }).isDisabled());
});

test('the plan can be read in every light, on the bridge and at the bow', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), { viewport: DESK })).newPage();
  await install(page, ship.url());
  const heard = complaints(page);
  await bow.enrol(page, ship, 'Maren Holt');
  await page.goto(ship.url('/plan'));
  await page.locator('.plan-order', { hasText: SIGNED_LAST }).waitFor(bow.PATIENCE);
  await inThreeLights(page, 'plan');
  await page.locator('.plan-pair').scrollIntoViewIfNeeded();
  await inThreeLights(page, 'plan-drawings');
  await field(page, say('plan.FIELD_GUSTS')).fill('none');
  await field(page, say('plan.FIELD_CHARTED_DEPTH')).fill('400');
  await inThreeLights(page, 'plan-wrong');
  assert.deepEqual(await overflow(page, 'plan', [360, 390, 768, 1024]), []);
  await page.setViewportSize(PHONE);
  await inThreeLights(page, 'plan-phone');

  await page.goto(ship.url('/bow'));
  await page.locator('.bow-order').waitFor(bow.PATIENCE);
  await inThreeLights(page, 'bow-order');
  assert.deepEqual(await thumb(page, 'bow-order'), []);
  await page.goto(ship.url('/bow/plan'));
  await opened(page);
  await inThreeLights(page, 'bow-plan');
  await page.locator('.catenary-view').scrollIntoViewIfNeeded();
  await inThreeLights(page, 'bow-plan-drawings');
  assert.deepEqual(await thumb(page, 'bow-plan'), []);
  assert.deepEqual(await overflow(page, 'bow-plan', [360, 430]), []);
  assert.deepEqual(heard, []);
});
