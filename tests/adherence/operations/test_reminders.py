"""Reminders: planned once, sent once, and each way in which one can end."""

from __future__ import annotations

import email
from datetime import UTC, date, datetime, time, timedelta
from email.policy import default

import pytest
from django.conf import settings

from adherence.models import Reminder, ReminderPreference, Sweep
from adherence.operations import reminders as operations
from adherence.operations.reminders import (
    MOST_ATTEMPTS,
    plan_reminders,
    release_stale_claims,
    send_due,
    send_one,
    set_preference,
    stop_by_token,
)
from adherence.queries.reminders import delivery_page, delivery_problems, own_reminders
from adherence.rules.reminders import ReminderStatus, SkipReason
from clinic.operations import discharge_patient
from programs.models import PauseReason
from programs.operations.programs import complete_program, pause_program
from programs.rules.schedule import Pattern, Schedule
from shared import clock as shared_clock
from tests import factories, mail_backends
from tests.factories import NOW, STARTED_ON, TODAY

SITE = "https://clinic.example"


def sweep(at: datetime | None = None):
    """One sweep at an instant, by default at the instant of the test's clock."""
    return send_due(clock=lambda: at or shared_clock.now(), site_url=SITE)


@pytest.fixture
def reminded(patient, issued_program):
    """Pia is reminded at half past nine; her program is daily."""
    factories.ReminderPreferenceFactory(patient=patient)
    return patient


@pytest.fixture
def server(settings):
    """Name the mail server's behaviour by a class of `tests.mail_backends`."""

    def behave(kind: type | None) -> None:
        settings.EMAIL_BACKEND = (
            f"tests.mail_backends.{kind.__name__}"
            if kind
            else "django.core.mail.backends.locmem.EmailBackend"
        )

    return behave


def only() -> Reminder:
    return Reminder.objects.get()


