"""How a draw can be shared among the kitchen's cooling devices."""

from __future__ import annotations

from collections.abc import Iterable

from production.domain.kitchen import CoolingDevice, Week


def splits(week: Week, litres: float) -> Iterable[list[tuple[CoolingDevice, float]]]:
    """Ways to share a volume among the devices.

    Equation: every order of the ice sinks alone, of the chillers alone, chillers before sinks and sinks before
        chillers; the first device is filled before the next, and orders that do not hold it all are left out.
    Units: week (record), litres [L]; returns devices with litres [L].
    Valid: litres > 0; ice sinks count only where the kitchen makes ice.
    Errors: none.
    Source: own definition.
    """
    sinks = [device for device in week.cooling_devices if device.kind == "ice_sink" and week.ice_machine is not None]
    chillers = [device for device in week.cooling_devices if device.kind == "blast_chiller"]
    orders = [
        *(sinks[n:] + sinks[:n] for n in range(len(sinks))),
        *(chillers[n:] + chillers[:n] for n in range(len(chillers))),
    ]
    if sinks and chillers:
        orders += [chillers + sinks, sinks + chillers, *([chiller, *sinks[::-1]] for chiller in chillers)]
    for order in orders:
        left, plan = litres, []
        for device in order:
            taken = min(left, device.places * device.vessel_fill_l)
            if taken > 1e-9:
                plan.append((device, taken))
                left -= taken
        if left <= 1e-9:
            yield plan
