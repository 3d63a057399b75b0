"""The page of parts for developers."""

from django.urls import path

from production.web.views.parts import parts

urlpatterns = [path("parts/", parts, name="parts")]
