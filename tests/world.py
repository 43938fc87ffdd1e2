"""Two clinics with a record of every kind, and the addresses that lead to them."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from django.urls import reverse

from adherence.models import FollowUpStatus
from clinic.models import InvitationKind, Membership, Patient
from clinic.rules.roles import Role
from programs.models import Program
from programs.operations.programs import draft_revision
from tests import factories
from tests.factories import NOW, TODAY
from tests.routes import Route, all_routes

INVITED = "token-of-the-invitation"

# Parameters whose value does not name a record that belongs to a clinic.
PLAIN = {"number": 1, "name": "0001.log", "uidb36": "1", "key": "set-password"}
SLUGS = {"exercise": "heel-raise", "ladder": "calf-strength"}


@dataclass
class World:
    """Who there is, and for each path parameter a record that is ours and one that is not."""

    people: dict[str, Membership | Patient]
    ours: dict[str, Any]
    theirs: dict[str, Any]
    programs: dict[str, Program] = field(default_factory=dict)

    @staticmethod
    def route(name: str) -> Route:
        """Return the route of this name; KeyError where there is none."""
        return {route.name: route for route in all_routes()}[name]

    def url(self, route: Route, **other: Any) -> str:
        """Return the address of our record, or with `other` values in their place."""
        return reverse(route.name, kwargs=self.arguments(route) | other)

    def arguments(self, route: Route) -> dict[str, Any]:
        """Return a value for each of the route's parameters, of our clinic."""
        return {name: self._value(self.ours, route, name) for name in route.parameters}

    def foreign(self, route: Route) -> dict[str, Any]:
        """Return the values that name another clinic's records; empty where none do."""
        named = {n for n in route.parameters if n not in PLAIN and n != "token"}
        return {name: self._value(self.theirs, route, name) for name in named}

    def absent(self, route: Route) -> dict[str, Any]:
        """Return values like those of `foreign` that name nothing at all."""
        return {
            name: "no-such-thing" if name == "slug" else uuid.uuid4()
            for name in self.foreign(route)
        }

    @staticmethod
    def _value(records: dict[str, Any], route: Route, name: str) -> Any:
        if name in PLAIN:
            return PLAIN[name]
        return records.get(f"{name} of {route.name}") or records[name]


def records_of(patient: Patient, therapist: Membership, program: Program, prefix: str) -> dict:
    """Make a record of every kind around a patient; return them by path parameter."""
    draft_revision(program=program, drafted_by_id=therapist.user_id, now=NOW, today=TODAY)
    issued = program.revisions.get(number=1)
    session = factories.SessionLogFactory(revision=issued)
    factories.SetLogFactory(
        session=session, prescription=issued.prescriptions.get(position=1), occurred_at=NOW
    )
    yesterdays = factories.SessionLogFactory(
        revision=issued, local_date=TODAY - timedelta(days=1), done=True
    )
    factories.PainRatingFactory(session=yesterdays, score=6)
    flag = factories.FlagFactory(program=program)
    follow_up = factories.FollowUpFactory(
        patient=patient,
        flag=flag,
        status=FollowUpStatus.PLANNED,
        due_on=TODAY,
        done_at=None,
        recorded_by=therapist.user,
    )
    preference = factories.ReminderPreferenceFactory(patient=patient)
    invitation = factories.InvitationFactory(
        clinic=patient.clinic,
        kind=InvitationKind.STAFF,
        role=Role.THERAPIST,
        patient=None,
        email=f"new@{patient.clinic.slug}.example",
        invited_by=therapist.user,
        token=prefix + INVITED,
    )
    exercise = factories.ExerciseFactory(clinic=patient.clinic, slug=prefix + SLUGS["exercise"])
    ladder = factories.LadderFactory(clinic=patient.clinic, slug=prefix + SLUGS["ladder"])
    factories.RungFactory(ladder=ladder, exercise=exercise, position=1)
    return {
        "patient_id": patient.pk,
        "program_id": program.pk,
        "session_id": session.pk,
        "session_id of next_morning": yesterdays.pk,
        "prescription_id": issued.prescriptions.get(position=1).pk,
        "flag_id": flag.pk,
        "follow_up_id": follow_up.pk,
        "invitation_id": invitation.pk,
        "slug of exercise": exercise.slug,
        "slug of ladder": ladder.slug,
        "token of invitation_accept": prefix + INVITED,
        "token of reminder_stop": preference.stop_token,
    }
