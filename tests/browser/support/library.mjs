// The procedures of the library as a walk needs them: the steps of each, by what their files say.
import { readFileSync, readdirSync } from 'node:fs';
import { join } from 'node:path';

const FOLDER = join(import.meta.dirname, '../../../app/procedure/library');

const entry = (text, name) => text.match(new RegExp(`^${name} = (.*)$`, 'm'))?.[1];
const word = (text, name) => entry(text, name)?.replace(/^"(.*)"$/, '$1');

/** The first part of a text is what it says itself; each other begins with the heading. */
const parts = (text, heading) => text.split(`[[${heading}]]\n`);

function table(text) {
  return { key: word(text, 'key'), label: word(text, 'label'), bad: entry(text, 'bad') === 'true' };
}

/** What a step waits to be chosen, as `[choice, options]` for each. */
function chosen(text) {
  const all = [...(entry(text, 'when') ?? '').matchAll(/\{ choice = "([^"]+)", is = \[([^\]]+)\] \}/g)];
  return all.map(([, choice, options]) => [choice, [...options.matchAll(/"([^"]+)"/g)].map(([, option]) => option)]);
}

function step(text) {
  const [own] = text.split(/\[\[step\.\w+\]\]\n/);
  const when = entry(own, 'when') ?? '';
  return {
    id: word(own, 'id'),
    kind: word(own, 'kind') ?? 'confirm',
    sameAs: word(own, 'same_as'),
    atLeast: Number(entry(own, 'at_least') ?? 1),
    cable: entry(own, 'cable') !== undefined,
    side: word(own, 'side'),
    /** Whoever did what it checks cannot do it. */
    byAnother: entry(own, 'other_than') !== undefined && word(own, 'kind') !== 'hold',
    when: chosen(own),
    /** Depends on what the ship has, or how she is set. */
    ofShip: /gear = |setting = /.test(when),
    options: parts(text.split('[[step.point]]')[0], 'step.option').slice(1).map(table),
  };
}

/** Each procedure of the library by its short name, with its steps in their order. */
export function library() {
  const files = readdirSync(FOLDER).filter((name) => name.endsWith('.toml'));
  const read = (name) => {
    const text = readFileSync(join(FOLDER, name), 'utf8').replace(/^#.*\n/gm, '');
    const steps = parts(text, 'step').slice(1).map(step);
    return [word(text, 'slug'), steps];
  };
  return new Map(files.map(read));
}
