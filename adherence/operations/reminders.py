"""Reminders: plan rows, claim them, send, settle. Celery only rings; the rows are the truth.

A worker that dies after the claim and before the sending leaves a lease that ends, and the row is
claimed again. One that dies while sending leaves SENDING, which becomes UNKNOWN and is never sent
again: e-mail cannot say "the same one", and a double reminder is worse than a missing one.

Each claim counts one attempt, and whoever holds it writes only where that number still stands: a
sweep that was held up for longer than its lease finds that the row is somebody else's.
"""

from __future__ import annotations

import logging
import uuid
from collections import Counter
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from smtplib import (
    SMTPDataError,
    SMTPException,
    SMTPNotSupportedError,
    SMTPRecipientsRefused,
    SMTPResponseException,
)

from django.core.exceptions import ImproperlyConfigured
from django.core.mail import EmailMultiAlternatives, get_connection
from django.core.mail.backends.base import BaseEmailBackend
from django.db import transaction
from django.db.models import F, Q, QuerySet

from adherence.models import Reminder, ReminderPreference, Sweep
from adherence.queries.reminder_facts import address_of, due_that_day, reason_against
from adherence.queries.reminders import SEND_SWEEP
from adherence.rules.reminders import ReminderPlan, ReminderStatus, due_reminders
from clinic.models import Patient
from clinic.queries import policy_of_patient
from programs.queries.programs import latest_programs
from shared.dates import local_date
from shared.email import compose_email, message_id
from shared.failures import kind_and_place

logger = logging.getLogger(__name__)

LEASE = timedelta(seconds=60)
MOST_ATTEMPTS = 5
FIRST_RETRY = timedelta(minutes=2)
SPREAD = 30  # seconds over which the retries of one minute are spread
# Beyond either, the rest waits for the next minute: so long a slow server can hold one worker.
BUDGET = timedelta(seconds=40)
MOST_UNREACHED = 3


class Outcome(StrEnum):
    """What became of one reminder in one sweep. BROKEN: our own fault, left to its lease."""

    TAKEN = "taken"
    SKIPPED = "skipped"
    SENT = "sent"
    UNREACHED = "unreached"
    REFUSED = "refused"
    UNKNOWN = "unknown"
    BROKEN = "broken"


@transaction.atomic
def set_preference(
    *, patient: Patient, is_on: bool, times: Iterable[time], now: datetime
) -> ReminderPreference:
    """Store when a patient wants to be reminded; what waits for another try follows the new times.

    Times of today that have passed already are not caught up on.
    """
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
def stop_by_token(*, token: str, now: datetime) -> None:
    """Switch reminders off by the link in the mail, without signing in; again changes nothing."""
    ReminderPreference.objects.filter(stop_token=token, is_on=True).update(
        is_on=False, stopped_at=now, changed_at=now
    )


def send_due(*, clock: Callable[[], datetime], site_url: str) -> Counter[str]:
    """One sweep: plan what is due, settle what was left behind, claim and send the rest.

    `clock` returns the present instant: mail takes time, and each reminder is judged by its own.
    Safe to run twice at once: the unique row plans once, the conditional update claims once.
    """
    began = clock()
    counts: Counter[str] = Counter(
        planned=plan_reminders(now=began), released=release_stale_claims(now=began)
    )
    for reminder_id in list(_waiting(began).order_by("due_at", "pk").values_list("pk", flat=True)):
        now = clock()
        if now - began > BUDGET or counts[Outcome.UNREACHED] >= MOST_UNREACHED:
            break
        counts[_try_one(reminder_id, now=now, site_url=site_url)] += 1
    counts["waiting"] = _waiting(began).count()
    Sweep.objects.update_or_create(
        name=SEND_SWEEP, defaults={"finished_at": clock(), "counts": dict(counts)}
    )
    return counts


def plan_reminders(*, now: datetime) -> int:
    """Make the rows that are due by now; return how many.

    Of each patient's local today, and of yesterday if no sweep has run since, so that what was
    missed is on record.
    """
    since = Sweep.objects.filter(name=SEND_SWEEP).values_list("finished_at", flat=True).first()
    wanted: dict[ReminderPreference, list[ReminderPlan]] = {}
    for preference in ReminderPreference.objects.filter(
        is_on=True, patient__discharged_at=None
    ).select_related("patient", "patient__clinic", "patient__clinic__stored_policy"):
        try:
            wanted[preference] = _plans(preference, since=since, now=now)
        except ValueError as error:
            logger.error("times of one patient cannot be read: %s", kind_and_place(error))
    missing = _missing(wanted)
    programs = latest_programs(preference.patient_id for preference in missing)
    rows = [
        Reminder(
            clinic_id=preference.clinic_id,
            patient_id=preference.patient_id,
            local_date=plan.local_date,
            slot=plan.slot,
            due_at=plan.due_at,
            created_at=now,
        )
        for preference, plans in missing.items()
        for plan in plans
        if plan.slot <= due_that_day(programs.get(preference.patient_id), plan.local_date).slots
    ]
    if rows:
        Reminder.objects.bulk_create(rows, ignore_conflicts=True)
    return len(rows)


