"""Accounts come from invitations only; allauth does sign-in, sign-out and password reset."""

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class InvitationOnlyAdapter(DefaultAccountAdapter):
    """Closes self-registration."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Nobody signs up without an invitation."""
        return False
