"""Who works at a clinic, in which role."""

from __future__ import annotations

import uuid
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Q

from clinic.models import Membership, User
from clinic.rules.roles import Role


@dataclass(frozen=True)
class HeldRole:
    """One role of a colleague. `patients` counts those whom they lead as therapist."""

    membership_id: uuid.UUID
    role: Role
    label: str
    patients: int


@dataclass(frozen=True)
class Colleague:
    """A person who works at the clinic, or worked there when `roles` is empty."""

    user_id: int
    name: str
    email: str
    roles: Sequence[HeldRole]
    missing: Sequence[Role]
    any_membership_id: uuid.UUID

    @property
    def patients(self) -> int:
        """How many patients this person leads."""
        return sum(role.patients for role in self.roles)


def colleagues_of(clinic_id: uuid.UUID) -> list[Colleague]:
    """Return everybody who holds or held a role, by name; who works here now comes first."""
    rows = defaultdict(list)
    memberships = (
        Membership.objects.filter(clinic_id=clinic_id)
        .select_related("user")
        .annotate(
            patients=Count("care", filter=Q(care__ends_at=None, care__is_lead=True)),
        )
        .order_by("role")
    )
    for membership in memberships:
        rows[membership.user].append(membership)
    people = [_colleague(user, held) for user, held in rows.items()]
    return sorted(people, key=lambda person: (not person.roles, person.name.casefold()))


def _colleague(user: User, memberships: Sequence[Any]) -> Colleague:
    active = [membership for membership in memberships if membership.is_active]
    held = {membership.role for membership in active}
    return Colleague(
        user_id=user.pk,
        name=str(user),
        email=user.email,
        roles=[HeldRole(m.pk, Role(m.role), m.get_role_display(), m.patients) for m in active],
        missing=[role for role in Role if role.value not in held],
        any_membership_id=memberships[0].pk,
    )


@dataclass(frozen=True)
class TherapistChoice:
    """A therapist who can take a patient."""

    membership_id: uuid.UUID
    name: str
    patients: int


def therapists_of(clinic_id: uuid.UUID) -> list[TherapistChoice]:
    """Return the clinic's therapists by name with the number of patients each leads."""
    rows = (
        Membership.objects.filter(clinic_id=clinic_id, role=Role.THERAPIST, is_active=True)
        .select_related("user")
        .annotate(patients=Count("care", filter=Q(care__ends_at=None, care__is_lead=True)))
    )
    choices = [TherapistChoice(row.pk, str(row.user), row.patients) for row in rows]
    return sorted(choices, key=lambda choice: choice.name.casefold())
