"""Labels and notes for tests: made-up products."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from production.domain.sheets.content import (
    DispatchNote,
    Label,
    LabelCopies,
    LabelIngredient,
    LabelSheet,
    NoteLine,
    NoteLot,
)
from production.domain.sheets.heading import Heading
from production.domain.sheets.label_sizes import label_size
from production.domain.sheets.labels import label_sheet

HEADING = Heading(
    kitchen="Small test kitchen",
    time_zone="America/Denver",
    units="metric",
    week=date(2027, 2, 1),
    plan_made_at=datetime(2027, 1, 30, 17, 0, tzinfo=UTC),
    parameter_set="test",
    plan_mark="abc123",
)


def a_label(**changes: Any) -> Label:
    """Fish stock with celery and egg white, in tubs of 5 L, with an article number."""
    label = Label(
        law="eu",
        name="Fish stock 5 L",
        ingredients=(
            LabelIngredient(name="Water"),
            LabelIngredient(name="Halibut frames", allergens=("fish",)),
            LabelIngredient(name="Onion"),
            LabelIngredient(name="Celery stalk", allergens=("celery",)),
            LabelIngredient(name="Egg white", allergens=("eggs",)),
            LabelIngredient(name="Bay leaf"),
        ),
        allergens=("eggs", "fish", "celery"),
        lot="2702020013",
        made_on=date(2027, 2, 2),
        use_by=date(2027, 2, 7),
        frozen=False,
        keep_temp=Decimal(5),
        keep_unit="C",
        net_l=Decimal("5.0"),
        pieces=None,
        units="metric",
        kitchen="Small test kitchen",
        gtin="9501101530003",  # a number with a right check digit; the example prefix of the GS1 documents
    )
    return replace(label, **changes)


def a_sheet(*labels: Label, size: str = "a4-14", first_place: int = 1, copies: int = 1) -> LabelSheet:
    """A sheet with some copies of each label."""
    return label_sheet(
        heading=HEADING,
        key="270202",
        size=size,
        first_place=first_place,
        places=label_size(size).places,
        labels=[LabelCopies(label=each, copies=copies) for each in labels],
    )


def a_note(**changes: Any) -> DispatchNote:
    """What leaves for a bistro: one line whole, one short."""
    note = DispatchNote(
        kind="dispatch_note",
        key="bistro-270203-0900",
        heading=HEADING,
        outlet="Bistro at the Mill",
        contact="555 0100",
        dispatch_at=datetime(2027, 2, 3, 16, 0, tzinfo=UTC),
        lines=(
            NoteLine(
                product="Fish stock 5 L",
                container="Tub 5 L",
                ordered=6,
                allergens=("fish", "celery"),
                keep_temp=Decimal(5),
                keep_unit="C",
                lots=(
                    NoteLot(lot="2702020013", containers=4, use_by=date(2027, 2, 7), frozen=False),
                    NoteLot(lot="270202002A", containers=2, use_by=date(2027, 2, 8), frozen=False),
                ),
            ),
            NoteLine(
                product="Poultry cubes",
                container="Cube bag",
                ordered=3,
                allergens=(),
                keep_temp=Decimal(-18),
                keep_unit="C",
                lots=(NoteLot(lot="270129001K", containers=2, use_by=date(2027, 7, 31), frozen=True),),
            ),
        ),
    )
    return replace(note, **changes)
