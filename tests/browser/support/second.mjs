// A step that two must sign, each on a phone of their own.
import * as bow from './bow.mjs';
import { say } from './words.mjs';

/**
 * Does the confirm on `hand`'s sheet, and signs it as second on `other`, who opens the run at `address` for it. The work
 * may go on meanwhile. Returns the step's words once it wants nothing more.
 */
export async function signedByTwo(hand, other, address) {
  const step = await bow.title(hand);
  const row = hand.locator(`.chain-row[data-step="${step}"]`);
  const still = row.getByText(say('SECOND_STILL'));
  await bow.first(hand).click();
  await hand.getByRole('button', { name: say('SIGN_SECOND') }).or(still).first().waitFor(bow.PATIENCE);
  await bow.allAboard(hand);
  await bow.open(other, `${address}?step=${step}`);
  const sign = other.getByRole('button', { name: say('SIGN_SECOND') });
  await sign.waitFor({ timeout: 120_000 });
  await bow.keysAwake(other);
  await sign.click();
  const gone = ([was, words]) =>
    document.querySelector('.sheet-title')?.dataset.step !== was &&
    !document.querySelector(`.chain-row[data-step="${was}"]`)?.innerText.includes(words);
  await hand.waitForFunction(gone, [step, say('SECOND_STILL')], { timeout: 120_000 });
  return step;
}
