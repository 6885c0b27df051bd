// Looking at a page: its three lights, its sizes, what it breaks.
import assert from 'node:assert/strict';
import { mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { AxeBuilder } from '@axe-core/playwright';
import { PATIENCE } from './bow.mjs';

export const LIGHTS = ['day', 'dusk', 'night'];
const RULES = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'];
const SHOTS = join(import.meta.dirname, '../../../target/looks');
mkdirSync(SHOTS, { recursive: true });

/** The ship asks who is there before the program signs in; the browser notes each such answer by itself. */
const WHO_IS_THERE = /status of 401/;

/** What a browser writes when a page asks a ship that is away: a story that wants her answer waits for it. */
const OUT_OF_RANGE = /net::ERR_(CONNECTION|INTERNET|NETWORK|EMPTY)/;

/** Collects what a page complains of, the content policy's complaints among it. */
export function complaints(page) {
  const heard = [];
  page.on('pageerror', (error) => heard.push(`error: ${error}`));
  page.on('console', (line) => {
    if (WHO_IS_THERE.test(line.text()) || OUT_OF_RANGE.test(line.text())) return;
    if (['error', 'warning'].includes(line.type())) heard.push(`${line.type()}: ${line.text()}`);
  });
  return heard;
}

/** Lets the browser promise to keep the site's storage, as it does for an installed program; for as long as the page lives. */
export async function install(page, origin) {
  const cdp = await page.context().newCDPSession(page);
  await cdp.send('Browser.grantPermissions', { permissions: ['durableStorage'], origin: new URL(origin).origin });
}

/** Puts the page into a light with the page's own key. */
export async function light(page, name) {
  // The program draws the page anew in place of the one that the server drew, and again when its records are open: a key
  // that was found may be gone when it is pressed. Then the one that took its place is looked for.
  await page.waitForSelector('html[data-started]', { state: 'attached', ...PATIENCE });
  const choices = page.locator('.light-choice');
  const lightNow = () => page.evaluate(() => localStorage.getItem('light'));
  const soon = { timeout: 3_000 };
  const end = Date.now() + PATIENCE.timeout;
  for (let before = await lightNow(); before !== name; before = await lightNow()) {
    assert.ok(Date.now() < end, `the page never came to ${name}, it is in ${before}`);
    const key = (await choices.count()) ? choices.nth(LIGHTS.indexOf(name)) : page.locator('.light-button');
    const isPressed = await key.click(soon).then(() => true, () => false);
    if (!isPressed) continue;
    await page.waitForFunction((was) => localStorage.getItem('light') !== was, before, soon).catch(() => {});
  }
  await page.waitForSelector(`html[data-light="${name}"]`, { state: 'attached', ...PATIENCE });
}

/** Takes a picture in each light, or in those given; returns how each breaks WCAG 2.2 AA. */
export async function inThreeLights(page, name, lights = LIGHTS) {
  const found = [];
  for (const each of lights) {
    await light(page, each);
    await page.screenshot({ path: join(SHOTS, `${name}-${each}.png`) });
    const { violations } = await new AxeBuilder({ page }).withTags(RULES).setLegacyMode(true).analyze();
    for (const { id, nodes } of violations) {
      for (const node of nodes) found.push(`${name}, ${each}: ${id}: ${node.target} ${node.any[0]?.message ?? node.failureSummary}`);
    }
  }
  return found;
}

/** Says where the page is wider than its window. */
export async function overflow(page, name, widths) {
  const found = [];
  const { width: before, height } = page.viewportSize();
  for (const width of widths) {
    await page.setViewportSize({ width, height });
    const wide = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
    if (wide > 0) found.push(`${name}: ${wide} px too wide at ${width}`);
  }
  await page.setViewportSize({ width: before, height });
  return found;
}

/**
 * Measures what a gloved thumb meets: every target's height, the room between neighbours, the size of
 * the text. Targets that are scrolled out of sight count too.
 */
export async function thumb(page, about) {
  const found = await page.evaluate(() => {
    const name = (node) => (node.innerText || node.getAttribute('aria-label') || node.tagName).trim().slice(0, 40);
    const shown = (node) => node.checkVisibility({ opacityProperty: true, visibilityProperty: true });
    const found = [];
    const targets = [...document.querySelectorAll('button, a[href], input, textarea, select')].filter(shown);
    const boxes = targets.map((node) => [node, node.getBoundingClientRect()]);
    for (const [node, box] of boxes) {
      // A press is what puts something on record: the sheet's own keys, and what is held.
      const least = node.matches('.sheet-actions .button, .sheet-body .hold-button, .enrol-button, .sheet-choices .button') ? 64 : 56;
      if (box.height < least) found.push(`${name(node)}: ${box.height.toFixed(0)} px high, not ${least}`);
      if (box.width < 44) found.push(`${name(node)}: ${box.width.toFixed(0)} px wide`);
    }
    // Keys in one group; a row of the list touches the next, and its whole height is the target.
    const groups = '.sheet-actions, .sheet-choices, .keypad-keys, .points, .procedure-list, .person-pick, .log-keys, .hours';
    for (const group of document.querySelectorAll(groups)) {
      const keys = boxes.filter(([node]) => group.contains(node));
      keys.forEach(([a, p], at) => {
        for (const [b, q] of keys.slice(at + 1)) {
          const across = Math.max(p.left, q.left) - Math.min(p.right, q.right);
          const down = Math.max(p.top, q.top) - Math.min(p.bottom, q.bottom);
          const apart = Math.max(across, down);
          if (apart < 11.5) found.push(`${name(a)} and ${name(b)}: ${apart.toFixed(1)} px apart`);
        }
      });
    }
    const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
      const holder = walker.currentNode.parentElement;
      const text = walker.currentNode.data.trim();
      if (!text || !shown(holder) || holder.closest('script, style, .unseen, svg')) continue;
      const size = Number.parseFloat(getComputedStyle(holder).fontSize);
      if (size < 17.99) found.push(`"${text.slice(0, 40)}": text of ${size} px`);
    }
    return [...new Set(found)];
  });
  return found.map((each) => `${about}: ${each}`);
}

