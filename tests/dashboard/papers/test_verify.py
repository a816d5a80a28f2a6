"""A good pack agrees; whatever is changed in one is named, and told from what another version computes."""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable
from typing import Any

import polars as pl
import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from isohume.dashboard.papers import make_pack as making
from isohume.dashboard.papers import verify
from isohume.dashboard.papers.evidence import Evidence, csv_of, from_csv, from_parquet, parquet_of
from isohume.dashboard.papers.keys import SigningKey
from isohume.dashboard.papers.pack import MANIFEST, SIGNATURE, PackError, _zip, json_bytes, parsed, sha256, write_pack
from isohume.dashboard.papers.verify import verify_pack

Members = dict[str, bytes]
OTHER_KEY = SigningKey(Ed25519PrivateKey.from_private_bytes(bytes([9]) * 32))


def members_of(pack: bytes) -> Members:
    with zipfile.ZipFile(io.BytesIO(pack)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(members: Members) -> bytes:
    """The container only: manifest and signature stay as they are."""
    return _zip(members)


def signed_again(members: Members, key: SigningKey) -> bytes:
    """As somebody with a key would: new manifest, new signature."""
    manifest = parsed(members[MANIFEST])
    about = {name: value for name, value in manifest.items() if name not in {"schema", "members"}}
    inner = {name: data for name, data in members.items() if name not in {MANIFEST, SIGNATURE}}
    return write_pack(inner, about={**about, "public_key": key.public_hex}, key=key)


def with_json(members: Members, name: str, change: Callable[[Any], None]) -> Members:
    document = json.loads(members[name])
    change(document)
    return {**members, name: json_bytes(document)}


def one_byte(data: bytes, place: int) -> bytes:
    return data[:place] + bytes([data[place] ^ 1]) + data[place + 1 :]


def rehashed(members: Members, name: str) -> Members:
    """The manifest says the hash of the changed member; the signature stays."""
    manifest = json.loads(members[MANIFEST])
    manifest["members"][name] = {"sha256": sha256(members[name]), "bytes": len(members[name])}
    return {**members, MANIFEST: json_bytes(manifest)}


def test_a_good_pack_agrees(pack: bytes, key: SigningKey) -> None:
    found = verify_pack(pack)
    assert found.agrees
    assert not found.problems
    assert found.fingerprint == key.fingerprint
    assert found.report().splitlines()[0].startswith("ALL AGREES")
    assert verify_pack(pack, key=key.fingerprint).agrees
    assert verify_pack(pack, key=key.fingerprint.replace(" ", "").upper()).agrees


@pytest.mark.parametrize("typed", ["", "zz", "00", "the one on the letter"])
def test_a_key_that_is_none_is_refused_and_never_passes(pack: bytes, typed: str) -> None:
    with pytest.raises(ValueError, match="no fingerprint"):
        verify_pack(pack, key=typed)


def test_the_same_evidence_gives_the_same_bytes(pack: bytes, evidence: Evidence, key: SigningKey) -> None:
    making.work_out.cache_clear()
    making.paper_of.cache_clear()
    assert making.make_pack(evidence, key) == pack


NAMES = (*making.MEMBERS, MANIFEST, SIGNATURE)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("where", [0.0, 0.37, 0.99])
def test_one_changed_bit_is_named(pack: bytes, name: str, where: float) -> None:
    members = members_of(pack)
    place = int(where * (len(members[name]) - 1))
    found = verify_pack(packed({**members, name: one_byte(members[name], place)}))
    assert found.verdict == "altered"
    assert name in found.report()


@pytest.mark.parametrize("name", NAMES)
def test_a_missing_member_is_named(pack: bytes, name: str) -> None:
    members = members_of(pack)
    del members[name]
    found = verify_pack(packed(members))
    assert found.verdict == "altered"
    assert f"{name} is missing" in found.report()


@pytest.mark.parametrize("part", [0.001, 0.2, 0.5, 0.8, 0.97, 0.999])
def test_one_changed_bit_of_the_file_as_sent_is_noticed(pack: bytes, part: float) -> None:
    found = verify_pack(one_byte(pack, int(part * len(pack))))
    assert found.verdict == "altered"
    assert found.problems


def test_a_changed_time_stamp_of_the_container_is_noticed(pack: bytes) -> None:
    found = verify_pack(one_byte(pack, 10))  # the first member's time in its local header
    assert found.verdict == "altered"
    assert "container" in found.headline


def test_an_added_member_is_named(pack: bytes) -> None:
    found = verify_pack(packed({**members_of(pack), "extra.txt": b"hello"}))
    assert found.verdict == "altered"
    assert "extra.txt does not stand in the manifest" in found.report()


def test_a_shortened_file_is_altered_and_prose_is_no_pack(pack: bytes) -> None:
    assert verify_pack(pack[:-30]).verdict == "altered"
    with pytest.raises(PackError):
        verify_pack(b"Dear lender,")


def test_a_changed_reading_is_named_with_both_values(pack: bytes) -> None:
    members = members_of(pack)
    table = from_csv(members[making.CSV])
    row = 300
    changed = table.with_columns(
        rh_percent=pl.when(pl.int_range(pl.len()) == row).then(47.25).otherwise(pl.col("rh_percent"))
    )
    moment = f"{table['time_utc'][row]:%Y-%m-%dT%H:%M:%SZ}"
    found = verify_pack(packed({**members, making.CSV: csv_of(changed)}))
    assert found.verdict == "altered"
    assert f"inside reading of {moment}: rh_percent 47.25 in readings.csv" in found.report()


def test_a_changed_parquet_reading_is_named_and_no_figure_is_blamed(pack: bytes) -> None:
    members = members_of(pack)
    table = from_parquet(members[making.PARQUET])
    changed = table.with_columns(
        temperature_celsius=pl.col("temperature_celsius") + (pl.int_range(pl.len()) == 7) * 2.0
    )
    found = verify_pack(packed({**members, making.PARQUET: parquet_of(changed)}))
    assert found.verdict == "altered"
    assert {problem.member for problem in found.problems} == {making.PARQUET}


def test_swapped_rows_are_named(pack: bytes) -> None:
    members = members_of(pack)
    lines = members[making.CSV].splitlines(keepends=True)
    lines[10], lines[11] = lines[11], lines[10]
    found = verify_pack(packed({**members, making.CSV: b"".join(lines)}))
    assert found.verdict == "altered"
    assert "Row 10 of readings.csv" in found.report()


def test_a_removed_and_a_repeated_row_are_named(pack: bytes) -> None:
    members = members_of(pack)
    lines = members[making.CSV].splitlines(keepends=True)
    removed = verify_pack(packed({**members, making.CSV: b"".join(lines[:10] + lines[11:])}))
    assert "stands in readings.parquet and not in readings.csv" in removed.report()
    repeated = verify_pack(packed({**members, making.CSV: b"".join([*lines[:11], *lines[10:]])}))
    assert "stands there 2 times" in repeated.report()


def swap_values(table: pl.DataFrame) -> pl.DataFrame:
    """The humidity of two readings changes places."""
    rh = table["rh_percent"].to_list()
    rh[20], rh[400] = rh[400], rh[20]
    return table.with_columns(rh_percent=pl.Series(rh))


def test_readings_swapped_in_both_tables_and_signed_anew_no_longer_give_the_figures(
    pack: bytes, key: SigningKey
) -> None:
    members = members_of(pack)
    table = swap_values(from_parquet(members[making.PARQUET]))
    forged = {**members, making.PARQUET: parquet_of(table), making.CSV: csv_of(table)}
    found = verify_pack(signed_again(forged, OTHER_KEY), key=key.fingerprint)
    assert found.verdict == "other key"
    assert "computed again" in found.report()
    assert "readings.csv" not in {problem.member for problem in found.problems if problem.where == "reading"}


def set_breach(document: Any) -> None:
    document["terms"][0]["clauses"][0]["hours_breached"] = 0.0
    document["terms"][0]["clauses"][0]["verdict"] = "met"


def set_coverage(document: Any) -> None:
    document["coverage"]["inside"]["share"] = 1.0


def set_ratio(document: Any) -> None:
    document["assessment"]["buffering"]["daily"]["ratio"] = 99.0


def drop_gap(document: Any) -> None:
    document["coverage"]["inside"]["gaps"] = []


def add_figure(document: Any) -> None:
    document["assessment"]["promise"] = "no harm"


FIGURES: list[tuple[Callable[[Any], None], str]] = [
    (set_breach, "terms[0].clauses[0].hours_breached"),
    (set_coverage, "coverage.inside.share"),
    (set_ratio, "assessment.buffering.daily.ratio"),
    (drop_gap, "coverage.inside.gaps"),
    (add_figure, "assessment.promise"),
]


@pytest.mark.parametrize(("change", "path"), FIGURES)
def test_a_changed_figure_is_named(pack: bytes, change: Callable[[Any], None], path: str) -> None:
    members = with_json(members_of(pack), making.FINDINGS, change)
    found = verify_pack(packed(members))
    assert found.verdict == "altered"
    assert path in found.report()
    assert path in verify_pack(packed(rehashed(members, making.FINDINGS))).report()


@pytest.mark.parametrize(("change", "path"), FIGURES)
def test_a_changed_figure_is_named_even_when_signed_anew(
    pack: bytes, key: SigningKey, change: Callable[[Any], None], path: str
) -> None:
    members = with_json(members_of(pack), making.FINDINGS, change)
    found = verify_pack(signed_again(members, key))  # the sender's own key: nothing was altered since
    assert found.verdict == "does not follow"
    assert path in found.report()
    assert verify_pack(signed_again(members, OTHER_KEY), key=key.fingerprint).verdict == "other key"


def set_band(document: Any) -> None:
    document["frame"]["band"] = [40.0, 60.0]


def set_uncertainty(document: Any) -> None:
    document["sides"]["inside"]["uncertainty_percent"] = 5.0


def set_clause(document: Any) -> None:
    document["terms"][0]["clauses"][0]["low"] = 40.0


def set_painting(document: Any) -> None:
    document["frame"]["painting"] = "Three Herons"


@pytest.mark.parametrize("change", [set_band, set_uncertainty, set_clause, set_painting])
def test_changed_settings_no_longer_give_the_figures_or_the_paper(
    pack: bytes, key: SigningKey, change: Callable[[Any], None]
) -> None:
    members = with_json(members_of(pack), making.PARAMETERS, change)
    assert verify_pack(packed(members)).verdict == "altered"
    found = verify_pack(signed_again(members, key))
    assert found.verdict == "does not follow"
    assert {problem.where for problem in found.problems} & {"figure", "page"}


@pytest.mark.parametrize(
    ("name", "change"),
    [
        (making.CALIBRATIONS, lambda document: document["calibrations"][0].update(certificate="K-999")),
        (making.EVENTS, lambda document: document["events"][0].update(warp_mm=0.1)),
        (making.ORIGINALS, lambda document: document["originals"][0].update(sha256="cd" * 32)),
    ],
)
def test_a_changed_record_no_longer_gives_the_paper(
    pack: bytes, key: SigningKey, name: str, change: Callable[[Any], None]
) -> None:
    members = with_json(members_of(pack), name, change)
    found = verify_pack(signed_again(members, key))
    assert found.verdict == "does not follow"
    assert any(problem.where == "page" and "page" in problem.text for problem in found.problems)


def test_a_changed_page_is_named(pack: bytes, evidence: Evidence, key: SigningKey) -> None:
    members = members_of(pack)
    other = Evidence(
        readings=evidence.readings, parameters=evidence.parameters, calibrations=evidence.calibrations,
        events=evidence.events, originals=[{**evidence.originals[0], "file": "another name.csv"}],
    )  # fmt: skip
    paper = members_of(making.make_pack(other, key))[making.PAPER]
    found = verify_pack(packed({**members, making.PAPER: paper}))
    assert found.verdict == "altered"
    # The document's id stands on every page; the file's name on one.
    assert "evidence.pdf is not the paper that these data give: page" in found.report()
    assert verify_pack(signed_again({**members, making.PAPER: paper}, key)).verdict == "does not follow"


def test_a_paper_that_is_no_pdf_is_named(pack: bytes, key: SigningKey) -> None:
    members = {**members_of(pack), making.PAPER: b"%PDF-1.7 nothing"}
    assert "which page differs cannot be told" in verify_pack(signed_again(members, key)).report()


def test_another_readme_is_named_even_when_signed_anew(pack: bytes, key: SigningKey) -> None:
    members = {**members_of(pack), making.README: b"All is well.\n"}
    found = verify_pack(signed_again(members, key))
    assert found.verdict == "does not follow"
    assert making.README in found.headline


def test_a_pack_signed_anew_by_another_key_is_told_by_the_fingerprint(pack: bytes, key: SigningKey) -> None:
    found = verify_pack(signed_again(members_of(pack), OTHER_KEY), key=key.fingerprint)
    assert found.verdict == "other key"
    assert OTHER_KEY.fingerprint in found.report()


def test_a_signature_of_another_key_over_the_old_manifest_is_named(pack: bytes) -> None:
    members = members_of(pack)
    signature = {
        **parsed(members[SIGNATURE]), "public_key": OTHER_KEY.public_hex, "fingerprint": OTHER_KEY.fingerprint,
        "signature": OTHER_KEY.sign(members[MANIFEST]),
    }  # fmt: skip
    found = verify_pack(packed({**members, SIGNATURE: json_bytes(signature)}))
    assert found.verdict == "altered"
    assert "somebody signed it anew" in found.report()


@pytest.mark.parametrize("name", ["document", "frame", "period", "issued_by"])
def test_a_manifest_that_contradicts_its_members_is_named(pack: bytes, key: SigningKey, name: str) -> None:
    members = members_of(pack)
    manifest = {**parsed(members[MANIFEST]), name: "something else"}
    found = verify_pack(signed_again({**members, MANIFEST: json_bytes(manifest)}, key))
    assert found.verdict == "does not follow"
    assert f"{MANIFEST} says {name}" in found.report()


def test_figures_of_another_version_are_told_from_alteration(
    pack: bytes, key: SigningKey, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(verify, "version", lambda _name: "9.9")  # as if this were a later isohume
    members = with_json(members_of(pack), making.FINDINGS, set_ratio)  # and the pack's figure the earlier one's
    found = verify_pack(signed_again(members, key))
    assert found.verdict == "other version"
    assert "assessment.buffering.daily.ratio" in found.report()
    assert verify_pack(pack).agrees  # another version that computes the same figures


@pytest.mark.parametrize(
    ("name", "data"),
    [
        (making.PARAMETERS, b"{}"), (making.PARAMETERS, b"[]"), (making.PARQUET, b"PAR1"), (making.FINDINGS, b"null"),
        (making.EVENTS, b'{"events": 3}'), (making.CSV, b"a,b\n1,2\n"), (MANIFEST, b"{}"), (SIGNATURE, b"[1]"),
    ],
)  # fmt: skip
def test_nonsense_in_a_member_is_named_and_never_a_traceback(pack: bytes, name: str, data: bytes) -> None:
    members = {**members_of(pack), name: data}
    found = verify_pack(packed(members))
    assert found.verdict == "altered"
    assert name in found.report()
    if name not in {MANIFEST, SIGNATURE}:
        assert not verify_pack(signed_again(members, OTHER_KEY)).agrees


def test_a_table_of_too_many_readings_is_refused_before_it_is_unpacked(
    pack: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("isohume.dashboard.papers.evidence.MOST_READINGS", 100)
    with pytest.raises(ValueError, match="100 are the most"):
        from_parquet(members_of(pack)[making.PARQUET])


def test_figures_of_changed_facts_blame_nothing_else(pack: bytes) -> None:
    found = verify_pack(packed(with_json(members_of(pack), making.PARAMETERS, set_band)))
    assert {problem.member for problem in found.problems} == {making.PARAMETERS}
    assert "not computed again" in found.report()
