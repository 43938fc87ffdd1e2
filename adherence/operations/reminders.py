"""Reminders: plan rows, claim them, send, settle. Celery only rings; the rows are the truth.

A worker that dies after the claim and before the sending leaves a lease that ends, and the row is
claimed again. One that dies while sending leaves SENDING, which becomes UNKNOWN and is never sent
again: e-mail cannot say "the same one", and a double reminder is worse than a missing one.
"""

from __future__ import annotations

import logging
import uuid
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from smtplib import (
    SMTPConnectError,
    SMTPException,
    SMTPNotSupportedError,
    SMTPRecipientsRefused,
    SMTPResponseException,
)

from django.db import transaction
from django.db.models import F, Q

from adherence.models import Reminder, ReminderPreference, SessionLog, SessionStatus, Sweep
from adherence.rules.reminders import (
    ReminderPlan,
    ReminderStatus,
    SendAction,
    SkipReason,
    due_reminders,
    may_send,
)
from clinic.models import Patient
from clinic.queries import policy_of_patient
from programs.queries.programs import ProgramView, latest_programs
from programs.rules.schedule import today_state
from shared.dates import local_date
from shared.email import send_email

logger = logging.getLogger(__name__)

SWEEP = "send_due_reminders"
LEASE = timedelta(seconds=60)
MOST_ATTEMPTS = 5
FIRST_RETRY = timedelta(minutes=2)
# The server said no, or was never reached: nothing has left, so it may be tried again.
NOT_SENT = (
    ConnectionRefusedError,
    FileNotFoundError,
    PermissionError,
    SMTPConnectError,
    SMTPNotSupportedError,
    SMTPRecipientsRefused,
    SMTPResponseException,
)
UNSETTLED = (ReminderStatus.PENDING, ReminderStatus.CLAIMED, ReminderStatus.SENDING)


@dataclass(frozen=True)
class Due:
    """What a patient's program asks of one local day."""

    slots: int
    paused: bool
    ended: bool


@transaction.atomic
def set_preference(
    *, patient: Patient, is_on: bool, times: Iterable[time], now: datetime
) -> ReminderPreference:
    """Store when a patient wants to be reminded. Rows of today that have not gone out follow."""
    wanted = sorted({moment.strftime("%H:%M") for moment in times})
    preference, _created = ReminderPreference.objects.update_or_create(
        patient=patient,
        defaults={
            "clinic_id": patient.clinic_id,
            "is_on": is_on,
            "times": wanted,
            "changed_at": now,
            "stopped_at": None if is_on else now,
        },
    )
    today = local_date(now, patient.timezone)
    Reminder.objects.filter(
        patient=patient, local_date__gte=today, status=ReminderStatus.PENDING
    ).delete()
    return preference


@transaction.atomic
def stop_by_token(*, token: str, now: datetime) -> bool:
    """Switch reminders off by the link in the mail, without signing in; False for no such link."""
    return (
        ReminderPreference.objects.filter(stop_token=token).update(
            is_on=False, stopped_at=now, changed_at=now
        )
        == 1
    )


def send_due(*, now: datetime, site_url: str) -> Counter[str]:
    """One sweep: plan what is due by `now`, settle what was left behind, claim and send the rest.

    Safe to run twice at once: the unique row plans once, the conditional update claims once.
    """
    counts: Counter[str] = Counter()
    counts["planned"] = plan_reminders(now=now)
    counts["released"] = release_stale_claims(now=now)
    for reminder_id in _due_ids(now):
        counts[send_one(reminder_id=reminder_id, now=now, site_url=site_url)] += 1
    Sweep.objects.update_or_create(
        name=SWEEP, defaults={"finished_at": now, "counts": dict(counts)}
    )
    return counts


def plan_reminders(*, now: datetime) -> int:
    """Make the rows of each patient's local today that are due by now; return how many are new."""
    preferences = list(
        ReminderPreference.objects.filter(is_on=True, patient__discharged_at=None).select_related(
            "patient", "patient__clinic", "patient__clinic__stored_policy"
        )
    )
    programs = latest_programs(p.patient_id for p in preferences)
    rows = [
        Reminder(
            clinic_id=preference.clinic_id,
            patient_id=preference.patient_id,
            local_date=plan.local_date,
            slot=plan.slot,
            due_at=plan.due_at,
            created_at=now,
        )
        for preference in preferences
        for plan in _plans(preference, programs.get(preference.patient_id), now)
        if plan.due_at <= now
    ]
    before = Reminder.objects.count()
    with transaction.atomic():
        Reminder.objects.bulk_create(rows, ignore_conflicts=True)
    return Reminder.objects.count() - before


def _plans(
    preference: ReminderPreference, program: ProgramView | None, now: datetime
) -> tuple[ReminderPlan, ...]:
    patient = preference.patient
    today = local_date(now, patient.timezone)
    policy = policy_of_patient(patient)
    return due_reminders(
        day=today,
        times=[time.fromisoformat(text) for text in preference.times],
        zone=patient.timezone,
        slots_due=_due_on(program, today).slots,
        quiet_from=policy.quiet_from,
        quiet_until=policy.quiet_until,
    )


def _due_on(program: ProgramView | None, day: date) -> Due:
    if program is None or not program.spans:
        return Due(slots=0, paused=False, ended=False)
    state = today_state(program.spans, program.pauses, day, program.completed_on)
    return Due(
        slots=len(state.slots), paused=state.kind == "PAUSED", ended=state.kind == "ENDED"
    )


