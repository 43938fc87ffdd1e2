"""Decisions about flags: raise, keep, clear, nothing; their evidence and sentences."""

import json
import time
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adherence.rules.flags import (
    Action,
    Facts,
    FlagKind,
    Severity,
    SharpStop,
    decide,
    flag_sentence,
    misses_limit,
    severity_of,
    sharp_pain_evidence,
)
from adherence.rules.matching import DayState, DoneSession, Outcome
from adherence.rules.pain import Rating
from clinic.rules.policy import Policy
from programs.rules.schedule import DueSession
from programs.rules.wording import plain, plain_plural

FIRST = date(2026, 1, 5)
POLICY = Policy()
RISE = "3 3 2 3 4 3 3 4 3 5 5 4 6 5 6"
LETTERS = {
    "D": (DayState.DONE, ""),
    "P": (DayState.PARTLY, ""),
    "M": (DayState.NO_ENTRY, ""),
    "O": (DayState.OPEN, ""),
    "t": (DayState.NOT_DONE, "NO_TIME"),
    "f": (DayState.NOT_DONE, "FORGOT"),
    "b": (DayState.NOT_DONE, "FEELS_BETTER"),
}


def day(offset):
    return FIRST + timedelta(days=offset)


def ratings(text):
    return tuple(Rating(day(i), int(score)) for i, score in enumerate(text.split()))


def outcomes(letters):
    """D done, P partly, M no entry, O open; t, f, b not done: no time, forgot, feels better."""
    held = []
    for index, letter in enumerate(letters):
        state, reason = LETTERS[letter]
        status = "NOT_DONE" if reason else "COMPLETED"
        session = DoneSession(day(index), 1, status, None if reason else 1.0, False, reason)
        has_entry = state not in (DayState.NO_ENTRY, DayState.OPEN)
        due = DueSession(day(index), 1, "r1", False, None)
        held.append(Outcome(due, state, session if has_entry else None))
    return tuple(held)


def facts(letters="DDDDDDD", worst="", **changes):
    return Facts(
        **{
            "today": day(max(len(letters), len(worst.split()))),
            "outcomes": outcomes(letters),
            "worst_ratings": ratings(worst),
            "next_morning_ratings": (),
            "due_per_week": 7,
            "program_started_on": FIRST,
            "program_is_live": True,
            **changes,
        }
    )


def decided(held, kind, policy=POLICY):
    return next(decision for decision in decide(held, policy=policy) if decision.kind == kind)


def worded(decision):
    return flag_sentence(decision.kind, decision.evidence, plain, plain_plural)


def test_every_kind_is_decided_once_and_a_quiet_record_asks_for_nothing():
    decisions = decide(facts(), policy=POLICY)
    assert [decision.kind for decision in decisions] == list(FlagKind)
    assert {decision.action for decision in decisions} == {Action.NOTHING}
    assert {decision.sentence_code for decision in decisions} == {""}


def test_sharp_pain_alone_asks_for_action_now():
    assert severity_of(FlagKind.SHARP_PAIN) == Severity.ACT_NOW
    others = set(FlagKind) - {FlagKind.SHARP_PAIN}
    assert {severity_of(kind) for kind in others} == {Severity.LOOK}


