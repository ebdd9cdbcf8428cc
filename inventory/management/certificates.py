"""A fresh self-signed certificate, so that phones on the yard's own network may open their cameras."""

from __future__ import annotations

import contextlib
import datetime as dt
import ipaddress
import socket
from pathlib import Path
from typing import NamedTuple

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

DAYS = 30


class Certificate(NamedTuple):
    certificate: Path
    key: Path
    fingerprint: str


def lan_addresses() -> list[str]:
    """This machine's IPv4 addresses that a phone could reach, the likeliest first."""
    found = [_outward_address()]
    with contextlib.suppress(OSError):
        found += [str(info[4][0]) for info in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)]
    usable = [address for address in found if address and not ipaddress.ip_address(address).is_loopback]
    return list(dict.fromkeys(usable))


def _outward_address() -> str:
    """Choosing a route for a datagram tells our own address; nothing is sent (192.0.2.0/24 is for documentation)."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
        except OSError:
            return ""
        return str(probe.getsockname()[0])


def make_certificate(folder: Path, hosts: list[str]) -> Certificate:
    key = ec.generate_private_key(ec.SECP256R1())
    certificate = _signed(key, hosts)
    folder.mkdir(parents=True, exist_ok=True)
    paths = folder / "certificate.pem", folder / "key.pem"
    paths[0].write_bytes(certificate.public_bytes(serialization.Encoding.PEM))
    paths[1].touch(mode=0o600)
    paths[1].chmod(0o600)
    paths[1].write_bytes(
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    )
    return Certificate(*paths, certificate.fingerprint(hashes.SHA256()).hex(":").upper())


def _signed(key: ec.EllipticCurvePrivateKey, hosts: list[str]) -> x509.Certificate:
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Pourback on this yard's network")])
    now = dt.datetime.now(dt.UTC)
    return (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(minutes=5))
        .not_valid_after(now + dt.timedelta(days=DAYS))
        .add_extension(x509.SubjectAlternativeName([_name(host) for host in hosts]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )


def _name(host: str) -> x509.GeneralName:
    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)
