"""App configuration."""

from django.apps import AppConfig


class AdherenceConfig(AppConfig):
    name = "adherence"
