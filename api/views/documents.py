"""Documents of a plan: the list, asking for them, their content and their PDF."""

from __future__ import annotations

from datetime import date

from django.http import HttpResponse
from drf_spectacular.types import OpenApiTypes
from rest_framework.request import Request
from rest_framework.response import Response

from api.door import BODY, KEY_HEADER, ROLE, KitchenView, documented
from api.pages import page_of, paged
from api.reading import idempotency_key
from api.serializers import DocumentOut, DocumentsBody, DocumentsQuery, DocumentWithContentOut, JobOut, PageQuery
from api.views.jobs import accepted
from production.selectors.documents import document_of, documents_of
from production.selectors.plans import plan_of
from production.selectors.weeks import week_of
from production.services.documents import document_issue, documents_request


class Documents(KitchenView):
    @documented(
        "documents",
        tag="documents",
        answer=paged(DocumentOut),
        parameters=[PageQuery, DocumentsQuery],
        refusals=(*ROLE, 400),
    )
    def get(self, request: Request, kitchen: str, starts_on: date, number: int | None) -> Response:
        """List the documents of a plan that the role may see, the newest version of each."""
        query = DocumentsQuery(data=request.query_params)
        query.is_valid(raise_exception=True)
        plan = plan_of(by=self.by, week=week_of(by=self.by, starts_on=starts_on), number=number)
        return page_of(request, documents_of(by=self.by, plan=plan, **query.validated_data), DocumentOut)

    @documented(
        "documents_request",
        tag="documents",
        status=202,
        request=DocumentsBody,
        answer=JobOut,
        parameters=[KEY_HEADER],
        refusals=(*ROLE, *BODY, 409),
    )
    def post(self, request: Request, kitchen: str, starts_on: date, number: int | None) -> Response:
        """Ask for all documents of a plan that are not there yet, or for one anew: that makes another version."""
        body = DocumentsBody(data=request.data)
        body.is_valid(raise_exception=True)
        plan = plan_of(by=self.by, week=week_of(by=self.by, starts_on=starts_on), number=number)
        ask = document_issue if body.validated_data else documents_request
        job_id = ask(by=self.by, plan=plan, idempotency_key=idempotency_key(request), **body.validated_data)
        return accepted(by=self.by, job_id=job_id)


class Document(KitchenView):
    @documented("document", tag="documents", answer=DocumentWithContentOut, refusals=ROLE)
    def get(self, request: Request, kitchen: str, document: int) -> Response:
        """Tell about one document, with the content that is printed."""
        return Response(DocumentWithContentOut(document_of(by=self.by, document_id=document)).data)


class DocumentPdf(KitchenView):
    @documented(
        "document_pdf",
        tag="documents",
        answer=OpenApiTypes.BINARY,
        media_type="application/pdf",
        refusals=ROLE,
    )
    def get(self, request: Request, kitchen: str, document: int) -> HttpResponse:
        """Take out the PDF."""
        found = document_of(by=self.by, document_id=document)
        name = f"{found.kind}-{found.key}-v{found.version}.pdf".replace("_", "-").replace('"', "")
        return HttpResponse(
            bytes(found.pdf),
            content_type="application/pdf",
            headers={"Content-Disposition": f'attachment; filename="{name}"', "X-Content-Type-Options": "nosniff"},
        )
