"""Which service does which kind of job. Add a line per kind."""

from __future__ import annotations

from production.selectors.exports import RECORDS_EXPORT
from production.services.batch_documents import BATCH_RECORD_RENDER, batch_record_render
from production.services.cooling_documents import COOLING_LOG_RENDER, cooling_log_render
from production.services.dispatch_notes import NOTE_RENDER, note_render
from production.services.documents import DOCUMENT_RENDER, document_render
from production.services.exports import records_export
from production.services.fixes import PLAN_FIXES, fixes_find
from production.services.jobs import Handler
from production.services.label_sheets import LABELS_RENDER, labels_render
from production.services.plans import PLAN_BUILD, plan_build
from production.services.record_proofs import RECORDS_VERIFY, records_verify
from production.services.replans import REPLAN, replan_build

HANDLERS: dict[str, Handler] = {
    PLAN_BUILD: plan_build,
    REPLAN: replan_build,
    PLAN_FIXES: fixes_find,
    DOCUMENT_RENDER: document_render,
    COOLING_LOG_RENDER: cooling_log_render,
    BATCH_RECORD_RENDER: batch_record_render,
    LABELS_RENDER: labels_render,
    NOTE_RENDER: note_render,
    RECORDS_VERIFY: records_verify,
    RECORDS_EXPORT: records_export,
}
