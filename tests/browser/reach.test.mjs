// What the crew sees of a step while its key is in reach, and which presses count.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { inSight } from './support/look.mjs';
import { Party } from './support/party.mjs';
import { ship as makeShip } from './support/ship.mjs';
import { say } from './support/words.mjs';

/** Width, height, and the size of the text in percent of what the browser starts with. */
const SIZES = [[390, 844, 100], [360, 640, 100], [844, 390, 100], [390, 844, 200]];
const LOOKED_AT = { words: '.sheet-title', caution: '.action-sheet .caution', keys: '.sheet-actions .button, .keypad .key' };

test('the words and the caution of a step are in sight together with its keys', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), { viewport: { width: 390, height: 844 } })).newPage();
  await bow.enrol(page, ship, 'Maren Holt');
  await bow.begin(page, 'anchors-ready');
  const cdp = await page.context().newCDPSession(page);
  const rows = [];
  const hidden = [];
  for (let n = 0; n < 12; n += 1) {
    const step = await bow.title(page);
    for (const [width, height, percent] of SIZES) {
      await page.setViewportSize({ width, height });
      await cdp.send('Page.setFontSizes', { fontSizes: { standard: (16 * percent) / 100 } });
      const seen = await inSight(page, LOOKED_AT);
      rows.push(`${step.padEnd(18)} ${width}x${height} ${percent} % words ${seen.words.toFixed(2)} caution ${seen.caution.toFixed(2)} keys ${seen.keys.toFixed(2)}`);
      // Letters twice as large with a keypad: half a caution's lines are seen, and the rest by a push of the thumb.
      const caution = percent > 100 && (await page.locator('.keypad').count()) ? 0.5 : 0.99;
      if (seen.words < 0.99 || seen.keys < 0.99 || seen.caution < caution) hidden.push(rows.at(-1));
    }
    await page.setViewportSize({ width: 390, height: 844 });
    await cdp.send('Page.setFontSizes', { fontSizes: { standard: 16 } });
    if (step === 'brakes') break;
    await bow.work(page);
  }
  t.diagnostic(`what is in sight:\n${rows.join('\n')}`);
  assert.deepEqual(hidden, []);
});

test('two quick taps tick one step, and a key that has just come is not pressed by letting go of another', async (t) => {
  const ship = await makeShip(t);
  const page = await (await open(t, profile(t), { viewport: { width: 390, height: 844 } })).newPage();
  await bow.enrol(page, ship, 'Tam Orrin');
  await bow.begin(page, 'anchors-ready');
  for (const pause of [40, 120, 300, 600]) {
    const step = await bow.title(page);
    const closed = await bow.closedLinks(page);
    const key = bow.first(page);
    if (await page.locator('.sheet-choices, .keypad').count()) break;
    await key.click({ trial: true });
    const box = await key.boundingBox();
    const [x, y] = [box.x + box.width / 2, box.y + box.height / 2];
    await page.mouse.click(x, y);
    await page.waitForTimeout(pause);
    await page.mouse.click(x, y);
    await page.waitForFunction((was) => document.querySelector('.sheet-title')?.dataset.step !== was, step, bow.PATIENCE);
    await page.waitForTimeout(700);
    assert.equal(await bow.closedLinks(page), closed + 1, `${pause} ms apart`);
  }
  assert.ok((await bow.closedLinks(page)) >= 3);
});

test('a name chosen for a consent heard by radio is pressed on purpose, and there is a way back', async (t) => {
  const ship = await makeShip(t);
  const party = await Party.muster(t, ship, ['Tam Orrin', 'Maren Holt']);
  const path = await bow.begin(party.hand, 'anchors-ready');
  await party.turnTo(path);
  for (let n = 0; n < 60 && (await bow.title(party.hand)) !== 'stoppers-off'; n += 1) await party.work();
  const page = party.hand;
  const key = page.getByRole('button', { name: new RegExp(say('HEARD_BY_RADIO')) });
  await key.click({ trial: true });
  const box = await key.boundingBox();
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.getByText(say('HEARD_FROM')).waitFor(bow.PATIENCE);
  await page.mouse.up();
  await page.waitForTimeout(300);
  assert.equal(await bow.title(page), 'stoppers-off');
  const lines = await page.locator('.sheet-choices .button').count();
  assert.ok(lines > 1, 'the names are still there');
  await page.getByRole('button', { name: say('NOT_HEARD_FROM_ANYONE') }).click();
  await page.getByText(say('HEARD_FROM')).waitFor({ state: 'detached', ...bow.PATIENCE });

  // All is stopped: whoever was heard, that is why nobody can have given it, and the page says so.
  await bow.holdDown(page, page.getByRole('button', { name: say('STOP_WORK') }));
  await page.locator('.bow-standstill').waitFor(bow.PATIENCE);
  await bow.keysAwake(page);
  await key.click({ trial: true });
  const there = await key.boundingBox();
  await page.mouse.move(there.x + there.width / 2, there.y + there.height / 2);
  await page.mouse.down();
  await page.getByText(say('HEARD_FROM')).waitFor(bow.PATIENCE);
  await page.mouse.up();
  const answer = await page.locator('.sheet-choices').innerText();
  assert.match(answer, /Tam Orrin/);
  assert.ok(!answer.includes(say('NOBODY_MAY_GIVE')), answer);
  assert.equal(answer.split('\n')[0], await page.locator('.bow-stopped').innerText(), 'who stopped it, when and why');
  party.sound();
});
