"""The kitchens a person works in."""

from __future__ import annotations

from rest_framework.request import Request
from rest_framework.response import Response

from api.door import MEMBER, SIGNED_IN, ApiView, KitchenView, documented
from api.pages import page_of, paged
from api.serializers import KitchenOut, PageQuery
from production.selectors.access import memberships_of


class Kitchens(ApiView):
    @documented(
        "kitchens", tag="kitchens", answer=paged(KitchenOut), parameters=[PageQuery], refusals=(*SIGNED_IN, 400)
    )
    def get(self, request: Request) -> Response:
        """List the kitchens the person works in, with the role in each."""
        return page_of(request, memberships_of(user=request.user), KitchenOut)


class Kitchen(KitchenView):
    @documented("kitchen", tag="kitchens", answer=KitchenOut, refusals=MEMBER)
    def get(self, request: Request, kitchen: str) -> Response:
        """Tell about one kitchen and the person's role in it."""
        return Response(KitchenOut(self.by).data)
