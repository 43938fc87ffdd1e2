"""What a therapist does about the record of a patient of theirs: make it, keep it, invite."""

from __future__ import annotations

import uuid

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from clinic.access import access_patient, own_therapist_role, therapist_only, viewer_of
from clinic.forms import NewPatientForm, PatientDetailsForm
from clinic.operations import (
    InvitationNotSent,
    PeopleError,
    admit_patient,
    invite_patient,
    update_patient,
)
from clinic.queries import patient_account
from shared import clock
from shared.dates import local_date


@require_http_methods(["GET", "HEAD", "POST"])
@therapist_only
def patient_new(request: HttpRequest) -> HttpResponse:
    """Make a record under the viewer's own care, and invite if asked."""
    viewer, now = viewer_of(request), clock.now()
    form = NewPatientForm(
        request.POST or None,
        today=local_date(now, viewer.timezone),
        initial={"timezone": viewer.timezone},
    )
    if request.method != "POST" or not form.is_valid():
        context = {
            "title": _("New patient"),
            "lead": _("The record begins under your care. A program comes next."),
            "form": form,
            "back_url": reverse("caseload"),
            "back_label": _("Caseload"),
        }
        return render(request, "clinic/form.html", context)
    try:
        patient = admit_patient(
            clinic_id=viewer.clinic_id,
            therapist=own_therapist_role(viewer),
            now=now,
            invited_by_id=viewer.user_id,
            site_url=settings.SITE_URL,
            **form.cleaned_data,
        )
    except InvitationNotSent as problem:
        messages.warning(request, _("The record is made. %(why)s") % {"why": problem})
        return redirect("caseload")
    told = _("The record of %(name)s is made.")
    if form.cleaned_data["invite"]:
        told = _("The record of %(name)s is made, and the invitation is on its way.")
    messages.success(request, told % {"name": patient.name})
    return redirect("patient", patient.pk)


@require_http_methods(["GET", "HEAD", "POST"])
@therapist_only
def patient_details(request: HttpRequest, patient_id: uuid.UUID) -> HttpResponse:
    """Change contact data and the few words about the problem."""
    viewer, now = viewer_of(request), clock.now()
    record = access_patient(viewer, patient_id, at=now)
    form = PatientDetailsForm(
        request.POST or None,
        today=local_date(now, viewer.timezone),
        initial={name: getattr(record, name) for name in PatientDetailsForm.base_fields},
    )
    if request.method == "POST" and form.is_valid():
        update_patient(patient=record, now=now, **form.cleaned_data)
        messages.success(request, _("Saved."))
        return redirect("patient", record.pk)
    context = {
        "title": _("Details of %(name)s") % {"name": record.name},
        "form": form,
        "back_url": reverse("patient", args=[record.pk]),
        "back_label": record.name,
    }
    return render(request, "clinic/form.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@therapist_only
def patient_invite(request: HttpRequest, patient_id: uuid.UUID) -> HttpResponse:
    """Show whether the patient can sign in; POST sends a one-use link."""
    viewer, now = viewer_of(request), clock.now()
    record = access_patient(viewer, patient_id, at=now)
    if request.method != "POST":
        account = patient_account(record, now=now)
        context = {"patient": record, "account": account}
        return render(request, "clinic/patient_invite.html", context)
    try:
        invite_patient(
            patient=record,
            invited_by_id=viewer.user_id,
            site_url=settings.SITE_URL,
            now=now,
        )
    except PeopleError as refusal:
        messages.warning(request, str(refusal))
        return redirect("patient_invite", record.pk)
    sent = _("The invitation is on its way to %(email)s.")
    messages.success(request, sent % {"email": record.email})
    return redirect("patient", record.pk)
