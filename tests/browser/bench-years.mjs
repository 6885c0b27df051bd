// A phone after years against one with some 300 records, in one run: cold start offline at a processor slowed four
// times, press to disk, and opening a run. The records come from `cargo run -p journal --example years`, which
// CLEARHAWSE_YEARS names.
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium } from 'playwright-core';
import * as bow from './support/bow.mjs';
import { FLAGS } from './support/browser.mjs';
import { IS_SHORT, quantile, report, times, watchDisk } from './support/measure.mjs';
import { run, ship as makeShip } from './support/ship.mjs';

const EACH = 20; // records of a run, as the example writes them
const FEW = 300;
const MANY = Number(process.env.CLEARHAWSE_RECORDS ?? (IS_SHORT ? 2_000 : 20_000));
const STARTS = times(7);
const USABLE = '.action-sheet :is(.sheet-actions, .sheet-choices, .keypad) .button:enabled, .action-sheet .keypad button:enabled';
const LONG = { timeout: 600_000 };

const undo = [];
const test = { after: (work) => undo.push(work) };

function folder(name) {
  const made = mkdtempSync(join(tmpdir(), `clearhawse-${name}-`));
  undo.push(() => rmSync(made, { recursive: true, force: true, maxRetries: 5 }));
  return made;
}

/** Enrols a phone and begins a run on it. */
async function phone(ship, name) {
  const options = { executablePath: process.env.CHROMIUM, args: FLAGS, headless: true, viewport: { width: 390, height: 844 } };
  const browser = await chromium.launchPersistentContext(folder('years'), options);
  undo.push(() => browser.close());
  const page = await browser.newPage();
  await page.addInitScript(watchDisk);
  await bow.enrol(page, ship, name);
  await page.waitForSelector('html[data-offline="ready"]', { state: 'attached', ...bow.PATIENCE });
  const path = await bow.begin(page, 'anchors-ready');
  await bow.allAboard(page);
  return { browser, page, path };
}

/** Puts records on a phone's disk, as they would have come from the ship. */
async function put(page, lines) {
  for (let at = 0; at < lines.length; at += 2_000) {
    await page.evaluate(async (lines) => {
      const opening = indexedDB.open('clearhawse');
      const database = await new Promise((done) => (opening.onsuccess = () => done(opening.result)));
      const writing = database.transaction('records', 'readwrite');
      for (const line of lines) {
        const [place, hex] = line.split(' ');
        writing.objectStore('records').put(Uint8Array.from(hex.match(/../g), (pair) => Number.parseInt(pair, 16)), place);
      }
      await new Promise((done) => (writing.oncomplete = done));
      database.close();
    }, lines.slice(at, at + 2_000));
  }
}

/** The names in a store of the phone. */
const names = (page, store) =>
  page.evaluate(async (store) => {
    const opening = indexedDB.open('clearhawse');
    const database = await new Promise((done) => (opening.onsuccess = () => done(opening.result)));
    const asked = database.transaction(store).objectStore(store).getAllKeys();
    const keys = await new Promise((done) => (asked.onsuccess = () => done(asked.result)));
    database.close();
    return keys;
  }, store);

async function until(probe, what) {
  for (let round = 0; !(await probe()); round += 1) {
    if (round > 1_200) throw new Error(`waited in vain for ${what}`);
    await new Promise((done) => setTimeout(done, 500));
  }
}

async function start(ship, { page, path }) {
  await page.goto('about:blank');
  await page.goto(ship.url(path), { waitUntil: 'commit' });
  await page.locator(USABLE).first().waitFor(LONG);
  return page.evaluate(() => performance.now()); // since the navigation began
}

async function measure(ship, phone, lines) {
  const { browser, page, path } = phone;
  await put(page, lines);
  const cdp = await browser.newCDPSession(page);
  const slow = (rate) => cdp.send('Emulation.setCPUThrottlingRate', { rate });
  // The first start finds no row of them: it reads, verifies and folds every record.
  await slow(4);
  const first = await start(ship, phone);
  await slow(1);
  const runs = lines.length / EACH;
  const kept = async () => (await names(page, 'kept')).filter((name) => name.startsWith('run/')).length;
  await until(async () => (await kept()) >= runs - 6, 'the runs to be put away');
  await slow(4);
  const starts = [];
  for (let round = 0; round < STARTS; round += 1) starts.push(await start(ship, phone));
  const opens = [];
  for (let round = 0; round < STARTS; round += 1) {
    await page.locator('.bow-back').click();
    const row = page.locator(`a[href="${path}"]`).first();
    await row.waitFor(bow.PATIENCE);
    const begun = Date.now();
    await row.click();
    await page.locator(USABLE).first().waitFor(bow.PATIENCE);
    opens.push(Date.now() - begun);
  }
  await slow(1);
  await bow.unlock(page);
  await page.evaluate(() => (window.ticks.length = 0));
  for (let round = 0; round < times(12); round += 1) {
    if ((await bow.title(page)) === 'brakes') {
      await page.locator('.bow-back').click();
      await bow.begin(page, 'anchors-ready');
    }
    await bow.work(page);
  }
  const ticks = await page.evaluate(() => window.ticks);
  await browser.close();
  return { first, start: quantile(starts, 0.5), open: quantile(opens, 0.5), tick: quantile(ticks, 0.5) };
}

async function main() {
  const ship = await makeShip(test);
  const phones = [await phone(ship, 'Tam Orrin'), await phone(ship, 'Ravi Thorne')];
  // The ship's own chain is written on: both have to know its end.
  const [one, other] = phones;
  await until(async () => {
    const [a, b] = [await names(one.page, 'records'), await names(other.page, 'records')];
    return a.length === b.length;
  }, 'both phones to have every record');
  const out = join(folder('export'), 'ship.cborseq');
  const told = run('export', '--data', ship.data, '--vessel', 'Aldermere', '--out', out);
  if (told.status !== 0) throw new Error(told.out);
  await ship.cut();
  const found = [];
  for (const [at, records] of [FEW, MANY].entries()) {
    const arguments_ = [join(ship.data, 'ship.key'), out, String(records / EACH)];
    const made = execFileSync(process.env.CLEARHAWSE_YEARS, arguments_, { encoding: 'utf8', maxBuffer: 2 ** 30 });
    found.push(await measure(ship, phones[at], made.trim().split('\n')));
  }
  const [few, many] = found;
  const against = `${MANY} records against ${FEW}`;
  report('after years: cold start at 4x', many.start, 'ms', few.start, 1.2, against);
  report('after years: open a run at 4x', many.open, 'ms', few.open, 1.2, against);
  report('after years: press to disk', many.tick, 'ms', few.tick, 1.2, against);
  console.log(`a start at 4x that reads every record: ${many.first.toFixed(0)} ms with ${MANY}, ${few.first.toFixed(0)} ms with ${FEW}`);
}

try {
  await main();
} finally {
  for (const work of undo.reverse()) await work();
}
