"""Signing a month: who signs, who signs beside, what was signed, and what reads otherwise since."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import html

from isohume.dashboard import ids
from isohume.dashboard.access.people import AT_THIS_MACHINE, Person
from isohume.dashboard.components.blocks import no_result, section, table
from isohume.dashboard.formats import count, moment
from isohume.dashboard.month_desk import Desk
from isohume.dashboard.papers.review import Review
from isohume.dashboard.papers.review_differences import Difference
from isohume.dashboard.papers.review_month import month_in_words
from isohume.dashboard.papers.review_paper import decision_in_words
from isohume.dashboard.papers.review_rows import LONGEST_NAME, Written

MOST_DIFFERENCES = 100


def signed_name(who: Person) -> str:
    """Return the name a signed-in person signs with."""
    return f"{who.full_name} ({who.name})" if who.full_name else who.name


def sign_off(desk: Desk, who: Person) -> html.Section:
    """Show what is signed, and let the next one sign."""
    writes = who.may("contributor")
    parts: list[Any] = [_signed(row, desk) for row in desk.signed]
    wanting = [row for row in desk.signed if _wants_second(row, desk)]
    if wanting and writes:
        parts.append(_second_form(wanting[0], who))
    elif wanting:
        parts.append(
            no_result("A contributor other than the first gives it.", lead="The second signature is missing.")
        )
    present = desk.present
    if not desk.signed and present is not None:
        parts.append(
            _form(desk, present, who) if writes else no_result("It needs the role contributor.", lead="Not signed.")
        )
    if desk.signed and desk.differences and present is not None and writes:
        parts.append(_form(desk, present, who))
    parts.append(html.P(id=ids.MONTH_TOLD, role="alert", className="month-told"))
    lede = "A signed review stays as it is. What comes to light later becomes an addendum with its own signature."
    return section("sign-off", "Sign-off", *parts, lede=lede)


def _wants_second(row: Written, desk: Desk) -> bool:
    return desk.shown is not None and desk.shown.second_signature and not row.second_signed_by


def _signed(row: Written, desk: Desk) -> html.Div:
    zone = desk.shown.time_zone if desk.shown is not None else "UTC"
    changed = next((one.differences for one in desk.amendments if one.number == row.number), ())
    name = "Review" if row.number == 1 else f"Addendum {row.number - 1}"
    lines: list[Any] = [html.P([html.Strong("Signed by "), row.signed_by, f", {moment(row.signed_on, zone)}."])]
    if row.second_signed_by:
        when = moment(row.second_signed_on, zone)
        lines.append(html.P([html.Strong("Second signature: "), row.second_signed_by, f", {when}."]))
    if row.text:
        lines.append(html.P(row.text, className="month-remarks"))
    if row.number > 1 and row.decisions:
        lines.append(html.Ul([html.Li(f"{name_}: {decision_in_words(one)}") for name_, one in row.decisions.items()]))
    if changed:
        lines.append(difference_table(changed, "What this addendum reads otherwise", then="Signed before", now="Here"))
    if len(desk.signed) > 1:
        shown = desk.shown is not None and desk.shown.number == row.number
        address = f"/month/{desk.month}" + (f"?number={row.number}" if row.number > 1 else "")
        lines.append(html.P("Its figures are on this page." if shown else html.A("Show its figures", href=address)))
    return html.Div([html.H3(name), *lines], className="month-signed")


def difference_table(found: Sequence[Difference], caption: str, *, then: str, now: str) -> Any:
    """Set figures that read otherwise, frame by frame."""
    rows = [[one.frame_id, one.what, one.then, one.now] for one in found[:MOST_DIFFERENCES]]
    more = len(found) - len(rows)
    told = f"{caption}.{f' {count(more)} more stand in the paper.' if more else ''}"
    return table(("Frame", "Figure", then, now), rows, caption=told)


def _form(desk: Desk, present: Review, who: Person) -> html.Div:
    is_addendum = bool(desk.signed)
    number = desk.signed[-1].number + 1 if desk.signed else 1
    draft = next((row for row in desk.rows if row.number == number), None)
    name = f"Addendum {number - 1}" if is_addendum else "Sign the review"
    told: list[Any] = []
    if is_addendum:
        n = len({one.frame_id for one in desk.differences})
        told.append(html.P(f"It keeps the present figures, which differ for {_frames(n)}, beside what was signed."))
    elif not present.is_complete:
        told.append(
            html.P(
                [
                    html.Strong(f"{month_in_words(desk.month)} is not over. "),
                    "A review signed now is marked incomplete, and holds for what was read so far.",
                ]
            )
        )
    if present.second_signature:
        told.append(html.P("This collection asks for a second signature, by somebody else, afterwards."))
    return html.Div(
        [
            html.H3(name),
            *told,
            dmc.Textarea(
                id=ids.MONTH_TEXT,
                label="Remarks on the whole",
                description="As typed, they stand on this page and in the paper.",
                value=draft.text if draft else "",
                autosize=True,
                minRows=2,
            ),
            _name_field(ids.MONTH_NAME, who),
            dmc.Button("Sign the addendum" if is_addendum else "Sign this review", id=ids.MONTH_SIGN),
        ],
        className="month-form",
    )


def _second_form(row: Written, who: Person) -> html.Div:
    what = "review" if row.number == 1 else f"addendum {row.number - 1}"
    return html.Div(
        [
            html.H3("Second signature"),
            html.P(f"Of the {what}, by somebody else than {row.signed_by}. The figures stay as they were signed."),
            _name_field(ids.MONTH_SECOND_NAME, who),
            dmc.Button("Sign as second", id=ids.MONTH_SIGN_SECOND),
        ],
        className="month-form",
    )


def _name_field(field_id: str, who: Person) -> Any:
    if who == AT_THIS_MACHINE:
        return dmc.TextInput(
            id=field_id,
            label="Your name",
            description="It is kept with the signature.",
            inputProps={"maxLength": LONGEST_NAME},
            value="",
        )
    return dmc.TextInput(
        id=field_id, label="Your name", description="Signed in; not yours? Sign out first.", value=signed_name(who),
        readOnly=True,
    )  # fmt: skip


def _frames(n: int) -> str:
    return "one frame" if n == 1 else f"{count(n)} frames"


def status(desk: Desk) -> list[Any]:
    """Say under the heading how far the review is, and whether the present record reads otherwise."""
    shown = desk.shown
    if not desk.signed:
        if shown is None or shown.is_complete:
            return [
                html.P("Not signed: figures of the present record, as of the month’s end.", className="month-state")
            ]
        return [
            html.P(
                [html.Strong("Running month. "), f"Figures as of {moment(shown.as_of, shown.time_zone)}."],
                className="month-state",
            )
        ]
    first, zone = desk.signed[0], shown.time_zone if shown else "UTC"
    told: list[Any] = [html.Strong("Signed"), f" by {first.signed_by} on {moment(first.signed_on, zone)}. "]
    if any(_wants_second(row, desk) for row in desk.signed):
        told.append(html.Strong("The second signature is missing. "))
    if desk.figures_lost:
        told.append(
            "It was signed by an older version that kept fewer figures: those below are of the present record."
        )
    elif shown is not None:
        which = f" of addendum {shown.number - 1}" if shown.number > 1 else ""
        told.append(f"The figures below are those kept with the signature{which}.")
        if not shown.is_complete:
            told.append(f" Marked incomplete: the month was not over; as of {moment(shown.as_of, zone)}.")
    parts: list[Any] = [html.P(told, className="month-state signed")]
    if desk.differences:
        parts.append(_differs(desk))
    elif desk.present is not None and not desk.figures_lost:
        parts.append(html.P("The present record gives the same figures.", className="row-note"))
    return parts


def _differs(desk: Desk) -> html.Div:
    last = desk.signed[-1]
    against = "the review" if last.number == 1 else f"addendum {last.number - 1}"
    n = len({one.frame_id for one in desk.differences})
    subject = f"{count(n)} frames read" if n > 1 else "One frame reads"
    versions = {one.made_by for one in (desk.shown, desk.present) if one is not None}
    also = " Another version of isohume computed them then." if len(versions) > 1 else ""
    return html.Div(
        [
            html.H2("The record has changed since"),
            html.P(
                f"{subject} otherwise than in {against}: a later file, an undone import or an "
                f"edited record.{also} What was signed stays; an addendum can be signed below."
            ),
            difference_table(desk.differences, "Figures that read otherwise", then="As signed", now="Present record"),
        ],
        className="month-differs",
    )
