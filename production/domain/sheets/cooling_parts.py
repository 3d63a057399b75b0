"""The cooling logs of one draw: as planned for each device, or as it was really poured."""

from __future__ import annotations

from dataclasses import dataclass, replace

from production.domain.plan import Plan
from production.domain.sheets.content import CoolingLog
from production.domain.sheets.cooling_log import cooling_logs


@dataclass(frozen=True, slots=True)
class PlannedLog:
    """The blank log of a draw in one device."""

    device: str
    log: CoolingLog


@dataclass(frozen=True, slots=True, kw_only=True)
class Poured:
    """What really stands in a device."""

    key: str
    draw: str
    device: str  # as painted on it
    vessel: str
    vessels: int
    litres: float
    depth_mm: float


def planned_logs(plan: Plan, *, run: str, draw: str) -> tuple[PlannedLog, ...]:
    """The blank logs of one draw, device by device.

    Equation: the entries of cooling_logs that belong to the draw.
    Units: plan (record), run (code), draw (name); returns records.
    Valid: every plan; a draw that is not cooled has none.
    Errors: as cooling_logs.
    Source: own definition.
    """
    parts = [
        (each.code, cooled.name, part.device)
        for each in plan.runs
        for cooled in each.draws
        for part in cooled.cooling.parts
    ]
    return tuple(
        PlannedLog(device, log)
        for (code, name, device), log in zip(parts, cooling_logs(plan), strict=True)
        if (code, name) == (run, draw)
    )


def log_as_poured(near: CoolingLog, poured: Poured) -> CoolingLog:
    """A log for what was poured otherwise than planned: the same rule, no prediction.

    Equation: fields of the nearest planned log with device, vessels, litres and depth as they are.
    Units: near, poured (records; [L], [mm]); returns a record.
    Valid: every log.
    Errors: none.
    Source: own definition.
    """
    return replace(
        near,
        key=poured.key,
        draw=poured.draw,
        device=poured.device,
        vessel=poured.vessel,
        vessels=poured.vessels,
        litres=poured.litres,
        fill_l=poured.litres / max(poured.vessels, 1),
        depth_mm=poured.depth_mm,
        ice_kg=0.0,
        limits=(),
        expected=(),
        slow=(),
    )
