// A procedure walked at phone size, step by step: each sheet is measured as the hand comes to it, and presses are counted.
import assert from 'node:assert/strict';
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import * as bow from './bow.mjs';
import { inSight } from './look.mjs';
import { picture } from './party.mjs';
import { say } from './words.mjs';

const SHOTS = join(import.meta.dirname, '../../../target/looks/walk');
const LOOKED_AT = {
  words: '.sheet-title',
  caution: '.action-sheet .caution',
  keys: [
    '.sheet-actions .button',
    '.keypad .key',
    // While people are inside, the keys about them come before all else.
    '.sheet-body:not(:has(> .people-inside li)) > .sheet-choices:not(.is-people) .button',
    '.sheet-body:not(:has(> .people-inside li)) > .button',
    '.people-inside .button',
    '.people-inside ~ .is-people .button',
    '.sheet-body .hold-button',
    '.log-key',
    '.take-photo .button',
    '.each-item:only-child .button',
  ].join(),
};
const PHONE = { width: 390, height: 844 };
const SMALL = { width: 360, height: 640 };
/** Each kind of sheet is looked at in these once: width, height, the letters in percent of what the browser starts with. */
const ODD = [[844, 390, 100], [390, 844, 200]];
/** Whether a second signature, or a consent, is asked for: by the words that the sheet shows then. */
const WORDS = { sign: say('SIGN_SECOND'), asked: say('CONSENT_ASKED') };

/** How many times as fast a key wakes on a phone of the walk. How long it sleeps is another story's matter. */
const HURRY = 8;

/** Runs in the page: keys wake and held keys work sooner, and presses are counted. */
function hurry(times) {
  const now = performance.now.bind(performance);
  performance.now = () => now() * times;
  const later = window.setTimeout.bind(window);
  window.setTimeout = (what, ms, ...rest) => later(what, ms <= 1000 ? ms / times : ms, ...rest);
  window.presses = 0;
  document.addEventListener('pointerdown', () => (window.presses += 1), true);
}

/** Makes the phones of a party ready to be walked with. */
export async function ready(party) {
  for (const { page } of party.people) {
    await page.clock.install();
    await page.evaluate(hurry, HURRY);
  }
}

/** What the sheet shows; runs in the page. */
function shown({ sign, asked }) {
  const sheet = document.querySelector('.action-sheet');
  const title = sheet?.querySelector('.sheet-title');
  const keys = [...(sheet?.querySelectorAll('button') ?? [])];
  const key = keys.find((one) => one.innerText.includes(sign));
  const words = [...(sheet?.querySelectorAll('.sheet-words') ?? [])];
  return {
    step: title?.dataset.step ?? title?.dataset.state,
    second: key !== undefined,
    mayAct: key ? !key.disabled : !sheet?.querySelector('.is-first')?.disabled,
    held: words.some((one) => one.innerText.includes(asked)),
    why: sheet?.querySelector('.sheet-why')?.innerText ?? '',
    isLocked: document.querySelector('.person-mark')?.dataset.state !== 'unlocked',
  };
}

/** Takes a part of the page out of sight; runs in the page. */
function hide(selector) {
  const sheet = new CSSStyleSheet();
  sheet.replaceSync(`${selector} { display: none !important }`);
  document.adoptedStyleSheets.push(sheet);
}

const look = (page) => page.evaluate(shown, WORDS);

/** A number within the limits that a keypad shows. */
function within(label, limit) {
  if (label.startsWith('calibrated')) return '20991231';
  const bound = (words) => limit.match(new RegExp(`${words} (-?[\\d.]+)`))?.[1];
  const above = bound('above');
  return bound('at least') ?? bound('at most') ?? (above === undefined ? undefined : String(Number(above) + 1)) ?? (bound('below') ? '0' : '3');
}

export class Walk {
  /** A row for each sheet: `sizes` says for each size how much of the words, the caution and the keys is in sight. */
  rows = [];
  digits = 0;
  #counted = new Map();
  #looked = new Set();
  #odd;

