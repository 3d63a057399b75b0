"""A week from orders to runs: nothing lost, nothing promised that the kitchen cannot do, and the reasons told."""

from __future__ import annotations

import itertools
import json
from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, time
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from production.domain.errors import DoesNotFit, PotwrightError, UnknownParameter
from production.domain.kitchen import (
    IngredientStock,
    OwnParameter,
    ParLevel,
    SavedBones,
    SecondDraw,
    Shift,
    StockLot,
    Supplier,
    Week,
)
from production.domain.parameters import DEFAULT_PARAMETERS
from production.domain.plan import (
    Plan,
    make_plan,
    parameters_of,
    plan_dumps,
    plan_from_json,
    plan_schema,
    plan_to_json,
)
from production.domain.plan import layout as planning
from production.domain.schedule.result import Violation
from production.domain.week_file import parse_week
from tests.builders import (
    ZONE,
    a_kitchen,
    a_line,
    a_pot,
    a_product,
    a_week,
    at,
    fish,
    poultry,
    small_kitchen,
)
from tests.domain.plan_facts import containers_of_lines, faults

FIXTURES = Path(__file__).parents[2] / "fixtures"


@cache
def planned(name: str) -> Plan:
    """The plan of one of the weeks of these tests, made once."""
    if name == "small":
        return make_plan(week=a_week())
    return make_plan(week=parse_week((FIXTURES / f"{name}_week.json").read_bytes()))


every_week = pytest.mark.parametrize("name", ["demo", "impossible", "small"])


@every_week
def test_everything_in_a_plan_holds_when_it_is_worked_out_again(name: str) -> None:
    assert list(faults(planned(name))) == []


@every_week
def test_every_container_is_from_stock_or_in_a_run_or_unserved(name: str) -> None:
    asked, found = containers_of_lines(planned(name))
    assert asked == found


def test_the_demo_week_serves_every_order_in_time() -> None:
    plan = planned("demo")
    assert plan.schedule.status == "complete"
    assert plan.unserved == ()
    assert plan.late == ()
    assert {run.formula for run in plan.runs} == {formula.code for formula in plan.week.formulas}
    assert any(run.batch.reduction for run in plan.runs)
    assert plan.storage_choices


def test_the_impossible_week_names_what_is_too_small() -> None:
    plan = planned("impossible")
    told = {(each.line, each.resource) for each in plan.unserved}
    assert {line for line, resource in told if resource == "cooling"} == {"L002"}  # the big kettle over two cans
    assert ("L003", "ingredients") in told  # fish whose supplier comes after its dispatch
    assert "L001" in {late.line for late in plan.late} | {line for line, _ in told}
    assert plan.schedule.status == "partial"
    assert all(each.sentence and each.remedy for each in plan.unserved)
    assert all(late.sentence and late.resource for late in plan.late)


@every_week
def test_a_late_line_is_ready_when_its_run_says_so(name: str) -> None:
    plan = planned(name)
    runs = {run.code: run for run in plan.runs}
    for late in plan.late:
        assert late.ready_at > late.due_at
        assert late.due_at == plan.week.get("order_lines", late.line).dispatch_at
        assert late.ready_at in {draw.ready_at for draw in runs[late.run].draws}


@every_week
def test_a_plan_comes_back_from_its_file_as_it_was(name: str) -> None:
    plan = planned(name)
    assert plan_from_json(json.loads(plan_dumps(plan))) == plan


@every_week
def test_a_plan_file_keeps_its_schema(name: str) -> None:
    schema = plan_schema()
    Draft202012Validator.check_schema(schema)
    assert list(Draft202012Validator(schema).iter_errors(json.loads(plan_dumps(planned(name))))) == []


def test_the_schema_refuses_a_plan_without_its_runs() -> None:
    data = plan_to_json(planned("small"))
    del data["runs"]
    assert not Draft202012Validator(plan_schema()).is_valid(data)


def test_the_same_week_gives_the_same_plan() -> None:
    assert plan_dumps(make_plan(week=a_week())) == plan_dumps(planned("small"))


