"""Forms with which a patient logs, each usable without scripts."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Field, Layout, Submit
from django import forms
from django.utils.translation import gettext, gettext_lazy as _

from adherence.operations.whole_day import Amount, WholeDay
from adherence.rules.barriers import LONG_LIST, SHORT_LIST, barrier_wording
from programs.queries.programs import ItemView

SCORES = [(str(n), str(n)) for n in range(11)]


class PainField(forms.TypedChoiceField):
    """A 0 to 10 rating as eleven choices with worded ends."""

    def __init__(self, *, low: Any = None, high: Any = None, **options: Any) -> None:
        super().__init__(
            choices=SCORES, coerce=int, empty_value=None, widget=forms.RadioSelect, **options
        )
        self.low_label = low or _("0: no pain")
        self.high_label = high or _("10: the worst you can think of")


def effort_field() -> PainField:
    """Return the effort question: only its ends are labelled."""
    return PainField(
        label=_("How hard was that?"),
        low=_("0: not hard at all"),
        high=_("10: as hard as I can"),
        required=False,
    )


class KeyedForm(forms.Form):
    """A form that can be sent twice without doing anything twice."""

    client_key = forms.UUIDField(widget=forms.HiddenInput)

    submit_label: Any = _("Save")
    pain_fields: tuple[str, ...] = ()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("initial", {}).setdefault("client_key", uuid.uuid4())
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.layout = Layout(
            *[
                Field(name, template="forms/pain_scale.html") if name in self.pain_fields else name
                for name in self.fields
            ]
        )
        self.helper.add_input(
            Submit("save", self.submit_label, css_class="button--big button--full")
        )


class StartForm(forms.Form):
    """Start a session, today's unless a day is named."""

    client_key = forms.UUIDField()
    on = forms.DateField(required=False)


class PainBeforeForm(KeyedForm):
    """Pain before the first exercise."""

    score = PainField(label=_("How much does it hurt now, before you start?"))
    submit_label = _("Go on")
    pain_fields = ("score",)


class NextMorningForm(KeyedForm):
    """Pain on the morning after."""

    score = PainField(label=_("How much does it hurt this morning?"))
    submit_label = _("Save")
    pain_fields = ("score",)


class SetForm(forms.Form):
    """One set as it was done; what is left empty is taken as planned."""

    client_key = forms.UUIDField()
    prescription = forms.UUIDField()
    number = forms.IntegerField(min_value=1, max_value=10)
    side = forms.ChoiceField(choices=[(s, s) for s in ("BILATERAL", "LEFT", "RIGHT", "ALTERNATE")])
    state = forms.ChoiceField(choices=[(s, s) for s in ("DONE", "PARTLY", "SKIPPED")])
    repetitions = forms.IntegerField(
        label=_("Repetitions"), min_value=0, max_value=999, required=False
    )
    held_seconds = forms.IntegerField(
        label=_("Seconds held"), min_value=0, max_value=3600, required=False
    )
    moved_seconds = forms.IntegerField(
        label=_("Seconds"), min_value=0, max_value=7200, required=False
    )


class StopForm(KeyedForm):
    """Sharp pain: what it was like, as far as the patient wants to say."""

    prescription = forms.UUIDField(widget=forms.HiddenInput)
    score = PainField(label=_("How bad was it?"), required=False)
    note = forms.CharField(
        label=_("Where, and what were you doing?"), max_length=200, required=False
    )
    submit_label = _("Stop this exercise and tell my team")
    pain_fields = ("score",)


class FinishForm(KeyedForm):
    """How it was."""

    worst = PainField(label=_("What was the worst pain during the session?"))
    after = PainField(label=_("How much does it hurt now?"))
    effort = effort_field()
    note = forms.CharField(
        label=_("Anything your therapist should know?"),
        widget=forms.Textarea(attrs={"rows": 3}),
        max_length=2000,
        required=False,
    )
    submit_label = _("Finish")
    pain_fields = ("worst", "after", "effort")


