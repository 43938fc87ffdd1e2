"""Contact data of patients, and who takes them."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import date
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import LayoutObject
from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from clinic.queries import TherapistChoice

from .parts import TimeZoneField, one_button, pair, phone_characters

OLDEST_BIRTH_YEAR = 1900


class ContactForm(forms.Form):
    """Who a patient is and how to reach them. `today` bounds the dates."""

    given_name = forms.CharField(label=gettext_lazy("Given name"), max_length=80)
    family_name = forms.CharField(label=gettext_lazy("Family name"), max_length=80)
    date_of_birth = forms.DateField(
        label=gettext_lazy("Date of birth"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    email = forms.EmailField(
        label=gettext_lazy("E-mail"),
        required=False,
        help_text=gettext_lazy("Invitation and reminders go there."),
    )
    phone = forms.CharField(
        label=gettext_lazy("Phone"),
        required=False,
        max_length=40,
        validators=[phone_characters],
        widget=forms.TextInput(attrs={"type": "tel"}),
    )
    timezone = TimeZoneField(
        help_text=gettext_lazy("Where the patient lives: decides which day is today for them."),
    )
    uses_paper = forms.BooleanField(
        label=gettext_lazy("Keeps the log on paper"),
        required=False,
        help_text=gettext_lazy("Staff enter it. No phone is needed."),
    )

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.fields["date_of_birth"].widget.attrs["max"] = today.isoformat()
        zone_field = self.fields["timezone"]
        if isinstance(zone_field, TimeZoneField):
            zone_field.also_offer(str(self.initial.get("timezone", "")))
        self.helper = self._layout()

    def _layout(self) -> FormHelper:
        return one_button(*self._contact(), save=_("Save"))

    def _contact(self) -> Sequence[LayoutObject | str]:
        return [
            pair("given_name", "family_name"),
            "date_of_birth",
            pair("email", "phone"),
            "timezone",
            "uses_paper",
        ]

    def clean_date_of_birth(self) -> date | None:
        """Refuse dates of birth that cannot be a living patient's."""
        born: date | None = self.cleaned_data["date_of_birth"]
        if born is not None and born > self.today:
            raise ValidationError(_("This date lies in the future."))
        if born is not None and born.year < OLDEST_BIRTH_YEAR:
            raise ValidationError(_("Check the year, please."))
        return born


class PatientDetailsForm(ContactForm):
    """What a therapist keeps up to date about a patient of theirs."""

    problem = forms.CharField(
        label=gettext_lazy("Problem"),
        required=False,
        max_length=120,
        help_text=gettext_lazy("A few words for you and your colleagues: right hip, week 6."),
    )
    next_visit_on = forms.DateField(
        label=gettext_lazy("Next visit"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )

    def _layout(self) -> FormHelper:
        return one_button(
            *self._contact(),
            pair("problem", "next_visit_on"),
            save=_("Save"),
        )


class NewPatientForm(ContactForm):
    """A new record under a therapist's own care."""

    problem = forms.CharField(
        label=gettext_lazy("Problem"),
        required=False,
        max_length=120,
        help_text=gettext_lazy("A few words for you and your colleagues: right hip, week 6."),
    )
    invite = forms.BooleanField(
        label=gettext_lazy("Send the invitation now"),
        required=False,
        help_text=gettext_lazy("A link that works once, for 7 days."),
    )

    def _layout(self) -> FormHelper:
        return one_button(*self._contact(), "problem", "invite", save=_("Create the record"))

    def clean(self) -> dict[str, Any]:
        """An invitation needs somewhere to go."""
        cleaned = super().clean() or {}
        if cleaned.get("invite") and not cleaned.get("email") and "email" not in self.errors:
            self.add_error("email", _("The invitation needs an e-mail address."))
        return cleaned


class AdmissionForm(NewPatientForm):
    """A new record made by the clinic admin: account data only, and who takes the patient."""

    problem = None  # type: ignore[assignment]
    therapist = forms.ChoiceField(label=gettext_lazy("Therapist"))

    def __init__(self, *args: Any, therapists: Sequence[TherapistChoice], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["therapist"].choices = therapist_choices(therapists)  # type: ignore[attr-defined]

    def _layout(self) -> FormHelper:
        return one_button(*self._contact(), "therapist", "invite", save=_("Create the record"))


class TherapistForm(forms.Form):
    """Who takes the patient."""

    therapist = forms.ChoiceField(label=gettext_lazy("Therapist"))

    def __init__(
        self,
        *args: Any,
        therapists: Sequence[TherapistChoice],
        save: str = "",
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["therapist"].choices = therapist_choices(therapists)  # type: ignore[attr-defined]
        self.helper = one_button("therapist", save=save or _("Move the patient"))

    def chosen(self) -> uuid.UUID:
        """Return the membership that was chosen."""
        return uuid.UUID(self.cleaned_data["therapist"])


def therapist_choices(therapists: Sequence[TherapistChoice]) -> list[tuple[str, str]]:
    """Return the options of a therapist field, each with how many patients they lead."""
    options = [("", _("Choose"))]
    for choice in therapists:
        count = ngettext("%(n)d patient", "%(n)d patients", choice.patients) % {
            "n": choice.patients
        }
        options.append((str(choice.membership_id), f"{choice.name} ({count})"))
    return options
