// Measures what a press costs until its record is on disk, and where the time goes; asserts nothing.
//
//   node support/press_to_disk.mjs [presses] [records on the phone]
//
// Each press is compared with two bare strict puts in the same page: one made right after it by itself, and one begun
// by a click on the same key, before the program hears of it. The browser draws the pressed key meanwhile, and only then
// tells that the disk has the record: what lies between the two is the frame, and no program's.
import { createServer, request as ask } from 'node:http';
import * as bow from './bow.mjs';
import { PHONE } from './party.mjs';
import { open, profile } from './browser.mjs';
import { Hand } from './many.mjs';
import { ship as makeShip } from './ship.mjs';

const [presses, records] = [Number(process.argv[2] ?? 40), Number(process.argv[3] ?? 0)];
const undo = [];
const test = { after: (work) => undo.push(work) };

/** Stands between phone and ship, and can be out of range. */
async function range(ship) {
  const made = { away: false };
  const server = createServer((question, answer) => {
    if (made.away) return question.socket.destroy();
    const [host, port] = ship.address.split(':');
    const { method, url: path, headers } = question;
    const on = ask({ host, port, method, path, headers }, (reply) => {
      answer.writeHead(reply.statusCode, reply.headers);
      reply.pipe(answer);
    });
    on.on('error', () => answer.destroy());
    question.pipe(on);
  });
  await new Promise((done) => server.listen(0, '127.0.0.1', done));
  test.after(() => (server.closeAllConnections(), server.close()));
  made.url = (path) => `http://127.0.0.1:${server.address().port}${path}`;
  made.codeFor = (name) => ship.codeFor(name);
  return made;
}

/** Notes the stations of a press: signing asked for and done, the put's transaction begun and complete, drawn. */
function watch() {
  window.presses = [];
  const now = () => performance.now();
  const sign = SubtleCrypto.prototype.sign;
  SubtleCrypto.prototype.sign = function (...all) {
    const done = sign.apply(this, all);
    if (window.press) {
      const { press } = window;
      press.signing ??= now();
      done.then(() => (press.signed ??= now()));
    }
    return done;
  };
  const transaction = IDBDatabase.prototype.transaction;
  IDBDatabase.prototype.transaction = function (names, mode, options) {
    const made = transaction.call(this, names, mode, options);
    if (mode === 'readwrite' && this.name === 'clearhawse' && window.press?.signing && !window.press.begun) {
      const { press } = window;
      press.begun = now();
      made.addEventListener('complete', () => {
        press.disk = now();
        requestAnimationFrame(() => setTimeout(() => (press.drawn = now())));
      });
    }
    return made;
  };
  const begin = (event) => {
    if (!event.target.closest?.('.sheet-actions .is-first')) return;
    const press = { at: now() };
    window.press = press;
    window.presses.push(press);
    if (!window.onlyBare) return;
    event.stopImmediatePropagation();
    const bare = window.bare.transaction('bare', 'readwrite', { durability: 'strict' });
    bare.objectStore('bare').put(new Uint8Array(400), `${window.bareAt++}`);
    bare.oncomplete = () => (press.disk = now());
  };
  addEventListener('click', begin, true);
}

async function barePut(page) {
  return page.evaluate(async () => {
    if (!window.bare) {
      const opening = indexedDB.open('bench', 1);
      opening.onupgradeneeded = () => opening.result.createObjectStore('bare');
      window.bare = await new Promise((done) => (opening.onsuccess = () => done(opening.result)));
      window.bareAt = 0;
    }
    const begun = performance.now();
    const transaction = window.bare.transaction('bare', 'readwrite', { durability: 'strict' });
    transaction.objectStore('bare').put(new Uint8Array(400), `${window.bareAt++}`);
    await new Promise((done) => (transaction.oncomplete = done));
    return performance.now() - begun;
  });
}

