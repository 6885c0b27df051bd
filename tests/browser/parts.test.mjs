// The program comes in parts: all of them are kept, one that cannot be had is said, and two versions' are never mixed.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { LIGHTS, inThreeLights, install, overflow } from './support/look.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { SiteServer, copyOfSite, makeOtherProgram } from './support/site_server.mjs';
import { say } from './support/words.mjs';

const PHONE = { viewport: { width: 390, height: 844 } };

/** A page of each further part; the first page's part has them not. */
const LATER = { bow: '/bow/phone', ship: '/procedures' };

/** Every page that a device can draw from its own records, with its title. */
const PAGES = {
  '/': 'NAME',
  '/bow': 'BOW_TITLE',
  '/bow/enrol': 'unlock_sheet.ENROL_TITLE',
  '/bow/phone': 'unlock_sheet.PHONE_CHECK',
  '/bow/plan': 'plan.TITLE',
  '/plan': 'plan.TITLE',
  '/bridge': 'BRIDGE',
  '/watch': 'anchor.WATCH',
  '/watch/inputs': 'anchor.INPUTS_PAGE',
  '/watch/night': 'anchor.NIGHT',
  '/procedures': 'ship.PROCEDURES',
  '/defects': 'ship.DEFECTS',
  '/gear': 'gear.GEAR',
  '/gear/labels': 'gear.LABELS',
  '/gear/kinds': 'gear.KINDS',
  '/rounds': 'ship.ROUNDS',
  '/drills': 'forward.DRILLS',
  '/survey': 'forward.SURVEY',
  '/foredeck': 'forward.FOREDECK',
  '/marks': 'forward.MARKS',
  '/crew': 'crew.CREW',
  '/settings': 'ship.SETTINGS',
  '/setup': 'setup.SETUP',
  '/office': 'VESSELS',
  '/roll': 'roll.ROLL',
  '/proof': 'proof.TITLE',
};

const isPart = (path) => /\/(split_|chunk_)[^/]*\.wasm$/.test(path);
const isPartOf = (url) => isPart(url.pathname);
const notHere = (page) => page.locator('.not-here');
const offline = (page, state) =>
  page.waitForSelector(`html[data-offline="${state}"]`, { state: 'attached', ...bow.PATIENCE });

async function served(t, answer) {
  const folder = copyOfSite(t);
  const server = new SiteServer();
  await server.start(folder, answer);
  t.after(() => server.stop().catch(() => {}));
  const again = async (answer) => {
    await server.stop();
    await server.start(folder, answer);
  };
  return { server, folder, again };
}

/** Waits for a page that belongs to the program, and not for what is said in its place. */
async function isDrawn(page, path = new URL(page.url()).pathname) {
  await page.waitForSelector('html[data-started]', { state: 'attached', ...bow.PATIENCE });
  await page.waitForFunction((title) => document.title === title, say(PAGES[path]), bow.PATIENCE);
  assert.equal(await notHere(page).count(), 0, path);
  assert.equal(await page.locator('.start-fault').count(), 0, path);
}

/** Goes to another page as a link of the program does, without loading anything anew. */
const follow = (page, path) =>
  page.evaluate((path) => {
    const link = Object.assign(document.createElement('a'), { href: path, textContent: path });
    document.body.append(link);
    link.click();
    link.remove();
  }, path);

/** Runs in the page. */
function putInLight(light) {
  localStorage.setItem('light', light);
  dispatchEvent(new Event('clearhawse-light'));
}

/** The names of the program's files that the page has asked for since it was loaded. */
const asked = (page) =>
  page.evaluate(() =>
    performance
      .getEntriesByType('resource')
      .map((entry) => new URL(entry.name).pathname)
      .filter((path) => /\/(clearhawse|split_|chunk_)[^/]*\.(js|wasm)$/.test(path)),
  );

test('once ready, every page opens with the ship gone and the browser started anew', async (t) => {
  const ship = await makeShip(t);
  const folder = profile(t);
  const first = await open(t, folder, PHONE);
  await bow.enrol(await first.newPage(), ship, 'Tam Orrin');
  await first.close();
  await ship.cut();

  const cold = await (await open(t, folder, PHONE)).newPage();
  const faults = [];
  cold.on('pageerror', (error) => faults.push(error));
  for (const path of Object.keys(PAGES)) {
    await cold.goto(ship.url(path));
    await isDrawn(cold, path);
  }
  for (const path of ['/procedures/anchors-ready', '/procedures/anchors-ready/card']) {
    await cold.goto(ship.url(path));
    await cold.locator('h1').first().waitFor(bow.PATIENCE);
    assert.equal(await notHere(cold).count(), 0, path);
  }
  assert.deepEqual(faults, []);
});

