// Engines that are not Chromium's, each worked as its makers mean it to be.
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { closeFirst, profile } from './browser.mjs';
import * as marionette from './marionette.mjs';
import { drive, open } from './webdriver.mjs';

const { FIREFOX, WEBKIT_DRIVER, XVFB } = process.env;

/** Firefox, without a window, on a profile that outlives its process. */
export const firefox = {
  isHere: Boolean(FIREFOX),

  /** Returns its page, and what closes the browser and opens it again; the test's end closes it. */
  async start(test) {
    const folder = profile(test);
    let browser;
    let page;
    closeFirst(folder, async () => {
      await page?.close().catch(() => {});
      await browser?.end();
    });
    const start = async () => {
      browser = await marionette.drive(FIREFOX, folder);
      page = await open(browser.asked, {});
      return page;
    };
    const again = async () => {
      await page.close();
      return start();
    };
    return { page: await start(), again };
  },
};

/** Starts a display for windows that nobody sees; returns its name, and how it is ended. */
async function display() {
  const flags = ['-displayfd', '1', '-screen', '0', '1280x1024x24', '-nolisten', 'tcp'];
  const server = spawn(XVFB, flags, { stdio: ['ignore', 'pipe', 'ignore'] });
  const ended = once(server, 'exit').then(() => Promise.reject(new Error('Xvfb ended')));
  ended.catch(() => {}); // of interest only while it starts
  const [number] = await Promise.race([once(server.stdout, 'data'), ended]);
  return { name: `:${String(number).trim()}`, end: () => server.kill() };
}

/** WebKitGTK's own small browser, which keeps nothing when its process ends. */
export const webkit = {
  isHere: Boolean(WEBKIT_DRIVER && XVFB),

  /** Returns its page, and what leaves it, so that it has to be started again; the test's end closes the browser. */
  async start(test) {
    const screen = await display();
    let driver;
    let page;
    test.after(async () => {
      await page?.close().catch(() => {});
      await driver?.end();
      screen.end();
    });
    driver = await drive(WEBKIT_DRIVER, (port) => [`--port=${port}`], {
      DISPLAY: screen.name,
      GDK_BACKEND: 'x11',
      NO_AT_BRIDGE: '1', // no bus for aids to reading on a build machine
    });
    page = await open(driver.asked, {});
    const again = async () => {
      await page.goto('about:blank');
      return page;
    };
    return { page, again };
  },
};
