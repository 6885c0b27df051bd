// Fills a ship with records: the records of one run, signed anew by a key of this script as often as it takes.
import { createHash, generateKeyPairSync, sign } from 'node:crypto';

const hex = (bytes) => Buffer.from(bytes).toString('hex');
const sha256 = (bytes) => createHash('sha256').update(bytes).digest();
const CONTEXT = Buffer.from('clearhawse record v1');
/** A run that is broken off: event 15, end 1, a remark. */
const BROKEN_OFF = Buffer.from([0x82, 0x0f, 0x82, 0x01, 0x64, ...Buffer.from('done')]);

/** Reads the items of deterministic CBOR that records are made of. */
function read(bytes) {
  let at = 0;
  const item = () => {
    const first = bytes[at++];
    let n = first & 0x1f;
    if (n >= 24 && first !== 0xf6) {
      const width = 1 << (n - 24);
      n = 0;
      for (let left = width; left > 0; left -= 1) n = n * 256 + bytes[at++];
    }
    switch (first >> 5) {
      case 0: return n;
      case 1: return -1 - n;
      case 2: return Buffer.from(bytes.subarray(at, (at += n)));
      case 3: return Buffer.from(bytes.subarray(at, (at += n))).toString();
      case 4: return Array.from({ length: n }, item);
      case 5: return new Map(Array.from({ length: n }, () => [item(), item()]));
      case 6: return item();
      default: return null;
    }
  };
  return item();
}

function head(kind, n) {
  if (n < 24) return Buffer.from([(kind << 5) | n]);
  const width = n < 0x100 ? 1 : n < 0x10000 ? 2 : n < 0x100000000 ? 4 : 8;
  const bytes = Buffer.alloc(1 + width);
  bytes[0] = (kind << 5) | (24 + Math.log2(width));
  bytes.writeBigUInt64BE && width === 8 ? bytes.writeBigUInt64BE(BigInt(n), 1) : bytes.writeUIntBE(n, 1, width);
  return bytes;
}

function written(item) {
  if (item === null) return Buffer.from([0xf6]);
  if (typeof item === 'number') return item < 0 ? head(1, -1 - item) : head(0, item);
  if (typeof item === 'string') return Buffer.concat([head(3, Buffer.byteLength(item)), Buffer.from(item)]);
  if (Buffer.isBuffer(item)) return Buffer.concat([head(2, item.length), item]);
  return Buffer.concat([head(4, item.length), ...item.map(written)]);
}

/** Somebody of the crew with a key of this script. */
export class Hand {
  #pair = generateKeyPairSync('ed25519');
  #seq = 0;
  #prev = null;

  /** Enrols with a code of `ship`, and signs in. */
  static async enrolled(ship, name) {
    const hand = new Hand();
    const key = hand.#pair.publicKey.export({ format: 'der', type: 'spki' }).subarray(-32);
    hand.device = sha256(key).subarray(0, 16);
    const code = ship.codeFor(name).replace(/\D/g, '');
    const proof = hand.#sign(`clearhawse enrolment v2\n${code}\n${hex(key)}`);
    const question = { code, public_key: hex(key), protection: 'software', proof };
    const answer = await (await hand.#post(ship, 'enrol', JSON.stringify(question))).json();
    hand.person = answer.person;
    const { challenge } = await (await hand.#post(ship, 'session/challenge', '{}')).json();
    const origin = ship.url('').replace(/\/$/, '');
    const signature = hand.#sign(`clearhawse session v1\n${origin}\n${answer.ship.authority}\n${challenge}`);
    const reply = JSON.stringify({ device: hex(hand.device), challenge, origin, signature });
    hand.cookie = (await hand.#post(ship, 'session', reply)).headers.get('set-cookie').split(';')[0];
    return hand;
  }

  #sign(text) {
    return hex(sign(null, Buffer.from(text), this.#pair.privateKey));
  }

  async #post(ship, path, body, type = 'application/json') {
    const headers = { 'content-type': type, origin: ship.url('').replace(/\/$/, ''), ...(this.cookie && { cookie: this.cookie }) };
    const reply = await fetch(ship.url(`/api/v1/${path}`), { method: 'POST', headers, body });
    if (!reply.ok) throw new Error(`${path}: ${reply.status} ${await reply.text()}`);
    return reply;
  }

  #record(template, change) {
    const fields = [...template];
    this.#seq += 1;
    Object.assign(fields, { 2: this.device, 3: this.#seq, 4: this.#prev, 6: [], 9: this.#seq % 1000, 10: this.person, 11: null }, change);
    const payload = written(fields);
    const header = Buffer.concat([Buffer.from([0xa2, 0x01, 0x27, 0x04]), written(this.device)]);
    const signed = written(['Signature1', header, CONTEXT, payload]);
    this.#prev = sha256(signed);
    const signature = sign(null, signed, this.#pair.privateKey);
    const parts = [Buffer.from([0xd2, 0x84]), written(header), Buffer.from([0xa0]), written(payload), written(signature)];
    return Buffer.concat(parts);
  }

  /** Sends at least `count` records: the run in `records`, again and again, each time broken off at its end. */
  async fill(ship, records, count) {
    const payloads = records.map((bytes) => read(read(Buffer.from(bytes))[2])).sort((a, b) => a[3] - b[3]);
    const before = Date.now() - 200 * 86_400_000;
    let page = [];
    const send = async () => {
      const body = Buffer.concat(page);
      page = [];
      await this.#post(ship, `sync/push?device=${hex(this.device)}&time=${Date.now()}`, body, 'application/cbor-seq');
    };
    while (this.#seq < count) {
      let run = null;
      const at = () => ({ 7: before + this.#seq * 60_000, 8: before + this.#seq * 60_000 });
      for (const payload of payloads) {
        page.push(this.#record(payload, { ...at(), 5: run }));
        run ??= this.#prev;
      }
      page.push(this.#record(payloads[1], { ...at(), 5: run, 13: BROKEN_OFF }));
      if (page.length > 300) await send();
    }
    if (page.length) await send();
    return this.#seq;
  }
}
