// The offline worker and the start script, on the pages as built, whatever the program shows in them.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import { open, profile } from './support/browser.mjs';
import { SiteServer, copyOfSite, makeNewVersion } from './support/site_server.mjs';

const MOUNTED = 'body > :not(.start-fault)';

async function served(t, folder = copyOfSite(t)) {
  const server = new SiteServer();
  await server.start(folder);
  t.after(() => server.stop().catch(() => {}));
  return { server, folder };
}

const offlineReady = (page) => page.waitForSelector('html[data-offline="ready"]', { state: 'attached' });
const updateReady = (page) => page.waitForSelector('html[data-update="ready"]', { state: 'attached' });
const askForUpdate = (page) =>
  page.evaluate(async () => {
    const registration = await navigator.serviceWorker.getRegistration();
    await registration.update();
  });
const shellBuildOf = (page) => page.getAttribute('meta[name="clearhawse-build"]', 'content');
const buildOf = (page) =>
  page.evaluate(
    () =>
      new Promise((done) => {
        const { port1, port2 } = new MessageChannel();
        port1.onmessage = ({ data }) => done(data.build);
        navigator.serviceWorker.controller.postMessage({ type: 'build' }, [port2]);
      }),
  );

test('a page opens from a deep link with the server gone and the browser started anew', async (t) => {
  const { server } = await served(t);
  const folder = profile(t);
  const first = await open(t, folder);
  const page = await first.newPage();
  await page.goto(server.url('/bow'));
  await offlineReady(page);
  await first.close();
  await server.stop();

  const again = await open(t, folder);
  const cold = await again.newPage();
  const faults = [];
  cold.on('pageerror', (error) => faults.push(error));
  for (const path of ['/bow/any/step?x=1', '/bridge', '/office']) {
    await cold.goto(server.url(path));
    await cold.waitForSelector(MOUNTED, { state: 'attached' });
    assert.equal(await cold.$('.start-fault'), null, path);
  }
  assert.deepEqual(faults, []);
});

test('the light is set before the style sheet is even asked for', async (t) => {
  const { server } = await served(t);
  const browser = await open(t, profile(t));
  const page = await browser.newPage();
  await page.route('**/*.css', (route) => route.abort());
  await page.addInitScript(() => localStorage.setItem('light', 'night'));
  await page.goto(server.url('/bow'), { waitUntil: 'commit' });
  await page.waitForSelector('html[data-light="night"]', { state: 'attached' });
  assert.equal(await page.evaluate(() => getComputedStyle(document.documentElement).colorScheme), 'dark');
});

test('the light follows the sun where that is chosen', async (t) => {
  const { server } = await served(t);
  const browser = await open(t, profile(t));
  const page = await browser.newPage();
  await page.goto(server.url('/bow'));
  const hour = 3600 * 1000;
  // Hours from now to sunrise and to sunset; the times may be those of another day.
  for (const [rise, set, light] of [
    [-6, 6, 'day'],
    [-6 - 72, 6 - 72, 'day'],
    [-18, -6, 'night'],
    [6, -6, 'night'],
    [-12.5, -0.5, 'dusk'],
    [0.5, 12.5, 'dusk'],
    [0.5 - 48, 12.5 - 48, 'dusk'],
    [1, 13, 'night'],
  ]) {
    await page.evaluate(
      ([rise, set]) => {
        localStorage.setItem('light', 'sun');
        localStorage.setItem('sunrise', String(Date.now() + rise));
        localStorage.setItem('sunset', String(Date.now() + set));
        dispatchEvent(new Event('clearhawse-light'));
      },
      [rise * hour, set * hour],
    );
    const shown = await page.getAttribute('html', 'data-light');
    assert.equal(shown, light, `sunrise in ${rise} h, sunset in ${set} h`);
  }
});

test('a new version waits until the page takes it, and leaves other pages alone', async (t) => {
  const { server, folder } = await served(t);
  const browser = await open(t, profile(t));
  const page = await browser.newPage();
  const other = await browser.newPage();
  await page.goto(server.url('/bow'));
  await offlineReady(page);
  await other.goto(server.url('/bow/other'));
  await other.evaluate(() => (window.unsaved = 'still here'));
  const before = await buildOf(page);

  makeNewVersion(folder, 'newer');
  await askForUpdate(page);
  await updateReady(page);
  await page.reload();
  await updateReady(page);
  assert.equal(await shellBuildOf(page), before, 'a reload does not take the new version');
  assert.equal(await buildOf(page), before);

  const reloaded = page.waitForEvent('load');
  await page.evaluate(() => dispatchEvent(new Event('clearhawse-take-over')));
  await reloaded;
  assert.equal(await shellBuildOf(page), 'newer');
  assert.equal(await buildOf(page), 'newer');
  assert.equal(await other.evaluate(() => window.unsaved), 'still here');
  const caches = await page.evaluate(() => window.caches.keys());
  assert.ok(caches.includes(`clearhawse-${before}`), 'the version before stays for the other page');
});

test('a version with an altered file is not installed, and the old one goes on', async (t) => {
  const { server, folder } = await served(t);
  const browser = await open(t, profile(t));
  const page = await browser.newPage();
  await page.goto(server.url('/bow'));
  await offlineReady(page);
  const before = await page.evaluate(() => caches.keys());

  makeNewVersion(folder, 'newer');
  await server.stop();
  await server.start(folder, (path, text) => (path === '/shell.html' ? `${text} ` : undefined));
  const states = await page.evaluate(async () => {
    const registration = await navigator.serviceWorker.getRegistration();
    const found = new Promise((done) => {
      registration.addEventListener('updatefound', () => {
        const worker = registration.installing;
        worker.addEventListener('statechange', () => done(worker.state));
      });
    });
    await registration.update().catch(() => {}); // refused: that is the point
    return { worker: await found, waiting: registration.waiting !== null };
  });
  assert.deepEqual(states, { worker: 'redundant', waiting: false });
  assert.deepEqual(await page.evaluate(() => caches.keys()), before);
  await server.stop();
  await page.reload();
  await page.waitForSelector(MOUNTED, { state: 'attached' });
});

test('a page that another version drew gives way to this one', async (t) => {
  const { server, folder } = await served(t);
  await server.stop();
  // Drawn by another version: nothing that the program expects is there.
  await server.start(folder, (path, text) =>
    path === '/bridge'
      ? text.replace(' data-shell', '').replace('<body>', '<body><b id="drawn">not what is expected</b>')
      : undefined,
  );
  const browser = await open(t, profile(t), { serviceWorkers: 'block' });
  const page = await browser.newPage();
  await page.goto(server.url('/bridge'));
  await page.waitForSelector('#drawn', { state: 'detached' });
  await page.waitForSelector(MOUNTED, { state: 'attached' });
  assert.equal(await page.$('.start-fault'), null);
});

test('a program that cannot start says so, and that nothing is lost', async (t) => {
  const { server, folder } = await served(t);
  await server.stop();
  await server.start(folder, (path) => (path.endsWith('.wasm') ? 'not wasm' : undefined));
  const browser = await open(t, profile(t));
  const page = await browser.newPage();
  await page.goto(server.url('/bow'));
  const panel = page.locator('.start-fault');
  await panel.waitFor();
  assert.match(await panel.innerText(), /did not start[\s\S]*kept on this device/);
  assert.equal(await panel.getAttribute('role'), 'alert');
});
