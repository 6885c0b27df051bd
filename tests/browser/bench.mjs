// The budgets that only a browser can show, each as a ratio measured in one run; nothing is asserted about time.
//
//   tick to durable     press of the key to the record on disk, against a bare strict put in the same page
//   cold start          offline, deep link, processor slowed four times, against one second
//   on the wire         bytes that a reconnecting phone sends, against signature and payload of its records
//   bow to bridge       the ship's answer to the phone to the board that shows it, against 200 ms
import { createServer, request as ask } from 'node:http';
import { chromium } from 'playwright-core';
import * as bow from './support/bow.mjs';
import { FLAGS } from './support/browser.mjs';
import { quantile, report, times, watchDisk } from './support/measure.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const undo = [];
const run = { after: (work) => undo.push(work) };
const TICKS = times(60);

async function browser() {
  const folder = mkdtempSync(join(tmpdir(), 'clearhawse-bench-'));
  undo.push(() => rmSync(folder, { recursive: true, force: true, maxRetries: 5 }));
  const options = { executablePath: process.env.CHROMIUM, args: FLAGS, headless: true, viewport: { width: 390, height: 844 } };
  const opened = await chromium.launchPersistentContext(folder, options);
  undo.push(() => opened.close());
  return opened;
}

/** Stands between phone and ship, counts what travels, and can be out of range. */
class Range {
  sent = 0;
  trips = 0;
  answeredMs = 0;
  away = false;

  async open(ship) {
    const server = createServer((question, answer) => {
      if (this.away) return question.socket.destroy();
      const [host, port] = ship.address.split(':');
      const sync = question.url.startsWith('/api/v1/sync/');
      if (sync) this.trips += 1;
      const { method, url: path, headers } = question;
      const on = ask({ host, port, method, path, headers }, (reply) => {
        answer.writeHead(reply.statusCode, reply.headers);
        reply.pipe(answer);
        if (path.startsWith('/api/v1/sync/push')) this.answeredMs = Date.now();
      });
      on.on('error', () => answer.destroy());
      question.on('data', (bytes) => {
        if (sync) this.sent += bytes.length;
        on.write(bytes);
      });
      question.on('end', () => on.end());
    });
    await new Promise((done) => server.listen(0, '127.0.0.1', done));
    undo.push(() => (server.closeAllConnections(), server.close()));
    this.address = `127.0.0.1:${server.address().port}`;
  }

  url(path) {
    return `http://${this.address}${path}`;
  }
}

/** Puts what a record weighs into a store of the same browser, one strict transaction each. */
async function barePuts(page, count) {
  return page.evaluate(async (times) => {
    const opening = indexedDB.open('bench', 1);
    opening.onupgradeneeded = () => opening.result.createObjectStore('bare');
    const database = await new Promise((done) => (opening.onsuccess = () => done(opening.result)));
    const taken = [];
    for (let at = 0; at < times; at += 1) {
      const begun = performance.now();
      const transaction = database.transaction('bare', 'readwrite', { durability: 'strict' });
      transaction.objectStore('bare').put(new Uint8Array(400), `${at}`);
      await new Promise((done) => (transaction.oncomplete = done));
      taken.push(performance.now() - begun);
    }
    database.close();
    return taken;
  }, count);
}

/** Signature and payload of every record on this phone, bytes; the envelope's own bytes are not counted. */
function weigh(page) {
  return page.evaluate(async () => {
    const opening = indexedDB.open('clearhawse');
    const database = await new Promise((done) => (opening.onsuccess = () => done(opening.result)));
    const got = database.transaction('records').objectStore('records').getAll();
    const all = await new Promise((done) => (got.onsuccess = () => done(got.result)));
    database.close();
    // COSE_Sign1: tag 18, array of 4: protected bytes, unprotected map, payload bytes, signature bytes.
    const parts = (bytes) => {
      let at = bytes[0] === 0xd2 ? 2 : 1;
      const length = () => {
        const short = bytes[at++] & 0x1f;
        if (short < 24) return short;
        let n = 0;
        for (let left = 1 << (short - 24); left > 0; left -= 1) n = n * 256 + bytes[at++];
        return n;
      };
      const header = length();
      at += header;
      length(); // the unprotected map is empty
      const payload = length();
      return payload + 64;
    };
    return { records: all.length, bytes: all.reduce((sum, record) => sum + parts(record), 0) };
  });
}

