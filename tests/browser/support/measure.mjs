// How a benchmark tells what it found: a line for people, and one that `cargo xtask bench` puts into its table.

/** A short round shows that a benchmark still works; nobody reads its numbers. */
export const IS_SHORT = process.env.CLEARHAWSE_BENCH === 'short';

/** How often to measure: so often, or a few times in a short round. */
export const times = (full) => (IS_SHORT ? Math.min(full, 4) : full);

/** The value below which the given part of `values` lies. */
export function quantile(values, part) {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor((sorted.length - 1) * part)];
}

/** Says a measurement, what it is held against, and the most that their ratio may be. */
export function report(name, measured, unit, against, most, what) {
  const ratio = measured / against;
  if (!Number.isFinite(ratio)) throw new Error(`${name}: ${measured} against ${against} is no ratio`);
  const said = `${measured.toFixed(1)} ${unit} against ${against.toFixed(1)} ${unit}, ${what}`;
  console.log(`${name.padEnd(34)} ratio ${ratio.toFixed(2).padStart(6)}  at most ${most}  (${said})`);
  console.log(`bench\t${name}\t${ratio.toFixed(3)}\tmost\t${most}\t${said}`);
}

/** Notes when a step's key is pressed and when a record is on disk; runs in the page. */
export function watchDisk() {
  window.ticks = [];
  const start = WebAssembly.instantiateStreaming;
  WebAssembly.instantiateStreaming = async (...what) => {
    const made = await start.apply(WebAssembly, what);
    // The program comes in parts, which all work in the memory of the first.
    window.programMemory ??= made.instance.exports.memory;
    return made;
  };
  const transaction = IDBDatabase.prototype.transaction;
  IDBDatabase.prototype.transaction = function (names, mode, options) {
    const made = transaction.call(this, names, mode, options);
    if (mode === 'readwrite' && this.name === 'clearhawse' && [names].flat().includes('records') && window.pressedMs) {
      made.addEventListener('complete', () => {
        if (!window.pressedMs) return;
        window.ticks.push(performance.now() - window.pressedMs);
        window.pressedMs = 0;
      });
    }
    return made;
  };
  addEventListener('click', (event) => {
    if (event.target.closest?.('.sheet-actions .is-first')) window.pressedMs = performance.now();
  }, true);
}
