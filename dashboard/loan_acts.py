"""What people do on the Loans and Loan pages: records kept in their name, evidence issued, venue records removed."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from typing import Any, get_args

from isohume.analysis.terms import Air
from isohume.dashboard.access.gate import person
from isohume.dashboard.background import Progress
from isohume.dashboard.components.loan_papers_part import issue_key
from isohume.dashboard.components.loan_record_part import LEG_FORM, LOAN_FORM, NEW_LEG_FORM, VENUE_FORM
from isohume.dashboard.components.loan_terms_part import KEPT, NEW_TERMS_FORM, PUBLISHED, TERMS_FORM, free_id
from isohume.dashboard.components.record_form import said
from isohume.dashboard.current import background
from isohume.dashboard.loan_packs import issue
from isohume.dashboard.loan_record import AskedError, LoanView, loan_of, loans_of, published_copy
from isohume.dashboard.loan_venues import VenueRecords
from isohume.dashboard.views import Site
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import RegisterError

NEW_LOAN_FORM = "loans-new"
PLACE = "Loan page"
Typed = tuple[Sequence[Any], Sequence[Any]]
# What a press of a button could still find changed by somebody else.
REFUSALS = (AskedError, RegisterError, LookupError, ValueError)


def keep_new_loan(archive: Archive, typed: Sequence[Any], names: Sequence[Any]) -> str:
    """Keep a new loan; returns its id.

    Raises
    ------
    AskedError
        Its id is missing or taken.
    RegisterError, ValueError
        Something of it is not what its field holds.
    """
    values = said("loans", typed, names)
    if not values.get("id"):
        raise AskedError("Write a short name for the loan: it stands in its address and cannot be changed later.")
    if not any(sign.isalnum() for sign in values["id"]) or set(values["id"]) & set("/\\"):
        raise AskedError("The short name stands in an address: write letters or digits, and no slash.")
    if any(one.loan_id == values["id"] for one in loans_of(archive)):
        raise AskedError(f"There is a loan {values['id']} already. Choose another short name.")
    archive.put("loans", values, place="Loans page")
    return str(values["id"])


def keep_form(archive: Archive, loan: LoanView, form: str, typed: Typed, *, leg: str = "") -> None:
    """Keep what one form of the Loan page says.

    Parameters
    ----------
    archive : Archive
        In the name of whoever keeps.
    loan : LoanView
    form : str
        One of `FORMS`.
    typed : pair of sequences
        What the controls hold, and their ids.
    leg : str
        Start of the leg that is changed.

    Raises
    ------
    AskedError, RegisterError, ValueError
        Nothing was kept; the message says what to write.
    """
    if form == LEG_FORM:
        _change_leg(archive, loan, typed, leg)
    else:
        FORMS[form](archive, loan, typed)


def _change_loan(archive: Archive, loan: LoanView, typed: Typed) -> None:
    archive.put("loans", {**said("loans", *typed, before=loan.facts), "id": loan.loan_id}, place=PLACE)


def _add_venue(archive: Archive, _loan: LoanView, typed: Typed) -> None:
    values = said("venues", *typed)
    if not values.get("id"):
        raise AskedError("Write a short name for the venue.")
    if any(row["id"] == values["id"] for row in archive.records("venues")):
        raise AskedError(f"There is a venue {values['id']} already: choose it on the leg.")
    archive.put("venues", values, place=PLACE)


def _add_leg(archive: Archive, loan: LoanView, typed: Typed) -> None:
    values = said("legs", *typed)
    if values.get("from") is None:
        raise AskedError("Write when the leg starts.")
    if any(leg.start == values["from"] for leg in loan.legs):
        raise AskedError("A leg of this loan starts then already. Change that one, or write another start.")
    archive.put("legs", {**values, "loan": loan.loan_id}, place=PLACE)


def _change_leg(archive: Archive, loan: LoanView, typed: Typed, start: str) -> None:
    before = next((leg.facts for leg in loan.legs if leg.facts["from"] == start), None)
    if before is None:
        raise AskedError("This leg was removed meanwhile. Reload the page.")
    values = said("legs", *typed, before=before)
    archive.put("legs", {**values, "loan": loan.loan_id, "from": start}, place=PLACE)


def _change_terms(archive: Archive, loan: LoanView, typed: Typed) -> None:
    if loan.terms is None:
        raise AskedError("This loan has no terms any more. Reload the page.")
    values = said("terms", *typed, before=loan.terms)
    archive.put("terms", {**values, "id": loan.terms["id"]}, place=PLACE)


def _add_terms(archive: Archive, loan: LoanView, typed: Typed) -> None:
    values = said("terms", *typed)
    if not values.get("id"):
        raise AskedError("Write a short name for the terms.")
    if not values.get("clauses"):
        raise AskedError("Write at least one clause: which air, which quantity, what is limited, and a limit.")
    _agree(archive, loan, values)


FORMS: dict[str, Callable[[Archive, LoanView, Typed], None]] = {
    LOAN_FORM: _change_loan, VENUE_FORM: _add_venue, NEW_LEG_FORM: _add_leg, TERMS_FORM: _change_terms,
    NEW_TERMS_FORM: _add_terms,
}  # fmt: skip


def _agree(archive: Archive, loan: LoanView, values: Mapping[str, Any]) -> None:
    """Keep new terms and agree them for the loan; never in the place of others."""
    if any(row["id"] == values["id"] for row in archive.records("terms")):
        raise AskedError(f"There are terms {values['id']} already. Choose another short name, or take those.")
    archive.put("terms", values, place=PLACE)
    archive.put("loans", {"id": loan.loan_id, "terms": values["id"]}, place=PLACE)


def act(
    archive: Archive, loan: LoanView, what: str, about: str, *, site: Site, answers: Mapping[str, str | None]
) -> None:
    """Do what a button says, in the name of whoever pressed it.

    Parameters
    ----------
    archive : Archive
        In that person's name.
    loan : LoanView
    what : str
        `remove-leg`, `take-terms`, `issue`, `venue-again`, `venue-remove`.
    about : str
        The start of the leg, the question of the preview, the id of the venue's record.
    site : Site
    answers : mapping
        What the controls around the button hold.

    Raises
    ------
    AskedError, RegisterError, LookupError, ValueError
        It was not done; the message says why.
    """
    if what == "remove-leg":
        archive.remove("legs", {"loan": loan.loan_id, "from": about})
    elif what == "take-terms":
        _take_terms(archive, loan, answers)
    elif what == "issue":
        _issue(archive, loan, site, about)
    elif what in ("venue-again", "venue-remove"):
        records = VenueRecords(archive)
        if records.one(about)["said"].get("loan") != loan.loan_id:
            raise AskedError("This record belongs to another loan.")
        if what == "venue-remove":
            records.remove(about)
            return
        given = {name.removeprefix("answer:"): value for name, value in answers.items() if name.startswith("answer:")}
        records.say(about, {"answers": {k: v for k, v in given.items() if v},
                            "time_zone": (answers.get("time_zone") or "").strip()})  # fmt: skip
    else:
        raise AskedError("The page has no such button. Reload it.")


def _take_terms(archive: Archive, loan: LoanView, answers: Mapping[str, str | None]) -> None:
    kind, _, name = (answers.get("terms") or "").partition(":")
    if kind == KEPT:
        archive.put("loans", {"id": loan.loan_id, "terms": name}, place=PLACE)
    elif kind == PUBLISHED:
        air = next((one for one in get_args(Air) if one == answers.get("air")), None)
        if air is None:
            raise AskedError("Choose which air the published terms speak of.")
        _agree(archive, loan, published_copy(name, air, terms_id=free_id(archive, loan)))
    else:
        raise AskedError("Choose the terms first.")


def _issue(archive: Archive, loan: LoanView, site: Site, about: str) -> None:
    try:
        asked = json.loads(about)
    except ValueError:
        asked = None
    if not isinstance(asked, dict) or not all(isinstance(value, str) for value in asked.values()):
        raise AskedError("Look at the preview again; what to issue did not arrive.")

    def work(progress: Progress) -> dict[str, str]:
        return issue(archive, loan_of(archive, loan.loan_id), asked, site, progress)

    key = issue_key(loan.loan_id, str(asked.get("document", "")))
    background().start(key, f"Evidence pack of {asked.get('frame', 'no frame')}", work, by=person().name)
