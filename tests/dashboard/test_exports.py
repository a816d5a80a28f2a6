from __future__ import annotations

import csv
import io

import openpyxl
import pandas as pd
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from isohume.dashboard.exports import FORMULA_STARTS, csv_bytes, neutral, neutral_frame, xlsx_bytes

# OWASP, "CSV Injection": the characters that begin a formula.
ATTACKS = ["=1+1", "+1", "-2+3", "@SUM(A1)", "\t=1", "\r=1", "\n=1", "  =1", '=HYPERLINK("http://x")', "＝1"]


@pytest.mark.parametrize("text", ATTACKS)
def test_no_cell_begins_a_formula(text: str) -> None:
    assert neutral(text) == f"'{text}"
    rows = list(csv.reader(io.StringIO(csv_bytes([text], [[text]]).decode("utf-8-sig"), newline="")))
    assert [cell for row in rows for cell in row] == [f"'{text}"] * 2


@given(st.text())
def test_neutral_text_is_never_a_formula_and_keeps_every_character(text: str) -> None:
    written = neutral(text)
    assert not written.lstrip(" \u00a0").startswith(FORMULA_STARTS)
    assert written in {text, f"'{text}"}


def test_numbers_stay_numbers() -> None:
    written = csv_bytes(["t", "ok"], [[-3.5, True], [None, False]]).decode("utf-8-sig")
    assert written == "t,ok\r\n-3.5,yes\r\n,no\r\n"


def test_a_workbook_holds_texts_numbers_and_moments_but_no_formula() -> None:
    moment = pd.Timestamp("2026-03-01T10:00Z")
    data = xlsx_bytes({"frames": (["=head", "n", "when"], [["=1+1", -2.5, moment], [None, None, None]])})
    sheet = openpyxl.load_workbook(io.BytesIO(data))["frames"]
    cells = list(sheet.iter_rows(values_only=True))
    assert cells[0] == ("'=head", "n", "when")
    assert cells[1] == ("'=1+1", -2.5, moment.tz_localize(None).to_pydatetime())
    assert all(cell.data_type != "f" for row in sheet.iter_rows() for cell in row)
    assert xlsx_bytes({"a": (["x"], [[1]])}) == xlsx_bytes({"a": (["x"], [[1]])})


def test_a_frame_of_texts_is_neutralised_column_by_column() -> None:
    table = pl.DataFrame({"logger": ["=L1", "L2", None], "rh": [-1.0, 2.0, 3.0]})
    written = neutral_frame(table)
    assert written["logger"].to_list() == ["'=L1", "L2", None]
    assert written["rh"].to_list() == [-1.0, 2.0, 3.0]
