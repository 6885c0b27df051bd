// Several people at one piece of work, each with a phone: whoever may do a step does it.
import assert from 'node:assert/strict';
import * as bow from './bow.mjs';
import { open, profile } from './browser.mjs';
import { say } from './words.mjs';

export const PHONE = { viewport: { width: 390, height: 844 } };

/** Readings that a sound ship gives, by what the point is called. */
const READINGS = {
  ...bow.READINGS,
  'flow at the hose end': '500',
  oxygen: '20.9',
  flammable: '0',
  monoxide: '0',
  sulphide: '0',
  dioxide: '0.04',
  'set 1': '280',
  'set 2': '270',
  tools: '3',
  'depth at the bow': '18',
  'water under the keel': '9',
  'speed over the ground': '0.2',
  'length ordered': '4',
  'calibrated until': '20991231',
};

/** A picture as a camera gives it: 1,600 by 1,200 pixels, drawn by the browser itself. */
export async function picture(page) {
  const encoded = await page.evaluate(() => {
    const canvas = document.createElement('canvas');
    canvas.width = 1600;
    canvas.height = 1200;
    const brush = canvas.getContext('2d');
    for (let at = 0; at < 1200; at += 8) {
      brush.fillStyle = `hsl(${at % 360} 60% 50%)`;
      brush.fillRect(at, at, 400, 8);
    }
    return canvas.toDataURL('image/png').split(',')[1];
  });
  return { name: 'lock.png', mimeType: 'image/png', buffer: Buffer.from(encoded, 'base64') };
}

/** One person with an enrolled phone. */
async function person(test, ship, name, options) {
  const browser = await open(test, profile(test), { ...PHONE, ...options });
  const page = await browser.newPage();
  const faults = [];
  page.on('pageerror', (error) => faults.push(`${name}: ${error}`));
  await bow.enrol(page, ship, name);
  return { name, page, browser, faults };
}

/** The people who work a run together. The first does what anyone may; the last is the master. */
export class Party {
  constructor(people) {
    this.people = people;
    this.log = [];
  }

  static async muster(test, ship, names, options = {}) {
    const people = [];
    for (const name of names) people.push(await person(test, ship, name, options));
    return new Party(people);
  }

  get hand() {
    return this.people[0].page;
  }

  get second() {
    return this.people[1].page;
  }

  get master() {
    return this.people.at(-1).page;
  }

  /** Opens a run on every phone. */
  async turnTo(path) {
    for (const { page } of this.people.slice(1)) {
      await this.told();
      await page.getByText(say('UNDER_WAY')).waitFor(bow.PATIENCE);
      await page.locator(`a[href="${path}"]`).click({ timeout: 120_000 });
      await page.locator('.sheet-title').waitFor({ timeout: 120_000 });
    }
  }

  /** Lets every phone try the ship now, as it does when a network comes. */
  async told() {
    for (const { page } of this.people) {
      await page.evaluate(() => window.dispatchEvent(new Event('online')));
    }
  }

  /** Waits until `look` is true on `page`, telling everyone the news meanwhile. */
  async until(page, look, what) {
    const end = Date.now() + 120_000;
    while (!(await look(page))) {
      assert.ok(Date.now() < end, `${what}: ${await this.standing(page)}`);
      await this.told();
      await page.waitForTimeout(400);
    }
  }

  async standing(page) {
    const sheet = await page.locator('.action-sheet').innerText().catch(() => 'no sheet');
    return `${sheet}\n--- ${this.log.slice(-6).join(' / ')}`;
  }

  /** Opens the key of whoever has that phone, if it has locked itself meanwhile. */
  async awake(page) {
    if (!(await bow.isUnlocked(page))) await bow.unlock(page);
  }

  /** Presses a key that may be asleep until news comes. */
  async press(page, key, what) {
    await this.awake(page);
    await this.until(page, async () => (await key.count()) > 0 && (await key.first().isEnabled()), what);
    await key.first().click();
  }

  /** Holds a key that may be asleep until news comes. */
  async hold(page, name) {
    const key = page.getByRole('button', { name: new RegExp(name) });
    await this.awake(page);
    await this.until(page, async () => (await key.count()) > 0 && (await key.first().isEnabled()), name);
    await bow.holdDown(page, key.first());
  }

