"""From nobody to a first program: a therapist assigns, the patient accepts and sees it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from django.core import mail
from django.core.management import call_command
from playwright.sync_api import Page, expect

from clinic.models import Invitation, Patient
from programs.models import ProgramRevision, RevisionStatus
from programs.rules.dose import Side
from programs.rules.schedule import Pattern
from tests import factories
from tests.journeys.conftest import link_in_mail, sign_in

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

HER_MAIL = "pia@mail.example"
CHOSEN = "four plain garden words"


@pytest.fixture
def therapist(real_clinic):
    """Tess, with the real library in reach."""
    call_command("load_library", verbosity=0)
    user = factories.UserFactory(name="Tess Arden", email="tess@willow-row.example")
    return factories.MembershipFactory(clinic=real_clinic, user=user)


def make_patient(page: Page) -> None:
    page.get_by_role("link", name="New patient").first.click()
    page.get_by_label("Given name").fill("Pia")
    page.get_by_label("Family name").fill("Lund")
    page.get_by_label("E-mail").fill(HER_MAIL)
    page.get_by_label("Send the invitation now").check()
    page.get_by_role("button", name="Create the record").click()
    expect(page.get_by_role("heading", level=1, name="Pia Lund")).to_be_visible()


def add(page: Page, word: str, name: str, *, already: int) -> None:
    """Search the library beside the program and add the exercise of this name."""
    page.wait_for_load_state("load")  # the script that searches while typing is there
    page.locator("#library-q").fill(word)
    page.get_by_role("button", name=f"Add {name}", exact=True).click()
    expect(page.locator(".editor-item__name")).to_have_count(already + 1)


def test_a_first_program_reaches_the_patient(device, therapist):
    desk = sign_in(device(width=1280), "tess@willow-row.example")
    make_patient(desk)
    patient = Patient.objects.get()
    assert [message.to for message in mail.outbox] == [[HER_MAIL]]

    desk.get_by_role("link", name="Program", exact=True).first.click()
    desk.get_by_role("link", name="New program").click()
    desk.get_by_label("Title").first.fill("Calm the calf")
    desk.get_by_role("button", name="Choose exercises").click()
    add(desk, "heel", "Heel raise at the wall", already=0)
    add(desk, "wall", "Wall sit", already=1)
    first, second = desk.locator(".editor-item").nth(0), desk.locator(".editor-item").nth(1)
    first.get_by_label("Sets", exact=True).fill("2")
    first.get_by_label("Repetitions", exact=True).fill("9")
    second.get_by_role("button", name="Move Wall sit up").click()
    expect(desk.locator(".editor-item__name").first).to_have_text("Wall sit")

    plan = desk.get_by_role("region", name="Days and words")
    plan.get_by_label("On days of the week").check()
    for day in ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"):
        plan.get_by_label(day).check()
    plan.get_by_label("Note to the patient").fill("Slow on the way down, please.")
    desk.get_by_role("button", name="Save and see what changes").click()
    expect(desk.get_by_role("heading", level=1, name="Issue to Pia Lund?")).to_be_visible()
    expect(desk.get_by_text("2 sets of 9").first).to_be_visible()
    desk.get_by_role("button", name="Issue to Pia").click()
    expect(desk.get_by_text("Revision 1, in force since")).to_be_visible()

    issued = ProgramRevision.objects.get(program__patient=patient)
    assert (issued.status, issued.pattern) == (RevisionStatus.ISSUED, Pattern.WEEKDAYS)
    doses = [(p.kind, p.sets, p.repetitions) for p in issued.prescriptions.order_by("position")]
    assert doses[1] == ("REPETITIONS", 2, 9)
    assert issued.prescriptions.get(position=2).side == Side.BILATERAL

    phone = device(width=360, height=740)
    phone.goto(link_in_mail(HER_MAIL))
    phone.get_by_label("Your name").fill("Pia Lund")
    phone.get_by_label("Password", exact=True).fill(CHOSEN)
    phone.get_by_label("Password once more").fill(CHOSEN)
    phone.get_by_role("button", name="Accept and go in").click()
    expect(phone.get_by_role("heading", level=1, name="Hello, Pia")).to_be_visible()
    expect(phone.get_by_role("heading", name="Wall sit")).to_be_visible()
    expect(phone.get_by_text("2 sets of 9")).to_be_visible()
    expect(phone.get_by_text("Slow on the way down, please.")).to_be_visible()
    expect(phone.get_by_role("button", name="Start", exact=True)).to_be_in_viewport()
    patient.refresh_from_db()
    assert patient.user is not None
    assert Invitation.objects.get().accepted_at is not None

    again = device(width=360)
    again.goto(link_in_mail(HER_MAIL))
    expect(again.get_by_role("heading", level=1)).to_have_text("This link has been used")


class Keys:
    """Somebody who has no mouse: looks for a control with Tab, and presses keys on it."""

    def __init__(self, page: Page) -> None:
        self.page = page

    def to(self, role: str, name: str, *, steps: int = 150) -> None:
        """Press Tab until the control of this role and name has the focus."""
        wanted = self.page.get_by_role(role, name=name).first  # type: ignore[arg-type]
        expect(wanted).to_be_attached()
        for _step in range(steps):
            if wanted.evaluate("part => part === document.activeElement"):
                self._is_seen()
                return
            self.page.keyboard.press("Tab")
        raise AssertionError(f"{steps} times Tab do not lead to {role} {name!r}")

    def press(self, role: str, name: str, key: str = "Enter") -> None:
        self.to(role, name)
        self.page.keyboard.press(key)

    def write(self, name: str, text: str, role: str = "textbox") -> None:
        self.to(role, name)
        self.page.keyboard.press("Control+A")
        self.page.keyboard.type(text)

    def _is_seen(self) -> None:
        """The control with the focus is ringed, and no bar lies over its middle (WCAG 2.4.11)."""
        faults = self.page.evaluate(
            """() => {
              const part = document.activeElement;
              const shown = part.closest("label") ?? part;
              const box = shown.getBoundingClientRect();
              const style = getComputedStyle(part), around = getComputedStyle(shown);
              const ringed = [style, around].some(
                s => s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2);
              const x = box.x + box.width / 2, y = box.y + Math.min(box.height, innerHeight) / 2;
              const on = document.elementFromPoint(x, y);
              const clear = on && (shown.contains(on) || on.contains(shown));
              return [ringed || "no ring", clear || `covered by ${on?.outerHTML.slice(0, 80)}`]
                .filter(fault => fault !== true);
            }"""
        )
        assert faults == [], self.page.evaluate("document.activeElement.outerHTML.slice(0, 160)")


def test_a_first_program_without_a_mouse(device, therapist):
    page = device(width=1280)
    keys = Keys(page)
    page.goto("/account/login/")
    keys.write("E-mail", "tess@willow-row.example")
    page.get_by_label("Password", exact=True).focus()
    page.keyboard.type(factories.PASSWORD)
    page.keyboard.press("Enter")
    page.wait_for_url("**/caseload/")

    keys.press("link", "New patient")
    page.wait_for_url("**/patients/new/")
    keys.write("Given name", "Pia")
    keys.write("Family name", "Lund")
    keys.press("button", "Create the record")
    expect(page.get_by_role("heading", level=1, name="Pia Lund")).to_be_visible()
    keys.press("link", "Program")
    keys.press("link", "New program")
    keys.write("Title", "Calm the calf")
    page.keyboard.press("Enter")
    page.wait_for_url("**/edit/")

    keys.write("Search", "heel", role="searchbox")
    keys.press("button", "Add Heel raise at the wall")
    expect(page.locator(".editor-item__name")).to_have_count(1)
    keys.write("Sets", "2")
    keys.press("radio", "Every day", "Space")
    keys.press("button", "Save and see what changes")
    expect(page.get_by_role("heading", level=1, name="Issue to Pia Lund?")).to_be_visible()
    keys.press("button", "Issue to Pia")
    expect(page.get_by_text("Revision 1, in force since")).to_be_visible()

    issued = ProgramRevision.objects.get()
    assert issued.status == RevisionStatus.ISSUED
    assert issued.effective_from - datetime.now(UTC).date() <= timedelta(days=1)
    assert issued.prescriptions.get().sets == 2