@pytest.mark.parametrize("broken", [{"format": "other"}, {"version": 2}, {"runs": 5}, {"origin": "yesterday"}])
def test_a_file_that_is_no_plan_is_refused(broken: dict[str, object]) -> None:
    with pytest.raises(PotwrightError) as refused:
        plan_from_json(plan_to_json(planned("small")) | broken)
    assert refused.value.code == "bad-plan"


def test_progress_only_goes_forward_and_ends_at_the_end() -> None:
    told: list[tuple[str, int, int]] = []
    make_plan(week=a_week(), progress=lambda *step: told.append(step))
    assert [done for _, done, _ in told] == sorted(done for _, done, _ in told)
    assert told[-1][1:] == (5, 5)
    assert {whole for _, _, whole in told} == {5}


def test_a_cancelled_plan_tells_what_it_left_undone() -> None:
    plan = make_plan(week=a_week(), cancelled=lambda: True)
    assert plan.runs == ()
    assert {each.resource for each in plan.unserved} == {"stopped"}
    asked, found = containers_of_lines(plan)
    assert asked == found


def test_a_plan_that_breaks_a_limit_is_never_returned(monkeypatch: pytest.MonkeyPatch) -> None:
    broken = Violation(code="pot", sentence="Two runs are in one pot.", at_min=0)
    monkeypatch.setattr(planning, "check_schedule", lambda *_: (broken,))
    with pytest.raises(PotwrightError) as refused:
        make_plan(week=a_week())
    assert refused.value.code == "plan-breaks-a-limit"
    assert "Two runs are in one pot." in refused.value.sentence


# --- the kitchen's own coefficients ----------------------------------------------------------------------------------


def own(**changes: Any) -> OwnParameter:
    parameter = OwnParameter(
        code="evaporation.simmer_flux_scale", value=0.8, confidence="B", n=6, low=0.7, high=0.9, source="six runs"
    )
    return replace(parameter, **changes)


def test_the_kitchens_own_coefficients_replace_the_defaults_whole() -> None:
    week = small_kitchen(parameters=(own(),))
    used = parameters_of(week=week).get("evaporation.simmer_flux_scale")
    assert (used.value, used.low, used.high, used.cls, used.n, used.source) == (0.8, 0.7, 0.9, "B", 6, "six runs")
    assert used.unit == DEFAULT_PARAMETERS.get("evaporation.simmer_flux_scale").unit
    others = [each for each in parameters_of(week=week).parameters if each.code != used.code]
    assert others == [each for each in DEFAULT_PARAMETERS.parameters if each.code != used.code]


def test_different_coefficients_have_different_names_and_the_defaults_their_own() -> None:
    one, other = (parameters_of(week=small_kitchen(parameters=(own(value=value),))) for value in (0.8, 0.85))
    assert len({DEFAULT_PARAMETERS.version, one.version, other.version}) == 3
    assert parameters_of(week=small_kitchen()) is DEFAULT_PARAMETERS


def test_an_unknown_coefficient_is_refused() -> None:
    with pytest.raises(UnknownParameter):
        parameters_of(week=small_kitchen(parameters=(own(code="no.such"),)))


def test_less_steam_takes_fewer_bones() -> None:
    def solids_kg(week: Week) -> float:
        return next(run.charge.solids_kg for run in make_plan(week=week).runs)

    week = small_kitchen(order_lines=(a_line(containers=4),))
    assert solids_kg(replace(week, parameters=(own(value=0.7),))) < solids_kg(week)


# --- what is missing is named ----------------------------------------------------------------------------------------

ORDER = (a_line(containers=4),)


def resources(week: Week) -> set[str]:
    plan = make_plan(week=week)
    assert plan.runs == ()
    asked, found = containers_of_lines(plan)
    assert asked == found
    return {each.resource for each in plan.unserved}


