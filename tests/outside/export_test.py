"""Checks exported files with general-purpose libraries only: cbor2 for the bytes, cryptography for Ed25519,
hashlib for the Merkle tree of RFC 9162.

Shares no code with the project. What is checked stands in app/record/FORMAT.md; the Sig_structure is built
by hand from RFC 9052 section 4.4, the credentials' claims are read by RFC 8392 and RFC 8747.
"""

import base64
import hashlib
import io
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import cbor2
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

PROGRAM = os.environ["CLEARHAWSE_BIN"]
RECORD = b"clearhawse record v1"
CREDENTIAL = b""
RECEIPT = b"clearhawse receipt v1"
ALG, KID, EDDSA = 1, 4, -8
ISS, SUB, EXP, NBF, CNF = 1, 2, 4, 5, 8
ROLES = -65539


class Fault(Exception):
    """What is wrong with a file."""


def demand(right, words):
    if not right:
        raise Fault(words)


def short_id(key):
    """The id of a device, or of a vessel by her authority: FORMAT.md rule 6."""
    return hashlib.sha256(key).digest()[:16]


def raw_key(cose_key):
    """The raw bytes of an Ed25519 COSE_Key: RFC 9053 section 7.2, rule 14."""
    demand(cose_key == {1: 1, -1: 6, -2: cose_key.get(-2)}, "the COSE_Key is not {1: 1, -1: 6, -2: x}")
    demand(len(cose_key[-2]) == 32, "the key has not 32 bytes")
    return cose_key[-2]


def to_be_signed(item, external_data):
    """RFC 9052 section 4.4: ["Signature1", protected header, external data, payload]."""
    protected, _, payload, _ = item.value
    return cbor2.dumps(["Signature1", protected, external_data, payload])


def check_sign1(item, key, external_data):
    """Checks one COSE_Sign1 (RFC 9052 section 4.2); returns its payload and the bytes that were signed."""
    demand(isinstance(item, cbor2.CBORTag) and item.tag == 18, "no COSE_Sign1 under tag 18")
    demand(len(item.value) == 4, "a COSE_Sign1 has four parts")
    protected, unprotected, payload, signature = item.value
    demand(cbor2.loads(protected) == {ALG: EDDSA, KID: short_id(key)}, "the protected header")
    demand(unprotected == {}, "the unprotected header is not empty")
    signed = to_be_signed(item, external_data)
    try:
        Ed25519PublicKey.from_public_bytes(key).verify(signature, signed)
    except InvalidSignature as error:
        raise Fault("the signature does not fit") from error
    return cbor2.loads(payload), signed


def check_credential(token, authority):
    """Checks a CBOR Web Token; returns the key that it vouches for and its claims."""
    claims, _ = check_sign1(cbor2.loads(token), authority, CREDENTIAL)
    demand(claims[ISS] == short_id(authority).hex(), "the issuer is not the vessel")
    demand(claims[NBF] < claims[EXP], "the credential ends before it begins")
    demand(claims[ROLES] == sorted(claims[ROLES]), "the roles do not ascend")
    demand(isinstance(claims[SUB], str) and claims[SUB], "the credential names nobody")
    return raw_key(claims[CNF][1]), claims


def read_items(data):
    """Yields each item of a CBOR sequence (RFC 8742) with its bytes."""
    stream = io.BytesIO(data)
    decoder = cbor2.CBORDecoder(stream, read_size=1)
    while stream.tell() < len(data):
        start = stream.tell()
        try:
            item = decoder.decode()
        except Exception as error:  # Whatever the library says: the bytes are no CBOR.
            raise Fault(f"no CBOR at byte {start}: {error}") from error
        yield item, data[start : stream.tell()]


def check_header(header):
    """Returns vessel, authority and the keys of the devices by id: FORMAT.md rule 20."""
    demand(isinstance(header, list) and len(header) in (7, 8, 9), "the header has seven parts, eight, or nine")
    magic, version, vessel, authority, run, devices, _ = header[:7]
    demand(magic == "clearhawse export" and version == 1, "the file does not say that it is an export")
    authority = raw_key(authority)
    demand(vessel == short_id(authority), "the vessel is not her authority's")
    demand(run is None, "a whole export was asked for")
    keys = {}
    persons = {}
    for cose_key, token in devices:
        key = raw_key(cose_key)
        keys[short_id(key)] = key
        if token is None:
            demand(key == authority, "a device other than the authority has no credential")
        else:
            vouched, claims = check_credential(token, authority)
            demand(vouched == key, "the credential vouches for another key")
            persons[short_id(key)] = claims[SUB]
    demand(keys.get(vessel) == authority, "the authority is not among the keys")
    return vessel, authority, keys, persons


