"""Load the demo kitchen, plan its week, print the documents; a second time only what is missing."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from production.domain.week_file import parse_week
from production.models import Document, Plan
from production.services.demo import SignIn, demo_load, demo_plan

FIXTURE = Path(settings.BASE_DIR) / "fixtures" / "demo_week.json"


class Command(BaseCommand):
    help = "Load the demo kitchen with its people, plan its week and write the documents. Never on a live installation."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--out", type=Path, default=Path("out"), help="Folder for plan and documents.")

    def handle(self, *_args: Any, **options: Any) -> None:
        if settings.SETTINGS_MODULE == "production.settings.live":
            raise CommandError("This is a live installation; the demo and its people do not belong here.")
        week, sign_ins = demo_load(week=parse_week(FIXTURE.read_bytes()), passwords=_passwords())
        _keep_passwords(sign_ins)
        plan, documents = demo_plan(week=week)
        folder = options["out"] / f"{week.kitchen.code}-{week.starts_on}" / f"plan-{plan.number}"
        _write(folder, plan, documents)
        self.stdout.write(
            f"{week.kitchen}: week from {week.starts_on}, plan {plan.number} ({plan.solver_status}), "
            f"{len(documents)} documents in {folder}"
        )
        self.stdout.write("Sign-ins of the demo:")
        for each in sign_ins:
            self.stdout.write(f"  {each.name:<14} {each.password:<14} {each.role} of {each.kitchen}")


def _store() -> Path:
    return Path(settings.DATA_DIR) / "demo-sign-ins.json"


def _passwords() -> dict[str, str]:
    """The passwords of this installation, made at random the first time."""
    return dict(json.loads(_store().read_text())) if _store().exists() else {}


def _keep_passwords(sign_ins: tuple[SignIn, ...]) -> None:
    _store().touch(mode=0o600)
    _store().write_text(json.dumps({each.name: each.password for each in sign_ins}, indent=1))


def _write(folder: Path, plan: Plan, documents: tuple[Document, ...]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "plan.json").write_text(json.dumps(plan.result, indent=1, ensure_ascii=False), encoding="utf-8")
    for each in documents:
        name = f"{each.kind}-{each.key}".replace("_", "-").replace("/", "-")
        (folder / f"{name}.pdf").write_bytes(each.pdf)
