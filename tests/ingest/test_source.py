"""Where bytes come from: archives are bounded, damage is named, nothing ends in a traceback."""

from __future__ import annotations

import gzip
import io
import zipfile
from datetime import UTC, datetime, time, timedelta
from pathlib import Path

import openpyxl
import pytest

from isohume.ingest import source
from isohume.ingest.encoding import decode, find_encoding
from isohume.ingest.errors import LoggerFileError
from isohume.ingest.reading import read_source
from isohume.ingest.source import sha256_of

NOW = datetime(2026, 11, 24, tzinfo=UTC)
ROWS = [f"2025-03-{1 + n // 24:02} {n % 24:02}:00,{48 + n % 5},{20 + n % 3}" for n in range(72)]
CSV = ("Time,RH (%),T (°C)\n" + "\n".join(ROWS) + "\n").encode()


def zipped(members: dict[str, bytes]) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return packed.getvalue()


def test_gz_is_unpacked_and_its_own_hash_kept() -> None:
    packed = gzip.compress(CSV)
    (reading,) = read_source(packed, name="a.csv.gz", time_zone="UTC", now=NOW)
    assert reading.ledger.kept == len(ROWS)
    assert reading.sha256 == sha256_of(packed)
    (two,) = read_source(gzip.compress(CSV[:200]) + gzip.compress(CSV[200:]), name="a", time_zone="UTC", now=NOW)
    assert two.ledger.kept == len(ROWS)


def test_zip_gives_one_reading_per_member_and_names_those_refused() -> None:
    pack = zipped({"a.csv": CSV, "sub/b.csv.gz": gzip.compress(CSV), "readme.txt": b"hello there\n", ".hidden": b"x"})
    readings = read_source(pack, name="pack.zip", time_zone="UTC", now=NOW)
    assert [reading.file for reading in readings] == ["pack.zip/a.csv", "pack.zip/sub/b.csv.gz"]
    assert readings[0].sha256 == sha256_of(CSV)
    assert any(note.startswith("Not read: pack.zip/readme.txt") for note in readings[0].notes)


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (gzip.compress(CSV)[:-9], "a damaged .gz"),
        (zipped({"a.csv": CSV})[:-30], "a damaged .zip"),
        (zipped({}), "an archive without files"),
        (zipped({"inner.zip": zipped({"a.csv": CSV})}), "a .zip within a .zip"),
        (b"%PDF-1.7", "a PDF document"),
        (b"\xd0\xcf\x11\xe0" + bytes(600), "an old binary office file"),
        (b"", "an empty file"),
        (b"\n \r\n", "an empty file"),
        (bytes(range(256)) * 40, "binary data"),
        (zipped({"xl/workbook.xml": b"<broken"}), "a damaged workbook"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_refusals_say_what_was_found(content: bytes, told: str) -> None:
    with pytest.raises(LoggerFileError) as refusal:
        read_source(content, name="dropped", time_zone="UTC", now=NOW)
    assert str(refusal.value).startswith("dropped")
    assert told in str(refusal.value)
    assert refusal.value.remedy.endswith(".")


def test_bombs_do_not_unfold() -> None:
    bomb = bytes(40_000_000)
    for packed in (gzip.compress(bomb), zipped({"a.csv": bomb})):
        with pytest.raises(LoggerFileError, match="unfold to more than"):
            read_source(packed, name="bomb", time_zone="UTC", now=NOW)


def test_a_zip_of_too_many_members_is_refused() -> None:
    pack = zipped({f"{n}.csv": b"" for n in range(source.MOST_MEMBERS + 1)})
    with pytest.raises(LoggerFileError, match=f"{source.MOST_MEMBERS + 1} members"):
        read_source(pack, name="pack.zip", time_zone="UTC", now=NOW)


def test_a_zip_member_larger_than_it_promised_is_refused() -> None:
    pack = bytearray(zipped({"a.csv": CSV}))
    # The directory's claim of the unpacked size, at its place in the central directory entry (PKWARE APPNOTE 4.3.12).
    entry = pack.index(b"PK\x01\x02")
    pack[entry + 24 : entry + 28] = (20).to_bytes(4, "little")
    with pytest.raises(LoggerFileError, match=r"a\.csv"):
        read_source(bytes(pack), name="pack.zip", time_zone="UTC", now=NOW)


def test_missing_file_and_folder(tmp_path: Path) -> None:
    with pytest.raises(LoggerFileError) as refusal:
        read_source(tmp_path / "none.csv", name="none.csv", time_zone="UTC")
    assert str(refusal.value) == "none.csv: expected a logger file, found no such file. Check the name and the folder."
    with pytest.raises(LoggerFileError, match=r"found a folder\. Name the files in it"):
        read_source(tmp_path, name="folder", time_zone="UTC")


def test_a_file_too_large_is_refused_unread(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(source, "MOST_BYTES", 1000)
    path = tmp_path / "large.csv"
    path.write_bytes(CSV)
    with pytest.raises(LoggerFileError, match="Export a shorter period"):
        read_source(path, name="large.csv", time_zone="UTC")


def workbook(*, sheets: int = 1) -> bytes:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Cover"
    sheet.append(["Readings of the north gallery"])
    for number in range(sheets):
        sheet = book.create_sheet(f"Logger {number + 1}")
        sheet.append(["Serial", 4711 + number])
        sheet.append([])
        sheet.append(["Date", "Time", "Humidity (%)", "Temp (°F)"])
        for hour in range(60):
            moment = datetime(2025, 3, 11, 6, 15) + timedelta(hours=hour)  # noqa: DTZ001 - a wall clock
            sheet.append([moment.date(), time(moment.hour, moment.minute), 48.5 + hour % 4, 68 + hour % 3 + number])
    packed = io.BytesIO()
    book.save(packed)
    return packed.getvalue()


def test_workbook_of_several_sheets() -> None:
    readings = read_source(workbook(sheets=2), name="book.xlsx", time_zone="UTC", now=NOW)
    assert [reading.file for reading in readings] == ["book.xlsx [Logger 1]", "book.xlsx [Logger 2]"]
    table = readings[0].table
    assert table["time_utc"][0] == datetime(2025, 3, 11, 6, 15, tzinfo=UTC)
    assert table["rh_percent"][:4].to_list() == [48.5, 49.5, 50.5, 51.5]
    assert table["temperature_celsius"][0] == pytest.approx(20.0)
    assert table["line"][0] == 4
    assert readings[0].recipe.sheet == "Logger 1"
    (again,) = read_source(workbook(sheets=2), name="b", time_zone=None, recipe=readings[1].recipe, now=NOW)
    assert again.table.equals(readings[1].table)


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252", "latin-1", "utf-32"]
)
def test_encodings_are_found(encoding: str) -> None:
    text = "Gerät;Höhe\nZeit;°C\n" + "2025-03-01 10:00;20,5\n" * 50
    decoded = decode(text.encode(encoding), file="x")
    assert decoded.utf8.decode() == text
    assert decoded.n_damaged == 0


def test_a_few_damaged_bytes_leave_utf8_utf8() -> None:
    content = ("Gerät;Höhe;°C\n" * 40).encode() + b"\xff\xfe;1\n"
    assert find_encoding(content) == "utf-8"
    assert decode(content, file="x").n_damaged == 2


def test_line_ends_of_all_systems_are_one() -> None:
    for end in ("\n", "\r\n", "\r", "\r\r\n"):
        assert decode(end.join(["a", "b", ""]).encode(), file="x").utf8 == b"a\nb\n"