@pytest.mark.parametrize(
    ("changes", "resource"),
    [
        ({"pots": ()}, "pots"),
        ({"shifts": ()}, "cooks"),
        ({"offers": ()}, "ingredients"),
        ({"cooling_devices": ()}, "cooling"),
        ({"ice_machine": None, "cooling_devices": small_kitchen().cooling_devices[:1]}, "cooling"),
    ],
    ids=["no pots", "no shifts", "no offers", "no cooling", "no ice"],
)
def test_what_the_kitchen_lacks_is_named(changes: dict[str, Any], resource: str) -> None:
    assert resources(small_kitchen(order_lines=ORDER, **changes)) == {resource}


@pytest.mark.parametrize("store", [{"spare_kw": 0.0}, {"air_temp_c": -0.2}], ids=["no power", "not cold"])
def test_a_freezer_that_cannot_freeze_refuses_its_product_and_not_the_week(store: dict[str, float]) -> None:
    frozen = a_product(code="frozen", storage="frozen", shelf_life_days=90)
    week = small_kitchen(
        products=(*small_kitchen().products, frozen),
        order_lines=(
            a_line(code="F", product="frozen", containers=4),
            a_line(code="L", product="fish-2", containers=10),
        ),
        stores=tuple(
            replace(each, **store) if each.kind == "frozen" else each  # type: ignore[arg-type]
            for each in small_kitchen().stores
        ),
    )
    plan = make_plan(week=week)
    assert [(each.line, each.resource) for each in plan.unserved] == [("F", "storage")]
    assert [run.formula for run in plan.runs] == ["fish"]


def test_a_glaze_that_cannot_be_cooled_says_so() -> None:
    # A rule that counts from the end of cooking: portioning a glaze for an hour leaves no time
    slow = replace(a_kitchen().tasks, portion_base_min=160.0)
    chiller = replace(small_kitchen().cooling_devices[1], vessel_fill_l=2.0, power_kw=40.0, rated_kg=200.0)
    week = small_kitchen(
        kitchen=a_kitchen(cooling_rule="IE_GN15", tasks=slow),
        cooling_devices=(replace(chiller, places=30, air_temp_c=-20.0),),
        order_lines=(a_line(code="G", product="poultry-glaze", containers=1),),
    )
    (told,) = make_plan(week=week).unserved
    assert (told.line, told.resource) == ("G", "cooling")
    assert "reduction of Poultry broth" in told.sentence


def test_a_container_larger_than_any_draw_is_told() -> None:
    churn = replace(small_kitchen().containers[1], code="churn", brim_l=42.0, length_mm=400.0, width_mm=400.0)
    large = a_product(code="poultry-40", container="churn", net_l=40.0)
    week = small_kitchen(
        containers=(*small_kitchen().containers, replace(churn, height_mm=400.0)),
        products=(*small_kitchen().products, large),
        order_lines=(a_line(product="poultry-40", containers=2),),
    )
    plan = make_plan(week=week)
    assert plan.runs == ()
    assert [(each.line, each.containers, each.resource) for each in plan.unserved] == [("L1", 1, "pots")] * 2


def test_a_par_level_that_comes_late_is_no_late_order() -> None:
    # Nobody works before the last evening: the par level is wanted at midnight and is ready after it
    week = small_kitchen(
        par_levels=(ParLevel(product="poultry-5", containers=4),),
        shifts=(Shift(person="ana", start=at("2027-02-07 19:00"), end=at("2027-02-08 08:00")),),
    )
    plan = make_plan(week=week)
    assert [run.batch.first[0].pegs[0].line for run in plan.runs] == ["par:poultry-5"]
    assert [late.label for late in plan.schedule.late] == ["par:poultry-5"]
    assert plan.late == ()


def test_every_number_of_a_run_can_be_opened_by_its_key() -> None:
    for run in planned("demo").runs:
        assert run.figure("solids_kg").value == run.charge.solids_kg
        assert len({figure.key for figure in run.figures}) == len(run.figures)


def test_without_orders_there_is_nothing_to_do() -> None:
    plan = make_plan(week=small_kitchen())
    assert (plan.runs, plan.unserved, plan.late, plan.purchases.orders) == ((), (), (), ())
    assert plan.schedule.status == "empty"


