"""Codes of the library and their words."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum
from typing import Any

import pytest

from programs.rules.library import (
    AIM_NAMES,
    ALTERNATIVE_REASON_NAMES,
    EQUIPMENT_NAMES,
    POSITION_NAMES,
    PRECAUTION_TEXTS,
    REGION_NAMES,
    Aim,
    AlternativeReason,
    Equipment,
    Position,
    Precaution,
    Region,
)


@pytest.mark.parametrize(
    ("codes", "words"),
    [
        (Region, REGION_NAMES),
        (Aim, AIM_NAMES),
        (Position, POSITION_NAMES),
        (Equipment, EQUIPMENT_NAMES),
        (Precaution, PRECAUTION_TEXTS),
        (AlternativeReason, ALTERNATIVE_REASON_NAMES),
    ],
)
def test_every_code_has_its_own_words(codes: type[StrEnum], words: Mapping[Any, str]) -> None:
    assert set(words) == set(codes)
    assert len(set(words.values())) == len(words)
    assert all(words.values())
