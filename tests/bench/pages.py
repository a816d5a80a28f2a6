"""Time what the pages ask of the server. Run: OMP_NUM_THREADS=1 python -m tests.bench.pages [--years 10].

Makes one frame with 10 years of 5-minute readings inside and in its room, and a list of 500 frames, and asks for both
pages as a browser does. Bars of the design: first figure and list in 0.5 s, a zoom in 0.15 s. Processor seconds stand
beside the clock's, so that a busy machine can be told from slow work; medians of five.
"""

from __future__ import annotations

import argparse
import datetime as dt
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import polars as pl
from dash import Dash
from flask.testing import FlaskClient
from scipy.signal import lfilter

from isohume.dashboard import ids
from isohume.dashboard.app import create_app
from isohume.dashboard.store import SUMMARY, Store
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.findings import Finding

MINUTES = 5
FIRST_YEAR = 2016
N_LISTED = 500
RUNS = 5
DAY = 86_400.0


def told(name: str, work: Callable[[], object], *, bar: float | None = None, runs: int = RUNS) -> None:
    """Print the median time of some work, by the processor and by the clock [s]."""
    by_clock, by_processor = [], []
    for _ in range(runs):
        start, busy = time.perf_counter(), time.process_time()
        work()
        by_clock.append(time.perf_counter() - start)
        by_processor.append(time.process_time() - busy)
    limit = "" if bar is None else f" (bar {bar:g} s)"
    print(
        f"{name}: processor {statistics.median(by_processor):.3f} s, clock {statistics.median(by_clock):.3f} s{limit}"
    )


def description(n_frames: int) -> str:
    """Describe one room, and frames in it with a logger each."""
    lines = ['[collection]\nname = "Bench (invented)"\ntime_zone = "Europe/Berlin"\ninvented = true']
    lines.append(f"as_of = {FIRST_YEAR + 10}-01-01T00:00:00+00:00")
    lines.append('[[rooms]]\nid = "R1"\n[[loggers]]\nid = "L000"\nfiles = ["logger000_*.csv"]\ntime_zone = "UTC"')
    lines.append(f'[[placements]]\nlogger = "L000"\nroom = "R1"\nfrom = {FIRST_YEAR}-01-01')
    for number in range(1, n_frames + 1):
        lines.append(f'[[loggers]]\nid = "L{number:03}"\nfiles = ["logger{number:03}_*.csv"]\ntime_zone = "UTC"')
        lines.append(f'[[frames]]\nid = "F{number:03}"\npainting = "Painting {number} (invented)"\nband = [45, 55]')
        lines.append(f'[[frames.locations]]\nroom = "R1"\nfrom = {FIRST_YEAR}-01-01')
        lines.append(f'[[placements]]\nlogger = "L{number:03}"\nframe = "F{number:03}"\nfrom = {FIRST_YEAR}-01-01')
    return "\n".join(lines) + "\n"


def write_year(path: Path, year: int, *, half_time_days: float, seed: int) -> None:
    """Write one logger-year of a room, or of a frame in it."""
    start, end = dt.datetime(year, 1, 1), dt.datetime(year + 1, 1, 1)  # noqa: DTZ001 - written without an offset
    times = pl.datetime_range(start, end, f"{MINUTES}m", closed="left", eager=True)
    n, rng = len(times), np.random.default_rng(year)  # the same weather for both sides
    hours = np.arange(n) * MINUTES / 60
    room = 50 + 8 * np.sin(2 * np.pi * hours / 8766) + lfilter([1.0], [1.0, -0.9993], rng.normal(0.0, 0.1, n))
    kept = 0.5 ** (MINUTES / 1440 / half_time_days) if half_time_days else 0.0
    rh = lfilter([1 - kept], [1.0, -kept], room, zi=[kept * 50.0])[0]
    rng = np.random.default_rng(seed + year)
    celsius = 20 + np.sin(2 * np.pi * hours / 24) + rng.normal(0.0, 0.03, n)
    values = {"Time (UTC)": times, "RH (%)": (rh + rng.normal(0, 0.15, n)).round(1), "T (°C)": celsius.round(2)}
    pl.DataFrame(values).write_csv(path, datetime_format="%Y-%m-%dT%H:%M:%SZ")


