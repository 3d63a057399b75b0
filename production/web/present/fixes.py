"""What would help a plan that is late or leaves orders unserved, and by how much."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from production.domain.kitchen import Week
from production.domain.plan import Fix
from production.domain.plan.changes import EQUIPMENT, POT_ALLOWED
from production.web.present.words import days_said, line_name
from production.web.style import duration_text


@dataclass(frozen=True, slots=True, kw_only=True)
class FixRow:
    """One change of the week that was tried out, with its effect."""

    index: int
    sentence: str
    effect: str
    lines: tuple[str, ...]
    differences: tuple[str, ...]  # what the plan with it does otherwise
    outside: str  # what has to be done outside the program first; empty where the week can be changed at once


def fix_rows(*, fixes: Iterable[Fix], week: Week) -> tuple[FixRow, ...]:
    """In the order in which they were found: the most help for the least effort first."""
    known = {line.code for line in week.order_lines}
    return tuple(
        FixRow(
            index=index,
            sentence=fix.sentence,
            effect=_effect(fix),
            differences=(*map(days_said, fix.differences), *_more(fix.more_differences)),
            outside=_outside(fix) if fix.needs_equipment else "",
            lines=tuple(line_name(week, line) for line in fix.lines_helped if line in known),
        )
        for index, fix in enumerate(fixes)
    )


def _more(count: int) -> tuple[str, ...]:
    return (f"And {count} more.",) if count else ()


def _outside(fix: Fix) -> str:
    """Nothing is planned on what is not there, so there is nothing to click."""
    allows = [each.kind == POT_ALLOWED for each in (fix, *fix.also) if each.kind in EQUIPMENT]
    if all(allows):
        return (
            "Whether that may be is for the kitchen's food-safety plan to say. If so, an administrator enters it "
            "on the set-up pages; then re-plan."
        )
    return (
        "The kitchen has not got it, and nothing is planned on what is not there. Once it has come, an administrator "
        "enters it on the set-up pages; then re-plan."
    )


def _effect(fix: Fix) -> str:
    told = []
    if fix.effect_unserved > 0:
        told.append(f"{fix.effect_unserved} container{'s' if fix.effect_unserved > 1 else ''} more served")
    elif fix.effect_unserved < 0:
        told.append(f"{-fix.effect_unserved} container{'s' if fix.effect_unserved < -1 else ''} fewer served")
    if abs(fix.effect_late_h) >= 1 / 60:
        word = "less late" if fix.effect_late_h > 0 else "later"
        told.append(f"{duration_text(abs(60 * fix.effect_late_h))} {word}, weighed by importance")
    return "; ".join(told)
