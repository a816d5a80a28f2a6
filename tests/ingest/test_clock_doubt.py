"""Inside and room whose days disagree by an hour in summer: the record says so and its times are doubted."""

from __future__ import annotations

import numpy as np
import pandas as pd

from isohume.analysis.readings import RH, TEMPERATURE, TIME, AirRecord
from isohume.ingest.clock_doubt import with_clock_doubted


def a_record(*, hour_early_in_summer: bool = False) -> AirRecord:
    index = pd.date_range("2025-01-08", periods=320 * 24, freq="h", tz="UTC", name=TIME)
    rng = np.random.default_rng(4)
    weather = np.convolve(rng.normal(0, 0.4, index.size + 23), np.ones(24) / 24**0.5, "valid")
    temperature = 20 + np.sin(2 * np.pi * (index.hour - 9) / 24) * rng.uniform(0.6, 1.4, index.size) + weather
    readings = pd.DataFrame({RH: 50.0, TEMPERATURE: temperature}, index=index)
    if hour_early_in_summer:
        summer = (index >= "2025-03-30T01:00Z") & (index < "2025-10-26T01:00Z")
        readings.index = index.where(~summer, index - pd.Timedelta(hours=1)).as_unit("us")
        readings = readings[~readings.index.duplicated(keep="last")]
        readings.index.name = TIME
    return AirRecord(readings=readings, flag_counts={"gap before": 2}, n_readings=len(readings))


def test_a_clock_left_on_winter_time_is_doubted() -> None:
    inside = a_record(hour_early_in_summer=True)
    doubted = with_clock_doubted(inside, a_record(), site_zone="Europe/Berlin")
    assert doubted.flag_counts == {"gap before": 2, "clock doubt": len(inside.readings)}
    assert doubted.notes[-1].startswith(
        "The clocks inside and in the room do not go together. Beside the other logger its days come 1.0 h early"
    )
    assert doubted.readings is inside.readings


def test_clocks_that_go_together_are_not() -> None:
    for outside, zone in ((a_record(), "Europe/Berlin"), (None, "Europe/Berlin"), (a_record(), "+01:00")):
        inside = a_record()
        assert with_clock_doubted(inside, outside, site_zone=zone) is inside