  /** Types each reading of the step that is still to be taken. */
  async readings(page) {
    const step = await bow.title(page);
    for (let n = 0; n < 8; n += 1) {
      if ((await bow.title(page)) !== step || !(await page.locator('.keypad').count())) return;
      // The last reading takes the keypad away while this looks for it.
      const label = await page.locator('.keypad').getAttribute('aria-label', { timeout: 2_000 }).catch(() => null);
      if (label === null) continue;
      const known = Object.entries(READINGS).find(([word]) => label.includes(word));
      assert.ok(known, `no reading known for ${label}`);
      const kept = (was) => {
        const sheet = document.querySelector('.sheet-title')?.dataset.step;
        const keypad = document.querySelector('.keypad');
        return sheet !== was.step || !keypad || keypad.getAttribute('aria-label') !== was.label;
      };
      await bow.type(page, known[1]);
      await bow.press(page, kept, { step, label });
    }
  }

  /** Does what the sheet asks for, by whoever may; `special` may do a step of its own. */
  async work(special = {}) {
    const page = this.hand;
    await this.awake(page);
    const step = await bow.title(page);
    this.log.push(step);
    const second = (await page.getByRole('button', { name: say('SIGN_SECOND') }).count()) > 0;
    const own = special[step];
    const sheet = page.locator('.action-sheet');
    if (own) {
      await own(this);
    } else if (await sheet.getByRole('button', { name: say('SIGN_SECOND') }).count()) {
      const wanted = (other) => async () => (await bow.title(other)) === step;
      await this.until(this.second, wanted(this.second), `the second comes to ${step}`);
      const key = this.second.getByRole('button', { name: say('SIGN_SECOND') });
      await this.press(this.second, key, `second: ${step}`);
    } else if (await page.locator('.sheet-words', { hasText: say('CONSENT_ASKED') }).count()) {
      await this.until(this.master, async () => (await bow.title(this.master)) === step, `the master comes to ${step}`);
      await this.hold(this.master, 'Give consent');
    } else if (await sheet.locator('.keypad').count()) {
      await this.readings(page);
      return;
    } else if (await sheet.locator('#step-photo').count()) {
      await page.locator('#step-photo').setInputFiles(await picture(page));
      await page.locator('.take-photo img.photo').waitFor(bow.PATIENCE);
      await bow.first(page).click();
    } else if (await sheet.locator('.sheet-why', { hasText: 'this is for the' }).count()) {
      await this.until(this.master, async () => (await bow.title(this.master)) === step, `the master comes to ${step}`);
      await this.press(this.master, bow.first(this.master), step);
    } else {
      // Each item of a step that asks for each has its own keys; one key says that all are good.
      const each = sheet.locator('.each-all, .each-item:only-child .button');
      if (await each.count()) await each.first().click();
      const answers = sheet.locator('.sheet-choices .button');
      if (await answers.count()) await answers.first().click();
      const words = sheet.locator('textarea.sheet-text');
      if (await words.count()) await words.fill('as agreed with the officer; two hands, twenty minutes');
      // A wait that is over makes way for the next step by itself.
      const ready = async () => (await bow.title(page)) !== step || bow.first(page).isEnabled();
      await this.until(page, ready, step);
      if ((await bow.title(page)) === step) await bow.first(page).click();
    }
    const shown = (was) => {
      const title = document.querySelector('.sheet-title')?.dataset.step;
      const second = [...document.querySelectorAll('.action-sheet .button')].some((b) => b.innerText.includes(was.sign));
      return title !== was.step || second !== was.second;
    };
    if (own) return;
    await this.until(page, () => page.evaluate(shown, { step, second, sign: say('SIGN_SECOND') }), `after ${step}`);
    if (this.people.length > 1) await this.signsLater(step);
  }

  /** Has the second sign for a step that the work has gone past, if it wants that still. */
  async signsLater(step) {
    const row = (page) => page.locator(`.chain-row[data-step="${step}"]`);
    const still = (page) => row(page).getByText(say('SECOND_STILL'));
    if (!(await still(this.hand).count())) return;
    await this.until(this.second, async () => (await still(this.second).count()) > 0, `the second hears of ${step}`);
    await row(this.second).locator('button').first().click();
    await this.press(this.second, this.second.getByRole('button', { name: say('SIGN_SECOND') }), `second: ${step}`);
    await this.until(this.hand, async () => (await still(this.hand).count()) === 0, `${step} is signed`);
  }

  /** Works the run until the sheet says that every step is done. */
  async workToTheEnd(special = {}) {
    for (let n = 0; n < 150; n += 1) {
      await this.hand.locator('.sheet-title').waitFor(bow.PATIENCE);
      if ((await bow.title(this.hand)) === 'all-done') return;
      await this.work(special);
    }
    assert.fail(`never done: ${await this.standing(this.hand)}`);
  }

  /** Nothing broke on any phone. */
  sound() {
    assert.deepEqual(this.people.flatMap((one) => one.faults), []);
  }
}