/**
 * How much of what each selector finds on the sheet is in sight, from 0 to 1: within the window and every box that
 * scrolls or cuts; the least of them where there are several, and 1 where there is none.
 */
export const inSight = (page, selectors) =>
  page.evaluate((looked) => {
    const share = (element) => {
      const box = element.getBoundingClientRect();
      let { left, top, right, bottom } = box;
      const cut = (frame) => {
        [left, top] = [Math.max(left, frame.left), Math.max(top, frame.top)];
        [right, bottom] = [Math.min(right, frame.right), Math.min(bottom, frame.bottom)];
      };
      for (let at = element.parentElement; at; at = at.parentElement) {
        if (getComputedStyle(at).overflow !== 'visible') cut(at.getBoundingClientRect());
      }
      cut({ left: 0, top: 0, right: innerWidth, bottom: innerHeight });
      // A keypad that stays at the foot of the sheet covers what scrolls behind it.
      const over = element.closest('.sheet-body')?.querySelector(':scope > .keypad');
      if (over && getComputedStyle(over).position === 'sticky' && !over.contains(element)) {
        bottom = Math.min(bottom, over.getBoundingClientRect().top);
      }
      const seen = Math.max(0, right - left) * Math.max(0, bottom - top);
      return box.width * box.height > 0 ? seen / (box.width * box.height) : 1;
    };
    const least = (selector) =>
      Math.min(1, ...[...document.querySelectorAll(`:is(${selector})`)].filter((one) => one.closest('.action-sheet')).map(share));
    return Object.fromEntries(Object.entries(looked).map(([name, selector]) => [name, least(selector)]));
  }, selectors);
