"""Codes that a rule decides, as choices and check constraints of a model."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from django.db import models


def choices_of(codes: type[StrEnum]) -> list[tuple[str, str]]:
    """Return Django choices for a StrEnum: stored value and a readable label."""
    return [(code.value, code.value.replace("_", " ").capitalize()) for code in codes]


def one_of(field: str, codes: Iterable[str], *, name: str) -> models.CheckConstraint:
    """Return a check that `field` holds one of `codes`."""
    return models.CheckConstraint(
        name=name, condition=models.Q(**{f"{field}__in": [str(code) for code in codes]})
    )


def between(field: str, low: int, high: int, *, name: str) -> models.CheckConstraint:
    """Return a check that `field` is null or lies in [low, high]."""
    return models.CheckConstraint(
        name=name,
        condition=models.Q(**{f"{field}__isnull": True})
        | models.Q(**{f"{field}__gte": low, f"{field}__lte": high}),
    )
