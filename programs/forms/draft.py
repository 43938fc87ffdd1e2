"""The whole editor of a draft: what was typed, what a button does to it, and what can be saved.

Everything that was typed travels with the page, so a button that adds, removes or moves an exercise
writes nothing and loses nothing. Only saving asks whether it all holds together.
"""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.http import QueryDict
from django.utils.datastructures import MultiValueDict
from django.utils.translation import gettext as _

from programs.operations.programs import DraftContent, Item
from programs.queries.editor import (
    EditorExercise,
    EditorSource,
    current_exercise,
    editor_exercises,
)
from programs.rules.changes import Plan, PlannedItem
from programs.rules.schedule import Schedule

from .item import ItemForm, dose_fields, usual_fields
from .plan import PlanForm, plan_fields

MOST_ITEMS = 20
ITEM_NAMES = (  # noqa: SIM905
    "exercise rung removed side sets repetitions hold_seconds duration_seconds rest_seconds "
    "tempo_out tempo_still tempo_back load_value band effort_target note"
).split()
SEARCH_NAMES = ("q", "region", "ladder")


@dataclass
class Row:
    """One exercise in the editor: the typed fields, and the exercise they are about."""

    fields: dict[str, str]
    exercise: EditorExercise

    @property
    def rung_id(self) -> uuid.UUID | None:
        """The rung that it was chosen from."""
        return _uuid(self.fields.get("rung", ""))

    @property
    def is_removed(self) -> bool:
        """Whether it was taken out and can still be put back."""
        return bool(self.fields.get("removed"))


