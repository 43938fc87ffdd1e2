"""Root of all routes. Apps are included by name, so this file imports none of them."""

from __future__ import annotations

from django.urls import include, path

urlpatterns = [
    path("", include("programs.urls")),
    path("", include("adherence.urls")),
]
