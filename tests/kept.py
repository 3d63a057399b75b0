"""What many tests begin with is made by the services once; afterwards its rows are put back as they were.

Only for what follows from the rows that are there, the clock and its name, and only inside a test's transaction on
SQLite. Everywhere else it is made each time.
"""

from __future__ import annotations

import pickle
from collections.abc import Callable
from functools import cache
from typing import Any, NamedTuple, TypeVar

from django.db import connection
from django.utils import timezone
from time_machine import escape_hatch

T = TypeVar("T")
Row = tuple[Any, ...]
Tables = dict[str, dict[int, Row]]
UNTOUCHED = {"django_migrations", "django_content_type", "auth_permission"}


class _Kept(NamedTuple):
    written: Tables
    answer: bytes


_kept: dict[Any, _Kept] = {}


def kept(name: str, make: Callable[[], T]) -> T:
    """What `make` answers, with the rows it writes."""
    if connection.vendor != "sqlite" or not connection.in_atomic_block:
        return make()
    before = _rows()
    key = (name, timezone.now() if escape_hatch.is_travelling() else None, _frozen(before))
    if key not in _kept:
        answer = make()
        _kept[key] = _Kept(_written(before, _rows()), pickle.dumps(answer))
        return answer
    _put_back(_kept[key].written)
    again: T = pickle.loads(_kept[key].answer)
    return again


@cache
def _columns() -> dict[str, str]:
    """The columns of each table; the plus sign keeps SQLite's values from being converted."""
    tables = set(connection.introspection.django_table_names(only_existing=True)) - UNTOUCHED
    return {
        table: ", ".join(f'+"{column[1]}"' for column in connection.connection.execute(f'PRAGMA table_info("{table}")'))
        for table in sorted(tables)
    }


def _rows() -> Tables:
    return {
        table: {row[0]: row[1:] for row in connection.connection.execute(f'SELECT rowid, {columns} FROM "{table}"')}
        for table, columns in _columns().items()
    }


def _frozen(tables: Tables) -> Row:
    return tuple((table, tuple(rows.items())) for table, rows in tables.items() if rows)


def _written(before: Tables, after: Tables) -> Tables:
    """The rows that are new or changed; what is kept may not have taken any away."""
    assert all(rows.keys() <= after[table].keys() for table, rows in before.items())
    written = {table: dict(rows.items() - before[table].items()) for table, rows in after.items()}
    return {table: rows for table, rows in written.items() if rows}


def _put_back(written: Tables) -> None:
    for table, rows in written.items():
        marks = ", ".join("?" * len(next(iter(rows.values()))))
        names = _columns()[table].replace("+", "")
        connection.connection.executemany(f'INSERT OR REPLACE INTO "{table}" ({names}) VALUES ({marks})', rows.values())
