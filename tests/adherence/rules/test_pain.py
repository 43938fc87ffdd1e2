"""The rising-pain rule, the next-morning question, advice on one rating."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adherence.rules.pain import (
    PainAdvice,
    PainParameters,
    PainState,
    Rating,
    ask_next_morning,
    daily_maximum,
    pain_advice,
    rising_pain,
)

FIRST = date(2026, 1, 5)
STANDARD = PainParameters()
CALM = "3 3 2 3 4 3 3 "
RISE = CALM + "4 3 5 5 4 6 5 6 "


def day(offset):
    return FIRST + timedelta(days=offset)


def rated(text):
    """One rating a day; a dot is a day without one."""
    return [
        Rating(day(offset), int(score)) for offset, score in enumerate(text.split()) if score != "."
    ]


def judge(text, *, reset=None, **changes):
    parameters = PainParameters(**changes)
    reset_on = None if reset is None else day(reset)
    return rising_pain(rated(text), parameters=parameters, reset_on=reset_on)


class TestLearning:
    def test_no_ratings(self):
        judged = judge("")
        assert judged.state == PainState.LEARNING
        assert (judged.usual, judged.evidence, judged.last) == (None, (), ())

    def test_six_ratings_are_still_learning_and_seven_are_not(self):
        assert judge("3 3 2 3 4 3").state == PainState.LEARNING
        assert judge(CALM).state == PainState.STEADY

    def test_a_jump_is_seen_after_three_ratings_but_not_before(self):
        assert judge("2 2 2 6").state == PainState.JUMP
        assert judge("2 2 6").state == PainState.LEARNING
        assert judge("2 2 2 5").state == PainState.LEARNING

    def test_a_slow_rise_is_not_judged_while_learning(self):
        assert judge("1 2 3 4 4 4").state == PainState.LEARNING


class TestRise:
    def test_a_day_counts_its_highest_rating(self):
        ratings = [*rated(RISE), Rating(day(2), 1), Rating(day(13), 0)]
        assert rising_pain(ratings, parameters=STANDARD).signalled_on == day(14)
        assert daily_maximum([Rating(day(1), 2), Rating(day(0), 5), Rating(day(1), 4)]) == (
            Rating(day(0), 5),
            Rating(day(1), 4),
        )

    def test_an_improvement_lowers_the_usual_level(self):
        """From 5 down to 2; a rise back to 4 is a rise, though 5 was usual once."""
        judged = judge("5 5 5 5 5 5 5 4 4 4 3 3 3 2 2 2 2 2 2 2 2 2 2 2 2 2 2 2 2 2 2 4 5 4 5 5 5")
        assert judged.state == PainState.TREND
        assert judged.signal.usual < 3

    def test_a_slow_creep_does_not_raise_the_usual_level(self):
        creep = CALM + "3 3 3 3 3 3 4 3 4 4 4 4 4 4 4 4 4 4 4 4 5 4 5 5 5 5 5"
        assert judge(creep).usual == pytest.approx(3.0)
        assert judge(creep).state == PainState.TREND

    def test_a_wide_spread_widens_limit_and_jump(self):
        wide = "0 6 1 7 0 6 2 "
        judged = judge(wide + "4")
        assert judged.spread > 1.2
        assert judged.limit == pytest.approx(6 * judged.spread / 1.2)
        usual = judged.usual
        assert usual + 4 < 8 < usual + 4 * judged.spread / 1.2
        assert judge(wide + "8").state == PainState.STEADY
        assert judge("3 3 3 3 3 3 3 8").state == PainState.JUMP

    def test_a_lower_limit_is_more_watchful(self):
        assert judge(RISE[:-3], evidence_limit=5).state == PainState.TREND
        assert judge(RISE, evidence_limit=8).state == PainState.STEADY

    def test_the_sum_starts_again_a_week_after_a_signal(self):
        judged = judge(RISE + "6 6 6 6 6 6 6 6 6")
        assert judged.signalled_on == day(14)
        assert judged.evidence[15:21] == (0, 0, 0, 0, 0, 0)
        assert judged.evidence[21] == pytest.approx(6 - judged.usual - 1)
        assert judged.state == PainState.TREND

    def test_what_was_counted_adds_up_to_the_evidence(self):
        signal = judge(CALM + "5 4 5 4 5 4 5 4 6 6").signal
        assert signal.counted[0][0].local_date == signal.since
        assert tuple(rating for rating, _sum in signal.counted[-6:]) == signal.last
        sums = [total for _rating, total in signal.counted]
        steps = [after - before for before, after in zip([0.0, *sums], sums, strict=False)]
        added = [rating.score - signal.usual - 1 for rating, _sum in signal.counted]
        assert len(sums) > 6
        assert steps == pytest.approx(added)
        assert sums[-1] == signal.evidence

    def test_a_second_firing_of_the_same_rise_does_not_move_its_start(self):
        judged = judge(RISE + "6 6 6 6 6 6 6 6 6 6 6 6 6 6")
        assert len(judged.signals) > 1
        assert judged.signalled_on == day(14)


class TestOver:
    def test_three_calm_ratings_end_it(self):
        assert judge(RISE + "4 4").state == PainState.TREND
        judged = judge(RISE + "4 4 4")
        assert judged.state == PainState.STEADY
        assert judged.is_over
        assert judged.signalled_on == day(14)

    def test_ratings_before_the_signal_do_not_end_it(self):
        assert not judge("1 2 3 2 2 2 2 1 1 6").is_over

    def test_above_usual_plus_one_goes_on(self):
        assert not judge(RISE + "4 4 5").is_over

    def test_a_new_rise_after_it_signals_anew(self):
        judged = judge(RISE + "3 3 3 3 3 3 3 3 7")
        assert judged.state == PainState.JUMP
        assert judged.signalled_on == day(23)
        assert not judged.is_over


class TestReset:
    def test_old_ratings_raise_nothing_again(self):
        assert judge(RISE, reset=15).state != PainState.TREND
        assert judge(RISE + "6 5 6 5", reset=15).state == PainState.STEADY

    def test_until_seven_new_ratings_the_last_old_ones_are_usual(self):
        judged = judge(RISE + "6 5 6", reset=15)
        assert judged.usual == pytest.approx(sum((3, 5, 5, 4, 6, 5, 6)) / 7)
        assert judged.state == PainState.STEADY

    def test_then_the_new_ones_are(self):
        judged = judge(RISE + "6 5 6 5 6 5 6 6", reset=15)
        assert judged.usual == pytest.approx(39 / 7)

    def test_a_rise_above_the_accepted_level_is_seen_at_once(self):
        assert judge(RISE + "9", reset=15).state == PainState.JUMP

    def test_too_few_old_ratings_is_learning(self):
        judged = judge("3 3 3 3", reset=2)
        assert judged.state == PainState.LEARNING
        assert judged.usual == 3


RATINGS = st.lists(
    st.builds(Rating, local_date=st.integers(0, 120).map(day), score=st.integers(0, 10)),
    max_size=90,
)
PARAMETERS = st.builds(
    PainParameters,
    k=st.sampled_from([0.5, 1.0]),
    evidence_limit=st.sampled_from([5.0, 6.0, 8.0]),
    jump=st.sampled_from([3.0, 4.0]),
    baseline_ratings=st.integers(5, 10),
)


@given(RATINGS, PARAMETERS, st.integers(0, 120), st.one_of(st.none(), st.integers(0, 120)))
def test_evidence_depends_on_nothing_later(ratings, parameters, until, reset):
    reset_on = None if reset is None else day(reset)
    whole = rising_pain(ratings, parameters=parameters, reset_on=reset_on)
    begun = [rating for rating in ratings if rating.local_date < day(until)]
    part = rising_pain(begun, parameters=parameters, reset_on=reset_on)
    assert part.evidence == whole.evidence[: len(part.evidence)]
    assert part.signals == tuple(s for s in whole.signals if s.on < day(until))


@given(RATINGS, PARAMETERS, st.randoms())
def test_the_same_ratings_in_any_order_give_the_same_answer(ratings, parameters, random):
    shuffled = list(ratings)
    random.shuffle(shuffled)
    ours = rising_pain(ratings, parameters=parameters)
    assert rising_pain(shuffled, parameters=parameters) == ours
    assert len(ours.evidence) == len({rating.local_date for rating in ratings})
    assert all(value >= 0 for value in ours.evidence)
    assert ours.is_over == (ours.signal is not None and ours.state != ours.signal.kind)


@given(st.integers(0, 10), st.integers(1, 60))
def test_unchanging_pain_never_signals(score, count):
    ratings = [Rating(day(offset), score) for offset in range(count)]
    assert rising_pain(ratings, parameters=STANDARD).signals == ()


class TestNextMorning:
    def ask(self, **changes):
        facts = {
            "session_on": day(0),
            "worst": 2,
            "revision_effective_from": day(-40),
            "previous_effective_from": day(-80),
            "today": day(1),
            "morning_above": 4,
        }
        return ask_next_morning(**{**facts, **changes})

    def test_a_quiet_session_is_not_asked_about(self):
        assert not self.ask()
        assert not self.ask(worst=4)
        assert not self.ask(worst=None)

    def test_pain_above_the_limit_is(self):
        assert self.ask(worst=5)

    def test_only_on_the_next_morning(self):
        assert not self.ask(worst=9, today=day(0))
        assert not self.ask(worst=9, today=day(2))
        assert not self.ask(worst=9, session_on=None)

    @pytest.mark.parametrize(("ago", "asked"), [(0, True), (6, True), (7, False), (-1, False)])
    def test_the_first_week_of_a_new_step_is(self, ago, asked):
        assert self.ask(revision_effective_from=day(-ago)) is asked

    def test_a_first_program_is_no_change_of_step(self):
        assert not self.ask(revision_effective_from=day(0), previous_effective_from=None)


@pytest.mark.parametrize(
    ("score", "limit", "advice"),
    [
        (0, 5, PainAdvice.FINE),
        (5, 5, PainAdvice.FINE),
        (6, 5, PainAdvice.EASE_OFF),
        (7, 5, PainAdvice.EASE_OFF),
        (8, 5, PainAdvice.STOP),
        (4, 3, PainAdvice.EASE_OFF),
        (6, 3, PainAdvice.STOP),
        (8, 8, PainAdvice.STOP),
        (10, 10, PainAdvice.STOP),
    ],
)
def test_advice_on_one_rating(score, limit, advice):
    """Up to 5 of 10 is the usual limit of the pain-monitoring model; stop margins are our own."""
    assert pain_advice(score, limit) == advice
