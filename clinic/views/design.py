"""The page that shows every component of the design system; routed in development only."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import cycle, islice
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import (
    ButtonHolder,
    Field,
    Fieldset,
    Layout,
    Reset,
    Row,
    Submit,
)
from django import forms
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from shared.templatetags.icons import ICONS

THEMES = ("light", "dark")
TOKENS = [
    "paper",
    "sheet",
    "sand",
    "rule",
    "edge",
    "ink",
    "quiet",
    "spruce",
    "spruce-deep",
    "spruce-soft",
    "on-spruce",
    "ochre",
    "ochre-soft",
    "brick",
    "brick-soft",
    "on-brick",
    "slate",
    "slate-soft",
    "rust",
    "rust-soft",
    "focus",
    "tide",
    "tide-ink",
    "figure-body",
    "figure-far",
    "figure-moves",
    "figure-prop",
]


@dataclass(frozen=True)
class SampleLink:
    """One entry of the sample navigation."""

    label: str
    url: str
    icon: str
    is_current: bool = False
    count: int = 0


@dataclass(frozen=True)
class SampleViewer:
    """Who the header shows."""

    name: str
    clinic_name: str


@dataclass(frozen=True)
class SampleContact:
    """What the footer says."""

    phone: str
    emergency_number: str
    reading_days: str


@dataclass(frozen=True)
class SampleDay:
    """One day of a strip or week."""

    name: str
    state: str
    share: float = 1.0
    is_today: bool = False


@dataclass(frozen=True)
class SampleSet:
    """One set shown as a cup."""

    state: str
    share: float
    side: str


@dataclass(frozen=True)
class SampleRow:
    """One row of the sample caseload."""

    name: str
    what: str
    severity: str
    mark: str
    why: str
    days: tuple[SampleDay, ...]
    pain: tuple[int | None, ...]
    contact: str
    action: str = ""


class SampleForm(forms.Form):
    """One field of every kind."""

    name = forms.CharField(label="Name", help_text="As the patient writes it.")
    email = forms.EmailField(label="E-mail", required=False)
    sets = forms.IntegerField(label="Sets", min_value=1, max_value=10)
    repetitions = forms.IntegerField(label="Repetitions", min_value=1, max_value=100)
    starts_on = forms.DateField(
        label="Starts on",
        widget=forms.DateInput(attrs={"type": "date"}),
        required=False,
    )
    side = forms.ChoiceField(
        label="Side",
        choices=[("RIGHT", "Right"), ("LEFT", "Left"), ("BOTH", "Each side in turn")],
        widget=forms.RadioSelect(attrs={"class": "choices--row"}),
    )
    weekdays = forms.MultipleChoiceField(
        label="Days of the week",
        choices=[("0", "Mo"), ("1", "Tu"), ("2", "We"), ("3", "Th"), ("4", "Fr")],
        widget=forms.CheckboxSelectMultiple(attrs={"class": "choices--row"}),
        required=False,
    )
    pattern = forms.ChoiceField(
        label="Pattern", choices=[("DAILY", "Every day"), ("WEEKDAYS", "Chosen days")]
    )
    pain = forms.ChoiceField(
        label="How bad was the pain at its worst?",
        help_text="During the session.",
        choices=[(str(number), str(number)) for number in range(11)],
        widget=forms.RadioSelect,
    )
    note = forms.CharField(
        label="A word to the patient",
        widget=forms.Textarea(attrs={"rows": 3}),
        required=False,
    )
    agreed = forms.BooleanField(
        label="Agreed with the patient", help_text="In the room or on the phone."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = FormHelper()
        self.helper.layout = Layout(
            Fieldset("Who", "name", "email"),
            Fieldset("Dose", Row("sets", "repetitions", "starts_on"), "side", "weekdays"),
            "pattern",
            Field("pain", template="forms/pain_scale.html"),
            "note",
            "agreed",
            ButtonHolder(Submit("save", "Issue program"), Reset("reset", "Start over")),
        )


def _strip(pattern: str, length: int = 28) -> tuple[SampleDay, ...]:
    """Days from letters: D done, P partly, N not done, - no entry, . not due, z paused, x extra."""
    states = {
        "D": ("DONE", 1.0),
        "P": ("PARTLY", 0.5),
        "N": ("NOT_DONE", 0.0),
        "-": ("NO_ENTRY", 0.0),
        "o": ("OPEN", 0.0),
        ".": ("NOT_DUE", 0.0),
        "z": ("PAUSED", 0.0),
        "x": ("EXTRA", 1.0),
    }
    return tuple(
        SampleDay(name=str(place), state=states[letter][0], share=states[letter][1])
        for place, letter in enumerate(islice(cycle(pattern), length), start=1)
    )


def _rows() -> list[SampleRow]:
    return [
        SampleRow(
            "Ida Brandt, 71",
            "Hip, week 6",
            "ACT_NOW",
            "Sharp pain",
            "Stopped stand-ups yesterday, sharp pain at the groin, rated 7.",
            _strip("DDNDDD.D-DDDD.DDDDDD.DDDDDo."),
            (3, 3, 2, 3, 3, 2, 3, 3, 3, 7),
            "12 days",
            "Call",
        ),
        SampleRow(
            "Per Aune, 44",
            "Shoulder, week 9",
            "LOOK",
            "Pain rising",
            "Worst pain 5 5 4 6 5 6, usual 3, since band row went to 3 sets.",
            _strip("DDDDDD.DN-DDPx.DDDDDD.DD-D.o"),
            (3, 3, 2, 3, 4, 3, 5, 5, None, 6, 5, 6),
            "5 days",
        ),
        SampleRow(
            "Walter Quist, 83",
            "Balance, week 2",
            "NONE",
            "Silent",
            "No entry and no reason for 7 days. Uses paper.",
            _strip("D.D.D...D.P.zzzzzzz.-.-.-.-."),
            (1, 2, 1),
            "8 days",
        ),
        SampleRow(
            "Elin Sato, 35",
            "Neck, week 7",
            "GOOD",
            "Ready to go on",
            "3 sessions at full dose, pain at most 2, settled by morning.",
            _strip("DDDDDD.DDDDDD.-DDDDD.DDDDDD."),
            (4, 3, 3, 2, 2, 2, 1, 2),
            "14 days",
        ),
    ]


def index(request: HttpRequest) -> HttpResponse:
    """Show everything; ``?theme=light|dark`` forces a theme, ``?as=patient`` the patient's size."""
    asked = request.GET.get("theme", "")
    as_patient = request.GET.get("as") == "patient"
    refused = SampleForm({"name": "", "sets": "40", "repetitions": "12"}, prefix="refused")
    week = zip(
        ["Mo", "Tu", "We", "Th", "Fr", "Sa", "Su"],
        ["DONE", "NOT_DONE", "OPEN", "PAUSED", "EXTRA", "NOT_DUE", "PARTLY"],
        strict=True,
    )
    context = {
        "theme": asked if asked in THEMES else "",
        "themes": THEMES,
        "as_patient": as_patient,
        "navigation": [
            SampleLink("Today", "#today", "home", is_current=True),
            SampleLink("Progress", "#progress", "chart"),
            SampleLink("Messages", "#messages", "message", count=2),
            SampleLink("Reminders", "#reminders", "bell"),
        ],
        "viewer": SampleViewer("Mara Lindqvist", "Harbor Lane Clinic"),
        "clinic_contact": SampleContact("555 0100", "112", "Monday to Friday"),
        "tokens": TOKENS,
        "icons": sorted(ICONS),
        "rows": _rows(),
        "week": [SampleDay(name, state, 0.7, is_today=name == "We") for name, state in week],
        "sets": [
            SampleSet("DONE", 1.0, "LEFT"),
            SampleSet("DONE", 1.0, "LEFT"),
            SampleSet("NOW", 0.45, "LEFT"),
            SampleSet("NEXT", 0.0, "RIGHT"),
            SampleSet("NEXT", 0.0, "RIGHT"),
            SampleSet("SKIPPED", 0.0, "RIGHT"),
        ],
        "form": SampleForm(),
        "refused": refused,
        "page_of_rows": Paginator(range(60), 20).page(2),
    }
    return render(request, "design/index.html", context)
