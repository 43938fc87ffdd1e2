"""Who works at the clinic, what it says about itself, and its thresholds."""

from __future__ import annotations

from datetime import time
from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import HTML, ButtonHolder, Fieldset, Layout, Row, Submit
from django import forms
from django.utils.formats import number_format, time_format
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from clinic.rules.policy import REASONS, Policy
from clinic.rules.roles import Role

from .parts import TimeZoneField, one_button, pair, phone_characters


class StaffInvitationForm(forms.Form):
    """Whom the admin invites to work here."""

    name = forms.CharField(label=gettext_lazy("Name"), max_length=150)
    email = forms.EmailField(
        label=gettext_lazy("E-mail"), help_text=gettext_lazy("The link goes to this address.")
    )
    role = forms.ChoiceField(
        label=gettext_lazy("Role"),
        widget=forms.RadioSelect,
        initial=Role.THERAPIST,
        choices=[
            (
                Role.THERAPIST.value,
                gettext_lazy("Therapist: treats patients, opens the records of their own"),
            ),
            (
                Role.CLINIC_ADMIN.value,
                gettext_lazy("Clinic admin: people and rules, no patient's record"),
            ),
        ],
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.helper = one_button("name", "email", "role", save=_("Send the invitation"))


class RoleForm(forms.Form):
    """A role for a colleague."""

    role = forms.ChoiceField(choices=[(role.value, role.value) for role in Role])


class ClinicForm(forms.Form):
    """What the clinic says about itself to patients and staff."""

    name = forms.CharField(label=gettext_lazy("Name of the clinic"), max_length=120)
    timezone = TimeZoneField(help_text=gettext_lazy("New patients start with it."))
    phone = forms.CharField(
        label=gettext_lazy("Phone"),
        required=False,
        max_length=40,
        validators=[phone_characters],
        help_text=gettext_lazy("On every page that patients see."),
        widget=forms.TextInput(attrs={"type": "tel"}),
    )
    emergency_number = forms.CharField(
        label=gettext_lazy("Emergency number"),
        max_length=20,
        validators=[phone_characters],
        help_text=gettext_lazy("The number to call where your patients live."),
        widget=forms.TextInput(attrs={"type": "tel", "class": "short"}),
    )
    reading_days = forms.CharField(
        label=gettext_lazy("Days on which the team reads entries"),
        max_length=80,
        help_text=gettext_lazy("For example: Monday to Friday."),
    )
    reply_within_days = forms.IntegerField(
        label=gettext_lazy("Reply within working days"), min_value=1, max_value=30
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        zone_field = self.fields["timezone"]
        if isinstance(zone_field, TimeZoneField):
            zone_field.also_offer(str(self.initial.get("timezone", "")))
        self.helper = one_button(
            "name",
            "timezone",
            pair("phone", "emergency_number"),
            pair("reading_days", "reply_within_days"),
            save=_("Save"),
        )


LABELS = {
    "target_percent": gettext_lazy("Target: agreed sessions done, in per cent"),
    "misses_limit_daily": gettext_lazy("Missed sessions, five or more a week"),
    "misses_limit_weekly": gettext_lazy("Missed sessions, four or fewer a week"),
    "silent_days": gettext_lazy("Silent after, in days"),
    "pain_limit": gettext_lazy("Pain accepted during exercise, 0 to 10"),
    "pain_evidence_limit": gettext_lazy("Rise in pain over several sessions, in points"),
    "pain_jump": gettext_lazy("Jump of one rating, in points"),
    "morning_above": gettext_lazy("Next-morning pain is asked above, 0 to 10"),
    "snooze_days": gettext_lazy("A closed flag stays quiet for, in days"),
    "backfill_hours": gettext_lazy("Late entries are taken for, in hours"),
}
GROUPS = (
    (
        gettext_lazy("Adherence"),
        ("target_percent", "misses_limit_daily", "misses_limit_weekly", "silent_days"),
    ),
    (gettext_lazy("Pain"), ("pain_limit", "pain_evidence_limit", "pain_jump", "morning_above")),
    (gettext_lazy("Flags and entries"), ("snooze_days", "backfill_hours")),
)
_DEFAULT = Policy()


class PolicyForm(forms.Form):
    """Every threshold with its reason, its default and the range that keeps it sensible."""

    quiet_from = forms.TimeField(
        label=gettext_lazy("Quiet from"),
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
    )
    quiet_until = forms.TimeField(
        label=gettext_lazy("Quiet until"),
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
    )

    def __init__(self, *args: Any, stored: Policy, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in REASONS:
            self.fields[name] = _threshold(name, getattr(stored, name))
        self.helper = FormHelper()
        self.helper.form_class = "policy-form"
        self.helper.layout = Layout(
            *(Fieldset(str(title), *names, css_class="policy-group") for title, names in GROUPS),
            Fieldset(
                _("Quiet hours"),
                HTML(format_html('<p class="field__hint">{}</p>', _quiet_hint(stored))),
                Row("quiet_from", "quiet_until"),
            ),
            ButtonHolder(Submit("save", _("Save the rules"))),
        )

    def clean(self) -> dict[str, Any]:
        """Quiet hours span a night."""
        cleaned = super().clean() or {}
        begin: time | None = cleaned.get("quiet_from")
        end: time | None = cleaned.get("quiet_until")
        if begin is not None and end is not None and begin <= end:
            self.add_error(
                "quiet_from", _("Quiet hours begin in the evening and end the next morning.")
            )
        return cleaned


def policy_values(policy: Policy) -> dict[str, Any]:
    """Return the values of the form's fields for a policy."""
    thresholds = {name: _whole(getattr(policy, name)) for name in REASONS}
    return thresholds | {"quiet_from": policy.quiet_from, "quiet_until": policy.quiet_until}


def _whole(number: float) -> float:
    """Return 3 for 3.0, so that a page shows no empty decimals."""
    return int(number) if number == int(number) else number


def _threshold(name: str, stored: float) -> forms.Field:
    reason, default = REASONS[name], getattr(_DEFAULT, name)
    low, high = number_format(_whole(reason.low)), number_format(_whole(reason.high))
    refusal = _("Choose a value from %(low)s to %(high)s.") % {"low": low, "high": high}
    words: dict[str, Any] = {
        "label": LABELS[name],
        "error_messages": {"min_value": refusal, "max_value": refusal, "invalid": refusal},
        "help_text": _range_hint(
            reason.why, low, high, number_format(_whole(default)), stored != default
        ),
    }
    if isinstance(default, int):
        return forms.IntegerField(min_value=int(reason.low), max_value=int(reason.high), **words)
    halves = forms.NumberInput(attrs={"step": "0.5"})
    return forms.FloatField(min_value=reason.low, max_value=reason.high, widget=halves, **words)


def _range_hint(why: str, low: str, high: str, default: str, changed: bool) -> str:
    allowed = _("Default %(default)s. From %(low)s to %(high)s.") % {
        "default": default,
        "low": low,
        "high": high,
    }
    if not changed:
        return format_html("{}<br>{}", _(why), allowed)
    return format_html(
        '{}<br>{} <span class="tag tag--changed">{}</span>',
        _(why),
        allowed,
        _("Yours differs"),
    )


def _quiet_hint(stored: Policy) -> str:
    hint = _(
        "No reminder leaves in these hours, counted in each patient's own zone. "
        "Default %(begin)s to %(end)s."
    ) % {
        "begin": time_format(_DEFAULT.quiet_from, "H:i"),
        "end": time_format(_DEFAULT.quiet_until, "H:i"),
    }
    if (stored.quiet_from, stored.quiet_until) == (_DEFAULT.quiet_from, _DEFAULT.quiet_until):
        return hint
    return format_html('{} <span class="tag tag--changed">{}</span>', hint, _("Yours differ"))
