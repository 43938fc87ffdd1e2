"""Reasons for a session not done."""

import pytest

from adherence.rules.barriers import (
    LONG_LIST,
    SHORT_LIST,
    Barrier,
    barrier_reason,
    barrier_wording,
)
from programs.rules.wording import plain


def test_the_picker_offers_eight_first_and_every_reason_once():
    assert len(SHORT_LIST) == 8
    assert sorted([*SHORT_LIST, *LONG_LIST]) == sorted(Barrier)


@pytest.mark.parametrize("wording", [barrier_wording, barrier_reason])
def test_every_reason_has_words_of_its_own(wording):
    texts = [wording(barrier, plain) for barrier in Barrier]
    assert len(set(texts)) == len(Barrier)
    assert all(texts)


def test_patients_words_are_short():
    assert all(len(barrier_wording(barrier, plain).split()) <= 9 for barrier in Barrier)


def test_codes_come_as_text_too_and_unknown_ones_are_refused():
    assert barrier_wording("NO_TIME", plain) == "I had no time"
    with pytest.raises(ValueError, match="NO_SUCH"):
        barrier_reason("NO_SUCH", plain)


def test_wording_is_translated():
    assert barrier_wording(Barrier.FORGOT, str.upper) == "I FORGOT"
