from __future__ import annotations

import io
import stat
import sys
import warnings
import zipfile
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from isohume.dashboard.papers.keys import KEY_FILE, SigningKey, fingerprint, signed_by, signing_key
from isohume.dashboard.papers.pack import MANIFEST, PackError, json_bytes, parsed, read_pack, sha256, write_pack

# RFC 8032, section 7.1, TEST 1: secret key, public key, signature of the empty message.
RFC_SEED = "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60"
RFC_PUBLIC = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"
RFC_SIGNATURE = (
    "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e065224901555fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe2465514"
    "1438e7a100b"
)
KEY = SigningKey(Ed25519PrivateKey.from_private_bytes(bytes.fromhex(RFC_SEED)))
MEMBERS = {"readings.csv": b"time_utc,rh\n", "findings.json": b"{}\n"}


def test_signature_matches_rfc_8032() -> None:
    assert KEY.public_hex == RFC_PUBLIC
    assert KEY.sign(b"") == RFC_SIGNATURE
    assert signed_by(RFC_PUBLIC, RFC_SIGNATURE, b"")
    assert not signed_by(RFC_PUBLIC, RFC_SIGNATURE, b"altered")


@pytest.mark.parametrize(
    ("public", "signature"), [("", ""), ("zz", RFC_SIGNATURE), (RFC_PUBLIC, "00"), ("00" * 32, "")]
)
def test_malformed_keys_and_signatures_sign_nothing(public: str, signature: str) -> None:
    assert not signed_by(public, signature, b"")


def test_same_members_and_key_give_the_same_bytes() -> None:
    about = {"document": "E-1"}
    backwards = dict(reversed(MEMBERS.items()))
    assert write_pack(MEMBERS, about=about, key=KEY) == write_pack(backwards, about=about, key=KEY)


def test_pack_lists_every_member_and_is_signed() -> None:
    pack = read_pack(write_pack(MEMBERS, about={"document": "E-1"}, key=KEY))
    manifest = parsed(pack.manifest_bytes)
    assert {name: entry["sha256"] for name, entry in manifest["members"].items()} == {
        name: sha256(data) for name, data in MEMBERS.items()
    }
    signature = parsed(pack.signature_bytes)
    assert signed_by(signature["public_key"], signature["signature"], pack.manifest_bytes)
    assert signature["fingerprint"] == fingerprint(RFC_PUBLIC)
    assert not pack.oddities
    assert pack.is_packed_as_ours


def zip_of(members: list[tuple[str, bytes]], method: int = zipfile.ZIP_STORED) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", method) as archive:
        for name, data in members:
            with warnings.catch_warnings():
                warnings.simplefilter("ignore", UserWarning)  # a repeated name is what one case is about
                archive.writestr(name, data)
    return buffer.getvalue()


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (b"", "not a readable evidence pack"),
        (b"prose, not a zip", "not a readable evidence pack"),
        (zip_of([("readings.csv", b"")]), "holds no manifest.json"),
        (zip_of([(f"m{n}", b"") for n in range(101)]), "at most 100"),
    ],
)
def test_what_is_no_pack_is_refused_with_a_reason(data: bytes, message: str) -> None:
    with pytest.raises(PackError, match=message):
        read_pack(data)


@pytest.mark.parametrize(
    ("data", "oddity"),
    [
        (zip_of([(MANIFEST, b"{}"), (MANIFEST, b"{}")]), "occurs more than once"),
        (zip_of([(MANIFEST, b"0" * 10_000)], zipfile.ZIP_DEFLATED), "packed anew"),
        (zip_of([(MANIFEST, b"{}")])[:-5], "no longer be read"),
    ],
)
def test_what_an_unaltered_pack_never_shows_is_told(data: bytes, oddity: str) -> None:
    assert oddity in " ".join(read_pack(data).oddities)


def test_a_container_of_another_make_is_told() -> None:
    assert not read_pack(zip_of([(MANIFEST, b"{}")])).is_packed_as_ours  # another system's mark and today's date


def test_nan_never_enters_a_document() -> None:
    with pytest.raises(ValueError, match="not JSON compliant"):
        json_bytes({"ratio": float("nan")})


def test_key_is_made_once_and_kept_for_its_owner(tmp_path: Path) -> None:
    first = signing_key(tmp_path)
    assert signing_key(tmp_path).public_hex == first.public_hex
    if sys.platform != "win32":
        assert stat.S_IMODE((tmp_path / KEY_FILE).stat().st_mode) == 0o600


def test_a_damaged_key_is_named(tmp_path: Path) -> None:
    (tmp_path / KEY_FILE).write_bytes(b"not a key")
    with pytest.raises(ValueError, match=KEY_FILE):
        signing_key(tmp_path)