def test_a_par_level_that_cannot_be_filled_is_no_unserved_order() -> None:
    plan = make_plan(week=small_kitchen(par_levels=(ParLevel(product="poultry-5", containers=3),), shifts=()))
    assert plan.runs == ()
    assert plan.unserved == ()


def test_stock_alone_serves_a_line_without_a_run() -> None:
    lot = StockLot(
        code="lot",
        product="poultry-5",
        containers=6,
        made_on=date(2027, 1, 29),
        use_by=date(2027, 2, 8),
        store="walk-in",
    )
    plan = make_plan(week=small_kitchen(lots=(lot,), order_lines=(a_line(),)))
    assert plan.runs == ()
    assert [(served.line, served.containers) for served in plan.demand.served] == [("L1", 6)]


def test_two_products_of_one_formula_share_a_run() -> None:
    large = a_product(code="fish-5", formula="fish", shelf_life_days=4)
    week = small_kitchen(
        products=(*small_kitchen().products, large),
        order_lines=(
            a_line(code="small", product="fish-2", containers=5),
            a_line(code="large", product="fish-5", containers=2),
        ),
    )
    (run,) = make_plan(week=week).runs
    assert {portion.product: portion.containers for portion in run.batch.first} == {"fish-2": 5, "fish-5": 2}
    assert run.charge.first.cold_l == pytest.approx(20.0)


def test_a_broth_made_for_its_second_draw_alone_is_kept_as_surplus() -> None:
    plan = make_plan(week=small_kitchen(order_lines=(a_line(code="G", product="poultry-glaze", containers=1),)))
    (run,) = plan.runs
    assert run.batch.first[0].surplus == run.batch.first[0].containers
    assert [stage.name for stage in run.placed.stages][5:] == [
        "refill",
        "second_heat_up",
        "second_simmer",
        "second_draw_off",
        "hot_hold",
        "reduce",
        "finish",
        "portion",
    ]


# --- ingredients are there when the pot is loaded --------------------------------------------------------------------


def waiting_week(**changes: Any) -> Week:
    """Saved bones that are good on Monday; nobody works before Tuesday; the supplier comes on Wednesday."""
    slow = Supplier(
        code="market",
        name="Market hall",
        contact="market@supplier.example",
        order_by=time(16, 0),
        lead_days=4,
        delivers_on=(1, 2, 3, 4, 5),
        delivers_at=time(5, 30),
    )
    week = small_kitchen(
        suppliers=(slow,),
        shifts=tuple(
            Shift(person="ana", start=at(f"2027-02-0{day} 06:00"), end=at(f"2027-02-0{day} 21:00")) for day in (2, 3, 4)
        ),
        saved_bones=tuple(
            SavedBones(
                code=f"{code}-bank",
                ingredient=code,
                mass_kg=100.0,
                saved_on=date(2027, 1, 20),
                use_by=date(2027, 2, 1),
            )
            for code in ("frames", "feet")
        ),
        ingredient_stock=tuple(
            IngredientStock(code=code, ingredient=code, mass_kg=100.0, use_by=date(2027, 3, 1))
            for code in ("onion", "bay")
        ),
        order_lines=(a_line(containers=4, dispatch_at=at("2027-02-02 20:00")),),
    )
    return replace(week, **changes)


def test_a_run_waits_for_what_it_must_buy_after_all() -> None:
    plan = make_plan(week=waiting_week())
    (run,) = plan.runs
    frames = next(part for part in run.sourced if part.ingredient == "frames")
    assert frames.to_buy_kg == pytest.approx(frames.mass_kg)
    assert run.start_at >= at("2027-02-03 05:30")
    assert [order.delivery_at for order in plan.purchases.orders] == [at("2027-02-03 05:30")]
    assert [late.line for late in plan.late] == ["L1"]


def test_a_run_whose_saved_bones_expire_and_that_nobody_supplies_is_given_up() -> None:
    plan = make_plan(week=waiting_week(offers=()))
    assert plan.runs == ()
    assert [(each.line, each.resource) for each in plan.unserved] == [("L1", "ingredients")]


# --- the change of the clocks ----------------------------------------------------------------------------------------


