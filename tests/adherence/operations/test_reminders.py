"""Reminders: planned once, sent once, and skipped for each reason there is."""

from __future__ import annotations

import email
from datetime import UTC, date, datetime, time, timedelta
from email.policy import default

import pytest

from adherence.models import Reminder, ReminderPreference, Sweep
from adherence.operations.reminders import (
    plan_reminders,
    set_preference,
    stop_by_token,
)
from adherence.rules.reminders import ReminderStatus, SkipReason
from clinic.operations import discharge_patient
from programs.models import PauseReason
from programs.operations.programs import complete_program, pause_program
from programs.rules.schedule import Pattern, Schedule
from shared import clock as shared_clock
from tests import factories, mail_backends
from tests.adherence.reminding import SITE, only, sweep
from tests.factories import NOW, STARTED_ON, TODAY


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
