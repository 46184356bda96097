"""Parcels between the phone's code and the desk's, both ways (docs/fieldbook.md, "A parcel")."""

from __future__ import annotations

import json
from base64 import b64decode, b64encode
from typing import Any

import pytest
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.hashes import SHA256
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat

from broodsweep.access.parcel import Keys, ParcelError, make_parcel, new_keys, open_parcel, public_text
from tests.fieldbook_core.conftest import Ask

SATCHEL = {"satchel": "S-1", "stops": [], "who": "Ása Lund"}


@pytest.fixture(scope="module")
def met(core: Ask) -> dict[str, Any]:
    """Let the phone make parcels for a desk, and open one of the desk's."""
    desk, phone = new_keys(), ec.generate_private_key(ec.SECP256R1())
    sent = make_parcel(
        SATCHEL,
        sender="desk",
        receiver="phone-1",
        made_at="2026-07-08T07:00:00Z",
        sign=desk.sign,
        seal_to=public_text(phone),
    )
    private = phone.private_bytes(Encoding.DER, PrivateFormat.PKCS8, NoEncryption())
    answer = core(
        "parcel",
        desk_seal_key=desk.seal_public,
        desk_sign_key=desk.sign_public,
        from_desk=sent.decode(),
        seal_pkcs8=b64encode(private).decode(),
    )
    return {"desk": desk, **answer}


def opened(desk: Keys, text: str, signed_by: str) -> Any:
    return open_parcel(text.encode(), receiver="desk", seal=desk.seal, signed_by=signed_by)


def piece(desk: Keys, sealed: str) -> bytes:
    """Open one piece: as a parcel's seal, bound to ``broodsweep piece 1``."""
    raw = b64decode(sealed)
    point, nonce, box = raw[:65], raw[65:77], raw[77:]
    other = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), point)
    shared = desk.seal.exchange(ec.ECDH(), other)
    key = HKDF(algorithm=SHA256(), length=32, salt=point, info=b"broodsweep parcel 1").derive(shared)
    return AESGCM(key).decrypt(nonce, box, b"broodsweep piece 1")


def test_the_desk_opens_what_the_phone_sealed(met: dict[str, Any]) -> None:
    found = opened(met["desk"], met["plain"], met["sign_key"])
    assert found == {"lines": [met["lines"][0]], "photos": []}


def test_unsent_lines_and_photos_come_out_of_their_pieces_byte_for_byte(met: dict[str, Any]) -> None:
    (file,) = met["files"]
    found = opened(met["desk"], file["text"], met["sign_key"])
    lines = [json.loads(piece(met["desk"], one["line"])) for one in found["pieces"] if "line" in one]
    assert lines == met["lines"]
    (photo,) = (one for one in found["pieces"] if "photo" in one)
    told = json.loads(piece(met["desk"], photo["key"]))
    data = b64decode(photo["data"])
    assert told["photo"] == photo["photo"] == met["photo"]
    assert AESGCM(b64decode(told["content_key"])).decrypt(data[:12], data[12:], b"") == b"the picture"
    assert file["name"].endswith(".parcel")


def test_a_parcel_changed_on_the_way_or_of_another_phone_is_refused(met: dict[str, Any]) -> None:
    changed = json.loads(met["plain"]) | {"made_at": "2026-07-09T11:00:00Z"}
    for text, signer in (
        (json.dumps(changed), met["sign_key"]),
        (met["plain"], met["desk"].sign_public),
    ):
        with pytest.raises(ParcelError):
            opened(met["desk"], text, signer)


def test_the_phone_opens_the_desks_satchel_and_refuses_what_is_not_its_own(met: dict[str, Any]) -> None:
    assert met["opened"] == SATCHEL
    assert met["refused"] == [
        "fieldbook.phone_parcel_for_another",
        "fieldbook.phone_parcel_changed",
        "fieldbook.phone_parcel_changed",
        "fieldbook.phone_not_a_parcel",
    ]