/** Returns the records of a run that this phone holds. */
const recordsOf = (page, run) =>
  page.evaluate(async () => {
    const opening = indexedDB.open('clearhawse');
    const database = await new Promise((done) => (opening.onsuccess = () => done(opening.result)));
    const got = database.transaction('records').objectStore('records').getAll();
    const all = await new Promise((done) => (got.onsuccess = () => done(got.result)));
    database.close();
    return all.map((bytes) => [...bytes]);
  }).then(async (all) => {
    const { createHash } = await import('node:crypto');
    const name = Buffer.from(run, 'hex');
    const id = (bytes) => {
      // Sig_structure out of COSE_Sign1: the header, the context, the payload.
      const record = Buffer.from(bytes);
      const payload = record.subarray(2 + 22 + 1, record.length - 66);
      const header = record.subarray(2, 2 + 22);
      const context = Buffer.concat([Buffer.from([0x54]), Buffer.from('clearhawse record v1')]);
      const signed = Buffer.concat([Buffer.from([0x84, 0x6a]), Buffer.from('Signature1'), header, context, payload]);
      return createHash('sha256').update(signed).digest();
    };
    return all.filter((bytes) => Buffer.from(bytes).includes(name) || id(bytes).equals(name));
  });

const count = (page) =>
  page.evaluate(async () => {
    const opening = indexedDB.open('clearhawse');
    const database = await new Promise((done) => (opening.onsuccess = () => done(opening.result)));
    const got = database.transaction('records').objectStore('records').count();
    const all = await new Promise((done) => (got.onsuccess = () => done(got.result)));
    database.close();
    return all;
  });

const at = (values, part) => [...values].sort((a, b) => a - b)[Math.min(values.length - 1, Math.floor(values.length * part))];

async function main() {
  const ship = await makeShip(test);
  const between = await range(ship);
  const browser = await open(test, profile(test), PHONE);
  const page = await browser.newPage();
  page.on('pageerror', (error) => console.log(`page: ${error}`));
  await page.addInitScript(watch);
  await bow.enrol(page, between, 'Tam Orrin');
  let path = await bow.begin(page, 'anchors-ready');
  for (let n = 0; n < 8; n += 1) await bow.work(page);
  await bow.allAboard(page);
  if (records > 0) {
    const hand = await Hand.enrolled(ship, 'Ravi Thorne');
    const made = await hand.fill(ship, await recordsOf(page, path.split('/').at(-1)), records);
    const end = Date.now() + 600_000;
    while ((await count(page)) < made && Date.now() < end) {
      await bow.networkIsBack(page);
      await page.waitForTimeout(2000);
    }
  }
  await page.waitForTimeout(3000);
  console.log(`records on the phone: ${await count(page)}`);
  between.away = true;
  await page.evaluate(() => (window.presses = []));
  const bare = [];
  while (bare.length < presses) {
    if ((await bow.title(page)).includes('Set both band brakes')) {
      await page.locator('.bow-back').click();
      path = await bow.begin(page, 'anchors-ready');
    }
    await bow.work(page);
    await page.waitForTimeout(60);
    bare.push(await barePut(page));
  }
  const all = (await page.evaluate(() => window.presses)).filter((press) => press.disk);
  const part = (name, from) => {
    const values = all.map((press) => press[name] - press[from]).filter(Number.isFinite);
    console.log(`${`${from} → ${name}`.padEnd(20)} median ${at(values, 0.5).toFixed(2)}  p95 ${at(values, 0.95).toFixed(2)} ms`);
  };
  part('signing', 'at');
  part('signed', 'signing');
  part('begun', 'signed');
  part('disk', 'begun');
  part('drawn', 'disk');
  part('disk', 'at');
  console.log(`${'bare strict put'.padEnd(20)} median ${at(bare, 0.5).toFixed(2)}  p95 ${at(bare, 0.95).toFixed(2)} ms`);
  await page.evaluate(() => {
    window.onlyBare = true;
    window.presses = [];
  });
  for (let n = 0; n < presses; n += 1) {
    await bow.first(page).click();
    await page.waitForTimeout(60);
  }
  const taken = (press) => press.disk - press.at;
  const clicked = (await page.evaluate(() => window.presses)).filter((press) => press.disk).map(taken);
  console.log(`${'the same by a click'.padEnd(20)} median ${at(clicked, 0.5).toFixed(2)}  p95 ${at(clicked, 0.95).toFixed(2)} ms`);
  const whole = all.map(taken);
  for (const [what, puts] of [['bare put', bare], ['bare put by a click', clicked]]) {
    const ratio = (part) => (at(whole, part) / at(puts, part)).toFixed(2);
    console.log(`against a ${what}: median ${ratio(0.5)}  p95 ${ratio(0.95)}  (${all.length} presses)`);
  }
}

try {
  await main();
} finally {
  for (const work of undo.reverse()) await work();
}
