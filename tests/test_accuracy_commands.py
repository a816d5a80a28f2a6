"""The commands behind the accuracy tables still run: one frame each, in one fresh process."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pandas as pd

ROOT = Path(__file__).parents[1]
SMALL_RUNS = """
import sys
from tests.accuracy import estimate, exchange, forecast, seal
folder = sys.argv[1]
forecast.RECORDS_DAYS = ((60, 60),)  # the shortest of each
estimate.STRIP_COUNTS, estimate.SOURCES = (4,), ("earlier fit",)
seal.main(["--frames", "1", "--seed", "7", "--cases", "×3 after 60 days, any season", "--raw", f"{folder}/scans.csv",
           "--csv", f"{folder}/seal.csv"])
forecast.main(["--frames", "1", "--seed", "7", "--csv", f"{folder}/forecast.csv"])
estimate.main(["--frames", "1", "--seed", "7", "--csv", f"{folder}/estimate.csv"])
exchange.main(["--frames", "1", "--seed", "7", "--days", "60", "--csv", f"{folder}/exchange.csv"])
"""


def test_one_frame_through_each_accuracy_command(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", SMALL_RUNS, str(tmp_path)],
        cwd=ROOT,
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    assert done.returncode == 0, done.stderr
    for name in ("seal", "forecast", "estimate", "exchange"):
        written = tmp_path / f"{name}.csv"
        committed = ROOT / "analysis" / "data" / f"{name}_accuracy.csv"
        first = written.read_text(encoding="utf-8").splitlines()[0]
        assert first.startswith("# isohume")
        assert f"python -m tests.accuracy {name}" in first
        columns = pd.read_csv(written, comment="#").columns
        assert list(columns) == list(pd.read_csv(committed, comment="#").columns)


def test_without_a_name_the_tables_are_listed() -> None:
    done = subprocess.run(
        [sys.executable, "-m", "tests.accuracy"], cwd=ROOT, capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 2
    assert {"seal", "forecast", "estimate", "exchange"} <= set(done.stdout.split("{")[1].split("}")[0].split(","))
    assert "intervals" not in done.stdout
