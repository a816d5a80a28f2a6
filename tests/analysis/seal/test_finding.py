"""What the seal check says of frames whose truth is known: a leak that grew, one that was mended, and neither."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
import pytest

from isohume.analysis.exchange import CannotTell, fit_exchange
from isohume.analysis.frame import Event, FrameFacts
from isohume.analysis.readings import AirRecord
from isohume.analysis.results import SealFinding
from isohume.analysis.seal import seal_finding, seal_scan
from isohume.analysis.seal.finding import candidate, factor_interval
from isohume.analysis.seal.scan import Rival, SealScan
from isohume.analysis.seal.thresholds import LEAST_BEYOND_RIVALS, LEAST_LOG_LIKELIHOOD_RATIO, SMALLEST_FACTOR
from isohume.sample_logs.physics import FramePhysics, Reset, simulate_frames
from isohume.sample_logs.rooms import RoomCourse, logger, room_course

DAYS, DAY = 240, 200
N = DAYS * 24
# Half-time about 50 days, a quarter of the exchange by permeation.
FRAME = FramePhysics(leakage_per_day=40.0, permeance_g_per_day_pa=0.000296)
TRUE_FACTOR = 1 + 2 * 0.75  # leakage, not permeation, three times as large


@dataclass(frozen=True)
class Pair:
    inside: AirRecord
    outside: AirRecord


@pytest.fixture(scope="module")
def pairs() -> dict[str, Pair]:
    """Four fates of one layered frame in one heated room, simulated at once."""
    rng = np.random.default_rng(31)
    room = room_course(rng, N, kind="heated", start=np.datetime64("2025-03-01T00", "h"))
    after = np.arange(N) >= DAY * 24
    fates = {"sound": np.ones(N), "failing": np.where(after, 3.0, 1.0), "opened": np.ones(N)}
    fates["mended"] = np.where(np.arange(N) < 120 * 24, 5.0, 1.0)
    course = simulate_frames(
        [FRAME] * len(fates),
        room.rh_percent,
        room.temperature_celsius,
        start_rh=50.0,
        leakage_factor=np.stack(list(fates.values()), axis=1),
        resets=[Reset(index=DAY * 24 + hour, kind="opened", frame=2) for hour in range(8)],
    )
    outside = logged(rng, room)
    return {
        name: Pair(
            inside=logged(
                rng,
                RoomCourse(rh_percent=course.rh_percent[:, k], temperature_celsius=course.temperature_celsius[:, k]),
            ),
            outside=outside,
        )
        for k, name in enumerate(fates)
    }


def logged(rng: np.random.Generator, air: RoomCourse) -> AirRecord:
    index = pd.date_range("2025-03-01", periods=N, freq="h", tz="UTC")
    seen = logger(rng, air)
    table = {"rh_percent": seen.rh_percent, "temperature_celsius": seen.temperature_celsius}
    return AirRecord(readings=pd.DataFrame(table, index=index), uncertainty_percent=2.0)


def check(pair: Pair, *events: Event) -> SealFinding:
    frame = FrameFacts(events=events)
    return seal_finding(fit_exchange(pair.inside, pair.outside, frame=frame), frame=frame)


def moved_by(record: AirRecord, percent: float) -> AirRecord:
    """A record whose readings are higher from the day on."""
    later = record.readings.index >= record.readings.index[0] + pd.Timedelta(days=DAY)
    added = record.readings.assign(rh_percent=record.rh_percent + percent * later)
    return replace(record, readings=added)


def test_a_leak_that_grew_is_found_with_its_date(pairs: dict[str, Pair]) -> None:
    finding = check(pairs["failing"])
    assert finding.changed is True
    assert finding.date is not None
    happened = pairs["failing"].inside.readings.index[0] + pd.Timedelta(days=DAY)
    assert abs(finding.date - happened) < pd.Timedelta(days=10)  # design: date within ± 10 days
    assert finding.factor_low is not None
    assert finding.factor_high is not None
    assert finding.factor_low < TRUE_FACTOR < finding.factor_high


def test_a_sound_frame_is_not_accused_and_says_what_would_have_shown(pairs: dict[str, Pair]) -> None:
    finding = check(pairs["sound"])
    assert finding.changed is False
    assert finding.date is None
    assert finding.smallest_detectable is not None
    assert SMALLEST_FACTOR <= finding.smallest_detectable < 3


@pytest.mark.parametrize(("side", "percent"), [("inside", 3.0), ("outside", -3.0)])
def test_a_logger_that_reads_otherwise_from_a_day_on_is_no_leak(
    pairs: dict[str, Pair], side: str, percent: float
) -> None:
    sound = pairs["sound"]
    other = replace(sound, **{side: moved_by(getattr(sound, side), percent)})
    assert check(other).changed is not True


def test_an_opening_nobody_wrote_down_is_no_leak(pairs: dict[str, Pair]) -> None:
    assert check(pairs["opened"]).changed is not True


def test_a_mended_leak_is_no_accusation(pairs: dict[str, Pair]) -> None:
    finding = check(pairs["mended"])
    assert finding.changed is False
    assert finding.factor is not None
    assert finding.factor < 1 / SMALLEST_FACTOR
    assert "leaks less" in finding.why


def test_after_a_repair_on_record_the_leakage_begins_anew(pairs: dict[str, Pair]) -> None:
    mended = pairs["mended"].inside.readings.index[0] + pd.Timedelta(days=120)
    finding = check(pairs["mended"], Event(time_utc=mended, kind="seal repaired"))
    assert finding.changed is False
    assert finding.factor is None


def test_a_record_without_a_model_says_why() -> None:
    frame = FrameFacts()
    finding = seal_finding(CannotTell(why="Too short: 3 days."), frame=frame)
    assert finding == SealFinding(changed=None, why="Too short: 3 days.")
    assert seal_scan(CannotTell(why="Too short: 3 days."), frame=frame) is None


def scan_with(ratio: float, factor: float, beyond: float) -> SealScan:
    dates = pd.DatetimeIndex(pd.date_range("2026-01-01", periods=3, freq="7D", tz="UTC"))
    step = Rival(name="a step in the inside logger's offset", date=dates[0], log_likelihood_ratio=5.0)
    return SealScan(
        dates=dates,
        log_likelihood_ratio=np.array([0.1, ratio, 0.1]),
        beyond_rivals=np.array([0.1, beyond, 0.1]),
        nearest_rival=(step,) * 3,
        factor=np.array([1.0, factor, 1.0]),
        factor_sd=np.full(3, 0.1),
        smallest_factor=np.full(3, 1.5),
        rivals=(step,),
    )


@pytest.mark.parametrize(
    ("ratio", "factor", "beyond", "why_not"),
    [
        (LEAST_LOG_LIKELIHOOD_RATIO + 0.1, 2.0, LEAST_BEYOND_RIVALS + 0.1, ""),
        (LEAST_LOG_LIKELIHOOD_RATIO - 0.1, 2.0, 50.0, "stands out"),
        (50.0, SMALLEST_FACTOR - 0.05, 50.0, "less than a factor"),
        (50.0, 2.0, LEAST_BEYOND_RIVALS - 0.1, "inside logger"),
    ],
)
def test_each_threshold_decides(ratio: float, factor: float, beyond: float, why_not: str) -> None:
    found = candidate(scan_with(ratio, factor, beyond), grown=True)
    assert found is not None
    assert (why_not in found.why_not) if why_not else found.why_not == ""


def test_interval_is_symmetric_on_the_logarithm() -> None:
    low, high = factor_interval(2.0, 0.1)
    assert low * high == pytest.approx(4.0)
    assert low < 2.0 < high
