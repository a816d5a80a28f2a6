"""Every line is accounted for, whatever happened to it on its way."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from isohume.ingest.errors import LoggerFileError, RowAccountingError
from isohume.ingest.ledger import RowLedger
from isohume.ingest.reading import FileReading, read_source

NOW = datetime(2026, 11, 24, tzinfo=UTC)
START = datetime(2025, 3, 10, tzinfo=UTC)
N_ROWS = 40
HEAD = ["Logger 12", "", "Time;Inside RH (%);Inside T (°C);Room RH (%);Room T (°C)"]
ROWS = [
    f"{START + timedelta(hours=hour):%Y-%m-%d %H:%M};{48 + hour % 5 / 10:.1f};{20 + hour % 7 / 10:.1f};"
    f"{39 + hour % 6 / 10:.1f};{21 + hour % 3 / 10:.1f}"
    for hour in range(N_ROWS)
]

# What happens to lines: cut, replaced, doubled, emptied, filled with other rows' text.
damage = st.one_of(
    st.text(st.characters(codec="utf-8", exclude_characters="\n\r\x00", exclude_categories=["Cs"]), max_size=40),
    st.sampled_from(
        ["", " ", ";;;;", "# note", "Mean;48;20;39;21", "2025-03-10 05:00;;;;", "2025-03-10 05:00;x;y;z;w", ROWS[3],
         "2025-03-10 05:00;48,1;20,1;39,1;21,1", "2025-03-10 05:00;48.1;20.1;39.1;21.1;7", HEAD[2],
         '"2025-03-10 05:00";"48',
         "99.99.9999 99:99;48;20;39;21", "2025-03-10 05:00;48.1;20", "1970-01-01 00:00;48;20;39;21"]
    ),
)  # fmt: skip


def read(text: str) -> FileReading:
    (reading,) = read_source(text.encode("utf-8", "replace"), name="garbled.csv", time_zone="UTC", now=NOW)
    return reading


def check_account(reading: FileReading, n_lines: int) -> None:
    ledger = reading.ledger
    assert ledger.lines_in_file == n_lines == ledger.in_file + sum(ledger.other_lines.values())
    assert ledger.kept + ledger.duplicate + ledger.conflicting + ledger.n_rejected == ledger.in_file
    assert 0 <= ledger.flagged <= ledger.kept
    lines = [row.line for row in ledger.rejected_rows()]
    assert lines == sorted(set(lines))
    assert all(1 <= line <= n_lines for line in lines)
    assert all(row.reason for row in ledger.rejected_rows())
    # No line is both a reading and a rejected row.
    assert not set(lines) & set(reading.table["line"].to_list())
    for channel in reading.channels:
        assert channel.rows_kept == reading.table.filter(channel=channel.name).height
        assert len({cells.total for cells in channel.cells.values()}) == 1  # each quantity over the same rows


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.dictionaries(st.integers(0, N_ROWS - 1), damage, max_size=N_ROWS // 2))
@example({N_ROWS - 1: "2025-03-11 15:00;4"})
@example(dict.fromkeys(range(20, 40), "Mean;48;20;39;21"))
def test_identities_hold_whatever_lines_are_garbled(damaged: dict[int, str]) -> None:
    lines = [*HEAD, *(damaged.get(number, row) for number, row in enumerate(ROWS))]
    text = "\n".join(lines) + "\n"
    try:
        reading = read(text)
    except LoggerFileError:
        return  # refused with a reason: a line looked like the heading of a second table
    check_account(reading, len(lines))
    # Rows that were left alone are readings, unless a damaged line claims their instant.
    sound = {number + 4 for number in range(N_ROWS) if number not in damaged}
    rejected = {row.line for row in reading.ledger.rejected_rows()}
    assert not sound & rejected


@settings(max_examples=40, deadline=None)
@given(
    # At most half: where nearly all lines are alike rubbish, there is no table left to account for, and it is refused.
    st.sets(st.integers(0, N_ROWS - 1), max_size=N_ROWS // 2),
    st.sampled_from(["#####", "@@;@@;@@;@@;@@", "x;1;2;3;4"]),
)
def test_lines_with_text_stay_data_rows(garbled: set[int], text: str) -> None:
    lines = [*HEAD, *(text if number in garbled else row for number, row in enumerate(ROWS))]
    if text.startswith("#"):
        lines = [line.replace("#####", "§§§§§") for line in lines]
    reading = read("\n".join(lines))
    check_account(reading, len(lines))
    assert reading.ledger.in_file == N_ROWS
    assert reading.ledger.n_rejected == len(garbled)
    assert {row.line for row in reading.ledger.rejected_rows()} == {number + 4 for number in garbled}


def test_a_row_is_rejected_only_if_none_of_its_cells_is_usable() -> None:
    rows = ROWS.copy()
    rows[5] = rows[5].replace(rows[5].split(";")[1], "4x.2", 1)
    rows[6] = f"{rows[6][:16]};;;;"
    rows[7] = f"{rows[7][:16]};n/a;?;bad;---"
    reading = read("\n".join([*HEAD, *rows]))
    check_account(reading, len(HEAD) + N_ROWS)
    assert [(row.line, row.found, row.reason) for row in reading.ledger.rejected_rows()] == [
        (10, "", "no reading"),
        (11, "n/a", "not a number"),
    ]
    inside, room = reading.channels
    assert (inside.name, room.name) == ("Inside", "Room")
    cells = inside.cells["relative humidity"]
    assert (cells.usable, cells.empty, cells.unreadable) == (37, 2, 1)
    cells = room.cells["relative humidity"]
    assert (cells.usable, cells.empty, cells.unreadable) == (38, 1, 1)


def test_repeats_are_told_from_contradictions() -> None:
    lines = ["Time,RH,T", "2025-03-01 10:00,50,20", "2025-03-01 11:00,51,20", "2025-03-01 10:00,50,20",
             "2025-03-01 11:00,58,20", "2025-03-01 12:00,52,20"]  # fmt: skip
    reading = read("\n".join(lines))
    check_account(reading, 6)
    ledger = reading.ledger
    assert (ledger.in_file, ledger.kept, ledger.duplicate, ledger.conflicting) == (5, 3, 1, 1)
    assert reading.table["rh_percent"].to_list() == [50, 51, 52]  # of two, the first stays
    assert ledger.flagged >= 1


def test_other_lines_are_counted_by_kind() -> None:
    lines = ["Logger 7", "# exported", "", "Time;RH;T", ";%;°C", "2025-03-01 10:00;50;20", "Time;RH;T", "# battery",
             "2025-03-01 11:00;51;20", "", "2025-03-01 12:00;51;20", "", "Mean;50.5;20", "Page 1 of 1"]  # fmt: skip
    reading = read("\n".join(lines))
    assert dict(reading.ledger.other_lines) == {
        "preamble": 1, "comment": 2, "blank": 3, "heading": 1, "units": 1, "repeated heading": 1,
        "statistics or footer": 2,
    }  # fmt: skip
    assert reading.notes[-1] == (
        "Lines without readings: 1 preamble, 1 heading, 1 units, 1 repeated heading, 2 comment, "
        "2 statistics or footer, 3 blank."
    )


def test_an_unsettled_file_is_accounted_for_and_gives_nothing() -> None:
    rows = [f"0{1 + n % 3}/04/2025 10:{n:02};50;20" for n in (0,)] + [
        "01/04/2025 10:10;50;20",
        "01/04/2025 10:20;51;20",
    ]
    reading = read("\n".join(["Time;RH;T", *rows, ""]))
    check_account(reading, 4)
    assert [question.id for question in reading.questions] == ["date_order"]
    assert reading.table.is_empty()
    assert reading.ledger.reasons() == {"not read: the question date_order is open": 3}


def test_a_wrong_account_refuses_to_exist() -> None:
    with pytest.raises(RowAccountingError, match="10 data rows, but 8 kept"):
        RowLedger(
            file="x", lines_in_file=10, other_lines={}, in_file=10, kept=8, flagged=0, duplicate=1, conflicting=0
        )
    with pytest.raises(RowAccountingError, match="11 lines, but 10 data rows"):
        RowLedger(
            file="x", lines_in_file=11, other_lines={}, in_file=10, kept=10, flagged=0, duplicate=0, conflicting=0
        )


def test_summary_says_what_became_of_the_rows() -> None:
    lines = ["Time,RH,T", "2025-03-01 10:00,50,20", "2025-03-01 11:00,51,20", "2025-03-01 10:00,50,20", "x,1,2"]
    assert read("\n".join(lines)).ledger.summary() == (
        "4 data rows in the file: 2 kept (2 of them flagged), 1 duplicate, 1 rejected"
    )