class Browser:
    """Asks the server as the pages' scripts do."""

    def __init__(self, app: Dash) -> None:
        self.app = app
        self.client: FlaskClient = app.server.test_client()
        self.client.get("/methods", headers={"Accept": "text/html"})  # gives the token of our pages
        cookie = self.client.get_cookie("_csrf_token")
        self.token = {} if cookie is None else {"X-CSRFToken": cookie.value}

    def open(self, path: str) -> bytes:
        """Have the page of an address built."""
        inputs = [{"id": ids.URL, "property": "pathname", "value": path},
                  {"id": ids.WORK_ENDED, "property": "data", "value": None}]  # fmt: skip
        state = [{"id": ids.URL, "property": "search", "value": ""}]
        return self.ask(f"..{ids.CONTENT}.children", inputs, state, changed=f"{ids.URL}.pathname")

    def draw(self, frame_id: str, *, window: tuple[float, float] | None = None) -> bytes:
        """Have the record drawn: at first, or a stretch of it [s since 1970]."""
        shown = None if window is None else [*window, 0]
        values: list[tuple[str, str, Any]] = [
            (ids.FRAME_ID, "data", frame_id), (ids.FRAME_RECORD, "relayoutData", None),
            (ids.FRAME_PERIOD, "value", "all"), (ids.FRAME_EARLIER, "n_clicks", None),
            (ids.FRAME_LATER, "n_clicks", None), (ids.FRAME_ASKED, "data", shown),
        ]  # fmt: skip
        inputs = [{"id": name, "property": prop, "value": value} for name, prop, value in values]
        state = [{"id": ids.FRAME_WINDOW, "property": "data", "value": None}]
        changed = f"{ids.FRAME_ID}.data" if window is None else f"{ids.FRAME_ASKED}.data"
        return self.ask(f"..{ids.FRAME_RECORD}.figure", inputs, state, changed=changed)

    def ask(self, starts: str, inputs: list[Any], state: list[Any], *, changed: str) -> bytes:
        """Post one callback; the answer as sent."""
        output = next(key for key in self.app.callback_map if key.startswith(starts))
        parts = [part.rpartition(".") for part in output.strip(".").split("...")]
        body = {
            "output": output, "outputs": [{"id": name, "property": prop} for name, _, prop in parts],
            "inputs": inputs, "state": state, "changedPropIds": [changed],
        }  # fmt: skip
        answer = self.client.post("/_dash-update-component", json=body, headers=self.token)
        if answer.status_code != 200:
            raise RuntimeError(f"{answer.status_code}: {answer.get_data(as_text=True)[:300]}")
        return answer.data


def tell_frame(folder: Path, n_years: int) -> None:
    """Print what one frame with a long record takes."""
    described = folder / "one.toml"
    described.write_text(description(1), encoding="utf-8")
    with Archive.create(folder / "one") as archive:
        archive.load_register(described)
        for logger, half_time_days in (("logger000", 0.0), ("logger001", 40.0)):
            for year in range(FIRST_YEAR + 10 - n_years, FIRST_YEAR + 10):
                path = folder / f"{logger}_{year}.csv"
                write_year(path, year, half_time_days=half_time_days, seed=len(logger) * year)
                archive.ingest(path)
                path.unlink()
        inside = archive.inside_record("F001")
        n_readings = 0 if inside is None else len(inside.readings)
        print(f"one frame: {n_readings} readings inside, as many in its room")
        told("all its findings, outside the request", lambda: Store(archive).complete(), runs=1)

        fresh = [Browser(create_app(Store(archive))) for _ in range(2 * RUNS + 2)]
        fresh[0].open("/frame/F001")
        fresh[1].draw("F001")
        rest = iter(fresh[2:])
        opened: list[Browser] = []

        def first_page() -> None:
            opened.append(next(rest))
            opened[-1].open("/frame/F001")

        told("the page, nothing in memory", first_page)
        waiting = iter(opened)
        told("then its first figure", lambda: next(waiting).draw("F001"), bar=0.5)
        browser = Browser(create_app(Store(archive)))
        told("the page again", lambda: browser.open("/frame/F001"))
        told("the whole record drawn again", lambda: browser.draw("F001"), bar=0.15)
        end = dt.datetime(FIRST_YEAR + 10, 1, 1, tzinfo=dt.UTC).timestamp()
        for days in (1000, 100, 10, 1):
            window = (end - 500 * DAY, end - 500 * DAY + days * DAY)
            told(f"zoom to {days} days", lambda window=window: browser.draw("F001", window=window), bar=0.15)  # type: ignore[misc]
        print(f"sent for the whole record: {len(browser.draw('F001')) / 1e3:.0f} kB before compression")


def tell_list(folder: Path) -> None:
    """Print what the list of 500 frames takes from kept findings."""
    described = folder / "many.toml"
    described.write_text(description(N_LISTED), encoding="utf-8")
    with Archive.create(folder / "many") as archive:
        archive.load_register(described)
        for logger, half_time_days in (("logger000", 0.0), ("logger001", 40.0)):
            path = folder / f"{logger}_x.csv"
            write_year(path, FIRST_YEAR + 9, half_time_days=half_time_days, seed=1)
            archive.ingest(path)
        store = Store(archive)
        store.complete(["F001"])
        one, moment = archive.kept_findings(SUMMARY)["F001"], store.known_frame("F001")
        keys = archive.findings_keys()
        archive.keep_findings(
            SUMMARY,
            {name: Finding(key, one.as_of, {**one.document, "frame_id": name}) for name, key in keys.items()},
        )
        if moment.computed != "now" or Store(archive).unassessed():
            raise RuntimeError("the kept findings were not found")
        told(
            f"page of {len(keys)} frames, nothing in memory",
            lambda: Browser(create_app(Store(archive))).open("/frames"),
            bar=0.5,
        )
        browser = Browser(create_app(Store(archive)))
        told("the same again", lambda: browser.open("/frames"), bar=0.5)
        print(f"sent: {len(browser.open('/frames')) / 1e6:.1f} MB before compression")


def main() -> None:
    """Make, ask, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--years", type=int, default=10)
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="isohume-bench-") as name:
        tell_list(Path(name))
        tell_frame(Path(name), wanted.years)


if __name__ == "__main__":
    main()
