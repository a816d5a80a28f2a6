"""The register's tables as lines of JSON: readable for ever, and the same from SQLite and PostgreSQL."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping

import sqlalchemy as sa

from isohume.ingest.archive.session import Register

VERSION_TABLE = "alembic_version"
NOT_KEPT = frozenset({VERSION_TABLE, "findings"})  # the version stands beside; findings are computed again


def dump(connection: sa.Connection) -> Iterator[tuple[str, str]]:
    """Yield each table's name and its rows, one JSON object a line; tables others refer to come first."""
    for table in _tables(connection):
        rows = connection.execute(sa.select(table).order_by(*table.primary_key.columns)).mappings()
        lines = [json.dumps(dict(row), ensure_ascii=False, sort_keys=True) for row in rows]
        yield table.name, "".join(f"{line}\n" for line in lines)


def load(register: Register, tables: Mapping[str, str]) -> None:
    """Fill the empty tables of a register of the same version, in one transaction."""
    with register.writer() as connection, connection.begin():
        for table in _tables(connection):
            rows = [json.loads(line) for line in tables.get(table.name, "").splitlines()]
            if rows:
                connection.execute(sa.insert(table), rows)
            numbered = [column for column in table.primary_key.columns if isinstance(column.type, sa.Integer)]
            if rows and not register.is_sqlite and [column.name for column in numbered] == ["id"]:
                # Numbers go on after the highest; SQLite sees to that itself.
                highest = max(row["id"] for row in rows)
                sequence = sa.func.pg_get_serial_sequence(table.name, "id")
                connection.execute(sa.select(sa.func.setval(sequence, highest)))


def _tables(connection: sa.Connection) -> list[sa.Table]:
    found = sa.MetaData()
    found.reflect(connection)  # as the tables are, not as this version's models have them
    tables = [table for table in found.sorted_tables if table.name not in NOT_KEPT]
    for column in (column for table in tables for column in table.columns):
        if isinstance(column.type, sa.JSON):
            column.type.none_as_null = True  # what is unknown comes back unknown
    return tables
