"""Documents as they were printed."""

from __future__ import annotations

from django.db.models import QuerySet
from django.http import Http404

from production.models import Document, Membership, Plan
from production.selectors.access import Action, may, require

LARGE = ("content", "pdf", "replaces__content", "replaces__pdf")


def documents_of(*, by: Membership, plan: Plan, all_versions: bool = False) -> QuerySet[Document]:
    """The plan's documents without content and PDF; only the newest version of each unless all are asked for."""
    documents = _visible(by).filter(plan=plan).defer(*LARGE)
    return documents if all_versions else documents.filter(replaced_by__isnull=True)


def document_of(*, by: Membership, document_id: int) -> Document:
    """One document with its PDF."""
    found = (
        _visible(by)
        .filter(pk=document_id)
        .select_related("plan", "plan__week")
        .defer("replaces__content", "replaces__pdf", "plan__input_week", "plan__result")
        .first()
    )
    if found is None:
        raise Http404("This kitchen has no such document.")
    return found


def _visible(by: Membership) -> QuerySet[Document]:
    require(by, Action.SEE_DOCUMENTS)
    documents = Document.objects.filter(kitchen_id=by.kitchen_id).select_related("created_by", "replaces")
    if may(by, Action.SEE_PURCHASING):
        return documents
    return documents.exclude(kind=Document.Kind.PURCHASE_LIST)
