"""The routes of the product, and one page of the tests' own that always fails."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import include, path


def fails(request: HttpRequest) -> HttpResponse:
    raise RuntimeError("canary of an error")


urlpatterns = [path("fails/", fails, name="fails"), path("", include("clinic.urls"))]
