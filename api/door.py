"""What all addresses share: who comes in, one form of answer, and how each is described."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

from django.http import Http404
from drf_spectacular.utils import OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework.negotiation import BaseContentNegotiation
from rest_framework.parsers import BaseParser
from rest_framework.permissions import AllowAny
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request
from rest_framework.views import APIView

from api.errors import MEDIA_TYPE, TITLES
from api.reading import SmallJson
from api.serializers import ProblemOut
from production.selectors.access import membership_for

if TYPE_CHECKING:
    from production.models import Membership

F = TypeVar("F", bound=Callable[..., Any])

SIGNED_IN = (401,)
MEMBER = (401, 404)
ROLE = (401, 403, 404)
BODY = (400, 413, 415)

KEY_HEADER = OpenApiParameter(
    "Idempotency-Key",
    {"type": "string", "pattern": "^[!-~]{1,80}$"},
    OpenApiParameter.HEADER,
    description="The same key sent again answers with the same job instead of starting another.",
)


class OneForm(BaseContentNegotiation):
    """Every address answers in one form, whatever the client would rather have."""

    def select_parser(self, request: Request, parsers: Any) -> Any:
        sent = (request.content_type or "").partition(";")[0].strip().lower()
        return next((each for each in parsers if each.media_type == sent), None)

    def select_renderer(
        self, request: Request, renderers: Iterable[Any], format_suffix: str | None = None
    ) -> tuple[BaseRenderer, str]:
        renderer = next(iter(renderers))
        return renderer, renderer.media_type


class ApiView(APIView):
    """An address for everybody who has signed in."""

    content_negotiation_class = OneForm
    parser_classes: Sequence[type[BaseParser]] = (SmallJson,)
    http_method_names = ("get", "head", "post", "patch")

    @property
    def default_response_headers(self) -> dict[str, str]:
        return {**super().default_response_headers, "Cache-Control": "no-store"}


class KitchenView(ApiView):
    """An address of one kitchen: its members come in, for everybody else it does not exist."""

    by: Membership

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        self.by = membership_for(user=request.user, kitchen_code=kwargs["kitchen"])


class NothingHere(ApiView):
    """An address that does not exist."""

    authentication_classes = ()
    permission_classes = (AllowAny,)
    schema = None

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        raise Http404("There is nothing at this address.")


def documented(
    operation_id: str,
    *,
    tag: str,
    answer: Any,
    status: int = 200,
    media_type: str = "application/json",
    request: Any = None,
    refusals: Iterable[int] = (),
    parameters: Iterable[Any] = (),
) -> Callable[[F], F]:
    """Describe an operation with its answer and every refusal it may give."""
    good = answer if isinstance(answer, OpenApiResponse) else OpenApiResponse(answer)
    refused = {
        (code, MEDIA_TYPE): OpenApiResponse(ProblemOut, description=TITLES[code]) for code in sorted(set(refusals))
    }
    return extend_schema(
        operation_id=operation_id,
        tags=[tag],
        request=request,
        parameters=list(parameters),
        responses={(status, media_type): good, **refused},
    )