def _plans(
    preference: ReminderPreference, *, since: datetime | None, now: datetime
) -> list[ReminderPlan]:
    """Return what one patient's times ask for by now, were a session due for each."""
    patient = preference.patient
    policy = policy_of_patient(patient)
    today = local_date(now, patient.timezone)
    yesterday = today - timedelta(days=1)
    missed_yesterday = since is not None and local_date(since, patient.timezone) <= yesterday
    times = [time.fromisoformat(text) for text in preference.times]
    days: list[date] = [yesterday, today] if missed_yesterday else [today]
    return [
        plan
        for day in days
        for plan in due_reminders(
            day=day,
            times=times,
            zone=patient.timezone,
            slots_due=len(times),
            quiet_from=policy.quiet_from,
            quiet_until=policy.quiet_until,
        )
        if preference.changed_at <= plan.due_at <= now
    ]


def _missing(
    wanted: dict[ReminderPreference, list[ReminderPlan]],
) -> dict[ReminderPreference, list[ReminderPlan]]:
    days = {plan.local_date for plans in wanted.values() for plan in plans}
    there = set(
        Reminder.objects.filter(local_date__in=days).values_list("patient_id", "local_date", "slot")
    )
    missing = {
        preference: [
            plan
            for plan in plans
            if (preference.patient_id, plan.local_date, plan.slot) not in there
        ]
        for preference, plans in wanted.items()
    }
    return {preference: plans for preference, plans in missing.items() if plans}


def release_stale_claims(*, now: datetime) -> int:
    """Settle claims whose lease has ended; return how many.

    Not begun to send: given back, or FAILED after the last attempt. Begun: UNKNOWN for good.
    """
    ended = Reminder.objects.filter(lease_until__lt=now)
    claimed = ended.filter(status=ReminderStatus.CLAIMED)
    unknown = ended.filter(status=ReminderStatus.SENDING).update(
        status=ReminderStatus.UNKNOWN, lease_until=None, failure="LeaseEnded"
    )
    failed = claimed.filter(attempts__gte=MOST_ATTEMPTS).update(
        status=ReminderStatus.FAILED, lease_until=None, failure="LeaseEnded"
    )
    released = claimed.update(status=ReminderStatus.PENDING, lease_until=None)
    if unknown or failed:
        logger.warning("%d reminders failed, %d may or may not have gone out", failed, unknown)
    return unknown + failed + released


def _waiting(now: datetime) -> QuerySet[Reminder]:
    may_try = Q(lease_until=None) | Q(lease_until__lte=now)
    return Reminder.objects.filter(may_try, status=ReminderStatus.PENDING, due_at__lte=now)


def _try_one(reminder_id: uuid.UUID, *, now: datetime, site_url: str) -> Outcome:
    """Let a reminder that breaks in our hands not stop those after it: its lease settles it."""
    try:
        return send_one(reminder_id=reminder_id, now=now, site_url=site_url)
    except Exception as error:  # noqa: BLE001 - whatever it is, the others are to be sent
        logger.error("one reminder broke: %s", kind_and_place(error))
        return Outcome.BROKEN


def send_one(*, reminder_id: uuid.UUID, now: datetime, site_url: str) -> Outcome:
    """Claim one reminder, look once more whether it should go out, send it; say what became."""
    reminder = _claim(reminder_id, now=now)
    if reminder is None:
        return Outcome.TAKEN
    reason = reason_against(reminder, now=now)
    if reason is not None:
        _settle(reminder, ReminderStatus.SKIPPED, skip_reason=reason)
        return Outcome.SKIPPED
    mail = _mail(reminder, site_url=site_url)
    try:
        connection: BaseEmailBackend = get_connection()
        connection.open()
    except (OSError, SMTPException, ImproperlyConfigured) as error:
        _try_later(reminder, error, now=now)
        return Outcome.UNREACHED
    try:
        return _deliver(reminder, mail, connection, now=now)
    finally:
        # The mail has left or not; a server that is slow to say goodbye does not change it.
        with suppress(OSError, SMTPException):
            connection.close()


