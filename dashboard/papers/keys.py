"""The key that signs evidence packs: made on first use, kept beside the register, readable by its owner only."""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_pem_private_key,
)

KEY_FILE = "evidence_key.pem"
_OWNER_ONLY = 0o600
_GROUP = 4
_HEXADECIMAL = frozenset("0123456789abcdef")
RAW_KEY_BYTES = 32


@dataclass(frozen=True, slots=True)
class SigningKey:
    """An Ed25519 key pair (RFC 8032)."""

    private: Ed25519PrivateKey

    @property
    def public_hex(self) -> str:
        """Return the raw public key as 64 hexadecimal digits."""
        return self.private.public_key().public_bytes_raw().hex()

    @property
    def fingerprint(self) -> str:
        """Return the fingerprint a person can read out over the telephone."""
        return fingerprint(self.public_hex)

    def sign(self, message: bytes) -> str:
        """Return the signature as 128 hexadecimal digits."""
        return self.private.sign(message).hex()


def fingerprint(public_hex: str) -> str:
    """Return the first 128 bits of the key's SHA-256 in groups of four digits."""
    return grouped(hashlib.sha256(bytes.fromhex(public_hex)).hexdigest()[:RAW_KEY_BYTES])


def grouped(digits: str) -> str:
    """Return digits in groups of four."""
    return " ".join(digits[start : start + _GROUP] for start in range(0, len(digits), _GROUP))


def typed_fingerprint(text: str) -> str:
    """Return a fingerprint as we write it, however it was typed.

    Raises
    ------
    ValueError
        It is none: one has 32 hexadecimal digits.
    """
    digits = "".join(sign for sign in text.lower() if not (sign.isspace() or sign in ":-"))
    if len(digits) != RAW_KEY_BYTES or not set(digits) <= _HEXADECIMAL:
        raise ValueError(
            f'"{text}" is no fingerprint: expected {RAW_KEY_BYTES} hexadecimal digits, as the sender gave.'
        )
    return grouped(digits)


def signed_by(public_hex: str, signature_hex: str, message: bytes) -> bool:
    """Tell whether `message` carries the signature of this key; malformed keys and signatures do not."""
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(public_hex))
        key.verify(bytes.fromhex(signature_hex), message)
    except (InvalidSignature, ValueError):
        return False
    return True


def signing_key(folder: Path) -> SigningKey:
    """Return the key kept in `folder`, making it on first use.

    Raises
    ------
    ValueError
        The file there holds no Ed25519 key; the message names it.
    """
    path = folder / KEY_FILE
    if not path.exists():
        _write_new(path, SigningKey(Ed25519PrivateKey.generate()))
    try:
        private = load_pem_private_key(path.read_bytes(), password=None)
    except ValueError as error:
        raise ValueError(
            f"{path} holds no usable key. Restore it from a backup, or move it away for a new one."
        ) from (error)
    if not isinstance(private, Ed25519PrivateKey):
        raise TypeError(f"{path} holds another kind of key than Ed25519. Move it away for a new one.")
    return SigningKey(private)


def _write_new(path: Path, key: SigningKey) -> None:
    pem = key.private.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    # Created with tight permissions, never widened and narrowed; of two writers the first one's key stays.
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, _OWNER_ONLY)
    except FileExistsError:
        return
    with os.fdopen(handle, "wb") as file:
        file.write(pem)
