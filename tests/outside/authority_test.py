"""Opens a protected ship's key with other software: the cryptography package, and openssl where it is there.

Shares no code with the project: the file is a PKCS#8 key in PEM (RFC 5958, RFC 8018, RFC 8410), with lines
before it that RFC 7468 has readers pass over.
"""

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_pem_private_key,
)

PROGRAM = os.environ["CLEARHAWSE_BIN"]
PASSPHRASE = "hawse pipe lantern Tuesday"
SEED = bytes([7]) * 32
# How an Ed25519 public key begins as DER (RFC 8410 section 4).
SPKI_HEAD = bytes.fromhex("302a300506032b6570032100")


def demand(right, words):
    if not right:
        sys.exit(words)


def check_with_openssl(path):
    """Has openssl open the key, with the right passphrase and with a wrong one; returns its public key."""
    ask = ["openssl", "pkey", "-in", path, "-pubout", "-outform", "DER", "-passin"]
    wrong = subprocess.run([*ask, "pass:another"], capture_output=True)
    demand(wrong.returncode != 0, "openssl opened the key with a wrong passphrase")
    right = subprocess.run([*ask, f"pass:{PASSPHRASE}"], capture_output=True)
    demand(right.returncode == 0, f"openssl does not open the key: {right.stderr.decode()}")
    demand(right.stdout.startswith(SPKI_HEAD), "openssl says it is no Ed25519 key")
    return right.stdout[len(SPKI_HEAD) :]


def main():
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        key, secret = folder / "ship.key", folder / "secret"
        key.write_text(SEED.hex() + "\n")
        key.chmod(0o600)
        secret.write_text(PASSPHRASE + "\n")
        command = ["authority", "protect", "--data", folder, "--new-passphrase-file", secret]
        subprocess.run([PROGRAM, *command], check=True, stdout=subprocess.DEVNULL)
        demand(SEED.hex() not in key.read_text(), "the key is not protected")
        opened = load_pem_private_key(key.read_bytes(), PASSPHRASE.encode())
        seed = opened.private_bytes(Encoding.Raw, PrivateFormat.Raw, NoEncryption())
        demand(seed == SEED, "another key came out")
        public = opened.public_key().public_bytes(Encoding.Raw, PublicFormat.Raw)
        shown = subprocess.run(
            [PROGRAM, "authority", "show", "--data", folder], check=True, capture_output=True, text=True
        )
        demand(public.hex() in shown.stdout, "the key that is shown is another")
        if shutil.which("openssl") is None:
            print("openssl is not installed: the key was opened with the cryptography package alone")
        else:
            demand(check_with_openssl(key) == public, "openssl finds another public key")


main()
