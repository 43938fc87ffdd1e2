"""The page behind a one-use link: GET shows, POST accepts."""

from __future__ import annotations

from django.contrib import messages
from django.contrib.auth import login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from clinic.forms import InvitationForm
from clinic.operations import InvitationRefused, accept_invitation, hash_token
from clinic.queries import InvitationPage, Standing, invitation_page
from shared import clock


@sensitive_post_parameters("password", "again")
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def invitation_accept(request: HttpRequest, token: str) -> HttpResponse:
    """Show who invites whom; accept by POST, sign the person in and send them home.

    Somebody who has an account accepts while signed in to it. A used, withdrawn or expired link
    answers 410 and an unknown one 404, both with what to do next.
    """
    page = invitation_page(hash_token(token), now=clock.now())
    if page.standing != Standing.OPEN:
        status = 404 if page.standing == Standing.UNKNOWN else 410
        return render(request, "clinic/invitation_closed.html", {"invitation": page}, status=status)
    if request.user.is_authenticated and request.user.email.lower() != page.email.lower():
        return render(request, "clinic/invitation_other.html", {"invitation": page})
    if page.has_account and not request.user.is_authenticated:
        return render(request, "clinic/invitation_sign_in.html", {"invitation": page})
    if page.has_account:
        return _accept_as_signed_in(request, token, page)
    return _accept_as_new(request, token, page)


def _accept_as_signed_in(request: HttpRequest, token: str, page: InvitationPage) -> HttpResponse:
    if request.method != "POST":
        return render(request, "clinic/invitation.html", {"invitation": page})
    try:
        accept_invitation(
            token=token,
            password="",
            now=clock.now(),
            signed_in=request.user,  # type: ignore[arg-type]
        )
    except InvitationRefused as refusal:
        messages.error(request, str(refusal))
        return redirect(request.path)
    return redirect("home")


def _accept_as_new(request: HttpRequest, token: str, page: InvitationPage) -> HttpResponse:
    form = InvitationForm(request.POST or None, email=page.email, initial={"name": page.name})
    if request.method != "POST" or not form.is_valid():
        return render(request, "clinic/invitation.html", {"invitation": page, "form": form})
    try:
        user = accept_invitation(
            token=token,
            password=form.cleaned_data["password"],
            name=form.cleaned_data["name"],
            now=clock.now(),
        )
    except InvitationRefused as refusal:
        messages.error(request, str(refusal))
        return redirect(request.path)
    login(request, user)
    request.session.set_expiry(0)  # ends with the browser, as after the sign-in page
    return redirect("home")
