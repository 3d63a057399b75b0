"""A week file becomes rows: the catalogue is brought up to date, the week's orders and stock are replaced.

The kitchen's own settings and coefficients decide what is safe. They come with the kitchen's first file; afterwards
only an administrator changes them, and a manager's file that says something else is refused as a whole.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

from django.db import models, transaction

from production.domain import kitchen as domain
from production.domain.errors import BadWeekFile, Conflict, Problem
from production.models import (
    IceMachine,
    Ingredient,
    Kitchen,
    Membership,
    OrderLine,
    OwnParameter,
    Person,
    PlanningWeek,
    Product,
)
from production.selectors.access import Action, may, require
from production.selectors.snapshots import entries_of
from production.selectors.week_rows import (
    KITCHEN_TABLES,
    PARAMETERS,
    WEEK_TABLES,
    Parts,
    Table,
    Values,
    columns_of,
    entry_of,
    parts_of,
)

Ids = dict[str, dict[str, int]]
Scope = dict[str, int]


@transaction.atomic
def week_import(*, week: domain.Week, by: Membership) -> PlanningWeek:
    """Write the whole week or nothing. Entries the file no longer holds are retired (catalogue) or removed (week)."""
    require_import(by)
    kitchen = Kitchen.objects.select_for_update().get(pk=by.kitchen_id)
    _refuse_other_kitchen(kitchen, week)
    if PlanningWeek.objects.filter(kitchen=kitchen).exists() and not may(by, Action.SET_UP):
        _refuse_changed_settings(kitchen, week)
    _refuse_changed_formulas(kitchen, week)
    Kitchen.objects.filter(pk=kitchen.pk).update(**columns_of(week.kitchen))
    _save_ice_machine(kitchen, week.ice_machine)
    home: Scope = {"kitchen_id": kitchen.pk}
    ids: Ids = {}
    for table in KITCHEN_TABLES:
        entries: Sequence[Any] = getattr(week, table.name)
        ids[table.name] = _save_catalogue(table, home, entries, ids)
    _move_retired_products(kitchen, ids["formulas"])
    _save_and_remove(PARAMETERS, home, week.parameters, ids)
    row, _ = PlanningWeek.objects.update_or_create(
        kitchen=kitchen, starts_on=week.starts_on, defaults={"days": week.days, "plan_from": week.plan_from}
    )
    for table in WEEK_TABLES:
        _save_and_remove(table, {"week_id": row.pk}, getattr(week, table.name), ids)
    return row


# What a week may change by itself: its own lists, one more person, and when a pot is out of use.
CHANGED_BY_THE_WEEK = frozenset({table.name for table in WEEK_TABLES} | {"people", "pots.outages"})


def lists_that_differ(before: domain.Week, after: domain.Week) -> set[str]:
    """The lists in which two weeks of a kitchen differ; pots that differ in their outages only are told apart."""
    found = {each.name for each in fields(domain.Week) if getattr(before, each.name) != getattr(after, each.name)}
    if "pots" in found and _without_outages(before) == _without_outages(after):
        found = found - {"pots"} | {"pots.outages"}
    return found


def week_lists_save(*, kitchen: Kitchen, row: PlanningWeek, before: domain.Week, after: domain.Week) -> None:
    """Write what differs between two weeks, as far as a week may change it by itself."""
    different = lists_that_differ(before, after) & CHANGED_BY_THE_WEEK
    for position, person in enumerate(after.people):
        if person not in before.people:
            Person.objects.update_or_create(
                kitchen=kitchen,
                code=person.code,
                defaults=columns_of(person) | {"position": position, "retired": False},
            )
    ids: Ids = {
        table.name: dict(table.rows().filter(kitchen=kitchen).values_list("code", "pk")) for table in KITCHEN_TABLES
    }
    for table in WEEK_TABLES:
        if table.name in different:
            _save_and_remove(table, {"week_id": row.pk}, getattr(after, table.name), ids)
    if "pots.outages" in different:
        outages = next(part for table in KITCHEN_TABLES for part in table.parts if part.field == "outages")
        _save_parts(outages, {ids["pots"][pot.code]: pot for pot in after.pots}, ids)


def _without_outages(week: domain.Week) -> list[domain.Pot]:
    return [replace(pot, outages=()) for pot in week.pots]


def require_import(by: Membership) -> None:
    """Managers bring in week files, and administrators do when a file changes the set-up."""
    if not may(by, Action.SET_UP):
        require(by, Action.IMPORT_WEEK)


def formula_parts_save(*, kitchen_id: int, formulas: dict[int, domain.Formula]) -> None:
    """Write solids and additions of formulas, by row id, with the kitchen's ingredients."""
    ids: Ids = {"ingredients": dict(Ingredient.objects.filter(kitchen_id=kitchen_id).values_list("code", "pk"))}
    for part in next(each for each in KITCHEN_TABLES if each.name == "formulas").parts:
        _save_parts(part, formulas, ids)


