"""From the register and the truth to what every logger wrote: rooms, frames, and the mishaps of loggers."""

from __future__ import annotations

import datetime as dt
import tomllib
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from isohume.sample_logs.physics import FramePhysics, Reset, simulate_frames
from isohume.sample_logs.random_frames import with_half_times
from isohume.sample_logs.rooms import RoomCourse, room_course, weather_course
from isohume.sample_logs.sorption import FloatArray, saturation_pressure_pa

HERE = Path(__file__).parent
STEP_S = 1800
DESK = "desk"
# Of the frames, where the register has nothing to say; a board as large as the panel, in fairly still air.
BOARD_CONDUCTANCE_G_PER_H_M2_PA = 0.05
DIFFUSIVITY_M2_PER_S = 6e-11
TEMPERATURE_ERROR_PER_PERCENT = 0.2  # a logger's errors in kelvin, of those in %RH
LEAST_SPIKE_PERCENT, MOST_SPIKE_PERCENT = 12.0, 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Collection:
    """Register and truth of the demonstration, as read from their files."""

    register: Mapping[str, Any]
    truth: Mapping[str, Any]

    @property
    def zone(self) -> ZoneInfo:
        """Time zone of the site."""
        return ZoneInfo(self.register["collection"]["time_zone"])

    @property
    def as_of(self) -> dt.datetime:
        """The moment at which the demonstration is looked at."""
        moment: dt.datetime = self.register["collection"]["as_of"]
        return moment

    def seconds(self, moment: dt.date) -> float:
        """Return a date (start of the day at the site) or time as seconds since 1970."""
        if not isinstance(moment, dt.datetime):
            moment = dt.datetime.combine(moment, dt.time(), self.zone)
        return moment.timestamp()

    def rng(self, name: str) -> np.random.Generator:
        """Return the generator of one thing by its name, so that a change to one leaves the others as they were."""
        return np.random.default_rng([self.truth["collection"]["seed"], zlib.crc32(name.encode())])


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueAir:
    """What the air really was, every half hour: (n,) times [s since 1970], and a course per room and frame."""

    time_s: FloatArray
    rooms: Mapping[str, RoomCourse]
    frames: Mapping[str, RoomCourse]
    physics: Mapping[str, FramePhysics]


def load_collection(folder: Path = HERE) -> Collection:
    """Read register.toml and truth.toml."""
    register, truth = (
        tomllib.loads((folder / name).read_text(encoding="utf-8")) for name in ("register.toml", "truth.toml")
    )
    return Collection(register=register, truth=truth)


def true_air(collection: Collection) -> TrueAir:
    """Simulate all rooms and frames from the start of the simulation to `as_of`."""
    truth = collection.truth
    start: dt.datetime = truth["collection"]["start"]
    time_s = np.arange(start.timestamp(), collection.as_of.timestamp() + STEP_S, STEP_S)
    rooms = _rooms(collection, time_s)
    frames = collection.register["frames"]
    physics = frame_physics(collection)

    humidity, warmth = np.empty((2, len(time_s), len(frames)))
    factor = np.ones_like(humidity)
    resets: list[Reset] = []
    for k, frame in enumerate(frames):
        for j, stay in enumerate(frame["locations"]):
            since = slice(_index(time_s, collection.seconds(stay["from"])) if j else 0, None)
            humidity[since, k] = rooms[stay["room"]].rh_percent[since]
            warmth[since, k] = rooms[stay["room"]].temperature_celsius[since]
        resets += _resets(collection, time_s, frame, k)
        failure = truth["frames"][frame["id"]].get("seal_fails")
        if failure:
            factor[_index(time_s, collection.seconds(failure["time"])) :, k] = failure["leakage_factor"]
    starts = np.array([float(truth["frames"][frame["id"]]["start_percent"]) for frame in frames])
    made = [physics[frame["id"]] for frame in frames]
    course = simulate_frames(
        made, humidity, warmth, start_rh=starts, step_s=STEP_S, leakage_factor=factor, resets=resets
    )
    inside = {
        frame["id"]: RoomCourse(
            rh_percent=course.rh_percent[:, k], temperature_celsius=course.temperature_celsius[:, k]
        )
        for k, frame in enumerate(frames)
    }
    return TrueAir(time_s=time_s, rooms=rooms, frames=inside, physics=physics)


def frame_physics(collection: Collection) -> dict[str, FramePhysics]:
    """Return what each frame is made of: its register entry, with the leakage that gives its true half-time."""
    facts = [collection.truth["frames"][frame["id"]] for frame in collection.register["frames"]]
    pairs = zip(collection.register["frames"], facts, strict=True)
    frames = [_untuned(frame, fact.get("permeation_share", 0.0)) for frame, fact in pairs]
    tuned = with_half_times(frames, np.array([float(fact["half_time_days"]) for fact in facts]))
    return {frame["id"]: made for frame, made in zip(collection.register["frames"], tuned, strict=True)}


