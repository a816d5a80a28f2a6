"""The people who may sign in: their roles, and their passwords as Argon2 hashes in the register."""

from __future__ import annotations

import hashlib
import secrets
import threading
import unicodedata
from dataclasses import dataclass
from functools import cache
from typing import Literal, cast

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from isohume.ingest.archive.archive import Archive
from isohume.ingest.archive.errors import RegisterError
from isohume.ingest.archive.models_register import User

Role = Literal["viewer", "contributor", "administrator"]
ROLES: tuple[Role, ...] = ("viewer", "contributor", "administrator")
# Length is what makes a password hold; longer than this only costs the server work.
SHORTEST_PASSWORD, LONGEST_PASSWORD = 12, 200
LONGEST_NAME = 100
# One try takes 64 MiB and a tenth of a second: not more than this at once.
_AT_ONCE = threading.Semaphore(2)
_HASHER = PasswordHasher()


class PasswordRefusedError(ValueError):
    """A password that would not hold."""


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody at work on the pages."""

    name: str
    full_name: str
    role: Role

    def may(self, role: Role) -> bool:
        """Tell whether this person's role reaches `role`."""
        return ROLES.index(self.role) >= ROLES.index(role)


# On the machine itself nobody signs in: whoever sits there may do everything.
AT_THIS_MACHINE = Person(name="local", full_name="", role="administrator")


def add_person(archive: Archive, name: str, password: str, *, role: Role, full_name: str = "") -> None:
    """Register somebody, or give them another password and role.

    Raises
    ------
    PasswordRefusedError
        The password is too short or too long.
    RegisterError
        The name is empty, no name, or that of somebody else in another spelling; or the role is unknown.
    """
    refuse_name(archive, name)
    values = {"name": name, "role": role, "password_hash": hashed(password), "active": True}
    archive.put("users", {**values, "full_name": full_name} if full_name else values)


def refuse_name(archive: Archive, name: str) -> None:
    """Refuse a name that cannot be told apart from that of somebody else.

    Raises
    ------
    RegisterError
        It reads like the name of another user or that of this machine, or holds signs that are not seen.
    """
    taken = {_folded(user["name"]) for user in archive.records("users") if user["name"] != name}
    if not name.strip() or not name.isprintable() or len(name) > LONGEST_NAME:
        found, expected = f"{name[:20]!r}", f"1 to {LONGEST_NAME} letters that can be seen"
    elif _folded(name) in {*taken, AT_THIS_MACHINE.name}:
        found, expected = f'"{name}"', "a name that nobody has, in any spelling"
    else:
        return
    raise RegisterError("users, name", found=found, expected=expected, remedy="Choose another name to sign in with.")


def _folded(name: str) -> str:
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def hashed(password: str) -> str:
    """Return the Argon2id hash of a password.

    Raises
    ------
    PasswordRefusedError
        It is shorter than 12 or longer than 200 characters.
    """
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        raise PasswordRefusedError(
            f"The password has {len(password)} characters: choose {SHORTEST_PASSWORD} to {LONGEST_PASSWORD}; a "
            "sentence is easiest to remember."
        )
    with _AT_ONCE:
        return _HASHER.hash(password)


def has_people(archive: Archive) -> bool:
    """Tell whether anybody may sign in."""
    return any(user["active"] for user in archive.records("users"))


def find_person(archive: Archive, name: str) -> tuple[Person, str] | None:
    """Return an active person and a mark that changes with their password, None if there is nobody of that name."""
    user = _active_user(archive, name)
    if user is None:
        return None
    person = Person(name=user.name, full_name=user.full_name, role=cast("Role", user.role))
    return person, hashlib.sha256(user.password_hash.encode()).hexdigest()


def signed_in(archive: Archive, name: str, password: str) -> bool:
    """Tell whether the password is that of an active person; takes as long for a name that does not exist."""
    user = _active_user(archive, name)
    kept = "" if user is None else user.password_hash
    with _AT_ONCE:
        try:
            _HASHER.verify(kept or _hash_of_nobody(), password[: LONGEST_PASSWORD + 1])
        except (VerificationError, InvalidHashError):
            return False
    return bool(kept)


def _active_user(archive: Archive, name: str) -> User | None:
    # The register shows no hashes with its records: only here are they read.
    if not name or "\0" in name or name == AT_THIS_MACHINE.name:  # a user of that name would pass for nobody's
        return None
    with archive.register.reading() as session:
        user = session.get(User, name)
        return user if user is not None and user.active else None


@cache
def _hash_of_nobody() -> str:
    return _HASHER.hash(secrets.token_urlsafe())
