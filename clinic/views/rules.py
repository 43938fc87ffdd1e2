"""The clinic's thresholds, and what it says about itself."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from clinic.access import admin_only, own_clinic, viewer_of
from clinic.forms import ClinicForm, PolicyForm, policy_values
from clinic.operations import change_clinic, change_policy
from clinic.queries import policy_of
from clinic.rules.policy import Policy
from shared import clock


@require_http_methods(["GET", "HEAD", "POST"])
@admin_only
def policy(request: HttpRequest) -> HttpResponse:
    """Show and change every threshold; `?defaults=1` fills in the defaults without saving."""
    viewer = viewer_of(request)
    stored = policy_of(viewer.clinic_id)
    shown = Policy() if "defaults" in request.GET else stored
    form = PolicyForm(request.POST or None, stored=stored, initial=policy_values(shown))
    if request.method == "POST" and form.is_valid():
        change_policy(
            clinic=own_clinic(viewer),
            changed_by_id=viewer.user_id,
            now=clock.now(),
            **form.cleaned_data,
        )
        messages.success(request, _("The rules are saved. They hold from now on."))
        return redirect("clinic_policy")
    context = {"form": form, "policy": stored, "shows_defaults": shown is not stored}
    return render(request, "clinic/policy.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@admin_only
def details(request: HttpRequest) -> HttpResponse:
    """Change the clinic's name, zone and contact line."""
    clinic = own_clinic(viewer_of(request))
    form = ClinicForm(
        request.POST or None,
        initial={name: getattr(clinic, name) for name in ClinicForm.base_fields},
    )
    if request.method == "POST" and form.is_valid():
        change_clinic(clinic=clinic, **form.cleaned_data)
        messages.success(request, _("Saved."))
        return redirect("clinic_details")
    return render(request, "clinic/details.html", {"form": form})
