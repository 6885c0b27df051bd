"""Looks at the ship's HTTPS with OpenSSL, by way of Python's ssl module, and at its certificates with cryptography.

Shares no code with the project. The rules for a server's certificate are those of support.apple.com/103769; the
name constraints those of RFC 5280 section 4.2.1.10.
"""

import ipaddress
import os
import re
import socket
import ssl
import subprocess
import tempfile
import urllib.request

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding
from cryptography.x509.oid import ExtendedKeyUsageOID

PROGRAM = os.environ["CLEARHAWSE_BIN"]
NAME = "ship.home.arpa"


def started(data):
    """Starts a ship; returns the process, the plain address, the secure port and the fingerprint told."""
    flags = ["--listen", "127.0.0.1:0", "--https", "127.0.0.1:0", "--name", NAME]
    process = subprocess.Popen(
        [PROGRAM, "serve", "--data", data, *flags],
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
    )
    told = ""
    while "Certificate's fingerprint: " not in told:
        line = process.stdout.readline()
        assert line, f"the server ended: {told}"
        told += line
    plain = re.search(r"at (http://\S+)", told)[1]
    port = int(re.search(rf"Secure address: https://{NAME}:(\d+)", told)[1])
    return process, plain, port, re.search(r"fingerprint: (.*)\n", told)[1]


def fetch(url):
    with urllib.request.urlopen(url, timeout=30) as answer:
        return answer.read()


def secured(trusted, port, name):
    """Connects as a client that trusts `trusted` alone and asks for `name`; returns the leaf and the protocol."""
    context = ssl.create_default_context(cadata=trusted)
    # RFC 5280 to the letter: what OpenSSL would let pass otherwise counts as well.
    context.verify_flags |= ssl.VERIFY_X509_STRICT
    context.set_alpn_protocols(["h2", "http/1.1"])
    with socket.create_connection(("127.0.0.1", port), timeout=30) as wire:
        with context.wrap_socket(wire, server_hostname=name) as tls:
            return tls.getpeercert(binary_form=True), tls.selected_alpn_protocol(), tls.version()


def refused(trusted, port, name):
    try:
        secured(trusted, port, name)
    except ssl.SSLCertVerificationError:
        return True
    return False


def look_at_authority(authority):
    basic = authority.extensions.get_extension_for_class(x509.BasicConstraints)
    assert basic.critical and basic.value.ca and basic.value.path_length == 0
    constraints = authority.extensions.get_extension_for_class(x509.NameConstraints)
    assert constraints.critical and not constraints.value.excluded_subtrees
    permitted = {str(name.value) for name in constraints.value.permitted_subtrees}
    assert {"home.arpa", NAME, "10.0.0.0/8", "192.168.0.0/16", "fc00::/7"} <= permitted, permitted
    assert isinstance(authority.public_key(), ec.EllipticCurvePublicKey)
    life = authority.not_valid_after_utc - authority.not_valid_before_utc
    assert 3650 <= life.days <= 3653, life


def look_at_server(leaf):
    life = leaf.not_valid_after_utc - leaf.not_valid_before_utc
    assert life.days <= 825, life
    usage = leaf.extensions.get_extension_for_class(x509.ExtendedKeyUsage).value
    assert list(usage) == [ExtendedKeyUsageOID.SERVER_AUTH]
    names = leaf.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    assert NAME in names.get_values_for_type(x509.DNSName)
    assert ipaddress.ip_address("127.0.0.1") in names.get_values_for_type(x509.IPAddress)
    assert isinstance(leaf.public_key().curve, ec.SECP256R1)
    assert isinstance(leaf.signature_hash_algorithm, hashes.SHA256)


def main():
    with tempfile.TemporaryDirectory() as data:
        process, plain, port, told = started(data)
        try:
            pem = fetch(f"{plain}/ca.pem").decode()
            authority = x509.load_pem_x509_certificate(pem.encode())
            assert fetch(f"{plain}/ca.crt") == authority.public_bytes(Encoding.DER)
            assert told == authority.fingerprint(hashes.SHA256()).hex(" ").upper(), told
            look_at_authority(authority)
            leaf, protocol, version = secured(pem, port, NAME)
            assert (protocol, version) == ("h2", "TLSv1.3"), (protocol, version)
            look_at_server(x509.load_der_x509_certificate(leaf))
            for name in ["127.0.0.1", "localhost"]:
                secured(pem, port, name)
            for name in ["other.home.arpa", "127.0.0.2"]:
                assert refused(pem, port, name), name
            assert refused(None, port, NAME), "who has not been told to trust it does not"
        finally:
            process.terminate()
            process.wait(timeout=60)
    print("HTTPS holds: chain, names, constraints, lives")


if __name__ == "__main__":
    main()
