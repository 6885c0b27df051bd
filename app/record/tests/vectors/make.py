#!/usr/bin/env python3
"""Makes the record vectors with the standard library alone: own CBOR, own Ed25519 (RFC 8032 section 5.1).

Run in this folder: `python3 make.py`. One JSON file for each case, named by its fault.
"""
import hashlib
import json

P = 2**255 - 19
L = 2**252 + 27742317777372353535851937790883648493
D = -121665 * pow(121666, P - 2, P) % P


def add(p, q):
    a, b = (p[1] - p[0]) * (q[1] - q[0]) % P, (p[1] + p[0]) * (q[1] + q[0]) % P
    c, d = 2 * p[3] * q[3] * D % P, 2 * p[2] * q[2] % P
    e, f, g, h = b - a, d - c, d + c, b + a
    return (e * f % P, g * h % P, f * g % P, e * h % P)


def mul(s, p):
    q = (0, 1, 1, 0)
    while s:
        if s & 1:
            q = add(q, p)
        p, s = add(p, p), s >> 1
    return q


def x_of(y, sign):
    x2 = (y * y - 1) * pow(D * y * y + 1, P - 2, P) % P
    x = pow(x2, (P + 3) // 8, P)
    if (x * x - x2) % P:
        x = x * pow(2, (P - 1) // 4, P) % P
    return P - x if x & 1 != sign else x


GY = 4 * pow(5, P - 2, P) % P
GX = x_of(GY, 0)
G = (GX, GY, 1, GX * GY % P)


def compress(p):
    z = pow(p[2], P - 2, P)
    x, y = p[0] * z % P, p[1] * z % P
    return (y | (x & 1) << 255).to_bytes(32, "little")


def expand(seed):
    h = hashlib.sha512(seed).digest()
    a = int.from_bytes(h[:32], "little") & ((1 << 254) - 8) | (1 << 254)
    return a, h[32:]


def public(seed):
    return compress(mul(expand(seed)[0], G))


def sign(seed, message):
    a, prefix = expand(seed)
    key = compress(mul(a, G))
    number = lambda data: int.from_bytes(hashlib.sha512(data).digest(), "little") % L
    r = number(prefix + message)
    point = compress(mul(r, G))
    s = (r + number(point + key + message) * a) % L
    return point + s.to_bytes(32, "little")


def head(major, value):
    if value < 24:
        return bytes([major << 5 | value])
    for info, size in ((24, 1), (25, 2), (26, 4), (27, 8)):
        if value < 1 << 8 * size:
            return bytes([major << 5 | info]) + value.to_bytes(size, "big")
    raise ValueError(value)


class Raw(bytes):
    """Bytes that stand for themselves."""


def cbor(value):
    if isinstance(value, Raw):
        return bytes(value)
    if value is None:
        return b"\xf6"
    if isinstance(value, int):
        return head(0, value) if value >= 0 else head(1, -1 - value)
    if isinstance(value, bytes):
        return head(2, len(value)) + value
    if isinstance(value, str):
        return head(3, len(value.encode())) + value.encode()
    if isinstance(value, list):
        return head(4, len(value)) + b"".join(map(cbor, value))
    if isinstance(value, dict):
        pairs = sorted((cbor(k), cbor(v)) for k, v in value.items())
        return head(5, len(pairs)) + b"".join(k + v for k, v in pairs)
    raise TypeError(value)


SEED = bytes(range(32))
KEY = public(SEED)
DEVICE = hashlib.sha256(KEY).digest()[:16]
VESSEL = hashlib.sha256(public(bytes([7] * 32))).digest()[:16]
CONTEXT = b"clearhawse record v1"
BODY = cbor(["bow", 21])


def payload(**change):
    fields = dict(
        version=1, vessel=VESSEL, device=DEVICE, seq=1, prev=None, run=None, heads=[],
        time_ms=1_790_000_000_123, hlc_ms=1_790_000_000_123, hlc_ctr=0, author="j.marlow",
        receipt=None, kind="example.reading", body=BODY,
    )
    fields.update(change)
    return list(fields.values())


def record(fields=None, protected=None, unprotected=None, tag=b"\xd2", seed=SEED,
           context=CONTEXT, signature=None, laid=None, tail=b""):
    fields = cbor(payload() if fields is None else fields)
    protected = cbor({1: -8, 4: DEVICE}) if protected is None else protected
    signed = cbor(["Signature1", protected, context, fields])
    signature = sign(seed, signed) if signature is None else signature(sign(seed, signed))
    laid = cbor(fields) if laid is None else laid(fields)
    envelope = tag + b"\x84" + cbor(protected) + cbor(unprotected or {}) + laid + cbor(signature)
    return envelope + tail, hashlib.sha256(signed).digest()


def array_without_length(fields):
    return Raw(b"\x9f" + b"".join(map(cbor, fields)) + b"\xff")


def case(name, says, made, refusal=None, key=KEY):
    data, ident = made
    row = {"case": name, "says": says, "bytes": data.hex(), "key": key.hex(),
           "id": None if refusal else ident.hex(), "refusal": refusal}
    with open(f"{name}.json", "w") as file:
        json.dump(row, file, indent=1)
        file.write("\n")


def half_changed(signature):
    return signature[:32] + bytes([signature[32] ^ 1]) + signature[33:]


def s_plus_l(signature):
    s = int.from_bytes(signature[32:], "little") + L
    return signature[:32] + s.to_bytes(32, "little")


ONE, TWO = bytes([1] * 32), bytes([2] * 32)
FULL = payload(seq=300, prev=ONE, run=TWO, heads=[ONE, TWO], time_ms=-5, hlc_ms=1 << 40, hlc_ctr=70_000,
               author="Ö. Ångström", receipt=TWO, body=b"")
device = DEVICE.hex()

case("good_first", "the first record of a chain", record())
case("good_full", "every field filled", record(FULL))
case("array_without_length", "the payload is an array of indefinite length",
     record(array_without_length(payload())), "an item at byte 0 has no definite length")
case("author_control", "a line feed in the author's id", record(payload(author="j\nm")), "author holds a control character")
case("author_empty", "no author", record(payload(author="")), "author is empty")
case("author_too_long", "129 bytes of author", record(payload(author="a" * 129)),
     "author has 129 bytes, more than the 128 allowed")
case("algorithm_es256", "alg -7", record(protected=cbor({1: -7, 4: DEVICE})), "algorithm -7 is not EdDSA (-8)")
case("bytes_follow", "a byte after the record", record(tail=b"\0"), f"bytes follow the item from byte {len(record()[0])} on")
case("counter_too_large", "hlc counter 2^32", record(payload(hlc_ctr=1 << 32)), "hlc_ctr is beyond 2^53 - 1")
case("cut", "the last byte is missing", (record()[0][:-1], b""), f"the bytes end inside an item at byte {len(record()[0]) - 66}")
case("field_missing", "13 fields", record(payload()[:-1]), "13 fields where 14 are required")
case("heads_twice", "one head twice", record(payload(heads=[ONE, ONE])), "the heads are not in ascending order")
case("heads_unsorted", "heads descend", record(payload(heads=[TWO, ONE])), "the heads are not in ascending order")
case("heads_too_many", "65 heads", record(payload(heads=[bytes([n] * 32) for n in range(65)])),
     "65 heads are more than the 64 allowed")
case("integer_not_shortest", "sequence number 1 in two bytes", record(payload(seq=Raw(b"\x18\x01"))),
     "a number at byte 36 is not in its shortest form")
case("kid_of_another", "the header names another key", record(protected=cbor({1: -8, 4: bytes(16)})),
     f"the header names key {'00' * 16}, the payload device {device}")
case("kind_not_utf8", "kind is not UTF-8", record(payload(kind=Raw(b"\x61\xff"))), "the text at byte 69 is not UTF-8")
case("kind_too_long", "65 bytes of kind", record(payload(kind="k" * 65)), "kind has 65 bytes, more than the 64 allowed")
case("length_not_shortest", "the payload's length in four bytes",
     record(laid=lambda fields: b"\x5a" + len(fields).to_bytes(4, "big") + fields),
     "a number at byte 25 is not in its shortest form")
case("number_too_large", "sequence number 2^53", record(payload(seq=1 << 53, prev=ONE)), "seq is beyond 2^53 - 1")
case("payload_detached", "null for the payload", record(laid=lambda fields: b"\xf6"), "the payload is missing")
case("prev_at_start", "record 1 names one before it", record(payload(prev=ONE)), "record 1 names a record before it")
case("prev_missing", "record 2 names none before it", record(payload(seq=2)), "record 2 names no record before it")
case("protected_extra", "a content type in the header", record(protected=cbor({1: -8, 3: 0, 4: DEVICE})),
     "the protected header is not {1: alg, 4: kid}")
case("seq_float", "sequence number 1.0", record(payload(seq=Raw(b"\xf9\x3c\x00"))), "byte 36 does not begin an unsigned integer")
case("seq_zero", "sequence number 0", record(payload(seq=0)), "sequence number 0")
case("signature_bad", "one bit of S changed", record(signature=half_changed), f"bad signature on record 1 of device {device}")
case("signature_malleable", "S + L", record(signature=s_plus_l), f"bad signature on record 1 of device {device}")
case("signature_of_another_context", "signed as a receipt", record(context=b"clearhawse receipt v1"),
     f"bad signature on record 1 of device {device}")
case("signature_of_another_key", "signed by another key", record(seed=bytes([9] * 32)),
     f"bad signature on record 1 of device {device}")
case("signature_short", "63 bytes of signature", record(signature=lambda s: s[:63]), "the signature has 63 bytes, not 64")
case("tag_missing", "no tag 18", record(tag=b""), "not a tagged COSE_Sign1")
case("tag_of_mac", "tag 17", record(tag=b"\xd1"), "not a tagged COSE_Sign1")
case("unprotected_header", "a kid in the unprotected header", record(unprotected={4: DEVICE}),
     "the unprotected header is not empty")
case("version_2", "format version 2", record(payload(version=2)), "format version 2 is not known")
case("vessel_short", "15 bytes of vessel", record(payload(vessel=VESSEL[:15])), "vessel has a wrong length")
other = public(bytes([9] * 32))
case("wrong_key", "another device's key offered", record(),
     f"key of device {hashlib.sha256(other).digest()[:16].hex()} offered for a record of device {device}", other)
