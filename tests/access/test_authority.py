"""The desk's own certificate authority, checked by OpenSSL's own verification through the standard library."""

from __future__ import annotations

import socket
import ssl
import stat
import sys
import threading
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.x509.verification import PolicyBuilder, Store

from broodsweep.access.authority import PRIVATE, authority_for, is_within
from broodsweep.errors import RefusedError

NOW = datetime.now(UTC)


def test_a_browser_that_trusts_the_authority_reaches_the_desk(tmp_path: Path) -> None:
    made = authority_for(tmp_path / "a", ["127.0.0.1", "localhost"], now=NOW, title="desk")
    served = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    served.load_cert_chain(made.server_certificate, made.server_key)
    said: list[str] = []
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = listener.getsockname()[1]

        def answer() -> None:
            for _ in range(2):
                raw, _ = listener.accept()
                try:
                    with served.wrap_socket(raw, server_side=True) as there:
                        there.recv(1)
                except OSError as error:
                    said.append(str(error))

        thread = threading.Thread(target=answer)
        thread.start()
        trusting = ssl.create_default_context(cafile=str(made.certificate))
        with trusting.wrap_socket(
            socket.create_connection(("127.0.0.1", port)), server_hostname="localhost"
        ) as there:
            there.send(b"x")
            assert there.version() == "TLSv1.3"
        with pytest.raises(ssl.SSLCertVerificationError):
            ssl.create_default_context().wrap_socket(
                socket.create_connection(("127.0.0.1", port)), server_hostname="localhost"
            )
        thread.join(timeout=10)
    assert len(said) == 1


def test_it_is_made_once_and_the_server_certificate_anew(tmp_path: Path) -> None:
    first = authority_for(tmp_path, ["10.0.0.2"], now=NOW, title="desk")
    root, server = first.certificate.read_bytes(), first.server_certificate.read_bytes()
    second = authority_for(tmp_path, ["10.0.0.3"], now=NOW + timedelta(days=300), title="desk")
    assert second.certificate.read_bytes() == root and second.fingerprint == first.fingerprint
    assert second.server_certificate.read_bytes() != server


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX rights")
def test_only_the_owner_reads_the_keys(tmp_path: Path) -> None:
    authority_for(tmp_path, ["10.0.0.2"], now=NOW, title="desk")
    for name in ("authority.key", "server.key"):
        assert stat.S_IMODE((tmp_path / name).stat().st_mode) == 0o600


@pytest.mark.parametrize("host", ["8.8.8.8", "desk.example.org", "192.0.2.7", "2001:db8::1"])
def test_it_vouches_for_no_public_host(tmp_path: Path, host: str) -> None:
    with pytest.raises(RefusedError):
        authority_for(tmp_path, [host], now=NOW, title="desk")


def test_its_own_certificate_forbids_public_names(tmp_path: Path) -> None:
    """RFC 5280, 4.2.1.10: whoever stole the key could not sign for a public name; cryptography's verifier agrees."""
    made = authority_for(tmp_path, ["desk.local"], now=NOW, title="desk")
    root = x509.load_pem_x509_certificate(made.certificate.read_bytes())
    held = root.extensions.get_extension_for_class(x509.NameConstraints)
    assert held.critical and held.value.permitted_subtrees
    assert {str(tree.value) for tree in held.value.permitted_subtrees} == {*PRIVATE, "local", "localhost"}
    leaf = x509.load_pem_x509_certificate(made.server_certificate.read_bytes())
    check = PolicyBuilder().store(Store([root])).time(NOW).build_server_verifier(x509.DNSName("desk.local"))
    assert check.verify(leaf, [])
    assert (leaf.not_valid_after_utc - leaf.not_valid_before_utc).days <= 398


def test_private_addresses() -> None:
    """RFC 1918 and RFC 4193."""
    assert all(map(is_within, ("10.1.2.3", "172.31.0.1", "192.168.4.1", "fd12::1")))
    assert not any(map(is_within, ("172.32.0.1", "11.0.0.1", "2001:db8::1")))
