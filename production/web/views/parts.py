"""Every component and drawing in every state, for developers; the samples are invented."""

from dataclasses import dataclass
from math import exp
from random import Random
from typing import Any

from django import forms
from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from production.drawing.canvas import Size, Svg
from production.drawing.cooling_corridor import (
    BandPoint,
    CoolingCorridor,
    CurvePoint,
    CurveReading,
    LimitStep,
    cooling_corridor,
)
from production.drawing.extraction_line import ExtractionLine, LineAddition, LineStage, extraction_line, stage_key
from production.drawing.palette import STAGE_WORDS, StageKind
from production.drawing.plan_timeline import plan_timeline, timeline_names, timeline_width_px
from production.drawing.pot_section import PotSection, VolumeMark, pot_section
from production.drawing.storage_shelf import ShelfDay, StorageShelf, storage_shelf
from production.drawing.timeline_content import (
    BarLane,
    BarStage,
    DayBand,
    HourTick,
    LaneStep,
    PlanTimeline,
    ShadedSpan,
    StepLane,
    TimelineBar,
)
from production.drawing.week_strip import WeekDay, WeekStrip, week_strip

DAYS = ("Mon 3 Aug", "Tue 4 Aug", "Wed 5 Aug", "Thu 6 Aug", "Fri 7 Aug", "Sat 8 Aug", "Sun 9 Aug")


class SampleForm(forms.Form):
    """Fields of every kind the pages use."""

    outlet = forms.ChoiceField(choices=[("1", "Bergstation canteen"), ("2", "Ward 4 kitchen")])
    amount = forms.CharField(label="Amount", help_text="Any unit: 60 qt, 15 lb 4 oz, 40 kg.", max_length=40)
    temp = forms.DecimalField(label="Temperature in the core, °C", max_value=110, min_value=-30)
    note = forms.CharField(label="Note", widget=forms.Textarea(attrs={"rows": 2}), required=False)
    stirred = forms.BooleanField(label="Stirred before the reading", required=False)
    speed = forms.ChoiceField(
        label="Device", widget=forms.RadioSelect, choices=[("sink", "Ice sink 2"), ("chiller", "Blast chiller")]
    )


@dataclass(frozen=True, slots=True)
class SampleJob:
    """What the component for the progress of a job reads."""

    state: str
    progress_done: int = 0
    progress_total: int = 0
    progress_note: str = ""
    error_sentence: str = ""


@dataclass(frozen=True, slots=True)
class Shown:
    """A drawing at both widths, with its caption."""

    wide: Svg
    narrow: Svg | None
    caption: str
    long: bool = False
    share: float | None = None
    pinned: Svg | None = None


def _sample_pages(labels: tuple[str, ...]) -> list[dict[str, Any]]:
    return [{"label": label, "href": "#main", "current": label == "Plan"} for label in labels]


