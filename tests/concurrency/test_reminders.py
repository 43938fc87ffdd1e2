"""Each reminder goes out once, whoever runs at once, and whoever dies in the middle."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta
from pathlib import Path

import pytest

from adherence.models import Reminder
from adherence.operations.reminders import plan_reminders, send_due, send_one
from adherence.tasks import send_due_reminders
from shared.mailbox import mail_names, read_mails
from tests import factories
from tests.factories import NOW
from tests.race import race
from tests.workers import set_clock, soon, workers

SITE = "https://clinic.example"
MANY = 12
AFTER_THE_LEASE = NOW + timedelta(seconds=90)
OPENING = {"TEST_EMAIL_BACKEND": "tests.mail_backends.WaitsToOpen"}
SENDING = {"TEST_EMAIL_BACKEND": "tests.mail_backends.WaitsToSend"}


@pytest.fixture
def reminded(therapist, issue_program, transactional_db):
    """Patients who all want to be reminded at half past nine, half an hour ago."""

    def make(count: int) -> set[str]:
        addresses = set()
        for number in range(count):
            patient = factories.PatientFactory(
                clinic=therapist.clinic, user__email=f"person-{number}@mail.example"
            )
            issue_program(patient, therapist)
            factories.ReminderPreferenceFactory(patient=patient)
            addresses.add(patient.user.email)
        return addresses

    return make


def statuses() -> Counter[str]:
    return Counter(Reminder.objects.values_list("status", flat=True))


@pytest.mark.databases_differ
@pytest.mark.django_db(transaction=True)
class TestThreads:
    def test_sweeps_at_once_send_each_once(self, reminded, mailoutbox):
        addresses = reminded(MANY)
        results = race(4, lambda _: send_due(clock=lambda: NOW, site_url=SITE))
        assert [type(result) for result in results] == [Counter] * 4
        assert Counter(mail.to[0] for mail in mailoutbox) == dict.fromkeys(addresses, 1)
        assert statuses() == {"SENT": MANY}
        assert sum(result["sent"] for result in results) == MANY

    def test_planning_at_once_makes_each_row_once(self, reminded):
        reminded(MANY)
        results = race(4, lambda _: plan_reminders(now=NOW))
        assert all(isinstance(result, int) for result in results), results
        assert Reminder.objects.count() == MANY

    def test_one_row_has_one_winner(self, reminded, mailoutbox):
        reminded(1)
        plan_reminders(now=NOW)
        row = Reminder.objects.get()
        results = race(8, lambda _: send_one(reminder_id=row.pk, now=NOW, site_url=SITE))
        assert Counter(results) == {"sent": 1, "taken": 7}
        assert len(mailoutbox) == 1


def recipients(environment: dict[str, str]) -> Counter[str]:
    folder = Path(environment["CARRYOVER_DATA"]) / "mailbox"
    return Counter(mail.to for mail in read_mails(folder, mail_names(folder)))


@pytest.fixture
def held(other_process) -> Path:
    """While this file is there, a worker stands still at its mail server."""
    hold = Path(other_process["CARRYOVER_DATA"]) / "hold"
    hold.touch()
    return hold


def swept(environment: dict[str, str]) -> int:
    """Return how many sweeps workers have finished, by their logs."""
    logs = Path(environment["CARRYOVER_DATA"]).glob("worker-*.log")
    return sum(
        line.count("succeeded") for log in logs for line in log.read_text().splitlines()
    )


def sweep_and_wait(environment: dict[str, str]) -> None:
    before = swept(environment)
    send_due_reminders.apply_async()
    assert soon(lambda: swept(environment) > before)


@pytest.mark.databases_differ
@pytest.mark.processes
class TestProcesses:
    def test_two_workers_and_three_bells_send_each_once(self, other_process, broker, reminded):
        addresses = reminded(MANY)
        set_clock(other_process, NOW)
        for _ in range(3):
            send_due_reminders.apply_async()
        with workers(2, other_process):
            assert soon(lambda: statuses() == {"SENT": MANY}), statuses()
            assert soon(lambda: swept(other_process) == 3)
        assert recipients(other_process) == dict.fromkeys(addresses, 1)

    def test_killed_between_claim_and_sending_it_is_sent_once_after_the_lease(
        self, other_process, broker, reminded, held
    ):
        (address,) = reminded(1)
        set_clock(other_process, NOW)
        with workers(1, other_process, **OPENING) as (worker,):
            send_due_reminders.apply_async()
            assert soon(held.with_name("opening").exists), worker.told()
            assert statuses() == {"CLAIMED": 1}
            worker.kill()
        held.unlink()
        with workers(1, other_process):
            sweep_and_wait(other_process)
            assert statuses() == {"CLAIMED": 1}
            assert not recipients(other_process)
            set_clock(other_process, AFTER_THE_LEASE)
            for _ in range(2):
                sweep_and_wait(other_process)
        row = Reminder.objects.get()
        assert (row.status, row.attempts) == ("SENT", 2)
        assert recipients(other_process) == {address: 1}

    def test_killed_while_sending_it_is_unknown_and_never_sent_again(
        self, other_process, broker, reminded, held
    ):
        (address,) = reminded(1)
        set_clock(other_process, NOW)
        with workers(1, other_process, **SENDING) as (worker,):
            send_due_reminders.apply_async()
            assert soon(held.with_name("sending").exists), worker.told()
            assert statuses() == {"SENDING": 1}
            worker.kill()
        held.unlink()
        with workers(1, other_process):
            set_clock(other_process, AFTER_THE_LEASE)
            sweep_and_wait(other_process)
            assert statuses() == {"UNKNOWN": 1}
            set_clock(other_process, NOW + timedelta(hours=1))
            sweep_and_wait(other_process)
        assert statuses() == {"UNKNOWN": 1}
        assert recipients(other_process) == {address: 1}

    def test_a_broker_that_forgets_everything_loses_no_reminder(
        self, other_process, broker, reminded, held
    ):
        addresses = reminded(MANY)
        set_clock(other_process, NOW)
        with workers(1, other_process, **OPENING) as (worker,):
            for _ in range(3):
                send_due_reminders.apply_async()
            assert soon(held.with_name("opening").exists), worker.told()
            broker.flushdb()
            held.unlink()
            assert soon(lambda: statuses() == {"SENT": MANY}), worker.told()
            # The same worker still hears the next bell, from the same ringer.
            sweep_and_wait(other_process)
        assert recipients(other_process) == dict.fromkeys(addresses, 1)
