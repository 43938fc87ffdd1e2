"""What a schedule may say, how it reads, and how many sessions a week holds."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import given

from programs.rules.schedule import (
    Pattern,
    Schedule,
    check_schedule,
    due_sessions,
    first_due_on,
    schedule_wording,
    sessions_per_week,
)
from shared.dates import DateWindow
from tests.programs.rules.schedules import (
    DAILY,
    MONDAY,
    QUOTA,
    plus,
    schedules,
    span,
)


class TestCheck:
    @pytest.mark.parametrize(
        ("change", "field", "code"),
        [
            ({"times_per_day": 0}, "times_per_day", "OUT_OF_LIMITS"),
            ({"times_per_day": 7}, "times_per_day", "OUT_OF_LIMITS"),
            ({"ends_on": plus(-1)}, "ends_on", "ENDS_BEFORE_START"),
            ({"weekdays": frozenset({1})}, "weekdays", "NOT_FOR_PATTERN"),
            ({"weekly_quota": 3}, "weekly_quota", "NOT_FOR_PATTERN"),
            ({"every_days": 3}, "every_days", "NOT_FOR_PATTERN"),
            ({"pattern": Pattern.WEEKDAYS}, "weekdays", "MISSING"),
            (
                {"pattern": Pattern.WEEKDAYS, "weekdays": frozenset({7})},
                "weekdays",
                "OUT_OF_LIMITS",
            ),
            (
                {
                    "pattern": Pattern.WEEKDAYS,
                    "weekdays": frozenset({0}),
                    "starts_on": plus(1),
                    "ends_on": plus(5),
                },
                "ends_on",
                "NOTHING_DUE",
            ),
            ({"pattern": Pattern.EVERY_N_DAYS}, "every_days", "MISSING"),
            ({"pattern": Pattern.EVERY_N_DAYS, "every_days": 1}, "every_days", "OUT_OF_LIMITS"),
            ({"pattern": Pattern.EVERY_N_DAYS, "every_days": 31}, "every_days", "OUT_OF_LIMITS"),
            ({"pattern": Pattern.WEEKLY_QUOTA}, "weekly_quota", "MISSING"),
            ({"pattern": Pattern.WEEKLY_QUOTA, "weekly_quota": 8}, "weekly_quota", "OUT_OF_LIMITS"),
            (
                {"pattern": Pattern.WEEKLY_QUOTA, "weekly_quota": 3, "times_per_day": 2},
                "times_per_day",
                "OUT_OF_LIMITS",
            ),
        ],
    )
    def test_a_slip_is_named_at_its_field(
        self, change: dict[str, Any], field: str, code: str
    ) -> None:
        found = [
            (problem.field, problem.code) for problem in check_schedule(replace(DAILY, **change))
        ]
        assert found == [(field, code)]

    @given(schedules())
    def test_a_sound_schedule_makes_something_due(self, schedule: Schedule) -> None:
        first = first_due_on(schedule)
        assert bool(check_schedule(schedule)) == (first is None)
        if first is not None:
            window = DateWindow(schedule.starts_on, first + timedelta(days=7))
            assert due_sessions([span(schedule, schedule.starts_on)], [], window)


class TestWording:
    @pytest.mark.parametrize(
        ("schedule", "text", "per_week"),
        [
            (DAILY, "once a day", 7),
            (replace(DAILY, times_per_day=2), "2 times a day", 14),
            (
                Schedule(Pattern.WEEKDAYS, MONDAY, weekdays=frozenset({0, 2, 4})),
                "Monday, Wednesday and Friday",
                3,
            ),
            (
                Schedule(Pattern.WEEKDAYS, MONDAY, times_per_day=2, weekdays=frozenset({6})),
                "Sunday, 2 times a day",
                2,
            ),
            (Schedule(Pattern.EVERY_N_DAYS, MONDAY, every_days=2), "every 2 days", 3.5),
            (QUOTA, "3 times a week, on any days", 3),
            (replace(QUOTA, weekly_quota=1), "once a week, on any day", 1),
        ],
    )
    def test_a_schedule_in_words_and_in_sessions_a_week(
        self, schedule: Schedule, text: str, per_week: float
    ) -> None:
        assert schedule_wording(schedule) == text
        assert sessions_per_week(schedule) == per_week

    @given(schedules())
    def test_eight_open_weeks_hold_the_sessions_of_a_week_eight_times(
        self, schedule: Schedule
    ) -> None:
        endless = replace(schedule, ends_on=None, starts_on=MONDAY)
        window = DateWindow(MONDAY, plus(56))
        count = len(due_sessions([span(endless)], [], window))
        assert abs(count - 8 * sessions_per_week(endless)) <= schedule.times_per_day