def parts(request: HttpRequest) -> HttpResponse:
    """List all parts; only where the program is being developed."""
    if not settings.DEBUG:
        raise Http404
    context: dict[str, Any] = {
        "colours": ("ink", "paper", "grey", "hairline", "accent", "within", "near", "past"),
        "navigation": [
            {"label": area, "href": "#main", "current": area == "Planning", "pages": _sample_pages(pages)}
            for area, pages in (("Planning", ("Week", "Orders", "Plan")), ("Floor", ("Floor", "Cooling")))
        ],
        "empty_form": SampleForm(prefix="empty"),
        "refused_form": SampleForm(
            {"refused-amount": "", "refused-temp": "812", "refused-note": "short"}, prefix="refused"
        ),
        "meanings": (
            ("within", "28 min to spare"),
            ("near", "6 min to spare"),
            ("past", "12 min too late"),
            ("open", "no reading since 14:10"),
        ),
        "columns": (
            ("Ingredient", "text"),
            ("As purchased", "num"),
            ("", "unit"),
            ("Price", "num"),
            ("Supplier", "text"),
        ),
        "rows": (
            ("Chicken frames", "84.5", "kg", "126.75", "Talhof"),
            (
                "Rinderbeinscheiben, gesägt und entfettet",
                "9.15",
                "kg",
                "58.10",
                "Großschlachterei Unterinntaler Bauernverband",
            ),
            ("Onions", "112", "kg", "89.60", "Talhof"),
        ),
        "foot": ("Total", "", "", "274.45", ""),
        "facts": (("Pot", "Kettle 3, 120 L"), ("Draw off", "Thu 14:10"), ("Cooling", "Ice sink 2, then walk-in")),
        "jobs": (
            SampleJob("queued"),
            SampleJob("running", 7, 18, "batch sheet of run 7"),
            SampleJob("done"),
            SampleJob("failed", error_sentence="Batch sheet of run 7: the pot is smaller than its contents."),
            SampleJob("cancelled"),
        ),
        "pots": _pots(),
        "lines": _lines(),
        "corridors": _corridors(),
        "weeks": _weeks(),
        "shelves": _shelves(),
        "timelines": _timelines(),
        "key": stage_key(Size(width_px=900, height_px=0), tuple(STAGE_WORDS)),
        "key_narrow": stage_key(Size(width_px=340, height_px=0), tuple(STAGE_WORDS)),
    }
    return render(request, "parts/parts.html", context)


def _pots() -> list[Shown]:
    marks = tuple(VolumeMark(height_mm=65.5 * n, label=f"{10 * n} L") for n in range(1, 9))
    deep = PotSection(
        name="Kettle 3",
        inner_diameter_mm=440,
        inner_height_mm=560,
        cold_fill_mm=445,
        hot_level_mm=468,
        freeboard_limit_mm=490,
        solids_level_mm=300,
        cold_fill_label="68 L",
        volume_marks=marks,
    )
    wide = PotSection(
        name="Brat pan with a long name",
        inner_diameter_mm=900,
        inner_height_mm=260,
        cold_fill_mm=205,
        hot_level_mm=232,
        freeboard_limit_mm=225,
        solids_level_mm=190,
        cold_fill_label="138 qt",
        volume_marks=tuple(VolumeMark(height_mm=29.75 * n, label=f"{20 * n} qt") for n in range(1, 9)),
        length_unit="in",
    )
    size = Size(width_px=344, height_px=290)
    return [
        Shown(pot_section(deep, size), None, "Kettle 3, cold fill by weight of water"),
        Shown(
            pot_section(wide, Size(width_px=560, height_px=290)),
            pot_section(wide, size),
            "Past the freeboard, in US units",
        ),
    ]


def _stages(rows: tuple[tuple[StageKind, float, float], ...]) -> tuple[LineStage, ...]:
    return tuple(
        LineStage(kind=kind, start_min=start, end_min=end, start_label=_clock(start)) for kind, start, end in rows
    )


def _clock(at_min: float) -> str:
    return f"{int(at_min // 60) % 24:02d}:{int(at_min % 60):02d}"


def _lines() -> list[Shown]:
    stages = _stages(
        (
            ("load", 360, 390),
            ("heat-up", 390, 468),
            ("skim", 468, 488),
            ("simmer", 488, 830),
            ("draw-off", 830, 850),
            ("refill", 850, 865),
            ("simmer", 865, 1105),
            ("draw-off", 1105, 1125),
            ("clean", 1125, 1155),
        )
    )
    additions = (
        LineAddition(at_min=590, at_label="09:50", name="mirepoix 6.4 kg"),
        LineAddition(at_min=770, at_label="12:50", name="bouquet garni"),
        LineAddition(at_min=785, at_label="13:05", name="Lorbeerblätter und Wacholderbeeren"),
    )
    line = ExtractionLine(
        run_name="run 7", stages=stages, end_label="19:15", additions=additions, now_min=700, now_label="11:40"
    )
    calm = ExtractionLine(run_name="run 8", stages=stages[:5], end_label="14:10")
    return [
        Shown(_line(line, 900), _line(line, 340), "A run with its second draw"),
        Shown(_line(calm, 900), _line(calm, 340), "A run without additions"),
    ]


