"""Content for document tests: an invented kitchen, written by hand, not planned."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from production.domain.sheets import (
    BatchSheet,
    ChargeLine,
    CoolingLog,
    CurvePoint,
    ExpectedDraw,
    Filled,
    Heading,
    LimitLine,
    PotFill,
    PurchaseLine,
    PurchaseList,
    StageLine,
)

START = datetime(2026, 3, 10, 12, 30, tzinfo=UTC)  # 06:30 in Denver
HEADING = Heading(
    kitchen="Larkspur Ridge Kitchen",
    time_zone="America/Denver",
    units="metric",
    week=date(2026, 3, 9),
    plan_made_at=datetime(2026, 3, 8, 23, 5, tzinfo=UTC),
    parameter_set="defaults 1",
    plan_mark="7f3a21",
)


def after(hours: float) -> datetime:
    return START + timedelta(hours=hours)


def batch_sheet() -> BatchSheet:
    """A beef run with a second draw that is reduced and ends after midnight."""
    return BatchSheet(
        kind="batch_sheet",
        key="R07",
        heading=HEADING,
        run="R07",
        formula="Brown beef stock",
        formula_version=3,
        start_at=START,
        end_at=after(19.25),
        fill=PotFill(
            pot="Big Juniper",
            heat_source="east range, left burner",
            inner_diameter_mm=500,
            inner_height_mm=510,
            brim_l=100.1,
            solids_l=26.4,
            water_l=56.1,
            cold_fill_l=82.5,
            fill_mark_mm=90,
            hot_mark_mm=66,
            freeboard_mm=50,
        ),
        charge=(
            ChargeLine(
                order=1, name="Beef knuckle bones, roasted", what="solids", role="bones", mass_kg=18.4,
                volume_l=None, from_bank_kg=6.5, add_at=None, allergens=(), figure="mass_kg",
            ),
            ChargeLine(
                order=2, name="Ox tail trim", what="solids", role="collagen-rich meat", mass_kg=9.2,
                volume_l=None, from_bank_kg=0.0, add_at=None, allergens=(), figure="mass_kg",
            ),
            ChargeLine(
                order=3, name="Cold water", what="water", role="water", mass_kg=56.0,
                volume_l=56.1, from_bank_kg=0.0, add_at=None, allergens=(), figure="mass_kg",
            ),
            ChargeLine(
                order=4, name="Onions, halved", what="mirepoix", role="mirepoix", mass_kg=2.35,
                volume_l=None, from_bank_kg=0.0, add_at=after(7.5), allergens=(), figure="mass_kg",
            ),
            ChargeLine(
                order=5, name="Celeriac", what="mirepoix", role="mirepoix", mass_kg=1.15,
                volume_l=None, from_bank_kg=0.0, add_at=after(7.5), allergens=("celery",), figure="mass_kg",
            ),
            ChargeLine(
                order=6, name="Bay leaf", what="aromatics", role="aromatics", mass_kg=0.012,
                volume_l=None, from_bank_kg=0.0, add_at=after(8.75), allergens=(), figure="mass_kg",
            ),
        ),
        stages=(
            StageLine(
                kind="load", title="Load", start_at=START, end_at=after(0.5),
                do="Bones first, then trim; cold water to the mark.", record="water meter, L",
                caution="Two people for anything over 25 kg.",
            ),
            StageLine(
                kind="heat_up", title="Heat up", start_at=after(0.5), end_at=after(2.5),
                do="Full burner, no lid; no stirring.", record="time of first bubbles", caution="",
            ),
            StageLine(
                kind="skim", title="Skim", start_at=after(2.5), end_at=after(3),
                do="Turn down, skim until the foam is white.", record="foam taken, kg", caution="",
            ),
            StageLine(
                kind="simmer", title="Simmer", start_at=after(3), end_at=after(9.5),
                do="Barely moving; top up nothing.", record="temperature every 2 h",
                caution="Gas burns: hood on until the burner is off.",
            ),
            StageLine(
                kind="draw_off", title="Draw off", start_at=after(9.5), end_at=after(10),
                do="Strain into the cooling pans.", record="weight and time",
                caution="Scald: face shield, long gloves, dry floor.",
            ),
            StageLine(
                kind="refill", title="Refill", start_at=after(10), end_at=after(10.25),
                do="52 L of hot water over the bones.", record="L", caution="",
            ),
            StageLine(
                kind="second_heat_up", title="Heat up again", start_at=after(10.25), end_at=after(11),
                do="Full burner.", record="time", caution="",
            ),
            StageLine(
                kind="second_simmer", title="Second simmer", start_at=after(11), end_at=after(14),
                do="As before.", record="temperature", caution="",
            ),
            StageLine(
                kind="second_draw_off", title="Second draw", start_at=after(14), end_at=after(14.5),
                do="Strain, discard the bones.", record="weight and time", caution="",
            ),
            StageLine(
                kind="reduce", title="Reduce", start_at=after(14.5), end_at=after(18.5),
                do="Rolling boil to 9.5 kg.", record="weight", caution="Scorches from 2 L: stay at the pot.",
            ),
            StageLine(
                kind="portion", title="Portion", start_at=after(18.5), end_at=after(19.25),
                do="Fill the trays.", record="trays", caution="",
            ),
        ),
        draws=(
            ExpectedDraw(
                name="First draw", at=after(9.5), mass_kg=47.8, cold_l=47.35, hot_l=49.1, hot_temp_c=91.5,
                solids_bx=2.6,
                filled=(Filled(product="Beef stock", container="10 L pail", containers=4, net_l=10.0, pieces=None),),
                cooled_in="Ice sink north, 4 pans", ice_kg=61.0, log_key="R07-1",
            ),
            ExpectedDraw(
                name="Reduction", at=after(18.5), mass_kg=9.5, cold_l=8.9, hot_l=9.2, hot_temp_c=91.5, solids_bx=18.0,
                filled=(Filled(product="Beef glaze cubes", container="bag", containers=17, net_l=0.5, pieces=340),),
                cooled_in="Blast chiller", ice_kg=0.0, log_key="R07-2",
            ),
        ),
        boil_temp_c=93.5,
        simmer_temp_c=89.5,
        evaporation_kg_h=2.15,
        allergens=("celery",),
        cautions=(
            "Unattended from 22:00: simmer only, nothing on the burner beside it.",
            "Celery: wash the pot before a formula without it.",
        ),
    )  # fmt: skip


def cooling_log() -> CoolingLog:
    """The log of the first draw in the ice sink."""
    return CoolingLog(
        kind="cooling_log",
        key="R07-1",
        heading=HEADING,
        run="R07",
        draw="first draw",
        formula="Brown beef stock",
        products=(Filled(product="Beef stock", container="10 L pail", containers=4, net_l=10.0, pieces=None),),
        device="Ice sink north",
        vessel="deep steel pan",
        vessels=4,
        litres=40.0,
        draw_litres=40.0,
        fill_l=12.3,
        depth_mm=98,
        ice_kg=61.0,
        start_at=after(9.5),
        start_temp_c=91.5,
        rule="Two-stage cooling, Celsius figures",
        jurisdiction="United States, where adopted",
        rule_source="FDA Food Code 2022, 3-501.14(A)",
        limits=(
            LimitLine(
                stage=1, from_temp=Decimal(57), to_temp=Decimal(21), temp_unit="C", limit_min=120,
                counted_from="passing 57 °C", inclusive=True, predicted_min=74, margin_min=46,
            ),
            LimitLine(
                stage=2, from_temp=Decimal(57), to_temp=Decimal(5), temp_unit="C", limit_min=360,
                counted_from="passing 57 °C", inclusive=True, predicted_min=168, margin_min=192,
            ),
        ),
        notes=("Whole vessels only: what is left in the pot has no log.",),
        clock_starts="The clock starts at the last reading of 57 °C or more.",
        expected=tuple(CurvePoint(minute=m, temp_c=2 + 89.5 * 0.978**m) for m in range(0, 241, 10)),
        slow=tuple(CurvePoint(minute=m, temp_c=2 + 89.5 * 0.982**m) for m in range(0, 241, 10)),
        reading_minutes=(0, 30, 60, 90, 120, 180, 240, 300, 360),
        corrective=(
            "Behind at 60 min: fresh ice, stir every 5 min, split into shallow pans.",
            "Over 21 °C at 120 min: reheat to 74 °C once and start again, or discard.",
            "Over 5 °C at 360 min: discard.",
            "Ice bin empty: move two pans to the chiller and open a second log.",
            "History not known: discard.",
        ),
        cautions=("Hot liquid: carry pans with two people, never above the hip.",),
    )  # fmt: skip


def purchase_list() -> PurchaseList:
    """Bones and vegetables from one butcher."""
    return PurchaseList(
        kind="purchase_list",
        key="P-01",
        heading=HEADING,
        supplier="Tanager Meats",
        contact="orders 555 0142",
        order_by=datetime(2026, 3, 9, 18, 0, tzinfo=UTC),
        delivery_at=datetime(2026, 3, 10, 11, 30, tzinfo=UTC),
        currency="USD",
        lines=(
            PurchaseLine(
                ingredient="Beef knuckle bones", packs=3, pack_kg=10.0, mass_kg=30.0, needed_kg=27.35,
                price=Decimal("24.50"), cost=Decimal("73.50"), needed_by=START, for_runs=("R07", "R09"),
            ),
            PurchaseLine(
                ingredient="Ox tail trim", packs=2, pack_kg=5.0, mass_kg=10.0, needed_kg=9.2,
                price=Decimal("31.20"), cost=Decimal("62.40"), needed_by=START, for_runs=("R07",),
            ),
        ),
        total=Decimal("135.90"),
    )  # fmt: skip


def in_us_units(content: BatchSheet) -> BatchSheet:
    """The same run for a kitchen that reads pounds, quarts and inches."""
    return replace(content, heading=replace(content.heading, units="us"))
