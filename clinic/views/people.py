"""The clinic admin's overview: who works here, who is treated, which links are open."""

from __future__ import annotations

import uuid
from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from clinic.access import access_membership, admin_only, own_clinic, viewer_of
from clinic.forms import RoleForm, StaffInvitationForm
from clinic.operations import (
    InvitationNotSent,
    PeopleError,
    end_membership,
    give_role,
    invite_staff,
    renew_invitation,
    revoke_invitation,
)
from clinic.queries import (
    PatientFilter,
    colleagues_of,
    open_invitations,
    patient_counts,
    patients_page,
)
from clinic.rules.roles import Role
from shared import clock

LONGEST_SEARCH = 100


@require_safe
@admin_only
def overview(request: HttpRequest) -> HttpResponse:
    """Show people, open invitations and patients' accounts; `q`, `show`, `therapist`, `page`."""
    viewer, now = viewer_of(request), clock.now()
    search = request.GET.get("q", "")[:LONGEST_SEARCH].strip()
    which = _filter_named(request.GET.get("show", ""))
    team = colleagues_of(viewer.clinic_id)
    therapist_id = _uuid_or_none(request.GET.get("therapist", ""))
    therapist = next(
        (p for p in team if any(role.membership_id == therapist_id for role in p.roles)), None
    )
    found = patients_page(
        viewer.clinic_id,
        now=now,
        which=which,
        search=search,
        therapist_id=therapist_id if therapist else None,
        page=request.GET.get("page", "1"),
    )
    counts = patient_counts(viewer.clinic_id)
    kept = {"q": search, "show": which.value, "therapist": str(therapist_id) if therapist else ""}
    context = {
        "team": team,
        "invitations": open_invitations(viewer.clinic_id, now=now),
        "counts": counts,
        "filters": _filters(counts),
        "which": which,
        "search": search,
        "therapist": therapist,
        "therapist_id": therapist_id if therapist else None,
        "found": found,
        "kept_query": urlencode({name: value for name, value in kept.items() if value}) + "&",
    }
    return render(request, "clinic/people.html", context)


def _filters(counts: object) -> list[tuple[str, str, int]]:
    words = {
        PatientFilter.CURRENT: _("In care"),
        PatientFilter.NO_SIGN_IN: _("No sign-in"),
        PatientFilter.NO_THERAPIST: _("No therapist"),
        PatientFilter.DISCHARGED: _("Discharged"),
    }
    return [(w.value, words[w], getattr(counts, w.name.lower())) for w in PatientFilter]


def _filter_named(name: str) -> PatientFilter:
    return next((which for which in PatientFilter if which.value == name), PatientFilter.CURRENT)


def _uuid_or_none(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text)
    except ValueError:
        return None


@require_http_methods(["GET", "HEAD", "POST"])
@admin_only
def invite_colleague(request: HttpRequest) -> HttpResponse:
    """Send a one-use link that gives a role."""
    viewer = viewer_of(request)
    form = StaffInvitationForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            invite_staff(
                clinic=own_clinic(viewer),
                email=form.cleaned_data["email"],
                name=form.cleaned_data["name"],
                role=Role(form.cleaned_data["role"]),
                invited_by_id=viewer.user_id,
                site_url=settings.SITE_URL,
                now=clock.now(),
            )
        except InvitationNotSent as problem:
            messages.warning(request, str(problem))
            return redirect("clinic")
        except PeopleError as refusal:
            form.add_error("email", str(refusal))
        else:
            sent = _("The invitation for %(name)s is on its way.")
            messages.success(request, sent % {"name": form.cleaned_data["name"]})
            return redirect("clinic")
    return render(
        request,
        "clinic/form.html",
        {
            "title": _("Invite a colleague"),
            "lead": _("They get a link that works once, for 7 days, and choose a password."),
            "form": form,
        },
    )


@require_POST
@admin_only
def role_give(request: HttpRequest, membership_id: uuid.UUID) -> HttpResponse:
    """Give the colleague behind this membership another role, or an ended one back."""
    membership = access_membership(viewer_of(request), membership_id)
    form = RoleForm(request.POST)
    if not form.is_valid():
        messages.error(request, _("Choose a role."))
        return redirect("clinic")
    given = give_role(
        clinic_id=membership.clinic_id,
        user_id=membership.user_id,
        role=Role(form.cleaned_data["role"]),
    )
    messages.success(
        request,
        _("%(name)s is now %(role)s.")
        % {"name": membership.user, "role": given.get_role_display().lower()},
    )
    return redirect("clinic")


@require_http_methods(["GET", "HEAD", "POST"])
@admin_only
def role_end(request: HttpRequest, membership_id: uuid.UUID) -> HttpResponse:
    """Ask, then take a role away at once."""
    membership = access_membership(viewer_of(request), membership_id)
    if request.method != "POST":
        return render(request, "clinic/role_end.html", {"membership": membership})
    try:
        end_membership(membership=membership, now=clock.now())
    except PeopleError as refusal:
        context = {"membership": membership, "refusal": str(refusal)}
        return render(request, "clinic/role_end.html", context, status=409)
    messages.success(
        request,
        _("%(name)s is no longer %(role)s here.")
        % {"name": membership.user, "role": membership.get_role_display().lower()},
    )
    return redirect("home")


@require_POST
@admin_only
def invitation_revoke(request: HttpRequest, invitation_id: uuid.UUID) -> HttpResponse:
    """Stop a link from working."""
    viewer = viewer_of(request)
    if revoke_invitation(clinic_id=viewer.clinic_id, invitation_id=invitation_id, now=clock.now()):
        messages.success(request, _("The link no longer works."))
    else:
        messages.warning(request, _("This invitation has been used or withdrawn already."))
    return redirect("clinic")


@require_POST
@admin_only
def invitation_renew(request: HttpRequest, invitation_id: uuid.UUID) -> HttpResponse:
    """Send a new link in place of an unused one."""
    viewer = viewer_of(request)
    try:
        invitation = renew_invitation(
            clinic=own_clinic(viewer),
            invitation_id=invitation_id,
            invited_by_id=viewer.user_id,
            site_url=settings.SITE_URL,
            now=clock.now(),
        )
    except PeopleError as refusal:
        messages.warning(request, str(refusal))
    else:
        sent = _("A new link for %(name)s is on its way; the old one no longer works.")
        messages.success(request, sent % {"name": invitation.name or invitation.email})
    return redirect("clinic")
