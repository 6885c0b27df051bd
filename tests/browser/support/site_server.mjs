// Serves a folder of built pages and nothing else, so that a test can take a version away, alter a
// file, or put a newer version in its place.
import { createHash } from 'node:crypto';
import { cpSync, existsSync, mkdtempSync, readFileSync, readdirSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:http';
import { tmpdir } from 'node:os';
import { extname, join } from 'node:path';

const POLICY =
  "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self' data:; " +
  "font-src 'self'; connect-src 'self'; manifest-src 'self'; worker-src 'self'";
const TYPES = {
  '.css': 'text/css',
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript',
  '.svg': 'image/svg+xml',
  '.wasm': 'application/wasm',
  '.webmanifest': 'application/manifest+json',
};

/** Copies the built pages, so that the test may change them; the test's end removes the copy. */
export function copyOfSite(test) {
  const copy = mkdtempSync(join(tmpdir(), 'clearhawse-site-'));
  test.after(() => rmSync(copy, { recursive: true, force: true }));
  cpSync(process.env.CLEARHAWSE_SITE, copy, { recursive: true });
  return copy;
}

/** Turns the pages in `folder` into another version: the same program under another identity. */
export function makeNewVersion(folder, build) {
  const shell = join(folder, 'shell.html');
  const page = readFileSync(shell, 'utf8').replace(/"clearhawse-build" content="\w+"/, `"clearhawse-build" content="${build}"`);
  writeFileSync(shell, page);
  const digest = createHash('sha256').update(page).digest('hex');
  const worker = join(folder, 'sw.js');
  const text = readFileSync(worker, 'utf8')
    .replace(/^const BUILD = "\w+"/, `const BUILD = "${build}"`)
    .replace(/"\/shell.html":"\w+"/, `"/shell.html":"${digest}"`);
  writeFileSync(worker, text);
}

const PROGRAM = /^(clearhawse|split_|chunk_).*\.(js|wasm)$/;
const sha256 = (content) => createHash('sha256').update(content).digest('hex');

/** Puts a version into `folder` of which every part of the program is another file, and takes the earlier one's away. */
export function makeOtherProgram(folder, build) {
  const assets = join(folder, 'assets');
  const names = readdirSync(assets).filter((name) => PROGRAM.test(name));
  const renamed = (name) => name.replace(/-\w+\.(js|wasm)$/, `-${build}.$1`);
  const written = (text) => names.reduce((text, name) => text.replaceAll(`/assets/${name}`, `/assets/${renamed(name)}`), text);
  // A section that means nothing: another file, the same program.
  const mark = Buffer.concat([Buffer.from([0, build.length + 1, build.length]), Buffer.from(build)]);
  const digests = {};
  for (const name of names) {
    const content = readFileSync(join(assets, name));
    const other = name.endsWith('.js') ? written(content.toString()) : Buffer.concat([content, mark]);
    rmSync(join(assets, name));
    writeFileSync(join(assets, renamed(name)), other);
    digests[`/assets/${renamed(name)}`] = sha256(other);
  }
  const shell = join(folder, 'shell.html');
  writeFileSync(shell, written(readFileSync(shell, 'utf8')));
  const worker = join(folder, 'sw.js');
  const text = written(readFileSync(worker, 'utf8'));
  const listed = Object.entries(digests).reduce(
    (text, [path, digest]) => text.replace(new RegExp(`"${path}":"\\w+"`), `"${path}":"${digest}"`),
    text,
  );
  writeFileSync(worker, listed);
  makeNewVersion(folder, build);
}

/** A server of one folder on a port that stays the same over stops and starts. */
export class SiteServer {
  #server;
  #port = 0;

  /**
   * Begins to serve `folder`; `answer(path, html)` may give another page or file than it holds, or a status instead. A file that
   * is not there is answered as the program does: under `/assets/` it is missing, everywhere else it is the shell.
   */
  async start(folder, answer = () => undefined) {
    this.#server = createServer((request, response) => {
      const { pathname } = new URL(request.url, 'http://localhost');
      const isFile = existsSync(join(folder, pathname)) && statSync(join(folder, pathname)).isFile();
      const file = isFile ? pathname : '/shell.html';
      const content = readFileSync(join(folder, file));
      const other = answer(pathname, content.toString());
      const isMissing = !isFile && pathname.startsWith('/assets/');
      if (isMissing || typeof other === 'number') {
        response.writeHead(isMissing ? 404 : other, { 'cache-control': 'no-store' });
        response.end();
        return;
      }
      response.writeHead(200, {
        'content-type': TYPES[extname(file)] ?? 'application/octet-stream',
        'content-security-policy': POLICY,
        'cache-control': file.startsWith('/assets/') ? 'public, max-age=31536000, immutable' : 'no-cache',
      });
      response.end(other ?? content);
    });
    await new Promise((done) => this.#server.listen(this.#port, '127.0.0.1', done));
    this.#port = this.#server.address().port;
  }

  /** Stops at once, open connections included, as a pulled plug would. */
  async stop() {
    this.#server.closeAllConnections();
    await new Promise((done) => this.#server.close(done));
  }

  url(path) {
    return `http://127.0.0.1:${this.#port}${path}`;
  }
}
