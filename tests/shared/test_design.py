"""The tags that draw, and the form templates."""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from xml.etree import ElementTree

import pytest
from crispy_forms.helper import FormHelper
from crispy_forms.layout import (
    ButtonHolder,
    Column,
    Div,
    Field,
    Fieldset,
    Layout,
    Row,
    Submit,
)
from django import forms
from django.template import engines
from django.template.loader import render_to_string
from django.test import RequestFactory

from shared.templatetags import design
from shared.templatetags.icons import ICONS

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = ROOT / "templates"
STATES = [
    "DONE",
    "PARTLY",
    "NOT_DONE",
    "NO_ENTRY",
    "OPEN",
    "NOT_DUE",
    "PAUSED",
    "EXTRA",
]


class State(StrEnum):
    """Stands in for the enumeration a rule would hand over."""

    DONE = "DONE"
    NO_ENTRY = "NO_ENTRY"


@dataclass(frozen=True)
class Day:
    state: str
    share: float = 1.0


class SampleForm(forms.Form):
    name = forms.CharField(label="Name", help_text="As written.")
    sets = forms.IntegerField(label="Sets", max_value=10, required=False)
    side = forms.ChoiceField(
        label="Side", choices=[("L", "Left"), ("R", "Right")], widget=forms.RadioSelect
    )
    pain = forms.ChoiceField(
        label="Pain",
        choices=[(str(number), str(number)) for number in range(11)],
        widget=forms.RadioSelect,
    )
    agreed = forms.BooleanField(label="Agreed", help_text="In the room.")
    token = forms.CharField(widget=forms.HiddenInput, required=False)


def _drawn(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)


def _render(source: str, **context: Any) -> str:
    return str(engines["django"].from_string(source).render(context))


def _form(form: forms.Form, *layout: Any) -> str:
    helper = FormHelper()
    if layout:
        helper.layout = Layout(*layout)
    form.helper = helper  # type: ignore[attr-defined]
    return _render("{% load crispy_forms_tags %}{% crispy form %}", form=form)


@pytest.mark.parametrize("name", sorted(ICONS))
def test_icons_are_decoration_unless_named(name: str) -> None:
    assert _drawn(design.icon(name)).get("aria-hidden") == "true"
    named = _drawn(design.icon(name, 'Call "now"'))
    assert (named.get("role"), named.get("aria-label")) == ("img", 'Call "now"')


def test_an_unknown_icon_is_an_error() -> None:
    with pytest.raises(KeyError):
        design.icon("no such icon")


@pytest.mark.parametrize(
    ("severity", "look", "spoken"),
    [
        ("ACT_NOW", "act-now", "Act now"),
        ("LOOK", "look", "Wants a look"),
        ("GOOD", "good", "Good news"),
        ("NONE", "none", "Good to know"),
        ("SOMETHING_ELSE", "none", "Good to know"),
    ],
)
def test_a_mark_has_color_shape_and_word(severity: str, look: str, spoken: str) -> None:
    mark = _drawn(design.flag_mark(severity))
    assert f"mark--{look}" in mark.get("class", "")
    assert mark.find("svg") is not None
    assert "".join(mark.itertext()) == spoken


def test_a_mark_says_severity_before_its_own_words() -> None:
    mark = _drawn(design.flag_mark("LOOK", "Pain <rising>"))
    assert "".join(mark.itertext()) == "Wants a look: Pain <rising>"


def test_shapes_of_the_four_severities_differ() -> None:
    shapes = {design.severity_shape(name) for name in ("ACT_NOW", "LOOK", "GOOD", "NONE")}
    assert len(shapes) == 4


def test_every_state_of_a_day_has_its_own_shape() -> None:
    assert len({design.cell_sample(state) for state in STATES}) == len(STATES)
    assert len({design.week_cell(state) for state in STATES}) == len(STATES)


def test_cells_count_in_words_and_stand_side_by_side() -> None:
    days = [
        Day("DONE"),
        Day("DONE"),
        Day("PARTLY", 0.5),
        Day("NO_ENTRY"),
        Day("NOT_DUE"),
    ]
    svg = _drawn(design.cells(days))
    assert svg.get("aria-label") == (
        "5 days, done of due: 2 done, 1 partly, 1 without entry, 1 not due"
    )
    assert svg.get("width") == "45"
    filled = [rect for rect in svg.iter("rect") if rect.get("class") == "cells__fill"]
    assert [rect.get("x") for rect in filled] == ["0", "9", "18"]
    assert [rect.get("height") for rect in filled] == ["22", "22", "11"]


