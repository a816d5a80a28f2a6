"""What a kind of record is: its table, its key, its fields, and what makes a record of it complete."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Literal

from isohume.ingest.archive.columns import Base

Shape = Literal["text", "number", "whole", "yes or no", "time", "zone", "texts", "band", "points", "table", "tables"]


@dataclass(frozen=True, slots=True)
class Field:
    """One fact of a record.

    Attributes
    ----------
    shape : str
        What kind of value it is.
    column : str
        Its attribute in the database, where that differs from its name.
    choices : tuple of str
        The only values allowed; empty: any.
    table : type or None
        For a table, or each of several: the dataclass whose fields it may hold; None: any names.
    secret : bool
        Never shown; the audit trail holds only that it changed.
    """

    shape: Shape = "text"
    column: str = ""
    choices: tuple[str, ...] = ()
    table: type | None = None
    secret: bool = False


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of record.

    Attributes
    ----------
    name : str
        As in register.toml and on the command line.
    model : type
        Its table.
    key : tuple of str
        The fields that name one record.
    fields : mapping
        Its facts.
    parent : str
        The kind it is listed under in register.toml; "" at top level.
    parent_field : str
        The field that names its parent.
    check : callable
        Given the fields of a whole record, says what is expected instead; "" if it is well.
    described : bool
        Whether it belongs to the description of a collection, which is loaded and exported.
    frozen_by : tuple of str
        Fields that end a record's editing: once one is set, only later ones of them can still be added.
    """

    name: str
    model: type[Base]
    key: tuple[str, ...]
    fields: Mapping[str, Field]
    parent: str = ""
    parent_field: str = ""
    check: Callable[[Mapping[str, Any]], str] = field(default=lambda _values: "")
    described: bool = True
    frozen_by: tuple[str, ...] = ()

    def column(self, name: str) -> str:
        """Return the database attribute of a field."""
        return self.fields[name].column or name
