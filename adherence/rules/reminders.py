"""When to remind a patient, and whether a reminder that has come due may still go out.

Times are the patient's own wall-clock times in their own zone. Quiet hours are checked twice, when
a reminder is planned and when it is sent, because delays, travel and daylight saving lie between.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from zoneinfo import ZoneInfo

from shared.dates import local_date, resolve_wall_time


class ReminderStatus(StrEnum):
    """Life of a reminder. UNKNOWN: the sender died between sending and noting it; never resent."""

    PENDING = "PENDING"
    CLAIMED = "CLAIMED"
    SENDING = "SENDING"
    SENT = "SENT"
    SKIPPED = "SKIPPED"
    FAILED = "FAILED"
    UNKNOWN = "UNKNOWN"


class SendAction(StrEnum):
    """What to do with a reminder that has come due."""

    SEND = "SEND"
    SKIP = "SKIP"


class SkipReason(StrEnum):
    """Why a reminder is not sent."""

    DONE_ALREADY = "DONE_ALREADY"
    PAUSED = "PAUSED"
    QUIET_HOURS = "QUIET_HOURS"
    STALE = "STALE"
    OPTED_OUT = "OPTED_OUT"
    NO_ADDRESS = "NO_ADDRESS"
    NOT_DUE = "NOT_DUE"
    ENDED = "ENDED"
    WEEK_COVERED = "WEEK_COVERED"
    UNANSWERED = "UNANSWERED"


@dataclass(frozen=True)
class Week:
    """A week of a weekly quota: sessions asked for, sessions done, reminders sent."""

    quota: int
    done: int
    sent: int


@dataclass(frozen=True)
class ReminderPlan:
    """One reminder to be: for which local date and slot, at which instant (UTC)."""

    local_date: date
    slot: int
    due_at: datetime


@dataclass(frozen=True)
class SendDecision:
    """Send, or skip for a reason."""

    action: SendAction
    reason: SkipReason | None = None

    @property
    def may_send(self) -> bool:
        """Whether the reminder goes out."""
        return self.action == SendAction.SEND


def is_quiet(wall: time, *, quiet_from: time, quiet_until: time) -> bool:
    """Whether a wall-clock time lies in the quiet hours [from, until), which may span midnight."""
    if quiet_from == quiet_until:
        return False
    if quiet_from < quiet_until:
        return quiet_from <= wall < quiet_until
    return wall >= quiet_from or wall < quiet_until


def _moved(wall: time, *, quiet_from: time, quiet_until: time) -> time | None:
    """The time itself, the end of quiet hours the same day, or None when the day is over."""
    if not is_quiet(wall, quiet_from=quiet_from, quiet_until=quiet_until):
        return wall
    return quiet_until if wall < quiet_until else None


def is_dropped(wall: time, *, quiet_from: time, quiet_until: time) -> bool:
    """Whether a reminder at this time never goes out: quiet until the day is over."""
    return _moved(wall, quiet_from=quiet_from, quiet_until=quiet_until) is None


def due_reminders(
    *,
    day: date,
    times: Sequence[time],
    zone: str,
    slots_due: int,
    quiet_from: time,
    quiet_until: time,
) -> tuple[ReminderPlan, ...]:
    """Reminders of one local date: at most one a due slot, in order of time.

    A time before the end of quiet hours moves to their end, a time after their start is dropped;
    two that then fall together are one. A wall time that daylight saving skips is read with the
    offset before the gap, one that comes twice is the first. A reminder that would leave its own
    date (a zone that skips a day) or land in quiet hours that way is dropped.
    """
    walls: list[time] = []
    for wall in sorted(times):
        moved = _moved(wall, quiet_from=quiet_from, quiet_until=quiet_until)
        if moved is not None and moved not in walls:
            walls.append(moved)
    plans: list[ReminderPlan] = []
    for wall in sorted(walls):
        if len(plans) >= slots_due:
            break
        due_at = resolve_wall_time(day, wall, zone)
        shown = due_at.astimezone(ZoneInfo(zone))
        if shown.date() != day or any(plan.due_at == due_at for plan in plans):
            continue
        if is_quiet(
            shown.time().replace(tzinfo=None), quiet_from=quiet_from, quiet_until=quiet_until
        ):
            continue
        plans.append(ReminderPlan(day, len(plans) + 1, due_at))
    return tuple(plans)


def may_send(
    *,
    now: datetime,
    due_at: datetime,
    zone: str,
    quiet_from: time,
    quiet_until: time,
    done_today: int,
    slots_due: int,
    paused: bool,
    opted_out: bool,
    has_address: bool,
    max_age_hours: float = 2,
    ended: bool = False,
    slot: int | None = None,
    week: Week | None = None,
    unanswered_days: int = 0,
    unanswered_limit: int = 3,
) -> SendDecision:
    """Decide at the moment of sending; the first reason against it wins.

    `done_today` counts sessions entered today, done or not done with a reason. Without `slot`
    the reminder goes out while fewer are entered than due; with it, while fewer than `slot` are.
    A reminder older than `max_age_hours`, or of an earlier local date, is stale. `week` is given
    where any day will do: it has no more reminders than the sessions it asks for. After reminders
    on `unanswered_limit` days without an entry since, there are none until the next entry.
    """
    shown = now.astimezone(ZoneInfo(zone))
    answered = done_today >= (slots_due if slot is None else min(slot, slots_due))
    if week is not None:
        answered = answered or week.done >= week.quota
    is_stale = now - due_at > timedelta(hours=max_age_hours) or (
        local_date(now, zone) > local_date(due_at, zone)
    )
    reasons = (
        (SkipReason.OPTED_OUT, opted_out),
        (SkipReason.NO_ADDRESS, not has_address),
        (SkipReason.ENDED, ended),
        (SkipReason.PAUSED, paused),
        (SkipReason.NOT_DUE, slots_due < 1),
        (SkipReason.DONE_ALREADY, answered),
        (SkipReason.WEEK_COVERED, week is not None and week.sent >= week.quota),
        (SkipReason.UNANSWERED, unanswered_days >= unanswered_limit),
        (SkipReason.STALE, is_stale),
        (
            SkipReason.QUIET_HOURS,
            is_quiet(shown.time(), quiet_from=quiet_from, quiet_until=quiet_until),
        ),
    )
    for reason, holds in reasons:
        if holds:
            return SendDecision(SendAction.SKIP, reason)
    return SendDecision(SendAction.SEND)
