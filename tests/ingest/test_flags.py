"""One table says everything about a flag, and a mask can be spelled out and read back."""

from __future__ import annotations

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from isohume.ingest.flags import (
    FLAG_TABLE,
    Flag,
    excluding_mask,
    flag_counts,
    flag_names,
    flags_from_names,
    names_expression,
)

MASKS = st.integers(0, sum(flag.value for flag in Flag))


def test_every_flag_stands_in_the_table_with_a_meaning_and_a_source() -> None:
    assert set(FLAG_TABLE) == set(Flag)
    for facts in FLAG_TABLE.values():
        assert facts.meaning.endswith(".")
        assert facts.source
        assert ";" not in facts.name
        assert facts.concerns == "row" or facts.name.startswith(facts.concerns)


def test_names_are_distinct_and_bits_fit_the_column() -> None:
    assert len({facts.name for facts in FLAG_TABLE.values()}) == len(FLAG_TABLE)
    assert max(Flag) < 2**32


@settings(deadline=None)
@given(MASKS)
def test_a_mask_can_be_spelled_out_and_read_back(mask: int) -> None:
    assert flags_from_names(flag_names(mask)) == mask


@settings(deadline=None)
@given(st.lists(MASKS))
def test_the_expression_spells_as_the_function_does(masks: list[int]) -> None:
    table = pl.DataFrame({"flags": masks}, schema={"flags": pl.UInt32})
    spelled = table.select(names_expression())["flags"].to_list()
    assert spelled == [flag_names(mask) for mask in masks]


def test_a_damp_reading_at_the_sensors_end_is_not_hidden_from_analysis() -> None:
    assert not excluding_mask("rh") & Flag.RH_SATURATED_DAMP
    assert excluding_mask("rh") & Flag.RH_SATURATED_DRY


def test_a_bad_temperature_leaves_the_humidity_usable() -> None:
    assert not excluding_mask("rh") & Flag.TEMPERATURE_SPIKE
    assert excluding_mask("temperature") & Flag.TEMPERATURE_SPIKE


def test_counts_name_only_what_occurs() -> None:
    masks = pl.Series([0, Flag.RH_SPIKE, Flag.RH_SPIKE | Flag.GAP_BEFORE], dtype=pl.UInt32)
    assert flag_counts(masks) == {"rh spike": 2, "gap before": 1}


def test_an_unknown_name_is_refused() -> None:
    with pytest.raises(ValueError, match="is not a flag"):
        flags_from_names("rh spike;made up")
