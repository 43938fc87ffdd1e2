"""What is due can be done without a worker and without a broker."""

from __future__ import annotations

from io import StringIO

from django.core.management import call_command

from adherence.models import Reminder, Review
from tests import factories


def test_one_sweep_sends_and_reviews(patient, issued_program, mailoutbox, settings):
    settings.REDIS_URL = settings.CELERY_BROKER_URL = "redis://127.0.0.1:1/0"
    factories.ReminderPreferenceFactory(patient=patient)
    told = StringIO()
    call_command("sweep", stdout=told)
    assert told.getvalue() == "reminders: 1 planned, 1 sent\nreviews: 1 reviewed\n"
    assert len(mailoutbox) == 1
    assert Reminder.objects.get().status == "SENT"
    assert not Review.objects.get().is_owed
    again = StringIO()
    call_command("sweep", stdout=again)
    assert again.getvalue() == "reminders: nothing to do\nreviews: nothing to do\n"