def _refuse_other_kitchen(kitchen: Kitchen, week: domain.Week) -> None:
    if week.kitchen.code == kitchen.code:
        return
    raise BadWeekFile(
        (
            Problem(
                pointer="/kitchen/code",
                found=week.kitchen.code,
                allowed=kitchen.code,
                sentence=f"This file is of the kitchen {week.kitchen.code}; here is {kitchen.code}.",
            ),
        )
    )


def _refuse_changed_settings(kitchen: Kitchen, week: domain.Week) -> None:
    settings = [
        (f"/kitchen/{column.replace('tasks_', 'tasks/', 1)}", getattr(kitchen, column), value)
        for column, value in columns_of(week.kitchen).items()
    ]
    rows = OwnParameter.objects.filter(kitchen=kitchen)
    here = {row.code: entry_of(domain.OwnParameter, row) for row in rows}
    there = {entry.code: entry for entry in week.parameters}
    coefficients = [(f"/parameters/{code}", here.get(code), there.get(code)) for code in sorted(here | there)]
    problems = tuple(
        Problem(pointer=pointer, found=_said(found), allowed=_said(allowed), sentence=_setting_sentence(pointer))
        for pointer, allowed, found in (*settings, *coefficients)
        if allowed != found
    )
    if problems:
        raise BadWeekFile(problems)


def _said(value: object) -> str:
    match value:
        case None:
            return "none"
        case domain.OwnParameter():
            return f"{value.value:g} ({value.low:g} to {value.high:g}), class {value.confidence}, {value.source}"
        case _:
            return str(value)


def _setting_sentence(pointer: str) -> str:
    what = pointer.rpartition("/")[2].replace("_", " ")
    kind = "coefficient" if pointer.startswith("/parameters/") else "setting"
    return f"The kitchen's own {kind} {what} is different here; only an administrator changes it, on the set-up pages."


def _refuse_changed_formulas(kitchen: Kitchen, week: domain.Week) -> None:
    table = next(each for each in KITCHEN_TABLES if each.name == "formulas")
    codes = {"ingredients": dict(Ingredient.objects.filter(kitchen=kitchen).values_list("pk", "code"))}
    known = {(entry.code, entry.version): entry for entry in entries_of(table, kitchen=kitchen, codes=codes).values()}
    changed = [each for each in week.formulas if known.get((each.code, each.version), each) != each]
    if changed:
        names = ", ".join(f"{each.code} version {each.version}" for each in changed)
        raise Conflict(
            f"Already known with other content: {names}.",
            code="formula-version-taken",
            numbers={"formulas": [each.code for each in changed]},
            remedy="Give a changed formula a new version number; what was cooked before keeps the old one.",
        )


def _save_ice_machine(kitchen: Kitchen, entry: domain.IceMachine | None) -> None:
    if entry is None:
        IceMachine.objects.filter(kitchen=kitchen).delete()
    else:
        IceMachine.objects.update_or_create(kitchen=kitchen, defaults=columns_of(entry))