for (const [what, answer] of [
  ['is missing', 404],
  ['the server fails to send', 500],
  ['is altered', 'not wasm'],
  ['is cut off', '\0asm\u0001\0\0\0\u0001\u007f'],
]) {
  test(`a part that ${what} is said in words, and comes when it can be had`, async (t) => {
    const { server, again } = await served(t, (path) => (isPart(path) ? answer : undefined));
    const browser = await open(t, profile(t), { ...PHONE, serviceWorkers: 'block' });
    for (const path of Object.values(LATER)) {
      const page = await browser.newPage();
      const faults = [];
      page.on('pageerror', (error) => faults.push(error));
      await page.goto(server.url('/bow'));
      await isDrawn(page);
      await follow(page, path);
      await notHere(page).waitFor(bow.PATIENCE);
      const said = await notHere(page).innerText();
      assert.ok(said.includes(say('NOT_HERE')) && said.includes(say('NOT_HERE_BODY')), said);
      assert.equal(await notHere(page).getAttribute('role'), 'alert');

      // Asked again in vain it stays, and so does the rest of the program.
      await page.getByRole('button', { name: say('TRY_AGAIN') }).click();
      await page.locator('.not-here .button:enabled').first().waitFor(bow.PATIENCE);
      await follow(page, '/bow');
      await isDrawn(page, '/bow');
      await follow(page, path);
      await notHere(page).waitFor(bow.PATIENCE);

      await again();
      // What was altered may lie in the browser's own cache, under a name that is good for ever.
      const cdp = await browser.newCDPSession(page);
      await cdp.send('Network.clearBrowserCache');
      await page.getByRole('button', { name: say('TRY_AGAIN') }).click();
      await isDrawn(page, path);
      assert.deepEqual(faults, []);
      await again((path) => (isPart(path) ? answer : undefined));
    }
  });
}

test('a part that cannot be had loses nothing of the run', async (t) => {
  const ship = await makeShip(t);
  const browser = await open(t, profile(t), { ...PHONE, serviceWorkers: 'block' });
  const page = await browser.newPage();
  await install(page, ship.url());
  await bow.makeKey(page, ship);
  await page.getByLabel(say('unlock_sheet.CODE')).fill(ship.codeFor('Tam Orrin'));
  await page.getByRole('button', { name: say('unlock_sheet.ASK') }).click();
  await page.getByRole('link', { name: say('unlock_sheet.TO_PHONE_CHECK') }).click(bow.PATIENCE);
  await page.getByRole('link', { name: say('unlock_sheet.TO_BOW') }).click(bow.PATIENCE);
  const path = await bow.begin(page, 'anchors-ready');
  await bow.work(page);
  await bow.allAboard(page);
  const chain = await bow.chain(page);

  await page.route(isPartOf, (route) => route.abort());
  await page.route('**/api/**', (route) => route.abort());
  await follow(page, '/procedures');
  await notHere(page).waitFor(bow.PATIENCE);
  for (const light of LIGHTS) {
    await page.evaluate(putInLight, light); // the page has no key for it
    assert.deepEqual(await inThreeLights(page, 'not-here', [light]), []);
  }
  assert.deepEqual(await overflow(page, 'not-here', [360, 430]), []);
  await page.getByRole('link', { name: say('BOW_TITLE') }).click();
  await isDrawn(page, '/bow');
  await follow(page, path);
  await page.locator('.sheet-title').waitFor(bow.PATIENCE);
  assert.deepEqual(await bow.chain(page), chain);
  assert.ok(await bow.isUnlocked(page), 'nothing was loaded anew');
  await bow.work(page);
  await follow(page, '/procedures');
  await notHere(page).waitFor(bow.PATIENCE);

  // The ship is heard again: the page comes without being asked for.
  await page.unrouteAll();
  await bow.networkIsBack(page);
  await isDrawn(page, '/procedures');
  await follow(page, path);
  await bow.allAboard(page);
  assert.equal(await bow.closedLinks(page), 2);
});

test('a page whose part was missing comes by itself', async (t) => {
  const { server, again } = await served(t, (path) => (isPart(path) ? 404 : undefined));
  const browser = await open(t, profile(t), { ...PHONE, serviceWorkers: 'block' });
  const page = await browser.newPage();
  await page.goto(server.url(LATER.ship));
  await notHere(page).waitFor(bow.PATIENCE);
  await again();
  await isDrawn(page, LATER.ship);
});

