// The offline worker: one strategy, no library. The build puts three constants ahead of this text:
//   BUILD  identity of this version
//   FILES  what the program is made of: path -> SHA-256 of its content, in hexadecimal
//   LATER  those paths of FILES that the first page can do without
//
// On a phone that has no version yet, the first page's files are kept first and the worker is ready for
// it; pages then ask for the rest to be kept, and are told whether all of it is there. A version
// that takes another's place brings all of its files before it may.
//
// Pages at the bow always come from the cached shell; other pages come from the server where it
// answers in time. Nothing under /api/ is ever touched, and neither is IndexedDB.
'use strict';
const PREFIX = 'clearhawse-';
const CACHE = PREFIX + BUILD;
const STATE = `${PREFIX}state`;
const SHELL = '/shell.html';
const HASHED = '/assets/';
const PAGE_TIMEOUT_MS = 3000;

addEventListener('install', (event) => event.waitUntil(install()));
addEventListener('activate', (event) => event.waitUntil(activate()));

// All or nothing: one file missing or altered, and this version is not installed.
async function install() {
  const isFirst = !registration.active;
  const wanted = Object.keys(FILES).filter((path) => !(isFirst && LATER.includes(path)));
  try {
    await keep(wanted);
  } catch (fault) {
    await caches.delete(CACHE);
    throw fault;
  }
}

async function keep(paths) {
  const cache = await caches.open(CACHE);
  const stored = await Promise.allSettled(paths.map((path) => store(cache, path, FILES[path])));
  const fault = stored.find((each) => each.status === 'rejected');
  if (fault) throw fault.reason;
}

let keepingAll;

// Keeps what is still missing of this version. Several pages may ask: it is fetched once.
function keepAll() {
  keepingAll ??= (async () => {
    const cache = await caches.open(CACHE);
    const kept = new Set((await cache.keys()).map((request) => new URL(request.url).pathname));
    await keep(Object.keys(FILES).filter((path) => !kept.has(path)));
  })().finally(() => (keepingAll = undefined));
  return keepingAll;
}

async function store(cache, path, digest) {
  // A hashed name means the same content for ever: an earlier version's copy saves the link.
  const kept = path.startsWith(HASHED) ? await caches.match(path) : undefined;
  if (kept && (await digestOf(kept.clone())) === digest) return cache.put(path, kept);
  return cache.put(path, await fetched(path, digest));
}

// What the browser keeps of its own accord may have been altered on its way: then the server is asked again.
async function fetched(path, digest) {
  const modes = path.startsWith(HASHED) ? ['default', 'reload'] : ['no-cache'];
  for (const mode of modes) {
    const response = await fetch(path, { cache: mode, redirect: 'error' });
    if (response.status !== 200) throw new Error(`${path}: the server answered ${response.status}`);
    if ((await digestOf(response.clone())) === digest) return response;
  }
  throw new Error(`${path}: content differs`);
}

async function digestOf(response) {
  const hash = await crypto.subtle.digest('SHA-256', await response.arrayBuffer());
  return Array.from(new Uint8Array(hash), (byte) => byte.toString(16).padStart(2, '0')).join('');
}

// Keeps this version and the one before it, which an open page may still be running.
async function activate() {
  const state = await caches.open(STATE);
  const before = await (await state.match('/active'))?.text();
  const keep = [CACHE, STATE, PREFIX + before];
  // While a newer version is being fetched its half-filled cache must not be taken for an old one.
  if (!registration.installing && !registration.waiting) {
    const names = await caches.keys();
    const old = names.filter((name) => name.startsWith(PREFIX) && !keep.includes(name));
    await Promise.all(old.map((name) => caches.delete(name)));
  }
  if (before !== BUILD) await state.put('/active', new Response(BUILD));
  await clients.claim();
}

addEventListener('message', (event) => {
  // A new version waits until a page says that nothing is being worked.
  if (event.data?.type === 'take-over') event.waitUntil(skipWaiting());
  if (event.data?.type === 'build') {
    const answer = (more) =>
      (event.ports[0] ?? event.source).postMessage({ type: 'build', build: BUILD, ...more });
    if (event.data.keep !== 'all') answer();
    else event.waitUntil(keepAll().then(() => answer({ isKept: true }), () => answer({ isKept: false })));
  }
});

addEventListener('fetch', (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== 'GET' || url.origin !== location.origin) return;
  if (url.pathname.startsWith('/api/')) return;
  if (request.mode === 'navigate') {
    event.respondWith(isBow(url.pathname) ? shell(request) : page(request));
  } else if (url.pathname.startsWith(HASHED) || Object.hasOwn(FILES, url.pathname)) {
    event.respondWith(file(request, url.pathname));
  }
});

const isBow = (path) => path === '/bow' || path.startsWith('/bow/');

async function shell(request) {
  const cache = await caches.open(CACHE);
  return (await cache.match(SHELL)) ?? fetch(request);
}

// The time limit holds until the first byte: a long page may then take as long as it needs.
async function page(request) {
  const limit = new AbortController();
  const timer = setTimeout(() => limit.abort(), PAGE_TIMEOUT_MS);
  try {
    const response = await fetch(request, { signal: limit.signal });
    return response.status >= 502 && response.status <= 504 ? await shell(request) : response;
  } catch {
    return shell(request);
  } finally {
    clearTimeout(timer);
  }
}

// This version's own copy first; then an earlier version's, for a page that still runs it. What is not kept yet is
// handed on only where it is what this version was built with.
async function file(request, path) {
  const cache = await caches.open(CACHE);
  const kept = (await cache.match(path)) ?? (await caches.match(path));
  if (kept) return kept;
  return Object.hasOwn(FILES, path) ? fetched(path, FILES[path]) : fetch(request);
}
