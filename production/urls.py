"""All addresses."""

from __future__ import annotations

from django.conf import settings
from django.contrib import admin
from django.contrib.auth import views as auth_views
from django.urls import URLPattern, URLResolver, include, path

from production.web.views.sign_in import SignIn

urlpatterns: list[URLPattern | URLResolver] = [
    path("sign-in/", SignIn.as_view(), name="sign-in"),
    path("sign-out/", auth_views.LogoutView.as_view(), name="sign-out"),
    path("admin/login/", SignIn.as_view()),  # the same door: the set-up's own would count no attempts
    path("admin/", admin.site.urls),
    path("api/v1/", include("api.urls")),
    path("", include("production.web.urls")),
]
if settings.DEBUG:
    urlpatterns.append(path("", include("production.web.parts_urls")))