test('a first start without its further parts works, is not called ready, and gets them later', async (t) => {
  const { server, folder } = await served(t, (path) => (isPart(path) ? 500 : undefined));
  const page = await (await open(t, profile(t), PHONE)).newPage();
  await page.goto(server.url('/bow'));
  await offline(page, 'failed');
  await isDrawn(page);
  await server.stop();
  await page.reload();
  await isDrawn(page);
  await server.start(folder);
  await bow.networkIsBack(page);
  await offline(page, 'ready');
  await server.stop();
  for (const path of Object.values(LATER)) {
    await page.goto(server.url(path));
    await isDrawn(page, path);
  }
});

test('the worker hands on no part that is altered, and asks again past what the browser kept', async (t) => {
  const altered = (path) => (isPart(path) ? 'altered on its way' : undefined);
  const { server, again } = await served(t, altered);
  const page = await (await open(t, profile(t), PHONE)).newPage();
  await page.goto(server.url('/bow'));
  await offline(page, 'failed');
  await page.reload();
  await follow(page, LATER.ship);
  await notHere(page).waitFor(bow.PATIENCE);
  const { kept } = await page.evaluate(async () => {
    const names = (await caches.keys()).filter((name) => name !== 'clearhawse-state');
    const requests = await Promise.all(names.map(async (name) => (await caches.open(name)).keys()));
    return { kept: requests.flat().map((request) => new URL(request.url).pathname) };
  });
  assert.deepEqual(kept.filter(isPart), []);
  await again();
  await page.getByRole('button', { name: say('TRY_AGAIN') }).click();
  await isDrawn(page, LATER.ship);
  await bow.networkIsBack(page);
  await offline(page, 'ready');
});

test('parts of two versions are never mixed, whichever of them is kept, waiting or gone', async (t) => {
  const { server, folder } = await served(t);
  const browser = await open(t, profile(t), PHONE);
  const page = await browser.newPage();
  await page.goto(server.url('/bow'));
  await offline(page, 'ready');
  const other = await browser.newPage();
  await other.goto(server.url('/bow'));
  await isDrawn(other);

  const ofOne = async (page, isNewer) => {
    const files = await asked(page);
    assert.ok(files.some(isPart), 'a further part was asked for');
    for (const file of files) assert.equal(file.includes('-newer.'), isNewer, file);
  };
  const watch = (page) => page.on('pageerror', (error) => assert.fail(error));
  [page, other].forEach(watch);

  // The new version is kept and waits; the server has nothing of the old one any more.
  makeOtherProgram(folder, 'newer');
  await page.evaluate(async () => (await navigator.serviceWorker.getRegistration()).update());
  await page.waitForSelector('html[data-update="ready"]', { state: 'attached', ...bow.PATIENCE });
  await follow(page, LATER.ship);
  await isDrawn(page, LATER.ship);
  await ofOne(page, false);
  await page.goto(server.url('/plan'));
  await isDrawn(page);
  await ofOne(page, true);
  await page.goto(server.url('/bow/phone'));
  await isDrawn(page);
  await ofOne(page, false);

  // One page takes it; the other still runs the old one, and gets its own parts.
  const reloaded = page.waitForEvent('load');
  await page.evaluate(() => dispatchEvent(new Event('clearhawse-take-over')));
  await reloaded;
  await isDrawn(page);
  await ofOne(page, true);
  await follow(other, LATER.bow);
  await isDrawn(other, LATER.bow);
  await ofOne(other, false);

  await server.stop();
  await follow(other, LATER.ship);
  await isDrawn(other, LATER.ship);
  await ofOne(other, false);
  for (const path of Object.values(LATER)) {
    await page.goto(server.url(path));
    await isDrawn(page, path);
    await ofOne(page, true);
  }
});

test('a page whose version is gone everywhere says so, and loads the one that is there', async (t) => {
  const { server, folder } = await served(t);
  const browser = await open(t, profile(t), { ...PHONE, serviceWorkers: 'block' });
  const page = await browser.newPage();
  await page.goto(server.url('/bow'));
  await isDrawn(page);
  makeOtherProgram(folder, 'newer');
  await follow(page, LATER.ship);
  await notHere(page).waitFor(bow.PATIENCE);
  const loaded = page.waitForEvent('load');
  await page.getByRole('link', { name: say('LOAD_ANEW') }).click();
  await loaded;
  await isDrawn(page, LATER.ship);
  for (const file of await asked(page)) assert.ok(file.includes('-newer.'), file);
});
