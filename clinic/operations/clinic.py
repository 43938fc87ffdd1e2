"""Writes over the clinic itself: roles, thresholds and what it says about itself."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from clinic.models import CareRelationship, Clinic, ClinicPolicy, Invitation, Membership
from clinic.rules.roles import Role

from .care import PeopleError


@transaction.atomic
def give_role(*, clinic_id: uuid.UUID, user_id: int, role: Role) -> Membership:
    """Give a colleague who works here another role, or an ended one back."""
    if not Membership.objects.filter(clinic_id=clinic_id, user_id=user_id).exists():
        raise PeopleError(_("This person does not work here. Invite them."))
    membership, _created = Membership.objects.update_or_create(
        clinic_id=clinic_id, user_id=user_id, role=role, defaults={"is_active": True}
    )
    return membership


@transaction.atomic
def end_membership(*, membership: Membership, now: datetime) -> None:
    """Take a role away at once. A therapist's patients must have moved first; one admin stays.

    A link to the same role that has not been used stops working, or it would bring the role back.
    """
    # Every admin of the clinic in one order, so that two who end each other's role take turns.
    held = list(
        Membership.objects.select_for_update()
        .filter(Q(pk=membership.pk) | Q(clinic_id=membership.clinic_id, role=Role.CLINIC_ADMIN))
        .order_by("pk")
    )
    if membership.role == Role.THERAPIST:
        left = CareRelationship.objects.filter(therapist=membership, ends_at=None).count()
        if left:
            raise PeopleError(
                ngettext(
                    "%(count)d patient is still with this therapist. Move them first.",
                    "%(count)d patients are still with this therapist. Move them first.",
                    left,
                )
                % {"count": left}
            )
    elif not any(other.is_active and other.pk != membership.pk for other in held):
        raise PeopleError(_("The clinic needs one admin. Give somebody else the role first."))
    Membership.objects.filter(pk=membership.pk).update(is_active=False)
    Invitation.objects.filter(
        clinic_id=membership.clinic_id,
        patient=None,
        email__iexact=membership.user.email,
        role=membership.role,
        accepted_at=None,
        revoked_at=None,
    ).update(revoked_at=now)


@transaction.atomic
def change_policy(
    *, clinic: Clinic, changed_by_id: int, now: datetime, **values: Any
) -> ClinicPolicy:
    """Store the clinic's thresholds. The database refuses values outside their ranges."""
    policy, _created = ClinicPolicy.objects.update_or_create(
        clinic=clinic, defaults=values | {"changed_by_id": changed_by_id, "changed_at": now}
    )
    return policy


@transaction.atomic
def change_clinic(*, clinic: Clinic, **values: Any) -> Clinic:
    """Change the clinic's name, zone and contact line."""
    for name, value in values.items():
        setattr(clinic, name, value)
    clinic.save(update_fields=list(values))
    return clinic
