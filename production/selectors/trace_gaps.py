"""What a thread cannot show: weighings that name no lot, and runs that may have used one all the same."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from production.domain.records.receiving import named_lots
from production.models import Entry, IngredientLot, IngredientUse, Membership, RunRecord
from production.selectors.trace_rows import WEIGHED, Told, standing
from production.selectors.trace_starts import Start


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighings:
    """How often a run weighed, and what it weighed without a lot."""

    count: int
    unnamed: tuple[str, ...]


NONE = Weighings(count=0, unnamed=())


def weighings_of(*, by: Membership, subjects: Collection[str]) -> Mapping[str, Weighings]:
    """The weighings of runs that stand, by the run's subject."""
    rows = Entry.objects.filter(kitchen_id=by.kitchen_id, subject__in=subjects, kind__in=[*WEIGHED, "withdrawn"])
    kept = list(rows.order_by("number").values_list("pk", "subject", "kind", "corrects_id", "content"))
    content = {pk: said for pk, _, _, _, said in kept}
    told = [Told(*row[:4]) for row in kept]
    before = {each.pk: each.corrects for each in told}
    found: dict[str, list[int]] = defaultdict(list)
    for each in standing(told):
        if each.kind in WEIGHED:
            found[each.subject].append(each.pk)
    unnamed = {subject: [pk for pk in pks if not _names_lot(pk, before, content)] for subject, pks in found.items()}
    names = _names(by, [subject for subject, pks in unnamed.items() if pks])
    return {
        subject: Weighings(
            count=len(pks),
            unnamed=tuple(_name(content[pk], names.get(subject, {})) for pk in unnamed[subject]),
        )
        for subject, pks in found.items()
    }


def _names_lot(pk: int | None, before: Mapping[int, int | None], content: Mapping[int, Mapping[str, object]]) -> bool:
    """A correction that names no lot keeps that of what it corrects; a code that nobody knows names none."""
    while pk is not None and "lot" not in content.get(pk, {}) and before.get(pk) in content:
        pk = before[pk]
    said = content.get(pk or 0, {})
    return bool(named_lots(str(said.get("lot", "")))) and not str(said.get("lot_doubt", "")).startswith("No lot ")


def _names(by: Membership, subjects: Sequence[str]) -> Mapping[str, Mapping[str, str]]:
    """What each weighing of a run weighs, by its place on the sheet."""
    if not subjects:
        return {}
    rows = RunRecord.objects.filter(kitchen_id=by.kitchen_id, subject__in=subjects)
    return {
        subject: {str(line["order"]): str(line["name"]) for line in charge or ()}
        for subject, charge in rows.values_list("subject", "sheet__charge")
    }


def _name(said: Mapping[str, object], names: Mapping[str, str]) -> str:
    return names.get(str(said.get("step", "")).rpartition(".")[2], "an ingredient")


def runs_possible(*, by: Membership, start: Start, known: Iterable[int]) -> tuple[str, ...]:
    """Runs that weighed the same ingredient without naming a lot while what the trace begins with was in the house."""
    lots = list(IngredientLot.objects.filter(pk__in=start.ingredient_lots).select_related("ingredient", "receipt"))
    if not lots:
        return ()
    runs = RunRecord.objects.filter(
        kitchen_id=by.kitchen_id, begun_at__gte=min(each.receipt.received_at for each in lots)
    ).exclude(pk__in=list(known))
    gone = _gone_at(lots)
    if gone is not None:
        runs = runs.filter(begun_at__lte=gone)
    codes = dict(runs.values_list("subject", "code"))
    wanted = {each.ingredient.name for each in lots}
    found = weighings_of(by=by, subjects=codes)
    return tuple(sorted(_with_day(subject) for subject, each in found.items() if wanted & set(each.unnamed)))


def _gone_at(lots: Sequence[IngredientLot]) -> datetime | None:
    """When the last of it was used or thrown away; nothing while some is left."""
    if any(each.left_kg > 0 for each in lots):
        return None
    uses = IngredientUse.objects.filter(lot_id__in=[each.pk for each in lots])
    return uses.order_by("-entry__happened_at").values_list("entry__happened_at", flat=True).first()


def _with_day(subject: str) -> str:
    _, day, code = subject.split("/", 2)
    return f"{code} (week of {day})"