class TestSent:
    def test_a_due_reminder_goes_out_once_however_often_the_sweep_runs(self, reminded, mailoutbox):
        assert sweep()["sent"] == 1
        row = only()
        assert (row.status, row.sent_at, row.attempts) == (ReminderStatus.SENT, NOW, 1)
        assert (row.local_date, row.slot, row.clinic) == (TODAY, 1, reminded.clinic)
        assert row.due_at == NOW - timedelta(minutes=30)
        for _ in range(3):
            assert sweep()["sent"] == 0
        assert len(mailoutbox) == 1

    def test_it_goes_to_the_patients_sign_in_address(self, reminded, mailoutbox):
        sweep()
        assert mailoutbox[0].to == ["pia@mail.example"]

    def test_each_day_has_its_own(self, reminded, mailoutbox, clock):
        for _ in range(3):
            sweep()
            clock.shift(timedelta(days=1))
        assert len(mailoutbox) == 3
        assert len({mail.message()["Message-ID"] for mail in mailoutbox}) == 3

    def test_the_headers_let_a_mail_program_stop_it(self, reminded, mailoutbox):
        sweep()
        message = mailoutbox[0].message()
        stop = f"{SITE}/reminders/stop/{reminded.reminder_preference.stop_token}/"
        assert message["Message-ID"] == f"<{only().pk}@clinic.example>"
        assert message["List-Unsubscribe"] == f"<{stop}>"
        assert message["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
        assert message["Auto-Submitted"] == "auto-generated"

    def test_nothing_in_it_tells_of_health_or_of_who_treats(self, reminded, mailoutbox):
        reminded.problem = "Left ankle"
        reminded.save()
        sweep()
        source = mailoutbox[0].message().as_bytes()
        parsed = email.message_from_bytes(source, policy=default)
        text = " ".join(
            str(part.get_content()) for part in parsed.walk() if not part.is_multipart()
        )
        assert parsed["Subject"] == "Your plan is ready"
        told = f"{text} {parsed['Subject']} {parsed['From']}".lower()
        for word in (
            *("ankle", "pain", "exercise", "session", "therap", "physio", "tess", "arden"),
            *("pia", "lund", "missed", "streak", "strength", "program"),
            *(row.exercise_revision.content["name"].lower() for row in _prescriptions(reminded)),
        ):
            assert word not in told, word
        assert "not for emergencies" in told

    def test_a_slow_goodbye_does_not_make_it_unknown(self, reminded, server, mailoutbox):
        server(mail_backends.SlowToSayGoodbye)
        assert sweep()["sent"] == 1
        assert only().status == ReminderStatus.SENT

    def test_two_sessions_a_day_have_two(
        self, patient, therapist, issue_program, mailoutbox, clock
    ):
        issue_program(
            patient, therapist, schedule=Schedule(Pattern.DAILY, STARTED_ON, times_per_day=2)
        )
        factories.ReminderPreferenceFactory(patient=patient, times=["09:30", "17:00", "18:00"])
        sweep()
        clock.move_to(NOW.replace(hour=18, minute=30))
        sweep()
        assert [row.slot for row in Reminder.objects.order_by("slot")] == [1, 2]
        assert len(mailoutbox) == 2


def _prescriptions(patient):
    return patient.programs.get().revisions.get().prescriptions.select_related("exercise_revision")


class TestPlanned:
    def test_not_before_its_time(self, reminded, clock):
        clock.move_to(NOW.replace(hour=9, minute=29))
        assert plan_reminders(now=shared_clock.now()) == 0
        clock.shift(timedelta(minutes=1))
        assert plan_reminders(now=shared_clock.now()) == 1
        assert plan_reminders(now=shared_clock.now()) == 0

    def test_a_sweep_with_nothing_due_writes_no_rows(self, reminded, clock):
        clock.move_to(NOW.replace(hour=8))
        assert sweep() == {"planned": 0, "released": 0, "waiting": 0}
        assert Sweep.objects.get().finished_at == shared_clock.now()

    @pytest.mark.parametrize(
        ("zone", "due_at"),
        [
            ("Asia/Kathmandu", datetime(2026, 3, 11, 3, 45, tzinfo=UTC)),
            ("Pacific/Chatham", datetime(2026, 3, 10, 19, 45, tzinfo=UTC)),
            ("America/New_York", datetime(2026, 3, 11, 13, 30, tzinfo=UTC)),
            ("Australia/Lord_Howe", datetime(2026, 3, 10, 22, 30, tzinfo=UTC)),
        ],
    )
    def test_by_the_patients_own_clock(self, reminded, zone, due_at, mailoutbox, clock):
        reminded.timezone = zone
        reminded.save()
        clock.move_to(due_at - timedelta(minutes=1))
        sweep()
        assert not mailoutbox
        clock.shift(timedelta(minutes=1))
        sweep()
        assert (only().due_at, only().local_date) == (due_at, date(2026, 3, 11))
        assert len(mailoutbox) == 1

    @pytest.mark.parametrize(
        ("day", "hours", "sent_at"),
        [
            (date(2026, 3, 29), 23, datetime(2026, 3, 29, 8, 30, tzinfo=UTC)),
            (date(2026, 10, 25), 25, datetime(2026, 10, 25, 9, 30, tzinfo=UTC)),
        ],
    )
    def test_one_on_the_days_on_which_clocks_change(
        self, reminded, day, hours, sent_at, mailoutbox, clock
    ):
        """A sweep every half hour over the whole local day, however long it is."""
        midnight = datetime.combine(day, time(), UTC)
        if hours == 25:
            midnight -= timedelta(hours=1)
        for minutes in range(0, hours * 60, 30):
            clock.move_to(midnight + timedelta(minutes=minutes))
            sweep()
        assert (only().sent_at, only().local_date) == (sent_at, day)
        assert len(mailoutbox) == 1

    def test_nothing_on_a_day_without_a_session(
        self, patient, therapist, issue_program, mailoutbox
    ):
        issue_program(
            patient,
            therapist,
            schedule=Schedule(Pattern.WEEKDAYS, STARTED_ON, weekdays=frozenset({0, 4})),
        )
        factories.ReminderPreferenceFactory(patient=patient)
        sweep()
        assert not mailoutbox
        assert not Reminder.objects.exists()

    def test_nothing_without_a_program(self, patient, mailoutbox):
        factories.ReminderPreferenceFactory(patient=patient)
        sweep()
        assert not Reminder.objects.exists()

    def test_a_traveller_is_not_reminded_twice_of_one_date(self, reminded, mailoutbox, clock):
        reminded.timezone = "Pacific/Auckland"
        reminded.save()
        clock.move_to(datetime(2026, 3, 10, 20, 31, tzinfo=UTC))  # 09:31 on the 11th
        sweep()
        reminded.timezone = "America/Los_Angeles"
        reminded.save()
        for _ in range(24):
            clock.shift(timedelta(hours=1))
            sweep()
        sent = Reminder.objects.filter(status=ReminderStatus.SENT)
        assert sent.get().local_date == date(2026, 3, 11)
        assert len(mailoutbox) == 1

    def test_one_patient_whose_times_cannot_be_read_stops_nobody(
        self, reminded, other_patient, colleague, issue_program, mailoutbox
    ):
        issue_program(other_patient, colleague)
        factories.ReminderPreferenceFactory(patient=other_patient, times=["half past nine"])
        assert sweep()["sent"] == 1

    def test_two_clinics_side_by_side(
        self, reminded, outside_patient, outsider, issue_program, mailoutbox
    ):
        issue_program(outside_patient, outsider)
        factories.ReminderPreferenceFactory(patient=outside_patient)
        assert sweep()["sent"] == 2
        rows = {row.patient: row.clinic for row in Reminder.objects.all()}
        assert rows == {reminded: reminded.clinic, outside_patient: outsider.clinic}
        assert {mail.to[0] for mail in mailoutbox} == {"pia@mail.example", "uma@mail.example"}
        theirs = next(mail for mail in mailoutbox if mail.to == ["uma@mail.example"])
        assert "Mill Bridge Clinic" in theirs.body
        assert "Willow Row" not in theirs.body


class TestChangedChoice:
    def test_a_time_that_has_passed_is_not_caught_up_on(self, patient, issued_program, mailoutbox):
        set_preference(patient=patient, is_on=True, times=[time(9, 30)], now=NOW)
        sweep()
        assert not Reminder.objects.exists()

    def test_the_new_time_of_the_same_day_counts(self, patient, issued_program, mailoutbox, clock):
        set_preference(patient=patient, is_on=True, times=[time(17)], now=NOW)
        clock.move_to(NOW.replace(hour=17))
        sweep()
        assert only().due_at == NOW.replace(hour=17)

    def test_what_waits_for_another_try_follows(self, reminded, server, mailoutbox, clock):
        server(mail_backends.Away)
        sweep()
        assert only().status == ReminderStatus.PENDING
        set_preference(patient=reminded, is_on=True, times=[time(17)], now=NOW)
        server(None)
        clock.move_to(NOW.replace(hour=11))
        sweep()
        assert not mailoutbox
        clock.move_to(NOW.replace(hour=17))
        sweep()
        assert len(mailoutbox) == 1

    def test_a_day_that_was_reminded_of_is_not_reminded_of_again(self, reminded, mailoutbox, clock):
        sweep()
        set_preference(patient=reminded, is_on=True, times=[time(17)], now=NOW)
        clock.move_to(NOW.replace(hour=17))
        sweep()
        assert len(mailoutbox) == 1

    def test_times_are_kept_in_order_and_once(self, patient):
        stored = set_preference(
            patient=patient, is_on=True, times=[time(17), time(9, 30), time(17)], now=NOW
        )
        assert stored.times == ["09:30", "17:00"]
        assert (stored.clinic, stored.stopped_at) == (patient.clinic, None)

    def test_switching_off_says_when(self, reminded):
        stored = set_preference(patient=reminded, is_on=False, times=[], now=NOW)
        assert (stored.is_on, stored.stopped_at) == (False, NOW)

    def test_the_link_stops_it_and_says_so_once(self, reminded, mailoutbox):
        token = reminded.reminder_preference.stop_token
        stop_by_token(token=token, now=NOW)
        stop_by_token(token=token, now=NOW + timedelta(hours=1))
        stop_by_token(token="another", now=NOW)
        stored = ReminderPreference.objects.get()
        assert (stored.is_on, stored.stopped_at) == (False, NOW)
        sweep()
        assert not mailoutbox


class TestSkipped:
    """The row is there; between planning and sending something has changed."""

    @pytest.fixture
    def planned(self, reminded):
        plan_reminders(now=NOW)
        return reminded

    def check(self, reason: SkipReason, mailoutbox, at: datetime | None = None):
        assert sweep(at)["skipped"] == 1
        row = only()
        assert (row.status, row.skip_reason) == (ReminderStatus.SKIPPED, reason)
        assert row.lease_until is None
        assert not mailoutbox
        assert sweep(at)["skipped"] == 0

    def test_opted_out(self, planned, mailoutbox):
        ReminderPreference.objects.update(is_on=False)
        self.check(SkipReason.OPTED_OUT, mailoutbox)

    def test_no_choice_at_all(self, planned, mailoutbox):
        ReminderPreference.objects.all().delete()
        self.check(SkipReason.OPTED_OUT, mailoutbox)

    def test_no_address(self, planned, mailoutbox):
        planned.user = None
        planned.email = ""
        planned.save()
        self.check(SkipReason.NO_ADDRESS, mailoutbox)

    def test_an_account_that_is_switched_off(self, planned, mailoutbox):
        planned.user.is_active = False
        planned.user.save()
        self.check(SkipReason.NO_ADDRESS, mailoutbox)

    def test_discharged(self, planned, mailoutbox):
        discharge_patient(patient=planned, now=NOW)
        self.check(SkipReason.ENDED, mailoutbox)

    def test_program_completed(self, planned, issued_program, mailoutbox):
        complete_program(program=issued_program, today=TODAY)
        self.check(SkipReason.ENDED, mailoutbox)

    def test_paused(self, planned, issued_program, therapist, mailoutbox):
        pause_program(
            program=issued_program,
            starts_on=TODAY,
            ends_on=None,
            reason=PauseReason.AWAY,
            set_by_id=therapist.user_id,
            now=NOW,
        )
        self.check(SkipReason.PAUSED, mailoutbox)

    @pytest.mark.parametrize("status", ["COMPLETED", "STOPPED", "NOT_DONE"])
    def test_entered_already(self, planned, issued_program, status, mailoutbox):
        factories.SessionLogFactory(
            revision=issued_program.revisions.get(),
            done=True,
            status=status,
            reason="FATIGUE" if status == "NOT_DONE" else "",
        )
        self.check(SkipReason.DONE_ALREADY, mailoutbox)

    def test_at_it_just_now(self, planned, issued_program, mailoutbox):
        factories.SessionLogFactory(
            revision=issued_program.revisions.get(), started_at=NOW - timedelta(minutes=10)
        )
        self.check(SkipReason.DONE_ALREADY, mailoutbox)

    def test_not_at_it_any_more(self, planned, issued_program, mailoutbox):
        factories.SessionLogFactory(
            revision=issued_program.revisions.get(), started_at=NOW - timedelta(hours=2)
        )
        assert sweep()["sent"] == 1

    def test_yesterdays_entry_is_no_answer_to_todays(self, planned, issued_program, mailoutbox):
        factories.SessionLogFactory(
            revision=issued_program.revisions.get(),
            done=True,
            local_date=TODAY - timedelta(days=1),
        )
        assert sweep()["sent"] == 1

    def test_two_hours_late(self, planned, mailoutbox):
        self.check(SkipReason.STALE, mailoutbox, at=NOW + timedelta(minutes=91))

    def test_quiet_hours_that_begin_meanwhile(self, planned, mailoutbox):
        factories.ClinicPolicyFactory(
            clinic=planned.clinic, quiet_from=time(10), quiet_until=time(9)
        )
        self.check(SkipReason.QUIET_HOURS, mailoutbox)

    def test_quiet_hours_of_the_place_that_they_have_travelled_to(self, planned, mailoutbox):
        planned.timezone = "Asia/Singapore"  # 18:00 there; an evening clinic is quiet from 17
        planned.save()
        factories.ClinicPolicyFactory(
            clinic=planned.clinic, quiet_from=time(17), quiet_until=time(9)
        )
        self.check(SkipReason.QUIET_HOURS, mailoutbox)

    def test_a_night_without_a_worker_is_on_record(self, reminded, mailoutbox, clock):
        """The sweep stood still from before yesterday's reminder until this morning."""
        factories.SweepFactory(finished_at=NOW - timedelta(days=1, hours=2))
        sweep()
        rows = {row.local_date: row for row in Reminder.objects.all()}
        assert rows[TODAY].status == ReminderStatus.SENT
        missed = rows[TODAY - timedelta(days=1)]
        assert (missed.status, missed.skip_reason) == (ReminderStatus.SKIPPED, SkipReason.STALE)
        assert len(mailoutbox) == 1


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


class TestFailing:
    def test_a_server_that_is_away_is_tried_again_each_time_later(
        self, reminded, server, mailoutbox, clock
    ):
        server(mail_backends.Away)
        waits = []
        while True:
            before = shared_clock.now()
            assert sweep()["unreached"] == 1
            row = only()
            if row.status != ReminderStatus.PENDING:
                break
            waits.append((row.lease_until - before).total_seconds())
            clock.move_to(row.lease_until - timedelta(seconds=1))
            assert sweep()["unreached"] == 0
            clock.move_to(row.lease_until)
        assert [int(wait // 60) for wait in waits] == [2, 4, 8, 16]
        assert (row.status, row.attempts) == (ReminderStatus.FAILED, MOST_ATTEMPTS)
        assert (row.failure, row.lease_until) == ("SMTPConnectError", None)
        assert not mailoutbox

    def test_it_goes_out_when_the_server_is_back(self, reminded, server, mailoutbox, clock):
        server(mail_backends.Away)
        sweep()
        server(None)
        clock.move_to(only().lease_until)
        assert sweep()["sent"] == 1
        assert (only().attempts, only().failure) == (2, "")
        assert len(mailoutbox) == 1

    def test_a_retry_that_comes_too_late_is_stale(self, reminded, server, clock):
        server(mail_backends.Away)
        sweep()
        clock.move_to(NOW + timedelta(hours=2))
        sweep()
        assert only().skip_reason == SkipReason.STALE

    def test_an_address_that_does_not_exist_is_not_tried_again(self, reminded, server):
        server(mail_backends.RefusesTheAddress)
        assert sweep()["refused"] == 1
        assert (only().status, only().failure) == ("FAILED", "SMTPRecipientsRefused")

    def test_come_again_later_is_done(self, reminded, server, mailoutbox, clock):
        server(mail_backends.Greylists)
        assert sweep()["refused"] == 1
        assert only().status == ReminderStatus.PENDING
        server(None)
        clock.move_to(only().lease_until)
        sweep()
        assert len(mailoutbox) == 1

    def test_broken_off_in_the_middle_is_unknown_and_never_sent_again(
        self, reminded, server, mailoutbox, clock
    ):
        server(mail_backends.BreaksOff)
        assert sweep()["unknown"] == 1
        assert (only().status, only().failure) == ("UNKNOWN", "SMTPServerDisconnected")
        server(None)
        for _ in range(10):
            clock.shift(timedelta(minutes=10))
            sweep()
        assert only().status == ReminderStatus.UNKNOWN
        assert len(mailoutbox) == 1

    def test_a_fault_of_our_own_stops_nobody_and_is_unknown(
        self, reminded, server, other_patient, colleague, issue_program, clock, caplog
    ):
        issue_program(other_patient, colleague)
        factories.ReminderPreferenceFactory(patient=other_patient)
        server(mail_backends.Breaks)
        assert sweep()["broken"] == 2
        assert "RuntimeError in mail_backends.py" in caplog.text
        assert "a fault" not in caplog.text
        clock.shift(timedelta(seconds=61))
        sweep()
        assert set(Reminder.objects.values_list("status", flat=True)) == {"UNKNOWN"}

    def test_the_same_message_id_on_each_try(self, reminded, server, mailoutbox, clock):
        server(mail_backends.BreaksOff)
        sweep()
        first = mailoutbox[0].message()["Message-ID"]
        Reminder.objects.update(status="PENDING", lease_until=None)
        server(None)
        sweep()
        assert mailoutbox[1].message()["Message-ID"] == first

    def test_three_tries_are_enough_to_see_that_a_server_is_away(self, reminded, server):
        for number in range(6):
            factories.ReminderFactory(
                patient=reminded, slot=number + 2, due_at=NOW - timedelta(minutes=number)
            )
        server(mail_backends.Away)
        mail_backends.Away.opened = 0
        counts = sweep()
        assert mail_backends.Away.opened == counts["unreached"] == 3
        assert counts["waiting"] == 4

    def test_a_slow_server_holds_a_sweep_for_less_than_a_minute(
        self, reminded, other_patient, colleague, issue_program, server, clock, mailoutbox
    ):
        issue_program(
            other_patient,
            colleague,
            schedule=Schedule(Pattern.DAILY, STARTED_ON, times_per_day=6),
        )
        factories.ReminderPreferenceFactory(patient=other_patient)
        for slot in range(1, 7):
            factories.ReminderFactory(patient=other_patient, slot=slot)
        mail_backends.Slow.clock = clock
        server(mail_backends.Slow)
        counts = sweep()
        assert counts["sent"] == 3
        assert counts["waiting"] == 4
        assert shared_clock.now() - NOW < timedelta(minutes=1)
        sweep()
        sweep()
        assert len(mailoutbox) == 7


class TestLeases:
    def row(self, patient, status, *, ends: timedelta, attempts: int = 1):
        return factories.ReminderFactory(
            patient=patient, status=status, lease_until=NOW + ends, attempts=attempts
        )

    def test_a_claim_that_was_left_behind_is_sent_after_its_lease(
        self, reminded, mailoutbox, clock
    ):
        row = self.row(reminded, "CLAIMED", ends=timedelta(seconds=60))
        sweep()
        assert not mailoutbox
        clock.shift(timedelta(seconds=61))
        assert sweep()["released"] == 1
        row.refresh_from_db()
        assert (row.status, row.attempts) == ("SENT", 2)
        assert len(mailoutbox) == 1

    def test_a_sending_that_was_left_behind_is_unknown(self, reminded, mailoutbox):
        row = self.row(reminded, "SENDING", ends=timedelta(seconds=-1))
        sweep()
        row.refresh_from_db()
        assert (row.status, row.failure, row.lease_until) == ("UNKNOWN", "LeaseEnded", None)
        assert not mailoutbox

    def test_a_row_that_kills_each_worker_fails_in_the_end(self, reminded, mailoutbox):
        row = self.row(reminded, "CLAIMED", ends=timedelta(seconds=-1), attempts=MOST_ATTEMPTS)
        release_stale_claims(now=NOW)
        row.refresh_from_db()
        assert row.status == ReminderStatus.FAILED

    def test_a_claim_is_given_once(self, reminded):
        row = factories.ReminderFactory(patient=reminded)
        assert operations._claim(row.pk, now=NOW) is not None
        assert operations._claim(row.pk, now=NOW) is None
        assert send_one(reminder_id=row.pk, now=NOW, site_url=SITE) == "taken"

    def test_whoever_outlives_the_lease_sends_nothing(self, reminded, mailoutbox, clock):
        """The first is held up before it sends; by then a second has claimed the row."""
        row = factories.ReminderFactory(patient=reminded)
        first = operations._claim(row.pk, now=NOW)
        later = NOW + timedelta(seconds=61)
        release_stale_claims(now=later)
        second = operations._claim(row.pk, now=later)
        assert (first.attempts, second.attempts) == (1, 2)
        mail = operations._mail(first, site_url=SITE)
        connection = operations.get_connection()
        assert operations._deliver(first, mail, connection, now=later) == "taken"
        assert operations._deliver(second, mail, connection, now=later) == "sent"
        assert len(mailoutbox) == 1

    def test_whoever_knows_that_it_left_may_say_so_after_the_lease(self, reminded):
        row = factories.ReminderFactory(patient=reminded)
        claimed = operations._claim(row.pk, now=NOW)
        Reminder.objects.update(status="SENDING")
        release_stale_claims(now=NOW + timedelta(seconds=61))
        operations._settle(claimed, ReminderStatus.SENT, sent_at=NOW)
        row.refresh_from_db()
        assert row.status == ReminderStatus.SENT

    def test_a_row_that_is_gone_is_taken(self, reminded):
        row = factories.ReminderFactory(patient=reminded)
        Reminder.objects.all().delete()
        assert send_one(reminder_id=row.pk, now=NOW, site_url=SITE) == "taken"


class TestSeenByTheClinic:
    def test_failed_and_unknown_of_two_weeks_by_name_and_reason(self, reminded, outside_patient):
        factories.ReminderFactory(
            patient=reminded, slot=1, status="FAILED", failure="SMTPRecipientsRefused"
        )
        factories.ReminderFactory(patient=reminded, slot=2, status="UNKNOWN")
        factories.ReminderFactory(patient=reminded, slot=3, status="SENT", sent_at=NOW)
        factories.ReminderFactory(
            patient=reminded, slot=4, status="FAILED", due_at=NOW - timedelta(days=15)
        )
        factories.ReminderFactory(patient=outside_patient, status="FAILED")
        found = delivery_problems(reminded.clinic_id, now=NOW)
        assert [(row.patient_name, row.local_date) for row in found] == [("Pia Lund", TODAY)] * 2
        assert {row.is_unknown for row in found} == {True, False}
        assert any("refused the address" in row.reason for row in found)

    def test_what_waits_is_counted_for_one_clinic(self, reminded, outside_patient):
        factories.ReminderFactory(patient=reminded)
        factories.ReminderFactory(patient=outside_patient)
        factories.SweepFactory()
        page = delivery_page(reminded.clinic_id, now=NOW)
        assert page.waiting == 1
        assert [(line.finished_at is None, line.is_late) for line in page.sweeps] == [
            (False, False),
            (True, True),
        ]


def test_a_mail_server_has_ten_seconds():
    assert settings.EMAIL_TIMEOUT == 10
