"""Shares, runs of misses and states."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adherence.rules.adherence import (
    AdherenceState,
    DayState,
    DoneSession,
    Outcome,
    adherence_state,
    days_active,
    dose_adherence,
    misses_cusum,
    session_adherence,
    wilson,
)
from programs.rules.schedule import DueSession

FIRST = date(2026, 1, 5)
STATES = {
    "D": (DayState.DONE, "COMPLETED", 1.0),
    "P": (DayState.PARTLY, "STOPPED", 0.5),
    "U": (DayState.DONE, "COMPLETED", None),
    "R": (DayState.NOT_DONE, "NOT_DONE", None),
    "M": (DayState.NO_ENTRY, None, None),
    "O": (DayState.OPEN, None, None),
}


def outcomes(letters, per_day=1):
    """D done, P half done, U done without a dose, R reason given, M no entry, O open."""
    held = []
    for index, letter in enumerate(letters):
        day, slot = FIRST + timedelta(days=index // per_day), index % per_day + 1
        state, status, share = STATES[letter]
        session = DoneSession(day, slot, status, share, False) if status else None
        held.append(Outcome(DueSession(day, slot, "r1", False, None), state, session))
    return held


class TestShares:
    def test_sessions_partly_done_count_as_done_and_open_ones_not_at_all(self):
        share = session_adherence(outcomes("DPRMO"))
        assert (share.done, share.due) == (2, 4)
        assert share.percent == 50
        assert share.interval == wilson(2, 4)

    def test_nothing_due_is_no_data(self):
        share = session_adherence(outcomes("OO"))
        assert (share.due, share.percent, share.interval) == (0, None, None)

    def test_dose_counts_a_missed_session_as_nothing(self):
        assert dose_adherence(outcomes("DPM")) == pytest.approx(0.5)
        assert dose_adherence(outcomes("O")) is None

    def test_a_dose_not_recorded_is_left_out(self):
        assert dose_adherence(outcomes("UPM")) == pytest.approx(0.25)
        assert dose_adherence(outcomes("U")) is None

    def test_overdoing_never_hides_a_missed_day(self):
        held = outcomes("DM")
        eager = DoneSession(FIRST, 1, "COMPLETED", 3.0, False)
        held[0] = Outcome(held[0].due, DayState.DONE, eager)
        assert dose_adherence(held) == pytest.approx(0.5)

    def test_days_with_any_work_of_days_due(self):
        share = days_active(outcomes("DMMMDDMO", per_day=2))
        assert (share.done, share.due) == (2, 3)

    @given(st.integers(0, 400), st.integers(0, 400))
    def test_the_interval_lies_within_nought_and_one_and_holds_the_share(self, x, extra):
        interval = wilson(x, x + extra)
        if x + extra == 0:
            assert interval is None
            return
        assert 0 <= interval.low <= x / (x + extra) <= interval.high <= 1

    @pytest.mark.parametrize(("x", "n"), [(-1, 3), (4, 3), (0, -1)])
    def test_impossible_counts_are_refused(self, x, n):
        with pytest.raises(ValueError, match="successes"):
            wilson(x, n)


class TestMisses:
    def run(self, letters, limit=3.0):
        return misses_cusum([letter == "D" for letter in letters], limit=limit)

    def test_no_sessions_no_score(self):
        result = self.run("")
        assert result.scores == ()
        assert not result.is_signalled

    def test_sessions_done_leave_the_score_at_nought(self):
        assert self.run("DDDD").scores == (0, 0, 0, 0)

    def test_a_long_gap_is_capped_so_that_it_can_be_paid_back(self):
        result = self.run("M" * 40 + "D" * 6)
        assert max(result.scores) == pytest.approx(3.0 + 0.9163, abs=1e-4)
        assert result.over
        assert not self.run("M" * 40 + "D" * 5).over

    def test_it_is_over_below_half_the_limit_and_can_signal_again(self):
        assert self.run("MMMMDDDD").is_signalled
        assert self.run("MMMMDDDDD").over
        again = self.run("MMMMDDDDDMMMM")
        assert again.is_signalled
        assert again.signal_index == 10

    def test_the_run_starts_at_its_first_miss(self):
        assert self.run("DDDMMDMMM").run_index == 3
        assert self.run("DDDM").run_index == 3
        assert self.run("DMDDD").run_index is None

    @given(st.lists(st.booleans(), max_size=80), st.sampled_from([2.0, 2.5, 3.0]))
    def test_scores_stay_within_bounds_and_depend_on_nothing_later(self, done, limit):
        result = misses_cusum(done, limit=limit)
        assert all(0 <= score <= limit + 0.9164 for score in result.scores)
        half = len(done) // 2
        assert misses_cusum(done[:half], limit=limit).scores == result.scores[:half]


class TestState:
    def state(self, letters, *, today=None, last_entry=None, **more):
        held = outcomes(letters)
        entries = [o.session.local_date for o in held if o.session]
        return adherence_state(
            outcomes=held,
            paused_today=more.pop("paused_today", False),
            last_entry_on=last_entry or (max(entries) if entries else None),
            today=today or FIRST + timedelta(days=len(letters)),
            target_percent=80,
            silent_days=7,
            silent_sessions=3,
            **more,
        )

    def test_fewer_than_four_due_sessions_is_new(self):
        assert self.state("DDM") == AdherenceState.NEW
        assert self.state("") == AdherenceState.NEW
        assert self.state("DDDM") == AdherenceState.ON_TARGET

    def test_below_target_only_when_the_upper_limit_lies_below(self):
        assert self.state("D" * 7 + "R" * 7) == AdherenceState.BELOW_TARGET
        assert self.state("D" * 8 + "R" * 6) == AdherenceState.BELOW_TARGET
        assert self.state("D" * 9 + "R" * 5) == AdherenceState.ON_TARGET

    def test_three_due_sessions_without_an_entry_are_silence(self):
        assert self.state("DDDDMM") == AdherenceState.ON_TARGET
        assert self.state("DDDDMMM") == AdherenceState.SILENT
        assert self.state("MMM") == AdherenceState.SILENT

    def test_a_reason_breaks_the_silence(self):
        assert self.state("DDDDDDMMR") != AdherenceState.SILENT
        assert self.state("DDDDDDDDMRM") == AdherenceState.ON_TARGET

    def test_an_entry_on_another_day_breaks_the_silence(self):
        extra = FIRST + timedelta(days=6)
        assert self.state("DDDDMMM", last_entry=extra) == AdherenceState.ON_TARGET

    def test_seven_days_without_an_entry_are_silence_when_something_was_due(self):
        seldom = outcomes("DM")
        seldom[1] = Outcome(
            DueSession(FIRST + timedelta(days=4), 1, "r1", False, None), DayState.NO_ENTRY, None
        )
        for days, silent in ((6, False), (7, True), (11, True), (12, False)):
            state = adherence_state(
                outcomes=seldom,
                paused_today=False,
                last_entry_on=FIRST,
                today=FIRST + timedelta(days=days),
                target_percent=80,
                silent_days=7,
                silent_sessions=3,
            )
            assert (state == AdherenceState.SILENT) is silent

    def test_a_pause_an_end_and_no_program_come_first(self):
        assert self.state("MMMMM", paused_today=True) == AdherenceState.PAUSED
        assert self.state("MMMMM", has_ended=True) == AdherenceState.ENDED
        assert self.state("MMMMM", has_program=False) == AdherenceState.NO_PROGRAM