  /** `odd` are the kinds of sheet that were looked at in odd sizes before. */
  constructor(party, slug, steps, odd) {
    Object.assign(this, { party, slug, steps });
    this.#odd = odd;
    this.hand = party.hand;
  }

  /** Begins the run, with `wanted` of the choices that are asked first, and turns every phone to it. */
  async begin(wanted = {}) {
    const { hand } = this;
    for (const { page } of this.party.people) await page.evaluate(() => (window.presses = 0));
    await hand.locator(`[data-slug="${this.slug}"]`).click();
    const begin = hand.locator('.start-begin');
    await hand.waitForFunction(() => location.pathname.startsWith('/bow/run/') || document.querySelector('.start-begin'), null, bow.PATIENCE);
    if (await begin.count()) {
      const asked = this.steps.slice(0, this.steps.findIndex((step) => step.kind !== 'choice'));
      for (const [at, step] of asked.entries()) {
        const option = this.#option(step, wanted[step.id]);
        await hand.locator('.start-choice').nth(at).getByRole('button').nth(step.options.indexOf(option)).click();
      }
      await begin.click();
    }
    await hand.waitForURL('**/bow/run/*', bow.PATIENCE);
    await hand.locator('.sheet-title').waitFor(bow.PATIENCE);
    await this.party.turnTo(new URL(hand.url()).pathname);
  }

