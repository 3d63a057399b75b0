"""What a completed paper carries so that it can be checked alone: its records, the proof of each, and the seal."""

from __future__ import annotations

import json

from production.documents.render import Sealed
from production.domain.ledger import Tree
from production.domain.limits import RULES, CoolingRule
from production.domain.sheets import CompletedBatchRecord, CompletedCoolingLog, content_to_json
from production.models import Checkpoint, Entry
from production.selectors.records import proofs_of, seal_text

ABOUT = "potwright proof 1"
ATTACHED_AS = "records-and-proofs.json"


def sealed_paper(
    *,
    checkpoint: Checkpoint,
    content: CompletedCoolingLog | CompletedBatchRecord,
    subject: str,
    tree: Tree | None = None,
) -> Sealed:
    """The seal of a paper about a cooling or a run, and the data that are attached to it."""
    rows = Entry.objects.filter(kitchen_id=checkpoint.kitchen_id, number__lte=checkpoint.size)
    parted = [said.get("parted_from", "") for said in _openings(checkpoint, subject)]
    entries = list(
        rows.filter(subject__in=[subject, *filter(None, parted)]).select_related("corrects").order_by("number")
    )
    proofs = proofs_of(checkpoint=checkpoint, entries=entries, tree=tree)
    used = {str(each.content.get("rule", "")) for each in entries if isinstance(each.content, dict)}
    data = {
        "about": ABOUT,
        **proofs,
        "rules": [rule_to_json(law) for code, law in RULES.items() if code in used],
        "content": content_to_json(content),
    }
    return Sealed(
        seal=seal_text(checkpoint=checkpoint, subject=subject, entries=entries),
        name=ATTACHED_AS,
        data=json.dumps(data, ensure_ascii=False, separators=(",", ":")).encode(),
    )


def _openings(checkpoint: Checkpoint, subject: str) -> list[dict[str, str]]:
    opened = Entry.objects.filter(kitchen_id=checkpoint.kitchen_id, subject=subject, kind="cooling_opened")
    return list(opened.values_list("content", flat=True))


def rule_to_json(law: CoolingRule) -> dict[str, object]:
    """A cooling rule as plain values, for whoever works a verdict out without the program."""
    return {
        "code": law.code,
        "title": law.title,
        "jurisdiction": law.jurisdiction,
        "source": law.source,
        "event": law.event,
        "stages": [
            {
                "number": stage.number,
                "from_temp": None if stage.from_temp is None else f"{stage.from_temp:f}",
                "to_temp": None if stage.to_temp is None else f"{stage.to_temp:f}",
                "unit": stage.unit,
                "max_minutes": stage.max_minutes,
                "clock": stage.clock,
                "strict": stage.strict,
            }
            for stage in law.stages
        ],
    }
