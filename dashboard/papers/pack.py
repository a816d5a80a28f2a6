"""The container of an evidence pack: members, a manifest of their hashes, a signature over the manifest.

The same members and key give the same bytes: members are stored in order of name, uncompressed (compressors differ
between versions of a library) and with one fixed date. What a pack is about has its own times in the manifest.
"""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
import zlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from isohume.dashboard.papers.keys import SigningKey, fingerprint

SCHEMA = "isohume.evidence.1"
MANIFEST, SIGNATURE = "manifest.json", "signature.json"
_ZIP_EPOCH = (1980, 1, 1, 0, 0, 0)
_READABLE_BY_ALL = 0o644 << 16
_UNIX = 3
_ZIP_START = b"PK"
# What a pack may hold when it comes back from outside.
MOST_MEMBERS, MOST_BYTES = 100, 512 * 1024 * 1024


class PackError(Exception):
    """A file that is no evidence pack; the message ends with what to do."""


@dataclass(frozen=True, slots=True)
class Pack:
    """An evidence pack as received: nothing in it is trusted yet.

    Attributes
    ----------
    members : mapping of name to bytes, without manifest and signature
    manifest_bytes, signature_bytes : bytes
        As received; empty where missing.
    oddities : tuple of str
        What an unaltered pack never shows: repeated, compressed or unreadable members.
    is_packed_as_ours : bool
        Whether these members, packed again, give the same bytes. False too where a member was changed, since the
        container holds checksums of them.
    """

    members: Mapping[str, bytes]
    manifest_bytes: bytes
    signature_bytes: bytes
    oddities: tuple[str, ...] = ()
    is_packed_as_ours: bool = True


def sha256(data: bytes) -> str:
    """Return the SHA-256 of the bytes, in hexadecimal."""
    return hashlib.sha256(data).hexdigest()


def json_bytes(document: object) -> bytes:
    """Return a document as canonical, readable JSON: sorted keys, UTF-8, no NaN."""
    text = json.dumps(document, indent=1, sort_keys=True, ensure_ascii=False, allow_nan=False)
    return text.encode() + b"\n"


def write_pack(members: Mapping[str, bytes], *, about: Mapping[str, Any], key: SigningKey) -> bytes:
    """Return the pack as the bytes of a .zip file.

    Parameters
    ----------
    members : mapping of name to bytes
        Plain file names without folders.
    about : mapping
        What the manifest says beside the hashes: document id, frame, period, version.
    key : SigningKey
        Signs the manifest.
    """
    listed = {name: {"sha256": sha256(data), "bytes": len(data)} for name, data in members.items()}
    manifest = json_bytes({"schema": SCHEMA, **about, "members": listed})
    signature = signature_document(key.public_hex, key.sign(manifest))
    return _zip({**members, MANIFEST: manifest, SIGNATURE: signature})


def signature_document(public_hex: str, signature_hex: str) -> bytes:
    """Return the signature document as a pack holds it."""
    return json_bytes(
        {
            "algorithm": "Ed25519",
            "signed": MANIFEST,
            "public_key": public_hex,
            "fingerprint": fingerprint(public_hex),
            "signature": signature_hex,
        }
    )


def read_pack(data: bytes) -> Pack:
    """Open a pack without trusting it.

    Checksums of the container are not looked at: the hashes of the manifest say more, and a member with a changed byte
    must still be read to say which.

    Raises
    ------
    PackError
        Not a .zip of ours, or members that are too many or too large.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members, oddities = _members(archive)
    except (zipfile.BadZipFile, EOFError, OSError, ValueError) as error:
        if data.startswith(_ZIP_START) and MANIFEST.encode() in data:
            return Pack({}, b"", b"", (f"The container can no longer be read as a .zip ({error}).",))
        raise PackError(
            f"This is not a readable evidence pack ({error}). Ask the sender for the file again."
        ) from error
    if not {MANIFEST, SIGNATURE} & set(members):
        raise PackError(
            f"The file holds no {MANIFEST}: it is not an evidence pack. Ask the sender for the whole pack."
        )
    is_packed_as_ours = _zip(members) == data
    manifest, signature = members.pop(MANIFEST, b""), members.pop(SIGNATURE, b"")
    return Pack(members, manifest, signature, oddities, is_packed_as_ours)


def parsed(data: bytes) -> dict[str, Any]:
    """Return the JSON object in `data`; {} where there is none."""
    try:
        document = json.loads(data)
    except (ValueError, RecursionError):
        return {}
    return document if isinstance(document, dict) else {}


def _members(archive: zipfile.ZipFile) -> tuple[dict[str, bytes], tuple[str, ...]]:
    infos = archive.infolist()
    if len(infos) > MOST_MEMBERS:
        raise PackError(
            f"The file holds {len(infos)} members; a pack has at most {MOST_MEMBERS}. It is not one of ours."
        )
    if sum(info.file_size for info in infos) > MOST_BYTES:
        raise PackError(f"The file would unpack to over {MOST_BYTES // 2**20} MB. It is not one of ours.")
    members: dict[str, bytes] = {}
    oddities: list[str] = []
    for info in infos:
        name = info.filename
        if name in members:
            oddities.append(f"The member {name!r} occurs more than once.")
            continue
        if info.compress_type != zipfile.ZIP_STORED:
            oddities.append(f"The member {name!r} was packed anew: packs are stored uncompressed.")
        info.CRC = None  # type: ignore[assignment]  # zipfile then does not check it
        try:
            with archive.open(info) as member:
                members[name] = member.read(info.file_size)
        except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError) as error:
            oddities.append(f"The member {name!r} cannot be taken out of the container ({error}).")
    return members, tuple(oddities)


def _zip(members: Mapping[str, bytes]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_STORED) as archive:
        for name in sorted(members):
            info = zipfile.ZipInfo(name, date_time=_ZIP_EPOCH)
            info.create_system = _UNIX  # else it would differ between systems
            info.external_attr = _READABLE_BY_ALL
            archive.writestr(info, members[name])
    return buffer.getvalue()
