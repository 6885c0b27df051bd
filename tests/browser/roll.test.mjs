// The roll of records on the screen: a head that was checked, a backup that was put back, a roll that was changed.
import assert from 'node:assert/strict';
import { cpSync, rmSync } from 'node:fs';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { complaints, inThreeLights, install, overflow, thumb } from './support/look.mjs';
import { Ship, folder, run } from './support/ship.mjs';
import { say, says } from './support/words.mjs';

const PHONE = { viewport: { width: 390, height: 844 } };
const DESK = { viewport: { width: 1280, height: 800 } };

/** A ship whose data folder the test may handle. */
async function aboard(t) {
  const data = folder(t, 'data');
  assert.equal(run('demo', '--data', data).status, 0);
  const ship = new Ship(data);
  t.after(() => ship.cut());
  await ship.start();
  return { ship, data };
}

/** Opens the log's page and waits until this phone has checked the head that the ship gives out now; returns its size. */
async function checkedAsItStands(page, ship) {
  await page.goto(ship.url('/roll'));
  await page.getByText(says('roll.checked_line')).waitFor(bow.PATIENCE);
  const { vessel } = await (await page.request.get(ship.url('/api/v1/ship'))).json();
  const note = await (await page.request.get(ship.url(`/api/v1/vessels/${vessel}/log/head`))).text();
  const size = Number(note.split('\n')[1]);
  await bow.networkIsBack(page);
  const shows = (wanted) => Number(document.querySelector('.roll-size')?.innerText) === wanted;
  await page.waitForFunction(shows, size, { timeout: 120_000 });
  return size;
}

test('a phone checks the log, says that a backup was put back, and a master reads it', async (t) => {
  const { ship, data } = await aboard(t);
  const page = await (await open(t, profile(t), PHONE)).newPage();
  await install(page, ship.url());
  const found = complaints(page);
  await bow.enrol(page, ship, 'Maren Holt');
  await bow.allAboard(page);
  await checkedAsItStands(page, ship);
  assert.equal(await page.locator('.roll-groups').first().locator('li').count(), 16);
  await page.locator('.qr').waitFor(bow.PATIENCE);
  assert.equal(await page.locator('.roll-bar').count(), 0);
  found.push(...(await inThreeLights(page, 'log')), ...(await overflow(page, 'log', [360, 430])));

  await ship.cut();
  const backup = folder(t, 'backup');
  cpSync(data, backup, { recursive: true });
  await ship.start();
  await bow.open(page, ship.url('/bow'));
  await page.locator('.start-run').first().waitFor(bow.PATIENCE);
  await bow.begin(page, 'anchors-ready');
  await bow.allAboard(page);
  const before = await checkedAsItStands(page, ship);
  await page.goto('about:blank');
  await ship.cut();
  rmSync(data, { recursive: true });
  cpSync(backup, data, { recursive: true });
  await ship.start();
  // Somebody else comes first: what is sent again then stands in another order.
  const mate = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(mate, ship, 'Ravi Thorne');

  await bow.open(page, ship.url('/bow'));
  await bow.networkIsBack(page);
  const bar = page.locator('.roll-bar');
  // A round that failed while the key was locked away is followed by one later, and that by one later still.
  await bar.getByText(say('roll.RESTORED')).waitFor({ timeout: 120_000 });
  await bow.allAboard(page);
  await bar.getByRole('link').click();
  await page.getByText(say('roll.WHY')).first().waitFor(bow.PATIENCE);
  assert.match(await page.locator('.roll-heads').first().innerText(), new RegExp(`${before} records`));
  found.push(...(await inThreeLights(page, 'log-restored')), ...(await overflow(page, 'log-restored', [360, 430])));
  await page.getByLabel(say('roll.WHY')).first().fill('The disk was changed in harbour.');
  await bow.hold(page, say('roll.I_HAVE_READ'));
  await bar.waitFor({ state: 'detached', ...bow.PATIENCE });
  await page.getByText(say('roll.READ_ALREADY')).waitFor(bow.PATIENCE);
  assert.deepEqual(found, []);
});

test('two servers with one key are shown on the phone that met both, and on the bridge', async (t) => {
  const { ship, data } = await aboard(t);
  const page = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(page, ship, 'Tam Orrin');
  await bow.allAboard(page);
  await checkedAsItStands(page, ship);
  await ship.cut();
  const twin = folder(t, 'twin');
  cpSync(data, twin, { recursive: true });

  // The twin starts first, and runs on while the phone works with the other.
  const other = new Ship(twin);
  t.after(() => other.cut());
  await other.start();
  await ship.start();
  await bow.open(page, ship.url('/bow'));
  await bow.begin(page, 'anchors-ready');
  await bow.allAboard(page);
  await checkedAsItStands(page, ship);
  const address = ship.address;
  await ship.cut();

  // At the ship's address now answers the twin, which has other records.
  const mate = await (await open(t, profile(t), DESK)).newPage();
  await install(mate, other.url());
  await bow.enrol(mate, other, 'Ravi Thorne');
  await bow.begin(mate, 'hose-test');
  await bow.allAboard(mate);
  const relay = await forward(t, address, other.address);
  await bow.open(page, `http://${address}/bow`);
  await bow.networkIsBack(page);
  await page.locator('.roll-bar').getByText(say('roll.REWRITTEN')).waitFor({ timeout: 120_000 });
  const found = complaints(mate);
  await mate.goto(other.url('/bridge'));
  await mate.locator('.bridge-roll').getByText(say('roll.REWRITTEN')).waitFor(bow.PATIENCE);
  found.push(...(await inThreeLights(mate, 'bridge-roll')));
  for (const [name, path] of [['proof', '/proof'], ['roll-rewritten', '/roll']]) {
    await mate.goto(other.url(path));
    await mate.locator('.office-title h1').waitFor(bow.PATIENCE);
    found.push(...(await inThreeLights(mate, name)), ...(await overflow(mate, name, [360, 390, 430])));
  }
  relay.close();
  assert.deepEqual(found, []);
});

/** Hands what comes to one address on to another, byte for byte. */
async function forward(t, from, to) {
  const { connect, createServer } = await import('node:net');
  const [host, port] = from.split(':');
  const server = createServer((near) => {
    const [farHost, farPort] = to.split(':');
    const far = connect(Number(farPort), farHost);
    near.pipe(far).pipe(near);
    for (const end of [near, far]) end.on('error', () => end.destroy());
  });
  await new Promise((done) => server.listen(Number(port), host, done));
  t.after(() => server.close());
  return server;
}

test('addresses that pages had before lead to where they stand now, out of range too', async (t) => {
  const { ship } = await aboard(t);
  const page = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrol(page, ship, 'Tam Orrin');
  await page.goto(ship.url('/log'));
  await page.waitForURL('**/roll', bow.PATIENCE);
  await ship.cut();
  for (const [before, now] of [['/log', '/roll'], ['/bow/duty', '/bow/phone']]) {
    await bow.open(page, ship.url(before));
    await page.waitForURL(`**${now}`, bow.PATIENCE);
    await page.locator('h1').first().waitFor(bow.PATIENCE);
  }
});
