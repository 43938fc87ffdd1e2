"""What holds for a whole revision: title, schedule, pain limit, words to the patient."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from programs.queries.editor import EditorSource
from programs.rules.schedule import Pattern, Schedule, check_schedule
from programs.rules.wording import weekday_name

FIRST_YEAR, LAST_YEAR = 2000, 2100
LONGEST_NOTE = 1000
NUMBERS = ("times_per_day", "weekdays", "every_days", "weekly_quota")


def _short_number(**attrs: Any) -> forms.TextInput:
    return forms.TextInput(
        attrs={"inputmode": "numeric", "autocomplete": "off", "maxlength": 4} | attrs
    )


def _date_input() -> forms.DateInput:
    return forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")


def pattern_names() -> list[tuple[str, str]]:
    """Return the ways in which a schedule says its days."""
    return [
        (Pattern.DAILY.value, _("Every day")),
        (Pattern.WEEKDAYS.value, _("On days of the week")),
        (Pattern.EVERY_N_DAYS.value, _("Every few days")),
        (Pattern.WEEKLY_QUOTA.value, _("So many times a week, on any day")),
    ]


def pain_choices() -> list[tuple[str, str]]:
    """Return 0 to 10 as limits."""
    ends = {"0": _("0: no pain at all")}
    return [(str(n), ends.get(str(n), str(n))) for n in range(11)]


class PlanForm(forms.Form):
    """Schedule and words. Numbers of a pattern that is not chosen are left out of account."""

    title = forms.CharField(
        label=gettext_lazy("Title"),
        max_length=120,
        help_text=gettext_lazy("The patient sees it, for example: Stronger calf."),
    )
    pattern = forms.ChoiceField(
        label=gettext_lazy("Sessions"), choices=pattern_names, widget=forms.RadioSelect
    )
    times_per_day = forms.IntegerField(
        label=gettext_lazy("Times a day"),
        required=False,
        help_text=gettext_lazy("1 to 6"),
        widget=_short_number(),
    )
    weekdays = forms.TypedMultipleChoiceField(
        label=gettext_lazy("Days of the week"),
        required=False,
        coerce=int,
        choices=lambda: [(str(day), weekday_name(day, _)) for day in range(7)],
        widget=forms.CheckboxSelectMultiple(attrs={"class": "choices--row"}),
    )
    every_days = forms.IntegerField(
        label=gettext_lazy("Every how many days"),
        required=False,
        help_text=gettext_lazy("2 is every other day, 30 the most"),
        widget=_short_number(),
    )
    weekly_quota = forms.IntegerField(
        label=gettext_lazy("Times a week"),
        required=False,
        help_text=gettext_lazy("1 to 7, the patient chooses the days"),
        widget=_short_number(),
    )
    starts_on = forms.DateField(label=gettext_lazy("First day"), widget=_date_input())
    ends_on = forms.DateField(
        label=gettext_lazy("Last day"),
        required=False,
        help_text=gettext_lazy("Without one it goes on until you change it."),
        widget=_date_input(),
    )
    pain_limit = forms.TypedChoiceField(
        label=gettext_lazy("Pain limit during exercise"),
        coerce=int,
        choices=pain_choices,
        help_text=gettext_lazy(
            "Up to this it may hurt, if it settles by next morning. Above it the patient is told "
            "to ease off."
        ),
    )
    continue_after_sharp_pain = forms.BooleanField(
        label=gettext_lazy("After sharp pain the other exercises may go on"),
        required=False,
        help_text=gettext_lazy(
            "The exercise that hurt always stops. Without this the whole session ends."
        ),
    )
    note_to_patient = forms.CharField(
        label=gettext_lazy("Note to the patient"),
        required=False,
        max_length=LONGEST_NOTE,
        widget=forms.Textarea(attrs={"rows": 3, "data-preview": "note"}),
        help_text=gettext_lazy("Shown on Today, under the exercises."),
    )
    reason = forms.CharField(
        label=gettext_lazy("Reason for this change"),
        required=False,
        max_length=200,
        help_text=gettext_lazy("The patient reads it on Today, and it stays in the record."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.schedule: Schedule | None = None

    def clean_starts_on(self) -> date:
        """Keep the first day within reach of a calendar."""
        return _within_reach(self.cleaned_data["starts_on"])

    def clean_ends_on(self) -> date | None:
        """Keep the last day within reach of a calendar."""
        day: date | None = self.cleaned_data["ends_on"]
        return None if day is None else _within_reach(day)

    def clean(self) -> dict[str, Any]:
        """Build the schedule; what the rules find wrong stands beside its field."""
        data = self.cleaned_data
        if "pattern" in data:
            for name in set(NUMBERS) - set(_numbers(data)):
                self.errors.pop(name, None)
        if {"pattern", "starts_on", "ends_on", *_numbers(data)} & set(self.errors):
            return data
        schedule = _schedule(data)
        problems = check_schedule(schedule)
        for problem in problems:
            self.add_error(problem.field, problem.text(_))
        self.schedule = None if problems else schedule
        return data


def _within_reach(day: date) -> date:
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        years = {"first": FIRST_YEAR, "last": LAST_YEAR}
        raise ValidationError(_("Choose a day from %(first)d to %(last)d.") % years)
    return day


def _numbers(data: dict[str, Any]) -> tuple[str, ...]:
    """Return the fields that the chosen pattern reads."""
    return {
        Pattern.DAILY.value: ("times_per_day",),
        Pattern.WEEKDAYS.value: ("times_per_day", "weekdays"),
        Pattern.EVERY_N_DAYS.value: ("times_per_day", "every_days"),
        Pattern.WEEKLY_QUOTA.value: ("weekly_quota",),
    }.get(data.get("pattern", ""), ())


def _schedule(data: dict[str, Any]) -> Schedule:
    pattern = Pattern(data["pattern"])
    used = _numbers(data)
    times = data.get("times_per_day") if "times_per_day" in used else 1
    return Schedule(
        pattern=pattern,
        starts_on=data["starts_on"],
        times_per_day=1 if times is None else times,
        weekdays=frozenset(data["weekdays"]) if "weekdays" in used else frozenset(),
        every_days=data.get("every_days") if "every_days" in used else None,
        weekly_quota=data.get("weekly_quota") if "weekly_quota" in used else None,
        ends_on=data.get("ends_on"),
    )


def plan_fields(source: EditorSource) -> dict[str, Any]:
    """Return what an editor opens as the form's fields hold it."""
    schedule = source.schedule
    return {
        "title": source.title,
        "pattern": schedule.pattern.value,
        "times_per_day": schedule.times_per_day,
        "weekdays": [str(day) for day in sorted(schedule.weekdays)],
        "every_days": "" if schedule.every_days is None else schedule.every_days,
        "weekly_quota": "" if schedule.weekly_quota is None else schedule.weekly_quota,
        "starts_on": schedule.starts_on,
        "ends_on": schedule.ends_on,
        "pain_limit": str(source.pain_limit),
        "continue_after_sharp_pain": source.continue_after_sharp_pain,
        "note_to_patient": source.note_to_patient,
        "reason": source.reason,
    }
