"""Calibration over saturated salts: what is true there, and what a logger showed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import dash_mantine_components as dmc
from dash import html

from isohume.analysis.salts import SaltPoint, salt_point, salts
from isohume.dashboard import ids
from isohume.dashboard.components.blocks import KeyFigure, graph, key_figures, no_result, table
from isohume.dashboard.figures.salt_check import salt_check_figure
from isohume.dashboard.formats import MISSING, number, signed
from isohume.dashboard.workbench.fields import Choice, Day, Number, Text, Typed
from isohume.dashboard.workbench.part import CannotReckonError, Context, Group, Part, Sheets
from isohume.ingest.archive.calibration import COVERAGE_FACTOR, REPEAT_SD_PERCENT, Proposal, SaltCheck, from_salts
from isohume.ingest.archive.errors import RegisterError

N_CHECKS = 3
NO_SALT = ""
SEEN = {"verified": "published table", "memory": "from memory of it"}
NOT_KEPT_HERE = "Keeping a calibration needs the role contributor."


@dataclass(frozen=True, slots=True, kw_only=True)
class Slope:
    """How steeply a logger shows humidity between its outer points: 1 is right, less is too flat."""

    slope: float
    uncertainty: float  # expanded, k = 2

    @property
    def differs(self) -> bool:
        """Whether it differs from 1 by more than its uncertainty."""
        return abs(self.slope - 1) > self.uncertainty


def groups(context: Context) -> tuple[Group, ...]:
    """Return the fields."""
    names = ((NO_SALT, "none"), *((salt, salt) for salt in salts()))
    checks = tuple(
        field
        for place in range(1, N_CHECKS + 1)
        for field in (
            Choice(name=f"salt{place}", label=f"Salt {place}", choices=names),
            Number(name=f"salt{place}_c", label="at", unit="°C", low=-20, high=80),
            Number(name=f"salt{place}_read", label="Shown", unit="%RH", low=0, high=110),
        )
    )
    shown = (
        Group(
            title="The solutions",
            fields=(Number(name="celsius", label="Temperature", unit="°C", low=-20, high=80, needed=True),),
        ),
        Group(
            title="What the logger showed, settled",
            note="Without a temperature of its own, a salt has the one above.",
            fields=checks,
            rows="sheets",
        ),
    )
    if not context.writes:
        return shown
    loggers = tuple((row["id"], _logger_name(row)) for row in _loggers(context))
    return (
        *shown,
        Group(
            title="To keep it",
            note="Readings from the date on are corrected by it; the register shows and corrects it later.",
            fields=(
                Choice(name="logger", label="Logger", choices=(("", "choose"), *loggers), wide=True),
                Text(name="channel", label="Channel of its file", longest=40, note="empty: all"),
                Day(name="date", label="Done on", note="such as 2026-11-20"),
                Text(name="certificate", label="Certificate or sheet", longest=80, wide=True),
                Text(name="remark", label="Note", longest=300, wide=True),
            ),
        ),
    )


def _loggers(context: Context) -> list[dict[str, Any]]:
    return [] if context.archive is None else [r for r in context.archive.records("loggers") if not r["retired"]]


def _logger_name(row: dict[str, Any]) -> str:
    return f"{row['id']} (serial {row['serial']})" if row["serial"] else str(row["id"])


def example(_context: Context) -> dict[str, str]:
    """Fill in a check over two salts."""
    return {
        "celsius": "20", "salt1": "Magnesium chloride", "salt1_read": "34.6", "salt2": "Sodium chloride",
        "salt2_read": "76.3",
    }  # fmt: skip


def checks_of(typed: Typed) -> list[SaltCheck]:
    """Return what was entered as checks; a salt without a reading is none.

    Raises
    ------
    CannotReckonError
        A reading without its salt.
    """
    found = []
    for place in range(1, N_CHECKS + 1):
        salt, shown = typed.text(f"salt{place}"), typed.number(f"salt{place}_read")
        if shown is None:
            continue
        if salt == NO_SALT:
            raise CannotReckonError(f"Reading {place}, {shown:g} %RH, stands beside no salt: choose its salt.")
        own = typed.number(f"salt{place}_c")
        celsius = typed.amount("celsius") if own is None else own
        found.append(SaltCheck(salt=salt, temperature_celsius=celsius, as_found_percent=shown))
    return found


def proposal_of(typed: Typed) -> tuple[Proposal, list[SaltPoint], list[SaltCheck]]:
    """Work out the calibration, as the archive would keep it.

    Raises
    ------
    CannotReckonError
        No reading, or readings that make no calibration.
    """
    checks = checks_of(typed)
    if not checks:
        raise CannotReckonError("Enter what the logger showed over one to three salts.")
    if len({check.salt for check in checks}) < len(checks):
        raise CannotReckonError("A salt stands twice: give every salt one settled reading.")
    try:
        proposal = from_salts(checks)
        points = [salt_point(check.salt, check.temperature_celsius) for check in checks]
    except RegisterError as error:
        raise CannotReckonError(f"Found {error.found}, expected {error.expected}.") from None
    return proposal, points, checks


def slope_of(points: list[SaltPoint], checks: list[SaltCheck]) -> Slope | None:
    """Return the slope between the outermost points, what was shown against what is true; None for one point."""
    if len(points) < 2:
        return None
    pairs = sorted(zip(points, checks, strict=True), key=lambda pair: pair[0].rh_percent)
    (dry, dry_shown), (damp, damp_shown) = pairs[0], pairs[-1]
    span = damp.rh_percent - dry.rh_percent
    each = [math.hypot(point.uncertainty_percent, COVERAGE_FACTOR * REPEAT_SD_PERCENT) for point in (dry, damp)]
    slope = (damp_shown.as_found_percent - dry_shown.as_found_percent) / span
    return Slope(slope=slope, uncertainty=math.hypot(*each) / span)


def slope_words(found: Slope | None, n_points: int) -> str:
    """Say what the points tell of the slope."""
    if found is None:
        return (
            "One salt gives an offset and says nothing of the slope: away from its humidity the logger may be off by "
            "more. Two salts on either side of the band say more."
        )
    amount = f"{found.slope:.3f} ± {found.uncertainty:.3f} %RH per %RH (k = 2)"
    shown = f"Between the outermost points the logger shows {amount}"
    if not found.differs:
        said = f"{shown}: no slope error beyond the uncertainty; one offset would do as well."
    else:
        flat = (
            "too flat: dry air reads too damp and damp air too dry, beside the offset"
            if found.slope < 1
            else "too steep"
        )
        said = f"{shown}: it is {flat}. The correction follows straight lines between the points."
    return said if n_points > 2 else f"{said} Two points cannot show a bend between them; a third salt would."


def result(_context: Context, typed: Typed, _picked: str) -> list[Any]:
    """Show the fixed points at the temperature, and what the readings say."""
    celsius = typed.amount("celsius")
    fixed = table(
        ["Saturated salt", "%RH", "± (k = 2)", "Source of the figure"],
        fixed_points(celsius),
        caption=f"Humidity over saturated salts at {celsius:g} °C: Greenspan (1977); uncertainties from memory of it",
        numeric=(1, 2),
    )
    try:
        proposal, points, checks = proposal_of(typed)
    except CannotReckonError as error:
        return [no_result(str(error), lead="No calibration yet."), html.H3("What is true over the salts"), fixed]
    slope = slope_of(points, checks)
    values = proposal.fields
    rows = [
        [
            point.salt, f"{point.temperature_celsius:g}", f"{point.rh_percent:.1f} ± {point.uncertainty_percent:.1f}",
            f"{check.as_found_percent:.1f}", signed(point.rh_percent - check.as_found_percent, 1),
        ]
        for point, check in zip(points, checks, strict=True)
    ]  # fmt: skip
    kind = "one offset" if "offset_percent" in values else "by point, lines between"
    figures = [
        KeyFigure("Add to its readings", _correction(values), kind),
        KeyFigure("Uncertainty", f"± {values['uncertainty_percent']:.1f} %RH", "k = 2: salt and repeated readings"),
    ]
    if slope is not None:
        figures.append(KeyFigure("Slope", f"{slope.slope:.3f}", f"± {slope.uncertainty:.3f} (k = 2); 1 is right"))
    return [
        key_figures(figures),
        html.P(proposal.text, className="prose"),
        html.P(slope_words(slope, len(points)), className="prose"),
        graph(salt_check_figure(points, checks), description=f"Correction against humidity. {proposal.text}"),
        table(
            ["Salt", "°C", "True %RH", "Shown %RH", "Add %RH"], rows, caption="The check", numeric=(1, 2, 3, 4)
        ),
        html.H3("What is true over the salts"),
        fixed,
    ]  # fmt: skip


def _correction(values: dict[str, Any]) -> str:
    if "offset_percent" in values:
        return signed(values["offset_percent"], 1, "%RH")
    shifts = [truly - shown for shown, truly in values["points"]]
    return f"{signed(min(shifts), 1)} to {signed(max(shifts), 1)} %RH"


def fixed_points(celsius: float) -> list[list[str]]:
    """Return the humidity over every tabulated salt at one temperature; where the table ends, says so."""
    rows = []
    for name in salts():
        try:
            point = salt_point(name, celsius)
        except ValueError as error:
            rows.append([name, MISSING, MISSING, str(error)])
        else:
            rows.append([name, number(point.rh_percent, 2), number(point.uncertainty_percent, 2), SEEN[point.status]])
    return rows


def below(context: Context) -> Any:
    """Offer to keep the calibration to whoever may."""
    if context.archive is None:
        return None
    if not context.writes:
        return no_result(NOT_KEPT_HERE, lead="You can look.")
    button = dmc.Button("Keep as a calibration of this logger", id=ids.WORKBENCH_KEEP, variant="default", size="sm")
    return html.Div([button, html.Div(id=ids.WORKBENCH_KEPT, role="status")], className="workbench-keep")


def sheets(_context: Context, typed: Typed) -> Sheets:
    """Return the check, and the fixed points at the temperature."""
    heads = ["salt", "°C", "true %RH", "± %RH (k = 2)", "source of the figure"]
    fixed: list[list[str | float | None]] = []
    for name in salts():
        try:
            point = salt_point(name, typed.amount("celsius"))
        except ValueError as error:
            fixed.append([name, typed.amount("celsius"), None, None, str(error)])
        else:
            rh, celsius = round(point.rh_percent, 3), point.temperature_celsius
            fixed.append([name, celsius, rh, point.uncertainty_percent, SEEN[point.status]])
    fixed_sheet = (heads, fixed)
    try:
        _, points, checks = proposal_of(typed)
    except CannotReckonError:
        return {"fixed points": fixed_sheet}
    rows: list[list[str | float | None]] = [
        [point.salt, point.temperature_celsius, round(point.rh_percent, 3), point.uncertainty_percent,
         check.as_found_percent, round(point.rh_percent - check.as_found_percent, 3)]
        for point, check in zip(points, checks, strict=True)
    ]  # fmt: skip
    check_heads = ["salt", "°C", "true %RH", "± %RH (k = 2)", "logger showed %RH", "add %RH"]
    return {"check": (check_heads, rows), "fixed points": fixed_sheet}


CAUTIONS = (
    "Let logger and solution stand together, closed and at one steady temperature, until the reading no longer moves: a day at the least; half a degree between them shifts sodium chloride by about 2 %RH.",  # noqa: E501
    "Keep undissolved salt in the water, and the sensor out of splash, crust and dust; salt on a sensor spoils it for good.",  # noqa: E501
    "Lithium chloride and some others harm when swallowed or on skin: gloves, labels, the data sheet and local rules. No salt solution comes near a painting or into its room.",  # noqa: E501
)
PART = Part(
    key="check",
    title="Check over salts",
    lede="Over a saturated salt the humidity is known. Enter what a logger showed there, and see what to add to it.",
    groups=groups,
    example=example,
    result=result,
    sheets=sheets,
    below=below,
)