def _save_catalogue(table: Table, home: Scope, entries: Sequence[Any], ids: Ids) -> dict[str, int]:
    change = _compare(table, home, entries, ids, also={"retired": False})
    table.rows().filter(pk__in=change.gone, retired=False).update(retired=True)
    row_ids = _write(table, home, change)
    for part in table.parts:
        _save_parts(part, dict(zip(row_ids, entries, strict=True)), ids)
    return {entry.code: row_id for row_id, entry in zip(row_ids, entries, strict=True)}


def _save_and_remove(table: Table, scope: Scope, entries: Sequence[Any], ids: Ids) -> None:
    change = _compare(table, scope, entries, ids, also={})
    if change.gone:
        table.rows().filter(pk__in=change.gone).delete()
    _write(table, scope, change)


@dataclass(frozen=True, slots=True)
class _Change:
    """What an import does to one list: its rows in the order of the file, those to write, ids of those left over."""

    rows: list[Any]
    to_write: list[Any]
    gone: list[int]


def _compare(table: Table, scope: Scope, entries: Sequence[Any], ids: Ids, *, also: Values) -> _Change:
    known = {_key(table, row): row for row in table.rows().filter(**scope).select_for_update()}
    rows: list[Any] = []
    to_write: list[Any] = []
    named: set[tuple[Any, ...]] = set()
    for position, entry in enumerate(entries):
        values = columns_of(entry, ids=ids) | also | {"position": position}
        row = table.model(**scope, **values)
        key = _key(table, row)
        if key in named:
            raise Conflict(
                f"The file names one entry of {table.name} twice: {entry}.",
                code="named-twice",
                numbers={"list": table.name, "position": position},
                remedy="Keep one of the two.",
            )
        named.add(key)
        earlier = known.pop(key, None)
        different = {column for column, value in values.items() if getattr(earlier, column, None) != value}
        if earlier is not None and not different:
            row = earlier
        else:
            if isinstance(row, OrderLine) and isinstance(earlier, OrderLine):
                row.revision = earlier.revision + (different != {"position"})
            to_write.append(row)
        rows.append(row)
    return _Change(rows=rows, to_write=to_write, gone=[row.pk for row in known.values()])


def _write(table: Table, scope: Scope, change: _Change) -> list[int]:
    fixed = {*scope, *table.key}
    table.rows().bulk_create(
        change.to_write,
        update_conflicts=True,
        unique_fields=[*scope, *table.key],
        update_fields=[column for column in table.columns() if column not in fixed],
    )
    return [row.pk for row in change.rows]


def _key(table: Table, row: models.Model) -> tuple[Any, ...]:
    return tuple(getattr(row, column) for column in table.key)


def _save_parts(part: Parts, owners: dict[int, Any], ids: Ids) -> None:
    wanted = {owner: parts_of(part, entry, ids=ids) for owner, entry in owners.items()}
    found: dict[int, list[Any]] = defaultdict(list)
    for row in part.rows().filter(**{f"{part.owner}__in": list(owners)}):
        found[getattr(row, part.owner)].append(row)
    differing = [owner for owner, values in wanted.items() if not _same(found[owner], values)]
    stale = [row.pk for owner in differing for row in found[owner]]
    if stale:
        part.rows().filter(pk__in=stale).delete()
    part.rows().bulk_create(
        part.model(**{part.owner: owner}, **values, position=position)
        for owner in differing
        for position, values in enumerate(wanted[owner])
    )


def _same(rows: list[Any], wanted: list[Values]) -> bool:
    return len(rows) == len(wanted) and all(
        getattr(row, column) == value
        for row, values in zip(rows, wanted, strict=True)
        for column, value in values.items()
    )


def _move_retired_products(kitchen: Kitchen, formulas: dict[str, int]) -> None:
    """A retired product follows its formula to the version in use, so that an old week holds one version only."""
    behind = list(
        Product.objects.filter(kitchen=kitchen, formula__retired=True, formula__code__in=formulas).select_related(
            "formula"
        )
    )
    for product in behind:
        product.formula_id = formulas[product.formula.code]
    if behind:
        Product.objects.bulk_update(behind, ["formula"])
