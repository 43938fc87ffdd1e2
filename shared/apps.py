"""App configuration of the code that several apps share; it has no models."""

from django.apps import AppConfig


class SharedConfig(AppConfig):
    name = "shared"
