"""Signing in, and accepting an invitation."""

from __future__ import annotations

from typing import Any

from allauth.account.forms import (
    ChangePasswordForm,
    LoginForm,
    ResetPasswordForm,
    ResetPasswordKeyForm,
)
from django import forms
from django.contrib.auth import get_user_model, password_validation
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from .parts import one_button

PASSWORD_HINT = gettext_lazy(
    "At least 12 characters. Four or five words in a row are easy to keep in mind."
)


def plain_account_fields(form: forms.Form) -> None:
    """Give allauth's fields our labels, and no words inside the boxes."""
    labels = {
        "login": _("E-mail"),
        "email": _("E-mail"),
        "password": _("Password"),
        "oldpassword": _("Password until now"),
        "password1": _("New password"),
        "password2": _("New password once more"),
    }
    for name, field in form.fields.items():
        field.label = labels.get(name, field.label)
        field.help_text = PASSWORD_HINT if name == "password1" else ""
        field.widget.attrs.pop("placeholder", None)


class SignInForm(LoginForm):
    """E-mail and password, in our own words."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        plain_account_fields(self)
        self.fields["login"].widget.attrs["autocomplete"] = "username"
        self.helper = one_button("login", "password", save=_("Sign in"), big=True)


class InvitationForm(forms.Form):
    """What somebody without an account chooses when accepting an invitation."""

    name = forms.CharField(
        label=gettext_lazy("Your name"),
        max_length=150,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    password = forms.CharField(
        label=gettext_lazy("Password"),
        help_text=PASSWORD_HINT,
        strip=False,
        max_length=256,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label=gettext_lazy("Password once more"),
        strip=False,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def __init__(self, *args: Any, email: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.email = email
        self.helper = one_button("name", "password", "again", save=_("Accept and go in"), big=True)

    def clean(self) -> dict[str, Any]:
        """Hold the password against the rules of the sign-in, and against its repetition."""
        cleaned = super().clean() or {}
        password, again = cleaned.get("password"), cleaned.get("again")
        if password:
            somebody = get_user_model()(email=self.email, name=cleaned.get("name", ""))
            try:
                password_validation.validate_password(password, somebody)
            except ValidationError as error:
                self.add_error("password", error)
        if password and again and password != again:
            self.add_error("again", _("The two passwords differ. Type the same one twice."))
        return cleaned


class ForgottenPasswordForm(ResetPasswordForm):
    """The address that a new-password link goes to."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        plain_account_fields(self)
        self.helper = one_button("email", save=_("Send me a link"), big=True)


class NewPasswordForm(ResetPasswordKeyForm):
    """A new password, behind the link from the mail."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        plain_account_fields(self)
        self.helper = one_button("password1", "password2", save=_("Set the password"), big=True)


class OtherPasswordForm(ChangePasswordForm):
    """A new password for somebody who is signed in."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        plain_account_fields(self)
        self.helper = one_button(
            "oldpassword", "password1", "password2", save=_("Change the password")
        )