class TestRisingPain:
    KIND = FlagKind.RISING_PAIN

    def test_a_trend_raises_with_a_sentence_that_can_be_checked(self):
        decision = decided(facts(worst=RISE), self.KIND)
        assert decision.action == Action.RAISE
        assert worded(decision) == "Worst pain 5 5 4 6 5 6, usual 3.0; evidence 7.0 of 6.0."
        assert decision.evidence["ratings"][-1] == {"on": day(14).isoformat(), "score": 6}
        assert decision.evidence["since"] == day(9).isoformat()

    def test_a_jump_says_how_far(self):
        decision = decided(facts(worst="2 3 2 2 3 2 2 2 7"), self.KIND)
        assert worded(decision) == "Worst pain 7, usual 2.3; a jump of 4.7, limit 4.0."

    def test_next_morning_pain_is_a_series_of_its_own(self):
        held = facts(worst="3 3 3 3 3 3 3 3", next_morning_ratings=ratings("1 1 1 1 1 1 1 6"))
        decision = decided(held, self.KIND)
        assert decision.action == Action.RAISE
        assert worded(decision) == "Next-morning pain 6, usual 1.0; a jump of 5.0, limit 4.0."

    def test_the_series_in_force_is_the_one_that_is_told_worst_pain_first(self):
        jump, settled = ratings("1 1 1 1 1 1 1 6"), RISE + " 3 4 3"
        both = decided(facts(worst=RISE, next_morning_ratings=jump), self.KIND)
        assert both.evidence["series"] == "WORST"
        morning = decided(facts(worst=settled, next_morning_ratings=jump), self.KIND)
        assert morning.action == Action.RAISE
        assert morning.evidence["series"] == "NEXT_MORNING"

    def test_both_series_together_do_not_add_up(self):
        text = "3 3 2 3 4 3 3 4 3 5 5 4"
        held = facts(worst=text, next_morning_ratings=ratings(text))
        assert decided(held, self.KIND).action == Action.NOTHING

    def test_an_open_flag_is_kept_and_shows_what_came_since(self):
        held = facts(worst=RISE + " 5 6", open_kinds=frozenset({self.KIND}))
        decision = decided(held, self.KIND)
        assert decision.action == Action.KEEP
        assert worded(decision).endswith("evidence 7.0 of 6.0. Since then 5 6.")

    def test_three_calm_ratings_clear_it(self):
        held = facts(worst=RISE + " 3 4 3", open_kinds=frozenset({self.KIND}))
        assert decided(held, self.KIND).action == Action.CLEAR
        assert decided(facts(worst=RISE + " 3 4 3"), self.KIND).action == Action.NOTHING

    @pytest.mark.parametrize("closed", [14, 15])
    def test_a_closed_flag_does_not_come_back_for_the_same_ratings(self, closed):
        held = facts(worst=RISE, resets={self.KIND: day(closed)}, today=day(30))
        assert decided(held, self.KIND).action == Action.NOTHING
        jump = facts(worst="2 3 2 2 3 2 2 2 7", resets={self.KIND: day(8)}, today=day(30))
        assert decided(jump, self.KIND).action == Action.NOTHING

    def test_a_snoozed_kind_waits_for_its_day(self):
        for today, action in ((20, Action.NOTHING), (21, Action.RAISE)):
            held = facts(worst=RISE, snoozed_until={self.KIND: day(21)}, today=day(today))
            assert decided(held, self.KIND).action == action

    def test_the_clinics_thresholds_hold(self):
        quiet = Policy(pain_evidence_limit=8.0)
        assert decided(facts(worst=RISE), self.KIND, quiet).action == Action.NOTHING


class TestMissedSessions:
    KIND = FlagKind.MISSED_SESSIONS

    def test_four_in_a_row_of_daily_sessions(self):
        assert decided(facts("DDDMMM"), self.KIND).action == Action.NOTHING
        decision = decided(facts("DDDMMMM"), self.KIND)
        assert decision.action == Action.RAISE
        assert worded(decision) == "The last 4 due sessions were not done, no entry."

    def test_three_in_a_row_of_sessions_three_times_a_week(self):
        decision = decided(facts("DDDMMM", due_per_week=3), self.KIND)
        assert decision.action == Action.RAISE
        assert decision.evidence["limit"] == 2.0

    @pytest.mark.parametrize(("per_week", "limit"), [(7, 3.0), (5, 3.0), (4.67, 2.0), (1, 2.0)])
    def test_the_limit_follows_the_sessions_due_a_week(self, per_week, limit):
        assert misses_limit(per_week, POLICY) == limit

    def test_reasons_are_named_and_do_not_undo_the_miss(self):
        decision = decided(facts("DDtftft"), self.KIND)
        assert decision.action == Action.RAISE
        assert worded(decision) == "The last 5 due sessions were not done: no time, forgot."

    def test_reasons_and_missing_entries_are_told_apart(self):
        decision = decided(facts("DDDtMDtMb"), self.KIND)
        assert worded(decision) == (
            "5 of the last 6 sessions not done: no time, feels better; 2 without an entry."
        )

    def test_a_session_partly_done_is_no_miss(self):
        assert decided(facts("DDDPPPP"), self.KIND).action == Action.NOTHING

    def test_what_is_still_open_is_no_miss(self):
        assert decided(facts("DDDMMMO"), self.KIND).action == Action.NOTHING

    def test_it_is_kept_until_enough_has_been_done_again(self):
        open_kinds = frozenset({self.KIND})
        assert decided(facts("MMMMDDDD", open_kinds=open_kinds), self.KIND).action == Action.KEEP
        assert decided(facts("MMMMDDDDD", open_kinds=open_kinds), self.KIND).action == Action.CLEAR

    def test_a_closed_flag_counts_anew(self):
        held = facts("DDMMMM", resets={self.KIND: day(5)})
        assert decided(held, self.KIND).action == Action.NOTHING
        held = facts("DDMMMM" + "MMM", resets={self.KIND: day(5)})
        assert decided(held, self.KIND).action == Action.NOTHING
        held = facts("DDMMMM" + "MMMM", resets={self.KIND: day(5)})
        assert decided(held, self.KIND).action == Action.RAISE

    def test_a_program_that_stands_still_raises_and_clears_nothing(self):
        still = {"program_is_live": False}
        assert decided(facts("DDDMMMM", **still), self.KIND).action == Action.NOTHING
        open_kinds = frozenset({self.KIND})
        held = facts("MMMMDDDDD", open_kinds=open_kinds, **still)
        assert decided(held, self.KIND).action == Action.KEEP


