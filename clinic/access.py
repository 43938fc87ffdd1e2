"""The only doors to a patient's record. What is not yours answers as what is absent: 404."""

from __future__ import annotations

import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import wraps
from typing import Any, cast

from django.contrib.auth.decorators import login_required
from django.db.models import Q
from django.http import Http404, HttpRequest, HttpResponse
from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from clinic.models import Clinic, Membership, Patient, User
from clinic.rules.roles import Capability, Role, allows


@dataclass(frozen=True)
class Contact:
    """Whom to call, and when the team reads; every signed-in page shows it."""

    name: str
    phone: str
    emergency_number: str
    reading_days: str
    reply_within_days: int


@dataclass(frozen=True)
class Viewer:
    """Who is looking: a signed-in user with their clinic, roles and, if any, own patient record."""

    user_id: int
    name: str
    clinic_id: uuid.UUID
    clinic_name: str
    roles: frozenset[Role]
    patient_id: uuid.UUID | None
    timezone: str
    contact: Contact

    def may(self, capability: Capability) -> bool:
        """Return whether one of the viewer's roles gives the capability."""
        return allows(self.roles, capability)

    @property
    def is_staff_member(self) -> bool:
        """Therapist or clinic admin."""
        return bool(self.roles)


class ClinicRequest(HttpRequest):
    """A request that has passed `ViewerMiddleware`."""

    viewer: Viewer | None
    user: User


def viewer_for(user: User) -> Viewer | None:
    """Return the viewer for a signed-in user, or None when no clinic knows them any more.

    Roles are read at every request, so that taking one away works at once. Staff membership
    decides the clinic; somebody who is only a patient belongs to the clinic of their record.
    """
    memberships = list(
        Membership.objects.filter(user=user, is_active=True)
        .select_related("clinic")
        .order_by("created_at", "id")
    )
    records = list(
        Patient.objects.current().filter(user=user).select_related("clinic").order_by("created_at")
    )
    if memberships:
        clinic = memberships[0].clinic
    elif records:
        clinic = records[0].clinic
    else:
        return None
    record = next((r for r in records if r.clinic_id == clinic.id), None)
    return Viewer(
        user_id=user.pk,
        name=user.name or user.email,
        clinic_id=clinic.id,
        clinic_name=clinic.name,
        roles=frozenset(Role(m.role) for m in memberships if m.clinic_id == clinic.id),
        patient_id=record.id if record else None,
        timezone=record.timezone if record and not memberships else clinic.timezone,
        contact=Contact(
            name=clinic.name,
            phone=clinic.phone,
            emergency_number=clinic.emergency_number,
            reading_days=clinic.reading_days,
            reply_within_days=clinic.reply_within_days,
        ),
    )


View = Callable[..., HttpResponse]


def _gate(test: Callable[[Viewer], bool]) -> Callable[[View], View]:
    def decorate(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            viewer = cast(ClinicRequest, request).viewer
            if viewer is None or not test(viewer):
                raise Http404
            return view(request, *args, **kwargs)

        return cast(View, login_required(guarded))

    return decorate


patient_only = _gate(lambda viewer: viewer.patient_id is not None)
therapist_only = _gate(lambda viewer: viewer.may(Capability.TREAT))
admin_only = _gate(lambda viewer: viewer.may(Capability.MANAGE_PEOPLE))
staff_only = _gate(lambda viewer: viewer.is_staff_member)


def visible_patients(viewer: Viewer, *, at: datetime) -> Any:
    """Return the patients whose records this viewer may open: under own care, or oneself."""
    mine = Q(pk__in=[])
    if viewer.may(Capability.TREAT):
        mine |= Q(pk__in=Patient.objects.treated_by(viewer.user_id, at).values("pk"))
    if viewer.patient_id is not None:
        mine |= Q(pk=viewer.patient_id)
    return Patient.objects.filter(mine, clinic_id=viewer.clinic_id)


def access_patient(viewer: Viewer, patient_id: uuid.UUID, *, at: datetime) -> Patient:
    """Open a record that a therapist treats; Http404 for anyone else's and for none."""
    if not viewer.may(Capability.TREAT):
        raise Http404
    patient = (
        Patient.objects.treated_by(viewer.user_id, at)
        .filter(pk=patient_id, clinic_id=viewer.clinic_id)
        .select_related("clinic", "clinic__stored_policy")
        .first()
    )
    if patient is None:
        raise Http404
    return patient


def own_record(viewer: Viewer) -> Patient:
    """Open the viewer's own patient record; Http404 when they are no patient."""
    if viewer.patient_id is None:
        raise Http404
    patient = (
        Patient.objects.current()
        .filter(pk=viewer.patient_id, clinic_id=viewer.clinic_id)
        .select_related("clinic", "clinic__stored_policy")
        .first()
    )
    if patient is None:
        raise Http404
    return patient


def own_clinic(viewer: Viewer) -> Clinic:
    """Open the viewer's clinic."""
    return Clinic.objects.select_related("stored_policy").get(pk=viewer.clinic_id)


def access_account(viewer: Viewer, patient_id: uuid.UUID) -> Patient:
    """Open a patient's account data (name, contact, therapist) as clinic admin; else Http404."""
    if not viewer.may(Capability.MANAGE_PEOPLE):
        raise Http404
    patient = Patient.objects.filter(pk=patient_id, clinic_id=viewer.clinic_id).first()
    if patient is None:
        raise Http404
    return patient


def access_membership(viewer: Viewer, membership_id: uuid.UUID) -> Membership:
    """Open a colleague's membership as clinic admin; else Http404."""
    if not viewer.may(Capability.MANAGE_PEOPLE):
        raise Http404
    membership = (
        Membership.objects.filter(pk=membership_id, clinic_id=viewer.clinic_id)
        .select_related("user")
        .first()
    )
    if membership is None:
        raise Http404
    return membership


def own_therapist_role(viewer: Viewer) -> Membership:
    """Open the membership under which the viewer treats; Http404 when they do not."""
    membership = Membership.objects.filter(
        user_id=viewer.user_id, clinic_id=viewer.clinic_id, role=Role.THERAPIST, is_active=True
    ).first()
    if membership is None:
        raise Http404
    return membership


def viewer_of(request: HttpRequest | Request) -> Viewer:
    """Return the viewer of a request that a gate has let through; Http404 without one."""
    viewer = getattr(request, "viewer", None) or getattr(
        getattr(request, "_request", None), "viewer", None
    )
    if viewer is None:
        raise Http404
    return cast(Viewer, viewer)


class IsPatient(BasePermission):
    """API gate: the viewer has a patient record of their own."""

    def has_permission(self, request: Request, view: Any) -> bool:
        """Return whether to go on."""
        return viewer_of(request).patient_id is not None


class IsStaffMember(BasePermission):
    """API gate: the viewer is therapist or clinic admin."""

    def has_permission(self, request: Request, view: Any) -> bool:
        """Return whether to go on."""
        viewer = getattr(request._request, "viewer", None)
        return viewer is not None and viewer.is_staff_member
