// Firefox, worked over its own remote protocol: no driver stands between.
//
// Each message is its length, a colon, and `[0, id, command, parameters]`; each answer `[1, id, error, result]`. The commands are
// those of W3C WebDriver under other names (Firefox Source Docs, Testing, Marionette: protocol).
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { readFileSync, rmSync, writeFileSync } from 'node:fs';
import { connect } from 'node:net';
import { join } from 'node:path';
import { setTimeout as pause } from 'node:timers/promises';
import { PATIENCE_MS, Refused } from './webdriver.mjs';

const LOOK_MS = 60;

/** What each address of WebDriver is called here; in `{id}` stands the element's reference. */
const COMMANDS = [
  ['POST', /^\/session$/, 'WebDriver:NewSession'],
  ['POST', /\/window\/rect$/, 'WebDriver:SetWindowRect'],
  ['POST', /\/url$/, 'WebDriver:Navigate'],
  ['GET', /\/url$/, 'WebDriver:GetCurrentURL'],
  ['POST', /\/execute\/async$/, 'WebDriver:ExecuteAsyncScript'],
  ['POST', /\/element\/(?<id>[^/]+)\/click$/, 'WebDriver:ElementClick'],
  ['POST', /\/element\/(?<id>[^/]+)\/value$/, 'WebDriver:ElementSendKeys'],
  ['POST', /\/actions$/, 'WebDriver:PerformActions'],
];

/** A line to Firefox: one command at a time, each with its answer. */
class Line {
  #socket;
  #kept = Buffer.alloc(0);
  #waiting = new Map();
  #number = 0;

  constructor(socket) {
    this.#socket = socket;
    socket.on('data', (bytes) => this.#take(bytes));
    socket.on('error', () => {}); // the close that follows ends what waits
    socket.on('close', () => {
      for (const { reject } of this.#waiting.values()) reject(new Error('Firefox closed the line'));
      this.#waiting.clear();
    });
  }

  #take(bytes) {
    this.#kept = Buffer.concat([this.#kept, bytes]);
    for (;;) {
      const colon = this.#kept.indexOf(':');
      if (colon < 0) return;
      const end = colon + 1 + Number(this.#kept.subarray(0, colon).toString());
      if (this.#kept.length < end) return;
      const message = JSON.parse(this.#kept.subarray(colon + 1, end).toString());
      this.#kept = this.#kept.subarray(end);
      if (!Array.isArray(message)) continue; // the greeting
      const [, id, error, result] = message;
      const { resolve, reject } = this.#waiting.get(id);
      this.#waiting.delete(id);
      if (error) reject(new Refused(error));
      else resolve(result && Object.keys(result).join() === 'value' ? result.value : result);
    }
  }

  ask(command, parameters = {}) {
    const id = (this.#number += 1);
    const text = Buffer.from(JSON.stringify([0, id, command, parameters]));
    return new Promise((resolve, reject) => {
      this.#waiting.set(id, { resolve, reject });
      this.#socket.write(Buffer.concat([Buffer.from(`${text.length}:`), text]));
    });
  }
}

/** Starts Firefox on the profile in `folder`; returns how it is asked, in WebDriver's addresses, and how it is ended. */
export async function drive(program, folder) {
  const told = join(folder, 'MarionetteActivePort');
  rmSync(told, { force: true });
  writeFileSync(join(folder, 'user.js'), 'user_pref("marionette.port", 0);\n');
  const flags = ['-headless', '-marionette', '-no-remote', '-profile', folder];
  const browser = spawn(program, flags, { stdio: ['ignore', 'ignore', 'pipe'] });
  let log = '';
  browser.stderr.on('data', (text) => (log = (log + text).slice(-4000)));
  let ended;
  browser.on('error', (error) => (ended = error)); // it could not be started
  browser.on('exit', (code) => (ended ??= new Error(`Firefox ended with ${code}`)));
  const gone = new Promise((done) => browser.on('exit', done));
  const kill = () => {
    if (!ended) browser.kill('SIGKILL');
  };

  const last = Date.now() + PATIENCE_MS;
  let line;
  while (!line) {
    if (ended || Date.now() > last) {
      kill();
      assert.fail(`no Firefox: ${ended?.message}\n${log}`);
    }
    await pause(LOOK_MS);
    line = await dial(told).catch(() => undefined);
  }
  const asked = async (method, path, body = {}) => {
    if (ended) throw new Error(`${ended.message}\n${log}`);
    if (method === 'DELETE') {
      // It writes down what it keeps before it ends.
      await line.ask('Marionette:Quit', { flags: ['eAttemptQuit'] }).catch(() => {});
      await Promise.race([gone, pause(PATIENCE_MS, undefined, { ref: false })]);
      return kill();
    }
    const [, pattern, command] = COMMANDS.find(([by, address]) => by === method && address.test(path));
    return line.ask(command, { ...body, ...pattern.exec(path).groups });
  };
  return { asked, end: async () => kill() };
}

/** Dials the port that Firefox has written down. */
async function dial(told) {
  const socket = connect(Number(readFileSync(told, 'utf8')), '127.0.0.1');
  await once(socket, 'connect');
  return new Line(socket);
}