def test_cells_take_enumerations_and_dictionaries_and_nothing() -> None:
    drawn = design.cells([SimpleNamespace(state=State.DONE), {"state": State.NO_ENTRY}])
    assert "1 done, 1 without entry" in drawn
    assert _drawn(design.cells([])).get("aria-label") == "0 days, done of due: nothing yet"


def test_a_share_of_nought_still_shows_something() -> None:
    svg = _drawn(design.cells([Day("PARTLY", 0.0)]))
    heights = [float(rect.get("height", 0)) for rect in svg.iter("rect")]
    assert min(heights) > 2


def test_the_pain_line_names_last_value_and_usual_band() -> None:
    line = _drawn(design.pain_line([3, None, 4, 7], 2, 4, "Worst pain"))
    svg, value = list(line)
    assert svg.get("aria-label") == "Worst pain, oldest first: 3 4 7. Usual 2 to 4"
    assert (value.text, value.get("aria-hidden")) == ("7", "true")
    classes = [part.get("class") for part in svg]
    assert "pain-line__band" in classes
    assert "pain-line__gap" in classes
    assert "pain-line__last pain-line__last--high" in classes


@pytest.mark.parametrize("last", [0, 5, 10])
def test_the_pain_line_stays_inside_its_box(last: int) -> None:
    svg = next(iter(_drawn(design.pain_line([0, 10, last], 0, 10))))
    _left, _top, width, height = (float(part) for part in svg.get("viewBox", "").split())
    for dot in svg.iter("circle"):
        radius = float(dot.get("r", 0))
        assert radius <= float(dot.get("cx", -1)) <= width - radius
        assert radius <= float(dot.get("cy", -1)) <= height - radius


@pytest.mark.parametrize("values", [[], [None], [None, None]])
def test_no_rating_is_said_in_words(values: list[int | None]) -> None:
    assert design.pain_line(values) == '<span class="quiet">no rating yet</span>'


@pytest.mark.parametrize(
    ("done", "due", "text", "width"),
    [
        (3, 5, "3 of 5 sessions", "76.8"),
        (7, 5, "7 of 5 sessions", "128"),
        (0, 0, "0 of 0", "0"),
    ],
)
def test_the_meter_speaks_first(done: int, due: int, text: str, width: str) -> None:
    meter = _drawn(design.meter(done, due, "sessions"))
    assert text in "".join(meter.itertext())
    assert [rect.get("width") for rect in meter.iter("rect")][1] == width


def test_cups_fill_and_part_where_the_side_changes() -> None:
    sets = [
        {"state": "DONE", "side": "LEFT"},
        {"state": "NOW", "share": 0.5, "side": "LEFT"},
        {"state": "NEXT", "side": "RIGHT"},
    ]
    svg = _drawn(design.cups(sets))
    assert svg.get("aria-label") == "1 of 3 sets done"
    water = [rect.get("height") for rect in svg.iter("rect")]
    assert water == ["14", "14", "0"]
    assert sum(part.get("class") == "cups__side" for part in svg) == 1


def test_the_water_rises_with_the_number() -> None:
    assert design.pain_water(0) == ""
    levels = [
        int(re.search(r'd="M0 (\d+)', design.pain_water(number))[1])  # type: ignore[index]
        for number in range(1, 11)
    ]
    assert levels == sorted(levels, reverse=True)


def test_nothing_drawn_carries_a_style() -> None:
    drawn = [
        design.icon("call"),
        design.flag_mark("LOOK", "Pain rising"),
        design.cells([Day(state) for state in STATES]),
        design.pain_line([1, None, 9], 2, 4),
        design.meter(1, 2),
        design.cups([{"state": "NOW", "share": 0.4}]),
        design.week_cell("PARTLY", 0.5),
        design.pain_water(5),
    ]
    assert not [svg for svg in drawn if re.search(r"<style|\sstyle=|\son\w+=", svg)]


def test_no_template_has_inline_style_or_script() -> None:
    inline = re.compile(
        r"<style|\sstyle=|<script(?![^>]*\ssrc=)[^>]*>|\son[a-z]+=\"", re.IGNORECASE
    )
    wrong = [
        path.relative_to(TEMPLATES).as_posix()
        for path in TEMPLATES.rglob("*.html")
        if "emails" not in path.parts and inline.search(path.read_text())
    ]
    assert wrong == []


def test_every_partial_says_what_it_takes() -> None:
    partials = [
        *TEMPLATES.glob("components/_*.html"),
        *TEMPLATES.glob("forms/**/*.html"),
    ]
    assert len(partials) > 20
    silent = [path.name for path in partials if "{% comment %}" not in path.read_text()[:200]]
    assert silent == []


