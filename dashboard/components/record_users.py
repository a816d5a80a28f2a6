"""The people who may sign in, on the Register page: registered, given a role, another password, or shut out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, State, html, set_props
from dash.exceptions import PreventUpdate

from isohume.dashboard import ids
from isohume.dashboard.access.gate import needs, person
from isohume.dashboard.access.people import LONGEST_PASSWORD, ROLES, SHORTEST_PASSWORD, add_person, hashed
from isohume.dashboard.components.record_form import control, failed, kept
from isohume.dashboard.components.record_links import address
from isohume.dashboard.current import current_archive
from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import ArchiveError

NEW_USER, PASSWORD = "register-user", "register-password"
ROLES_IN_WORDS = {
    "viewer": "viewer: reads everything but users",
    "contributor": "contributor: imports, edits, signs",
    "administrator": "administrator: also users and settings",
}


def user_form() -> html.Div:
    """Draw the form for somebody new."""
    role = dmc.Select(
        id={"type": "field", "form": NEW_USER, "name": "role"}, label="Role", value="viewer", allowDeselect=False,
        data=[{"value": role, "label": ROLES_IN_WORDS[role]} for role in ROLES], className="record-field",
    )  # fmt: skip
    fields = [
        control(NEW_USER, "users", "name", None),
        control(NEW_USER, "users", "full_name", None),
        role,
        control(NEW_USER, "users", "email", None),
        *_passwords(NEW_USER),
    ]
    return _form(NEW_USER, fields, "Register this user")


def password_form(name: str) -> html.Div:
    """Draw the form for another password."""
    hidden = dmc.TextInput(
        id={"type": "field", "form": PASSWORD, "name": "name"}, value=name, label="User", readOnly=True,
        className="record-field",
    )  # fmt: skip
    return _form(PASSWORD, [hidden, *_passwords(PASSWORD)], "Set the new password")


def _passwords(form: str) -> list[Any]:
    told = f"{SHORTEST_PASSWORD} to {LONGEST_PASSWORD} characters; a sentence is easiest to remember."
    return [
        dmc.PasswordInput(
            id={"type": "field", "form": form, "name": name}, label=label, description=text,
            autoComplete="new-password",
            className="record-field",
        )
        for name, label, text in (("password", "Password", told), ("again", "The same again", None))
    ]  # fmt: skip


def _form(form: str, fields: list[Any], submit: str) -> html.Div:
    told = html.Div(id={"type": "form-told", "form": form}, role="status", className="form-told")
    button = dmc.Button(submit, id={"type": "form-keep", "form": form}, size="sm")
    return html.Div(
        [html.Div(fields, className="record-fields"), html.Div([button, told], className="form-foot")],
        className="record-form",
    )


def register(app: Dash) -> None:
    """Connect the two forms."""
    for form, work in ((NEW_USER, add_user), (PASSWORD, set_password)):
        _connect(app, form, work)


def _connect(app: Dash, form: str, work: Any) -> None:
    @app.callback(
        Output({"type": "form-told", "form": form}, "children"),
        Input({"type": "form-keep", "form": form}, "n_clicks"),
        State({"type": "field", "form": form, "name": ALL}, "value"),
        State({"type": "field", "form": form, "name": ALL}, "id"),
        prevent_initial_call=True,
    )
    @needs("administrator")
    def keep(clicks: int | None, values: list[Any], names: list[dict[str, str]]) -> Any:
        archive = current_archive()
        if archive is None or not clicks:
            raise PreventUpdate
        typed = {name["name"]: str(value or "") for name, value in zip(names, values, strict=True)}
        try:
            return work(archive.acting_as(person().name), typed)
        except (ValueError, ArchiveError) as error:
            return failed(error)


def add_user(archive: Archive, typed: Mapping[str, str]) -> Any:
    """Register somebody new.

    Raises
    ------
    ValueError
        The name is taken or no name, or the passwords will not do.
    """
    name = typed["name"].strip()
    if archive.record("users", {"name": name}) is not None:
        raise ValueError(f"“{name}” is registered already. Open that user to change the role or the password.")
    role = next((role for role in ROLES if role == typed["role"]), None)
    if role is None:
        raise ValueError(f"Role: found “{typed['role']}”. Choose one of {', '.join(ROLES)}.")
    add_person(archive, name, _password(typed), role=role, full_name=typed["full_name"].strip())
    if typed["email"].strip():
        archive.put("users", {"name": name, "email": typed["email"].strip()})
    set_props(ids.URL, {"pathname": address("users", {"name": name})})
    return kept(f"{name} may sign in as {role}.")


def set_password(archive: Archive, typed: Mapping[str, str]) -> Any:
    """Give somebody another password; whoever is signed in with the old one has to sign in anew.

    Raises
    ------
    ValueError
        Nobody has that name, or the passwords will not do.
    """
    if archive.record("users", {"name": typed["name"]}) is None:
        raise ValueError(f"Nobody is registered as “{typed['name']}”.")
    archive.put("users", {"name": typed["name"], "password_hash": hashed(_password(typed))})
    return kept("The new password holds from now on; sessions with the old one have ended.")


def refuse_last_administrator(archive: Archive, put: Mapping[str, Any]) -> None:
    """Refuse a change after which nobody could administrate any more.

    Raises
    ------
    ValueError
        It would be so.
    """
    others = [
        user
        for user in archive.records("users")
        if user["active"] and user["role"] == "administrator" and user["name"] != put.get("name")
    ]
    before = archive.record("users", {"name": put.get("name", "")})
    was = before is not None and before["active"] and before["role"] == "administrator"
    stays = {**(before or {}), **put}
    if was and not others and not (stays["active"] and stays["role"] == "administrator"):
        raise ValueError("This is the only administrator who may sign in. Make somebody else administrator first.")


def _password(typed: Mapping[str, str]) -> str:
    if typed["password"] != typed["again"]:
        raise ValueError("The two passwords differ. Type the same one twice.")
    return typed["password"]
