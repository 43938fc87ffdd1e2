"""A patient does a whole session on a phone: on the stage, and with plain forms alone."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from playwright.sync_api import Page, expect

from adherence.models import ExerciseStop, Flag, PainMoment, SessionLog, SetLog
from adherence.models import SessionStatus as Status
from clinic.models import Patient
from clinic.rules.roles import Role
from programs.rules.dose import Dose, DoseKind, Side
from tests import factories
from tests.chromium import AXE_OPTIONS, AXE_RUN
from tests.journeys.conftest import sign_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

DOSES = (
    Dose(DoseKind.REPETITIONS, 2, 3, None, None, 30, Side.BILATERAL),
    Dose(DoseKind.HOLD, 1, None, 10, None, 30, Side.BOTH),
)
SIZES = "number => [parseFloat(getComputedStyle(number).fontSize), innerWidth, innerHeight]"


@pytest.fixture
def patient(real_clinic, issue_program) -> Patient:
    """Pia, with a program of two exercises since last week."""
    user = factories.UserFactory(name="Tess Arden", email="tess@willow-row.example")
    therapist = factories.MembershipFactory(clinic=real_clinic, user=user, role=Role.THERAPIST)
    pia: Patient = factories.PatientFactory(
        clinic=real_clinic, given_name="Pia", family_name="Lund", user__email="pia@mail.example"
    )
    factories.CareRelationshipFactory(patient=pia, therapist=therapist)
    issue_program(pia, therapist, doses=DOSES, at=datetime.now(UTC) - timedelta(days=7))
    return pia


@pytest.fixture
def begin(device: Callable[..., Page], patient: Patient) -> Callable[..., Page]:
    """Return a function that signs in, taps Start and answers the first question."""

    def start(*, scripts: bool = True) -> Page:
        page = device(width=360, height=740, scripts=scripts)
        if scripts:
            page.clock.install()
        sign_in(page, "pia@mail.example")
        page.get_by_role("button", name="Start").click()
        choose(page, "score", 1)
        page.get_by_role("button", name="Go on").click()
        if scripts:
            expect(page.locator("[data-stage]")).to_be_visible()
        return page

    return start


def choose(page: Page, name: str, score: int) -> None:
    page.locator(f"label:has(input[name={name}][value='{score}'])").click()


def button(page: Page, action: str):
    return page.locator(f"[data-action={action}]")


def settle(page: Page) -> None:
    """Let the moment pass in which a second tap is taken for a double tap."""
    page.clock.run_for(1000)


def assert_phase(page: Page, phase: str) -> None:
    expect(page.locator(f'[data-stage][data-phase="{phase}"]')).to_be_visible()


def finish(page: Page) -> None:
    choose(page, "worst", 3)
    choose(page, "after", 2)
    choose(page, "effort", 4)
    page.get_by_role("button", name="Finish").click()
    expect(page.get_by_role("heading", name="Done", exact=True)).to_be_visible()


def assert_whole_session(patient: Patient) -> None:
    session = SessionLog.objects.get(patient=patient)
    assert (session.status, session.share, session.effort) == (Status.COMPLETED, 1, 4)
    assert SetLog.objects.filter(withdrawn_at=None).count() == 4
    ratings = dict(session.pain_ratings.filter(withdrawn_at=None).values_list("moment", "score"))
    assert ratings == {PainMoment.BEFORE: 1, PainMoment.WORST: 3, PainMoment.AFTER: 2}


def logged() -> int:
    return SetLog.objects.filter(withdrawn_at=None).count()


def assert_logged(page: Page, count: int) -> None:
    """Wait until so many sets stand in the record."""
    for _moment in range(50):
        if logged() == count:
            return
        page.wait_for_timeout(100)
    assert logged() == count


def assert_nothing_against(page: Page) -> None:
    page.evaluate(AXE_SCRIPT)
    for width, height in ((360, 740), (1280, 800), (740, 360)):
        page.set_viewport_size({"width": width, "height": height})
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
            page.wait_for_timeout(100)  # colors change over a moment of the real clock
            page.wait_for_timeout(400)  # colors change in real time, whatever the page's clock says
            assert page.evaluate(AXE_RUN, AXE_OPTIONS) == [], (width, scheme)
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.set_viewport_size({"width": 360, "height": 740})
    page.emulate_media(color_scheme="light", reduced_motion="no-preference")


def test_a_whole_session_on_the_stage(begin, patient):
    page = begin()
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("console", lambda line: line.type == "error" and complaints.append(line.text))
    size, width, height = page.locator("[data-number]").evaluate(SIZES)
    assert size >= 96
    box = button(page, "main").bounding_box()
    assert box is not None and box["height"] >= 96 and box["width"] >= 96
    assert_nothing_against(page)

    button(page, "main").click()
    assert_phase(page, "WORK")
    size, width, height = page.locator("[data-number]").evaluate(SIZES)
    assert size >= max(96, min(width, height) / 4)
    assert_nothing_against(page)
    settle(page)
    page.locator("[data-number]").click()  # the lower half is the button
    expect(page.locator("[data-number]")).to_have_text("1")
    button(page, "main").click()
    button(page, "main").dblclick()  # the third one ends the set, a fourth does nothing
    assert_phase(page, "REST")
    assert_nothing_against(page)
    button(page, "longer").click()
    page.clock.run_for(31_000)
    assert_phase(page, "REST")
    page.clock.run_for(15_000)
    assert_phase(page, "WORK")
    settle(page)
    button(page, "done").dblclick()

    assert_phase(page, "READY")
    expect(page.get_by_text("Exercise 2 of 2")).to_be_visible()
    settle(page)
    button(page, "main").click()
    page.clock.run_for(8000)
    button(page, "main").click()
    expect(button(page, "main")).to_have_text("Go on")
    page.clock.run_for(60_000)
    button(page, "main").click()
    page.clock.run_for(6000)
    assert_phase(page, "SIDE")
    expect(page.locator("[data-cue]")).to_have_text("Now the right side")
    expect(page.locator("[data-announce]")).to_have_text("Now the right side")
    page.clock.run_for(30_000)
    assert_phase(page, "WORK")
    page.clock.run_for(14_000)
    page.wait_for_url("**/finish/")
    finish(page)
    assert_whole_session(patient)
    assert complaints == []


def test_a_whole_session_without_scripts(begin, patient):
    page = begin(scripts=False)
    page.get_by_label("Repetitions done").fill("-2")
    page.get_by_role("button", name="Set done").click()
    expect(page.get_by_label("Repetitions done")).to_have_value("-2")
    page.get_by_label("Repetitions done").fill("3")
    page.get_by_role("button", name="Set done").click()
    expect(page.get_by_text("Set 2 of 2")).to_be_visible()
    page.get_by_role("button", name="Take back the last set").click()
    expect(page.get_by_text("Set 1 of 2")).to_be_visible()
    for _set in range(4):
        page.get_by_role("button", name="Set done").click()
    page.wait_for_url("**/finish/")
    finish(page)
    assert_whole_session(patient)
    page.get_by_role("link", name="Back to today").click()
    expect(page.get_by_text("All done for today.")).to_be_visible()


def test_a_set_without_a_network_waits_on_the_page_and_comes_once(begin):
    page = begin()
    button(page, "main").click()
    settle(page)
    page.context.set_offline(True)
    button(page, "done").click()
    page.clock.run_for(8000)
    expect(page.get_by_text("Not sent yet: 1")).to_be_visible()
    assert logged() == 0
    page.context.set_offline(False)
    page.clock.run_for(60_000)
    expect(page.get_by_text("Not sent yet: 1")).to_be_hidden()
    assert_logged(page, 1)
    kept = page.evaluate("[Object.keys(localStorage), Object.keys(sessionStorage)]")
    assert kept == [[], []]


def test_five_minutes_in_the_background_and_a_reload_go_on_where_it_was(begin):
    page = begin()
    button(page, "skip").click()
    button(page, "skip-now").click()
    button(page, "skip").click()
    button(page, "skip-now").click()
    settle(page)
    button(page, "main").click()
    page.clock.fast_forward(300_000)
    assert_phase(page, "READY")
    expect(page.get_by_text("Set 1 of 1, right side", exact=True)).to_be_visible()
    page.wait_for_timeout(500)
    assert logged() == 3
    page.reload()
    assert_phase(page, "READY")
    expect(page.get_by_text("Set 1 of 1, right side", exact=True)).to_be_visible()
    button(page, "back").click()
    expect(page.get_by_text("Set 1 of 1, left side", exact=True)).to_be_visible()
    assert_logged(page, 2)


def test_sharp_pain_is_one_tap_away_and_the_team_is_told(begin):
    page = begin()
    button(page, "main").click()
    page.get_by_role("link", name="Sharp pain").click()
    expect(page.get_by_text("Emergency: 112").first).to_be_visible()
    choose(page, "score", 8)
    page.get_by_role("button", name="Stop it, tell my team").click()
    expect(page.get_by_role("heading", name="Your team has been told")).to_be_visible()
    assert ExerciseStop.objects.get().score == 8
    assert Flag.objects.count() == 1


def test_enough_keeps_what_was_done(begin):
    page = begin()
    button(page, "main").click()
    settle(page)
    button(page, "main").click()
    expect(button(page, "done")).to_have_text("Done with 1")
    button(page, "enough").click()
    page.wait_for_url("**/finish/")
    assert SetLog.objects.get().repetitions == 1
    assert page.get_by_role("link", name="Back, I will do some more").is_visible()


def test_the_keyboard_is_enough(begin):
    page = begin()
    page.keyboard.press("Space")
    assert_phase(page, "WORK")
    settle(page)
    for _count in range(3):
        page.keyboard.press("Space")
    assert_phase(page, "REST")
    page.keyboard.press("ArrowUp")
    expect(page.locator("[data-number]")).to_have_text("45")
    page.keyboard.press("ArrowRight")
    page.get_by_role("button", name="No, stay").press("Enter")
    page.keyboard.press("ArrowLeft")
    expect(page.locator("[data-set]")).to_have_text("Set 1 of 2")
