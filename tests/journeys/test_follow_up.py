"""A therapist sees who needs them, calls, and closes the flag: in a real browser."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta

import pytest
from playwright.sync_api import Browser, Page, expect

from adherence.models import Flag, FlagStatus, FollowUp
from adherence.operations.flags import review_patient
from clinic.models import Clinic, Membership, Patient
from clinic.rules.roles import Role
from tests import factories
from tests.adherence.story import RISING, Story
from tests.chromium import chromium
from tests.factories import PASSWORD

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as running:
        yield running


@pytest.fixture
def world(transactional_db, issue_program) -> Story:
    """One patient whose pain has risen over the sixteen days up to yesterday, on the real clock."""
    today = datetime.now(UTC).date()
    clinic: Clinic = factories.ClinicFactory(timezone="UTC")
    user = factories.UserFactory(name="Tess Arden", email="tess@willow-row.example")
    therapist: Membership = factories.MembershipFactory(
        clinic=clinic, user=user, role=Role.THERAPIST
    )
    patient: Patient = factories.PatientFactory(
        clinic=clinic, given_name="Pia", family_name="Lund", phone="01632 960 001"
    )
    factories.CareRelationshipFactory(patient=patient, therapist=therapist)
    start = datetime.now(UTC) - timedelta(days=len(RISING))
    story = Story(issue_program(patient, therapist, at=start), patient, user.pk, today=today)
    for offset, score in enumerate(RISING):
        story.done(score, on=start.date() + timedelta(days=offset))
    review_patient(patient_id=patient.pk, now=datetime.now(UTC))
    return story


@pytest.fixture
def open_page(browser: Browser, live_server, world: Story):
    """Return a function that opens a browser signed in as the therapist."""
    opened = []

    def sign_in(*, scripts: bool = True, width: int = 1280) -> Page:
        context = browser.new_context(
            java_script_enabled=scripts,
            viewport={"width": width, "height": 900},
            base_url=live_server.url,
        )
        opened.append(context)
        page = context.new_page()
        page.goto("/account/login/")
        page.get_by_label("E-mail").fill("tess@willow-row.example")
        page.get_by_label("Password", exact=True).fill(PASSWORD)
        page.locator("main").get_by_role("button", name="Sign in").click()
        page.wait_for_url("**/caseload/")
        return page

    yield sign_in
    for context in opened:
        context.close()


@pytest.mark.parametrize(("scripts", "width"), [(True, 1280), (False, 360)])
def test_from_the_first_row_to_a_closed_flag(open_page, world, scripts, width):
    page = open_page(scripts=scripts, width=width)
    expect(page.get_by_role("heading", level=1)).to_have_text("One person first, then you are done")
    expect(page.get_by_text("Worst pain 5 5 4 6 5 6, usual 3.0")).to_be_visible()
    page.get_by_role("link", name="Pia Lund").first.click()

    expect(page.get_by_role("heading", name="Pain rising")).to_be_visible()
    page.get_by_text("How this is counted").click()
    expect(page.get_by_text("7.0 of 6.0", exact=True)).to_be_visible()
    page.get_by_role("link", name="Call").click()

    expect(page.get_by_role("link", name="01632 960 001")).to_be_visible()
    expect(page.get_by_label("Call", exact=True)).to_be_checked()
    page.get_by_label("Planned for a day").check()
    page.get_by_role("button", name="Save").click()
    expect(page.get_by_text("Choose the day.").first).to_be_visible()

    page.get_by_label("Done now").check()
    page.get_by_label("Note").fill("Row goes back to 2 sets.")
    page.get_by_label("And the flag").select_option("PROGRAM_CHANGED")
    page.get_by_role("button", name="Save").click()

    page.wait_for_url(f"**/patients/{world.patient.pk}/")
    expect(page.get_by_role("heading", name="Pain rising")).to_have_count(0)
    expect(page.get_by_text("Closed: Program changed.")).to_be_visible()
    expect(page.get_by_text("Row goes back to 2 sets.").first).to_be_visible()
    page.locator("main").get_by_role("link", name="Caseload").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Nobody waits for you")
    flag = Flag.objects.get()
    assert flag.status == FlagStatus.CLOSED
    assert FollowUp.objects.get().flag_id == flag.pk


def test_the_caseload_by_keys(open_page, world):
    page = open_page()
    page.keyboard.press("ArrowDown")
    expect(page.get_by_role("link", name="Pia Lund").first).to_be_focused()
    page.keyboard.press("d")
    page.wait_for_load_state()
    expect(page.get_by_text("Noted: you have seen the flag of Pia Lund.")).to_be_visible()
    assert Flag.objects.get().acknowledged_by_id == world.by_id

    page.get_by_label("Find by name").fill("c")
    page.keyboard.press("c")
    assert page.url.endswith("/caseload/"), "letters in a field are letters"

    switch = page.get_by_role("button", name="Letter keys")
    switch.click()
    expect(switch).to_have_attribute("aria-pressed", "false")
    page.get_by_role("link", name="Pia Lund").first.focus()
    page.keyboard.press("c")
    assert page.url.endswith("/caseload/"), "switched off"
    page.reload()
    expect(switch).to_have_attribute("aria-pressed", "false")
    switch.click()
    page.get_by_role("link", name="Pia Lund").first.focus()
    page.keyboard.press("c")
    page.wait_for_url("**/follow-up/?kind=CALL")


def test_every_day_of_the_course_is_reached_by_keys_and_by_tap(open_page, world):
    page = open_page(width=360)
    page.goto(f"/patients/{world.patient.pk}/?span=2w")
    days = page.locator(".course__day")
    line = page.locator("[data-day-line]")
    expect(days).to_have_count(14)
    days.last.focus()
    expect(line).to_contain_text("still open")
    page.keyboard.press("ArrowLeft")
    expect(days.nth(12)).to_be_focused()
    expect(line).to_contain_text("worst pain 5")
    page.keyboard.press("Home")
    expect(days.first).to_be_focused()
    days.nth(5).click()
    expect(line).to_have_text(str(days.nth(5).get_attribute("aria-label")))
    assert page.locator(".course__day[tabindex='0']").count() == 1
    page.keyboard.press("Enter")
    expect(page.locator("tr:target")).to_be_visible()


def test_without_scripts_the_table_holds_every_day(open_page, world):
    page = open_page(scripts=False)
    page.goto(f"/patients/{world.patient.pk}/?span=2w")
    page.get_by_text("Days as a table").first.click()
    rows = page.get_by_role("region", name="Days as a table").get_by_role("row")
    expect(rows).to_have_count(15)
