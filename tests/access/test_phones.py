"""Phones that are enrolled, and parcels between them and the desk."""

from __future__ import annotations

import json
from base64 import b64decode, b64encode

import pytest
from cryptography.hazmat.primitives.asymmetric import ec, x25519
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat
from hypothesis import given
from hypothesis import strategies as some

from broodsweep.access import Access
from broodsweep.access.codes import Opens
from broodsweep.access.parcel import (
    ParcelError,
    frame_of,
    make_parcel,
    new_keys,
    open_parcel,
    open_pieces,
    public_text,
)
from broodsweep.desk.access import SignInError
from broodsweep.errors import NotFoundError, RefusedError

from .conftest import Clock

PHONE, DESK, OTHER = new_keys(), new_keys(), new_keys()


def enrol(access: Access, label: str = "Phone 1") -> tuple[str, str]:
    code = access.codes.make(Opens.ENROLMENT, "Una Selvik", by="desk")
    device, token = access.devices.enrol(
        code, label=label, seal_key=PHONE.seal_public, sign_key=PHONE.sign_public
    )
    return device.device, token


def test_a_phone_is_known_by_its_token(access: Access) -> None:
    device, token = enrol(access)
    found = access.devices.of(token)
    assert found and found.device == device and found.who == "Una Selvik" and found.revoked_at is None
    assert access.devices.of("no such token") is None
    again = access.devices.of(token)
    assert again and again.seen_at is not None


def test_a_code_enrols_one_phone_within_ten_minutes(access: Access, clock: Clock) -> None:
    code = access.codes.make(Opens.ENROLMENT, "Una Selvik", by="desk")
    clock.wait(minutes=10, seconds=1)
    with pytest.raises(SignInError):
        access.devices.enrol(code, label="x", seal_key=PHONE.seal_public, sign_key=PHONE.sign_public)


@pytest.mark.parametrize("key", ["", "no key", b64encode(b"x" * 90).decode()])
def test_a_phone_with_another_key_is_refused_and_the_code_stays_good(access: Access, key: str) -> None:
    code = access.codes.make(Opens.ENROLMENT, "Una Selvik", by="desk")
    with pytest.raises(RefusedError):
        access.devices.enrol(code, label="x", seal_key=key, sign_key=PHONE.sign_public)
    assert access.codes.whose(Opens.ENROLMENT, code) == "Una Selvik"


def test_keys_of_other_kinds_are_refused(access: Access) -> None:
    code = access.codes.make(Opens.ENROLMENT, "Una Selvik", by="desk")
    other = x25519.X25519PrivateKey.generate().public_key()
    for key in (
        b64encode(other.public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)).decode(),
        public_text(ec.generate_private_key(ec.SECP384R1())),
    ):
        with pytest.raises(RefusedError):
            access.devices.enrol(code, label="x", seal_key=key, sign_key=PHONE.sign_public)


def test_taking_a_phone_out_and_asking_it_to_clear_itself(access: Access) -> None:
    device, token = enrol(access)
    access.devices.revoke(device, by="lead", wipe=False)
    found = access.devices.of(token)
    assert found and found.revoked_at and found.wipe_asked_at is None, "it is still known, to be set aside"
    first = found.revoked_at
    access.devices.revoke(device, by="lead", wipe=True)
    access.devices.wiped(device)
    found = access.devices.device(device)
    assert found.revoked_at == first and found.wipe_asked_at and found.wiped_at
    with pytest.raises(NotFoundError):
        access.devices.revoke("nothing", by="lead", wipe=True)


def parcel(content: object = None) -> bytes:
    return make_parcel(
        {"lines": content},
        sender="phone-1",
        receiver="desk",
        made_at="2026-07-08T09:00:00Z",
        sign=PHONE.sign,
        seal_to=DESK.seal_public,
    )


def opened(file: bytes) -> object:
    return open_parcel(file, receiver="desk", seal=DESK.seal, signed_by=PHONE.sign_public)


@given(some.recursive(some.none() | some.text() | some.integers(-9, 9), some.lists, max_leaves=5))
def test_a_parcel_holds_what_was_put_in(content: object) -> None:
    assert opened(parcel(content)) == {"lines": content}
    assert frame_of(parcel())["from"] == "phone-1"


def test_nobody_else_opens_it_and_nobody_else_signs_it() -> None:
    file = parcel("a finding")
    assert b"a finding" not in file
    with pytest.raises(ParcelError):
        open_parcel(file, receiver="desk", seal=OTHER.seal, signed_by=PHONE.sign_public)
    with pytest.raises(ParcelError):
        open_parcel(file, receiver="desk", seal=DESK.seal, signed_by=OTHER.sign_public)
    with pytest.raises(ParcelError):
        open_parcel(file, receiver="phone-2", seal=DESK.seal, signed_by=PHONE.sign_public)


@pytest.mark.parametrize("name", ["from", "made_at", "sealed", "signature"])
def test_a_parcel_that_was_changed_is_refused(name: str) -> None:
    found = json.loads(parcel())
    if name in ("sealed", "signature"):
        raw = bytearray(b64decode(found[name]))
        raw[-1] ^= 1
        found[name] = b64encode(bytes(raw)).decode()
    else:
        found[name] += "x"
    with pytest.raises(ParcelError):
        opened(json.dumps(found).encode())


@pytest.mark.parametrize("file", [b"", b"{}", b"[]", b"\xff", b'{"parcel": 1}', b"null"])
def test_what_is_no_parcel_is_said_to_be_none(file: bytes) -> None:
    with pytest.raises(ParcelError, match="not a parcel"):
        frame_of(file)


def test_a_newer_form_is_named() -> None:
    found = json.loads(parcel())
    found["parcel"] = 9
    with pytest.raises(ParcelError, match="form 9"):
        frame_of(json.dumps(found).encode())


def sealed_piece(plain: bytes) -> str:
    """Seal a piece to the desk as a phone does (docs/fieldbook.md), written out anew from the description."""
    fresh, nonce = ec.generate_private_key(ec.SECP256R1()), b"n" * 12
    point = fresh.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
    shared = fresh.exchange(ec.ECDH(), DESK.seal.public_key())
    secret = HKDF(algorithm=SHA256(), length=32, salt=point, info=b"broodsweep parcel 1").derive(shared)
    return b64encode(point + nonce + AESGCM(secret).encrypt(nonce, plain, b"broodsweep piece 1")).decode()


def test_pieces_sealed_one_by_one_open_beside_what_lies_open() -> None:
    key, nonce = b"k" * 32, b"m" * 12
    box = nonce + AESGCM(key).encrypt(nonce, b"picture", b"")
    told = {"photo": "a" * 64, "content_key": b64encode(key).decode()}
    content = {
        "lines": [{"line": 1}],
        "photos": [{"photo": "b" * 64, "data": b64encode(b"open").decode()}],
        "pieces": [
            {"line": sealed_piece(b'{"line": 2}')},
            {
                "photo": "a" * 64,
                "key": sealed_piece(json.dumps(told).encode()),
                "data": b64encode(box).decode(),
            },
        ],
    }
    found = open_pieces(content, DESK.seal)
    assert found["lines"] == [{"line": 1}, {"line": 2}]
    assert found["photos"] == [("b" * 64, b"open"), ("a" * 64, b"picture")]
    with pytest.raises(ParcelError):
        open_pieces(content, OTHER.seal)
    for bad in ({"pieces": [{"line": "?"}]}, {"pieces": 7}, {"photos": [1]}, {"pieces": [{"photo": "x"}]}):
        with pytest.raises(ParcelError):
            open_pieces(bad, DESK.seal)
