"""Column types that read the same in SQLite and PostgreSQL, today and in fifty years."""

from __future__ import annotations

import datetime as dt
from typing import Any

import sqlalchemy as sa
from sqlalchemy.orm import DeclarativeBase

UTC_FORMAT = "%Y-%m-%dT%H:%M:%S.%fZ"
Table = dict[str, Any]  # a small table of named values, kept as JSON


def utc_text(time: dt.datetime) -> str:
    """Return an aware time as fixed-width text in UTC, which sorts as the times do.

    Examples
    --------
    >>> utc_text(dt.datetime(2026, 3, 1, 9, tzinfo=dt.UTC))
    '2026-03-01T09:00:00.000000Z'
    """
    return time.astimezone(dt.UTC).strftime(UTC_FORMAT)


def utc_time(text: str) -> dt.datetime:
    """Read what `utc_text` wrote."""
    return dt.datetime.fromisoformat(text)


class UtcTime(sa.types.TypeDecorator[dt.datetime]):
    """An aware time, stored as fixed-width ISO text in UTC: plain to read with any tool, equal in both databases."""

    impl = sa.Text
    cache_ok = True

    def process_bind_param(self, value: dt.datetime | None, dialect: sa.Dialect) -> str | None:  # noqa: ARG002 - the interface
        """Write a time; a naive one is a mistake of ours."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise TypeError(f"{value}: a time without a zone must not reach the register.")
        return utc_text(value)

    def process_result_value(self, value: str | None, dialect: sa.Dialect) -> dt.datetime | None:  # noqa: ARG002 - the interface
        """Read a time."""
        return None if value is None else utc_time(value)


class Base(DeclarativeBase):
    """All tables of the register."""

    type_annotation_map = {  # noqa: RUF012 - SQLAlchemy's own form
        str: sa.Text,
        dt.datetime: UtcTime,
        Table: sa.JSON(none_as_null=True),
        list[Any]: sa.JSON(none_as_null=True),
        list[str]: sa.JSON(none_as_null=True),
        list[float]: sa.JSON(none_as_null=True),
    }
    metadata = sa.MetaData(
        naming_convention={
            "pk": "pk_%(table_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s",
            "uq": "uq_%(table_name)s_%(column_0_name)s",
            "ix": "ix_%(table_name)s_%(column_0_name)s",
        }
    )
