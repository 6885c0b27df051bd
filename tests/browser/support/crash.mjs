// A browser that can be killed as a phone's battery dies: its whole process group, in the middle of whatever it does.
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { existsSync, readFileSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { chromium } from 'playwright-core';
import { FLAGS, closeFirst } from './browser.mjs';

/** Opens the profile in a browser of its own process group; returns `{ page, kill }`. */
export async function openMortal(profile, viewport) {
  const note = join(profile, 'DevToolsActivePort');
  for (const left of ['SingletonLock', 'SingletonSocket', 'SingletonCookie', 'DevToolsActivePort']) {
    rmSync(join(profile, left), { force: true });
  }
  const args = ['--headless', '--remote-debugging-port=0', `--user-data-dir=${profile}`, ...FLAGS, 'about:blank'];
  const process_ = spawn(process.env.CHROMIUM, args, { detached: true, stdio: 'ignore' });
  const kill = async () => {
    if (process_.exitCode !== null || process_.signalCode !== null) return;
    const gone = once(process_, 'exit');
    process.kill(-process_.pid, 'SIGKILL');
    await gone;
  };
  closeFirst(profile, kill);
  const port = await portFrom(note, process_);
  const browser = await chromium.connectOverCDP(`http://127.0.0.1:${port}`);
  const page = await browser.contexts()[0].newPage();
  await page.setViewportSize(viewport);
  return { page, kill };
}

async function portFrom(note, process_) {
  for (let tries = 0; tries < 600; tries += 1) {
    if (process_.exitCode !== null) throw new Error(`the browser ended with ${process_.exitCode}`);
    const port = existsSync(note) ? Number.parseInt(readFileSync(note, 'utf8'), 10) : NaN;
    if (port) return port;
    await pause(50); // a file has no event to wait for
  }
  throw new Error('the browser did not open its port within 30 s');
}
