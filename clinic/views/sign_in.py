"""Sign-in by e-mail; in the demo the page also lists who can be signed in as."""

from __future__ import annotations

from typing import Any

from allauth.account.views import LoginView
from django.conf import settings

from clinic.queries import demo_cast


class SignInView(LoginView):
    """The account library's sign-in with the demo's cast beside it."""

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """Add the cast and its one password, in the demo settings only."""
        context: dict[str, Any] = super().get_context_data(**kwargs)
        if settings.IS_DEMO:
            context |= {"cast": demo_cast(), "demo_password": settings.DEMO_PASSWORD}
        return context


sign_in = SignInView.as_view()
