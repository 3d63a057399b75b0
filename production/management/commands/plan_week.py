"""Plan a week from a file, without server or database: plan, purchase list, batch sheets, cooling logs."""

from __future__ import annotations

import re
import tempfile
import time
from argparse import ArgumentParser
from contextlib import nullcontext
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn, cast

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from production.documents.purchase_list import purchase_csv
from production.documents.render import Content, NothingToBuy, Paper, Press
from production.documents.words import Units, day_text
from production.domain import sheets
from production.domain.errors import BadWeekFile, PotwrightError
from production.domain.kitchen import PAPERS
from production.domain.plan import Plan, make_plan, plan_dumps
from production.domain.week_file import LARGEST_BYTES, parse_week

if TYPE_CHECKING:
    from collections.abc import Sequence

OURS = ("plan.json", "purchase-list.csv", "purchase-list.pdf", "batch-sheet-*.pdf", "cooling-log-*.pdf")
REFUSED, NOT_ALL_MET = 2, 3


@dataclass(slots=True)
class Stopwatch:
    """Seconds by what they were spent on."""

    started: float = field(default_factory=time.perf_counter)
    laps: dict[str, float] = field(default_factory=dict)

    def lap(self, name: str) -> None:
        self.laps[name] = time.perf_counter() - self.started - sum(self.laps.values())

    def __str__(self) -> str:
        parts = ", ".join(f"{name} {seconds:.1f}" for name, seconds in self.laps.items())
        return f"Seconds: {parts}; together {sum(self.laps.values()):.1f}."


class Command(BaseCommand):
    help = (
        "Plan the week in FILE and write plan.json, purchase lists, batch sheets and blank cooling logs to DIR. "
        "Ends with 0 when every order is met, 2 when the file is refused, 3 when something cannot be met."
    )
    requires_system_checks: list[str] = []  # noqa: RUF012  (Django's own attribute)

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", metavar="FILE", type=Path, help="The week file (JSON).")
        parser.add_argument("--out", metavar="DIR", type=Path, required=True, help="Where the documents go.")
        parser.add_argument("--paper", choices=PAPERS, help="Paper size; without it, the kitchen's own.")
        parser.add_argument(
            "--seconds",
            type=int,
            default=settings.PLAN_SECONDS,
            help="How long to search for a better plan; 0: one careful pass (default: %(default)s).",
        )
        parser.add_argument("--no-pdf", action="store_true", help="Only plan.json and purchase-list.csv.")

    def handle(self, *_args: Any, **options: Any) -> None:
        watch = Stopwatch()
        out: Path = options["out"]
        if out.exists() and not out.is_dir():
            raise CommandError(f"{out} is a file; --out names a folder.", returncode=REFUSED)
        try:
            week = parse_week(_content(options["file"]))
            watch.lap("read")
            with nullcontext() if options["no_pdf"] else Press() as press:
                plan = make_plan(week=week, seconds=max(0, options["seconds"]), workers=settings.SOLVER_WORKERS)
                watch.lap("plan")
                written = _write(plan, out, press, options["paper"] or cast("Paper", week.kitchen.paper))
                watch.lap("documents")
        except BadWeekFile as error:
            _refuse_file(error)
        except PotwrightError as error:
            raise CommandError(f"{error.sentence} {error.remedy}".strip(), returncode=REFUSED) from error
        for line in _summary(plan):
            self.stdout.write(line)
        self.stdout.write(f"{written} files in {out}. {watch}")
        _tell_what_cannot_be_met(plan)


def _content(path: Path) -> bytes:
    """The file, or as much of it as shows that it is too large."""
    try:
        with path.open("rb") as file:
            return file.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise CommandError(f"{path} cannot be read: {error.strerror}.", returncode=REFUSED) from error


def _refuse_file(error: BadWeekFile) -> NoReturn:
    lines = [error.sentence]
    for problem in error.problems:
        lines.append(f"{problem.pointer or '/'}: {problem.sentence}")
        lines.append(f"    found {problem.found}; allowed: {problem.allowed}")
    lines.append(error.remedy)
    raise CommandError("\n".join(lines), returncode=REFUSED) from error


def _write(plan: Plan, out: Path, press: Press | None, paper: Paper) -> int:
    """Make everything in a folder beside, then move it into place, so that nothing is ever half-written."""
    lists = sheets.purchase_lists(plan)
    files: dict[str, bytes] = {
        "purchase-list.csv": purchase_csv(lists).encode(),
        "plan.json": plan_dumps(plan).encode(),
    }
    if press is not None:
        documents: dict[str, Content | Sequence[Content]] = {
            "purchase-list.pdf": lists or NothingToBuy(heading=_heading(plan))
        }
        documents |= {f"batch-sheet-{_file_name(each.run)}.pdf": each for each in sheets.batch_sheets(plan)}
        documents |= {f"cooling-log-{_file_name(each.key)}.pdf": each for each in sheets.cooling_logs(plan)}
        rendered = press.render(list(documents.values()), paper=paper)
        files |= {name: document.pdf for name, document in zip(documents, rendered, strict=True)}
    out.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=out.parent, prefix=f".{out.name}-") as beside:
        for name, content in files.items():
            (Path(beside) / name).write_bytes(content)
        out.mkdir(exist_ok=True)
        for pattern in OURS:
            for old in out.glob(pattern):
                old.unlink()
        for name in files:
            (Path(beside) / name).replace(out / name)
    return len(files)


def _file_name(key: str) -> str:
    return re.sub(r"[^A-Za-z0-9_.-]+", "-", key)


def _heading(plan: Plan) -> sheets.Heading:
    kitchen = plan.week.kitchen
    return sheets.Heading(
        kitchen=kitchen.name,
        time_zone=kitchen.time_zone,
        units=kitchen.units,
        week=plan.week.starts_on,
        plan_made_at=plan.week.plan_from,
        parameter_set=plan.parameter_set,
        plan_mark=plan.mark,
    )


def _summary(plan: Plan) -> list[str]:
    kitchen = plan.week.kitchen
    units = Units("us" if kitchen.units == "us" else "metric")
    drawn = sum(draw.cold_l for sheet in sheets.batch_sheets(plan) for draw in sheet.draws)
    lines = [
        f"{kitchen.name}, week of {day_text(plan.week.starts_on)}",
        f"{len(plan.runs)} runs, {units.text(drawn, 'L')} drawn and kept (cold).",
    ]
    lines += [f"Late: order line {late.line} (run {late.run}). {late.sentence}" for late in plan.late]
    for left in plan.unserved:
        which = f"order line {left.line}, {left.containers} × {left.product}. " if left.line else ""
        lines.append(f"Not met: {which}{left.sentence}")
        lines.append(f"    What would help: {left.remedy}")
    return lines


def _tell_what_cannot_be_met(plan: Plan) -> None:
    if plan.late or plan.unserved:
        short, late = (len({each.line for each in lines}) for lines in (plan.unserved, plan.late))
        raise CommandError(
            f"Not everything can be met: {short} order lines short, {late} late. The rest is planned.",
            returncode=NOT_ALL_MET,
        )
