"""Roles of a formula side by side with what else could fill them."""

from __future__ import annotations

from dataclasses import dataclass

from production.selectors.formulas import FormulaRoles, Role, StandIn
from production.web.style import Amount


@dataclass(frozen=True, slots=True, kw_only=True)
class StandInRow:
    """One ingredient with what it would change."""

    value: str
    name: str
    in_use: bool
    chosen: bool
    soluble: Amount
    t90: Amount
    cling: Amount
    classes: str
    allergens: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RoleTable:
    """A role with all that may fill it, what fills it now first."""

    label: str
    note: str
    rows: tuple[StandInRow, ...]


def role_tables(offered: FormulaRoles, chosen: str) -> tuple[RoleTable, ...]:
    """A table for each role; `chosen` is what was ticked before a refusal."""
    return tuple(
        RoleTable(
            label=words(role.role).capitalize(),
            note=_note(role),
            rows=tuple(
                _row(role, each, chosen)
                for each in sorted(role.stand_ins, key=lambda each: (not each.in_use, each.name))
            ),
        )
        for role in offered.roles
    )


def words(role: str) -> str:
    """A role in words."""
    return role.replace("_", " ")


def _note(role: Role) -> str:
    now = f"{100 * role.share:.0f} % of the solids, now {' and '.join(role.filled_by)}."
    return f"{now} Your choice takes the place of all of them." if len(role.filled_by) > 1 else now


def _row(role: Role, each: StandIn, chosen: str) -> StandInRow:
    value = f"{role.role}/{each.ingredient}"
    classes = dict.fromkeys(parameter.cls for parameter in (each.soluble, each.t90, each.cling))
    return StandInRow(
        value=value,
        name=each.name,
        in_use=each.in_use,
        chosen=value == chosen,
        soluble=Amount(f"{1000 * each.soluble.value:.0f}", "g/kg"),
        t90=Amount(f"{each.t90.value:.3g}", "h"),
        cling=Amount(f"{1000 * each.cling.value:.0f}", "g/kg"),
        classes=", ".join(sorted(classes)),
        allergens=", ".join(each.allergens),
    )
