"""Small forms about a program as a whole: begin one, pause it."""

from __future__ import annotations

from datetime import date
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import ButtonHolder, Layout, Row, Submit
from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from programs.models import PauseReason
from programs.queries.program_page import pause_reason_names

from .plan import FIRST_YEAR, LAST_YEAR


class NewProgramForm(forms.Form):
    """What a program is called."""

    title = forms.CharField(
        label=gettext_lazy("Title"),
        max_length=120,
        help_text=gettext_lazy("The patient sees it, for example: Stronger calf."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.layout = Layout("title", ButtonHolder(Submit("begin", _("Choose exercises"))))


class PauseForm(forms.Form):
    """Days on which nothing is due, and why."""

    starts_on = forms.DateField(
        label=gettext_lazy("Nothing is due from"),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    ends_on = forms.DateField(
        label=gettext_lazy("Goes on again on"),
        required=False,
        help_text=gettext_lazy("Without a day it stays paused until somebody resumes it."),
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
    )
    reason = forms.TypedChoiceField(
        label=gettext_lazy("Reason"),
        coerce=PauseReason,
        choices=lambda: [(code.value, name) for code, name in pause_reason_names().items()],
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.layout = Layout(
            Row("starts_on", "ends_on"), "reason", ButtonHolder(Submit("pause", _("Pause")))
        )

    def clean_starts_on(self) -> date:
        """Keep the day within reach of a calendar."""
        return _within_reach(self.cleaned_data["starts_on"])

    def clean_ends_on(self) -> date | None:
        """Keep the day within reach, and after the first."""
        day: date | None = self.cleaned_data["ends_on"]
        starts_on = self.cleaned_data.get("starts_on")
        if day is None:
            return None
        if starts_on is not None and day <= starts_on:
            raise ValidationError(_("Choose a day after the pause has begun."))
        return _within_reach(day)


def _within_reach(day: date) -> date:
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        years = {"first": FIRST_YEAR, "last": LAST_YEAR}
        raise ValidationError(_("Choose a day from %(first)d to %(last)d.") % years)
    return day
