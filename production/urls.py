"""All addresses."""

from __future__ import annotations

from django.conf import settings
from django.contrib import admin
from django.contrib.auth import views as auth_views
from django.urls import URLPattern, URLResolver, include, path

urlpatterns: list[URLPattern | URLResolver] = [
    path("sign-in/", auth_views.LoginView.as_view(), name="sign-in"),
    path("sign-out/", auth_views.LogoutView.as_view(), name="sign-out"),
    path("admin/", admin.site.urls),
    path("api/v1/", include("api.urls")),
    path("", include("production.web.urls")),
]
if settings.DEBUG:
    urlpatterns.append(path("", include("production.web.parts_urls")))
