"""Where groups of containers stand, and which devices have places left, for advice on what still helps."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from production.domain import kitchen as domain
from production.domain.records.advice_content import FreePlace
from production.domain.records.standing import Act, Stand
from production.models import CoolingDevice, CoolingRecord
from production.selectors.week_rows import entry_of

STIRRED_FOR = timedelta(minutes=15)  # stirring that was recorded counts so long (own choice)


@dataclass(frozen=True, slots=True)
class Stands:
    """The kitchen's devices as the domain knows them, and how many vessels stand in each."""

    devices: dict[str, FreePlace]
    taken: Counter[str]


def stands_in(devices: Iterable[CoolingDevice], rows: Sequence[tuple[CoolingRecord, Sequence[Act]]]) -> Stands:
    """Devices with what stands in them now."""
    known = {each.code: _place(each) for each in devices}
    taken: Counter[str] = Counter()
    for row, acts in rows:
        moved = next((each for each in reversed(acts) if each.kind == "moved"), None)
        at_first = "" if row.device is None else row.device.code
        code = at_first if moved is None else str(moved.content.get("device", ""))
        vessels = str(row.sheet["vessels"] if moved is None else moved.content.get("vessels", ""))
        taken[code] += int(vessels) if vessels.isdecimal() else int(row.sheet["vessels"])
    return Stands(known, taken)


def _place(row: CoolingDevice) -> FreePlace:
    codes = {"containers": {row.vessel_id: row.vessel.code}}
    device = entry_of(domain.CoolingDevice, row, codes=codes)
    return FreePlace(device=device, vessel=entry_of(domain.Container, row.vessel))


def stand_of(
    stands: Stands,
    row: CoolingRecord,
    device: CoolingDevice,
    *,
    litres: float,
    fill_l: float,
    acts: Sequence[Act],
    now: datetime,
) -> Stand | None:
    """Where this group stands and where it could go."""
    here = stands.devices.get(device.code)
    if here is None:
        return None
    own = int(row.sheet["vessels"])
    stirred_lately = any(each.kind == "stirred" and now - each.at <= STIRRED_FOR for each in acts)
    return Stand(
        device=here.device,
        vessel=here.vessel,
        places=max(own, here.device.places - stands.taken[device.code] + own),
        stirred=here.device.stirred or stirred_lately,
        glaze=row.draw == "reduction",
        litres=litres,
        fill_l=fill_l,
        free=tuple(_free(stands, other) for other in _others(stands, device.code)),
    )


def _others(stands: Stands, code: str) -> list[FreePlace]:
    """Devices with places left."""
    return [
        each for other, each in stands.devices.items() if other != code and stands.taken[other] < each.device.places
    ]


def _free(stands: Stands, place: FreePlace) -> FreePlace:
    left = place.device.places - stands.taken[place.device.code]
    return FreePlace(device=replace(place.device, places=left), vessel=place.vessel)
