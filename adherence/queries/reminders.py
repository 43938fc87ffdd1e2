"""What a patient has set for reminders, and how the sweeps are doing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta

from adherence.models import ReminderPreference, Sweep
from clinic.models import Patient
from clinic.queries import policy_of_patient

LATE_AFTER = timedelta(minutes=10)


@dataclass(frozen=True)
class OwnReminders:
    """The patient's choice, and the clinic's quiet hours that stand above it."""

    is_on: bool
    times: tuple[str, ...]
    address: str
    quiet_from: time
    quiet_until: time
    zone: str


def own_reminders(patient: Patient) -> OwnReminders:
    """Return what is set; off and without times where nothing was chosen yet."""
    stored = ReminderPreference.objects.filter(patient=patient).first()
    policy = policy_of_patient(patient)
    return OwnReminders(
        is_on=stored.is_on if stored else False,
        times=tuple(stored.times) if stored else (),
        address=patient.user.email if patient.user else patient.email,
        quiet_from=policy.quiet_from,
        quiet_until=policy.quiet_until,
        zone=patient.timezone,
    )


def reminders_can_stop(token: str) -> bool:
    """Return whether a stop link is a real one."""
    return ReminderPreference.objects.filter(stop_token=token).exists()


def sweeps_state(*, now: datetime) -> dict[str, str]:
    """Return by sweep "ok", "late" or "never"."""
    finished = dict(Sweep.objects.values_list("name", "finished_at"))
    state = {}
    for name in ("send_due_reminders", "review_flags"):
        at = finished.get(name)
        state[name] = "never" if at is None else "ok" if now - at < LATE_AFTER else "late"
    return state
