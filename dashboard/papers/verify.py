"""The check of an evidence pack: hashes, signature, every figure computed again, the paper set again. No archive."""

from __future__ import annotations

from collections.abc import Mapping
from importlib.metadata import version
from typing import Any

import polars as pl

from isohume.analysis.assess import NoReadingsError
from isohume.dashboard.exports import neutral_frame
from isohume.dashboard.papers import make_pack
from isohume.dashboard.papers.check import Check, listed_hashes
from isohume.dashboard.papers.compare import figures_that_differ, readings_that_differ
from isohume.dashboard.papers.evidence import (
    SOFTWARE,
    Evidence,
    EvidenceError,
    csv_of,
    from_csv,
    from_parquet,
    parquet_of,
)
from isohume.dashboard.papers.keys import fingerprint, signed_by, typed_fingerprint
from isohume.dashboard.papers.pack import (
    MANIFEST,
    SCHEMA,
    SIGNATURE,
    parsed,
    read_pack,
    sha256,
    signature_document,
)
from isohume.dashboard.papers.pdf_pages import pages_that_differ
from isohume.dashboard.papers.verification import Problem, Verdict, Verification, shortened
from isohume.dashboard.papers.verify_words import headline, remarks

# What a document of the wrong shape may raise on its way through the computation.
NOT_OURS = (
    EvidenceError, NoReadingsError, LookupError, ValueError, TypeError, AttributeError, ArithmeticError, RuntimeError,
)  # fmt: skip


def verify_pack(data: bytes, *, key: str | None = None) -> Verification:
    """Check a pack.

    Parameters
    ----------
    data : bytes
        The pack as received.
    key : str or None
        Fingerprint of the key it must be signed with, in any grouping of its digits; None accepts any key, and the
        result says whose it is not proved to be.

    Raises
    ------
    PackError
        It is no evidence pack.
    ValueError
        The key is no fingerprint.
    """
    wanted = "" if key is None else typed_fingerprint(key)
    pack = read_pack(data)
    check = Check(pack, parsed(pack.manifest_bytes), parsed(pack.signature_bytes))
    for oddity in pack.oddities:
        check.add("container", "", oddity)
    if pack.members or pack.manifest_bytes:
        _check_members(check)
        signer = _check_signature(check)
        _check_readings(check)
        _check_figures(check)
    else:
        signer = ""
    if not check.tampered and not pack.is_packed_as_ours:
        check.add("container", "", "Bytes of the container around the members were changed; the members are intact.")
    is_wanted = not wanted or signer == wanted
    made_by = str(check.manifest.get("isohume_version", ""))
    same_version = made_by == version("isohume")
    verdict: Verdict
    if check.tampered:
        verdict = "altered"
    elif not is_wanted:
        verdict = "other key"
    elif check.contradictions:
        verdict = "does not follow" if same_version else "other version"
    else:
        verdict = "agrees"
    problems = [*check.tampered, *check.contradictions]
    if not is_wanted:
        signed = f"It is signed by {signer}" if signer else "It carries no valid signature"
        problems.append(Problem(where="signature", member=SIGNATURE, text=f"{signed}; the key asked for is {wanted}."))
    return Verification(
        verdict=verdict,
        headline=headline(verdict, problems, made_by=made_by, n_readings=check.n_readings, n_figures=check.n_figures),
        problems=tuple(problems),
        remarks=remarks(
            signer,
            is_wanted=bool(wanted) and is_wanted,
            paper_checked=check.paper_checked,
            not_computed=check.not_computed,
            made_by=made_by,
        ),
        fingerprint=signer,
        document=str(check.manifest.get("document", "")),
        frame=str(check.manifest.get("frame", "")),
        issued_by=str(check.manifest.get("issued_by", "")),
        n_readings=check.n_readings,
        n_figures=check.n_figures,
    )


def _check_members(check: Check) -> None:
    listed, members = listed_hashes(check.manifest), check.pack.members
    if not check.pack.manifest_bytes:
        check.add("member", MANIFEST, f"{MANIFEST} is missing.")
    elif check.manifest.get("schema") != SCHEMA or not listed:
        check.add("member", MANIFEST, f"{MANIFEST} is not a manifest of ours (schema {SCHEMA}).")
    if not check.pack.signature_bytes:
        check.add("signature", SIGNATURE, f"{SIGNATURE} is missing: nothing vouches for the manifest.")
    for name in sorted(set(listed) | set(make_pack.MEMBERS)):
        if name not in members:
            check.add("member", name, f"{name} is missing.")
        elif name in listed and not check.intact(name):
            check.add("member", name, f"{name} was changed: its SHA-256 is not the one in the manifest.")
    for name in sorted(set(members) - set(listed)):
        check.add("member", name, f"{name} does not stand in the manifest: it was added.")


def _check_signature(check: Check) -> str:
    """Return the fingerprint of the key that signed the manifest, "" for none."""
    if not check.pack.signature_bytes:
        return ""
    public_key, signature = (str(check.signature.get(name, "")) for name in ("public_key", "signature"))
    if not signed_by(public_key, signature, check.pack.manifest_bytes):
        check.add(
            "signature", SIGNATURE,
            f"The signature is not valid for {MANIFEST}: one of the two was changed, or the pack is signed by nobody.",
        )  # fmt: skip
        return ""
    signer = fingerprint(public_key)
    if signature_document(public_key, signature) != check.pack.signature_bytes:
        check.add("signature", SIGNATURE, f"{SIGNATURE} was changed beside the signature itself.")
    if check.manifest.get("public_key") != public_key:
        check.add(
            "signature", SIGNATURE,
            f"The manifest was made for another key ({str(check.manifest.get('public_key'))[:16]}…) than the one that "
            f"signed it ({signer}): somebody signed it anew.",
        )  # fmt: skip
    return signer


