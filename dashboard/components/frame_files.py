"""The account of every file behind a frame, and how far its loggers can be trusted."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import quote

import pandas as pd
from dash import dcc, html

from isohume.analysis.readings import UNCALIBRATED_UNCERTAINTY_PERCENT
from isohume.dashboard.components.blocks import aria, no_result, section, table
from isohume.dashboard.components.frame_exports import frame_table_links
from isohume.dashboard.current import current_archive
from isohume.dashboard.formats import MISSING, count, date, moment, number
from isohume.dashboard.views import FileAccount, FrameView, Site

PARTS = ("counted", "flagged", "duplicate", "conflicting", "rejected")
LEDE = "Every row of every file behind this page, and the calibration of the loggers that wrote them."
MONTHS_PER_DAY = 12 / 365.25


def files(view: FrameView, site: Site) -> html.Section:
    """Account for every row of every file that tells about the frame."""
    if not view.files:
        what_to_do: list[Any] = [
            " Register its placements, then ",
            dcc.Link("add the files", href="/files"),
            " of its loggers.",
        ]
        nothing = html.P(
            [html.Strong("No file. "), "None of this frame or its room has been kept.", *what_to_do],
            className="no-result",
        )
        return section("files", "Files", nothing, lede=LEDE)
    headings = ["File", "Side", "Logger", "Period", "Account", "Rows", "Kept", "Flagged", "Duplicate", "Conflicting",
                "Rejected", "Kept on"]  # fmt: skip
    account = table(
        headings,
        [_row(file, site) for file in view.files],
        caption="Row account: kept + duplicate + conflicting + rejected = rows; flagged are part of kept",
        numeric=(5, 6, 7, 8, 9, 10),
    )
    words = html.Details(
        [
            html.Summary("How these files are read"),
            html.Dl(
                [html.Div([html.Dt(file.file), html.Dd(file.in_words)]) for file in view.files],
                className="facts read-as",
            ),
        ]
    )
    return section(
        "files",
        "Files",
        _key(),
        account,
        frame_table_links(view.facts.frame_id, "files", "Row account"),
        words,
        html.H3("Calibration"),
        _calibrations(view, site),
        lede=LEDE,
    )


def _row(file: FileAccount, site: Site) -> list[Any]:
    return [
        html.Span(file.file, title=f"SHA-256 {file.sha256}"),
        file.side,
        file.logger,
        f"{date(file.first_utc, site.time_zone)} to {date(file.last_utc, site.time_zone)}",
        ledger_bar(file),
        count(file.in_file),
        count(file.kept),
        count(file.flagged),
        count(file.duplicate),
        count(file.conflicting),
        count(file.rejected),
        moment(file.imported_utc, site.time_zone),
    ]


def ledger_parts(file: FileAccount) -> dict[str, int]:
    """Return what became of the rows of a file, in parts that make up the whole."""
    return {
        "counted": file.kept - file.flagged,
        "flagged": file.flagged,
        "duplicate": file.duplicate,
        "conflicting": file.conflicting,
        "rejected": file.rejected,
    }


def ledger_bar(file: FileAccount) -> html.Span:
    """Draw the account of one file as one bar; the numbers stand beside it."""
    parts = ledger_parts(file)
    whole = max(sum(parts.values()), 1)
    drawn = [
        html.Span(className=f"ledger-{name}", style={"width": f"{100 * n / whole:.2f}%"})
        for name, n in parts.items()
        if n
    ]
    told = ", ".join(f"{count(n)} {name}" for name, n in parts.items() if n)
    return html.Span(drawn, className="ledger", role="img", **aria(label=told))


def _key() -> html.P:
    return html.P(
        [html.Span([html.Span(className=f"swatch ledger-{name}"), name]) for name in PARTS], className="ledger-key"
    )


def _calibrations(view: FrameView, site: Site) -> Any:
    archive = current_archive()
    loggers = sorted({(file.side, file.logger) for file in view.files})
    if archive is None:
        return no_result(
            "These pages show findings without an archive; calibrations are kept there.", lead="Not known."
        )
    kept = archive.records("calibrations")
    known = {row["id"]: row for row in archive.records("loggers")}
    rows = [
        _calibration(
            side,
            logger,
            known.get(logger, {}),
            [row for row in kept if row["logger"] == logger],
            site,
            months=view.facts.limits.calibration_months,
        )
        for side, logger in loggers
    ]
    headings = ["Logger", "Side", "Calibrated", "How", "Correction", "Uncertainty (k = 2)", "Certificate", "State"]
    return table(headings, rows, caption="Newest calibration of each logger behind this page")


def _calibration(
    side: str, logger: str, known: Mapping[str, Any], kept: list[dict[str, Any]], site: Site, *, months: float
) -> list[Any]:
    link = dcc.Link(logger, href=f"/register/loggers/{quote(logger, safe='')}")
    begun = [row for row in kept if pd.Timestamp(row["date"]) <= site.now]
    if not begun:
        assumed = known.get("uncertainty_percent") or UNCALIBRATED_UNCERTAINTY_PERCENT
        return [
            link,
            side,
            "never",
            MISSING,
            "none",
            f"±{number(assumed, 1, '%RH')}, assumed",
            MISSING,
            "uncalibrated",
        ]
    newest = max(begun, key=lambda row: str(row["date"]))
    made = pd.Timestamp(newest["date"])
    age = (site.now - made) / pd.Timedelta(days=1) * MONTHS_PER_DAY
    runs_out = newest["valid_until"]
    is_over = pd.Timestamp(runs_out) < site.now if runs_out else age > months
    uncertainty = newest["uncertainty_percent"] or known.get("uncertainty_percent") or UNCALIBRATED_UNCERTAINTY_PERCENT
    offset = newest["offset_percent"]
    correction = f"{offset:+.1f} %RH".replace("-", "−") if offset is not None else "by points"
    state = f"{age:.0f} months old" + (": due" if is_over else "")
    return [link, side, date(made.tz_convert("UTC"), site.time_zone), newest["method"], correction,
            f"±{number(uncertainty, 1, '%RH')}", newest["certificate"] or MISSING, state]  # fmt: skip
