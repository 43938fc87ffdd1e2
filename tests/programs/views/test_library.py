"""Pages of the library: who may see them, what they say, and what they cost."""

from __future__ import annotations

import io
import re
from html import unescape

import pytest
from django.core.management import call_command

from programs.models import Exercise, Ladder, Rung
from programs.queries.exercise_page import exercise_page
from tests import factories
from tests.factories import NOW

pytestmark = pytest.mark.django_db


@pytest.fixture
def starter(db) -> None:
    """The library of the project."""
    call_command("load_library", stdout=io.StringIO())


def text(response, status: int = 200) -> str:
    assert response.status_code == status
    return unescape(response.content.decode())


TOKEN = re.compile(r'name="csrfmiddlewaretoken" value="\w+"')
PLACES = ["/library/", "/library/heel-raise/", "/library/ladders/", "/library/ladders/calf/"]


@pytest.fixture
def one_of_each(db) -> None:
    exercise = factories.ExerciseFactory(slug="heel-raise", name="Heel raise")
    ladder = factories.LadderFactory(slug="calf", name="Calf")
    factories.RungFactory(ladder=ladder, exercise=exercise, position=1)


@pytest.mark.parametrize("place", PLACES)
def test_staff_alone_read_the_library(
    one_of_each, place, therapist, admin, outsider, patient, sign_in, client
):
    for person in (therapist, admin, outsider):
        assert sign_in(person).get(place).status_code == 200
    assert sign_in(patient).get(place).status_code == 404
    assert client.get(place)["Location"].startswith("/account/login/")
    assert sign_in(therapist).post(place).status_code == 405


def test_another_clinic_s_own_answers_as_absent(therapist, outsider, sign_in):
    factories.ExerciseFactory(clinic=outsider.clinic, slug="theirs", name="Their secret lift")
    factories.LadderFactory(clinic=outsider.clinic, slug="theirs", name="Their secret ladder")
    browser = sign_in(therapist)
    for place in ("/library/{}/", "/library/ladders/{}/"):
        there = browser.get(place.format("theirs"))
        absent = browser.get(place.format("nothing"))
        assert (there.status_code, absent.status_code) == (404, 404)
        assert TOKEN.sub("", text(there, 404)) == TOKEN.sub("", text(absent, 404))
    for place in ("/library/", "/library/?q=secret", "/library/ladders/"):
        assert "Their secret" not in text(browser.get(place))
    assert "Their secret lift" in text(sign_in(outsider).get("/library/"))


def test_own_and_starter_entries_are_told_apart(therapist, sign_in):
    factories.ExerciseFactory(slug="starter")
    factories.ExerciseFactory(clinic=therapist.clinic, slug="own")
    factories.LadderFactory(clinic=therapist.clinic, slug="own")
    browser = sign_in(therapist)
    assert text(browser.get("/library/")).count("Your clinic’s own") == 1
    assert "Your clinic’s own" in text(browser.get("/library/own/"))
    assert "Starter library" in text(browser.get("/library/starter/"))
    assert text(browser.get("/library/ladders/")).count("Your clinic’s own") == 1
    assert "Your clinic’s own" in text(browser.get("/library/ladders/own/"))


def test_a_retired_exercise_has_no_page(one_of_each, therapist, sign_in):
    Exercise.objects.update(retired_at=NOW)
    assert sign_in(therapist).get("/library/heel-raise/").status_code == 404
    page = text(sign_in(therapist).get("/library/ladders/calf/"))
    assert "retired" in page
    assert "/library/heel-raise/" not in page


def test_every_field_of_an_exercise_is_on_its_page(starter, therapist, sign_in):
    browser = sign_in(therapist)
    for exercise in Exercise.objects.select_related("current").order_by("slug"):
        page = text(browser.get(f"/library/{exercise.slug}/"))
        shown = exercise_page(exercise, therapist.clinic_id)
        entry = shown.entry
        wanted = [
            entry.name,
            entry.purpose,
            *entry.also_called,
            *entry.set_up,
            *entry.steps,
            entry.keep_still.what,
            entry.keep_still.why,
            entry.breathing,
            *entry.should_feel,
            *entry.is_fine,
            *entry.stop_if,
            *(part for fault in entry.faults for part in (fault.fault, fault.cue)),
            entry.source,
            entry.one_line,
            entry.keep_still_line,
            shown.region,
            shown.aim,
            shown.position,
            *shown.equipment,
            *shown.precautions,
            shown.sides,
            shown.dose_kind,
            shown.usual_dose,
            *(part for line in shown.ranges for part in (line.name, line.usual, line.span)),
            *(stand.ladder_name for stand in shown.stands),
            *(part for swap in shown.swaps for part in (swap.name, swap.reason, swap.note)),
            "Revision 1",
        ]
        assert [part for part in wanted if part not in page] == [], exercise.slug


