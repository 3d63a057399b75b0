"""The coefficients that a week is planned with."""

from __future__ import annotations

import hashlib

from production.domain.kitchen import Week
from production.domain.parameters import DEFAULT_PARAMETERS, Parameter, ParameterSet


def parameters_of(*, week: Week, base: ParameterSet = DEFAULT_PARAMETERS) -> ParameterSet:
    """The parameter set a week is planned with: the defaults with the kitchen's own coefficients in their place.

    Equation: each own coefficient replaces value, interval, confidence, count and source of the default; the version
        names the kitchen and a digest of its coefficients, so that different sets never share a name.
    Units: week, base (records; each coefficient keeps its unit); returns a record.
    Valid: a week that passed its reader.
    Errors: UnknownParameter for a code that the base does not hold.
    Source: own definition.
    """
    own = {each.code: each for each in week.parameters}
    for code in own:
        base.get(code)
    if not own:
        return base
    changed = tuple(
        Parameter(
            each.code,
            own[each.code].value,
            each.unit,
            own[each.code].confidence,  # type: ignore[arg-type]
            own[each.code].n,
            own[each.code].source,
            own[each.code].low,
            own[each.code].high,
            each.note,
        )
        if each.code in own
        else each
        for each in base.parameters
    )
    digest = hashlib.sha256(repr(sorted(own.items())).encode()).hexdigest()[:6]
    return ParameterSet(f"{base.version}+{week.kitchen.code}-{digest}", changed)
