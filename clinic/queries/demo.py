"""Who can sign in to the demo."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from django.utils.translation import gettext as _

from clinic.models import Membership, Patient, User
from clinic.rules.roles import Role

PATIENTS_SHOWN = 6


@dataclass(frozen=True)
class DemoPerson:
    """One member of the demo's cast, for its sign-in page."""

    role: str
    name: str
    email: str
    about: str


def demo_cast() -> list[DemoPerson]:
    """Return who can sign in to the demo, each once: therapists, admins, a few patients."""
    return [*_staff(), *_patients()]


def _staff() -> list[DemoPerson]:
    roles: dict[User, list[Membership]] = defaultdict(list)
    for membership in (
        Membership.objects.filter(is_active=True)
        .select_related("user", "clinic")
        .order_by("clinic__created_at", "clinic__name", "user__name")
    ):
        roles[membership.user].append(membership)
    people = [_colleague(user, held) for user, held in roles.items()]
    return sorted(people, key=lambda person: person.role != _("Therapists"))


def _colleague(user: User, held: list[Membership]) -> DemoPerson:
    names = {membership.role for membership in held}
    about = held[0].clinic.name
    if len(names) > 1:
        about = _("%(clinic)s, also clinic admin") % {"clinic": about}
    role = _("Therapists") if Role.THERAPIST in names else _("Clinic admin")
    return DemoPerson(role, str(user), user.email, about)


def _patients() -> list[DemoPerson]:
    records = (
        Patient.objects.current()
        .exclude(user=None)
        .select_related("user")
        .order_by("created_at", "family_name")[:PATIENTS_SHOWN]
    )
    return [
        DemoPerson(_("Patients"), record.name, record.user.email, record.problem)
        for record in records
        if record.user is not None
    ]
