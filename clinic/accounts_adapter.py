"""Accounts come from invitations only; allauth does sign-in, sign-out and password reset."""

from __future__ import annotations

from typing import Any
from urllib.parse import quote

from allauth.account.adapter import DefaultAccountAdapter
from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.translation import gettext_lazy as _


class InvitationOnlyAdapter(DefaultAccountAdapter):
    """Closes self-registration; speaks our words; builds links from the site's own address."""

    error_messages = DefaultAccountAdapter.error_messages | {
        # One sentence for an unknown address and for a wrong password.
        "email_password_mismatch": _("E-mail and password do not fit together."),
        "too_many_login_attempts": _("Too many tries. Wait five minutes, then try again."),
        "enter_current_password": _("This is not your password until now."),
    }

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Nobody signs up without an invitation."""
        return False

    def get_reset_password_from_key_url(self, key: str) -> str:
        """Return the link of a reset mail, never built from what a request claims as its host."""
        path = reverse(
            "account_reset_password_from_key", kwargs={"uidb36": "UID", "key": "KEY"}
        ).replace("UID-KEY", quote(key))
        return f"{settings.SITE_URL}{path}"

    def get_password_change_redirect_url(self, request: HttpRequest) -> str:
        """Go on working after a change of password."""
        return reverse("home")

    def respond_user_inactive(self, request: HttpRequest, user: Any) -> HttpResponse:
        """Send a closed account back to the sign-in page with one sentence."""
        messages.error(request, _("This account is closed. Ask your clinic."))
        return redirect("account_login")
