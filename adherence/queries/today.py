"""What a patient meets today: what is due, what has changed, and what is still asked."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal, cast

from django.utils.translation import gettext, ngettext

from adherence.models import PainMoment, PainRating, SessionLog, SessionStatus
from adherence.rules.matching import (
    DayCell,
    DoneSession,
    day_states,
    match_sessions,
)
from adherence.rules.pain import ask_next_morning
from clinic.models import Patient
from clinic.queries import policy_of_patient
from programs.queries.programs import (
    ItemView,
    ProgramView,
    RevisionView,
    items_of_revisions,
    latest_program,
)
from programs.rules.dose import Dose, dose_wording
from programs.rules.library import EQUIPMENT_NAMES
from programs.rules.schedule import (
    TodayKind,
    TodayState,
    due_sessions,
    schedule_wording,
    today_state,
)
from shared.dates import DateWindow, local_date, week_start


@dataclass(frozen=True)
class TodayItem:
    """One exercise of today, with the dose of the revision before where that was another."""

    item: ItemView
    was: Dose | None
    is_new: bool

    @property
    def was_text(self) -> str:
        """The dose before in words, empty where it has not changed."""
        return dose_wording(self.was, gettext, ngettext) if self.was else ""


@dataclass(frozen=True)
class TodayPage:
    """Everything on the Today screen. Dates are local to the patient."""

    today: date
    program: ProgramView | None
    revision: RevisionView | None
    state: TodayState
    items: tuple[TodayItem, ...]
    week: tuple[DayCell, ...]
    done_today: int  # entered for today, done or not done
    performed_today: int
    due_today: int
    done_this_week: int
    in_progress: uuid.UUID | None
    yesterday: date | None  # set while yesterday was due and nothing is entered for it
    morning_session: uuid.UUID | None  # whose next-morning pain is asked now
    has_changed: bool  # another revision came into force within the last week
    new_days: tuple[str, str] | None  # schedule now and before, in words, where it is another

    @property
    def is_done(self) -> bool:
        """Whether everything due today has been entered."""
        return self.due_today > 0 and self.done_today >= self.due_today

    @property
    def equipment(self) -> tuple[str, ...]:
        """What to have at hand in plain words, each thing once, in the order of need."""
        found = [code for row in self.items for code in row.item.entry.equipment]
        return tuple(gettext(EQUIPMENT_NAMES[code]) for code in dict.fromkeys(found))

    @property
    def quota_left(self) -> int | None:
        """How many sessions of a weekly quota are still to do, None on fixed days."""
        if self.state.quota is None:
            return None
        return max(0, self.state.quota - self.done_this_week)

    @property
    def can_start(self) -> bool:
        """Whether the button stands there: due and not all done, or any day is fine."""
        if self.in_progress is not None or self.revision is None:
            return False
        if self.state.kind == TodayKind.ANY_DAY:
            return self.done_today == 0 and self.quota_left != 0
        return self.state.kind == TodayKind.DUE and not self.is_done


def today_page(patient: Patient, *, now: datetime) -> TodayPage:
    """Return the Today screen's data in six queries."""
    today = local_date(now, patient.timezone)
    program = latest_program(patient.pk)
    revision = program.revision_on(today) if program else None
    monday = week_start(today)
    window = DateWindow(monday, monday + timedelta(days=7))
    logs = list(
        SessionLog.objects.filter(
            patient=patient,
            local_date__gte=window.start - timedelta(days=7),
            local_date__lt=window.end,
        ).order_by("local_date", "slot")
    )
    closed = [_as_done(log) for log in logs if log.status != SessionStatus.IN_PROGRESS]
    running = next((log for log in logs if log.status == SessionStatus.IN_PROGRESS), None)
    # Going on with one that was left open would enter today's work for the day it was left on.
    goes_on = running if running and not running.is_left_open(now) else None
    state = (
        today_state(program.spans, program.pauses, today, program.completed_on)
        if program and program.spans
        else TodayState(TodayKind.NOT_STARTED)
    )
    entered_today = [done for done in closed if done.local_date == today]
    performed = [d for d in closed if d.is_performed and d.local_date in window]
    return TodayPage(
        today=today,
        program=program,
        revision=revision,
        state=state,
        items=_items(program, revision),
        week=_week(program, closed, window, today),
        done_today=len(entered_today),
        performed_today=sum(done.is_performed for done in entered_today),
        due_today=len(state.slots),
        done_this_week=len({d.local_date for d in performed}),
        in_progress=goes_on.pk if goes_on else None,
        yesterday=_yesterday(program, closed, running, today),
        morning_session=_morning(patient, program, logs, today),
        has_changed=_has_changed(program, revision, today),
        new_days=_new_days(program, revision),
    )