class DraftEditor:
    """The state of the editor. `is_bound` shows messages; it is set by `is_valid`."""

    def __init__(
        self,
        *,
        clinic_id: uuid.UUID,
        draft_id: uuid.UUID | None,
        version: int,
        plan_data: MultiValueDict[str, Any],
        rows: list[Row],
        search: Mapping[str, str],
    ) -> None:
        self.clinic_id = clinic_id
        self.draft_id, self.version = draft_id, version
        self.plan_data, self.rows, self.search = plan_data, rows, search
        self.is_bound = False
        self.said = ""
        self.focus = ""
        self._checked_plan = PlanForm(plan_data)

    @classmethod
    def opened(cls, source: EditorSource, *, clinic_id: uuid.UUID) -> DraftEditor:
        """Return the editor of what is stored."""
        exercises = editor_exercises(
            clinic_id, {item.exercise_revision_id for item in source.items}
        )
        rows = [
            Row(
                dose_fields(item.dose)
                | {
                    "exercise": str(item.exercise_revision_id),
                    "rung": str(item.rung_id or ""),
                    "note": item.note,
                },
                exercises[item.exercise_revision_id],
            )
            for item in source.items
            if item.exercise_revision_id in exercises
        ]
        return cls(
            clinic_id=clinic_id,
            draft_id=source.draft_id,
            version=source.version,
            plan_data=_as_data(plan_fields(source)),
            rows=rows,
            search={},
        )

    @classmethod
    def posted(cls, data: QueryDict, *, clinic_id: uuid.UUID) -> DraftEditor:
        """Return the editor of what was typed; an exercise that is not the clinic's is left out."""
        count = min(_whole(data.get("items-count")), MOST_ITEMS)
        typed = [
            {name: data.get(f"items-{index}-{name}", "") for name in ITEM_NAMES}
            for index in range(count)
        ]
        ids = {found for fields in typed if (found := _uuid(fields["exercise"]))}
        exercises = editor_exercises(clinic_id, ids)
        rows = [
            Row(fields, exercises[found])
            for fields in typed
            if (found := _uuid(fields["exercise"])) in exercises and found is not None
        ]
        return cls(
            clinic_id=clinic_id,
            draft_id=_uuid(data.get("draft", "")),
            version=_whole(data.get("version")),
            plan_data=data,
            rows=rows,
            search={name: data.get(name, "")[:80] for name in SEARCH_NAMES},
        )

    # What the buttons do.

    def act(self, action: str) -> None:
        """Do what a button says: add, remove, restore, up, down or swap; anything else looks."""
        verb, *rest = action.split(":")
        if verb == "add" and rest:
            self._add(*rest[:2])
            return
        index = _whole(rest[0]) if rest else -1
        if not 0 <= index < len(self.rows):
            return
        if verb == "swap" and len(rest) > 1:
            self._swap(index, *rest[1:3])
        elif verb in ("remove", "restore"):
            self._mark(index, removed=verb == "remove")
        elif verb in ("up", "down"):
            self._move(index, -1 if verb == "up" else 1, verb)

    def _add(self, exercise_id: str, rung_id: str = "") -> None:
        if len(self.rows) >= MOST_ITEMS:
            self.said = _("A program holds at most %(most)d exercises.") % {"most": MOST_ITEMS}
            return
        exercise = self._exercise(exercise_id)
        if exercise is None:
            return
        self.rows.append(Row(usual_fields(exercise) | {"rung": rung_id}, exercise))
        self.focus = f"item-{len(self.rows) - 1}"
        self.said = _("%(name)s is added as number %(number)d.") % {
            "name": exercise.entry.name,
            "number": len(self.kept),
        }

    def _swap(self, index: int, exercise_id: str, rung_id: str = "") -> None:
        exercise = self._exercise(exercise_id)
        if exercise is None:
            return
        row = self.rows[index]
        fields = usual_fields(exercise, side=row.fields.get("side", ""))
        fields |= {"rung": rung_id, "note": row.fields.get("note", "")}
        self.rows[index] = Row(fields, exercise)
        self.focus = f"item-{index}"
        self.said = _("%(new)s takes the place of %(old)s, with its usual dose.") % {
            "new": exercise.entry.name,
            "old": row.exercise.entry.name,
        }

    def _exercise(self, exercise_id: str) -> EditorExercise | None:
        found = _uuid(exercise_id)
        exercise = current_exercise(self.clinic_id, found) if found else None
        if exercise is None:
            self.said = _("This exercise is no longer in the library.")
        return exercise

    def _mark(self, index: int, *, removed: bool) -> None:
        row = self.rows[index]
        row.fields["removed"] = "1" if removed else ""
        self.focus = f"item-{index}-undo" if removed else f"item-{index}"
        text = _("%(name)s is taken out.") if removed else _("%(name)s is back.")
        self.said = text % {"name": row.exercise.entry.name}

    def _move(self, index: int, step: int, verb: str) -> None:
        other = index + step
        if not 0 <= other < len(self.rows):
            return
        self.rows[index], self.rows[other] = self.rows[other], self.rows[index]
        at_end = other in (0, len(self.rows) - 1)
        turned = {"up": "down", "down": "up"}[verb]
        self.focus = f"item-{other}-{turned if at_end else verb}"
        self.said = _("%(name)s is now number %(number)d.") % {
            "name": self.rows[other].exercise.entry.name,
            "number": other + 1,
        }

    def take_over(self, source: EditorSource) -> None:
        """Let the next save put this version in place of what is stored now."""
        self.draft_id, self.version = source.draft_id, source.version

    # What can be saved.

    @property
    def kept(self) -> list[Row]:
        """The rows that have not been taken out."""
        return [row for row in self.rows if not row.is_removed]

    def is_valid(self) -> bool:
        """Check everything; from now on the page shows what is wrong."""
        self.is_bound = True
        kept = [index for index, row in enumerate(self.rows) if not row.is_removed]
        found = [self._checked_plan.is_valid(), *(self.checked(i).is_valid() for i in kept)]
        return all(found)

    def content(self) -> DraftContent:
        """Return what to save. Call it after `is_valid` has said yes."""
        plan = self._checked_plan.cleaned_data
        assert self._checked_plan.schedule is not None
        items = []
        for index, row in enumerate(self.rows):
            form = self.checked(index)
            if row.is_removed or not form.is_valid() or form.dose is None:
                continue
            items.append(
                Item(
                    exercise_revision_id=row.exercise.revision_id,
                    dose=form.dose,
                    rung_id=form.cleaned_data["rung"],
                    note=form.cleaned_data["note"],
                )
            )
        return DraftContent(
            title=plan["title"],
            items=items,
            schedule=self._checked_plan.schedule,
            pain_limit=plan["pain_limit"],
            continue_after_sharp_pain=plan["continue_after_sharp_pain"],
            note_to_patient=plan["note_to_patient"],
            reason=plan["reason"],
        )

    def plan(self) -> Plan | None:
        """Return what was typed as a plan to compare, None while it does not hold together."""
        content = self.content() if self.is_valid() else None
        if content is None:
            return None
        kept = zip(self.kept, content.items, strict=True)
        return Plan(
            items=tuple(
                PlannedItem(row.exercise.exercise_id, row.exercise.entry.name, item.dose, item.note)
                for row, item in kept
            ),
            schedule=content.schedule,
            pain_limit=content.pain_limit,
            continue_after_sharp_pain=content.continue_after_sharp_pain,
        )

    @property
    def schedule(self) -> Schedule | None:
        """The schedule that was typed, None while it does not hold together."""
        self._checked_plan.is_valid()
        return self._checked_plan.schedule

    @property
    def plan_form(self) -> PlanForm:
        """The form of the whole, with messages only after a try to save."""
        if self.is_bound:
            return self._checked_plan
        data = self.plan_data
        initial: dict[str, Any] = {name: data.get(name, "") for name in PlanForm.base_fields}
        initial["weekdays"] = data.getlist("weekdays")
        initial["continue_after_sharp_pain"] = bool(data.get("continue_after_sharp_pain"))
        return PlanForm(initial=initial)

    def unchecked(self, index: int) -> ItemForm:
        """Return the form of one exercise as it was typed, without messages."""
        row = self.rows[index]
        return ItemForm(initial=row.fields, prefix=f"items-{index}", exercise=row.exercise)

    def checked(self, index: int) -> ItemForm:
        """Return the form of one exercise with its messages."""
        row = self.rows[index]
        prefix = f"items-{index}"
        data = {f"{prefix}-{name}": value for name, value in row.fields.items()}
        return ItemForm(data, prefix=prefix, exercise=row.exercise)


def _as_data(fields: Mapping[str, Any]) -> MultiValueDict[str, Any]:
    """Return form fields as a browser would send them."""
    data: MultiValueDict[str, Any] = MultiValueDict()
    for name, value in fields.items():
        if isinstance(value, list):
            data.setlist(name, value)
        elif isinstance(value, date):
            data[name] = value.isoformat()
        elif value is not None and value is not False:
            data[name] = str(value)
    return data


def _whole(text: str | None) -> int:
    """Return a whole number that a page sent, -1 for anything else."""
    return int(text) if text and text.isascii() and text.isdigit() and len(text) < 10 else -1


def _uuid(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text)
    except ValueError:
        return None
