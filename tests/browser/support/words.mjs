// The sentences of the pages, read from the file of a language, so that a test names a sentence by its key and
// goes on working when it is worded otherwise.
import { readFileSync } from 'node:fs';
import { join } from 'node:path';

const FILE = join(import.meta.dirname, '../../../app/ui/words/en.txt');
const escaped = (text) => text.replace(/[.*+?^${}()|[\]\\]/g, '\\$&');

function read() {
  const sentences = new Map();
  let part = '';
  for (const line of readFileSync(FILE, 'utf8').split('\n')) {
    const heading = line.match(/^\[(\w+)\]$/);
    if (heading) part = `${heading[1]}.`;
    const entry = line.match(/^(\w+(?:\[\w+\])?) = (.*)$/);
    if (entry) sentences.set(part + entry[1], entry[2].replace(/^"(.*)"$/, '$1'));
  }
  return sentences;
}

const sentences = read();

/** The sentence of that key, with its values: `say('unlock_sheet.pin_of', { name })`. */
export function say(key, values = {}) {
  const text = sentences.get(key);
  if (text === undefined) throw new Error(`no sentence is called ${key}`);
  return text.replace(/\{(\w+)\}/g, (place, name) => String(values[name] ?? place));
}

/** What finds the sentence of that key on a page, whatever its other values are. */
export function says(key, values = {}) {
  const parts = say(key, values).split(/\{\w+\}/);
  return new RegExp(parts.map(escaped).join('.*'));
}
