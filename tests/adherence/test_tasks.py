"""Tasks: one operation each, and Beat's table rings them by their names."""

from __future__ import annotations

import ast
import json
import time
from datetime import timedelta

import pytest
from celery import Celery
from django.conf import settings

from adherence import tasks
from adherence.models import Flag, Reminder, Review, Sweep
from clinic.celery import app
from shared.enqueue import enqueue
from shared.environment import ROOT
from tests import factories
from tests.factories import NOW, TODAY


@pytest.fixture
def reminded(patient, issued_program):
    factories.ReminderPreferenceFactory(patient=patient)
    return patient


def test_reminders_are_sent_with_links_to_the_own_site(reminded, mailoutbox):
    tasks.send_due_reminders()
    (mail,) = mailoutbox
    assert f"{settings.SITE_URL}/today/" in mail.body
    assert Sweep.objects.get().name == "send_due_reminders"


def test_records_are_reviewed(reminded):
    tasks.review_flags()
    assert Review.objects.get(patient=reminded).done_for == TODAY
    assert Sweep.objects.get().name == "review_flags"


def test_one_record_is_reviewed_by_its_id_as_text(reminded, other_patient):
    tasks.review_one(patient_id=str(reminded.pk))
    assert Review.objects.get().patient == reminded


def test_a_task_of_a_later_version_may_bring_more(reminded):
    tasks.send_due_reminders(added_later=1)
    tasks.review_flags(added_later=1)
    tasks.review_one(patient_id=str(reminded.pk), added_later=1)
    assert Reminder.objects.count() == 1


def test_beat_rings_tasks_that_exist_in_utc_and_lets_no_bell_pile_up():
    app.loader.import_default_modules()
    assert app.conf.timezone == "UTC"
    for entry in app.conf.beat_schedule.values():
        assert entry["task"] in app.tasks
        assert set(entry) == {"task", "schedule", "options"}  # no arguments: nothing to leak
        assert entry["options"] == {"expires": 55}
    assert app.conf.beat_schedule["send-due-reminders"]["schedule"]._orig_minute == "*"


def test_a_worker_that_dies_gives_its_task_back():
    assert app.conf.task_acks_late
    assert app.conf.task_reject_on_worker_lost
    assert app.conf.worker_prefetch_multiplier == 1
    assert app.conf.accept_content == ["json"]
    options = app.conf.broker_transport_options
    assert app.conf.task_time_limit < options["visibility_timeout"] == 300
    assert 1 <= options["unacked_restore_interval"] <= 5
    assert 1 <= options["unacked_restore_throttle"] <= 5


def test_no_task_is_put_off_by_the_broker():
    """A task with an ETA outlives the visibility timeout, and is delivered again and again."""
    for folder in ("adherence", "programs", "clinic", "shared"):
        for path in (ROOT / folder).rglob("*.py"):
            for node in ast.walk(ast.parse(path.read_text())):
                if isinstance(node, ast.Call):
                    names = {keyword.arg for keyword in node.keywords}
                    assert not names & {"eta", "countdown"}, f"{path.name}:{node.lineno}"


class TestEnqueue:
    @pytest.mark.django_db(transaction=True)
    def test_the_bell_carries_an_id_and_nothing_else(self, broker, reminded):
        enqueue(tasks.review_one, patient_id=str(reminded.pk))
        message = json.loads(broker.lpop("celery"))
        assert message["headers"]["kwargsrepr"] == repr({"patient_id": str(reminded.pk)})
        assert message["headers"]["argsrepr"] == "()"
        assert message["headers"]["eta"] is None

    def test_it_rings_after_the_commit_only(
        self, broker, reminded, django_capture_on_commit_callbacks
    ):
        with django_capture_on_commit_callbacks(execute=False) as callbacks:
            enqueue(tasks.review_one, patient_id=str(reminded.pk))
        assert broker.llen("celery") == 0
        callbacks[0]()
        assert broker.llen("celery") == 1

    def test_a_broker_that_is_away_is_forgiven_and_the_sweep_finds_the_row(
        self, reminded, django_capture_on_commit_callbacks, caplog
    ):
        lonely = Celery("lonely", set_as_current=False)
        lonely.config_from_object("django.conf:settings", namespace="CELERY")
        lonely.conf.broker_url = "redis://127.0.0.1:1/0"

        @lonely.task(name="adherence.review_one")
        def task(patient_id: str) -> None:
            raise AssertionError(patient_id)

        factories.ReviewFactory(patient=reminded, wanted_at=NOW - timedelta(minutes=1))
        began = time.perf_counter()
        with django_capture_on_commit_callbacks(execute=True):
            enqueue(task, patient_id=str(reminded.pk))
        assert time.perf_counter() - began < 3
        assert "adherence.review_one left to the sweep: OperationalError" in caplog.text
        assert str(reminded.pk) not in caplog.text
        tasks.review_flags()
        assert not Review.objects.get().is_owed
        assert Flag.objects.count() <= 1
