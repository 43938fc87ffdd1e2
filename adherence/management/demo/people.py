"""Creating the demo's clinic, people and programs through the operations that staff use."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Any

from clinic.models import Clinic, Membership, Patient, User
from clinic.operations.care import create_patient
from clinic.rules.roles import Role
from programs.models import Exercise, PauseReason, Program, ProgramRevision
from programs.operations.programs import (
    DraftContent,
    Item,
    complete_program,
    draft_program,
    draft_revision,
    issue_revision,
    pause_program,
    save_draft,
)
from programs.rules.dose import Dose, LoadUnit, sides_allowed
from programs.rules.schedule import Pattern, Schedule
from shared.dates import resolve_wall_time


@dataclass(frozen=True)
class Staff:
    """The clinic and its therapists by key."""

    clinic: Clinic
    therapists: Mapping[str, Membership]


def create_clinic(data: Mapping[str, Any], *, password: str) -> Staff:
    """Create the clinic and everybody who works there."""
    staff = data["staff"]
    clinic = Clinic.objects.create(**{k: v for k, v in data.items() if k != "staff"})
    therapists = {}
    for person in staff:
        user = User.objects.create_user(person["email"], password, name=person["name"])
        for role in person["roles"]:
            membership = Membership.objects.create(clinic=clinic, user=user, role=Role(role))
            if role == Role.THERAPIST:
                therapists[person["key"]] = membership
    return Staff(clinic, therapists)


def demo_email(given: str, family: str) -> str:
    """Return an invented address in plain letters: one with an umlaut cannot sign in."""
    plain = unicodedata.normalize("NFKD", f"{given}.{family}").encode("ascii", "ignore").decode()
    return f"{plain}@patients.example".lower().replace(" ", "")


def create_person(
    data: Mapping[str, Any], staff: Staff, *, started_at: datetime, today: date, password: str
) -> Patient:
    """Create one patient, with an account where the file says so."""
    email = demo_email(data["given"], data["family"])
    patient = create_patient(
        clinic_id=staff.clinic.pk,
        therapist=staff.therapists[data["therapist"]],
        given_name=data["given"],
        family_name=data["family"],
        date_of_birth=date(today.year - data["age"], 1 + data["age"] % 12, 1 + data["age"] % 28),
        email=email if data.get("sign_in") else "",
        timezone=staff.clinic.timezone,
        problem=data["problem"],
        uses_paper=data.get("paper", False),
        now=started_at,
    )
    if data.get("sign_in"):
        patient.user = User.objects.create_user(email, password, name=patient.name)
        patient.save(update_fields=["user"])
    return patient


class ProgramMaker:
    """Issues the programs of fixtures/demo/programs.yaml from the starter library."""

    def __init__(self) -> None:
        rows = Exercise.objects.filter(clinic=None).select_related("current")
        self.exercises = {row.slug: row for row in rows}

    def issue(
        self,
        template: Mapping[str, Any],
        patient: Patient,
        therapist: Membership,
        *,
        starts_on: date,
        today: date,
    ) -> Program:
        """Issue the first revision on the first day, and every step whose day has come."""
        items = list(template["items"])
        at = resolve_wall_time(starts_on, time(7), patient.timezone)
        draft = draft_program(
            patient=patient,
            title=template["title"],
            drafted_by_id=therapist.user_id,
            pain_limit=5,
            now=at,
            today=starts_on,
        )
        self._issue(draft, template, items, starts_on, starts_on, at, {"note": template["note"]})
        for step in template.get("steps", ()):
            on = starts_on + timedelta(days=step["day"])
            if on >= today:
                continue
            changes = step.get("set", {})
            items = [item | changes.get(item["slug"], {}) for item in items] + step.get("add", [])
            at = resolve_wall_time(on, time(7), patient.timezone)
            draft = draft_revision(
                program=draft.program, drafted_by_id=therapist.user_id, now=at, today=on
            )
            self._issue(draft, template, items, starts_on, on, at, step)
        return draft.program

    def _issue(
        self,
        draft: ProgramRevision,
        template: Mapping[str, Any],
        items: list[Mapping[str, Any]],
        starts_on: date,
        today: date,
        at: datetime,
        words: Mapping[str, Any],
    ) -> None:
        plan = template["schedule"]
        by_id = draft.edited_by_id
        saved = save_draft(
            draft=draft,
            version=draft.version,
            content=DraftContent(
                title=template["title"],
                items=[self._item(item) for item in items],
                schedule=Schedule(
                    pattern=Pattern(plan["pattern"]),
                    times_per_day=plan.get("times_per_day", 1),
                    weekdays=frozenset(plan.get("weekdays", ())),
                    every_days=plan.get("every_days"),
                    weekly_quota=plan.get("weekly_quota"),
                    starts_on=starts_on,
                    ends_on=None,
                ),
                note_to_patient=words["note"],
                reason=words.get("reason", ""),
            ),
            edited_by_id=by_id,
            now=at,
        )
        issue_revision(
            draft=saved, version=saved.version, issued_by_id=by_id, now=at, today=today
        )

    def _item(self, data: Mapping[str, Any]) -> Item:
        exercise = self.exercises[data["slug"]]
        assert exercise.current is not None
        entry = exercise.current.entry
        side = next(
            (s for s in sides_allowed(entry.side_mode) if s == data.get("side")),
            sides_allowed(entry.side_mode)[-1],
        )
        changes: dict[str, Any] = {k: v for k, v in data.items() if k not in ("slug", "side")}
        if "load_unit" in changes:
            changes["load_unit"] = LoadUnit(changes["load_unit"])
        dose: Dose = replace(entry.dose.usual_dose(side), **changes)
        return Item(exercise_revision_id=exercise.current.pk, dose=dose)


def pause_and_end(
    data: Mapping[str, Any], program: Program, *, by_id: int, today: date, now: datetime
) -> None:
    """Write the pause and the end that the file gives a person's program."""
    if pause := data.get("pause"):
        pause_program(
            program=program,
            starts_on=today + timedelta(days=pause["from"]),
            ends_on=today + timedelta(days=pause["until"]),
            reason=PauseReason(pause["reason"]),
            set_by_id=by_id,
            now=now,
        )
    if (day := data.get("completed")) is not None:
        complete_program(program=program, today=today + timedelta(days=day))


