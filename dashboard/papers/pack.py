"""The container of an evidence pack: members, a manifest of their hashes, a signature over the manifest.

The same members and key give the same bytes: members are stored in order of name, uncompressed (compressors differ
between versions of a library) and with one fixed date. What a pack is about has its own times in the manifest.
"""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from isohume.dashboard.papers.keys import SigningKey

SCHEMA = "isohume.evidence.1"
MANIFEST, SIGNATURE = "manifest.json", "signature.json"
_ZIP_EPOCH = (1980, 1, 1, 0, 0, 0)
_READABLE_BY_ALL = 0o644 << 16
_UNIX = 3
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
    manifest_bytes : bytes as signed
    signature : the signature document, {} where missing or unreadable
    """

    members: Mapping[str, bytes]
    manifest_bytes: bytes
    signature: Mapping[str, Any]


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
    signature = json_bytes(
        {
            "algorithm": "Ed25519",
            "signed": MANIFEST,
            "public_key": key.public_hex,
            "fingerprint": key.fingerprint,
            "signature": key.sign(manifest),
        }
    )
    return _zip({**members, MANIFEST: manifest, SIGNATURE: signature})


def read_pack(data: bytes) -> Pack:
    """Open a pack without trusting it.

    Raises
    ------
    PackError
        Not a .zip, members that are too many, too large, repeated, compressed or outside the pack, or no manifest.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = {info.filename: archive.read(info) for info in _checked(archive.infolist())}
    except (zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError, OSError) as error:
        raise PackError(
            f"This is not a readable evidence pack ({error}). Ask the sender for the file again."
        ) from error
    if MANIFEST not in members:
        raise PackError(
            f"The file holds no {MANIFEST}: it is not an evidence pack. Ask the sender for the whole pack."
        )
    manifest = members.pop(MANIFEST)
    signature = parsed(members.pop(SIGNATURE, b""))
    return Pack(members=members, manifest_bytes=manifest, signature=signature)


def parsed(data: bytes) -> dict[str, Any]:
    """Return the JSON object in `data`; {} where there is none."""
    try:
        document = json.loads(data)
    except (ValueError, RecursionError):
        return {}
    return document if isinstance(document, dict) else {}


def _checked(infos: list[zipfile.ZipInfo]) -> list[zipfile.ZipInfo]:
    names = [info.filename for info in infos]
    if len(names) > MOST_MEMBERS:
        raise PackError(
            f"The file holds {len(names)} members; a pack has at most {MOST_MEMBERS}. It is not one of ours."
        )
    if len(set(names)) != len(names):
        repeated = sorted({name for name in names if names.count(name) > 1})
        raise PackError(f"The member {repeated[0]!r} occurs more than once: the file was altered after it was made.")
    if sum(info.file_size for info in infos) > MOST_BYTES:
        raise PackError(f"The file would unpack to over {MOST_BYTES // 2**20} MB. It is not one of ours.")
    for info in infos:
        if info.compress_type != zipfile.ZIP_STORED:
            raise PackError(f"The member {info.filename!r} was packed anew: packs are stored uncompressed.")
    return infos


def _zip(members: Mapping[str, bytes]) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_STORED) as archive:
        for name in sorted(members):
            info = zipfile.ZipInfo(name, date_time=_ZIP_EPOCH)
            info.create_system = _UNIX  # else it would differ between systems
            info.external_attr = _READABLE_BY_ALL
            archive.writestr(info, members[name])
    return buffer.getvalue()