def _as_done(log: SessionLog) -> DoneSession:
    return DoneSession(
        local_date=log.local_date,
        slot=log.slot,
        status=cast(Literal["COMPLETED", "STOPPED", "NOT_DONE"], log.status),
        share=log.share,
        entered_later=log.entered_later,
        reason=log.reason,
    )


def _items(program: ProgramView | None, revision: RevisionView | None) -> tuple[TodayItem, ...]:
    if program is None or revision is None:
        return ()
    earlier = [r for r in program.revisions if r.number < revision.number]
    ids = [revision.id, *(r.id for r in earlier[-1:])]
    found = items_of_revisions(ids)
    before = {i.exercise_id: i.dose for r in earlier[-1:] for i in found.get(r.id, ())}
    return tuple(
        TodayItem(
            item=item,
            was=before.get(item.exercise_id) if before.get(item.exercise_id) != item.dose else None,
            is_new=bool(earlier) and item.exercise_id not in before,
        )
        for item in found.get(revision.id, ())
    )


def _week(
    program: ProgramView | None, closed: Sequence[DoneSession], window: DateWindow, today: date
) -> tuple[DayCell, ...]:
    if program is None:
        return ()
    due = due_sessions(program.spans, program.pauses, window, completed_on=program.completed_on)
    matched = match_sessions(due, [d for d in closed if d.local_date in window], today=today)
    return day_states(window, matched, program.pauses)


def _yesterday(
    program: ProgramView | None,
    closed: Sequence[DoneSession],
    running: SessionLog | None,
    today: date,
) -> date | None:
    if program is None:
        return None
    day = today - timedelta(days=1)
    state = today_state(program.spans, program.pauses, day, program.completed_on)
    # What was begun and left without doing anything says nothing about the day.
    entered = sum(
        d.local_date == day for d in closed if d.is_performed or d.status == SessionStatus.NOT_DONE
    )
    if state.kind != TodayKind.DUE or entered >= len(state.slots):
        return None
    return None if running and running.local_date == day else day


def _morning(
    patient: Patient, program: ProgramView | None, logs: Sequence[SessionLog], today: date
) -> uuid.UUID | None:
    """Return yesterday's session while the question is due and has not been answered."""
    done = [
        log
        for log in logs
        if log.local_date == today - timedelta(days=1)
        and log.status in (SessionStatus.COMPLETED, SessionStatus.STOPPED)
    ]
    if program is None or not done:
        return None
    rated: dict[str, list[int]] = defaultdict(list)
    for moment, score in PainRating.objects.filter(session__in=done, withdrawn_at=None).values_list(
        "moment", "score"
    ):
        rated[moment].append(score)
    if PainMoment.NEXT_MORNING in rated:
        return None
    last = done[-1]
    revision = next((r for r in program.revisions if r.id == last.revision_id), None)
    earlier = [r for r in program.revisions if revision and r.number < revision.number]
    stepped = revision if revision and revision.is_step_up else None
    asked = ask_next_morning(
        session_on=last.local_date,
        worst=max(rated[PainMoment.WORST], default=None),
        revision_effective_from=stepped.effective_from if stepped else None,
        previous_effective_from=earlier[-1].effective_from if earlier else None,
        today=today,
        morning_above=policy_of_patient(patient).morning_above,
    )
    return last.pk if asked else None


def _has_changed(program: ProgramView | None, revision: RevisionView | None, today: date) -> bool:
    if program is None or revision is None or revision.effective_from is None:
        return False
    is_later = revision.number > program.revisions[0].number
    return is_later and (today - revision.effective_from).days < 7


def _new_days(program: ProgramView | None, revision: RevisionView | None) -> tuple[str, str] | None:
    if program is None or revision is None:
        return None
    earlier = [one for one in program.revisions if one.number < revision.number]
    if not earlier:
        return None
    now, before = (
        schedule_wording(one.schedule, gettext, ngettext) for one in (revision, earlier[-1])
    )
    return None if now == before else (now, before)


def items_for_day(patient: Patient, *, on: date) -> tuple[ItemView, ...]:
    """Return the exercises of the revision in force on a day, none where there was no program."""
    program = latest_program(patient.pk)
    revision = program.revision_on(on) if program else None
    if program is None or revision is None:
        return ()
    state = today_state(program.spans, program.pauses, on, program.completed_on)
    if state.kind in (TodayKind.NOT_STARTED, TodayKind.ENDED):
        return ()
    return items_of_revisions([revision.id]).get(revision.id, ())
