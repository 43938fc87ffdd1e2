"""When to be reminded."""

from __future__ import annotations

from datetime import time
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Submit
from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from adherence.rules.reminders import is_dropped


class ReminderForm(forms.Form):
    """When to be reminded, on the patient's own clock."""

    is_on = forms.BooleanField(label=_("Remind me by e-mail"), required=False)
    first = forms.TimeField(
        label=_("At"), required=False, widget=forms.TimeInput(attrs={"type": "time"})
    )
    second = forms.TimeField(
        label=_("And at"), required=False, widget=forms.TimeInput(attrs={"type": "time"})
    )

    def __init__(self, *args: Any, quiet: tuple[time, time], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.quiet_from, self.quiet_until = quiet
        self.helper = FormHelper()
        self.helper.add_input(Submit("save", _("Save"), css_class="button--big button--full"))

    def clean(self) -> dict[str, Any]:
        """Ask for a time when reminders are on, and for one at which they may go out."""
        data: dict[str, Any] = super().clean() or {}
        if not data.get("is_on"):
            return data
        if not data.get("first") and "first" not in self.errors:
            self.add_error("first", _("Choose a time of day."))
        for name in ("first", "second"):
            if data.get(name) and is_dropped(
                data[name], quiet_from=self.quiet_from, quiet_until=self.quiet_until
            ):
                told = gettext("None go out from %(start)s. Choose an earlier time.")
                self.add_error(name, told % {"start": f"{self.quiet_from:%H:%M}"})
        return data

    def times(self) -> list[Any]:
        """Return the chosen times."""
        return [t for t in (self.cleaned_data["first"], self.cleaned_data["second"]) if t]