def _line(line: ExtractionLine, width_px: float) -> Svg:
    return extraction_line(line, Size(width_px=width_px, height_px=0))


def _corridors() -> list[Shown]:
    def fall(k: float, end: int) -> tuple[CurvePoint, ...]:
        return tuple(CurvePoint(at_min=m, temp_c=2 + 88 * exp(-k * m)) for m in range(0, end + 1, 10))

    planned = CoolingCorridor(
        name="run 7, first draw",
        start_label="14:10",
        expected=fall(0.0148, 360),
        limits=(
            LimitStep(by_min=120, at_most_c=21, margin_min=16, meaning="within"),
            LimitStep(by_min=360, at_most_c=5, margin_min=132, meaning="within"),
        ),
    )
    late = CoolingCorridor(
        name="Rinderkraftbrühe, zweiter Abzug",
        start_label="14:10",
        expected=fall(0.0148, 360),
        limits=(
            LimitStep(by_min=120, at_most_c=21, margin_min=-12, meaning="past"),
            LimitStep(by_min=360, at_most_c=5, margin_min=8, meaning="near"),
        ),
        readings=(
            CurveReading(at_min=0, temp_c=88, at_label="14:10"),
            CurveReading(at_min=30, temp_c=62.5, at_label="14:40"),
            CurveReading(at_min=62, temp_c=42, at_label="15:12"),
        ),
        forecast=(
            BandPoint(at_min=62, low_c=42, high_c=42),
            BandPoint(at_min=120, low_c=20, high_c=26),
            BandPoint(at_min=240, low_c=7, high_c=12),
            BandPoint(at_min=360, low_c=3, high_c=6.5),
        ),
        now_min=70,
        now_label="15:20",
        temp_unit="F",
    )
    return [
        Shown(
            cooling_corridor(corridor, Size(width_px=620, height_px=320)),
            cooling_corridor(corridor, Size(width_px=340, height_px=320)),
            caption,
        )
        for corridor, caption in ((planned, "As planned"), (late, "With readings, in °F"))
    ]


def _weeks() -> list[Shown]:
    amounts = ((120, 0, 60), (80, 160, 140), (140, 60, 60), (96, 0, -36), (40, 90, 14), (0, 0, 14), (0, 7.5, 21.5))
    week = WeekStrip(
        name="poultry broth",
        unit="L",
        days=tuple(
            WeekDay(label=label, ordered=o, made=m, stock_end=s) for label, (o, m, s) in zip(DAYS, amounts, strict=True)
        ),
    )
    return [
        Shown(
            week_strip(week, Size(width_px=720, height_px=270)),
            week_strip(week, Size(width_px=340, height_px=260)),
            "Poultry broth, with a gap on Thursday",
        )
    ]


def _shelves() -> list[Shown]:
    used = (210, 260, 342, 371, 405, 300, 180)
    shelf = StorageShelf(
        name="the freezer",
        capacity_l=380,
        days=tuple(
            ShelfDay(label=label[:3], used_l=u, meaning="past" if u > 380 else "near" if u > 340 else "within")
            for label, u in zip(DAYS, used, strict=True)
        ),
    )
    size = Size(width_px=344, height_px=200)
    bare = StorageShelf(name="the walk-in", capacity_l=900, days=(ShelfDay(label="Mon", used_l=0),))
    return [
        Shown(storage_shelf(shelf, size), None, "Freezer over the week"),
        Shown(storage_shelf(bare, size), None, "An empty walk-in"),
    ]


def _timelines() -> list[Shown]:
    few, crowded = _timeline(14, 5), _timeline(100, 7)
    return [
        Shown(
            plan_timeline(timeline, Size(width_px=timeline_width_px(timeline, day_px), height_px=0)),
            None,
            caption,
            long=True,
            share=0.3,
            pinned=timeline_names(timeline),
        )
        for timeline, day_px, caption in ((few, 300, "A week of 14 runs"), (crowded, 330, "A week of 100 runs"))
    ]


