"""Forms with which a patient logs, each usable without scripts."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import Div, Field, Layout, Submit
from django import forms
from django.http import HttpRequest, QueryDict
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from adherence.operations.whole_day import Amount, WholeDay
from adherence.rules.barriers import LONG_LIST, SHORT_LIST, barrier_wording
from programs.queries.programs import ItemView
from programs.rules.dose import SetPlan, Side

COUNTS = {  # a set's number in the log, and the same number in its plan
    "repetitions": "repetitions",
    "held_seconds": "hold_seconds",
    "moved_seconds": "duration_seconds",
}
SCORES = [(str(n), str(n)) for n in range(11)]


def posted(request: HttpRequest) -> QueryDict | None:
    """Return what a form was sent with, None where it is only shown. Sent empty is sent."""
    return request.POST if request.method == "POST" else None


class PainField(forms.TypedChoiceField):
    """A 0 to 10 rating as eleven choices with worded ends."""

    def __init__(self, *, low: Any = None, high: Any = None, **options: Any) -> None:
        options.setdefault("error_messages", {"required": _("Choose a number from 0 to 10.")})
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
    """One set as it was done; with all numbers left empty it was done as planned.

    `state` comes from the button that was pressed. With `plan` only the numbers of that set are
    asked for, filled in as planned.
    """

    client_key = forms.UUIDField(widget=forms.HiddenInput)
    prescription = forms.UUIDField(widget=forms.HiddenInput)
    number = forms.IntegerField(min_value=1, max_value=10, widget=forms.HiddenInput)
    side = forms.ChoiceField(
        choices=[(s.value, s.value) for s in Side if s != Side.BOTH], widget=forms.HiddenInput
    )
    state = forms.ChoiceField(choices=[(s, s) for s in ("DONE", "PARTLY", "SKIPPED")])
    repetitions = forms.IntegerField(
        label=_("Repetitions done"), min_value=0, max_value=999, required=False
    )
    held_seconds = forms.IntegerField(
        label=_("Seconds held"), min_value=0, max_value=3600, required=False
    )
    moved_seconds = forms.IntegerField(
        label=_("Seconds done"), min_value=0, max_value=7200, required=False
    )

    def __init__(self, *args: Any, plan: SetPlan | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.data.get("state") == "SKIPPED":
            for name in COUNTS:
                del self.fields[name]
        if plan is None:
            return
        del self.fields["state"]
        for name, field in COUNTS.items():
            planned = getattr(plan, field)
            if planned is None:
                self.fields.pop(name, None)
            elif name in self.fields:
                self.fields[name].initial = planned
                self.fields[name].required = True  # so that it is not called optional
        if plan.repetitions and plan.hold_seconds and "held_seconds" in self.fields:
            self.fields["held_seconds"].label = _("Seconds held, each")
        self.helper = FormHelper()
        self.helper.form_tag = False
        shown = [name for name in COUNTS if name in self.fields]
        hidden = [name for name in self.fields if name not in COUNTS]
        self.helper.layout = Layout(*hidden, Div(*shown, css_class="session__counts"))


class StopForm(KeyedForm):
    """Sharp pain: what it was like, as far as the patient wants to say."""

    prescription = forms.UUIDField(widget=forms.HiddenInput)
    score = PainField(label=_("How bad was it?"), required=False)
    note = forms.CharField(
        label=_("Where, and what were you doing?"), max_length=200, required=False
    )
    submit_label = _("Stop it, tell my team")
    pain_fields = ("score",)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper.form_class = "form-within-reach"


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

    reason = forms.ChoiceField(
        label=_("What kept you from it?"),
        widget=forms.RadioSelect,
        error_messages={"required": _("Choose a reason.")},
    )
    note = forms.CharField(
        label=_("Anything to add?"),
        widget=forms.Textarea(attrs={"rows": 2}),
        max_length=2000,
        required=False,
    )
    submit_label = _("Save")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        reason: Any = self.fields["reason"]
        reason.choices = [
            (code.value, barrier_wording(code, gettext)) for code in (*SHORT_LIST, *LONG_LIST)
        ]
        reason.common_count = len(SHORT_LIST)
        reason.is_uncommon = self.data.get("reason") in {code.value for code in LONG_LIST}
        self.helper.layout = Layout(
            Field("reason", template="adherence/_reasons.html"), "note", "client_key"
        )


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
            error_messages={"required": gettext("Say how much you did of it.")},
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
        error_messages={"required": _("Choose what it is.")},
    )
    days = forms.TypedChoiceField(
        label=_("For how long?"),
        choices=[("3", _("3 days")), ("7", _("1 week")), ("14", _("2 weeks"))],
        coerce=int,
        widget=forms.RadioSelect(attrs={"class": "choices--row"}),
        initial="7",
    )
    submit_label = _("Pause my program")