class TestNotStarted:
    KIND = FlagKind.NOT_STARTED

    def test_three_due_sessions_and_no_entry_at_all(self):
        assert decided(facts("MM"), self.KIND).action == Action.NOTHING
        decision = decided(facts("MMM"), self.KIND)
        assert decision.action == Action.RAISE
        assert worded(decision) == "Not started: 3 sessions due, no entry."

    def test_missed_sessions_stays_silent_beside_it(self):
        assert decided(facts("MMMMMM"), FlagKind.MISSED_SESSIONS).action == Action.NOTHING

    def test_any_entry_clears_it(self):
        open_kinds = frozenset({self.KIND})
        assert decided(facts("MMMM", open_kinds=open_kinds), self.KIND).action == Action.KEEP
        for held in (
            facts("MMMMD", open_kinds=open_kinds),
            facts("MMMMt", open_kinds=open_kinds),
            facts("MMMM", worst="3", open_kinds=open_kinds),
        ):
            assert decided(held, self.KIND).action == Action.CLEAR

    def test_only_an_entry_clears_it(self):
        """A pause entered afterwards takes due sessions away; the patient has still not begun."""
        held = facts("MM", open_kinds=frozenset({self.KIND}))
        assert decided(held, self.KIND).action == Action.KEEP

    def test_a_program_not_live_has_not_failed_to_start(self):
        held = facts("MMMM", program_is_live=False)
        assert decided(held, self.KIND).action == Action.NOTHING

    def test_closed_it_comes_back_after_three_more_due_sessions(self):
        resets = {self.KIND: day(3)}
        assert decided(facts("MMMMMM", resets=resets), self.KIND).action == Action.NOTHING
        assert decided(facts("MMMMMMM", resets=resets), self.KIND).action == Action.RAISE


class TestSharpPain:
    KIND = FlagKind.SHARP_PAIN
    STOPS = (
        SharpStop("s2", day(3), "Bridge", None),
        SharpStop("s1", day(2), "Wall slide", 7),
    )

    def test_it_is_kept_and_never_raised_or_cleared_by_the_review(self):
        assert decided(facts(sharp_stops=self.STOPS), self.KIND).action == Action.NOTHING
        held = facts(open_kinds=frozenset({self.KIND}))
        assert decided(held, self.KIND).action == Action.KEEP

    def test_the_sentence_names_the_latest_stop(self):
        held = facts(sharp_stops=self.STOPS, open_kinds=frozenset({self.KIND}))
        assert worded(decided(held, self.KIND)) == "Bridge stopped for sharp pain. 1 more stop."
        evidence = sharp_pain_evidence(self.STOPS[1:])
        text = flag_sentence("SHARP_PAIN", evidence, plain, plain_plural)
        assert text == "Wall slide stopped for sharp pain, rated 7 of 10."


SCORES = st.lists(st.integers(0, 10), max_size=40)


@given(
    letters=st.text("DPMtfb", max_size=40),
    worst=SCORES,
    morning=SCORES,
    per_week=st.sampled_from([2, 5, 7]),
    live=st.booleans(),
    open_kinds=st.frozensets(st.sampled_from(list(FlagKind))),
    resets=st.dictionaries(st.sampled_from(list(FlagKind)), st.integers(0, 40).map(day)),
)
def test_decisions_are_lawful_repeatable_and_storable(
    letters, worst, morning, per_week, live, open_kinds, resets
):
    held = facts(
        letters,
        " ".join(map(str, worst)),
        next_morning_ratings=ratings(" ".join(map(str, morning))),
        due_per_week=per_week,
        program_is_live=live,
        open_kinds=open_kinds,
        resets=resets,
        today=day(41),
    )
    decisions = decide(held, policy=POLICY)
    assert decide(held, policy=POLICY) == decisions
    for decision in decisions:
        is_open = decision.kind in open_kinds
        lawful = {Action.KEEP, Action.CLEAR} if is_open else {Action.RAISE, Action.NOTHING}
        assert decision.action in lawful
        stored = json.loads(json.dumps(decision.evidence))
        assert stored == decision.evidence
        text = flag_sentence(decision.kind, stored, plain, plain_plural)
        assert "%(" not in text
        if decision.action == Action.RAISE:
            assert text.endswith(".")
    raised = {decision.kind for decision in decisions if decision.action == Action.RAISE}
    assert not {FlagKind.MISSED_SESSIONS, FlagKind.NOT_STARTED} <= raised


def test_twelve_weeks_are_decided_within_three_milliseconds():
    worst = " ".join(str(3 + index % 3) for index in range(84))
    held = facts("DDMDDDt" * 12, worst, next_morning_ratings=ratings(worst))
    spent = []
    for _ in range(20):
        began = time.perf_counter()
        decide(held, policy=POLICY)
        spent.append(time.perf_counter() - began)
    assert min(spent) < 0.003
