"""Who can sign in to the demo."""

from __future__ import annotations

from dataclasses import dataclass

from clinic.models import Membership, Patient


@dataclass(frozen=True)
class DemoPerson:
    """One member of the demo's cast, for its sign-in page."""

    role: str
    name: str
    email: str
    about: str


def demo_cast() -> list[DemoPerson]:
    """Return who can sign in to the demo: staff, and the patients with an account, few."""
    staff = [
        DemoPerson(m.get_role_display(), m.user.name, m.user.email, m.clinic.name)
        for m in Membership.objects.filter(is_active=True)
        .select_related("user", "clinic")
        .order_by("clinic__created_at", "role", "user__name")
    ]
    patients = [
        DemoPerson("Patient", p.name, p.user.email, p.problem)
        for p in Patient.objects.current()
        .exclude(user=None)
        .select_related("user")
        .order_by("created_at", "family_name")[:6]
        if p.user is not None
    ]
    return staff + patients
