// The bow by keyboard and by a reader of the screen, on a slow line, and with a screen that stays on.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say, says } from './support/words.mjs';

const { PATIENCE } = bow;
const PHONE = { viewport: { width: 390, height: 844 } };
/** Keys at the bow are at least that high, in points of the screen: pressed with gloves. */
const LEAST_KEY = 56;

const phone = async (t) => (await open(t, profile(t), PHONE)).newPage();

/** What has the focus: whether it lies within the sheet that asks for a PIN, and which step it names. */
const focus = (page) =>
  page.evaluate(() => ({
    isInPanel: Boolean(document.activeElement?.closest('.unlock-panel')),
    step: document.activeElement?.dataset?.step,
    tag: document.activeElement?.className,
  }));

test('on a slow line the page says at once that it is loading', async (t) => {
  const ship = await makeShip(t);
  const page = await phone(t);
  const cdp = await page.context().newCDPSession(page);
  await cdp.send('Network.enable');
  // 400 kbit/s with 300 ms: what a marina gives on a busy evening.
  const line = { offline: false, latency: 300, downloadThroughput: 50_000, uploadThroughput: 20_000 };
  await cdp.send('Network.emulateNetworkConditions', line);
  await page.goto(ship.url('/bow'), { waitUntil: 'commit' });
  await page.locator('.start-loading').waitFor(PATIENCE);
  assert.equal(await page.locator('html[data-started]').count(), 0, 'it was there before anything was to be waited for');
  await page.locator('html[data-started]').waitFor({ state: 'attached', timeout: 120_000 });
  await page.locator('.start-loading').waitFor({ state: 'detached', ...PATIENCE });
});

/** Stands in for the screen where the browser has none whose light could be kept on: it grants the wish, and lets go when told to. */
const screenStandsIn = () => {
  class Sentinel extends EventTarget {
    async release() {
      this.dispatchEvent(new Event('release'));
    }
  }
  Object.defineProperty(navigator, 'wakeLock', { value: { request: async () => new Sentinel() } });
};

test('the keyboard works the bow: the PIN keeps the focus, and a tick hands it to the next step', async (t) => {
  const ship = await makeShip(t);
  const page = await phone(t);
  await page.addInitScript(screenStandsIn);
  await bow.enrol(page, ship, 'Tam Orrin');

  // A second run of what is under way is asked about.
  await page.goto(ship.url('/bow'));
  // A phone that is new aboard knows of the run when the ship has told it.
  await page.locator('.start-run').first().waitFor(PATIENCE);
  await page.locator('[data-slug="anchors-ready"]').click();
  await page.getByText(says('already_begun', { by: 'Tam Orrin' })).waitFor(PATIENCE);
  const goOn = page.getByRole('link', { name: say('GO_ON_WITH_IT') });
  const under = await goOn.getAttribute('href');
  await page.locator('.start-begin').click();

  // The page was loaded again, so that the PIN is asked for.
  await page.locator('.unlock-panel').waitFor(PATIENCE);
  assert.ok((await focus(page)).isInPanel, JSON.stringify(await focus(page)));
  for (const key of [...Array(16).fill('Tab'), ...Array(5).fill('Shift+Tab')]) {
    await page.keyboard.press(key);
    assert.ok((await focus(page)).isInPanel, `${key} left the sheet: ${JSON.stringify(await focus(page))}`);
  }
  await bow.typePin(page, bow.PIN);
  await page.waitForURL('**/bow/run/*', PATIENCE);
  assert.notEqual(new URL(page.url()).pathname, under);
  await page.locator('.sheet-title').waitFor(PATIENCE);

  const before = await bow.title(page);
  await bow.keysAwake(page);
  await bow.first(page).focus();
  await page.keyboard.press('Enter');
  await page.waitForFunction((was) => document.querySelector('.sheet-title')?.dataset.step !== was, before, PATIENCE);
  await page.waitForFunction(() => document.activeElement?.matches('.sheet-title'), null, PATIENCE);
  assert.equal((await focus(page)).step, await bow.title(page), 'the next step is said');

  // The list and the sheet can be scrolled without a pointer.
  for (const part of ['.sheet-body', '.chain-row button, .chain-row a']) {
    const one = page.locator(part).first();
    await one.focus();
    assert.ok(await one.evaluate((element) => element === document.activeElement), part);
  }

  // The screen stays on for as long as the run is in sight.
  await page.locator('html[data-awake="on"]').waitFor({ state: 'attached', ...PATIENCE });
  await page.locator('.bow-back').click();
  await page.locator('html:not([data-awake])').waitFor({ state: 'attached', ...PATIENCE });

  for (const path of ['/bow', '/rounds', '/defects', '/procedures']) {
    await page.goto(ship.url(path));
    await page.locator('main').first().waitFor(PATIENCE);
    const low = await page.locator('button:visible, a.button:visible, summary:visible, select:visible').evaluateAll(
      (found, least) =>
        found
          .map((one) => [one.getBoundingClientRect().height, one.innerText.slice(0, 40), one.className])
          .filter(([height]) => height < least - 0.5),
      LEAST_KEY,
    );
    assert.deepEqual(low, [], path);
  }
});

test('the program says of itself what an installed one needs', async (t) => {
  const ship = await makeShip(t);
  const page = await phone(t);
  await page.goto(ship.url('/bow'));
  const manifest = await page.evaluate(async () => (await fetch('/manifest.webmanifest')).json());
  assert.match(manifest.theme_color, /^#[0-9a-f]{6}$/);
  assert.ok(manifest.shortcuts.length >= 2);
  for (const { url } of manifest.shortcuts) assert.ok([200, 401].includes((await page.request.get(ship.url(url))).status()), url);
  for (const { src, sizes } of manifest.screenshots) {
    assert.equal((await page.request.get(ship.url(src))).status(), 200, src);
    assert.match(sizes, /^\d+x\d+$/);
  }
  for (const name of ['description', 'theme-color', 'apple-mobile-web-app-title', 'apple-mobile-web-app-capable']) {
    assert.ok((await page.locator(`meta[name="${name}"]`).count()) > 0, name);
  }
});
