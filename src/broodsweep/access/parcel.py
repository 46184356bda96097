"""Parcels: content sealed to one receiver and signed by one sender, to go from hand to hand as a file.

Sealed by ECDH on P-256 with a fresh key, HKDF with SHA-256 and AES-256-GCM; signed by ECDSA on P-256 with SHA-256.
The parts are those that a browser's own cryptography offers.

References
----------
NIST SP 800-56A rev. 3, 6.2.2.2 (one-pass Diffie-Hellman); RFC 5869 (HKDF); FIPS 186-5 (ECDSA); W3C Web
Cryptography API (signatures as r and s side by side).
"""

from __future__ import annotations

import json
import os
from base64 import b64decode, b64encode
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from cryptography.exceptions import InvalidSignature, InvalidTag
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec, utils
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    PublicFormat,
    load_der_public_key,
    load_pem_private_key,
)

from broodsweep.errors import BroodsweepError, RefusedError, TroubleError

FORM = 1
CURVE = ec.SECP256R1()
INFO = b"broodsweep parcel 1"
PIECE = b"broodsweep piece 1"
"""What is bound to a line or a photo's key that was sealed by itself."""
NONCE_BYTES = 12
POINT_BYTES = 65
HALF = 32


class ParcelError(BroodsweepError):
    """A parcel cannot be opened: not ours, not for us, or changed on the way."""


@dataclass(frozen=True, kw_only=True)
class Keys:
    """The desk's own keys: one to open what is sealed to it, one to sign what it sends."""

    seal: ec.EllipticCurvePrivateKey
    sign: ec.EllipticCurvePrivateKey

    @property
    def seal_public(self) -> str:
        """Public key to seal to, SubjectPublicKeyInfo in base64."""
        return public_text(self.seal)

    @property
    def sign_public(self) -> str:
        """Public key to check signatures with, SubjectPublicKeyInfo in base64."""
        return public_text(self.sign)


def public_text(key: ec.EllipticCurvePrivateKey) -> str:
    """Return the public half of a key: SubjectPublicKeyInfo in base64."""
    return b64encode(key.public_key().public_bytes(Encoding.DER, PublicFormat.SubjectPublicKeyInfo)).decode()


def public_key(text: str) -> ec.EllipticCurvePublicKey:
    """Read a public key.

    Raises
    ------
    RefusedError
        If it is not a P-256 key as SubjectPublicKeyInfo in base64.
    """
    try:
        key = load_der_public_key(b64decode(text, validate=True))
    except ValueError as error:
        raise RefusedError("access.not_a_key") from error
    if not isinstance(key, ec.EllipticCurvePublicKey) or key.curve.name != CURVE.name:
        raise RefusedError("access.not_a_key")
    return key


def new_keys() -> Keys:
    """Return new keys."""
    return Keys(seal=ec.generate_private_key(CURVE), sign=ec.generate_private_key(CURVE))


def keys_in(folder: Path) -> Keys:
    """Return the desk's keys, made (readable by their owner alone) where they are not there yet.

    Raises
    ------
    TroubleError
        If they can neither be read nor written.
    """
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        return Keys(seal=_key_in(folder / "seal.pem"), sign=_key_in(folder / "sign.pem"))
    except (OSError, ValueError) as error:
        raise TroubleError("access.keys_trouble", path=str(folder), said=str(error)) from error


def _key_in(path: Path) -> ec.EllipticCurvePrivateKey:
    if not path.exists():
        key = ec.generate_private_key(CURVE)
        pem = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
        write_private(path, pem)
    kept = load_pem_private_key(path.read_bytes(), password=None)
    if not isinstance(kept, ec.EllipticCurvePrivateKey):
        raise ValueError(f"Expected a P-256 key in {path}.")
    return kept


def write_private(path: Path, content: bytes) -> None:
    """Write a file that only its owner may read, whole or not at all."""
    part = path.with_suffix(".part")
    part.unlink(missing_ok=True)
    with os.fdopen(os.open(part, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)


def make_parcel(
    content: Mapping[str, Any],
    *,
    sender: str,
    receiver: str,
    made_at: str,
    sign: ec.EllipticCurvePrivateKey,
    seal_to: str,
) -> bytes:
    """Return a parcel as a file's bytes.

    Parameters
    ----------
    content
        What is sent, as JSON.
    sender, receiver
        Names of the two, ``desk`` or a phone's.
    made_at
        When it was made, RFC 3339.
    sign
        The sender's key.
    seal_to
        The receiver's public key, SubjectPublicKeyInfo in base64.
    """
    frame = {"parcel": FORM, "from": sender, "to": receiver, "made_at": made_at}
    plain = json.dumps(content, ensure_ascii=False, separators=(",", ":")).encode()
    fresh, nonce = ec.generate_private_key(CURVE), os.urandom(NONCE_BYTES)
    point = fresh.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)
    box = AESGCM(_secret(fresh, public_key(seal_to), point)).encrypt(nonce, plain, _bound(frame))
    signature = sign.sign(_bound(frame) + plain, ec.ECDSA(hashes.SHA256()))
    r, s = utils.decode_dss_signature(signature)
    return json.dumps(
        {
            **frame,
            "sealed": b64encode(point + nonce + box).decode(),
            "signature": b64encode(r.to_bytes(HALF, "big") + s.to_bytes(HALF, "big")).decode(),
        }
    ).encode()


