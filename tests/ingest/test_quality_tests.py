"""The tests of single readings answer as the published vectors say."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from isohume.ingest import quality_tests
from isohume.ingest.quality_tests import FAIL, MISSING, NOT_EVALUATED, PASS, SUSPECT

# Unit-test vectors of a public open-source implementation of the QARTOD tests (NOAA IOOS); status: verified.
VECTORS = json.loads((Path(__file__).parents[1] / "reference" / "qc_flag_vectors.json").read_text("utf-8"))["vectors"]


def codes_of(vector: dict[str, Any]) -> list[int]:
    values = np.array([np.nan if value is None else value for value in vector["values"]], dtype=np.float64)
    seconds = np.arange(values.size) * float(vector.get("interval_s", 1))
    match vector["test"]:
        case "spike_average":
            thresholds = {key: vector[key] for key in ("suspect_threshold", "fail_threshold")}
            codes = quality_tests.spike_average(values, **thresholds)
        case "rate_of_change":
            codes = quality_tests.rate_of_change(seconds, values, threshold_per_s=vector["threshold_per_s"])
        case "flat_line":
            options = {key: vector[key] for key in ("suspect_after_s", "fail_after_s", "tolerance")}
            codes = quality_tests.flat_line(seconds, values, **options)
        case "gross_range":
            codes = quality_tests.gross_range(
                values, fail_span=tuple(vector["fail_span"]), suspect_span=tuple(vector["suspect_span"])
            )
        case unknown:
            pytest.fail(f"no test named {unknown}")
    return codes.tolist()


@pytest.mark.parametrize("vector", VECTORS, ids=lambda vector: vector["test"])
def test_codes_are_the_published_ones(vector: dict[str, Any]) -> None:
    assert codes_of(vector) == vector["flags"]


def test_all_four_published_tests_are_covered() -> None:
    assert {vector["test"] for vector in VECTORS} == {"spike_average", "rate_of_change", "flat_line", "gross_range"}


def test_the_neighbour_rule_accuses_the_spike_and_not_its_neighbours() -> None:
    values = np.array([10.0, 12.0, 999.99, 13.0, 15.0])
    by_average = quality_tests.spike_average(values, suspect_threshold=25, fail_threshold=50)
    by_neighbours = quality_tests.spike_neighbours(values, suspect_threshold=25, fail_threshold=50)
    assert by_average.tolist() == [NOT_EVALUATED, FAIL, FAIL, FAIL, NOT_EVALUATED]  # as the published vector has it
    assert by_neighbours.tolist() == [NOT_EVALUATED, PASS, FAIL, PASS, NOT_EVALUATED]


def test_the_neighbour_rule_does_not_accuse_a_step_and_not_what_it_cannot_see() -> None:
    step = np.array([40.0, 40.0, 60.0, 60.0, np.nan, 60.0])
    codes = quality_tests.spike_neighbours(step, suspect_threshold=5, fail_threshold=10)
    assert codes.tolist() == [NOT_EVALUATED, PASS, PASS, NOT_EVALUATED, MISSING, NOT_EVALUATED]


def test_hampel_spares_a_slope_a_calm_record_and_a_lively_one() -> None:
    rng = np.random.default_rng(1)
    slope = np.linspace(30, 70, 100)
    calm = np.round(50 + rng.normal(0, 0.05, 1000), 1)
    lively = 50 + rng.normal(0, 3.0, 1000)  # hourly room air with the door open: scatter is its nature
    for values in (slope, calm):
        assert not (quality_tests.hampel(values, half_width=3, n_sigma=5, floor=3.0) == SUSPECT).any()
    # A window of 7 underestimates the scatter now and then, so that a few per hundred are accused: none would be
    # suspicious in itself.
    assert (quality_tests.hampel(lively, half_width=3, n_sigma=5, floor=3.0) == SUSPECT).mean() < 0.05


def test_noise_over_a_short_step_is_no_fast_change() -> None:
    seconds, values = np.arange(5) * 60.0, np.array([50.0, 50.8, 50.1, 50.9, 50.0])
    fast = quality_tests.rate_of_change(seconds, values, threshold_per_s=20 / 3600)
    spared = quality_tests.rate_of_change(seconds, values, threshold_per_s=20 / 3600, smallest_change=5)
    assert fast.tolist() == [PASS, SUSPECT, SUSPECT, SUSPECT, SUSPECT]
    assert spared.tolist() == [PASS] * 5
