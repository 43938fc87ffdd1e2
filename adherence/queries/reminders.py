"""What a patient has set for reminders, whether these leave, and how the sweeps are doing."""

from __future__ import annotations

import re
import uuid
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db import Error as DatabaseProblem
from django.db.models import Q
from django.utils.translation import gettext

from adherence.models import Reminder, ReminderPreference, Sweep
from adherence.queries.reminder_facts import UNANSWERED_LIMIT, address_of, unanswered_days
from adherence.rules.reminders import ReminderStatus
from clinic.models import Patient
from clinic.queries import policy_of_patient
from shared.dates import local_date

SEND_SWEEP = "send_due_reminders"
REVIEW_SWEEP = "review_flags"
LATE_AFTER = timedelta(minutes=10)
PROBLEM_DAYS = 14
MOST_PROBLEMS = 200
TOKEN = re.compile(r"[A-Za-z0-9_-]{1,64}")


@dataclass(frozen=True)
class OwnReminders:
    """The patient's choice, and the clinic's quiet hours that stand above it."""

    is_on: bool
    times: tuple[str, ...]
    address: str
    quiet_from: time
    quiet_until: time
    zone: str
    is_resting: bool  # none go out until the next entry, because several had none after them


@dataclass(frozen=True)
class SweepLine:
    """When a sweep last finished, None for never."""

    label: str
    finished_at: datetime | None
    is_late: bool


@dataclass(frozen=True)
class DeliveryProblem:
    """A reminder that failed, or of which nobody knows whether it arrived."""

    patient_id: uuid.UUID
    patient_name: str
    local_date: date
    is_unknown: bool
    reason: str


@dataclass(frozen=True)
class DeliveryPage:
    """What a clinic's admin sees of reminders: whether they leave, not what they are about."""

    sweeps: tuple[SweepLine, ...]
    waiting: int
    problems: tuple[DeliveryProblem, ...]


def own_reminders(patient: Patient, *, now: datetime) -> OwnReminders:
    """Return what is set; off and without times where nothing was chosen yet."""
    stored = ReminderPreference.objects.filter(patient=patient).first()
    policy = policy_of_patient(patient)
    is_on = stored is not None and stored.is_on
    today = local_date(now, patient.timezone)
    return OwnReminders(
        is_on=is_on,
        times=tuple(stored.times) if stored else (),
        address=address_of(patient),
        quiet_from=policy.quiet_from,
        quiet_until=policy.quiet_until,
        zone=patient.timezone,
        is_resting=is_on and unanswered_days(patient, before=today) >= UNANSWERED_LIMIT,
    )


def reminders_can_stop(token: str) -> bool:
    """Return whether a stop link is a real one."""
    if TOKEN.fullmatch(token) is None:
        return False
    return ReminderPreference.objects.filter(stop_token=token).exists()


def sweeps_state(*, now: datetime) -> dict[str, str]:
    """Return "ok" or "away" for the database and, by sweep, "ok", "late" or "never"."""
    try:
        finished = _finished()
    except DatabaseProblem:
        return {"database": "away"}
    state = {"database": "ok"}
    for name in (SEND_SWEEP, REVIEW_SWEEP):
        at = finished.get(name)
        state[name] = "never" if at is None else "late" if _is_late(at, now) else "ok"
    return state


def _finished() -> dict[str, datetime]:
    return dict(Sweep.objects.values_list("name", "finished_at"))


def _is_late(finished_at: datetime | None, now: datetime) -> bool:
    return finished_at is None or now - finished_at > LATE_AFTER


def delivery_page(clinic_id: uuid.UUID, *, now: datetime) -> DeliveryPage:
    """Return how reminders leave this clinic. Three queries."""
    finished = _finished()
    labels = ((SEND_SWEEP, gettext("Reminders")), (REVIEW_SWEEP, gettext("Review of entries")))
    overdue = Reminder.objects.filter(
        clinic_id=clinic_id,
        due_at__lte=now,
        status__in=[ReminderStatus.PENDING, ReminderStatus.CLAIMED, ReminderStatus.SENDING],
    )
    return DeliveryPage(
        sweeps=tuple(
            SweepLine(label, finished.get(name), _is_late(finished.get(name), now))
            for name, label in labels
        ),
        waiting=overdue.count(),
        problems=delivery_problems(clinic_id, now=now),
    )


def delivery_problems(clinic_id: uuid.UUID, *, now: datetime) -> tuple[DeliveryProblem, ...]:
    """Return the clinic's failed and unknown reminders of two weeks, newest first. One query."""
    rows = (
        Reminder.objects.filter(
            Q(status=ReminderStatus.FAILED) | Q(status=ReminderStatus.UNKNOWN),
            clinic_id=clinic_id,
            due_at__gt=now - timedelta(days=PROBLEM_DAYS),
        )
        .select_related("patient")
        .order_by("-due_at", "pk")[:MOST_PROBLEMS]
    )
    return tuple(
        DeliveryProblem(
            patient_id=row.patient_id,
            patient_name=str(row.patient),
            local_date=row.local_date,
            is_unknown=row.status == ReminderStatus.UNKNOWN,
            reason=_in_words(row),
        )
        for row in rows
    )


def _in_words(row: Reminder) -> str:
    if row.status == ReminderStatus.UNKNOWN:
        return gettext("The sending was cut off. It may have arrived, so it is not sent again.")
    if row.failure == "SMTPRecipientsRefused":
        return gettext("The mail server refused the address.")
    if row.failure == "SMTPDataError":
        return gettext("The mail server refused the mail.")
    if row.failure == "LeaseEnded":
        return gettext("The worker ended several times before it could send.")
    return gettext("The mail server could not be reached, five times.")
