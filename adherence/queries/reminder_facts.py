"""What must be known of a patient before a reminder is planned, and before it is sent."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Max, Q

from adherence.models import PainRating, Reminder, ReminderPreference, SessionLog, SessionStatus
from adherence.rules.reminders import ReminderStatus, SendAction, SkipReason, Week, may_send
from clinic.models import Patient
from clinic.queries import policy_of_patient
from programs.queries.programs import ProgramView, latest_program
from programs.rules.schedule import TodayKind, today_state

UNANSWERED_LIMIT = 3
# Somebody who began a session so long ago at most is taken to be at it.
AT_IT = timedelta(hours=1)
PERFORMED = (SessionStatus.COMPLETED, SessionStatus.STOPPED)


@dataclass(frozen=True)
class DueThatDay:
    """What a patient's program asks of one local day; `quota` of the week from `week` on."""

    slots: int = 0
    paused: bool = False
    ended: bool = False
    quota: int | None = None
    week: date | None = None


def due_that_day(program: ProgramView | None, day: date) -> DueThatDay:
    """Return what is due by the schedule alone, whatever has been done already."""
    if program is None or not program.spans:
        return DueThatDay()
    state = today_state(program.spans, program.pauses, day, program.completed_on)
    return DueThatDay(
        slots=len(state.slots),
        paused=state.kind == TodayKind.PAUSED,
        ended=state.kind == TodayKind.ENDED,
        quota=state.quota,
        week=state.week,
    )


def address_of(patient: Patient) -> str:
    """Return where mail to a patient goes, empty where it must not go anywhere."""
    if patient.user is None:
        return patient.email
    return patient.user.email if patient.user.is_active else ""


def reason_against(reminder: Reminder, *, now: datetime) -> SkipReason | None:
    """Look at the record as it stands now; None when the reminder may go out.

    `reminder` comes with its patient, the patient's user, clinic, policy and preference.
    """
    patient = reminder.patient
    policy = policy_of_patient(patient)
    preference: ReminderPreference | None = getattr(patient, "reminder_preference", None)
    due = due_that_day(latest_program(patient.pk), reminder.local_date)
    decision = may_send(
        now=now,
        due_at=reminder.due_at,
        zone=patient.timezone,
        quiet_from=policy.quiet_from,
        quiet_until=policy.quiet_until,
        done_today=_entered_on(patient, reminder.local_date, now=now),
        slots_due=due.slots,
        paused=due.paused,
        opted_out=preference is None or not preference.is_on,
        has_address=bool(address_of(patient)),
        ended=due.ended or patient.discharged_at is not None,
        slot=reminder.slot,
        week=_week_of(patient, due),
        unanswered_days=unanswered_days(patient, before=reminder.local_date),
        unanswered_limit=UNANSWERED_LIMIT,
    )
    return decision.reason if decision.action == SendAction.SKIP else None


def _entered_on(patient: Patient, day: date, *, now: datetime) -> int:
    at_it = Q(status=SessionStatus.IN_PROGRESS, started_at__gt=now - AT_IT)
    return (
        SessionLog.objects.filter(patient=patient, local_date=day)
        .filter(~Q(status=SessionStatus.IN_PROGRESS) | at_it)
        .count()
    )


def _week_of(patient: Patient, due: DueThatDay) -> Week | None:
    if due.quota is None or due.week is None:
        return None
    days = Q(local_date__gte=due.week, local_date__lt=due.week + timedelta(days=7))
    gone = (ReminderStatus.SENT, ReminderStatus.UNKNOWN)
    return Week(
        quota=due.quota,
        done=SessionLog.objects.filter(days, patient=patient, status__in=PERFORMED).count(),
        sent=Reminder.objects.filter(days, patient=patient, status__in=gone).count(),
    )


def unanswered_days(patient: Patient, *, before: date) -> int:
    """Return on how many local days before `before` reminders went out without an answer since.

    An answer is any entry, or a new choice of when to be reminded. Counts up to the limit.
    """
    sent = Reminder.objects.filter(
        patient=patient, status=ReminderStatus.SENT, local_date__lt=before
    )
    answered_at = _last_answer(patient)
    if answered_at is not None:
        sent = sent.filter(sent_at__gt=answered_at)
    return sent.values("local_date").distinct()[:UNANSWERED_LIMIT].count()


def _last_answer(patient: Patient) -> datetime | None:
    sessions = SessionLog.objects.filter(patient=patient).aggregate(
        begun=Max("recorded_at"), finished=Max("finished_at")
    )
    ratings = PainRating.objects.filter(patient=patient).aggregate(rated=Max("recorded_at"))
    preference = ReminderPreference.objects.filter(patient=patient).first()
    times = [*sessions.values(), *ratings.values(), preference.changed_at if preference else None]
    return max((at for at in times if at is not None), default=None)
