"""Signing in for a token, and giving it back."""

from __future__ import annotations

from django.contrib.auth import authenticate
from rest_framework.authtoken.models import Token
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response

from api.door import BODY, SIGNED_IN, ApiView, documented
from api.errors import WrongSignIn
from api.serializers import SignInBody, SignInOut
from production.services.sign_in import PerAddress, PerPerson


class SignIn(ApiView):
    authentication_classes = ()
    permission_classes = (AllowAny,)
    throttle_classes = (PerPerson, PerAddress)

    @documented("sign_in", tag="sign-in", request=SignInBody, answer=SignInOut, refusals=(*BODY, 401, 429))
    def post(self, request: Request) -> Response:
        """Exchange name and password for a token. Who signs in on several devices has the same token on all."""
        body = SignInBody(data=request.data)
        body.is_valid(raise_exception=True)
        user = authenticate(request, **body.validated_data)
        if user is None:
            raise WrongSignIn
        token, _ = Token.objects.get_or_create(user=user)
        return Response(SignInOut({"token": token.key}).data)


class SignOut(ApiView):
    @documented("sign_out", tag="sign-in", status=204, answer=None, refusals=(*SIGNED_IN, 403))
    def post(self, request: Request) -> Response:
        """Make the person's token worthless, on all devices. A session of the pages ends where the pages end it."""
        Token.objects.filter(user_id=request.user.pk or 0).delete()
        return Response(status=204)