def _check_readings(check: Check) -> None:
    """Hold the two tables of readings to each other."""
    tables: dict[str, pl.DataFrame] = {}
    for name, read in ((make_pack.CSV, from_csv), (make_pack.PARQUET, from_parquet)):
        if name not in check.pack.members:
            continue
        try:
            tables[name] = read(check.pack.members[name])
        except ValueError as error:
            check.note([Problem(where="reading", member=name, text=f"{name} cannot be read as a table: {error}.")])
    check.n_readings = max((table.height for table in tables.values()), default=0)
    if len(tables) == 2:
        names = (make_pack.CSV, make_pack.PARQUET)
        sentences = readings_that_differ(tables[names[0]], neutral_frame(tables[names[1]]), names)
        found = [Problem(where="reading", member=_suspect(check), text=text) for text in sentences]
        check.note(shortened(found, "readings"))


def _suspect(check: Check) -> str:
    """Return the table of readings that is at fault, as far as the hashes tell."""
    return make_pack.CSV if check.intact(make_pack.PARQUET) else make_pack.PARQUET


def _check_figures(check: Check) -> None:
    """Compute every figure again, set the paper again, and compare."""
    members = dict(check.pack.members)
    changed = [name for name in make_pack.GIVEN if not check.intact(name)]
    if changed == [make_pack.PARQUET] and check.intact(make_pack.CSV):
        _take_readings_from_csv(members)
    elif changed:
        # Figures of changed facts would differ and blame members that are sound.
        check.not_computed = ", ".join(changed)
        return
    try:
        given = [members[name] for name in make_pack.GIVEN]
        worked = make_pack.work_out(*given)
    except NOT_OURS as error:
        text = f"The figures cannot be computed again: {str(error).rstrip('.') or type(error).__name__}."
        check.note([Problem(where="figure", member=make_pack.FINDINGS, text=text)])
        return
    same_software = _software(worked.evidence.parameters) == _software_here()
    if make_pack.FINDINGS in members:
        found = parsed(members[make_pack.FINDINGS])
        sentences, check.n_figures = figures_that_differ(found, worked.findings, same_software=same_software)
        problems = [Problem(where="figure", member=make_pack.FINDINGS, text=text) for text in sentences]
        check.note(shortened(problems, "figures"))
    if same_software:
        try:
            _check_papers(check, given, worked.evidence)
        except NOT_OURS as error:
            text = f"The paper cannot be set again: {str(error).rstrip('.') or type(error).__name__}."
            check.note([Problem(where="page", member=make_pack.PAPER, text=text)])


def _check_papers(check: Check, given: list[bytes], evidence: Evidence) -> None:
    """Set the paper and the explaining text again, and compare."""
    members = check.pack.members
    signer = str(check.signature.get("fingerprint", ""))
    if make_pack.PAPER in members:
        expected = make_pack.paper_of(*given, sha256(csv_of(evidence.readings)), signer)
        check.paper_checked = True
        _compare_paper(check, expected, members[make_pack.PAPER])
    about = make_pack.about_of(dict(zip(make_pack.GIVEN, given, strict=True)), evidence, "")
    if make_pack.README in members and make_pack.readme_of(about, signer) != members[make_pack.README]:
        text = f"{make_pack.README} is not the text that belongs to this pack."
        check.note([Problem(where="member", member=make_pack.README, text=text)])
    _compare_manifest(check, about)


def _compare_manifest(check: Check, about: Mapping[str, Any]) -> None:
    for name, value in about.items():
        if name != "public_key" and check.manifest and check.manifest.get(name) != value:
            text = f"{MANIFEST} says {name} = {check.manifest.get(name)!r}; by its own members it is {value!r}."
            check.note([Problem(where="member", member=MANIFEST, text=text)])


def _compare_paper(check: Check, expected: bytes, found: bytes) -> None:
    if expected == found:
        return
    pages = pages_that_differ(expected, found)
    name = make_pack.PAPER
    if pages is None:
        text = f"{name} is not the paper that these data give; which page differs cannot be told."
    elif not pages:
        text = (
            f"{name} is not the paper that these data give; its pages show the same, other parts of the file differ."
        )
    else:
        listed = f"page {pages[0]} differs" if len(pages) == 1 else f"pages {', '.join(map(str, pages))} differ"
        text = f"{name} is not the paper that these data give: {listed}."
    check.note([Problem(where="page", member=name, text=text)])


def _take_readings_from_csv(members: dict[str, bytes]) -> None:
    """Use the other, intact table where the Parquet file was changed."""
    try:
        members[make_pack.PARQUET] = parquet_of(from_csv(members[make_pack.CSV]))
    except ValueError:
        return


def _software(parameters: Mapping[str, Any]) -> dict[str, str]:
    known = parameters.get("software")
    return {**(known if isinstance(known, dict) else {}), "isohume": str(parameters.get("isohume_version"))}


def _software_here() -> dict[str, str]:
    return {name: version(name) for name in (*SOFTWARE, "isohume")}