def tree_hash(entries):
    """MTH of RFC 9162 section 2.1.1, as it is written there."""
    if not entries:
        return hashlib.sha256(b"").digest()
    if len(entries) == 1:
        return hashlib.sha256(b"\x00" + entries[0]).digest()
    split = 1
    while split * 2 < len(entries):
        split *= 2
    left, right = tree_hash(entries[:split]), tree_hash(entries[split:])
    return hashlib.sha256(b"\x01" + left + right).digest()


def check_checkpoint(header, vessel, authority, entries):
    """Checks the signed head of the log (c2sp.org/signed-note, c2sp.org/tlog-checkpoint) over the records."""
    note = header[6]
    demand(isinstance(note, str), "there is no checkpoint")
    office, inclusions = header[7] if len(header) > 7 and header[7] is not None else (None, [])
    demand(inclusions == [], "a whole export proves no single records")
    place, key = ("ship", authority) if office is None else ("office", raw_key(office))
    text, signatures = note[: note.rindex("\n\n") + 1], note[note.rindex("\n\n") + 2 :]
    origin, size, root, *extensions = text[:-1].split("\n")
    demand(origin == f"clearhawse/{place}/{vessel.hex()}", "the checkpoint is another log's")
    demand(all(extensions), "an extension line is empty")
    key_id = hashlib.sha256(origin.encode() + b"\n\x01" + key).digest()[:4]
    named = [line.split(" ") for line in signatures[:-1].split("\n")]
    demand(all(len(line) == 3 and line[0] == "\u2014" for line in named), "no signature line")
    blobs = [base64.b64decode(line[2], validate=True) for line in named if line[1] == origin]
    own = [blob[4:] for blob in blobs if blob[:4] == key_id]
    demand(own, "the log's key has not signed the checkpoint")
    for signature in own:
        try:
            Ed25519PublicKey.from_public_bytes(key).verify(signature, text.encode())
        except InvalidSignature as error:
            raise Fault("the checkpoint's signature does not fit") from error
    demand(size == str(len(entries)), "the log has another number of records")
    demand(base64.b64decode(root, validate=True) == tree_hash(entries), "the records have another root")


def check_receipts(header, vessel, authority, chains):
    """Checks the ship's receipts (FORMAT.md rules 12 and 22); returns the hashes by which records name them."""
    if len(header) < 9:
        return set()
    demand(header[8], "there are no receipts where there is a place for them")
    hashes = set()
    for token in header[8]:
        payload, signed = check_sign1(cbor2.loads(token), authority, RECEIPT)
        demand(len(payload) == 6 and payload[:2] == [1, vessel], "a receipt of another vessel, or format")
        _, _, device, seq, head, time_ms = payload
        demand(isinstance(time_ms, int), "a receipt without a time")
        demand(chains.get(device, {}).get(seq, (None,))[0] == head, "a receipt for a record that is not there")
        hashes.add(hashlib.sha256(signed).digest())
    return hashes


def check_payload(payload, vessel):
    demand(isinstance(payload, list) and len(payload) == 14, "a payload has 14 fields")
    demand(payload[0] == 1, "the format's version")
    demand(payload[1] == vessel, "a record of another vessel")
    demand(payload[6] == sorted(set(payload[6])), "the heads do not ascend")


