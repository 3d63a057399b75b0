"""Signing in to the pages."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse

from production.services.sign_in import sign_in_wait_s


class SignIn(LoginView):
    """Name and password, not to be guessed by trying."""

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        wait_s = sign_in_wait_s(request=request)
        if wait_s:
            return self._refusal(wait_s)
        return super().post(request, *args, **kwargs)

    def _refusal(self, wait_s: int) -> HttpResponse:
        """The name stays; whether the password is right is not looked at."""
        form = self.get_form_class()(self.request, initial={"username": self.request.POST.get("username", "")[:150]})
        refused = f"This name, or this device, has tried too often. Try again in {wait_s} s."
        response = self.render_to_response(self.get_context_data(form=form, refused=refused), status=429)
        response["Retry-After"] = str(wait_s)
        return response
