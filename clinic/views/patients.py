"""Patients' accounts for the clinic admin: contact, who leads, sign-in. Nothing clinical."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from clinic.access import access_account, access_membership, admin_only, viewer_of
from clinic.forms import AdmissionForm, ContactForm, TherapistForm
from clinic.operations import (
    InvitationNotSent,
    PeopleError,
    admit_patient,
    discharge_patient,
    invite_patient,
    readmit_patient,
    transfer_care,
    update_patient,
)
from clinic.queries import patient_account, therapists_of
from shared import clock
from shared.dates import local_date


@require_http_methods(["GET", "HEAD", "POST"])
@admin_only
def new_patient(request: HttpRequest) -> HttpResponse:
    """Make a record and give it to a therapist."""
    viewer, now = viewer_of(request), clock.now()
    therapists = therapists_of(viewer.clinic_id)
    if not therapists:
        messages.warning(request, _("There is no therapist yet who could take a patient."))
        return redirect("clinic_invite_staff")
    form = AdmissionForm(
        request.POST or None,
        today=local_date(now, viewer.timezone),
        therapists=therapists,
        initial={"timezone": viewer.timezone},
    )
    if request.method != "POST" or not form.is_valid():
        context = {
            "title": _("New patient"),
            "lead": _("Account data only. The therapist adds the rest."),
            "form": form,
        }
        return render(request, "clinic/form.html", context)
    values = form.cleaned_data
    membership_id = uuid.UUID(values.pop("therapist"))
    try:
        patient = admit_patient(
            clinic_id=viewer.clinic_id,
            therapist=access_membership(viewer, membership_id),
            now=now,
            invited_by_id=viewer.user_id,
            site_url=settings.SITE_URL,
            **values,
        )
    except InvitationNotSent as problem:
        messages.warning(request, _("The record is made. %(why)s") % {"why": problem})
        return redirect("clinic")
    told = _("The record of %(name)s is made.")
    if form.cleaned_data["invite"]:
        told = _("The record of %(name)s is made, and the invitation is on its way.")
    messages.success(request, told % {"name": patient.name})
    return redirect("clinic_patient", patient.pk)


@require_safe
@admin_only
def patient(request: HttpRequest, patient_id: uuid.UUID) -> HttpResponse:
    """Show one account and what can be done with it."""
    viewer, now = viewer_of(request), clock.now()
    record = access_account(viewer, patient_id)
    account = patient_account(record, now=now)
    therapists = [
        choice
        for choice in therapists_of(viewer.clinic_id)
        if choice.membership_id != account.lead_membership_id
    ]
    context = {
        "patient": record,
        "account": account,
        "move_form": TherapistForm(
            therapists=therapists,
            save=_("Take back into care") if record.discharged_at else _("Move the patient"),
        ),
        "has_therapists": bool(therapists),
    }
    return render(request, "clinic/patient.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@admin_only
def patient_contact(request: HttpRequest, patient_id: uuid.UUID) -> HttpResponse:
    """Change contact data."""
    viewer, now = viewer_of(request), clock.now()
    record = access_account(viewer, patient_id)
    fields = ContactForm.base_fields
    form = ContactForm(
        request.POST or None,
        today=local_date(now, viewer.timezone),
        initial={name: getattr(record, name) for name in fields},
    )
    if request.method == "POST" and form.is_valid():
        update_patient(patient=record, now=now, **form.cleaned_data)
        messages.success(request, _("Saved."))
        return redirect("clinic_patient", record.pk)
    context = {
        "title": _("Contact of %(name)s") % {"name": record.name},
        "form": form,
        "back_url": reverse("clinic_patient", args=[record.pk]),
        "back_label": record.name,
    }
    return render(request, "clinic/form.html", context)


@require_POST
@admin_only
def patient_move(request: HttpRequest, patient_id: uuid.UUID) -> HttpResponse:
    """Give the patient to another therapist; a discharged one comes back into care."""
    viewer = viewer_of(request)
    record = access_account(viewer, patient_id)
    form = TherapistForm(request.POST, therapists=therapists_of(viewer.clinic_id))
    if not form.is_valid():
        messages.error(request, _("Choose a therapist who works at this clinic."))
        return redirect("clinic_patient", record.pk)
    to = access_membership(viewer, form.chosen())
    change = readmit_patient if record.discharged_at else transfer_care
    try:
        change(patient=record, to=to, now=clock.now())
    except PeopleError as refusal:
        messages.error(request, str(refusal))
    else:
        done = _("%(patient)s is now with %(therapist)s.")
        messages.success(request, done % {"patient": record.name, "therapist": to.user})
    return redirect("clinic_patient", record.pk)


@require_POST
@admin_only
def patient_invite(request: HttpRequest, patient_id: uuid.UUID) -> HttpResponse:
    """Send the patient a one-use link; an earlier one stops working."""
    viewer = viewer_of(request)
    record = access_account(viewer, patient_id)
    try:
        invite_patient(
            patient=record,
            invited_by_id=viewer.user_id,
            site_url=settings.SITE_URL,
            now=clock.now(),
        )
    except PeopleError as refusal:
        messages.warning(request, str(refusal))
    else:
        sent = _("The invitation is on its way to %(email)s.")
        messages.success(request, sent % {"email": record.email})
    return redirect("clinic_patient", record.pk)


@require_http_methods(["GET", "HEAD", "POST"])
@admin_only
def patient_discharge(request: HttpRequest, patient_id: uuid.UUID) -> HttpResponse:
    """Ask, then end care."""
    viewer, now = viewer_of(request), clock.now()
    record = access_account(viewer, patient_id)
    if record.discharged_at is not None:
        messages.warning(request, _("This patient has been discharged."))
        return redirect("clinic_patient", record.pk)
    if request.method != "POST":
        account = patient_account(record, now=now)
        return render(
            request, "clinic/patient_discharge.html", {"patient": record, "account": account}
        )
    discharge_patient(patient=record, now=now)
    messages.success(request, _("%(name)s is discharged.") % {"name": record.name})
    return redirect("clinic_patient", record.pk)
