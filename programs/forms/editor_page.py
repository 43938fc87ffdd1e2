"""What the page of the editor shows: each exercise in words, sums, messages, and the library."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from programs.queries.editor import (
    EditorExercise,
    LadderPlace,
    PickerPage,
    ladder_places,
    picker_page,
)
from programs.queries.program_page import WeekLine, schedule_text, week_line
from programs.rules.dose import Dose, dose_wording, session_minutes, weekly_dose
from programs.rules.progression import FEW_EXERCISES
from programs.rules.schedule import sessions_per_week

from .draft import DraftEditor
from .item import ItemForm, full_wording
from .plan import PlanForm


@dataclass(frozen=True)
class Line:
    """One exercise as the page shows it. `index` is its place in the form, `number` on the page."""

    index: int
    key: str
    number: int | None
    form: ItemForm
    exercise: EditorExercise
    place: LadderPlace | None
    dose: Dose | None
    wording: str
    short: str
    note: str
    notices: tuple[str, ...]
    is_removed: bool
    is_first: bool
    is_last: bool


@dataclass(frozen=True)
class Totals:
    """What the exercises with a sound dose add up to."""

    count: int
    minutes: int
    when: str
    week: WeekLine | None
    repetitions: int  # of a week, as the two below
    held_minutes: int
    moving_minutes: int
    is_many: bool
    is_partial: bool


@dataclass(frozen=True)
class ErrorLine:
    """One message of the summary on top, with the control that it is about."""

    control: str
    text: str


@dataclass(frozen=True)
class EditorPage:
    """Everything that the template of the editor reads."""

    plan: PlanForm
    lines: tuple[Line, ...]
    totals: Totals
    picker: PickerPage
    errors: tuple[ErrorLine, ...]


def editor_page(editor: DraftEditor) -> EditorPage:
    """Return the page for the editor as it stands. Five queries."""
    lines = _lines(editor)
    return EditorPage(
        plan=editor.plan_form,
        lines=tuple(lines),
        totals=_totals(editor, lines),
        picker=picker_page(
            editor.clinic_id,
            words=editor.search.get("q", ""),
            region=editor.search.get("region", ""),
            ladder=editor.search.get("ladder", ""),
        ),
        errors=tuple(_errors(editor, lines)),
    )


def _lines(editor: DraftEditor) -> list[Line]:
    wanted = [(row.exercise.exercise_id, row.rung_id) for row in editor.rows]
    places = ladder_places(editor.clinic_id, wanted) if wanted else []
    lines: list[Line] = []
    number = 0
    for index, (row, place) in enumerate(zip(editor.rows, places, strict=True)):
        checked = editor.checked(index)
        dose = checked.dose if checked.is_valid() else None
        number += not row.is_removed
        lines.append(
            Line(
                index=index,
                key=str(index),
                number=None if row.is_removed else number,
                form=checked if editor.is_bound else editor.unchecked(index),
                exercise=row.exercise,
                place=place,
                dose=dose,
                wording=full_wording(dose) if dose else "",
                short=dose_wording(dose, _, ngettext) if dose else "",
                note=row.fields.get("note", ""),
                notices=tuple(checked.notices),
                is_removed=row.is_removed,
                is_first=index == 0,
                is_last=index == len(editor.rows) - 1,
            )
        )
    return lines


def _totals(editor: DraftEditor, lines: Sequence[Line]) -> Totals:
    kept = [line for line in lines if not line.is_removed]
    doses = [line.dose for line in kept if line.dose is not None]
    schedule = editor.schedule
    per_week = None if schedule is None else sessions_per_week(schedule)
    week = weekly_dose(doses, per_week or 0)
    return Totals(
        count=len(kept),
        minutes=session_minutes(doses),
        when=schedule_text(schedule) if schedule else "",
        week=None if per_week is None else week_line(week, per_week),
        repetitions=week.repetitions,
        held_minutes=math.ceil(week.hold_seconds / 60),
        moving_minutes=math.ceil(week.moving_seconds / 60),
        is_many=len(kept) > FEW_EXERCISES,
        is_partial=len(doses) < len(kept) or schedule is None,
    )


def _errors(editor: DraftEditor, lines: Sequence[Line]) -> list[ErrorLine]:
    if not editor.is_bound:
        return []
    found: list[ErrorLine] = []
    for line in lines:
        if not line.is_removed:
            found += _messages(line.form, f"{line.number}. {line.exercise.entry.name}, ")
    return found + _messages(editor.plan_form, "")


def _messages(form: ItemForm | PlanForm, before: str) -> list[ErrorLine]:
    first = form[next(iter(form.fields))].auto_id
    found = [ErrorLine(first, f"{before}{error}") for error in form.non_field_errors()]
    for field in form:
        control = field.id_for_label or f"{field.auto_id}_0"
        found += [ErrorLine(control, f"{before}{field.label}: {error}") for error in field.errors]
    return found
