"""Rows -> the frozen week that the domain plans from."""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from django.db import transaction
from django.http import Http404

from production.domain import kitchen as domain
from production.models import IceMachine, Kitchen, Membership, PlanningWeek
from production.selectors.access import Action, require
from production.selectors.week_rows import (
    KITCHEN_TABLES,
    PARAMETERS,
    WEEK_TABLES,
    Table,
    entry_of,
    part_entries,
    references_of,
)

Rows = dict[str, list[Any]]
Parts = dict[str, list[Any]]  # "list.field" -> rows
Codes = dict[str, dict[int, str]]


def week_export(*, by: Membership, week: PlanningWeek) -> domain.Week:
    """The week as its file holds it."""
    require(by, Action.EXPORT_WEEK)
    return week_snapshot(kitchen=by.kitchen, week_id=week.pk)


def week_snapshot(*, kitchen: Kitchen, week_id: int) -> domain.Week:
    """Everything the week is planned from, read in one transaction and a fixed number of queries."""
    with transaction.atomic():
        # The lock holds off an import, so that the lists of one snapshot belong together.
        home = Kitchen.objects.select_for_update().get(pk=kitchen.pk)
        week = PlanningWeek.objects.filter(kitchen=kitchen, pk=week_id).first()
        if week is None:
            raise Http404("This kitchen has no such week.")
        ice_machine = IceMachine.objects.filter(kitchen=kitchen).first()
        parameters = list(PARAMETERS.rows().filter(kitchen=kitchen))
        rows, parts = _catalogue(kitchen)
        weekly: Rows = {table.name: list(table.rows().filter(week=week)) for table in WEEK_TABLES}
    codes: Codes = {name: {row.pk: row.code for row in found} for name, found in rows.items()}
    kept = _kept(rows, parts, weekly)
    lists: dict[str, tuple[Any, ...]] = {
        table.name: _entries(table, [row for row in rows[table.name] if row.pk in kept[table.name]], parts, codes)
        for table in KITCHEN_TABLES
    }
    lists |= {table.name: _entries(table, weekly[table.name], {}, codes) for table in WEEK_TABLES}
    return domain.Week(
        starts_on=week.starts_on,
        days=week.days,
        plan_from=week.plan_from,
        kitchen=entry_of(domain.Kitchen, home),
        ice_machine=None if ice_machine is None else entry_of(domain.IceMachine, ice_machine),
        parameters=_entries(PARAMETERS, parameters, {}, codes),
        **lists,
    )


def entries_of(table: Table, *, kitchen: Kitchen, codes: Codes) -> dict[int, Any]:
    """All entries of one list by row id, retired ones too."""
    found = list(table.rows().filter(kitchen=kitchen))
    parts = {f"{table.name}.{part.field}": _part_rows(table, part.field, kitchen) for part in table.parts}
    return dict(zip((row.pk for row in found), _entries(table, found, parts, codes), strict=True))


def catalogue_of(*, kitchen: Kitchen) -> dict[str, dict[int, Any]]:
    """Every list of the kitchen's catalogue by row id, retired rows too, in a fixed number of queries."""
    rows, parts = _catalogue(kitchen)
    codes: Codes = {name: {row.pk: row.code for row in found} for name, found in rows.items()}
    return {
        table.name: {
            row.pk: entry
            for row, entry in zip(rows[table.name], _entries(table, rows[table.name], parts, codes), strict=True)
        }
        for table in KITCHEN_TABLES
    }


def _catalogue(kitchen: Kitchen) -> tuple[Rows, Parts]:
    rows: Rows = {}
    parts: Parts = {}
    for table in KITCHEN_TABLES:
        rows[table.name] = list(table.rows().filter(kitchen=kitchen))
        for part in table.parts:
            parts[f"{table.name}.{part.field}"] = _part_rows(table, part.field, kitchen)
    return rows, parts


def _part_rows(table: Table, field: str, kitchen: Kitchen) -> list[Any]:
    part = next(each for each in table.parts if each.field == field)
    owner = part.owner.removesuffix("_id")
    return list(part.rows().filter(**{f"{owner}__kitchen": kitchen}))


def _entries(table: Table, rows: list[Any], parts: Parts, codes: Codes) -> tuple[Any, ...]:
    lists: dict[int, dict[str, tuple[Any, ...]]] = defaultdict(dict)
    for part in table.parts:
        for owner, entry in part_entries(part, parts[f"{table.name}.{part.field}"], codes=codes):
            lists[owner][part.field] = (*lists[owner].get(part.field, ()), entry)
    return tuple(entry_of(table.entry, row, codes=codes, parts=lists.get(row.pk)) for row in rows)


def _kept(rows: Rows, parts: Parts, weekly: Rows) -> dict[str, set[int]]:
    """Rows in use, and retired ones that this week still refers to, directly or through others."""
    kept: dict[str, set[int]] = {name: {row.pk for row in found if not row.retired} for name, found in rows.items()}
    for table in WEEK_TABLES:
        _keep_targets(kept, table.entry, weekly[table.name])
    for table in reversed(KITCHEN_TABLES):
        owners = kept[table.name]
        _keep_targets(kept, table.entry, [row for row in rows[table.name] if row.pk in owners])
        for part in table.parts:
            of_kept = [row for row in parts[f"{table.name}.{part.field}"] if getattr(row, part.owner) in owners]
            if part.entry is None:
                kept["formulas"] |= {getattr(row, part.reference) for row in of_kept}
            else:
                _keep_targets(kept, part.entry, of_kept)
    return kept


def _keep_targets(kept: dict[str, set[int]], entry: type, rows: list[Any]) -> None:
    for column, target in references_of(entry):
        kept[target] |= {getattr(row, column) for row in rows} - {None}