def test_every_rung_with_its_criteria_is_on_its_ladder(starter, therapist, sign_in):
    browser = sign_in(therapist)
    for ladder in Ladder.objects.all():
        page = text(browser.get(f"/library/ladders/{ladder.slug}/"))
        for rung in Rung.objects.filter(ladder=ladder).select_related("exercise"):
            assert f'id="rung-{rung.position}"' in page
            assert f"/library/{rung.exercise.slug}/" in page
            for criterion in (rung.go_on_when, rung.stay_when, rung.go_back_when):
                assert criterion.get("say", "") in page
            for other in rung.alternatives.select_related("exercise"):
                assert other.exercise.name in page
                assert other.note in page


def test_a_search_keeps_what_was_typed_and_chosen(starter, therapist, sign_in):
    page = text(
        sign_in(therapist).get(
            "/library/?q=raise&region=ANKLE_FOOT&aim=STRENGTH&at_hand=WALL&at_hand=CHAIR"
        )
    )
    assert 'value="raise"' in page
    assert '<input type="hidden" name="region" value="ANKLE_FOOT">' in page
    assert '<option value="STRENGTH" selected>' in page
    assert 'value="WALL" aria-describedby="at-hand-hint" checked' in page
    assert "Heel raise at the wall" in page
    assert "?q=raise&aim=STRENGTH&at_hand=CHAIR&at_hand=WALL&region=KNEE" not in page  # none there


@pytest.mark.parametrize(
    ("query", "told"),
    [
        ("?q=zzz", "Try fewer words"),
        ("?q=raise&region=NECK", "of other regions fit"),
        ("?position=KNEELING&aim=AEROBIC&at_hand=BALL", "Leave out a filter"),
    ],
)
def test_a_search_that_finds_nothing_says_what_to_do(starter, therapist, sign_in, query, told):
    assert told in text(sign_in(therapist).get(f"/library/{query}"))


def test_an_empty_library_says_what_to_do(therapist, sign_in):
    browser = sign_in(therapist)
    assert "load_library" in text(browser.get("/library/"))
    assert "No ladders yet" in text(browser.get("/library/ladders/"))
    factories.LadderFactory(slug="empty")
    assert "no rungs yet" in text(browser.get("/library/ladders/empty/"))


@pytest.mark.parametrize(
    "query",
    [
        "?region=ELBOW&aim=x&position=&dose_kind=%00&at_hand=SOFA",
        "?q=%00%27%22%3Cscript%3E",
        "?q=" + "x" * 5000,
        "?region=HIP&region=KNEE",
        "?page=-1&q=%F0%9F%92%83",
    ],
)
def test_a_strange_address_is_a_page_all_the_same(starter, therapist, sign_in, query):
    response = sign_in(therapist).get(f"/library/{query}")
    assert response.status_code == 200
    assert b"<script>" not in response.content
    assert b"\0" not in response.content


def test_the_pages_cost_the_same_however_long_they_are(
    starter, therapist, sign_in, django_assert_max_num_queries
):
    browser = sign_in(therapist)
    longest = max(Ladder.objects.all(), key=lambda ladder: ladder.rungs.count())
    with django_assert_max_num_queries(12) as library:
        browser.get("/library/")
    with django_assert_max_num_queries(12) as search:
        browser.get("/library/?q=raise&at_hand=WALL")
    assert len(library) == len(search)
    with django_assert_max_num_queries(12) as long:
        browser.get(f"/library/ladders/{longest.slug}/")
    short = factories.LadderFactory()
    factories.RungFactory(ladder=short, position=1)
    with django_assert_max_num_queries(12) as brief:
        browser.get(f"/library/ladders/{short.slug}/")
    assert len(long) == len(brief)
    with django_assert_max_num_queries(12):
        browser.get("/library/ladders/")
    with django_assert_max_num_queries(12):
        browser.get("/library/heel-raise-at-wall/")
