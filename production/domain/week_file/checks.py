"""What the schema cannot see: entries of a week file that contradict one another or the nature of things."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, fields
from datetime import date, datetime, timedelta
from difflib import get_close_matches
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from production.domain import limits
from production.domain.errors import PotwrightError, Problem
from production.domain.parameters import DEFAULT_PARAMETERS
from production.domain.week_file.drafts import Draft

_SHARE_SLACK = 0.001
_DAYS_AFTER = 3
_DAYS_BEFORE = 21
_LONGEST_SHIFT_H = 16
_WALL_MM = (0.4, 25.0)
_DENSITY_KG_M3 = {"steel": 7900.0, "aluminium": 2700.0}
_RATING = ("rated_kg", "rated_from_c", "rated_to_c", "rated_min", "power_kw", "air_temp_c")
_KEYS_OF_UNCODED = {"par_levels": "product"}


@dataclass(frozen=True, slots=True)
class _Book:
    """The week as far as it was read, with its entries by code."""

    week: Draft
    by_code: Mapping[str, Mapping[str, Draft]]
    zone: ZoneInfo | None
    past_until: datetime | None

    def find(self, kind: str, code: str) -> Draft | None:
        return self.by_code.get(kind, {}).get(code)

    def coefficient(self, code: str) -> float:
        own = self.find("parameters", code)
        taken = own.take("value") if own else None
        return float(taken[0]) if taken else DEFAULT_PARAMETERS.value(code)

    def local_day(self, moment: datetime) -> date | None:
        return moment.astimezone(self.zone).date() if self.zone else None


def contradictions(week: Draft, *, now: datetime | None) -> Iterator[Problem]:
    """Find everything in a week that does not agree with the rest of it.

    Equation: each check in turn over the entries that could be read; a check needs only the fields it names.
    Units: week [draft of Week], now [aware moment; orders before it are in the past]; returns [problems].
    Valid: drafts from the reader.
    Errors: none.
    Source: own definition.
    """
    by_code = {
        name: {taken[0]: entry for entry in reversed(entries) if (taken := entry.take(_key_of(name)))}
        for name, entries in week.values.items()
        if isinstance(entries, tuple)
    }
    from_plan = week.values.get("plan_from")
    moments = [moment for moment in (from_plan, now) if moment is not None]
    book = _Book(week, by_code, _zone(week), max(moments, default=None))
    for check in _CHECKS:
        yield from check(book)


def _key_of(name: str) -> str:
    return _KEYS_OF_UNCODED.get(name, "code")


def _zone(week: Draft) -> ZoneInfo | None:
    kitchen = week.values.get("kitchen")
    taken = kitchen.take("time_zone") if kitchen else None
    try:
        return ZoneInfo(taken[0]) if taken else None
    except (ZoneInfoNotFoundError, ValueError, OSError):
        return None


def _listed(words: Iterable[str]) -> str:
    known = list(words)
    return ", ".join(known[:12]) + (f" … ({len(known)} in all)" if len(known) > 12 else "") if known else "none there"


# --- codes and references ----------------------------------------------------------------------------------------


def _repeated(book: _Book) -> Iterator[Problem]:
    for name in book.by_code:
        key, seen = _key_of(name), set[str]()
        for entry in book.week.entries(name):
            taken = entry.take(key)
            if taken and taken[0] in seen:
                yield entry.problem(
                    key,
                    found=taken[0],
                    allowed="each once",
                    sentence=f"{taken[0]!r} is there already; use another {key}.",
                )
            seen.update(taken or ())


def _everything(entry: Draft) -> Iterator[Draft]:
    yield entry
    for value in entry.values.values():
        for inner in value if isinstance(value, tuple) else (value,):
            if isinstance(inner, Draft):
                yield from _everything(inner)


def _references(book: _Book) -> Iterator[Problem]:
    for entry in _everything(book.week):
        for described in fields(entry.of):
            meta, value = described.metadata, entry.values.get(described.name)
            if meta["kind"] not in ("ref", "refs") or value is None or meta["to"] not in book.week.values:
                continue
            known = book.by_code[meta["to"]]
            for wanted in (value,) if meta["kind"] == "ref" else value:
                if wanted not in known:
                    close = get_close_matches(wanted, known, n=1)
                    hint = f" Did you mean {close[0]!r}?" if close else ""
                    yield entry.problem(
                        described.name,
                        found=wanted,
                        allowed=_listed(known),
                        sentence=f"{described.name} {wanted!r} is unknown.{hint}",
                    )


# --- kitchen and equipment ---------------------------------------------------------------------------------------


def _kitchen(book: _Book) -> Iterator[Problem]:
    kitchen = book.week.values.get("kitchen")
    if kitchen is None:
        return
    match kitchen.take("time_zone"):
        case (name,) if book.zone is None:
            yield kitchen.problem(
                "time_zone",
                found=name,
                allowed="a name of the IANA time zone database, for instance America/Denver",
                sentence=f"the time zone {name!r} is unknown.",
            )
    match kitchen.take("currency"):
        case (name,) if not (len(name) == 3 and name.isascii() and name.isupper() and name.isalpha()):
            yield kitchen.problem(
                "currency",
                found=name,
                allowed="three capital letters (ISO 4217), for instance USD",
                sentence=f"{name!r} is not a currency code.",
            )
    match kitchen.take("cooling_rule"):
        case (code,):
            yield from _cooling_rule(kitchen, code)


def _cooling_rule(kitchen: Draft, code: str) -> Iterator[Problem]:
    known = ", ".join(each.code for each in limits.RULES.values() if not each.unfit)
    try:
        unfit = limits.rule(code).unfit
    except PotwrightError as error:
        yield kitchen.problem("cooling_rule", found=code, allowed=known, sentence=f"{error.sentence} {error.remedy}")
        return
    if unfit:
        sentence = f"nothing can be planned by the rule {code}: {unfit}. Choose the one your authority has approved."
        yield kitchen.problem("cooling_rule", found=code, allowed=known, sentence=sentence)


def _heat(book: _Book) -> Iterator[Problem]:
    for source in book.week.entries("heat_sources"):
        taken = source.take("supply", "appliance", "input_kw")
        supply = book.find("heat_supplies", taken[0]) if taken else None
        feed = supply.take("kind", "capacity_kw") if supply else None
        if not taken or not feed:
            continue
        _, appliance, input_kw = taken
        kind, capacity_kw = feed
        if input_kw > capacity_kw:
            yield source.problem(
                "input_kw",
                found=f"{input_kw:g} kW",
                allowed=f"at most {capacity_kw:g} kW",
                sentence=f"takes {input_kw:g} kW, its supply gives only {capacity_kw:g} kW.",
            )
        wanted = "gas" if appliance.startswith("gas") else "electric"
        if kind != wanted and not (kind == "steam" and appliance.endswith("kettle")):
            yield source.problem(
                "supply",
                found=kind,
                allowed=wanted,
                sentence=f"a {appliance.replace('_', ' ')} runs on {wanted}, its supply carries {kind}.",
            )


def _pots(book: _Book) -> Iterator[Problem]:
    freeboard_mm = book.coefficient("pot.freeboard_simmer_mm")
    for pot in book.week.entries("pots"):
        match pot.take("inner_height_mm", "min_fill_share"):
            case (height_mm, share) if share * height_mm > height_mm - freeboard_mm:
                most = max(0.0, 1.0 - freeboard_mm / height_mm)
                yield pot.problem(
                    "min_fill_share",
                    found=f"{share:g}",
                    allowed=f"at most {most:.2f}",
                    sentence=f"the pot is smaller than its contents: filled to {share:.0%} it leaves less than "
                    f"{freeboard_mm:g} mm of freeboard under the rim.",
                )
        match pot.take("material", "inner_diameter_mm", "inner_height_mm", "mass_kg"):
            case (material, diameter_mm, height_mm, mass_kg):
                area_m2 = math.pi * (diameter_mm * height_mm + diameter_mm**2 / 4) / 1e6
                low, high = (_DENSITY_KG_M3[material] * area_m2 * wall_mm / 1e3 for wall_mm in _WALL_MM)
                if not low <= mass_kg <= high:
                    yield pot.problem(
                        "mass_kg",
                        found=f"{mass_kg:g} kg",
                        allowed=f"{low:.1f} to {high:.0f} kg",
                        sentence=f"a pot of {material} with these measures does not weigh {mass_kg:g} kg.",
                    )
        for outage in pot.entries("outages"):
            yield from _end_after_start(outage)


def _end_after_start(entry: Draft) -> Iterator[Problem]:
    match entry.take("start", "end"):
        case (start, end) if end <= start:
            yield entry.problem(
                "end", found=end.isoformat(), allowed="after the start", sentence="ends before it starts."
            )


def _containers(book: _Book) -> Iterator[Problem]:
    for container in book.week.entries("containers"):
        match container.take("shape", "length_mm", "width_mm", "height_mm", "brim_l"):
            case (shape, length_mm, width_mm, height_mm, brim_l):
                outside_l = length_mm * width_mm * height_mm / 1e6 * (math.pi / 4 if shape == "round" else 1.0)
                if brim_l > outside_l * 1.001:
                    yield container.problem(
                        "brim_l",
                        found=f"{brim_l:g} L",
                        allowed=f"at most {outside_l:.2f} L",
                        sentence=f"holds {brim_l:g} L but measures only {outside_l:.2f} L outside.",
                    )
                if shape == "round" and length_mm != width_mm:
                    yield container.problem(
                        "width_mm",
                        found=f"{width_mm:g} mm",
                        allowed=f"{length_mm:g} mm",
                        sentence="is round, so length and width are both its diameter.",
                    )


def _cooling_devices(book: _Book) -> Iterator[Problem]:
    for device in book.week.entries("cooling_devices"):
        match device.take("vessel", "vessel_fill_l"):
            case (vessel, fill_l):
                yield from _fits(book, device, "vessel_fill_l", vessel, fill_l)
        if device.take("kind") != ("blast_chiller",):
            continue
        for name in _RATING:
            if name in device.values and device.values[name] is None:
                yield device.problem(
                    name,
                    found="nothing",
                    allowed="the figure of the rating plate",
                    sentence=f"a blast chiller needs {name}.",
                )


def _fits(book: _Book, entry: Draft, field: str, container_code: str, wanted_l: float) -> Iterator[Problem]:
    container = book.find("containers", container_code)
    brim = container.take("brim_l") if container else None
    if brim and wanted_l > brim[0]:
        yield entry.problem(
            field,
            found=f"{wanted_l:g} L",
            allowed=f"at most {brim[0]:g} L",
            sentence=f"{wanted_l:g} L do not fit into container {container_code!r} ({brim[0]:g} L to the brim).",
        )


# --- people ------------------------------------------------------------------------------------------------------


def _shifts(book: _Book) -> Iterator[Problem]:
    of_person: dict[str, list[tuple[datetime, datetime, Draft]]] = {}
    for shift in book.week.entries("shifts"):
        yield from _end_after_start(shift)
        match shift.take("person", "start", "end"):
            case (person, start, end) if start < end:
                of_person.setdefault(person, []).append((start, end, shift))
                if end - start > timedelta(hours=_LONGEST_SHIFT_H):
                    hours = (end - start).total_seconds() / 3600
                    yield shift.problem(
                        "end",
                        found=f"{hours:g} h",
                        allowed=f"at most {_LONGEST_SHIFT_H} h",
                        sentence=f"nobody works {hours:g} h at a stretch.",
                    )
    for person, worked in of_person.items():
        worked.sort(key=lambda stretch: stretch[:2])
        busy_until = worked[0][0]
        for start, end, shift in worked:
            if start < busy_until:
                yield shift.problem(
                    "start",
                    found=start.isoformat(),
                    allowed=f"{busy_until.isoformat()} or later",
                    sentence=f"{person!r} is still on the shift before.",
                )
            busy_until = max(busy_until, end)


# --- catalogue ---------------------------------------------------------------------------------------------------


def _ingredients(book: _Book) -> Iterator[Problem]:
    materials = DEFAULT_PARAMETERS.materials()
    for ingredient in book.week.entries("ingredients"):
        match ingredient.take("material"):
            case (material,) if material not in materials:
                yield ingredient.problem(
                    "material",
                    found=material,
                    allowed=", ".join(materials),
                    sentence=f"the material {material!r} is unknown.",
                )
        match ingredient.take("material", "allergens"):
            case (material, allergens) if material.startswith("fish") and "fish" not in allergens:
                yield ingredient.problem(
                    "allergens",
                    found=", ".join(allergens) or "none",
                    allowed="fish among them",
                    sentence="is made of fish and must name the allergen fish.",
                )


def _formulas(book: _Book) -> Iterator[Problem]:
    for formula in book.week.entries("formulas"):
        yield from _solids(book, formula)
        yield from _simmer_window(formula)
        match formula.take("second_draw"):
            case (second,):
                yield from _simmer_window(second)
        longest = formula.take("simmer_max_h")
        for addition in formula.entries("additions"):
            match (longest, addition.take("minutes_before_end")):
                case ((hours,), (minutes,)) if minutes > hours * 60:
                    yield addition.problem(
                        "minutes_before_end",
                        found=f"{minutes} min",
                        allowed=f"at most {hours * 60:g} min",
                        sentence=f"goes in {minutes} min before the end of a simmer of at most {hours * 60:g} min.",
                    )


def _solids(book: _Book, formula: Draft) -> Iterator[Problem]:
    solids = formula.entries("solids")
    shares = [taken[0] for solid in solids if (taken := solid.take("share"))]
    if solids and len(shares) == len(solids) and abs(sum(shares) - 1.0) > _SHARE_SLACK:
        yield formula.problem(
            "solids",
            found=f"{sum(shares):.4g}",
            allowed="1 (within 0.001)",
            sentence=f"the shares of the solids add up to {sum(shares):.4g}, not to 1.",
        )
    for solid in solids:
        match solid.take("role", "ingredient"):
            case (role, code):
                ingredient = book.find("ingredients", code)
                roles = ingredient.take("roles") if ingredient else None
                if roles and role not in roles[0]:
                    yield solid.problem(
                        "ingredient",
                        found=code,
                        allowed=f"an ingredient with the role {role}",
                        sentence=f"{code!r} does not list the role {role} that it fills here.",
                    )


def _simmer_window(entry: Draft) -> Iterator[Problem]:
    match entry.take("simmer_min_h", "simmer_max_h"):
        case (shortest, longest) if shortest > longest:
            yield entry.problem(
                "simmer_max_h",
                found=f"{longest:g} h",
                allowed=f"at least {shortest:g} h",
                sentence=f"the longest simmer ({longest:g} h) is shorter than the shortest ({shortest:g} h).",
            )


def _products(book: _Book) -> Iterator[Problem]:
    kinds_of_store = {taken[0] for store in book.week.entries("stores") if (taken := store.take("kind"))}
    for product in book.week.entries("products"):
        match product.take("container", "net_l"):
            case (container, net_l):
                yield from _fits(book, product, "net_l", container, net_l)
        match product.take("storage"):
            case (storage,) if "stores" in book.week.values and storage not in kinds_of_store:
                yield product.problem(
                    "storage",
                    found=storage,
                    allowed=_listed(kinds_of_store),
                    sentence=f"there is no {storage} store for it.",
                )
        match product.take("life_at_dispatch_days", "shelf_life_days"):
            case (left, life) if left > life:
                yield product.problem(
                    "life_at_dispatch_days",
                    found=f"{left} days",
                    allowed=f"at most {life} days",
                    sentence=f"must leave with {left} days of life but keeps only {life} days.",
                )
        yield from _freezing_room(book, product)
        yield from _second_draw_of(book, product)
        yield from _cubes(book, product)


def _freezing_room(book: _Book, product: Draft) -> Iterator[Problem]:
    match product.take("kind", "storage", "container", "net_l"):
        case ("broth" | "reduction" as kind, "frozen", code, net_l):
            container = book.find("containers", code)
            brim = container.take("brim_l") if container else None
            name = "storage.headspace_stock_share" if kind == "broth" else "storage.headspace_glaze_share"
            share = book.coefficient(name)
            if brim and brim[0] * (1.0 - share) < net_l <= brim[0]:
                yield product.problem(
                    "net_l",
                    found=f"{net_l:g} L",
                    allowed=f"at most {brim[0] * (1.0 - share):.3g} L",
                    sentence=f"freezing needs {share:.0%} of free room in the container.",
                )


def _second_draw_of(book: _Book, product: Draft) -> Iterator[Problem]:
    match product.take("kind", "formula"):
        case ("reduction" | "cubes" as kind, code):
            formula = book.find("formulas", code)
            if formula is None:
                return
            wanted = {"second_draw": "second draw", "reduction_bx": "strength (reduction_bx)"}
            lacking = [name for field, name in wanted.items() if formula.values.get(field, "") is None]
            if lacking:
                yield product.problem(
                    "formula",
                    found=code,
                    allowed="a formula with a " + " and a ".join(wanted.values()),
                    sentence=f"formula {code!r} has no {' and no '.join(lacking)}, which {kind} need.",
                )


def _cubes(book: _Book, product: Draft) -> Iterator[Problem]:
    if product.take("kind") != ("cubes",):
        return
    for field in ("cube_tray", "cubes_per_container"):
        if field in product.values and product.values[field] is None:
            yield product.problem(field, found="nothing", allowed=f"a {field}", sentence=f"cubes need a {field}.")
    match product.take("cube_tray", "cubes_per_container", "net_l"):
        case (code, pieces, net_l):
            tray = book.find("cube_trays", code)
            cell = tray.take("cell_ml") if tray else None
            most_l = pieces * cell[0] / 1000 if cell else None
            if most_l is not None and not 0.8 * most_l <= net_l <= most_l:
                yield product.problem(
                    "net_l",
                    found=f"{net_l:g} L",
                    allowed=f"{0.8 * most_l:.3g} to {most_l:.3g} L",
                    sentence=f"{pieces} cubes of this tray are {0.8 * most_l:.3g} to {most_l:.3g} L, not {net_l:g} L.",
                )


# --- stock and orders --------------------------------------------------------------------------------------------


def _stock(book: _Book) -> Iterator[Problem]:
    for lot in book.week.entries("lots"):
        yield from _dated(book, lot, "made_on", "made")
        yield from _lot_and_product(book, lot)
    for saved in book.week.entries("saved_bones"):
        yield from _dated(book, saved, "saved_on", "saved")


def _dated(book: _Book, entry: Draft, field: str, word: str) -> Iterator[Problem]:
    match entry.take(field, "use_by"):
        case (begun, use_by) if use_by < begun:
            yield entry.problem(
                "use_by",
                found=use_by.isoformat(),
                allowed=f"{begun.isoformat()} or later",
                sentence=f"its use-by {use_by.isoformat()} lies before the day it was {word}, {begun.isoformat()}.",
            )
    planned = book.week.take("plan_from")
    today = book.local_day(planned[0]) if planned else None
    match entry.take(field):
        case (begun,) if today is not None and begun > today:
            yield entry.problem(
                field,
                found=begun.isoformat(),
                allowed=f"{today.isoformat()} or earlier",
                sentence=f"is in stock but will only be {word} on {begun.isoformat()}.",
            )


def _lot_and_product(book: _Book, lot: Draft) -> Iterator[Problem]:
    taken = lot.take("product")
    product = book.find("products", taken[0]) if taken else None
    if product is None:
        return
    match (lot.take("made_on", "use_by"), product.take("shelf_life_days")):
        case ((made_on, use_by), (life,)) if use_by > made_on + timedelta(days=life - 1):
            last = (made_on + timedelta(days=life - 1)).isoformat()
            yield lot.problem(
                "use_by",
                found=use_by.isoformat(),
                allowed=f"{last} or earlier",
                sentence=f"its use-by {use_by.isoformat()} is beyond its shelf life of {life} days ({last}).",
            )
    placed = lot.take("store")
    store = book.find("stores", placed[0]) if placed else None
    match (store.take("kind") if store else None, product.take("storage")):
        case ((kind,), (storage,)) if kind != storage:
            yield lot.problem(
                "store",
                found=kind,
                allowed=f"a {storage} store",
                sentence=f"is kept {storage} but stands in a {kind} store.",
            )


def _plan_days(book: _Book) -> Iterator[Problem]:
    match book.week.take("starts_on", "days", "plan_from"):
        case (starts_on, days, plan_from) if (today := book.local_day(plan_from)) is not None:
            first, last = starts_on - timedelta(days=_DAYS_BEFORE), starts_on + timedelta(days=days - 1)
            if not first <= today <= last:
                yield Problem(
                    "/plan/plan_from",
                    today.isoformat(),
                    f"{first.isoformat()} to {last.isoformat()}",
                    f"Plan: planning from {today.isoformat()} does not belong to the week that starts on "
                    f"{starts_on.isoformat()}.",
                )


def _dispatches(book: _Book) -> Iterator[Problem]:
    span = book.week.take("starts_on", "days")
    last = span[0] + timedelta(days=span[1] - 1 + _DAYS_AFTER) if span else None
    for line in book.week.entries("order_lines"):
        taken = line.take("dispatch_at")
        if not taken:
            continue
        leaves = taken[0]
        day = book.local_day(leaves)
        if book.past_until is not None and leaves < book.past_until:
            yield line.problem(
                "dispatch_at",
                found=leaves.isoformat(),
                allowed=f"{book.past_until.isoformat()} or later",
                sentence="its dispatch is in the past.",
            )
        elif day is not None and last is not None and day > last:
            yield line.problem(
                "dispatch_at",
                found=day.isoformat(),
                allowed=f"{last.isoformat()} or earlier",
                sentence=f"its dispatch on {day.isoformat()} lies after the planned week.",
            )


# --- own coefficients --------------------------------------------------------------------------------------------


def _parameters(book: _Book) -> Iterator[Problem]:
    for own in book.week.entries("parameters"):
        taken = own.take("code")
        try:
            least, most = DEFAULT_PARAMETERS.get(taken[0]).believable if taken else (-math.inf, math.inf)
        except PotwrightError as error:
            yield own.problem(
                "code", found=taken[0] if taken else "", allowed="a code of the parameter set", sentence=error.sentence
            )
            continue
        match own.take("low", "value", "high"):
            case (low, value, high) if not low <= value <= high:
                yield own.problem(
                    "value",
                    found=f"{value:g}",
                    allowed=f"{low:g} to {high:g}",
                    sentence=f"the value {value:g} lies outside its own interval {low:g} to {high:g}.",
                )
        for name in ("low", "value", "high"):
            match own.take(name):
                case (value,) if not least <= value <= most:
                    yield own.problem(
                        name,
                        found=f"{value:g}",
                        allowed=f"{least:g} to {most:g}",
                        sentence=f"{value:g} is not believable, or not on the safe side.",
                    )


_CHECKS: tuple[Callable[[_Book], Iterator[Problem]], ...] = (
    _repeated,
    _references,
    _plan_days,
    _kitchen,
    _heat,
    _pots,
    _containers,
    _cooling_devices,
    _shifts,
    _ingredients,
    _formulas,
    _products,
    _stock,
    _dispatches,
    _parameters,
)