def spring_week() -> Week:
    """The week in which the clocks of Denver go forward: Sunday, 2027-03-14, at 02:00."""
    days = range(11, 18)
    return small_kitchen(
        starts_on=date(2027, 3, 11),
        plan_from=at("2027-03-10 09:00"),
        shifts=tuple(
            Shift(person="ana", start=at(f"2027-03-{day} 06:00"), end=at(f"2027-03-{day} 21:00")) for day in days
        ),
        order_lines=tuple(
            a_line(code=f"L{day}", containers=3, dispatch_at=at(f"2027-03-{day} 20:30")) for day in (12, 14, 15, 16)
        ),
        products=tuple(replace(product, shelf_life_days=2) for product in small_kitchen().products[:1]),
    )


def test_a_week_with_a_change_of_the_clocks_keeps_the_hours_on_the_wall() -> None:
    week = spring_week()
    plan = make_plan(week=week)
    assert len(plan.runs) == 4
    assert list(faults(plan)) == []
    assert plan.unserved == ()
    assert plan.late == ()
    assert plan.origin == datetime(2027, 3, 10, 7, 0, tzinfo=UTC)
    # Midnight between the 15th and the 16th is five days of 24 h and one of 23 h after the origin
    assert plan.at(6 * 1440 - 60) == at("2027-03-16 00:00")
    for run in plan.runs:
        started = run.start_at.astimezone(ZONE)
        assert time(6, 0) <= started.time() <= time(21, 0)
        lasting = sum(stage.end_min - stage.start_min for stage in run.placed.stages)
        assert (run.draws[0].start_at - run.start_at).total_seconds() / 60 == lasting


def test_a_plan_over_the_change_of_the_clocks_comes_back_from_its_file() -> None:
    plan = make_plan(week=spring_week())
    back = plan_from_json(json.loads(plan_dumps(plan)))
    assert back == plan
    assert back.at(8000) == plan.at(8000)


# --- any legal week --------------------------------------------------------------------------------------------------

RULES = ("FDA_A_C", "FDA_A", "US_MD_SCHED", "AU_322", "FSIS_B_OPT2", "CA_RETAIL", "FR_2009", "IE_GN15", "UK_CF89")


@st.composite
def weeks(draw: st.DrawFn) -> Week:
    """The small kitchen with equipment, formulas and orders of every legal kind."""
    base = a_week()
    some = draw(st.integers(0, 2**32))
    share = st.floats(0.5, 1.7)
    minimum_h = draw(st.floats(0.25, 6.0))
    maximum_h = minimum_h + draw(st.sampled_from([0.0, 0.01, 3.0]))
    second_h = draw(st.floats(0.25, 4.0))
    cook = poultry(
        lid=draw(st.sampled_from(["open", "ajar", "on"])),
        water_kg_per_kg_solids=draw(st.floats(0.5, 4.0)),
        simmer_below_boil_k=draw(st.sampled_from([0.0, 4.0, 30.0])),
        simmer_min_h=minimum_h,
        simmer_max_h=maximum_h,
        second_draw=SecondDraw(
            refill_share=draw(st.floats(0.2, 2.0)), simmer_min_h=second_h, simmer_max_h=second_h + 1.0
        ),
        reduction_bx=draw(st.sampled_from([5.0, 20.0, 60.0])),
        salt_share=draw(st.sampled_from([0.0, 0.01])),
        additions=tuple(each for each in poultry().additions if each.minutes_before_end <= 60 * maximum_h),
    )
    pots = tuple(
        replace(
            pot,
            inner_diameter_mm=pot.inner_diameter_mm * draw(share),
            inner_height_mm=pot.inner_height_mm * draw(share),
            min_fill_share=draw(st.sampled_from([0.05, 0.35])),
        )
        for pot in (a_pot(), base.pots[1])
    )
    devices = tuple(
        replace(each, places=draw(st.integers(1, 8)), vessel_fill_l=each.vessel_fill_l * draw(st.floats(0.1, 1.0)))
        for each in base.cooling_devices
        if draw(st.booleans())
    )
    lines = tuple(
        a_line(
            code=f"L{n}",
            product=product,
            containers=draw(st.integers(1, 12)),
            dispatch_at=at(f"2027-02-0{draw(st.integers(1, 7))} {draw(st.integers(0, 23)):02d}:15"),
        )
        for n, product in enumerate(draw(st.lists(st.sampled_from([p.code for p in base.products]), max_size=5)))
    )
    return replace(
        base,
        kitchen=a_kitchen(
            altitude_m=draw(st.sampled_from([-50.0, 300.0, 3500.0])),
            cooling_rule=draw(st.sampled_from(RULES)),
            unattended_simmer=draw(st.booleans()),
            hot_hold_max_h=draw(st.sampled_from([0.0, 3.0])),
            mains_water_c=draw(st.sampled_from([0.0, 10.0, 40.0])),
        ),
        pots=tuple(pot for pot in pots if draw(st.booleans())) if some % 5 else pots,
        cooling_devices=devices,
        formulas=(cook, fish(lid=draw(st.sampled_from(["open", "on"])))),
        order_lines=lines,
        shifts=tuple(shift for shift in base.shifts if draw(st.booleans())),
        ingredients=tuple(
            replace(each, charge_temp_c=draw(st.sampled_from([-18.0, -1.0, 4.0, 20.0]))) for each in base.ingredients
        ),
    )


