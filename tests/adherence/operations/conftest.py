"""What the tests of reminders share."""

from __future__ import annotations

import pytest

from tests import factories


@pytest.fixture
def reminded(patient, issued_program):
    """Pia is reminded at half past nine; her program is daily."""
    factories.ReminderPreferenceFactory(patient=patient)
    return patient


@pytest.fixture
def server(settings):
    """Name the mail server's behavior by a class of `tests.mail_backends`."""

    def behave(kind: type | None) -> None:
        settings.EMAIL_BACKEND = (
            f"tests.mail_backends.{kind.__name__}"
            if kind
            else "django.core.mail.backends.locmem.EmailBackend"
        )

    return behave
