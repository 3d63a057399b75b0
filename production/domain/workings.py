"""Registry of computations: every number of a run can be opened to its formula, inputs, range, class and source."""

from __future__ import annotations

import functools
import inspect
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal, ParamSpec

from production.domain.errors import OutOfRange, PotwrightError
from production.domain.quantities import UNIT_OF_SUFFIX, parse_quantity, unit_of_name

P = ParamSpec("P")
Confidence = Literal["A", "B", "C"]
Bounds = tuple[float | None, float | None]

_LABELS = ("Equation", "Units", "Valid", "Errors", "Source")
_LARGEST = sys.float_info.max


@dataclass(frozen=True, slots=True)
class Argument:
    """One input of a working and the range in which it may lie (None = open)."""

    name: str
    unit: str
    low: float | None
    high: float | None
    default: float | None = None


@dataclass(frozen=True, slots=True)
class Working:
    """One computation; the texts come from its docstring."""

    name: str
    summary: str
    equation: str
    source: str
    valid: str
    cls: Confidence
    unit: str
    arguments: tuple[Argument, ...]
    parameters: tuple[str, ...]
    function: Callable[..., float]


@dataclass(frozen=True, slots=True)
class Figure:
    """One computed number together with everything needed to compute it again."""

    key: str
    value: float
    unit: str
    working: str
    inputs: tuple[tuple[str, float], ...]
    parameters: tuple[str, ...] = ()


_registered: dict[str, Working] = {}
REGISTRY: Mapping[str, Working] = MappingProxyType(_registered)


def docstring_parts(text: str) -> dict[str, str]:
    """Split a docstring in the house form into its summary and its labelled parts.

    Equation: a part runs from its label to the next label; line breaks become spaces.
    Units: text [no quantities]; returns [no quantities].
    Valid: docstrings in the house form.
    Errors: none; a missing label is simply absent.
    Source: own definition.
    """
    parts: dict[str, str] = {}
    label = "Summary"
    for line in inspect.cleandoc(text).splitlines():
        head, colon, rest = line.strip().partition(":")
        labelled = bool(colon) and head in _LABELS
        label = head if labelled else label
        words = rest if labelled else line
        parts[label] = f"{parts.get(label, '')} {words.strip()}".strip()
    return parts


def working(
    *,
    cls: Confidence,
    unit: str,
    ranges: Mapping[str, Bounds] | None = None,
    parameters: tuple[str, ...] = (),
) -> Callable[[Callable[P, float]], Callable[P, float]]:
    """Register a function as a working and check the range of its arguments at every call.

    Equation: low <= argument <= high for each argument; None leaves that side open; NaN and infinity never pass.
    Units: unit [unit symbol], ranges [unit of each argument]; returns [no quantities].
    Valid: functions whose arguments are keyword-only numbers with the unit at the end of the name.
    Errors: TypeError at import when name, unit, arguments or docstring break the house form; OutOfRange at a call.
    Source: own definition.
    """

    def register(function: Callable[P, float]) -> Callable[P, float]:
        entry = _describe(function, cls, unit, ranges or {}, parameters)
        bounds = {
            each.name: (
                -_LARGEST if each.low is None else each.low,
                _LARGEST if each.high is None else each.high,
            )
            for each in entry.arguments
        }

        @functools.wraps(function)
        def checked(*args: P.args, **kwargs: P.kwargs) -> float:
            for name, value in kwargs.items():
                low, high = bounds.get(name, (-_LARGEST, _LARGEST))
                if not low <= value <= high:  # type: ignore[operator]
                    raise _out_of_range(entry, name, value)
            return function(*args, **kwargs)

        _registered[entry.name] = replace(entry, function=checked)
        return checked

    return register


def _describe(
    function: Callable[P, float],
    cls: Confidence,
    unit: str,
    ranges: Mapping[str, Bounds],
    parameters: tuple[str, ...],
) -> Working:
    name = function.__name__
    texts = docstring_parts(function.__doc__ or "")
    missing = [label for label in ("Summary", *_LABELS) if not texts.get(label)]
    signature = inspect.signature(function).parameters
    if missing or name in _registered or unit_of_name(name) != unit or set(ranges) - set(signature):
        raise TypeError(f"{name} breaks the form of a working (docstring lacks: {missing}; unit {unit})")
    if any(each.kind is not inspect.Parameter.KEYWORD_ONLY for each in signature.values()):
        raise TypeError(f"{name}: all arguments of a working are keyword-only")
    arguments = tuple(
        Argument(
            each.name,
            unit_of_name(each.name),
            *ranges.get(each.name, (None, None)),
            None if each.default is inspect.Parameter.empty else float(each.default),
        )
        for each in signature.values()
    )
    return Working(
        name=name,
        summary=texts["Summary"],
        equation=texts["Equation"],
        source=texts["Source"],
        valid=texts["Valid"],
        cls=cls,
        unit=unit,
        arguments=arguments,
        parameters=parameters,
        function=function,
    )