  #option(step, wanted) {
    return step.options.find(({ key, bad }) => (wanted ? key === wanted : !bad));
  }

  /** Walks the run to its end, each branch that is not taken looked at from where it is chosen; then closes it. */
  async walk(wanted = {}) {
    await this.begin(wanted);
    for (let n = 0; n < 150; n += 1) {
      const now = await look(this.hand);
      if (now.step === 'all-done') return this.#close();
      if (now.isLocked) await bow.unlock(this.hand);
      await this.work(now, wanted);
    }
    return assert.fail(`${this.slug} is never done: ${await this.party.standing(this.hand)}`);
  }

  /** Begins a run and only looks at some of its steps. */
  async lookAhead(ids, wanted = {}) {
    await this.begin(wanted);
    for (const id of ids) await this.#ahead(this.steps.find((step) => step.id === id));
    await this.leave();
  }

  async #close() {
    for (const page of [this.hand, this.party.master]) {
      const key = page.getByRole('button', { name: say('CLOSE_RUN') });
      await this.party.awake(page);
      await this.party.until(page, async () => (await look(page)).step === 'all-done', 'all is done here too');
      if (!(await key.isEnabled())) continue;
      await bow.holdDown(page, key);
      break;
    }
    this.presses = await this.hand.evaluate(() => window.presses);
    this.others = 0;
    for (const { page } of this.party.people.slice(1)) this.others += await page.evaluate(() => window.presses);
    await this.party.until(this.hand, (page) => page.getByText(say('RUN_CLOSED')).isVisible(), 'it is closed');
  }

  /** Goes back to the list on every phone. */
  async leave() {
    for (const { page } of this.party.people) {
      await page.locator('.bow-back').click();
      await page.locator('.bow-home').waitFor(bow.PATIENCE);
    }
  }

  /** The ids of the steps that no sheet was seen of. */
  unseen() {
    const seen = new Set(this.rows.map((row) => row.step));
    return this.steps.map((step) => step.id).filter((id) => !seen.has(id));
  }

  /** Measures the sheet in sight, once for each step, and as the second to sign sees it once more. */
  async measure(id, kind, is = '') {
    if (this.#looked.has(id + is)) return;
    this.#looked.add(id + is);
    const { hand } = this;
    const row = { slug: this.slug, step: id, kind: kind + is, sizes: {} };
    row.sizes['390x844'] = await inSight(hand, LOOKED_AT);
    await hand.setViewportSize(SMALL);
    row.sizes['360x640'] = await inSight(hand, LOOKED_AT);
    const isNew = !this.#odd.has(row.kind);
    if (isNew) {
      this.#odd.add(row.kind);
      await this.#oddly(row);
    }
    await hand.setViewportSize(PHONE);
    if (isNew || process.env.CLEARHAWSE_SHOTS === 'all') await this.#shoot(row);
    this.rows.push(row);
  }

  async #oddly(row) {
    const cdp = await this.hand.context().newCDPSession(this.hand);
    for (const [width, height, percent] of ODD) {
      await this.hand.setViewportSize({ width, height });
      await cdp.send('Page.setFontSizes', { fontSizes: { standard: (16 * percent) / 100 } });
      const shares = await inSight(this.hand, LOOKED_AT);
      row.sizes[percent === 100 ? `${width}x${height}` : `${percent} %`] = shares;
      await cdp.send('Page.setFontSizes', { fontSizes: { standard: 16 } });
    }
    await cdp.detach();
  }

  /** Takes pictures of a sheet in two lights and sizes, where they are asked for. */
  async #shoot(row) {
    if (!process.env.CLEARHAWSE_SHOTS) return;
    mkdirSync(SHOTS, { recursive: true });
    for (const size of [PHONE, SMALL]) {
      await this.hand.setViewportSize(size);
      for (const name of ['day', 'night']) {
        await this.hand.evaluate((to) => (document.documentElement.dataset.light = to), name);
        const file = `${row.kind}-${this.slug}-${row.step}-${size.width}-${name}.png`.replace(/[ ,]+/g, '-');
        await this.hand.screenshot({ path: join(SHOTS, file) });
      }
    }
    await this.hand.evaluate(() => (document.documentElement.dataset.light = 'day'));
    await this.hand.setViewportSize(PHONE);
  }

  /** Does what the sheet asks for, by whoever may. */
  async work(now, wanted) {
    const { hand, party } = this;
    const step = this.steps.find(({ id }) => id === now.step);
    assert.ok(step, `${this.slug}: no step is called ${now.step}`);
    party.log.push(step.id);
    const is = now.second ? ', second' : '';
    await this.measure(step.id, step.cable ? 'cable' : step.kind, is);
    const later = hand.locator('.chain-row', { hasText: say('SECOND_STILL') }).first();
    if (now.held && (await later.count())) return this.#signLater(await later.getAttribute('data-step'));
    if (now.second) await this.#by(party.second, step, (page) => page.getByRole('button', { name: say('SIGN_SECOND') }).click());
    else if (now.held) await this.#by(party.master, step, (page) => bow.holdDown(page, page.getByRole('button', { name: say('GIVE_CONSENT') })));
    else if (/this is for the/.test(now.why)) await this.#by(party.master, step, (page) => bow.first(page).click());
    else if (/not yet/.test(now.why) && !['timer', 'wait'].includes(step.kind)) await this.#goOn(step);
    else if (step.byAnother) await this.#by(party.second, step, (page) => this.#readings(step, page), true);
    else await this.#answer(step, wanted);
    await this.#changed(now);
  }

  /** The second comes to a step that the work has gone past, and that a consent waits for. */
  async #signLater(id) {
    const { party } = this;
    const step = this.steps.find((one) => one.id === id);
    const row = (page) => page.locator(`.chain-row[data-step="${id}"]`);
    const isWanted = async (page) => (await row(page).innerText()).includes(say('SECOND_STILL'));
    await party.until(party.second, isWanted, `${id} is to be signed`);
    await row(party.second).locator('button').first().click();
    await this.#by(party.second, step, (page) => page.getByRole('button', { name: say('SIGN_SECOND') }).click());
    await party.until(this.hand, async (page) => !(await isWanted(page)), `${id} is signed here too`);
  }

  async #changed(was) {
    const end = Date.now() + 60_000;
    for (let n = 1; ; n += 1) {
      const now = await look(this.hand);
      if (now.step && (now.step !== was.step || now.second !== was.second || (/not yet/.test(was.why) && now.why === ''))) return;
      assert.ok(Date.now() < end, `${this.slug}: after ${was.step}: ${await this.party.standing(this.hand)}`);
      if (n % 30 === 0) await this.party.told();
      await this.hand.waitForTimeout(40);
    }
  }

  /** Another comes to the step on their own phone, and does their part. */
  async #by(page, step, act, isAsked = false) {
    const end = Date.now() + 60_000;
    for (let n = 1; ; n += 1) {
      const now = await look(page);
      if (now.isLocked) await bow.unlock(page);
      if (now.step === step.id && (now.held || now.mayAct || isAsked)) break;
      assert.ok(Date.now() < end, `${this.slug}: they never come to ${step.id}: ${await this.party.standing(page)}`);
      if (n % 10 === 0) await this.party.told();
      await page.waitForTimeout(100);
    }
    await act(page);
  }

  /** A step waits for other work that the walk has not done: the master lets it go on. */
  async #goOn(step) {
    const { master } = this.party;
    await this.party.awake(master);
    const order = master.locator('.orders .is-fault').first();
    await this.party.until(master, async () => (await order.count()) > 0, `an order past ${step.id}`);
    await order.locator('summary').click();
    await order.locator('textarea').fill('done this week, and signed on paper');
    await this.party.hold(master, say('GO_ON'));
  }

  async #answer(step, wanted) {
    const { hand } = this;
    const sheet = hand.locator('.action-sheet');
    const all = {
      choice: () => this.#choose(step, wanted),
      reading: () => this.#readings(step),
      count: () => this.#readings(step),
      text: () => sheet.locator('textarea.sheet-text').fill('as agreed with the officer; two hands, twenty minutes'),
      photo: async () => {
        await hand.locator('#step-photo').setInputFiles(await picture(hand));
        await hand.locator('.take-photo img.photo').waitFor(bow.PATIENCE);
      },
      position: async () => {
        await hand.getByRole('button', { name: say('FIX_TAKE') }).click();
        await hand.getByText(say('fix_accuracy', { metres: 6 })).waitFor(bow.PATIENCE);
      },
      names: async () => {
        for (let n = 0; n < step.atLeast; n += 1) await sheet.locator('.button[data-person]').nth(n).click();
      },
      item: async () => {
        const fit = sheet.locator('.item-pick').filter({ hasNot: hand.locator('.item-why') });
        await fit.first().click();
      },
      each: () => this.#each(step),
      people: () => this.#people(step),
      log: () => this.#log(step),
      timer: () => this.#wait(step),
      wait: () => this.#wait(step),
    };
    if (all[step.kind] && (await all[step.kind]()) === 'done') return;
    await bow.first(hand).click();
  }

  async #press(name) {
    await this.hand.locator('.action-sheet').getByRole('button', { name }).click();
  }

  /** Looks at each branch that is not taken, then chooses the one that is. */
  async #choose(step, wanted) {
    const { hand } = this;
    const pick = (option) => hand.locator('.sheet-choices > .button').nth(step.options.indexOf(option)).click();
    const choose = async (option) => {
      await pick(option);
      const reason = hand.locator('.action-sheet .sheet-text');
      if (await reason.count()) await reason.fill('no power on that side');
      await bow.first(hand).click();
    };
    const mine = this.#option(step, wanted[step.id]);
    for (const other of step.options.filter((option) => option !== mine)) {
      const leads = ({ id, when, ofShip }) =>
        !ofShip && !this.rows.some((row) => row.step === id) && when.some(([choice, is]) => choice === step.id && is.includes(other.key) && !is.includes(mine.key));
      const branch = this.steps.filter(leads);
      if (branch.length === 0) continue;
      await choose(other);
      for (const one of branch) await this.#ahead(one);
      await this.#open(step.id);
    }
    await pick(mine);
    const reason = hand.locator('.action-sheet .sheet-text');
    if (await reason.count()) await reason.fill('no power on that side');
  }

  async #open(id) {
    const row = this.hand.locator(`.chain-row[data-step="${id}"] button`).first();
    if ((await row.count()) === 0) return false;
    await row.evaluate((key) => key.click());
    await this.hand.locator(`.sheet-title[data-step="${id}"]`).waitFor(bow.PATIENCE);
    return true;
  }

  /** Measures a step that is not its turn: as it will stand then, without the line that says what comes first. */
  async #ahead(step) {
    await this.hand.locator(`.chain-row[data-step="${step.id}"]`).waitFor({ state: 'attached', timeout: 8_000 }).catch(() => {});
    if (!(await this.#open(step.id))) return;
    await this.hand.evaluate(hide, '.sheet-why');
    await this.measure(step.id, step.cable ? 'cable' : step.kind);
    await this.hand.evaluate(() => document.adoptedStyleSheets.pop());
  }

  async #readings(step, page = this.hand) {
    const read = () => {
      const keypad = document.querySelector('.action-sheet .keypad');
      return keypad && [document.querySelector('.sheet-title').dataset.step, keypad.getAttribute('aria-label'), keypad.querySelector('.keypad-limit').innerText];
    };
    for (let n = 0; n < 9; n += 1) {
      const now = await page.evaluate(read);
      if (!now || now[0] !== step.id) return 'done';
      const [, label, limit] = now;
      const value = this.#counted.get(step.sameAs) ?? within(label, limit);
      if (step.kind === 'count') this.#counted.set(step.id, value);
      await page.locator('.keypad').pressSequentially(value);
      this.digits += value.length;
      await bow.first(page).click();
      const kept = (was) => {
        const keypad = document.querySelector('.action-sheet .keypad');
        return document.querySelector('.sheet-title')?.dataset.step !== was[0] || keypad?.getAttribute('aria-label') !== was[1];
      };
      await page.waitForFunction(kept, now, bow.PATIENCE);
    }
    return assert.fail(`${this.slug}: never read: ${await this.party.standing(page)}`);
  }

  async #each(step) {
    const { hand } = this;
    if (await hand.locator('.action-sheet .keypad').count()) return this.#readings(step);
    const all = hand.locator('.each-all, .each-item:only-child [data-found="good"]');
    await all.first().click();
    return undefined;
  }

  async #log(step) {
    const { hand } = this;
    const sheet = hand.locator('.action-sheet');
    if (step.cable) {
      if (step.side === 'either') await sheet.locator('.sheet-choices.is-row .button').first().click();
      await this.#press(say('WEIGHS'));
      await sheet.getByRole('button', { name: say('STRAIN_HEAVY'), exact: true }).click();
      await sheet.locator('.log-keys').waitFor(bow.PATIENCE);
    } else {
      const fields = sheet.locator('.field input');
      for (let n = 0; n < (await fields.count()) - 1; n += 1) await fields.nth(n).fill('100');
      await fields.last().fill('seen and sound');
      await bow.first(hand).click();
    }
    await this.#press(say('THATS_ALL'));
    return 'done';
  }

  async #wait(step) {
    const { hand, party } = this;
    const now = await look(hand);
    if (step.kind === 'timer' && now.mayAct) await bow.first(hand).click();
    // The page's clock is put forward; what the head then says of it is no part of the sheet.
    for (const { page } of party.people) {
      await page.evaluate(hide, '.bow-notices');
      await page.clock.fastForward(125 * 60_000);
    }
    for (const { page } of party.people) if ((await look(page)).isLocked) await bow.unlock(page);
    return 'done';
  }

  /** Two go in, are called, and come out. */
  async #people(step) {
    const { hand } = this;
    const free = hand.locator('.sheet-choices.is-people .button:not([disabled])');
    const inside = hand.locator('.people-inside .button');
    await this.#press(say('NAME_ATTENDANT'));
    await free.last().click();
    for (let n = 1; n <= 2; n += 1) {
      await this.#press(say('GOES_IN'));
      await this.measure(step.id, 'people', ', who');
      await free.first().click();
      await inside.nth(n - 1).waitFor(bow.PATIENCE);
    }
    await this.measure(step.id, 'people', ', inside');
    for (let left = 2; left > 0; left -= 1) {
      await inside.first().click();
      await hand.waitForFunction((left) => document.querySelectorAll('.people-inside .button').length < left, left, bow.PATIENCE);
    }
    await this.#press(say('EVERYONE_OUT'));
    return 'done';
  }
}
