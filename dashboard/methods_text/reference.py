"""Tables of rules, flags and published figures, made from what the analysis itself uses."""

from __future__ import annotations

import numpy as np
import pandas as pd

from isohume.analysis.data_quality import rules_in_words as data_rules
from isohume.analysis.frame import Limits
from isohume.analysis.plate import plate_step_response, plate_time_constant
from isohume.analysis.standing import rules_in_words as standing_rules
from isohume.analysis.terms import published_terms
from isohume.dashboard.exports import Cell
from isohume.dashboard.methods_text.published import Column, PublishedTable, provenance, rows_of
from isohume.ingest.flags import FLAG_TABLE

THICKNESSES_MM = (5.0, 10.0, 20.0, 30.0, 40.0)
SHOWN_AFTER_DAYS = 7.0
CONCERNS = {"rh": "humidity", "temperature": "temperature", "row": "the whole reading"}
STATUS_WORDS = {"memory": "from memory", "agreed": "agreed", "verified": "verified", "computed": "computed"}


def reference_tables() -> tuple[PublishedTable, ...]:
    """Return every table of rules and published figures."""
    return (
        _flags(),
        _standing(),
        _record(),
        _terms(),
        _published(
            "salts",
            "salt_fixed_points",
            "Humidity over saturated salt solutions",
            {
                "salt": Column(heading="Salt"),
                "formula": Column(heading="Formula"),
                "temperature_celsius": Column(heading="Temperature [°C]", digits=0),
                "rh_percent": Column(heading="Humidity [%RH]", digits=2),
                "uncertainty_percent": Column(heading="Expanded uncertainty, from memory [%RH]", digits=2),
                "status": Column(heading="Status of the humidity"),
            },
        ),
        _published(
            "species",
            "wood_movement",
            "Movement of wood across the grain, per 1 % moisture content",
            {
                "species": Column(heading="Species"),
                "tangential_per_percent_mc": Column(heading="Flat-sawn (tangential)", digits=5),
                "radial_per_percent_mc": Column(heading="Quarter-sawn (radial)", digits=5),
                "movement_status": Column(heading="Status"),
                "shrinkage_tangential_percent": Column(heading="Shrinkage, tangential [%]", digits=1),
                "shrinkage_radial_percent": Column(heading="radial [%]", digits=1),
                "shrinkage_status": Column(heading="Status of the shrinkage"),
                "source": Column(heading="Source"),
            },
        ),
        _published(
            "sheets",
            "sheet_movement",
            "Movement in the plane of other supports, strain per %RH",
            {
                "support": Column(heading="Support"),
                "strain_percent_per_percent_rh_low": Column(heading="from [% per %RH]", digits=4),
                "strain_percent_per_percent_rh_high": Column(heading="to [% per %RH]", digits=4),
                "source": Column(heading="Source"),
                "status": Column(heading="Status"),
            },
        ),
        _published(
            "buffers",
            "buffer_materials",
            "What buffering materials take up, 40–60 %RH",
            {
                "material": Column(heading="Material"),
                "capacity_g_per_kg_per_percent": Column(heading="Capacity [g per kg and %RH]", digits=2),
                "source": Column(heading="Source"),
                "status": Column(heading="Status"),
            },
        ),
        _published(
            "sheets_resistance",
            "vapour_resistance",
            "Vapour resistance of glazing and backing",
            {
                "material": Column(heading="Material"),
                "mu": Column(heading="μ", digits=0),
                "s_d_m": Column(heading="Equivalent still air of the sheet as sold [m]", digits=1),
                "source": Column(heading="Source"),
                "status": Column(heading="Status"),
            },
        ),
        _plate(),
    )


def _flags() -> PublishedTable:
    return PublishedTable(
        name="flags",
        caption="Flags, in the order of their bits",
        columns=tuple(
            Column(heading=heading) for heading in ("Flag", "Meaning", "Concerns", "Kept out of analysis", "Source")
        ),
        rows=tuple(
            (facts.name, facts.meaning, CONCERNS[facts.concerns], "yes" if facts.excludes else "no", facts.source)
            for facts in FLAG_TABLE.values()
        ),
    )


def _standing() -> PublishedTable:
    rows: list[tuple[Cell, ...]] = [(name, rule, when) for _, name, rule, when in standing_rules(Limits())]
    return PublishedTable(
        name="standing_rules",
        caption="Read from the top; the first match names the standing",
        columns=(Column(heading="Standing"), Column(heading="Rule"), Column(heading="Fires when")),
        rows=tuple(rows),
    )


def _record() -> PublishedTable:
    rows: list[tuple[Cell, ...]] = list(data_rules(Limits()))
    return PublishedTable(
        name="record_rules",
        caption="A record on which no rule fires is sound",
        columns=(Column(heading="Record"), Column(heading="Rule"), Column(heading="Fires when")),
        rows=tuple(rows),
    )


def _terms() -> PublishedTable:
    return PublishedTable(
        name="terms",
        caption="Published sets of terms, as clauses about the room",
        columns=tuple(Column(heading=heading) for heading in ("Set", "Clauses", "Remarks", "Publication", "Status")),
        rows=tuple(
            (
                terms.name,
                " ".join(clause.in_words() for clause in terms.clauses),
                terms.note,
                terms.source,
                STATUS_WORDS[terms.status],
            )
            for terms in published_terms()
        ),
    )


def _published(name: str, file: str, caption: str, shown: dict[str, Column]) -> PublishedTable:
    return PublishedTable(
        name=name,
        caption=caption,
        columns=tuple(shown.values()),
        rows=tuple(
            tuple(STATUS_WORDS[str(row[key])] if key.endswith("status") else row[key] for key in shown)
            for row in rows_of(file)
        ),
        made_by=provenance(file),
    )


def _plate() -> PublishedTable:
    """Work out the times through panels of several thicknesses."""
    rows: list[tuple[Cell, ...]] = []
    for thickness in THICKNESSES_MM:
        one, both = (plate_time_constant(thickness, faces_open=faces) / pd.Timedelta(days=1) for faces in (1, 2))
        after = plate_step_response(np.array([SHOWN_AFTER_DAYS]), thickness_mm=thickness)
        rows.append((thickness, one, both, 100 * float(after[0])))
    return PublishedTable(
        name="plate",
        caption="Time through the thickness of a panel",
        columns=(
            Column(heading="Thickness [mm]", digits=0),
            Column(heading="Time constant, one face sealed [days]", digits=1),
            Column(heading="both faces open [days]", digits=1),
            Column(heading=f"Come through after {SHOWN_AFTER_DAYS:g} days, one face sealed [%]", digits=0),
        ),
        rows=tuple(rows),
        made_by="Worked out from Crank’s series at the request of this page.",
    )
