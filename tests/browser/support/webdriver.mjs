// A browser worked through its own driver: what a test needs of W3C WebDriver, spoken over HTTP.
import assert from 'node:assert/strict';
import { spawn } from 'node:child_process';
import { once } from 'node:events';
import { createServer } from 'node:net';
import { setTimeout as pause } from 'node:timers/promises';

/** Long enough for a slow machine; what needs it has failed. */
export const PATIENCE_MS = 90_000;
const LOOK_MS = 60;
const ELEMENT = 'element-6066-11e4-a52e-4f735466cecf';

/** What a page that is just being drawn anew may answer; the next look finds the element that has come. */
const PASSING = [
  'element click intercepted',
  'element not interactable',
  'javascript error',
  'move target out of bounds',
  'no such element',
  'stale element reference',
];

/** A command that the driver refused. */
export class Refused extends Error {
  constructor({ error, message }) {
    super(`${error}: ${message}`);
    this.kind = error;
  }
}

async function freePort() {
  const server = createServer().listen(0, '127.0.0.1');
  await once(server, 'listening');
  const { port } = server.address();
  server.close();
  await once(server, 'close');
  return port;
}

/** Starts the driver `program`; `flags(port)` says where it listens. Returns how it is asked, and how it is ended. */
export async function drive(program, flags, env = {}) {
  const port = await freePort();
  const driver = spawn(program, flags(port), { stdio: ['ignore', 'pipe', 'pipe'], env: { ...process.env, ...env } });
  let log = '';
  for (const stream of [driver.stdout, driver.stderr]) stream.on('data', (text) => (log = (log + text).slice(-4000)));
  let ended;
  driver.on('error', (error) => (ended = error)); // it could not be started
  driver.on('exit', (code) => (ended ??= new Error(`the driver ended with ${code}`)));
  const end = async () => {
    if (ended) return;
    const gone = once(driver, 'exit');
    driver.kill('SIGTERM');
    await Promise.race([gone, pause(5_000, undefined, { ref: false })]);
    if (!ended) driver.kill('SIGKILL');
  };
  const asked = async (method, path, body) => {
    if (ended) throw new Error(`${ended.message}\n${log}`);
    const answer = await fetch(`http://127.0.0.1:${port}${path}`, {
      method,
      headers: { 'content-type': 'application/json' },
      body: body && JSON.stringify(body),
    });
    const { value } = await answer.json();
    if (!answer.ok) throw new Refused(value);
    return value;
  };
  const last = Date.now() + PATIENCE_MS;
  while (!(await asked('GET', '/status').then(({ ready }) => ready, () => false))) {
    if (ended || Date.now() > last) {
      await end();
      assert.fail(`no driver: ${ended?.message}\n${log}`);
    }
    await pause(LOOK_MS);
  }
  return { asked, end };
}

/** Opens a browser by its driver, its window as near to a phone's as it goes. */
export async function open(asked, capabilities) {
  const made = await asked('POST', '/session', { capabilities: { alwaysMatch: capabilities } });
  const page = new Page(asked, `/session/${made.sessionId}`);
  await page.tell('/window/rect', { width: 390, height: 844 });
  return page;
}

/** A page and the one who looks at it and touches it. Elements are named by a selector of CSS and by their words. */
export class Page {
  #asked;
  #session;

  constructor(asked, session) {
    this.#asked = asked;
    this.#session = session;
  }

  tell(path, body = {}) {
    return this.#asked('POST', this.#session + path, body);
  }

  goto(url) {
    return this.tell('/url', { url });
  }

  async path() {
    return new URL(await this.#asked('GET', `${this.#session}/url`)).pathname;
  }

  /** Ends the browser. */
  async close() {
    if (!this.#session) return;
    const session = this.#session;
    this.#session = undefined;
    await this.#asked('DELETE', session);
  }

  /** What `look` returns in the page; it may be a promise. */
  async ask(look, ...args) {
    const script = `const done = arguments[arguments.length - 1];
      Promise.resolve([...arguments].slice(0, -1)).then((args) => (${look})(...args)).then((got) => done({ got }), (error) => done({ error: String(error) }));`;
    const answer = await this.tell('/execute/async', { script, args });
    // A page that gives way to another in the midst of it answers nothing.
    if (!answer) throw new Refused({ error: 'javascript error', message: 'the page was left' });
    const { got, error } = answer;
    if (error) throw new Refused({ error: 'javascript error', message: error });
    return got;
  }

  /** Waits until `look` returns something true in the page, and returns it. */
  async until(look, ...args) {
    return this.#patiently(() => this.ask(look, ...args), () => `${look} of ${JSON.stringify(args)}`);
  }

  /** Waits for an element that is in sight, by its selector and, where given, its label or a line of its words. */
  find(css, words) {
    return this.#patiently(() => this.#look(css, words), () => `${css} ${words ?? ''}`);
  }

  async #look(css, words) {
    const found = (css, words) => {
      const says = (element) => [...element.innerText.trim().split('\n'), element.getAttribute('aria-label')];
      const inSight = (element) => element.getClientRects().length > 0;
      return [...document.querySelectorAll(css)].find((element) => inSight(element) && (words === null || says(element).includes(words)));
    };
    return this.ask(found, css, words ?? null);
  }

  text(css) {
    return this.ask((css) => document.querySelector(css)?.innerText ?? '', css);
  }

  /** Touches an element once it answers: a key that sleeps is waited for. */
  async tap(css, words) {
    await this.#patiently(
      async () => {
        const element = await this.#look(css, words);
        if (!element || !(await this.#isAwake(element))) return false;
        await this.tell(`/element/${element[ELEMENT]}/click`);
        return true;
      },
      () => `a tap on ${css} ${words ?? ''}`,
    );
  }

  #isAwake(element) {
    return this.ask((element) => !element.disabled && element.getAttribute('aria-disabled') !== 'true', element);
  }

  /** Types into a field, or gives a file input the file of that path. */
  async type(css, text) {
    // An input for files may be out of sight: the one who looks sees the key that stands for it.
    const element = await this.#patiently(
      () => this.ask((css) => document.querySelector(css), css),
      () => css,
    );
    await this.tell(`/element/${element[ELEMENT]}/value`, { text });
  }

  /** Presses a key and keeps it pressed until `isWorked` returns something true in the page. */
  async hold(css, words, isWorked, ...args) {
    await this.#patiently(
      async () => {
        const element = await this.#look(css, words);
        if (!element || !(await this.#isAwake(element))) return false;
        await this.ask((element) => element.scrollIntoView({ block: 'nearest' }), element);
        const down = [
          { type: 'pointerMove', duration: 0, x: 0, y: 0, origin: element },
          { type: 'pointerDown', button: 0 },
        ];
        await this.#act(down);
        try {
          return await this.until(isWorked, ...args);
        } finally {
          await this.#act([{ type: 'pointerUp', button: 0 }]);
        }
      },
      () => `${css} ${words} held`,
    );
  }

  #act(actions) {
    return this.tell('/actions', { actions: [{ type: 'pointer', id: 'thumb', parameters: { pointerType: 'touch' }, actions }] });
  }

  async #patiently(look, what) {
    const end = Date.now() + PATIENCE_MS;
    let last;
    for (;;) {
      try {
        const seen = await look();
        if (seen) return seen;
      } catch (error) {
        if (!PASSING.includes(error.kind)) throw error;
        last = error;
      }
      if (Date.now() > end) assert.fail(`never: ${what()}; ${last?.message ?? ''}\n${await this.text('body')}`);
      await pause(LOOK_MS);
    }
  }
}
