"""A certificate authority of the desk's own, for phones on a hotspot where no public name leads to the laptop.

It may vouch for private addresses and ``.local`` names only (name constraints): whoever got hold of its key could not
pass for a bank. Its key never leaves the home folder.

References
----------
RFC 5280, 4.2.1.10 (name constraints); RFC 1918, RFC 4193 and RFC 3927 (private addresses).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import ip_address, ip_network
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from broodsweep.access.constants import AUTHORITY_D, CERTIFICATE_D
from broodsweep.access.parcel import CURVE, write_private
from broodsweep.errors import RefusedError, TroubleError

PRIVATE = (
    "10.0.0.0/8",
    "172.16.0.0/12",
    "192.168.0.0/16",
    "169.254.0.0/16",
    "127.0.0.0/8",
    "fd00::/8",
    "fe80::/10",
)
NAMES = ("local", "localhost")
SLACK = timedelta(hours=24)
"""A phone whose clock is a day behind still trusts the certificate."""
GROUP = 4


@dataclass(frozen=True, kw_only=True)
class Authority:
    """The desk's own authority, with the files that a server needs."""

    certificate: Path
    """What a phone is asked to trust, PEM."""
    fingerprint: str
    """SHA-256 of it, in groups, to be compared by eye."""
    server_certificate: Path
    server_key: Path


def authority_for(folder: Path, hosts: Iterable[str], *, now: datetime, title: str) -> Authority:
    """Return the authority of a folder and a fresh server certificate for these hosts.

    Parameters
    ----------
    folder
        Where the keys are kept; made, readable by its owner alone, where it is not there.
    hosts
        Private addresses and ``.local`` names under which phones reach the desk.
    now
        The clock.
    title
        Name of the authority, as the phone shows it.

    Raises
    ------
    RefusedError
        If a host is a public address or name.
    TroubleError
        If the files can neither be read nor written, or the authority has run out.
    """
    named = [_alternative(host) for host in hosts]
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        key, root = _root_in(folder, now=now, title=title)
        mine = ec.generate_private_key(CURVE)
        server = _server(named, mine.public_key(), key, root, now=now)
        chain, secret = folder / "server.pem", folder / "server.key"
        write_private(secret, _pem(mine))
        chain.write_bytes(server.public_bytes(Encoding.PEM) + root.public_bytes(Encoding.PEM))
    except (OSError, ValueError) as error:
        raise TroubleError("access.authority_trouble", path=str(folder), said=str(error)) from error
    if root.not_valid_after_utc < now:
        raise TroubleError("access.authority_old", path=str(folder))
    return Authority(
        certificate=folder / "authority.pem",
        fingerprint=grouped(root.fingerprint(hashes.SHA256())),
        server_certificate=chain,
        server_key=secret,
    )


def is_within(address: str) -> bool:
    """Say whether the authority may vouch for an address: a private one."""
    return any(ip_address(address) in ip_network(net) for net in PRIVATE)


def grouped(digest: bytes) -> str:
    """Write a digest in groups of four, to be compared by eye."""
    text = digest.hex().upper()
    return " ".join(text[start : start + GROUP] for start in range(0, len(text), GROUP))


def _alternative(host: str) -> x509.GeneralName:
    try:
        address = ip_address(host)
    except ValueError:
        if host == "localhost" or host.endswith(".local"):
            return x509.DNSName(host)
        raise RefusedError("access.public_host", host=host) from None
    if not is_within(host):
        raise RefusedError("access.public_host", host=host)
    return x509.IPAddress(address)


def _root_in(
    folder: Path, *, now: datetime, title: str
) -> tuple[ec.EllipticCurvePrivateKey, x509.Certificate]:
    secret, kept = folder / "authority.key", folder / "authority.pem"
    if not secret.exists():
        fresh = ec.generate_private_key(CURVE)
        kept.write_bytes(_root(fresh, now=now, title=title).public_bytes(Encoding.PEM))
        write_private(secret, _pem(fresh))
    key = load_pem_private_key(secret.read_bytes(), password=None)
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise ValueError(f"Expected a P-256 key in {secret}.")
    return key, x509.load_pem_x509_certificate(kept.read_bytes())


def _root(key: ec.EllipticCurvePrivateKey, *, now: datetime, title: str) -> x509.Certificate:
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, title)])
    allowed = [x509.IPAddress(ip_network(net)) for net in PRIVATE] + [x509.DNSName(name) for name in NAMES]
    return (
        x509.CertificateBuilder(subject_name=name, issuer_name=name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - SLACK)
        .not_valid_after(now + timedelta(days=AUTHORITY_D.value))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_usage(signs_certificates=True), critical=True)
        .add_extension(
            x509.NameConstraints(permitted_subtrees=allowed, excluded_subtrees=None), critical=True
        )
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )


def _server(
    named: list[x509.GeneralName],
    public: ec.EllipticCurvePublicKey,
    key: ec.EllipticCurvePrivateKey,
    root: x509.Certificate,
    *,
    now: datetime,
) -> x509.Certificate:
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, str(named[0].value))])
    return (
        x509.CertificateBuilder(subject_name=name, issuer_name=root.subject)
        .public_key(public)
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - SLACK)
        .not_valid_after(now + timedelta(days=CERTIFICATE_D.value) - SLACK)
        .add_extension(x509.SubjectAlternativeName(named), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        encipher_only=False,
        decipher_only=False,
    )


def _pem(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