@pytest.mark.long
@settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))
@given(week=weeks())
def test_any_legal_week_gives_a_plan_in_which_everything_holds(week: Week) -> None:
    plan = make_plan(week=week)
    assert list(faults(plan)) == []
    assert plan_from_json(json.loads(plan_dumps(plan))) == plan


def test_a_simmer_window_between_two_minutes_promises_no_more_than_it_gives() -> None:
    narrow = poultry(simmer_min_h=2.985, simmer_max_h=2.995, second_draw=SecondDraw(simmer_min_h=1.0, simmer_max_h=2.0))
    week = small_kitchen(
        formulas=(narrow, fish()),
        order_lines=(a_line(containers=4), a_line(code="G", product="poultry-glaze", containers=1)),
    )
    plan = make_plan(week=week)
    (run,) = plan.runs
    assert next(stage.end_min - stage.start_min for stage in run.placed.stages if stage.name == "simmer") == 180
    assert run.charge.simmer_h == 2.995
    assert list(faults(plan)) == []


@every_week
def test_money_of_the_purchases_adds_up_to_the_cent(name: str) -> None:
    plan = planned(name)
    offers = {offer.code: offer for offer in plan.week.offers}
    total = sum(
        (offers[item.offer].price * item.packs for order in plan.purchases.orders for item in order.items), Decimal(0)
    )
    assert plan.purchases.total == total
    for order, item in itertools.chain.from_iterable(((o, i) for i in o.items) for o in plan.purchases.orders):
        assert order.delivery_at <= item.needed_at
        assert order.order_by >= plan.week.plan_from


@every_week
def test_what_is_bought_covers_what_the_runs_must_buy(name: str) -> None:
    plan = planned(name)
    trim = {each.code: each.trim_yield_share for each in plan.week.ingredients}
    wanted: Counter[str] = Counter()
    bought: Counter[str] = Counter()
    for run in plan.runs:
        for part in run.sourced:
            wanted[part.ingredient] += part.to_buy_kg / trim[part.ingredient]  # type: ignore[assignment]
    for order in plan.purchases.orders:
        for item in order.items:
            bought[item.ingredient] += item.mass_kg  # type: ignore[assignment]
    for ingredient, mass_kg in wanted.items():
        assert bought[ingredient] >= mass_kg - 1e-6
        largest_kg = max((offer.pack_kg for offer in plan.week.offers if offer.ingredient == ingredient), default=0.0)
        assert bought[ingredient] - mass_kg < largest_kg + 1e-6


@pytest.mark.long
def test_a_mistyped_order_is_refused_before_hours_are_spent_on_it() -> None:
    with pytest.raises(DoesNotFit) as refused:
        make_plan(week=small_kitchen(order_lines=(a_line(containers=9999),)))
    assert refused.value.code == "too-many-runs"