/** What the page holds in memory, MB: its objects, and the buffers behind them, the program's own memory among those. */
async function memory(page) {
  const cdp = await page.context().newCDPSession(page);
  await cdp.send('HeapProfiler.collectGarbage');
  const { usedSize, backingStorageSize = 0 } = await cdp.send('Runtime.getHeapUsage');
  const program = await page.evaluate(() => window.programMemory.buffer.byteLength);
  return (usedSize + Math.max(backingStorageSize, program)) / 1e6;
}

async function main() {
  const ship = await makeShip(run);
  const range = new Range();
  await range.open(ship);
  const phoneBrowser = await browser();
  const phone = await phoneBrowser.newPage();
  await phone.addInitScript(watchDisk);
  const through = { codeFor: (name) => ship.codeFor(name), url: (path) => range.url(path) };
  await bow.enrol(phone, through, 'Tam Orrin');

  // bow to bridge
  const bridge = await (await browser()).newPage();
  await bow.enrol(bridge, through, 'Ravi Thorne');
  await bridge.goto(range.url('/bridge'));
  let path = await bow.begin(phone, 'anchors-ready');
  await bow.allAboard(phone);
  await bridge.locator('.bridge-card').first().waitFor(bow.PATIENCE);
  const delays = [];
  for (let round = 0; round < times(8); round += 1) {
    const shown = bridge.evaluate(
      () =>
        new Promise((done) => {
          const follow = new MutationObserver((seen) => {
            if (!seen.some((each) => each.target.parentElement?.closest('.chain-strip'))) return;
            follow.disconnect();
            done(Date.now());
          });
          follow.observe(document.querySelector('.bridge-runs'), { childList: true, subtree: true, characterData: true });
        }),
    );
    await bow.work(phone);
    const shownMs = await shown;
    delays.push(shownMs - range.answeredMs);
    await bow.allAboard(phone);
  }
  await bridge.context().close();

  // tick to durable, out of range
  range.away = true;
  const before = await weigh(phone);
  await phone.evaluate(() => (window.ticks.length = 0));
  while ((await phone.evaluate(() => window.ticks.length)) < TICKS) {
    // From here on a second person is wanted: begin another.
    if ((await bow.title(phone)) === 'brakes') {
      await phone.locator('.bow-back').click();
      path = await bow.begin(phone, 'anchors-ready');
    }
    await bow.work(phone);
  }
  const ticks = await phone.evaluate(() => window.ticks);
  const bare = await barePuts(phone, TICKS);
  const after = await weigh(phone);

  // cold start, out of range
  const cdp = await phoneBrowser.newCDPSession(phone);
  await cdp.send('Emulation.setCPUThrottlingRate', { rate: 4 });
  const starts = [];
  for (let round = 0; round < times(7); round += 1) {
    await phone.goto('about:blank');
    await phone.goto(range.url(path), { waitUntil: 'commit' });
    // The key is put away after a start: what can be pressed first may be a sign of the keypad or an answer.
    const usable = '.action-sheet :is(.sheet-actions, .sheet-choices, .keypad) .button:enabled, .action-sheet .keypad button:enabled';
    await phone.locator(usable).first().waitFor(bow.PATIENCE);
    starts.push(
      await phone.evaluate(() => performance.now()), // since the navigation began
    );
  }
  await cdp.send('Emulation.setCPUThrottlingRate', { rate: 1 });
  await bow.unlock(phone);

  // reconnect
  range.sent = 0;
  range.trips = 0;
  range.away = false;
  await bow.allAboard(phone);
  const { sent, trips } = range;

  const waited = after.records - before.records;
  const put = quantile(bare, 0.5);
  report('press to disk, median', quantile(ticks, 0.5), 'ms', put, 2, 'a bare strict put');
  report('press to disk, 95th percentile', quantile(ticks, 0.95), 'ms', put, 3, 'a bare strict put');
  report('cold start offline at 4x', quantile(starts, 0.5), 'ms', 500, 1, 'half a second');
  report('reconnect, bytes', sent, 'bytes', after.bytes - before.bytes, 1.3, `signatures and payloads of ${waited} records`);
  report('reconnect, round trips', trips, 'trips', 3, 2, 'three, pages not counted');
  report('bow to bridge', quantile(delays, 0.5), 'ms', 200, 1, 'a fifth of a second');
  report('memory of the phone page', await memory(phone), 'MB', 256, 1, `a quarter of a gigabyte, ${after.records} records aboard`);
}

try {
  await main();
} finally {
  for (const work of undo.reverse()) await work();
}
