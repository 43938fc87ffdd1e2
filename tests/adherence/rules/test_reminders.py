"""When reminders are due and when they may still go out."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adherence.rules.reminders import (
    ReminderPlan,
    SendAction,
    SkipReason,
    due_reminders,
    is_quiet,
    may_send,
)

LONDON = "Europe/London"
DAY = date(2026, 2, 2)
QUIET = {"quiet_from": time(20), "quiet_until": time(9)}
# Both hemispheres, gaps at midnight, a half-hour change, a quarter-hour offset, none at all.
ZONES = [
    "Europe/London",
    "Europe/Berlin",
    "America/New_York",
    "America/Santiago",
    "Australia/Sydney",
    "Australia/Lord_Howe",
    "Africa/Cairo",
    "Asia/Beirut",
    "Asia/Kathmandu",
    "Pacific/Chatham",
    "Pacific/Apia",
    "UTC",
]


def planned(*times, day=DAY, zone=LONDON, slots_due=1, **quiet):
    return due_reminders(day=day, times=times, zone=zone, slots_due=slots_due, **(quiet or QUIET))


def walls(plans, zone=LONDON):
    return [plan.due_at.astimezone(ZoneInfo(zone)).time() for plan in plans]


class TestPlanning:
    def test_one_a_slot_in_order_of_time(self):
        plans = planned(time(18), time(10), slots_due=2)
        assert plans == (
            ReminderPlan(DAY, 1, datetime(2026, 2, 2, 10, tzinfo=UTC)),
            ReminderPlan(DAY, 2, datetime(2026, 2, 2, 18, tzinfo=UTC)),
        )

    def test_no_more_than_sessions_due(self):
        assert walls(planned(time(10), time(18), slots_due=1)) == [time(10)]
        assert planned(time(10), slots_due=0) == ()
        assert planned(slots_due=2) == ()

    def test_before_the_end_of_quiet_hours_it_waits_for_it(self):
        assert walls(planned(time(6, 30))) == [time(9)]

    def test_after_their_start_it_is_dropped(self):
        assert planned(time(20)) == ()
        assert planned(time(23)) == ()
        assert walls(planned(time(19, 59))) == [time(19, 59)]

    def test_two_that_fall_together_are_one(self):
        assert walls(planned(time(6), time(7), time(9), slots_due=3)) == [time(9)]

    def test_the_wall_clock_stays_across_daylight_saving(self):
        winter = planned(time(10), day=date(2026, 3, 28))
        summer = planned(time(10), day=date(2026, 3, 29))
        assert summer[0].due_at - winter[0].due_at == timedelta(hours=23)
        assert walls(winter) == walls(summer) == [time(10)]

    def test_a_time_that_does_not_exist_is_read_with_the_offset_before_the_gap(self):
        plans = planned(
            time(1, 30), day=date(2026, 3, 29), quiet_from=time(22), quiet_until=time(1)
        )
        assert plans[0].due_at == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)

    def test_a_time_that_comes_twice_is_the_first(self):
        plans = planned(
            time(1, 30), day=date(2026, 10, 25), quiet_from=time(22), quiet_until=time(1)
        )
        assert [plan.due_at for plan in plans] == [datetime(2026, 10, 25, 0, 30, tzinfo=UTC)]

    def test_a_day_that_a_zone_skipped_has_no_reminder(self):
        skipped = date(2011, 12, 30)
        assert planned(time(12), day=skipped, zone="Pacific/Apia") == ()
        assert len(planned(time(12), day=skipped + timedelta(days=1), zone="Pacific/Apia")) == 1

    def test_a_quiet_break_at_noon_moves_a_reminder_to_its_end(self):
        noon = {"quiet_from": time(12), "quiet_until": time(15)}
        assert walls(planned(time(13), **noon)) == [time(15)]
        assert walls(planned(time(23), **noon)) == [time(23)]

    def test_no_quiet_hours_at_all(self):
        assert walls(planned(time(3), quiet_from=time(9), quiet_until=time(9))) == [time(3)]


@given(
    zone=st.sampled_from(ZONES),
    times=st.lists(
        st.times().map(lambda t: t.replace(second=0, microsecond=0)), min_size=1, max_size=4
    ),
    quiet_from=st.integers(0, 95),
    quiet_until=st.integers(0, 95),
    first=st.dates(date(2024, 1, 1), date(2030, 1, 1)),
    step=st.integers(1, 7),
)
def test_over_a_year_no_reminder_falls_in_quiet_hours(
    zone, times, quiet_from, quiet_until, first, step
):
    quiet = {
        "quiet_from": time(quiet_from // 4, quiet_from % 4 * 15),
        "quiet_until": time(quiet_until // 4, quiet_until % 4 * 15),
    }
    seen = set()
    for offset in range(0, 366, step):
        day = first + timedelta(days=offset)
        plans = due_reminders(day=day, times=times, zone=zone, slots_due=3, **quiet)
        assert len(plans) <= min(3, len(times))
        assert [plan.slot for plan in plans] == list(range(1, len(plans) + 1))
        for plan in plans:
            shown = plan.due_at.astimezone(ZoneInfo(zone))
            assert shown.date() == plan.local_date == day
            assert not is_quiet(shown.time(), **quiet)
            assert plan.due_at not in seen
            seen.add(plan.due_at)


@pytest.mark.parametrize("zone", ZONES)
def test_every_day_of_a_year_has_its_morning_reminder(zone):
    """Nothing is lost either: one a day at ten by the wall clock, however long the day."""
    for offset in range(365):
        plans = planned(time(10), day=date(2026, 1, 1) + timedelta(days=offset), zone=zone)
        assert walls(plans, zone) == [time(10)]


class TestSending:
    NOW = datetime(2026, 2, 2, 10, 5, tzinfo=UTC)

    def decide(self, **changes):
        facts = {
            "now": self.NOW,
            "due_at": datetime(2026, 2, 2, 10, tzinfo=UTC),
            "zone": LONDON,
            "done_today": 0,
            "slots_due": 1,
            "paused": False,
            "opted_out": False,
            "has_address": True,
            **QUIET,
        }
        return may_send(**{**facts, **changes})

    def test_it_goes_out(self):
        decision = self.decide()
        assert decision.may_send
        assert (decision.action, decision.reason) == (SendAction.SEND, None)

    @pytest.mark.parametrize(
        ("changes", "reason"),
        [
            ({"opted_out": True}, SkipReason.OPTED_OUT),
            ({"has_address": False}, SkipReason.NO_ADDRESS),
            ({"ended": True}, SkipReason.ENDED),
            ({"paused": True}, SkipReason.PAUSED),
            ({"slots_due": 0}, SkipReason.NOT_DUE),
            ({"done_today": 1}, SkipReason.DONE_ALREADY),
            ({"done_today": 1, "slots_due": 2, "slot": 1}, SkipReason.DONE_ALREADY),
            ({"now": datetime(2026, 2, 2, 12, 1, tzinfo=UTC)}, SkipReason.STALE),
            (
                {"now": datetime(2026, 2, 2, 11, 1, tzinfo=UTC), "max_age_hours": 1},
                SkipReason.STALE,
            ),
            ({"quiet_from": time(10)}, SkipReason.QUIET_HOURS),
            ({"zone": "Asia/Tokyo", "quiet_from": time(19)}, SkipReason.QUIET_HOURS),
        ],
    )
    def test_reasons_against_it(self, changes, reason):
        decision = self.decide(**changes)
        assert decision.action == SendAction.SKIP
        assert decision.reason == reason

    def test_the_wish_not_to_be_written_to_comes_before_everything(self):
        decision = self.decide(opted_out=True, paused=True, done_today=3, has_address=False)
        assert decision.reason == SkipReason.OPTED_OUT

    def test_the_second_session_of_a_day_is_still_reminded_of(self):
        assert self.decide(done_today=1, slots_due=2).may_send
        assert self.decide(done_today=1, slots_due=2, slot=2).may_send

    def test_two_hours_late_is_late_enough(self):
        assert self.decide(now=datetime(2026, 2, 2, 12, 0, tzinfo=UTC)).may_send

    def test_yesterdays_reminder_never_arrives_today(self):
        decision = self.decide(
            due_at=datetime(2026, 2, 1, 23, 50, tzinfo=UTC),
            now=datetime(2026, 2, 2, 0, 10, tzinfo=UTC),
            quiet_from=time(3),
            quiet_until=time(3),
        )
        assert decision.reason == SkipReason.STALE

    @given(
        zone=st.sampled_from(ZONES),
        now=st.datetimes(datetime(2024, 1, 1), datetime(2031, 1, 1), timezones=st.just(UTC)),
        late=st.integers(0, 180),
    )
    def test_whenever_it_is_sent_the_patient_is_outside_quiet_hours(self, zone, now, late):
        decision = self.decide(now=now, due_at=now - timedelta(minutes=late), zone=zone)
        hour = now.astimezone(ZoneInfo(zone)).hour
        if decision.may_send:
            assert 9 <= hour < 20
            assert late <= 120
