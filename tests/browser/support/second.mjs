// A step that two must sign, each on a phone of their own.
import * as bow from './bow.mjs';
import { say } from './words.mjs';

/**
 * Does the confirm on `hand`'s sheet, and signs it as second on `other`, who opens the run at `address` for it.
 * Returns the step's words once the next one is on `hand`'s sheet.
 */
export async function signedByTwo(hand, other, address) {
  const step = await bow.title(hand);
  await bow.first(hand).click();
  await hand.getByRole('button', { name: say('SIGN_SECOND') }).waitFor(bow.PATIENCE);
  await bow.allAboard(hand);
  await bow.open(other, address);
  const sign = other.getByRole('button', { name: say('SIGN_SECOND') });
  await sign.waitFor({ timeout: 120_000 });
  await sign.click();
  const gone = (was) => document.querySelector('.sheet-title')?.dataset.step !== was;
  await hand.waitForFunction(gone, step, { timeout: 120_000 });
  return step;
}