class NotDoneForm(KeyedForm):
    """Why a session was not done; the common reasons first."""

    reason = forms.ChoiceField(label=_("What kept you from it?"), widget=forms.RadioSelect)
    note = forms.CharField(
        label=_("Anything to add?"),
        widget=forms.Textarea(attrs={"rows": 2}),
        max_length=2000,
        required=False,
    )
    submit_label = _("Save")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].choices = [  # type: ignore[attr-defined]
            (code.value, barrier_wording(code, gettext)) for code in (*SHORT_LIST, *LONG_LIST)
        ]


class WholeDayForm(KeyedForm):
    """A session entered afterwards: how much of each exercise, and how it felt."""

    worst = PainField(label=_("What was the worst pain during the session?"), required=False)
    effort = effort_field()
    note = forms.CharField(
        label=_("Anything to add?"),
        widget=forms.Textarea(attrs={"rows": 2}),
        max_length=2000,
        required=False,
    )
    pain_fields = ("worst", "effort")

    def __init__(self, *args: Any, items: Iterable[ItemView], **kwargs: Any) -> None:
        self.items = tuple(items)
        super().__init__(*args, **kwargs)
        amounts = {self._name(item): self._amount_field(item) for item in self.items}
        self.fields = {**amounts, **self.fields}
        self.helper.layout = Layout(
            *amounts,
            *[Field(name, template="forms/pain_scale.html") for name in self.pain_fields],
            "note",
            "client_key",
        )

    @staticmethod
    def _name(item: ItemView) -> str:
        return f"amount_{item.position}"

    @staticmethod
    def _amount_field(item: ItemView) -> forms.ChoiceField:
        return forms.ChoiceField(
            label=item.entry.name,
            choices=[
                (Amount.ALL.value, gettext("All of it")),
                (Amount.PART.value, gettext("Part of it")),
                (Amount.NONE.value, gettext("Not done")),
            ],
            widget=forms.RadioSelect(attrs={"class": "choices--row"}),
        )

    def told(self) -> WholeDay:
        """Return what was entered, after validation."""
        data = self.cleaned_data
        return WholeDay(
            amounts={i.prescription_id: Amount(data[self._name(i)]) for i in self.items},
            worst=data["worst"],
            effort=data["effort"],
            note=data["note"],
        )


class PauseForm(KeyedForm):
    """Feeling better, unwell or away: what happens next is said beside each choice."""

    reason = forms.ChoiceField(
        label=_("What is it?"),
        choices=[
            ("UNWELL", _("I am unwell")),
            ("AWAY", _("I am away")),
            ("PAIN", _("It hurts too much just now")),
            ("OTHER", _("Something else")),
        ],
        widget=forms.RadioSelect,
    )
    days = forms.TypedChoiceField(
        label=_("For how long?"),
        choices=[("3", _("3 days")), ("7", _("1 week")), ("14", _("2 weeks"))],
        coerce=int,
        widget=forms.RadioSelect(attrs={"class": "choices--row"}),
        initial="7",
    )
    submit_label = _("Pause my program")


class ReminderForm(forms.Form):
    """When to be reminded, on the patient's own clock."""

    is_on = forms.BooleanField(label=_("Remind me by e-mail"), required=False)
    first = forms.TimeField(
        label=_("At"), required=False, widget=forms.TimeInput(attrs={"type": "time"})
    )
    second = forms.TimeField(
        label=_("And at"), required=False, widget=forms.TimeInput(attrs={"type": "time"})
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.add_input(Submit("save", _("Save"), css_class="button--big button--full"))

    def clean(self) -> dict[str, Any]:
        """Ask for a time when reminders are on."""
        data: dict[str, Any] = super().clean() or {}
        if data.get("is_on") and not data.get("first") and "first" not in self.errors:
            self.add_error("first", _("Choose a time of day."))
        return data

    def times(self) -> list[Any]:
        """Return the chosen times."""
        return [t for t in (self.cleaned_data["first"], self.cleaned_data["second"]) if t]