def _timeline(runs: int, days: int) -> PlanTimeline:
    random = Random(runs)  # noqa: S311
    names = ("Geflügelfond", "Veal", "Fumet", "Gemüsebrühe ohne Sellerie", "Pork bone", "Rinderknochenreduktion")
    pots = ["Kettle 1", "Kettle 2", "Kettle 3", "Pot 60", "Pot 40 a", "Hockerkocher Nebenraum"]
    if runs > 50:
        pots += [f"Pot 40 {letter}" for letter in "bcdefg"]
    end_of_pot = dict.fromkeys(pots, 300.0)
    pot_bars: dict[str, list[TimelineBar]] = {pot: [] for pot in pots}
    chill: dict[str, list[TimelineBar]] = {"Ice sink 1": [], "Blast chiller": []}
    for run in range(1, runs + 1):
        pot = min(pots, key=lambda name: end_of_pot[name])
        start = end_of_pot[pot] + random.choice((0, 30, 90))
        simmer = random.choice((150, 330, 480, 700))
        bar = _run_bar(run, random.choice(names), start, simmer, random)
        pot_bars[pot].append(bar)
        end_of_pot[pot] = bar.end_min + random.choice((20, 180, 400))
        device = random.choice(tuple(chill))
        chill[device].append(
            TimelineBar(
                label=f"{run}",
                start_min=bar.end_min - 30,
                end_min=bar.end_min + 150,
                when=f"from {_clock(bar.end_min - 30)}",
                stages=(BarStage(kind="chill", start_min=bar.end_min - 30, end_min=bar.end_min + 150),),
                meaning=bar.meaning,
            )
        )
    heat = tuple(LaneStep(at_min=60.0 * hour, value=random.choice((0, 12, 24, 36, 44))) for hour in range(5, 24 * days))
    cooks = tuple(
        LaneStep(at_min=1440.0 * day + at, value=value)
        for day in range(days)
        for at, value in ((300, 2), (660, 3), (1260, 0))
    )
    used = tuple(
        LaneStep(at_min=1440.0 * day + at, value=value)
        for day in range(days)
        for at, value in ((330, 2), (700, 2.5), (1200, 0))
    )
    return PlanTimeline(
        name="the week of 3 August",
        start_min=0,
        end_min=1440.0 * days,
        days=tuple(DayBand(start_min=1440.0 * n, end_min=1440.0 * (n + 1), label=DAYS[n]) for n in range(days)),
        pots=tuple(BarLane(name=pot, bars=tuple(pot_bars[pot])) for pot in pots),
        devices=tuple(BarLane(name=name, bars=tuple(bars)) for name, bars in chill.items()),
        steps=(
            StepLane(name="Heat, gas", unit="kW", used=heat, available=(LaneStep(at_min=0, value=40),)),
            StepLane(name="Cooks", unit="people", used=used, available=cooks),
        ),
        nights=tuple(ShadedSpan(start_min=1440.0 * n - 180, end_min=1440.0 * n + 300) for n in range(days + 1)),
        hours=tuple(HourTick(at_min=60.0 * h, label=f"{h % 24:02d}") for h in range(0, 24 * days, 6) if h % 24),
        now_min=1440.0 + 700,
    )


def _run_bar(run: int, name: str, start: float, simmer: float, random: Random) -> TimelineBar:
    lengths: tuple[tuple[StageKind, float], ...] = (
        ("load", 30),
        ("heat-up", 75),
        ("skim", 20),
        ("simmer", simmer),
        ("draw-off", 25),
        ("clean", 30),
    )
    stages = []
    at = start
    for kind, length in lengths:
        stages.append(BarStage(kind=kind, start_min=at, end_min=at + length))
        at += length
    return TimelineBar(
        label=f"{run} {name}",
        start_min=start,
        end_min=at,
        when=f"{DAYS[int(start // 1440) % 7][:3]} {_clock(start)} to {_clock(at)}",
        stages=tuple(stages),
        href=f"#run-{run}",
        meaning="near" if run % 13 == 0 else "past" if run % 31 == 0 else None,
        locked=random.random() < 0.1,
    )