def test_a_field_ties_hint_and_error_to_its_control() -> None:
    html = _form(SampleForm({"sets": "40"}))
    assert 'aria-describedby="id_name_helptext id_name_error"' in html
    assert 'id="id_name_helptext"' in html
    assert 'id="id_name_error"' in html
    assert 'aria-invalid="true"' in html
    assert 'value="40"' in html, "what was typed is kept"


def test_a_group_of_choices_is_a_fieldset_tied_to_its_error() -> None:
    html = _form(SampleForm({}), "side")
    group = re.search(r"<fieldset[^>]*>", html)
    assert group is not None
    assert 'aria-describedby="id_side_error"' in group[0]
    assert "<legend" in html


def test_the_summary_takes_focus_and_links_to_the_first_control() -> None:
    html = _form(SampleForm({}))
    assert re.search(r'class="error-summary"[^>]*tabindex="-1"[^>]*data-takes-focus', html)
    targets = re.findall(r'<a href="#([^"]+)"', html)
    assert targets == ["id_name", "id_side_0", "id_pain_0", "id_agreed"]
    assert all(f'id="{target}"' in html for target in targets)


def test_a_fresh_form_has_no_summary_and_marks_what_may_stay_empty() -> None:
    html = _form(SampleForm())
    assert "error-summary" not in html
    assert html.count("(optional)") == 1
    assert html.count("<label") + html.count("<legend") >= len(SampleForm.base_fields) - 1


def test_errors_of_the_whole_form_stand_in_the_summary() -> None:
    form = SampleForm({"name": "A", "side": "L", "pain": "3", "agreed": "on"})
    form.full_clean()
    form.add_error(None, "Someone else changed this program.")
    html = _form(form)
    assert "<li>Someone else changed this program.</li>" in html


def test_layout_objects_render() -> None:
    html = _form(
        SampleForm({"pain": "7"}),
        Fieldset("Who", "name", css_class="wide"),
        Row("sets", Column("side")),
        Div("agreed", css_id="consent"),
        Field("pain", template="forms/pain_scale.html"),
        "token",
        ButtonHolder(Submit("save", "Save", css_class="button--big")),
    )
    assert '<legend class="fieldset__legend">Who</legend>' in html
    assert 'class="field-row"' in html
    assert 'id="consent"' in html
    assert html.count('class="pain-scale__number"') == 11
    assert re.search(r'value="7"[^>]* checked', html)
    assert '<input type="hidden" name="token"' in html
    assert re.search(
        r'<button type="submit" name="save" value="Save" class="button  ?button--big"',
        html,
    )
    assert "btn" not in html


def test_a_formset_keeps_its_management_form() -> None:
    formset = forms.formset_factory(SampleForm, extra=2)()
    formset.helper = FormHelper()  # type: ignore[attr-defined]
    html = _render("{% load crispy_forms_tags %}{% crispy formset %}", formset=formset)
    assert 'name="form-TOTAL_FORMS" value="2"' in html
    assert html.count('class="formset__item"') == 2


@pytest.mark.parametrize("name", ["400", "403", "403_csrf", "404", "429", "500"])
def test_problem_pages_need_no_context(name: str) -> None:
    html = render_to_string(f"{name}.html")
    assert html.count("<h1") == 1
    assert "Not for emergencies" in html
    assert re.search(r"<title>[^<]{5,} · Carryover</title>", html)


def test_the_frame_shows_viewer_navigation_and_contact() -> None:
    html = render_to_string(
        "base.html",
        {
            "viewer": SimpleNamespace(name="Mara <L>", clinic_name="Harbor Lane"),
            "navigation": [
                SimpleNamespace(label="Caseload", url="/caseload/", is_current=True),
                SimpleNamespace(label="Library", url="/library/", is_current=False),
            ],
            "clinic_contact": SimpleNamespace(
                phone="555 0100",
                emergency_number="112",
                reading_days="Monday to Friday",
            ),
        },
        request=RequestFactory().get("/design/"),
    )
    assert "Mara &lt;L&gt;" in html
    assert '<a href="/caseload/" aria-current="page">' in html
    assert "In an emergency call 112." in html
    assert "Messages are read Monday to Friday." in html
    assert 'class="skip-link" href="#content"' in html
    assert re.search(r'<form method="post" action="[^"]+">', html)


def test_the_frame_without_anybody_has_no_navigation_and_no_sign_out() -> None:
    html = render_to_string("base_signed_out.html", {})
    assert "<nav" not in html
    assert "<form" not in html