def recorded(
    collection: Collection, air: TrueAir, logger: Mapping[str, Any], time_s: FloatArray
) -> Iterator[tuple[str, FloatArray, FloatArray]]:
    """Yield what each sensor of a logger wrote at these times: channel, humidity [%RH], temperature [°C]."""
    truth = collection.truth["loggers"][logger["id"]]
    placements = [p for p in collection.register["placements"] if p["logger"] == logger["id"]]
    channels = sorted({p["channel"] for p in placements})
    hung = channels[::-1] if truth.get("channels_swapped") else channels
    for channel, really, error in zip(channels, hung, truth["errors_percent"], strict=True):
        rng = collection.rng(f"{logger['id']} {channel}")
        seen = np.stack(_at(air, air.rooms[DESK], time_s))
        for placement in placements:
            if placement["channel"] == really:
                end = collection.seconds(placement["to"]) if "to" in placement else np.inf
                there = (time_s >= collection.seconds(placement["from"])) & (time_s < end)
                courses = air.frames if "frame" in placement else air.rooms
                course = courses[placement.get("frame") or placement["room"]]
                seen[:, there] = np.stack(_at(air, course, time_s))[:, there]
        noise = truth.get("noise_percent", 0.25)
        humidity = seen[0] + error + rng.normal(0.0, noise, len(time_s))
        warmth = seen[1] + TEMPERATURE_ERROR_PER_PERCENT * (error + rng.normal(0.0, noise, len(time_s)))
        yield channel, _mishaps(collection, truth, rng, time_s, np.clip(humidity, 0.0, 100.0)), warmth


def _rooms(collection: Collection, time_s: FloatArray) -> dict[str, RoomCourse]:
    start = np.datetime64(int(time_s[0]), "s").astype("datetime64[h]")
    hour_s = np.arange(time_s[0], time_s[-1] + 3600, 3600.0)
    weather = weather_course(collection.rng("weather"), len(hour_s), start=start)
    rooms = {}
    for name, facts in collection.truth["rooms"].items():
        course = room_course(collection.rng(name), len(hour_s), kind=facts["kind"], start=start, weather=weather)
        humidity = np.clip(course.rh_percent + facts.get("shift_percent", 0.0), 12.0, 95.0)
        rooms[name] = RoomCourse(
            rh_percent=np.interp(time_s, hour_s, humidity),
            temperature_celsius=np.interp(time_s, hour_s, course.temperature_celsius),
        )
    return rooms


def _untuned(frame: Mapping[str, Any], permeation_share: float) -> FramePhysics:
    panel, construction = frame["panel"], frame["construction"]
    area = panel["width_mm"] * panel["height_mm"] / 1e6 * panel["faces_open"]
    made = FramePhysics(
        air_litres=construction["air_volume_litres"],
        leakage_per_day=1.0,
        board_kg=construction["board_kg"],
        board_conductance_g_per_h_pa=BOARD_CONDUCTANCE_G_PER_H_M2_PA * area / panel["faces_open"],
        panel_kg=panel["mass_kg"],
        panel_area_m2=area,
        panel_thickness_mm=panel["thickness_mm"] / panel["faces_open"],  # two open faces: each serves half
        diffusivity_m2_per_s=DIFFUSIVITY_M2_PER_S,
    )
    per_pascal = made.exchange_g_per_day_percent() * 100 / float(saturation_pressure_pa(np.asarray(20.0)))
    values = {name: getattr(made, name) for name in FramePhysics.__slots__}
    values["permeance_g_per_day_pa"] = per_pascal * permeation_share / (1 - permeation_share)
    return FramePhysics(**values)


def _resets(collection: Collection, time_s: FloatArray, frame: Mapping[str, Any], k: int) -> Iterator[Reset]:
    truth = collection.truth["frames"][frame["id"]]
    if "start" in truth:
        index = _index(time_s, collection.seconds(truth["start"]))
        yield Reset(index=index, kind="reconditioned", rh_percent=truth["start_percent"], frame=k)
    for event in frame["events"]:
        moment = collection.seconds(event["time"])
        if event["kind"] == "reconditioned" and moment > time_s[0]:
            yield Reset(index=_index(time_s, moment), kind="reconditioned", rh_percent=event["rh_percent"], frame=k)


def _mishaps(
    collection: Collection,
    truth: Mapping[str, Any],
    rng: np.random.Generator,
    time_s: FloatArray,
    humidity: FloatArray,
) -> FloatArray:
    """Return the humidity as a faulty logger wrote it."""
    spoilt = humidity.copy()
    if "stuck" in truth:
        first, last = (np.searchsorted(time_s, collection.seconds(truth["stuck"][end])) for end in ("from", "to"))
        spoilt[first:last] = spoilt[first]
    if "spikes" in truth:
        hit = rng.random(len(time_s)) < truth["spikes"]["share"]
        hit &= time_s >= collection.seconds(truth["spikes"]["from"])
        size = rng.uniform(LEAST_SPIKE_PERCENT, MOST_SPIKE_PERCENT, len(time_s)) * rng.choice([-1.0, 1.0], len(time_s))
        spoilt = np.clip(np.where(hit, spoilt + size, spoilt), 0.0, 100.0)
    return spoilt


def _at(air: TrueAir, course: RoomCourse, time_s: FloatArray) -> tuple[FloatArray, FloatArray]:
    humidity = np.interp(time_s, air.time_s, course.rh_percent)
    return humidity, np.interp(time_s, air.time_s, course.temperature_celsius)


def _index(time_s: FloatArray, moment_s: float) -> int:
    return int(np.searchsorted(time_s, moment_s))
