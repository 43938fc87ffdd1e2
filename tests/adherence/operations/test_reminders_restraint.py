"""Reminders that do not help grow fewer: unanswered ones, and weeks that are covered."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta

import pytest

from adherence.models import Reminder
from adherence.operations.reminders import (
    set_preference,
)
from adherence.queries.reminders import own_reminders
from adherence.rules.reminders import SkipReason
from programs.rules.schedule import Pattern, Schedule
from shared import clock as shared_clock
from tests import factories
from tests.adherence.reminding import sweep
from tests.factories import NOW, STARTED_ON, TODAY


class TestUnanswered:
    @pytest.fixture
    def three_sent(self, reminded):
        for days in (3, 2, 1):
            self.sent(reminded, TODAY - timedelta(days=days))
        return reminded

    def sent(self, patient, day: date, **fields):
        at = datetime.combine(day, time(9, 30), UTC)
        return factories.ReminderFactory(
            patient=patient, local_date=day, due_at=at, sent_at=at, status="SENT", **fields
        )

    def test_after_three_days_without_a_word_they_rest(self, three_sent, mailoutbox):
        sweep()
        row = Reminder.objects.get(local_date=TODAY)
        assert (row.status, row.skip_reason) == ("SKIPPED", SkipReason.UNANSWERED)
        assert not mailoutbox
        assert own_reminders(three_sent, now=NOW).is_resting

    def test_two_days_are_not_three(self, reminded, mailoutbox):
        for slot in (1, 2):
            self.sent(reminded, TODAY - timedelta(days=1), slot=slot)
            self.sent(reminded, TODAY - timedelta(days=2), slot=slot)
        sweep()
        assert len(mailoutbox) == 1
        assert not own_reminders(reminded, now=NOW).is_resting

    def test_the_next_entry_wakes_them(self, three_sent, issued_program, mailoutbox, clock):
        factories.SessionLogFactory(
            revision=issued_program.revisions.get(),
            local_date=TODAY - timedelta(days=1),
            status="NOT_DONE",
            reason="FATIGUE",
            finished_at=NOW - timedelta(hours=1),
            recorded_at=NOW - timedelta(hours=1),
        )
        sweep()
        assert len(mailoutbox) == 1
        assert not own_reminders(three_sent, now=NOW).is_resting

    def test_a_new_choice_wakes_them(self, three_sent, mailoutbox):
        set_preference(
            patient=three_sent,
            is_on=True,
            times=[time(9, 45)],
            now=NOW - timedelta(minutes=30),
        )
        sweep()
        assert len(mailoutbox) == 1

    def test_an_entry_between_them_starts_the_count_again(
        self, three_sent, issued_program, mailoutbox
    ):
        factories.SessionLogFactory(
            revision=issued_program.revisions.get(),
            done=True,
            local_date=TODAY - timedelta(days=2),
            started_at=NOW - timedelta(days=2),
        )
        sweep()
        assert len(mailoutbox) == 1

    def test_over_a_month_of_silence_three_go_out(self, reminded, mailoutbox, clock):
        for _ in range(30):
            sweep()
            clock.shift(timedelta(days=1))
        assert len(mailoutbox) == 3
        assert Reminder.objects.count() == 30


class TestWeeklyQuota:
    @pytest.fixture
    def flexible(self, patient, therapist, issue_program):
        issue_program(
            patient,
            therapist,
            schedule=Schedule(Pattern.WEEKLY_QUOTA, STARTED_ON, weekly_quota=2),
        )
        factories.ReminderPreferenceFactory(patient=patient)
        return patient

    def week(self, clock, mailoutbox) -> list[str]:
        """Sweep each morning from Monday to Sunday of next week; the days with a mail."""
        days = []
        for weekday in range(7):
            clock.move_to(datetime(2026, 3, 16 + weekday, 10, tzinfo=UTC))
            before = len(mailoutbox)
            sweep()
            days += [f"{shared_clock.now():%a}"] * (len(mailoutbox) - before)
        return days

    def test_no_more_in_a_week_than_sessions(self, flexible, clock, mailoutbox):
        assert self.week(clock, mailoutbox) == ["Mon", "Tue"]
        reasons = Reminder.objects.filter(status="SKIPPED").values_list("skip_reason", flat=True)
        assert set(reasons) == {SkipReason.WEEK_COVERED}

    def test_none_when_the_week_is_done(self, flexible, clock, mailoutbox):
        revision = flexible.programs.get().revisions.get()
        for day in (date(2026, 3, 16), date(2026, 3, 17)):
            factories.SessionLogFactory(revision=revision, done=True, local_date=day)
        assert self.week(clock, mailoutbox) == []
        assert set(Reminder.objects.values_list("skip_reason", flat=True)) == {
            SkipReason.DONE_ALREADY
        }
