// One Chromium for a test, on a profile of its own that outlives the browser's process.
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium } from 'playwright-core';

export const FLAGS = [
  '--no-sandbox', // the tests run as root on build machines
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

/** What holds each profile, to be let go before the profile is removed. */
const holders = new Map();

/** Makes an empty profile; the test's end removes it, after what was opened on it is closed. */
export function profile(test) {
  const folder = mkdtempSync(join(tmpdir(), 'clearhawse-profile-'));
  holders.set(folder, []);
  test.after(async () => {
    for (const close of holders.get(folder)) await close();
    rmSync(folder, { recursive: true, force: true, maxRetries: 5 });
  });
  return folder;
}

/** Has `close` called before the profile in `folder` is removed. */
export function closeFirst(folder, close) {
  holders.get(folder).push(close);
}

/** Opens the profile in a browser; the test's end closes it if it is still open. */
export async function open(_test, folder, options = {}) {
  const executablePath = process.env.CHROMIUM;
  const browser = await chromium.launchPersistentContext(folder, {
    executablePath,
    args: FLAGS,
    headless: true,
    ...options,
  });
  browser.setDefaultTimeout(90_000);
  closeFirst(folder, () => browser.close().catch(() => {}));
  return browser;
}