def _out_of_range(entry: Working, name: str, value: object) -> OutOfRange:
    argument = next(each for each in entry.arguments if each.name == name)
    low = "any" if argument.low is None else f"{argument.low:g}"
    high = "any" if argument.high is None else f"{argument.high:g}"
    return OutOfRange(
        f"{entry.name}: {name} = {value} lies outside {low} to {high} {argument.unit}.",
        numbers={
            "working": entry.name,
            "argument": name,
            "value": value,
            "low": argument.low,
            "high": argument.high,
            "unit": argument.unit,
        },
        remedy=f"Give {name} between {low} and {high} {argument.unit}.",
    )


def figure(key: str, function: Callable[..., float], *, parameters: tuple[str, ...] = (), **inputs: float) -> Figure:
    """Call a working and keep the number together with how it came about.

    Equation: value = function(inputs).
    Units: key [no quantities], function [a working], parameters [codes], inputs [unit of each argument];
        returns [unit of the working].
    Valid: as the working.
    Errors: those of the working.
    Source: own definition.
    """
    entry = REGISTRY[function.__name__]
    return _figure(key, entry, inputs, parameters or entry.parameters)


def _figure(key: str, entry: Working, inputs: Mapping[str, float], parameters: tuple[str, ...]) -> Figure:
    return Figure(key, entry.function(**inputs), entry.unit, entry.name, tuple(inputs.items()), parameters)


def recompute(figure: Figure) -> float:
    """Compute the number of a figure again from its inputs.

    Equation: value = working(inputs).
    Units: figure [as stored]; returns [unit of the figure].
    Valid: figures of registered workings.
    Errors: PotwrightError when the working is no longer registered, and those of the working.
    Source: own definition.
    """
    return _entry(figure.working).function(**dict(figure.inputs))


def _entry(name: str) -> Working:
    if name not in REGISTRY:
        raise PotwrightError(
            f"There is no working named {name!r}.",
            code="unknown-working",
            numbers={"name": name},
            remedy="Use one of: " + ", ".join(sorted(REGISTRY)) + ".",
        )
    return REGISTRY[name]


def _argument_of(entry: Working, typed: str) -> tuple[Argument, bool]:
    """Find an argument by its full name or by the name without the unit; the latter needs a unit in the value."""
    for each in entry.arguments:
        if each.name == typed:
            return each, False
    short = [each for each in entry.arguments if _without_unit(each.name) == typed]
    if len(short) == 1:
        return short[0], True
    raise PotwrightError(
        f"{entry.name} has no argument {typed!r}.",
        code="unknown-argument",
        numbers={"working": entry.name, "argument": typed},
        remedy="It takes: " + ", ".join(f"{each.name} [{each.unit}]" for each in entry.arguments) + ".",
    )


def _without_unit(name: str) -> str:
    suffix = max((each for each in UNIT_OF_SUFFIX if name.endswith(f"_{each}")), key=len)
    return name.removesuffix(f"_{suffix}")


def compute(name: str, arguments: Mapping[str, str | float]) -> Figure:
    """Compute one working from typed arguments, which may carry units.

    Equation: value = working(arguments converted to their units); "altitude=5200ft" and "altitude_m=1585" both do.
    Units: name [no quantities], arguments [any unit of the same kind]; returns [unit of the working].
    Valid: as the working; an argument named without its unit must carry one in its value.
    Errors: PotwrightError for an unknown working, an unknown, repeated or missing argument; BadQuantity; OutOfRange.
    Source: own definition.
    """
    entry = _entry(name)
    inputs: dict[str, float] = {}
    for typed, value in arguments.items():
        argument, unit_required = _argument_of(entry, typed)
        if argument.name in inputs:
            raise PotwrightError(
                f"{argument.name} is given twice.",
                code="repeated-argument",
                numbers={"working": name, "argument": argument.name},
                remedy="Give every argument once.",
            )
        inputs[argument.name] = parse_quantity(value, argument.unit, unit_required=unit_required)
    missing = [each for each in entry.arguments if each.default is None and each.name not in inputs]
    if missing:
        listed = ", ".join(f"{each.name} [{each.unit}]" for each in missing)
        raise PotwrightError(
            f"{name} also needs {listed}.",
            code="missing-argument",
            numbers={"working": name, "missing": [each.name for each in missing]},
            remedy=f"Add {listed}.",
        )
    return _figure(name, entry, inputs, entry.parameters)
