"""Reminders that fail: refused, unreachable, left behind, and seen by the clinic."""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings

from adherence.models import Reminder
from adherence.operations import reminders as operations
from adherence.operations.reminders import (
    MOST_ATTEMPTS,
    release_stale_claims,
    send_one,
)
from adherence.queries.reminders import delivery_page, delivery_problems
from adherence.rules.reminders import ReminderStatus, SkipReason
from programs.rules.schedule import Pattern, Schedule
from shared import clock as shared_clock
from tests import factories, mail_backends
from tests.adherence.reminding import SITE, only, sweep
from tests.factories import NOW, STARTED_ON, TODAY


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
