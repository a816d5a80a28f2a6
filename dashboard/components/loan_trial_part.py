"""The venue trial of a loan: which climate, which frame, and what that climate would do to it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import html

from isohume.analysis.forecast.room import NAMED_CLIMATES
from isohume.dashboard import theme
from isohume.dashboard.access.gate import person
from isohume.dashboard.background import Progress
from isohume.dashboard.components.blocks import KeyFigure, graph, key_figures, no_result, section
from isohume.dashboard.components.frame_exports import export_links
from isohume.dashboard.components.loan_asked import asked_form, choice, text_field, work_of
from isohume.dashboard.components.loan_results_part import clause_list
from isohume.dashboard.components.loan_venue_record import venue_records
from isohume.dashboard.figures.forecast import forecast_figure
from isohume.dashboard.formats import date, share
from isohume.dashboard.loan_record import LoanView
from isohume.dashboard.loan_routes import LOAN_TABLES
from isohume.dashboard.loan_trial import (
    CLIMATE,
    LENGTHS,
    RECORD,
    ROOM,
    VenueTrial,
    rooms_with_loggers,
    trial_of,
    usual_days,
)
from isohume.dashboard.loan_venues import VenueRecords
from isohume.dashboard.views import Site
from isohume.ingest.archive.archive import Archive

PART = "trial"
ASKED = ("frame", "where", "place", "days", "since")
LEDE = (
    "What a venue’s climate would do to a frame of this loan, if it went there as it is now. Reckoned with the "
    "frame’s own half-time; it is no evidence and never goes into a pack."
)
NOT_EVIDENCE = (
    "Loggers of the two places were never compared, another year may differ from the recorded one, and what hands "
    "will do is not foreseen."
)


def part(archive: Archive, loan: LoanView, asked: Mapping[str, str], site: Site) -> html.Section:
    """Build the part under its heading."""
    records = VenueRecords(archive).of_loan(loan.loan_id)
    shown: list[Any] = []
    if not loan.frames:
        shown.append(no_result("No frame is on this loan yet. Choose them under Record.", lead="Nothing to try."))
    else:
        shown += [_form(archive, loan, asked, records), *_result(archive, loan, asked, records, site)]
    writes = person().may("contributor")
    shown.append(venue_records(loan, records, site, writes=writes))
    return section("trial", "Venue trial", *shown, lede=LEDE)


def _form(archive: Archive, loan: LoanView, asked: Mapping[str, str], records: list[dict[str, Any]]) -> html.Div:
    settled = [job for job in records if job["state"] == "settled"]
    groups = [
        ("Uploaded for this loan", [(f"{RECORD}:{job['id']}", job["name"]) for job in settled]),
        ("Rooms of this archive", [(f"{ROOM}:{one}", name) for one, name in rooms_with_loggers(archive).items()]),
        ("Named climates", [(f"{CLIMATE}:{one.name}", one.name) for one in NAMED_CLIMATES]),
    ]
    data: list[Any] = [
        {"group": name, "items": [{"value": value, "label": label} for value, label in items]}
        for name, items in groups
        if items
    ]
    known = {one["value"] for group in data for one in group["items"]}
    frames = [{"value": one, "label": f"{one} · {painting}" if painting else one}
              for one, painting in loan.frames.items()]  # fmt: skip
    where, lengths = asked.get("where", ""), [str(length) for length in LENGTHS]
    fields = [
        choice(PART, "frame", "Frame", frames, asked.get("frame") or next(iter(loan.frames)), allowDeselect=False),
        choice(PART, "where", "Climate", data, where if where in known else None, searchable=True,
               placeholder="an uploaded record, a room, a named climate"),
        choice(PART, "days", "Length of the stay", [{"value": str(n), "label": f"{n} days"} for n in LENGTHS],
               asked["days"] if asked.get("days", "") in lengths else str(usual_days(loan)),
               allowDeselect=False),
        text_field(PART, "since", "Taken from the record since", asked.get("since", ""),
                   placeholder="the season of the stay"),
    ]  # fmt: skip
    places: list[Any] = next(
        (job["found"].get("places", []) for job in settled if where == f"{RECORD}:{job['id']}"), []
    )
    if len(places) > 1:
        offered = [{"value": key, "label": label} for key, label in places]
        fields.insert(2, choice(PART, "place", "Series of the record", offered, asked.get("place") or None))
    return asked_form(PART, fields, submit="Try it")


def _result(
    archive: Archive, loan: LoanView, asked: Mapping[str, str], records: list[dict[str, Any]], site: Site
) -> list[Any]:
    query = {name: asked[name] for name in ASKED if asked.get(name)}
    if "where" not in query:
        text = "Choose a climate above: a record the venue sent, a room of this archive, or a named climate."
        return [no_result(text, lead="Nothing tried yet.")]
    query.setdefault("frame", next(iter(loan.frames)))

    def work(progress: Progress) -> VenueTrial:
        return trial_of(archive, loan, query, site, progress)

    # A record that was read anew answers anew.
    stamp = next((str(job["changed"]) for job in records if query["where"] == f"{RECORD}:{job['id']}"), "")
    title = f"Venue trial of {query['frame']}"
    found, shown = work_of(archive, "trial", loan, query, title=title, work=work, stamp=stamp)
    if found is None:
        return [shown]
    ahead, zone = found.ahead, site.time_zone
    start = ahead.series.index[0]
    since = f", as recorded from {date(found.since, zone)} on" if found.since is not None else ""
    figure = forecast_figure(
        ahead.series,
        band=ahead.frame.band,
        zone=zone,
        dates={"earliest plausible": ahead.earliest_plausible, "leaves by": ahead.leave_by},
    )
    for clause in found.clauses:
        for limit in (clause.low, clause.high):
            if limit is not None:
                figure.add_hline(limit, line={"color": theme.INK, "width": 1.2, "dash": "6px,4px"})
    figure.update_traces(line_color=theme.FORECAST_COLOUR, selector={"name": "Median course"})

    def after(moment: Any) -> str:
        return "not within the stay" if moment is None else f"day {(moment - start).days}"

    figures = [
        KeyFigure("Leaves its band by", after(ahead.leave_by), "half of the courses have left by then"),
        KeyFigure("Earliest plausible", after(ahead.earliest_plausible), "one course in ten"),
        KeyFigure("Chance outside its band", share(ahead.chance_outside_at_end), f"by day {found.days}"),
        KeyFigure("Median inside, lowest to highest",
                  f"{ahead.series['median'].min():.1f}–{ahead.series['median'].max():.1f} %RH",
                  f"over {found.days} days"),
    ]  # fmt: skip
    if ahead.frame.band is None:
        figures = figures[3:]
    says = [*found.sentences]
    if ahead.frame.band is None:
        says.insert(0, "No band is agreed for this frame, so there is no date by which it leaves one.")
    links = export_links(f"{LOAN_TABLES}/trial", "Course of the trial", loan=loan.loan_id, **query)
    described = (
        f"Reckoned course inside frame {ahead.frame.frame_id} over {found.days} days in {found.where}: "
        "median and the range of eight courses in ten."
    )
    return [
        html.Div(
            [
                html.P("Reckoned, not evidence", className="not-evidence"),
                html.P(
                    f"{ahead.frame.frame_id} in {found.where}{since}, for {found.days} days, if it went there on "
                    f"{date(start, zone)}, when its newest reading was taken."
                ),
                key_figures(figures),
                graph(figure, description=described),
                html.P("Green: agreed band. Dashed black: limits of the terms for the air inside.", className="note"),
                html.Ul([html.Li(text) for text in says], className="notes") if says else None,
                *_room(found, site),
                html.P(NOT_EVIDENCE, className="remark"),
                links,
            ],
            className="trial-result",
        )
    ]


def _room(found: VenueTrial, site: Site) -> list[Any]:
    """Show what the venue's own record says of the clauses about the room."""
    if not found.room:
        return []
    text = "The venue’s record against the clauses about the room. It is the venue’s word, not ours."
    return [html.H4("The venue’s air"), html.P(text, className="remark"), clause_list(found.room, site)]
