// A ship for one test: the program itself on a data folder of its own, with the demo's crew and records.
import { execFileSync, spawn } from 'node:child_process';
import { once } from 'node:events';
import { mkdtempSync, rmSync } from 'node:fs';
import { createServer } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

const PROGRAM = process.env.CLEARHAWSE_BIN;

/** Makes an empty folder; the test's end removes it. */
export function folder(test, name) {
  const made = mkdtempSync(join(tmpdir(), `clearhawse-${name}-`));
  test.after(() => rmSync(made, { recursive: true, force: true, maxRetries: 10, retryDelay: 300 }));
  return made;
}

/** Runs the program once and returns `{ status, out }`. */
export function run(...args) {
  try {
    return { status: 0, out: execFileSync(PROGRAM, args, { encoding: 'utf8', stdio: 'pipe' }) };
  } catch (error) {
    if (typeof error.status !== 'number') throw error;
    return { status: error.status, out: error.stdout + error.stderr };
  }
}

/** The ship's server, on the same port and data over stops and starts. */
export class Ship {
  #program;
  #data;
  #told = '';
  address = '127.0.0.1:0';
  /** More flags for the next start. */
  more = [];

  constructor(data) {
    this.#data = data;
  }

  /** Serves; returns when the address is printed, and the code if the ship has nobody yet. */
  async start() {
    const args = ['serve', '--data', this.#data, '--listen', this.address, ...this.more];
    this.#told = '';
    this.#program = spawn(PROGRAM, args, { stdio: ['ignore', 'pipe', 'pipe'] });
    let log = '';
    this.#program.stderr.on('data', (text) => (log = (log + text).slice(-4000)));
    const ended = once(this.#program, 'exit').then(() => Promise.reject(new Error(`the server ended: ${log}`)));
    ended.catch(() => {}); // of interest only while it starts
    const printed = new Promise((done) => {
      this.#program.stdout.on('data', (text) => {
        this.#told += text;
        if (/\n(First-contact code|Enrolled): .*\n/.test(this.#told)) done();
      });
    });
    await Promise.race([printed, ended]);
    this.address = this.#told.match(/http:\/\/(\S+)/)[1];
  }

  /** The code of a ship that has nobody yet, as the console shows it. */
  get firstCode() {
    return this.#told.match(/First-contact code: ([\d ]+)/)[1].trim();
  }

  /** A new one-time code for somebody of the crew. */
  codeFor(name) {
    const told = run('code', '--data', this.#data, name);
    if (told.status !== 0) throw new Error(told.out);
    return told.out.match(/: (\d{4} \d{4}) /)[1];
  }

  /** The folder of its store and its key. */
  get data() {
    return this.#data;
  }

  url(path = '/') {
    return `http://${this.address}${path}`;
  }

  /** Ends the server at once, as a power cut would. */
  async cut() {
    if (!this.#program || this.#program.exitCode !== null || this.#program.signalCode !== null) return;
    const gone = once(this.#program, 'exit');
    this.#program.kill('SIGKILL');
    await gone;
  }
}

/** A ship under way with the demo's records. */
export async function ship(test) {
  const data = folder(test, 'data');
  const told = run('demo', '--data', data);
  if (told.status !== 0) throw new Error(told.out);
  const made = new Ship(data);
  test.after(() => made.cut());
  await made.start();
  return made;
}

/** Something else at the ship's address: `answer(request, response)` says what. */
export async function impostor(test, address, answer) {
  const server = createServer(answer);
  const [host, port] = address.split(':');
  await new Promise((done) => server.listen(Number(port), host, done));
  const stop = async () => {
    server.closeAllConnections();
    await new Promise((done) => server.close(done));
  };
  test.after(() => stop());
  return stop;
}
