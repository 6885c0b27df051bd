// Every procedure of the library walked at phone size: what is in sight at each step with its keys, and how often a thumb presses.
import assert from 'node:assert/strict';
import { test } from 'node:test';
import * as bow from './support/bow.mjs';
import { open, profile } from './support/browser.mjs';
import { library } from './support/library.mjs';
import { PHONE, Party } from './support/party.mjs';
import { Ship, folder, ship as makeShip } from './support/ship.mjs';
import { Walk, ready } from './support/walk.mjs';
import { say } from './support/words.mjs';

const HERE = { latitude: -43.51237, longitude: -20.06145, accuracy: 6 };

/** By so many presses of the first hand at most, without the digits of its readings; holding *Close* among them. */
const MOST_PRESSES = { 'anchors-ready': 42 };

/** Less than this of an instruction, a caution or a key in sight is too little: a hair's breadth is the browser's rounding. */
const ENOUGH = 0.98;

/** What is chosen where the first answer leads past the most steps. */
const WANTED = {
  'letting-go': { method: 'walk-back' },
  'stern-to-ground-lines': { 'holds-with': 'both' },
};

/** Two parties walk at once, each on a ship of its own; what other work stands on comes before it. */
const LANES = [
  ['anchors-ready', 'letting-go', 'at-anchor', 'dragging', 'foul-hawse', 'weighing', 'secured-for-sea', 'sea-lashings', 'stern-to-ground-lines', 'mooring-forward', 'windlass-weekly', 'locker-entry'],
  ['cable-marks', 'chain-measurement', 'mooring-lines', 'hose-test', 'entry-drill', 'survey-pack', 'windlass-monthly', 'hose-drill', 'foredeck-induction', 'defect-handover', 'before-launch'],
];

/** Asked where the register has such an item, and neither ship's has: its kind of sheet is seen at other steps. */
const NOT_ABOARD = ['before-launch/which-foundation'];

/** Held to it at each run. The others are walked by who asks: `CLEARHAWSE_WALK=all`, or names with commas between. */
const HELD = ['cable-marks', 'chain-measurement', 'hose-test', 'windlass-monthly', 'hose-drill', 'foredeck-induction', 'secured-for-sea', 'sea-lashings'];

const procedures = library();
const asked = process.env.CLEARHAWSE_WALK?.split(',') ?? HELD;
const only = asked.includes('all') ? undefined : asked;
const odd = new Set();
const walked = [];

const share = ({ words, caution, keys }) => [words, caution, keys].map((part) => part.toFixed(2)).join(' ');
const least = (shares) => Math.min(shares.words, shares.caution, shares.keys);

test('every procedure of the library can be walked', () => {
  assert.deepEqual(LANES.flat().sort(), [...procedures.keys()].sort());
});

test('what is signed is in sight, and few presses are asked for', { concurrency: LANES.length }, async (t) => {
  const lane = async (name, slugs) =>
    t.test(name, async (t) => {
      const wanted = slugs.filter((slug) => !only || only.includes(slug));
      if (wanted.length === 0) return;
      const ship = await makeShip(t);
      const options = { geolocation: HERE, permissions: ['geolocation'] };
      const party = await Party.muster(t, ship, ['Tam Orrin', 'Ravi Thorne', 'Maren Holt'], options);
      await ready(party);
      for (const slug of wanted) {
        const walk = new Walk(party, slug, procedures.get(slug), odd);
        walked.push(walk);
        await walk.walk(WANTED[slug]).catch(async (error) => {
          walk.failed = `${slug} after ${party.log.at(-1)}: ${error.message}\n${await party.standing(party.hand)}`;
          t.diagnostic(walk.failed);
        });
        await walk.leave();
      }
      party.sound();
    });
  await Promise.all(LANES.map((slugs, at) => lane(`party ${at + 1}`, slugs)));
});

test('a step of what this ship does not have is in sight too, on one that has no register', async (t) => {
  const ship = new Ship(folder(t, 'data'));
  t.after(() => ship.cut());
  await ship.start();
  const page = await (await open(t, profile(t), PHONE)).newPage();
  await bow.enrolFirst(page, ship, { ship: 'Brackwater', name: 'Ines Calder' });
  const party = new Party([{ name: 'Ines Calder', page, faults: [] }]);
  // Her washing water comes from the fire main.
  await bow.open(page, ship.url('/settings'));
  const row = page.locator('tr', { hasText: 'shared_wash' });
  await row.locator('summary').click();
  await row.getByLabel(say('ship.VALUE')).fill('1');
  await row.getByLabel(say('ship.SOURCE'), { exact: true }).fill("the ship's piping plan");
  await bow.hold(page, say('ship.PUT_IN_FORCE'), row);
  await row.getByText(/Ines Calder/).waitFor(bow.PATIENCE);
  await bow.open(page, ship.url('/bow'));
  for (const [slug, steps] of procedures) {
    const unseen = walked.find((walk) => walk.slug === slug)?.unseen() ?? [];
    const missing = unseen.filter((step) => !NOT_ABOARD.includes(`${slug}/${step}`));
    if (missing.length === 0) continue;
    const walk = new Walk(party, slug, steps, odd);
    await walk.lookAhead(missing, WANTED[slug]);
    walked.find((one) => one.slug === slug).rows.push(...walk.rows);
  }
});

test('an instruction, its caution and its keys are in sight together at every step', (t) => {
  const rows = walked.flatMap((walk) => walk.rows);
  const hidden = rows.filter((row) => least(row.sizes['390x844']) < ENOUGH);
  const line = (walk) => {
    const worst = (size) => Math.min(...walk.rows.map((row) => least(row.sizes[size]))).toFixed(2);
    const { slug, steps, presses, digits, others } = walk;
    const counts = [steps.length, presses, digits, others].map((count) => String(count).padStart(6)).join('');
    return `${slug.padEnd(22)}${counts}   ${worst('390x844')}   ${worst('360x640')}`;
  };
  const part = (row) => Object.entries(row.sizes).map(([size, shares]) => `${size} ${share(shares)}`).join(' | ');
  const low = rows.filter((row) => Object.values(row.sizes).some((shares) => least(shares) < ENOUGH));
  console.log(
    ['procedure              steps presses digits others  least at 390x844, 360x640', ...walked.map(line), '', 'less than all in sight (words, caution, keys):', ...low.map((row) => `${row.slug}/${row.step} (${row.kind}): ${part(row)}`)].join('\n'),
  );
  assert.deepEqual(walked.map((walk) => walk.failed).filter(Boolean), []);
  const unseen = walked.flatMap((walk) => walk.unseen().map((step) => `${walk.slug}/${step}`));
  assert.deepEqual(unseen, NOT_ABOARD.filter((step) => unseen.includes(step)), 'steps that nobody came to');
  assert.deepEqual(hidden.map(({ slug, step, sizes }) => `${slug}/${step}: ${share(sizes['390x844'])}`), []);
  for (const { slug, presses } of walked) {
    assert.ok(presses <= (MOST_PRESSES[slug] ?? Number.POSITIVE_INFINITY), `${slug}: ${presses} presses`);
  }
});
