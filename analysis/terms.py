"""Climate terms: named sets of clauses, from a publication or agreed for a loan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from isohume.analysis.tables import table

Air = Literal["inside", "room"]
ClauseQuantity = Literal["rh_percent", "temperature_celsius"]
ClauseKind = Literal["range", "swing in 24 h", "distance from 24-h mean", "seasonal allowance", "dew-point margin"]
Status = Literal["verified", "memory", "agreed"]
UNITS: dict[ClauseQuantity, str] = {"rh_percent": "%RH", "temperature_celsius": "°C"}
_NAMES: dict[ClauseQuantity, str] = {"rh_percent": "relative humidity", "temperature_celsius": "temperature"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Clause:
    """One thing a climate must keep to.

    Attributes
    ----------
    air : which air it speaks of
    quantity : what is limited; for a dew-point margin it is the temperature [K above the dew point]
    kind : `range` limits the value (averaged over `averaging_hours`, 0 = as read) between `low` and `high`;
        `swing in 24 h` limits largest minus smallest reading in any closed 24 hours to `high`;
        `distance from 24-h mean` limits the distance to the centred 24-h mean to `high`;
        `seasonal allowance` limits the 30-day mean to the period's mean minus `low` and plus `high`;
        `dew-point margin` asks the coldest measured surface to stay `low` kelvin above the dew point
    notice : what the agreement asks when it is broken, in its own words
    """

    air: Air
    quantity: ClauseQuantity
    kind: ClauseKind
    low: float | None = None
    high: float | None = None
    averaging_hours: float = 0.0
    notice: str = ""

    def __post_init__(self) -> None:
        """Refuse a clause that limits nothing, or that nothing can meet."""
        if self.low is None and self.high is None:
            raise ValueError(f"The clause on {_NAMES[self.quantity]} sets no limit: give low, high or both.")
        if self.kind == "range" and self.low is not None and self.high is not None and self.low > self.high:
            raise ValueError(
                f"The clause allows {self.low:g} to {self.high:g}: its low limit lies above its high one."
            )
        if self.kind in {"swing in 24 h", "distance from 24-h mean"} and (self.high is None or self.high <= 0):
            raise ValueError(f"A clause on the {self.kind} needs a high limit above 0.")
        if self.kind == "dew-point margin" and self.low is None:
            raise ValueError("A clause on the dew-point margin needs a low limit in kelvin.")
        if self.averaging_hours not in {0, 1} and not (self.averaging_hours > 0 and self.averaging_hours % 2 == 0):
            raise ValueError(
                f"A clause cannot average over {self.averaging_hours:g} h: give 0 (as read), 1, or an even number of "
                "hours, so that the mean has a middle on the hour."
            )

    @property
    def unit(self) -> str:
        """Unit of its limits."""
        return "K" if self.kind == "dew-point margin" else UNITS[self.quantity]

    def in_words(self) -> str:
        """Return the clause as one sentence."""
        place = "inside the frame" if self.air == "inside" else "in the room"
        subject = f"{_NAMES[self.quantity]} {place}"
        if self.kind == "range":
            averaged = f", as a {self.averaging_hours:g}-hour mean," if self.averaging_hours else ""
            return f"The {subject}{averaged} stays {self._limits()}."
        if self.kind == "swing in 24 h":
            return f"The {subject} changes by no more than {self.high:g} {self.unit} within any 24 hours."
        if self.kind == "distance from 24-h mean":
            return f"The {subject} stays within ±{self.high:g} {self.unit} of its 24-hour mean."
        if self.kind == "seasonal allowance":
            below, above = self.low or 0.0, self.high or 0.0
            return (
                f"The 30-day mean of the {subject} stays within {below:g} {self.unit} below and {above:g} {self.unit} "
                "above the mean of the period."
            )
        return f"The coldest measured surface {place} stays {self.low:g} K or more above the dew point."

    def _limits(self) -> str:
        if self.low is None:
            return f"at or below {self.high:g} {self.unit}"
        if self.high is None:
            return f"at or above {self.low:g} {self.unit}"
        return f"between {self.low:g} and {self.high:g} {self.unit}"


@dataclass(frozen=True, slots=True, kw_only=True)
class ClimateTerms:
    """A named set of clauses, tied to where it was published or agreed."""

    name: str
    source: str
    clauses: tuple[Clause, ...]
    status: Status = "agreed"
    note: str = ""


def published_terms(*, air: Air = "room") -> tuple[ClimateTerms, ...]:
    """Return the published guidelines and types of control, all clauses about the given air.

    Guidelines speak of the room an object hangs in; a lender may agree that they hold for the air inside the frame.
    Light, shock and pollutants are not judged. Every guideline says that panels need limits of their own.
    """
    guidelines = [_guideline(row, air) for row in table("loan_guidelines")]
    controls = [_control(row, air) for row in table("control_types")]
    return (*guidelines, *controls)


def find_terms(name: str, *, air: Air = "room") -> ClimateTerms:
    """Return published terms by their name.

    Raises
    ------
    KeyError
        Nothing of that name is published here; the message lists what is.
    """
    known = {terms.name: terms for terms in published_terms(air=air)}
    if name not in known:
        raise KeyError(f"No climate terms named {name!r}. Known: {'; '.join(known)}.")
    return known[name]


def _guideline(row: dict[str, str], air: Air) -> ClimateTerms:
    averaging = 24.0 if row["limits_mean"] == "set point" else 0.0
    clauses = [
        Clause(
            air=air,
            quantity="rh_percent",
            kind="range",
            low=_number(row["rh_min_percent"]),
            high=_number(row["rh_max_percent"]),
            averaging_hours=averaging,
        )
    ]
    if row["seasonal_rh_min_percent"]:
        clauses.append(
            Clause(
                air=air,
                quantity="rh_percent",
                kind="range",
                low=_number(row["seasonal_rh_min_percent"]),
                high=_number(row["seasonal_rh_max_percent"]),
            )
        )
    clauses += _fluctuation(air, "rh_percent", row["rh_fluctuation_24h_pm_percent"])
    if row["t_min_c"] or row["t_max_c"]:
        low, high = _number(row["t_min_c"]), _number(row["t_max_c"])
        clauses.append(Clause(air=air, quantity="temperature_celsius", kind="range", low=low, high=high))
    clauses += _fluctuation(air, "temperature_celsius", row["t_fluctuation_24h_pm_c"])
    return ClimateTerms(
        name=f"{row['guideline']}, {row['year']}",
        source=f"{row['guideline']} ({row['year']})",
        clauses=tuple(clauses),
        status=_status(row),
        note=row["note"],
    )


def _control(row: dict[str, str], air: Air) -> ClimateTerms:
    clauses = [
        *_fluctuation(air, "rh_percent", row["rh_short_term_pm_percent"]),
        *_fluctuation(air, "temperature_celsius", row["t_short_term_pm_k"]),
    ]
    seasons: tuple[tuple[ClauseQuantity, str, str], ...] = (
        ("rh_percent", row["rh_seasonal_down_percent"], row["rh_seasonal_up_percent"]),
        ("temperature_celsius", row["t_seasonal_down_k"], row["t_seasonal_up_k"]),
    )
    for quantity, down, up in seasons:
        low, high = _number(down), _number(up)
        # "No seasonal change" (0) leaves the short-term limit in force for the 30-day mean too.
        short = row["rh_short_term_pm_percent" if quantity == "rh_percent" else "t_short_term_pm_k"]
        if low is not None and high is not None:
            allowance = float(short)
            clauses.append(
                Clause(
                    air=air,
                    quantity=quantity,
                    kind="seasonal allowance",
                    low=low or allowance,
                    high=high or allowance,
                )
            )
    outer: tuple[tuple[ClauseQuantity, str, str], ...] = (
        ("rh_percent", row["rh_outer_min_percent"], row["rh_outer_max_percent"]),
        ("temperature_celsius", row["t_outer_min_c"], row["t_outer_max_c"]),
    )
    for quantity, least, most in outer:
        if least or most:
            low, high = _number(least), _number(most)
            clauses.append(Clause(air=air, quantity=quantity, kind="range", low=low, high=high))
    return ClimateTerms(
        name=f"Type of control {row['type']}, ASHRAE {row['edition']}",
        source=f"ASHRAE Handbook, HVAC Applications, chapter on museums ({row['edition']})",
        clauses=tuple(clauses),
        status=_status(row),
        note=row["note"],
    )


def _fluctuation(air: Air, quantity: ClauseQuantity, limit: str) -> list[Clause]:
    if not limit:
        return []
    return [Clause(air=air, quantity=quantity, kind="distance from 24-h mean", high=float(limit))]


def _number(text: str) -> float | None:
    return float(text) if text else None


def _status(row: dict[str, str]) -> Status:
    return "verified" if row["status"] == "verified" else "memory"
