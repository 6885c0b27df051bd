// HTTPS without internet: a browser that was told to trust the ship's certificate keeps the program offline.
import assert from 'node:assert/strict';
import { execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdirSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { FLAGS, open, profile } from './support/browser.mjs';
import { folder } from './support/ship.mjs';

const NAME = 'ship.home.arpa';
const SHOTS = join(import.meta.dirname, '../../target/looks');
mkdirSync(SHOTS, { recursive: true });

/** Serves by HTTPS under NAME; returns the plain and the secure address. */
async function secured(t) {
  const args = ['serve', '--data', folder(t, 'https'), '--listen', '127.0.0.1:0'];
  args.push('--https', '127.0.0.1:0', '--name', NAME);
  const program = spawn(process.env.CLEARHAWSE_BIN, args, { stdio: ['ignore', 'pipe', 'inherit'] });
  t.after(async () => {
    const gone = once(program, 'exit');
    program.kill('SIGKILL');
    await gone;
  });
  let told = '';
  for await (const text of program.stdout) {
    told += text;
    if (told.includes("Key's fingerprint: ")) break;
  }
  const plain = told.match(/at (http:\S+)/)[1];
  return { plain, secure: told.match(/Secure address: (\S+)/)[1], told };
}

/** Makes a home whose browsers trust what `plain` hands out: Chromium on Linux reads this folder. */
async function trusting(t, plain) {
  const home = folder(t, 'home');
  const answer = await fetch(`${plain}/ca.pem`);
  const certificate = join(home, 'ship.pem');
  writeFileSync(certificate, await answer.text());
  const store = join(home, '.pki/nssdb');
  mkdirSync(store, { recursive: true });
  const certutil = (...args) => execFileSync('certutil', ['-d', `sql:${store}`, ...args]);
  certutil('-N', '--empty-password');
  certutil('-A', '-t', 'C,,', '-n', 'ship', '-i', certificate);
  return home;
}

/** A browser that finds the ship under NAME and has `home` for its home. */
function browserOf(t, home) {
  return open(t, profile(t), {
    args: [...FLAGS, `--host-resolver-rules=MAP ${NAME} 127.0.0.1`],
    env: { ...process.env, HOME: home },
  });
}

test('a browser that trusts the ship has a secure page, keeps it, and opens it with the ship gone', async (t) => {
  const ship = await secured(t);
  const browser = await browserOf(t, await trusting(t, ship.plain));
  const page = await browser.newPage();
  await page.goto(`${ship.secure}/bow`);
  assert.equal(await page.evaluate(() => isSecureContext), true);
  await page.waitForSelector('html[data-offline="ready"]', { state: 'attached' });
  const scope = await page.evaluate(async () => (await navigator.serviceWorker.ready).scope);
  assert.equal(scope, `${ship.secure}/`);
  const protocol = await page.evaluate(() => performance.getEntriesByType('navigation')[0].nextHopProtocol);
  assert.equal(protocol, 'h2');

  // The old address leads to the new one.
  const plainPort = new URL(ship.plain).port;
  await page.goto(`http://${NAME}:${plainPort}/bridge`);
  assert.equal(page.url(), `${ship.secure}/bridge`);

  await browser.setOffline(true);
  await page.goto(`${ship.secure}/bow`);
  await page.waitForSelector('body > :not(.start-fault)', { state: 'attached' });
});

test('a browser that was told nothing does not open the secure address', async (t) => {
  const ship = await secured(t);
  const browser = await browserOf(t, folder(t, 'home'));
  const page = await browser.newPage();
  await assert.rejects(page.goto(ship.secure), /ERR_CERT_AUTHORITY_INVALID/);
});

test('the page that hands the certificate out is whole at both sizes and in both lights', async (t) => {
  const ship = await secured(t);
  const browser = await open(t, profile(t));
  const page = await browser.newPage();
  const faults = [];
  page.on('pageerror', (error) => faults.push(error.message));
  page.on('console', (message) => message.type() === 'error' && faults.push(message.text()));
  for (const [width, height] of [[390, 844], [1280, 800]]) {
    for (const colorScheme of ['light', 'dark']) {
      await page.setViewportSize({ width, height });
      await page.emulateMedia({ colorScheme });
      await page.goto(ship.plain);
      if (width < 900) await page.locator('summary', { hasText: 'iPhone' }).click();
      const wide = await page.evaluate(() => document.documentElement.scrollWidth);
      assert.ok(wide <= width, `${width}: ${wide} wide`);
      const small = await page.$$eval('a.press, summary', (targets) =>
        targets.filter((target) => target.checkVisibility() && target.getBoundingClientRect().height < 56).length);
      assert.equal(small, 0, 'targets for gloves');
      await page.screenshot({ path: join(SHOTS, `certificate-${width}-${colorScheme}.png`), fullPage: true });
    }
  }
  const told = ship.told.match(/Certificate's fingerprint: (.*)/)[1];
  const shown = await page.locator('.fingerprint').innerText();
  assert.equal(shown.replace(/\s+/g, ' ').trim(), told);
  assert.deepEqual(faults.filter((fault) => !fault.includes('favicon')), []);
});
