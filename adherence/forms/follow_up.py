"""Forms with which the team answers flags, plans follow-ups and enters paper logs."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import ButtonHolder, Div, Field, Layout, Submit
from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from adherence.forms.session import WholeDayForm
from adherence.models import FollowUpKind, Outcome
from adherence.operations.paper import PaperDay
from adherence.operations.whole_day import Amount
from adherence.queries.words import follow_up_title, outcome_title
from adherence.rules.barriers import LONG_LIST, SHORT_LIST, Barrier, barrier_reason
from programs.queries.programs import ItemView

LATEST_PLAN_DAYS = 366
LEAVE_OPEN = ""


def _note(label: Any, *, required: bool = False) -> forms.CharField:
    return forms.CharField(
        label=label,
        widget=forms.Textarea(attrs={"rows": 3}),
        max_length=2000,
        required=required,
    )


class FollowUpForm(forms.Form):
    """What was done, or is planned for a day. `today` is the patient's local day."""

    kind = forms.ChoiceField(
        label=_("What"), widget=forms.RadioSelect(attrs={"class": "choices--row"})
    )
    when = forms.ChoiceField(
        label=_("When"),
        choices=[("DONE", _("Done now")), ("PLANNED", _("Planned for a day"))],
        widget=forms.RadioSelect(attrs={"class": "choices--row"}),
        initial="DONE",
    )
    due_on = forms.DateField(
        label=_("Day"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=_("Only for something planned."),
    )
    note = _note(_("Note"))

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.fields["kind"].choices = [  # type: ignore[attr-defined]
            (kind.value, follow_up_title(kind)) for kind in FollowUpKind
        ]
        self.fields["due_on"].widget.attrs.update(
            min=today.isoformat(), max=self._latest.isoformat()
        )
        self.helper = FormHelper()
        self.helper.layout = Layout(
            "kind",
            Div("when", "due_on", css_class="follow-up-when"),
            "note",
            *self._more(),
            ButtonHolder(Submit("save", gettext("Save"))),
        )

    @property
    def _latest(self) -> date:
        return self.today + timedelta(days=LATEST_PLAN_DAYS)

    def _more(self) -> Iterable[str]:
        return ()

    def clean(self) -> dict[str, Any]:
        """Ask for the day of something planned; take no day of something done."""
        data: dict[str, Any] = super().clean() or {}
        if data.get("when") == "PLANNED":
            due_on = data.get("due_on")
            if due_on is None and "due_on" not in self.errors:
                self.add_error("due_on", gettext("Choose the day."))
            elif due_on is not None and not self.today <= due_on <= self._latest:
                self.add_error("due_on", gettext("Choose a day from today, within a year."))
        else:
            data["due_on"] = None
        return data

    def told(self) -> dict[str, Any]:
        """Return kind, note and day as the operations take them, after validation."""
        data = self.cleaned_data
        return {
            "kind": FollowUpKind(data["kind"]),
            "note": data["note"],
            "due_on": data["due_on"],
        }


class FlagAnswerForm(FollowUpForm):
    """A follow-up of a flag, which may close the flag too."""

    outcome = forms.ChoiceField(
        label=_("And the flag"),
        required=False,
        help_text=_("A closed flag does not come back for the same entries."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["outcome"].choices = [  # type: ignore[attr-defined]
            (LEAVE_OPEN, gettext("Leave it open")),
            *[
                (one.value, gettext("Close it: %(outcome)s") % {"outcome": outcome_title(one)})
                for one in Outcome
            ],
        ]

    def _more(self) -> Iterable[str]:
        return ("outcome",)

    def clean(self) -> dict[str, Any]:
        """Refuse to close a flag on something that is still to be done."""
        data = super().clean()
        if data.get("when") == "PLANNED" and data.get("outcome"):
            self.add_error("outcome", gettext("Leave it open until what you plan has been done."))
        return data

    def told(self) -> dict[str, Any]:
        """Return the answer as the operation takes it."""
        outcome = self.cleaned_data["outcome"]
        return {**super().told(), "outcome": Outcome(outcome) if outcome else None}


class CloseFlagForm(forms.Form):
    """What came of a flag."""

    outcome = forms.ChoiceField(label=_("What came of it"), widget=forms.RadioSelect)
    note = _note(_("Note"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["outcome"].choices = [  # type: ignore[attr-defined]
            (one.value, outcome_title(one)) for one in Outcome
        ]
        self.helper = FormHelper()
        self.helper.layout = Layout(
            "outcome", "note", ButtonHolder(Submit("save", gettext("Close the flag")))
        )

    def told(self) -> dict[str, Any]:
        """Return outcome and note, after validation."""
        return {
            "outcome": Outcome(self.cleaned_data["outcome"]),
            "note": self.cleaned_data["note"],
        }


class FollowUpDoneForm(forms.Form):
    """How a planned follow-up went."""

    note = _note(_("How did it go?"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.layout = Layout("note", ButtonHolder(Submit("save", gettext("Mark as done"))))


class PaperDayChoiceForm(forms.Form):
    """Which day a sheet of paper is about."""

    on = forms.DateField(required=False)


class PaperForm(WholeDayForm):
    """A session as it stands on paper, or the reason why there was none."""

    reason = forms.ChoiceField(
        label=_("If nothing was done: why?"),
        required=False,
        help_text=_("As far as the patient wrote it down or told you."),
    )
    submit_label = _("Save this day")

    def __init__(self, *args: Any, items: Iterable[ItemView], **kwargs: Any) -> None:
        super().__init__(*args, items=items, **kwargs)
        self.fields["reason"].choices = [  # type: ignore[attr-defined]
            ("", gettext("It was done, all or in part")),
            *[(code.value, barrier_reason(code, gettext)) for code in (*SHORT_LIST, *LONG_LIST)],
        ]
        self.fields["worst"].label = gettext("Worst pain during the session")
        self.fields["effort"].label = gettext("How hard it was")
        self.fields["note"].label = gettext("What else is written there")
        names = [self._name(item) for item in self.items]
        self.helper.layout = Layout(
            *names,
            "reason",
            *[Field(name, template="forms/pain_scale.html") for name in self.pain_fields],
            "note",
            "client_key",
        )

    def clean(self) -> dict[str, Any]:
        """Ask why where nothing was done; take no reason where something was."""
        data: dict[str, Any] = super().clean() or {}
        amounts = [data.get(self._name(item)) for item in self.items]
        if all(amount == Amount.NONE for amount in amounts) and not data.get("reason"):
            self.add_error("reason", gettext("Say why nothing was done."))
        return data

    def paper(self) -> PaperDay:
        """Return what stands on paper, after validation."""
        reason = self.cleaned_data["reason"]
        return PaperDay(told=self.told(), reason=Barrier(reason) if reason else None)
