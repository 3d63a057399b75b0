"""One cooling with its whole log, its stages, and everything that can be done about it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from production.domain.records.standing import Act, CoolingNow
from production.domain.records.verdicts import StageVerdict
from production.drawing.canvas import Size, Svg
from production.drawing.cooling_glance import cooling_glance
from production.drawing.palette import Meaning
from production.selectors.cooling_log import ReadingRow
from production.web.present.floor_coolings import (
    GroupView,
    anchor_of,
    close_form,
    corridor_of,
    group_view,
    help_sentences,
    stage_meaning,
    stage_words,
    target_words,
    title_of,
)
from production.web.present.floor_forms import UNDO_REASONS, FieldView, FormView
from production.web.style import Style, duration_text, minutes_between

_WIDE = Size(width_px=960, height_px=300)
_NARROW = Size(width_px=350, height_px=240)
_LATE_MIN = 5.0
ASIDE_REASONS = ("probe was not in the food", "read or typed wrongly", "wrong vessel")
_REHEAT_TOOK = (("1800", "up to 30 min"), ("3600", "up to 1 h"), ("7200", "up to 2 h"), ("7201", "more than 2 h"))


@dataclass(frozen=True, slots=True, kw_only=True)
class StageView:
    """One limit: how it stands and why."""

    limit: str
    meaning: Meaning
    words: str
    reasons: tuple[str, ...]
    until: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingView:
    """One line of the log."""

    key: str
    number: int
    text: str
    when: str
    by: str
    note: str
    is_excluded: bool
    aside: FormView | None


@dataclass(frozen=True, slots=True, kw_only=True)
class DeedView:
    """One thing that can be recorded about the cooling, folded away until it is needed."""

    label: str
    form: FormView


@dataclass(frozen=True, slots=True, kw_only=True)
class ActView:
    """One thing that was done."""

    key: str
    words: str
    when: str
    undo: FormView | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CoolingPage:
    """Everything on the page of one group."""

    group: GroupView
    products: str
    state: str
    drawing_wide: Svg
    drawing_narrow: Svg
    stages: tuple[StageView, ...]
    helps: tuple[str, ...]  # what still keeps the limit, beside the first that is told above
    allowed: tuple[tuple[str, str], ...]  # what may be done, and until when
    notes: tuple[str, ...]
    readings: tuple[ReadingView, ...]
    deeds: tuple[DeedView, ...]
    acts: tuple[ActView, ...]
    close: FormView | None
    give_up: FormView | None
    rule: str


def cooling_page(
    cooling: CoolingNow,
    *,
    readings: Sequence[ReadingRow],
    places: Sequence[tuple[str, str]],
    parts: tuple[tuple[str, str], ...],
    probes: Sequence[tuple[str, str]],
    style: Style,
) -> CoolingPage:
    """Put one cooling into words, a drawing and forms."""
    corridor, shown = corridor_of(cooling, style), group_view(cooling, style)
    is_open = cooling.closed_at is None
    return CoolingPage(
        group=replace(shown, reading=replace(shown.reading, may_be_earlier=True)),
        products=", ".join(cooling.products),
        state="" if cooling.closed_at is None else f"Closed {style.when(cooling.closed_at)}",
        drawing_wide=cooling_glance(corridor, _WIDE),
        drawing_narrow=cooling_glance(corridor, _NARROW),
        stages=tuple(_stage(cooling, each, style) for each in cooling.verdict.stages),
        helps=help_sentences(cooling, style)[1:],
        allowed=tuple(
            (each.sentence, f"until {style.when(each.until)}" if each.until else "") for each in cooling.actions
        ),
        notes=cooling.verdict.notes,
        readings=tuple(_reading(cooling, each, style) for each in readings),
        deeds=(
            (*_deeds(cooling, places, style), _parted(cooling, parts, style), *_probes(cooling, probes))
            if is_open
            else (_corrective(cooling),)
        ),
        acts=tuple(_act(cooling, each, style) for each in reversed(cooling.acts)),
        close=close_form(cooling) if is_open else None,
        give_up=_give_up(cooling) if is_open else None,
        rule=f"{cooling.rule.title}, {cooling.rule.jurisdiction} ({cooling.rule.code})",
    )


def _stage(cooling: CoolingNow, stage: StageVerdict, style: Style) -> StageView:
    law = next(each for each in cooling.rule.stages if each.number == stage.number)
    limit = target_words(cooling, stage)
    if law.max_minutes is not None:
        limit = f"{limit} within {duration_text(law.max_minutes)}"
    return StageView(
        limit=limit,
        meaning=stage_meaning(stage.state),
        words=stage_words(stage.state),
        reasons=stage.reasons,
        until=style.when(stage.deadline_at) if stage.deadline_at else "",
    )


def _reading(cooling: CoolingNow, row: ReadingRow, style: Style) -> ReadingView:
    counted = f"{row.temp} °{row.unit}"
    notes = [f"the thermometer showed {row.typed}"] if row.typed != counted else []
    if row.is_asked_about:
        notes.append("asked about")
    if row.is_confirmed:
        notes.append("confirmed")
    if minutes_between(row.measured_at, row.made_at) >= _LATE_MIN:
        notes.append(f"written down at {style.when(row.made_at)}")
    return ReadingView(
        key=row.key,
        number=row.number,
        text=counted,
        when=style.when(row.measured_at),
        by=", ".join(part for part in (row.by, row.thermometer) if part),
        note="; ".join(notes),
        is_excluded=row.is_excluded,
        aside=None if row.is_excluded else _aside(cooling, row),
    )


def _aside(cooling: CoolingNow, row: ReadingRow) -> FormView:
    return FormView(
        key=f"aside-{row.number}",
        kind="reading_excluded",
        subject=cooling.subject,
        button="Set it aside",
        says=f"Set aside: {row.temp} °{row.unit}",
        style="plain",
        corrects=row.key,
        asks_reason="Why",
        reasons=ASIDE_REASONS,
    )


# --- what can be done -------------------------------------------------------------------------------------------------


def _deeds(cooling: CoolingNow, places: Sequence[tuple[str, str]], style: Style) -> Iterable[DeedView]:
    yield DeedView(label="Ice added", form=_deed(cooling, "ice_added", "Record the ice", _ice_fields(style)))
    yield DeedView(label="Stirred", form=_deed(cooling, "stirred", "Record: stirred", ()))
    yield DeedView(
        label="Moved, or poured into other vessels",
        form=_deed(cooling, "moved", "Record the move", tuple(_move_fields(cooling, places, style))),
    )
    yield DeedView(label="Re-heated, to cool it again", form=_reheated(cooling, style))
    yield _corrective(cooling)


def _deed(cooling: CoolingNow, kind: str, button: str, fields: tuple[FieldView, ...]) -> FormView:
    return FormView(
        key=f"{kind}-{anchor_of(cooling.subject)}",
        kind=kind,
        subject=cooling.subject,
        button=button,
        says=f"{title_of(cooling)}: {kind.replace('_', ' ')}",
        fields=fields,
        may_be_earlier=True,
    )


def _ice_fields(style: Style) -> tuple[FieldView, ...]:
    return (
        FieldView(name="mass", label="Ice", unit=style.amount(10.0, "kg").unit),
        FieldView(
            name="into",
            label="Into",
            kind="choice",
            options=(("bath", "the bath around the vessels"), ("broth", "the broth itself")),
        ),
    )


def _move_fields(cooling: CoolingNow, places: Sequence[tuple[str, str]], style: Style) -> Iterable[FieldView]:
    yield FieldView(
        name="device", label="To", kind="choice", options=(*places, ("", "somewhere else")), value=cooling.device_code
    )
    yield FieldView(name="place", label="Where, if somewhere else", kind="text", required=False)
    yield FieldView(name="vessels", label="Vessels", kind="count", value=str(cooling.vessels), required=False)
    depth = style.amount(cooling.depth_mm, "mm")
    yield FieldView(name="depth", label="Depth", unit=depth.unit, required=False)


def _reheated(cooling: CoolingNow, style: Style) -> FormView:
    unit = "F" if style.units == "us" else "C"
    return FormView(
        key=f"reheated-{anchor_of(cooling.subject)}",
        kind="reheated",
        subject=cooling.subject,
        button="Record the re-heat",
        says=f"{title_of(cooling)}: re-heated",
        style="grave",
        fields=(
            FieldView(name="temp", label=f"Coldest part reached, °{unit}"),
            FieldView(name="seconds", label="Held for, seconds", kind="count", value="15"),
            FieldView(name="took_s", label="Re-heating took", kind="choice", options=_REHEAT_TOOK),
        ),
        hidden=(("unit", unit), ("thermometer", "")),
        may_be_earlier=True,
    )


def _parted(cooling: CoolingNow, parts: tuple[tuple[str, str], ...], style: Style) -> DeedView:
    """A part that goes its own way gets a log of its own, with what was measured up to the parting."""
    form = _deed(
        cooling,
        "cooling_opened",
        "Begin its own log",
        (
            FieldView(name="vessels", label="Vessels", kind="count"),
            FieldView(name="litres", label="In all", unit=style.amount(cooling.litres, "L").unit),
            FieldView(name="depth", label="Depth", unit=style.amount(cooling.depth_mm, "mm").unit),
        ),
    )
    told = f"{title_of(cooling)}: a part cools elsewhere"
    return DeedView(
        label="A part of it cools elsewhere",
        form=replace(form, subject="", subjects=parts, hidden=(("parted_from", cooling.subject),), says=told),
    )


def _probes(cooling: CoolingNow, probes: Sequence[tuple[str, str]]) -> Iterable[DeedView]:
    """From now on the readings of the probe belong to this log."""
    for code, name in probes:
        form = FormView(
            key=f"probe-{code}",
            kind="probe_placed",
            subject=f"thermometer/{code}",
            button="It stands here now",
            says=f"{name} stands in {title_of(cooling)}",
            style="plain",
            hidden=(("cooling", cooling.subject),),
        )
        yield DeedView(label=f"Probe {name} put into it", form=form)


def _corrective(cooling: CoolingNow) -> DeedView:
    what = FieldView(name="what", label="What was done, and why", kind="text")
    return DeedView(
        label="Another corrective action", form=_deed(cooling, "corrective_action", "Record the action", (what,))
    )


def _give_up(cooling: CoolingNow) -> FormView:
    return FormView(
        key=f"give-up-{anchor_of(cooling.subject)}",
        kind="cooling_closed",
        subject=cooling.subject,
        button="Close it as given up",
        says=f"{title_of(cooling)}: given up",
        style="grave",
        hidden=(("given_up:yes", "yes"),),
        asks_reason="Why it is given up; what it cooled is then held",
    )


def _act(cooling: CoolingNow, act: Act, style: Style) -> ActView:
    words = _act_words(act.kind, act.content)
    undo = FormView(
        key=f"undo-{act.number}",
        kind="withdrawn",
        subject=cooling.subject,
        button="Take it back",
        says=f"Taken back: {words}",
        style="plain",
        corrects=act.key,
        asks_reason="Why",
        reasons=UNDO_REASONS,
    )
    when = f"{style.when(act.at)}, {act.by}"
    return ActView(key=act.key, words=words, when=when, undo=None if act.kind == "reheated" else undo)


def _act_words(kind: str, content: dict[str, object]) -> str:
    told = [str(content[name]) for name in ("mass", "into", "device", "place", "temp", "what") if content.get(name)]
    words = kind.replace("_", " ").capitalize()
    return f"{words}: {', '.join(told)}" if told else words
