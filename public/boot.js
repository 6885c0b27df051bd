// Runs before the first paint, as a classic script in the document's head: sets the light, then
// starts the program, watches over its start, and keeps the offline worker registered.
//
// What it shares with the program (all optional, all strings):
//   localStorage   light = day | dusk | night | sun;  sunrise, sunset = ms since 1970 UTC
//   cookie         language = the tag of the language that the pages speak; English without it
//   <html>         lang = that tag; the program speaks what stands there
//                  data-light = day | dusk | night;   data-shell where no server drew the page
//                  data-started once the program has drawn the page
//                  data-offline = ready | failed;     data-update = ready
//   window events  out: clearhawse-offline, clearhawse-update
//                  in:  clearhawse-light (the setting changed), clearhawse-take-over (reload now),
//                       clearhawse-alarm (sound it), clearhawse-sound (data-sound has changed)
//   window         clearhawseLock = the phone's own lock, to be asked for by the program
'use strict';
(() => {
  const WORDS = {
    title: 'The program did not start',
    stopped: 'The program stopped',
    kept: 'Everything that was shown as done is kept on this device.',
    again: 'Start again',
  };
  const DAY_MS = 24 * 3600 * 1000;
  const TWILIGHT_MS = 40 * 60 * 1000; // common practice, no source: about civil twilight at mid latitudes
  const UPDATE_EVERY_MS = 3600 * 1000;
  const KEEP_EVERY_MS = 60 * 1000;
  const SHELL_ONCE = 'clearhawse-shell-once';
  const root = document.documentElement;

  // --- language ------------------------------------------------------------------------------

  const language = document.cookie.match(/(?:^|; )language=([\w-]+)/);
  if (language) root.lang = language[1];

  // --- light ---------------------------------------------------------------------------------

  function setting(name) {
    try {
      return localStorage.getItem(name);
    } catch {
      return null; // storage forbidden: the page still has to come up
    }
  }

  const modulo = (ms) => ((ms % DAY_MS) + DAY_MS) % DAY_MS;

  // The cached times may be days old; the sun keeps to them well enough until the next position.
  function lightBySun(now) {
    const rise = Number(setting('sunrise'));
    const set = Number(setting('sunset'));
    if (!rise || !set) {
      return matchMedia('(prefers-color-scheme: dark)').matches ? 'night' : 'day';
    }
    const up = modulo(now - rise) < modulo(set - rise);
    if (up) return 'day';
    return modulo(now - set) < TWILIGHT_MS || modulo(rise - now) < TWILIGHT_MS ? 'dusk' : 'night';
  }

  function applyLight() {
    const chosen = setting('light');
    const light = ['day', 'dusk', 'night'].includes(chosen) ? chosen : lightBySun(Date.now());
    root.dataset.light = light;
    root.style.colorScheme = light === 'day' ? 'light' : 'dark';
  }

  applyLight();
  setInterval(applyLight, 60_000);
  addEventListener('storage', applyLight);
  addEventListener('clearhawse-light', applyLight);

  // --- alarms --------------------------------------------------------------------------------

  let audio;

  // The page says whether it could be heard: a watch must know that it sits before a mute one.
  function saySound() {
    root.dataset.sound = audio?.state === 'running' ? 'on' : 'off';
    dispatchEvent(new Event('clearhawse-sound'));
  }

  // Browsers let a page be heard only after somebody has touched it.
  function wakeSound() {
    try {
      audio ??= Object.assign(new AudioContext(), { onstatechange: saySound });
      audio.resume().then(saySound, saySound);
    } catch {
      audio = undefined; // no sound on this device: the alarm is seen, and felt where it can shake
    }
  }

  addEventListener('pointerdown', wakeSound);
  addEventListener('keydown', wakeSound);

  // Three double tones, far apart in pitch: one of them is heard over wind and engine.
  addEventListener('clearhawse-alarm', () => {
    if (audio?.state !== 'running') return;
    for (const [turn, start] of [0, 0.8, 1.6].entries()) {
      for (const [hertz, after] of [[880, 0], [1760, 0.25]]) {
        const tone = audio.createOscillator();
        const loud = audio.createGain();
        const at = audio.currentTime + start + after;
        tone.type = 'square';
        tone.frequency.value = hertz * (turn === 1 ? 1.25 : 1);
        loud.gain.setValueAtTime(0.4, at);
        loud.gain.setValueAtTime(0, at + 0.2);
        tone.connect(loud).connect(audio.destination);
        tone.start(at);
        tone.stop(at + 0.2);
      }
    }
  });

  // --- the screen stays on -------------------------------------------------------------------

  // While a run is worked, or the bridge watches, the screen does not go dark between two steps. The browser lets go
  // whenever the page is out of sight, so it is asked again when the page is back.
  let stayAwake = false;
  let awake;

  async function keepAwake() {
    if (!stayAwake || awake || document.visibilityState !== 'visible') return;
    try {
      awake = await navigator.wakeLock.request('screen');
      awake.addEventListener('release', () => {
        awake = undefined;
        delete root.dataset.awake;
      });
      root.dataset.awake = 'on';
      if (!stayAwake) await awake.release();
    } catch {
      awake = undefined; // an old browser, or a battery that is low: the screen goes dark as it always does
    }
  }

  document.addEventListener('visibilitychange', keepAwake);
  addEventListener('clearhawse-awake', () => {
    stayAwake = true;
    keepAwake();
  });
  addEventListener('clearhawse-asleep', () => {
    stayAwake = false;
    awake?.release().catch(() => {});
  });

  // --- focus ---------------------------------------------------------------------------------

  // The sheet that asks for a PIN has the focus to itself, and gives it back. After a tick the focus goes to the next
  // step, so that a reader of the screen says it; whoever worked elsewhere on the page is left there.
  let sheetStep;
  let wasInSheet = false;
  let before;

  function keepFocus() {
    const panel = document.querySelector('.unlock-panel');
    const has = document.activeElement;
    if (panel) {
      if (panel.contains(has)) return;
      before ??= has;
      panel.tabIndex = -1;
      panel.focus({ preventScroll: true });
      return;
    }
    if (before) {
      if (before.isConnected) before.focus({ preventScroll: true });
      before = undefined;
    }
    const title = document.querySelector('.sheet-title');
    const step = title?.dataset.step ?? title?.dataset.state;
    if (step === sheetStep) return;
    sheetStep = step;
    if (title && wasInSheet && (!has || has === document.body || !has.isConnected)) {
      title.tabIndex = -1;
      title.focus({ preventScroll: true });
    }
  }

  addEventListener('focusin', (event) => {
    const panel = document.querySelector('.unlock-panel');
    if (!panel) wasInSheet = Boolean(event.target.closest?.('.action-sheet'));
    else if (!panel.contains(event.target)) keepFocus();
  });

  // Tab goes round inside the panel.
  addEventListener('keydown', (event) => {
    const panel = event.key === 'Tab' && document.querySelector('.unlock-panel');
    if (!panel) return;
    const keys = [...panel.querySelectorAll('button:not([disabled]), a[href], input')];
    const at = keys.indexOf(document.activeElement);
    const next = event.shiftKey ? (at <= 0 ? keys.length - 1 : at - 1) : (at + 1) % keys.length;
    event.preventDefault();
    keys[next]?.focus();
  });

  function followFocus() {
    new MutationObserver(keepFocus).observe(document.body, { childList: true, subtree: true });
  }

  // --- the phone's own lock ------------------------------------------------------------------

  // A passkey of this phone gives a secret for a salt (WebAuthn's `prf`), which is stored nowhere. No server takes part:
  // nobody checks the challenge, and which phone it is nobody asks. What the secret opens, the program knows.
  let asking;

  function askPhone(what, wanted) {
    asking?.abort(); // browsers take one question at a time
    asking = new AbortController();
    const publicKey = { challenge: crypto.getRandomValues(new Uint8Array(32)), timeout: 60_000, ...wanted };
    return navigator.credentials[what]({ signal: asking.signal, publicKey });
  }

  // A passkey may have one secret with and another without its owner being asked for: asked it is, always.
  const userVerification = 'required';
  const rp = { id: location.hostname, name: 'Clearhawse' };
  const none = () => new DOMException('the phone gives no secret', 'NotSupportedError');

  window.clearhawseLock = {
    // Addresses in numbers can have no passkeys. Browsers that do not say what they can are asked by trying.
    async isThere() {
      if (!isSecureContext || !window.PublicKeyCredential || /^[\d.]+$|:/.test(rp.id)) return false;
      const can = await PublicKeyCredential.getClientCapabilities?.();
      if (can?.['extension:prf'] === false) return false;
      return PublicKeyCredential.isUserVerifyingPlatformAuthenticatorAvailable();
    },
    async make(name, salt) {
      const made = await askPhone('create', {
        rp,
        user: { id: crypto.getRandomValues(new Uint8Array(16)), name, displayName: name },
        pubKeyCredParams: [-7, -8, -257].map((alg) => ({ type: 'public-key', alg })),
        authenticatorSelection: { authenticatorAttachment: 'platform', residentKey: 'preferred', userVerification },
        attestation: 'none',
        extensions: { prf: {} },
      });
      const id = new Uint8Array(made.rawId);
      try {
        if (!made.getClientExtensionResults().prf?.enabled) throw none();
        return { id, secret: await this.secret(id, salt) };
      } catch (error) {
        this.forget(id);
        throw error;
      }
    },
    async secret(id, salt) {
      const given = await askPhone('get', {
        rpId: rp.id,
        allowCredentials: [{ type: 'public-key', id, transports: ['internal'] }],
        userVerification,
        extensions: { prf: { eval: { first: salt } } },
      });
      const secret = given.getClientExtensionResults().prf?.results?.first;
      if (!secret) throw none();
      return new Uint8Array(secret);
    },
    async forget(id) {
      const credentialId = btoa(String.fromCharCode(...id)).replace(/\+/g, '-').replace(/\//g, '_').replace(/=/g, '');
      await PublicKeyCredential.signalUnknownCredential?.({ rpId: rp.id, credentialId }).catch(() => {});
    },
  };

  // --- start and watchdog --------------------------------------------------------------------

  const named = (name) => document.querySelector(`meta[name="clearhawse-${name}"]`)?.content;
  let started = false;
  let failed = false;

  // A page drawn by the server that could not be brought to life is loaded again, once, and
  // then mounted from nothing, as it would be offline.
  function shellWanted() {
    try {
      const wanted = sessionStorage.getItem(SHELL_ONCE) !== null;
      sessionStorage.removeItem(SHELL_ONCE);
      return wanted;
    } catch {
      return false;
    }
  }

  function reloadIntoShell() {
    if (root.hasAttribute('data-shell')) return false;
    try {
      sessionStorage.setItem(SHELL_ONCE, '1');
    } catch {
      return false;
    }
    location.reload();
    return true;
  }

  function fail(error) {
    if (failed) return;
    failed = true;
    console.error(error);
    if (!reloadIntoShell()) showFault(error);
  }

  function showFault(error) {
    const line = (tag, text) => Object.assign(document.createElement(tag), { textContent: text });
    const panel = line('main', '');
    panel.className = 'start-fault';
    panel.setAttribute('role', 'alert');
    const again = line('button', WORDS.again);
    again.type = 'button';
    again.addEventListener('click', () => location.reload());
    panel.append(
      line('h1', started ? WORDS.stopped : WORDS.title),
      line('p', WORDS.kept),
      line('p', String(error)),
      again,
    );
    Object.assign(panel.style, { padding: '24px', fontSize: '18px' });
    Object.assign(again.style, { minHeight: '64px', padding: '0 24px', font: 'inherit' });
    document.body.replaceChildren(panel);
  }

  // After a panic the wasm instance is dead, whatever the page looks like.
  const isPanic = (error) => error instanceof WebAssembly.RuntimeError;
  addEventListener('error', (event) => isPanic(event.error) && fail(event.error));
  addEventListener('unhandledrejection', (event) => isPanic(event.reason) && fail(event.reason));

  if (shellWanted()) root.setAttribute('data-shell', '');

  async function start() {
    // What the shell says while the program is on its way stays until the program draws.
    if (root.hasAttribute('data-shell') && !document.querySelector('.start-loading')) document.body.replaceChildren();
    followFocus();
    try {
      const program = await import(named('app'));
      await program.default({ module_or_path: named('wasm') });
      await program.start();
      started = true;
      root.setAttribute('data-started', '');
    } catch (error) {
      fail(error);
    }
  }

  // --- offline worker ------------------------------------------------------------------------

  function tell(name, state) {
    root.dataset[name] = state;
    dispatchEvent(new CustomEvent(`clearhawse-${name}`, { detail: state }));
  }

  function watch(registration) {
    const follow = (worker) => {
      worker?.addEventListener('statechange', () => {
        if (worker.state === 'installed' && registration.active) tell('update', 'ready');
        if (worker.state === 'redundant' && !registration.active) tell('offline', 'failed');
      });
    };
    if (registration.waiting && registration.active) tell('update', 'ready');
    follow(registration.installing);
    registration.addEventListener('updatefound', () => follow(registration.installing));

    let taken = false;
    addEventListener('clearhawse-take-over', () => {
      taken = registration.waiting !== null;
      registration.waiting?.postMessage({ type: 'take-over' });
    });
    // Another tab may ask for the new version: this one, perhaps in the middle of a run, stays.
    navigator.serviceWorker.addEventListener('controllerchange', () => taken && location.reload());

    let lookedMs = Date.now();
    document.addEventListener('visibilitychange', () => {
      if (document.visibilityState !== 'visible' || Date.now() - lookedMs < UPDATE_EVERY_MS) return;
      lookedMs = Date.now();
      registration.update().catch(() => {}); // out of range: the next time will do
    });
  }

  // Whether the worker keeps the whole program; it gets what is missing first.
  function keepAll(worker) {
    return new Promise((done) => {
      const { port1, port2 } = new MessageChannel();
      // A worker of an earlier edition does not say: it keeps everything, or it is not there.
      port1.onmessage = ({ data }) => done(data.isKept ?? true);
      worker.postMessage({ type: 'build', keep: 'all' }, [port2]);
    });
  }

  async function makeReady() {
    const { active } = await navigator.serviceWorker.ready;
    const isReady = await keepAll(active);
    if (isReady || root.dataset.offline !== 'ready') tell('offline', isReady ? 'ready' : 'failed');
    return isReady;
  }

  async function register() {
    try {
      const options = { updateViaCache: 'none' };
      watch(await navigator.serviceWorker.register('/sw.js', options));
    } catch (error) {
      // Offline with a worker already in place also ends here; then all is well.
      const kept = await navigator.serviceWorker.getRegistration().catch(() => undefined);
      if (kept?.active) watch(kept);
      else {
        console.warn(error);
        tell('offline', 'failed');
      }
    }
    if (await makeReady()) return;
    // A part of the program could not be had: it is asked for again when there may be a network.
    const again = async () => {
      if (root.dataset.offline !== 'ready') await makeReady();
    };
    addEventListener('online', again);
    setInterval(again, KEEP_EVERY_MS);
  }

  document.addEventListener('DOMContentLoaded', () => {
    start();
    if ('serviceWorker' in navigator) register();
    else tell('offline', 'failed'); // no secure context, or a browser without workers
  });
})();