def _claim(reminder_id: uuid.UUID, *, now: datetime) -> Reminder | None:
    """Take a waiting row for a minute; None when it is gone or another sweep was first."""
    reminder = (
        _waiting(now)
        .filter(pk=reminder_id)
        .select_related(
            "patient",
            "patient__user",
            "patient__clinic",
            "patient__clinic__stored_policy",
            "patient__reminder_preference",
        )
        .first()
    )
    if reminder is None:
        return None
    claimed = _waiting(now).filter(pk=reminder_id, attempts=reminder.attempts).update(
        status=ReminderStatus.CLAIMED, lease_until=now + LEASE, attempts=F("attempts") + 1
    )
    reminder.attempts += 1
    return reminder if claimed == 1 else None


def _mail(reminder: Reminder, *, site_url: str) -> EmailMultiAlternatives:
    token = reminder.patient.reminder_preference.stop_token
    stop = f"{site_url}/reminders/stop/{token}/"
    mail = compose_email(
        "reminder",
        to=address_of(reminder.patient),
        context={"today": f"{site_url}/today/", "stop": stop, "clinic": reminder.patient.clinic},
        headers={
            "Message-ID": message_id(reminder.pk, site_url=site_url),
            "Auto-Submitted": "auto-generated",
            "List-Unsubscribe": f"<{stop}>",
            "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
        },
    )
    mail.message()  # what cannot be written down breaks here, while nothing has been sent
    return mail


def _deliver(
    reminder: Reminder,
    mail: EmailMultiAlternatives,
    connection: BaseEmailBackend,
    *,
    now: datetime,
) -> Outcome:
    # From here on a crash means UNKNOWN: the mail may have left.
    begun = _held(reminder, ReminderStatus.CLAIMED).update(status=ReminderStatus.SENDING)
    if begun != 1:
        return Outcome.TAKEN
    try:
        connection.send_messages([mail])
    except (SMTPResponseException, SMTPRecipientsRefused, SMTPNotSupportedError) as error:
        if _is_final(error):
            _settle(reminder, ReminderStatus.FAILED, failure=type(error).__name__)
        else:
            _try_later(reminder, error, now=now)
        return Outcome.REFUSED
    except (OSError, SMTPException) as error:
        _settle(reminder, ReminderStatus.UNKNOWN, failure=type(error).__name__)
        return Outcome.UNKNOWN
    _settle(reminder, ReminderStatus.SENT, sent_at=now)
    return Outcome.SENT


def _is_final(error: Exception) -> bool:
    """Return whether the server will say the same to this address and mail the next time."""
    if isinstance(error, SMTPRecipientsRefused):
        return all(code >= 500 for code, _text in error.recipients.values())
    if isinstance(error, SMTPDataError):
        return error.smtp_code >= 500
    return isinstance(error, SMTPNotSupportedError)


def _held(reminder: Reminder, *statuses: ReminderStatus) -> QuerySet[Reminder]:
    """Return the row as long as it is in one of these states and still under our claim."""
    return Reminder.objects.filter(
        pk=reminder.pk, attempts=reminder.attempts, status__in=statuses
    )


def _try_later(reminder: Reminder, error: Exception, *, now: datetime) -> None:
    """Wait for another try, each time twice as long, or give up where people can see it."""
    failure = type(error).__name__
    if reminder.attempts >= MOST_ATTEMPTS:
        _settle(reminder, ReminderStatus.FAILED, failure=failure)
        return
    wait = FIRST_RETRY * 2 ** (reminder.attempts - 1) + timedelta(seconds=reminder.pk.int % SPREAD)
    _held(reminder, ReminderStatus.CLAIMED, ReminderStatus.SENDING).update(
        status=ReminderStatus.PENDING, lease_until=now + wait, failure=failure
    )


def _settle(
    reminder: Reminder,
    status: ReminderStatus,
    *,
    sent_at: datetime | None = None,
    skip_reason: str = "",
    failure: str = "",
) -> None:
    """Write the end. Who knows that a mail left may say so after the lease was given up on."""
    known = [ReminderStatus.UNKNOWN] if status == ReminderStatus.SENT else []
    _held(reminder, ReminderStatus.CLAIMED, ReminderStatus.SENDING, *known).update(
        status=status,
        sent_at=sent_at,
        skip_reason=skip_reason,
        failure=failure,
        lease_until=None,
    )