def release_stale_claims(*, now: datetime) -> int:
    """Give back claims whose lease has ended; what was being sent then is UNKNOWN, not sent again."""
    ended = Reminder.objects.filter(lease_until__lt=now)
    with transaction.atomic():
        unknown = ended.filter(status=ReminderStatus.SENDING).update(
            status=ReminderStatus.UNKNOWN, lease_until=None
        )
        released = ended.filter(status=ReminderStatus.CLAIMED).update(
            status=ReminderStatus.PENDING, lease_until=None
        )
    if unknown:
        logger.warning("%d reminders may or may not have gone out", unknown)
    return released + unknown


def _due_ids(now: datetime) -> list[uuid.UUID]:
    waiting = Q(lease_until=None) | Q(lease_until__lte=now)
    return list(
        Reminder.objects.filter(waiting, status=ReminderStatus.PENDING, due_at__lte=now)
        .order_by("due_at", "pk")
        .values_list("pk", flat=True)
    )


def send_one(*, reminder_id: uuid.UUID, now: datetime, site_url: str) -> str:
    """Claim one reminder, look once more whether it should go out, send it; return what became."""
    if not _claim(reminder_id, now=now):
        return "taken"
    reminder = Reminder.objects.select_related(
        "patient",
        "patient__user",
        "patient__clinic",
        "patient__clinic__stored_policy",
        "patient__reminder_preference",
    ).get(pk=reminder_id)
    reason = _reason_against(reminder, now)
    if reason is not None:
        _settle(reminder, ReminderStatus.SKIPPED, skip_reason=reason)
        return "skipped"
    # From here on a crash means UNKNOWN: the mail may have left.
    begun = Reminder.objects.filter(pk=reminder.pk, status=ReminderStatus.CLAIMED).update(
        status=ReminderStatus.SENDING
    )
    if begun != 1:
        return "taken"
    try:
        _send(reminder, site_url=site_url)
    except NOT_SENT as error:
        return _failed(reminder, error, now=now)
    except (OSError, SMTPException) as error:
        _settle(reminder, ReminderStatus.UNKNOWN, failure=type(error).__name__)
        return "unknown"
    _settle(reminder, ReminderStatus.SENT, sent_at=now)
    return "sent"


def _claim(reminder_id: uuid.UUID, *, now: datetime) -> bool:
    """Take a pending row for a minute; False when another sweep was first."""
    claimed = Reminder.objects.filter(pk=reminder_id, status=ReminderStatus.PENDING).update(
        status=ReminderStatus.CLAIMED, lease_until=now + LEASE, attempts=F("attempts") + 1
    )
    return claimed == 1


def _reason_against(reminder: Reminder, now: datetime) -> SkipReason | None:
    patient = reminder.patient
    policy = policy_of_patient(patient)
    due = _due_on(latest_programs([patient.pk]).get(patient.pk), reminder.local_date)
    entered = (
        SessionLog.objects.filter(patient=patient, local_date=reminder.local_date)
        .exclude(status=SessionStatus.IN_PROGRESS)
        .count()
    )
    decision = may_send(
        now=now,
        due_at=reminder.due_at,
        zone=patient.timezone,
        quiet_from=policy.quiet_from,
        quiet_until=policy.quiet_until,
        done_today=entered,
        slots_due=due.slots,
        paused=due.paused,
        opted_out=not patient.reminder_preference.is_on,
        has_address=bool(_address(patient)),
        ended=due.ended or patient.discharged_at is not None,
        slot=reminder.slot,
    )
    return decision.reason if decision.action == SendAction.SKIP else None


def _address(patient: Patient) -> str:
    return patient.user.email if patient.user else patient.email


def _send(reminder: Reminder, *, site_url: str) -> None:
    token = reminder.patient.reminder_preference.stop_token
    stop = f"{site_url}/reminders/stop/{token}/"
    send_email(
        "reminder",
        to=_address(reminder.patient),
        context={"today": f"{site_url}/today/", "stop": stop, "clinic": reminder.patient.clinic},
        headers={
            "Message-ID": f"<{reminder.pk}@reminders.carryover>",
            "List-Unsubscribe": f"<{stop}>",
            "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
        },
    )


def _failed(reminder: Reminder, error: Exception, *, now: datetime) -> str:
    """Try again later, each time twice as late, or give up where people can see it."""
    if reminder.attempts >= MOST_ATTEMPTS:
        _settle(reminder, ReminderStatus.FAILED, failure=type(error).__name__)
        return "failed"
    Reminder.objects.filter(pk=reminder.pk, status=ReminderStatus.SENDING).update(
        status=ReminderStatus.PENDING,
        lease_until=now + FIRST_RETRY * 2 ** (reminder.attempts - 1),
        failure=type(error).__name__,
    )
    return "retry"


def _settle(
    reminder: Reminder,
    status: ReminderStatus,
    *,
    sent_at: datetime | None = None,
    skip_reason: str = "",
    failure: str = "",
) -> None:
    Reminder.objects.filter(pk=reminder.pk, status__in=UNSETTLED).update(
        status=status,
        sent_at=sent_at,
        skip_reason=skip_reason,
        failure=failure,
        lease_until=None,
    )