def frame_of(parcel: bytes) -> dict[str, Any]:
    """Read who sent a parcel to whom, without opening it.

    Raises
    ------
    ParcelError
        If it is not a parcel, or one of a newer form.
    """
    try:
        found = json.loads(parcel)
        kept = {name: found[name] for name in ("parcel", "from", "to", "made_at", "sealed", "signature")}
    except (ValueError, KeyError, TypeError) as error:
        raise ParcelError("access.not_a_parcel") from error
    if kept["parcel"] != FORM:
        raise ParcelError("access.parcel_newer", found=str(kept["parcel"]), known=FORM)
    if not all(isinstance(value, str) for name, value in kept.items() if name != "parcel"):
        raise ParcelError("access.not_a_parcel")
    return kept


def open_parcel(parcel: bytes, *, receiver: str, seal: ec.EllipticCurvePrivateKey, signed_by: str) -> Any:
    """Return what a parcel holds.

    Parameters
    ----------
    parcel
        The file's bytes.
    receiver
        Name of the one who opens it.
    seal
        The receiver's key.
    signed_by
        The sender's public key, SubjectPublicKeyInfo in base64.

    Raises
    ------
    ParcelError
        If it is not a parcel, is for someone else, or was changed on the way.
    """
    found = frame_of(parcel)
    if found["to"] != receiver:
        raise ParcelError("access.parcel_for_another", receiver=found["to"])
    frame = {name: found[name] for name in ("parcel", "from", "to", "made_at")}
    try:
        sealed = b64decode(found["sealed"], validate=True)
        signature = b64decode(found["signature"], validate=True)
        point, nonce = sealed[:POINT_BYTES], sealed[POINT_BYTES : POINT_BYTES + NONCE_BYTES]
        other = ec.EllipticCurvePublicKey.from_encoded_point(CURVE, point)
        secret = _secret(seal, other, point)
        plain = AESGCM(secret).decrypt(nonce, sealed[POINT_BYTES + NONCE_BYTES :], _bound(frame))
        r, s = int.from_bytes(signature[:HALF], "big"), int.from_bytes(signature[HALF:], "big")
        checked = utils.encode_dss_signature(r, s)
        public_key(signed_by).verify(checked, _bound(frame) + plain, ec.ECDSA(hashes.SHA256()))
        return json.loads(plain)
    except (ValueError, InvalidTag, InvalidSignature) as error:
        raise ParcelError("access.parcel_changed") from error


def open_pieces(content: Mapping[str, Any], seal: ec.EllipticCurvePrivateKey) -> dict[str, Any]:
    """Return the lines and photos of what a phone sent: those that lie open and those sealed one by one.

    A phone seals each line and each photo's key to the desk when it writes them, so that they can be handed in
    while the phone is locked. ``lines`` come as parsed JSON, ``photos`` as (name, bytes).

    Parameters
    ----------
    content
        What `open_parcel` returned: ``lines``, ``photos`` (``photo``, ``data`` in base64) and ``pieces``.
    seal
        The receiver's key.

    Raises
    ------
    ParcelError
        If a piece has not the form, or was not sealed to this key.
    """
    lines: list[Any] = list(_listed(content, "lines"))
    photos: list[tuple[str, bytes]] = []
    try:
        for row in _listed(content, "photos"):
            photos.append((str(row["photo"]), b64decode(row["data"], validate=True)))
        for piece in _listed(content, "pieces"):
            if "line" in piece:
                lines.append(json.loads(_open_piece(piece["line"], seal)))
                continue
            told = json.loads(_open_piece(piece["key"], seal))
            box, key = b64decode(piece["data"], validate=True), b64decode(told["content_key"], validate=True)
            data = AESGCM(key).decrypt(box[:NONCE_BYTES], box[NONCE_BYTES:], b"")
            photos.append((str(piece["photo"]), data))
    except (ValueError, KeyError, TypeError, InvalidTag) as error:
        raise ParcelError("access.parcel_changed") from error
    return {"lines": lines, "photos": photos}


def _listed(content: Mapping[str, Any], name: str) -> list[Any]:
    found = content.get(name) if isinstance(content, Mapping) else None
    if found is not None and not isinstance(found, list):
        raise ParcelError("access.not_a_parcel")
    return found or []


def _open_piece(sealed: str, seal: ec.EllipticCurvePrivateKey) -> bytes:
    whole = b64decode(sealed, validate=True)
    point, nonce = whole[:POINT_BYTES], whole[POINT_BYTES : POINT_BYTES + NONCE_BYTES]
    other = ec.EllipticCurvePublicKey.from_encoded_point(CURVE, point)
    return AESGCM(_secret(seal, other, point)).decrypt(nonce, whole[POINT_BYTES + NONCE_BYTES :], PIECE)


def _secret(mine: ec.EllipticCurvePrivateKey, other: ec.EllipticCurvePublicKey, point: bytes) -> bytes:
    shared = mine.exchange(ec.ECDH(), other)
    return HKDF(algorithm=hashes.SHA256(), length=HALF, salt=point, info=INFO).derive(shared)


def _bound(frame: Mapping[str, Any]) -> bytes:
    return "\n".join([str(FORM), frame["from"], frame["to"], frame["made_at"], ""]).encode()
