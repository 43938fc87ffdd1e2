"""What several forms of the clinic are made of."""

from __future__ import annotations

from typing import Any

from crispy_forms.helper import FormHelper
from crispy_forms.layout import ButtonHolder, Layout, LayoutObject, Row, Submit
from django import forms
from django.core.validators import RegexValidator
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from shared.dates import zone_named
from shared.zones import listed_zones, zone_choices

phone_characters = RegexValidator(
    r"^[0-9 +()./\-]*$", gettext_lazy("Write digits, spaces and + ( ) . / - only.")
)


def one_button(*parts: LayoutObject | str, save: str, big: bool = False) -> FormHelper:
    """Return the layout of a form that posts to its own page and ends with one button."""
    helper = FormHelper()
    size = "button--big button--full" if big else ""
    helper.layout = Layout(*parts, ButtonHolder(Submit("save", save, css_class=size)))
    return helper


def pair(first: str, second: str) -> Row:
    """Return two fields side by side, one under the other on a phone."""
    return Row(first, second, css_class="field-pair")


class TimeZoneField(forms.ChoiceField):
    """An IANA zone, chosen by region and place; a stored older name stays valid."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(choices=zone_choices, label=gettext_lazy("Time zone"), **kwargs)

    def valid_value(self, value: Any) -> bool:
        """Return whether there is such a zone, listed or not."""
        try:
            zone_named(str(value))
        except ValueError:
            return False
        return True

    def also_offer(self, zone: str) -> None:
        """List the zone that a record has, where the regions do not list it."""
        if zone and zone not in listed_zones():
            self.choices = [(_("As stored"), [(zone, zone)]), *zone_choices()]