def check_file(data):
    """Checks every key, credential, signature, id and chain; returns how many of each kind there are."""
    items = read_items(data)
    header, header_bytes = next(items)
    demand(cbor2.dumps(header) == header_bytes, "the header is not deterministic CBOR")
    vessel, authority, keys, persons = check_header(header)
    kinds, chains, ids, entries = {}, {}, set(), []
    named, acknowledged = [], []
    for number, (item, raw) in enumerate(items, 1):
        try:
            demand(cbor2.dumps(item) == raw, "it is not deterministic CBOR")
            demand(isinstance(item, cbor2.CBORTag) and len(item.value) == 4, "no COSE_Sign1")
            device = cbor2.loads(item.value[0])[KID]
            demand(device in keys, "no key for the device")
            payload, signed = check_sign1(item, keys[device], RECORD)
            check_payload(payload, vessel)
            _, _, own, seq, prev, run, heads, _, _, _, author, _, kind, body = payload
            demand(own == device, "the device is not the header's key id")
            demand(device == vessel or persons[device] == author, "the key is another person's")
            record = hashlib.sha256(signed).digest()
            demand(record not in ids, "the record stands twice")
            ids.add(record)
            entries.append(record)
            chain = chains.setdefault(device, {})
            demand(seq not in chain, "two records of one number")
            chain[seq] = (record, prev)
            named += [(number, name) for name in [*heads, *([run] if run else [])]]
            acknowledged += [payload[11]] if payload[11] else []
            kinds[kind] = kinds.get(kind, 0) + 1
            if kind == "credential" and device == vessel:
                check_credential(body, authority)
        except Fault as fault:
            raise Fault(f"record {number}: {fault}") from fault
    check_checkpoint(header, vessel, authority, entries)
    for device, chain in chains.items():
        demand(sorted(chain) == list(range(1, len(chain) + 1)), f"the chain of {device.hex()} has gaps")
        for seq, (_, prev) in chain.items():
            before = chain[seq - 1][0] if seq > 1 else None
            demand(prev == before, f"record {seq} of {device.hex()} does not follow the one before it")
    for number, name in named:
        demand(name in ids, f"record {number} names {name.hex()}, which is not there")
    receipts = check_receipts(header, vessel, authority, chains)
    return kinds, len(chains), len(receipts), sum(name in receipts for name in acknowledged)


def run_program(*arguments):
    done = subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, check=False)
    if done.returncode != 0:
        sys.exit(f"{' '.join(arguments)} ended with {done.returncode}: {done.stdout}{done.stderr}")


def must_fail(data, byte, bit):
    damaged = bytearray(data)
    damaged[byte] ^= 1 << bit
    try:
        check_file(bytes(damaged))
    except Fault:
        return
    except Exception as error:  # The library fell over what it was given: found as well.
        print(f"  byte {byte}: {type(error).__name__}")
        return
    sys.exit(f"bit {bit} of byte {byte} was flipped and nothing was found")


def without_one_record(data):
    """Takes the last record of the last device out: no signature and no chain tells of it, the log does."""
    items = list(read_items(data))
    device = cbor2.loads(items[-1][0].value[0])[KID]
    at = max(n for n, (item, _) in enumerate(items) if n and cbor2.loads(item.value[0])[KID] == device)
    try:
        check_file(b"".join(raw for n, (_, raw) in enumerate(items) if n != at))
    except Fault as fault:
        demand("another number" in str(fault) or "which is not there" in str(fault), f"found by {fault}")
        return
    sys.exit("a record was taken out and nothing was found")


def main():
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder, "data")
        run_program("demo", "--data", str(data))
        for vessel in ["Aldermere", "Brackwater"]:
            out = Path(folder, f"{vessel}.cborseq")
            run_program("export", "--data", str(data), "--vessel", vessel, "--out", str(out))
            exported = out.read_bytes()
            kinds, chains, receipts, bounded = check_file(exported)
            # Only the ship whose key the server holds can sign receipts again.
            demand((receipts > 0) == (vessel == "Aldermere"), f"{vessel}: {receipts} receipts")
            for kind in ["vessel", "credential", "procedure", "run"]:
                demand(kinds.get(kind), f"{vessel}: no record of kind {kind}")
            demand(kinds["run"] > 50, f"{vessel}: hardly anything was done aboard")
            step = max(1, len(exported) // 60)
            for number, byte in enumerate(range(0, len(exported), step)):
                must_fail(exported, byte, number % 8)
            without_one_record(exported)
            total = sum(kinds.values())
            print(
                f"{vessel}: {total} records of {chains} devices hold with {receipts} receipts, of which records name"
                f" {bounded}, and no flipped bit went unseen"
            )


if __name__ == "__main__":
    main()
