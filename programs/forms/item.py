"""One exercise of a draft: its dose, with the library's usual values and ranges as hints."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from programs.queries.editor import EditorExercise, usual_side
from programs.rules.dose import (
    Band,
    Dose,
    DoseKind,
    FieldRange,
    LoadUnit,
    Side,
    check_dose,
    dose_parts,
    dose_wording,
    sides_allowed,
)
from programs.rules.wording import joined

LABELS = {
    "sets": gettext_lazy("Sets"),
    "repetitions": gettext_lazy("Repetitions"),
    "hold_seconds": gettext_lazy("Hold, seconds"),
    "duration_seconds": gettext_lazy("Time, seconds"),
    "rest_seconds": gettext_lazy("Rest, seconds"),
}
TEMPO = ("tempo_out", "tempo_still", "tempo_back")
# What check_dose calls a field, where the form calls it otherwise.
FIELDS = {"tempo": "tempo_out", "load_unit": "load_value", "kind": None}


def side_names() -> dict[Side, str]:
    """Return what each side is called in a choice."""
    return {
        Side.BOTH: _("Each side"),
        Side.LEFT: _("Left"),
        Side.RIGHT: _("Right"),
        Side.BILATERAL: _("Both together"),
        Side.ALTERNATE: _("Left and right in turn"),
    }


def band_choices() -> list[tuple[str, str]]:
    """Return the bands, no band first."""
    return [
        ("", _("No band")),
        (Band.LIGHT.value, _("Light band")),
        (Band.MEDIUM.value, _("Medium band")),
        (Band.FIRM.value, _("Firm band")),
    ]


def effort_choices() -> list[tuple[str, str]]:
    """Return 0 to 10 with words at the ends only."""
    ends = {0: _("0: not hard at all"), 10: _("10: as hard as I can")}
    return [("", _("No target")), *((str(n), ends.get(n, str(n))) for n in range(11))]


def _number(name: str, span: FieldRange) -> forms.IntegerField:
    hint = _("Usual %(usual)d, library %(low)d to %(high)d")
    return forms.IntegerField(
        label=LABELS[name],
        help_text=hint % {"usual": span.usual, "low": span.low, "high": span.high},
        widget=_typed(name),
    )


def _typed(name: str) -> forms.TextInput:
    """Return a text box for a number: what is no number stays as it was typed."""
    return forms.TextInput(
        attrs={"inputmode": "numeric", "autocomplete": "off", "data-dose": name, "maxlength": 6}
    )


class KilogramField(forms.DecimalField):
    """A weight; a decimal comma is read as a point."""

    def to_python(self, value: Any) -> Any:
        """Return the weight, None where nothing was typed."""
        return super().to_python(value.replace(",", ".") if isinstance(value, str) else value)


class ItemForm(forms.Form):
    """The dose of one exercise. Which fields there are follows from the exercise."""

    exercise = forms.UUIDField(widget=forms.HiddenInput)
    rung = forms.UUIDField(required=False, widget=forms.HiddenInput)
    removed = forms.BooleanField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, exercise: EditorExercise, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.chosen = exercise
        self.dose: Dose | None = None
        self.notices: list[str] = []
        self._add_amounts()
        self._add_extras()

    def _add_amounts(self) -> None:
        entry = self.chosen.entry
        sides = sides_allowed(entry.side_mode)
        if len(sides) > 1:
            names = side_names()
            self.fields["side"] = forms.ChoiceField(
                label=_("Side"),
                choices=[(side.value, names[side]) for side in names if side in sides],
                widget=forms.RadioSelect(attrs={"class": "choices--row", "data-dose": "side"}),
            )
        for name, span in entry.dose.ranges().items():
            self.fields[name] = _number(name, span)

    def _add_extras(self) -> None:
        if self.chosen.entry.dose.kind is DoseKind.REPETITIONS:
            words = (_("Seconds out"), _("Seconds still"), _("Seconds back"))
            for name, label in zip(TEMPO, words, strict=True):
                self.fields[name] = forms.IntegerField(
                    label=label, required=False, widget=_typed(name)
                )
        self.fields["load_value"] = KilogramField(
            label=_("Weight, kg"),
            required=False,
            max_digits=5,
            decimal_places=2,
            widget=forms.TextInput(attrs={"inputmode": "decimal", "autocomplete": "off"}),
        )
        self.fields["band"] = forms.ChoiceField(
            label=_("Elastic band"), required=False, choices=band_choices()
        )
        self.fields["effort_target"] = forms.TypedChoiceField(
            label=_("Effort to aim for"),
            required=False,
            choices=effort_choices(),
            coerce=int,
            empty_value=None,
        )
        self.fields["note"] = forms.CharField(
            label=_("Note to the patient on this exercise"), required=False, max_length=200
        )

    @property
    def amounts(self) -> list[forms.BoundField]:
        """The fields that say how much."""
        return [self[name] for name in self.chosen.entry.dose.ranges()]

    @property
    def tempo(self) -> list[forms.BoundField]:
        """The three fields of the tempo, none where the kind has no tempo."""
        return [self[name] for name in TEMPO if name in self.fields]

    @property
    def has_extras(self) -> bool:
        """Whether anything beyond the usual stands in the fields that are folded away."""
        names = ("load_value", "band", "effort_target", "note")
        usual = self.chosen.entry.dose.tempo or ("", "", "")
        tempo = any(
            str(field.value() or "") != str(value)
            for field, value in zip(self.tempo, usual, strict=False)
        )
        wrong = any(name in self.errors for name in (*names, *TEMPO)) if self.is_bound else False
        return wrong or tempo or any(str(self[name].value() or "") for name in names)

    def clean(self) -> dict[str, Any]:
        """Build the dose; what the rules find wrong stands beside its field."""
        data = self.cleaned_data
        if self.errors:
            return data
        dose = self._dose(data)
        if dose is None:
            return data
        for problem in check_dose(
            dose,
            allowed_kind=self.chosen.entry.dose.kind,
            side_mode=self.chosen.entry.side_mode,
            dose_range=self.chosen.entry.dose,
        ):
            if problem.is_error:
                self.add_error(FIELDS.get(problem.field, problem.field), problem.text(_))
            else:
                field = FIELDS.get(problem.field, problem.field)
                label = str(self.fields[field].label) if field in self.fields else ""
                self.notices.append(f"{label}: {problem.text(_)}" if label else problem.text(_))
        self.dose = None if self.errors else dose
        return data

    def _dose(self, data: Mapping[str, Any]) -> Dose | None:
        entry = self.chosen.entry
        parts = [part for name in TEMPO if (part := data.get(name)) is not None]
        if len(parts) not in (0, len(TEMPO)):
            self.add_error("tempo_out", _("Enter all three parts of the tempo, or none."))
            return None
        weight, band = data.get("load_value"), data.get("band") or ""
        if weight is not None and band:
            self.add_error("band", _("Choose a weight or a band, not both."))
            return None
        unit = LoadUnit.KG if weight is not None else LoadUnit.BAND if band else LoadUnit.NONE
        side = data.get("side")
        return Dose(
            kind=entry.dose.kind,
            sets=data["sets"],
            repetitions=data.get("repetitions"),
            hold_seconds=data.get("hold_seconds"),
            duration_seconds=data.get("duration_seconds"),
            rest_seconds=data["rest_seconds"],
            side=Side(side) if side else sides_allowed(entry.side_mode)[0],
            tempo=(parts[0], parts[1], parts[2]) if parts else None,
            load_value=weight,
            load_unit=unit,
            band=band,
            effort_target=data.get("effort_target"),
        )


def dose_fields(dose: Dose) -> dict[str, str]:
    """Return a dose as the form's fields hold it."""
    tempo = dose.tempo or ("", "", "")
    values = {
        "side": dose.side.value,
        "sets": dose.sets,
        "repetitions": dose.repetitions,
        "hold_seconds": dose.hold_seconds,
        "duration_seconds": dose.duration_seconds,
        "rest_seconds": dose.rest_seconds,
        "load_value": None if dose.load_value is None else f"{dose.load_value.normalize():f}",
        "band": dose.band,
        "effort_target": dose.effort_target,
        **dict(zip(TEMPO, tempo, strict=True)),
    }
    return {name: "" if value is None else str(value) for name, value in values.items()}


def usual_fields(exercise: EditorExercise, *, side: str = "") -> dict[str, str]:
    """Return the library's usual dose as fields; `side` is kept where the exercise allows it."""
    entry = exercise.entry
    allowed = sides_allowed(entry.side_mode)
    chosen = next((one for one in allowed if one.value == side), usual_side(entry))
    return dose_fields(entry.dose.usual_dose(chosen)) | {"exercise": str(exercise.revision_id)}


def full_wording(dose: Dose) -> str:
    """Return the whole dose in one line, tempo, rest and effort included."""
    parts = dose_parts(dose, _, ngettext)
    main = dose_wording(dose, _, ngettext)
    return joined((main, parts.tempo, parts.rest, parts.effort), _)
