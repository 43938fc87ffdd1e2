"""The main job, played over HTTP against the demo's running parts; each step says what it saw."""

from __future__ import annotations

import re
import time
import uuid
from collections.abc import Callable, Iterator
from datetime import date, timedelta
from datetime import time as wall_time
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import OutputWrapper

from adherence.management.demo.browsing import Person, TourFailed
from shared import clock
from shared.dates import local_date, resolve_wall_time

THERAPIST = "mara@larkfield.example"
PATIENT = "nova.tarrant@patients.example"
PASSWORD = "quiet-meadow-path-9"  # noqa: S105 - of an invented person
ZONE = "Europe/London"
# Two weeks: usual pain first, then up. The flag needs seven ratings to know what is usual.
WORST = (3, 2, 3, 3, 2, 3, 3, 3, 5, 5, 6, 6, 7, 6)
REMINDER_DAY = 4
# A beat a minute, and a worker that may be busy.
PATIENCE_SECONDS = 150


def run(base_url: str, data_folder: Path, stdout: OutputWrapper) -> bool:
    """Play every step, print what was seen, and return whether each held."""
    tour = _Tour(base_url)
    for number, (what, step) in enumerate(tour.steps(), 1):
        stdout.write(f"{number}. {what}")
        stdout.flush()
        try:
            seen = step()
        except TourFailed as failure:
            stdout.write(f"   did not hold: {failure}")
            return False
        stdout.write(f"   {seen}")
    stdout.write("Every step held.")
    return True


class _Tour:
    def __init__(self, base_url: str) -> None:
        self.therapist = Person(base_url)
        self.patient = Person(base_url)
        self.outside = Person(base_url)
        self.base_url = base_url
        self.patient_path = self.flag_sentence = ""
        self.first_day = local_date(clock.now(), ZONE) + timedelta(days=1)

    def steps(self) -> Iterator[tuple[str, Callable[[], str]]]:
        """Yield what is about to happen, and how."""
        yield "The therapist signs in and looks at the caseload", self.sign_in
        yield "takes on a new patient and invites her by e-mail", self.take_on
        yield "puts a program together from the library and issues it", self.issue
        yield "The patient opens the link from the mailbox, once", self.accept
        yield "asks for a reminder in the evening", self.ask_for_reminder
        yield "exercises for two weeks, with more pain in the second", self.exercise
        yield "The therapist finds the flag that the worker raised, with its evidence", self.find
        yield "records a follow-up, and closes the flag with what came of it", self.follow_up
        yield "and the same ratings do not open it again", self.stays_closed

    def sign_in(self) -> str:
        self.therapist.open("/account/login/")
        self.therapist.submit(having="password", login=THERAPIST, password=settings.DEMO_PASSWORD)
        page = self.therapist.open("/caseload/")
        self.therapist.expect("Caseload")
        return f"{page.count('<tr') or 1} rows"

    def take_on(self) -> str:
        self.therapist.open("/patients/new/")
        page = self.therapist.submit(
            having="given_name",
            given_name="Nova",
            family_name="Tarrant",
            email=PATIENT,
            problem="Right heel",
            timezone=ZONE,
            invite="on",
        )
        path = re.search(r"/patients/[0-9a-f-]{36}/", self.therapist.url + page)
        if path is None:
            raise TourFailed(f"{self.therapist.url} leads to no patient page")
        self.patient_path = path.group()
        return f"the record at {self.patient_path}"

    def issue(self) -> str:
        person = self.therapist
        self._at(self.first_day, wall_time(9))
        person.open(f"{self.patient_path}program/new/")
        person.submit(having="title", title="Heel, step by step")
        for word in ("Heel raise at the wall", "Calf stretch"):
            person.submit(having="items-count", q=word, action="search")
            add = re.search(r'value="(add:[0-9a-f-]{36}[^"]*)"', person.page)
            if add is None:
                raise TourFailed(f"the library finds nothing for {word!r}")
            person.submit(having="items-count", q="", action=add.group(1))
        note = "Slowly on the way down."
        person.submit(having="items-count", action="review", note_to_patient=note)
        person.expect("Issue to Nova")
        person.submit(having="version")
        person.expect("Heel, step by step")
        return "two exercises, in force from today"

    def accept(self) -> str:
        link = self._in_mail(PATIENT, r"/invitation/[\w-]+/")
        for _look in range(2):  # a mail program that follows links must not use it up
            self.patient.open(link)
        self.patient.submit(
            having="again", name="Nova Tarrant", password=PASSWORD, again=PASSWORD
        )
        self.patient.open("/today/")
        self.patient.expect("Hello, Nova", "Heel raise at the wall", "Slowly on the way down.")
        self.outside.open(link, status=410)
        self.outside.expect("This link has been used")
        return "Today with her program; a second try says that the link has been used"

    def ask_for_reminder(self) -> str:
        self.patient.open("/reminders/")
        self.patient.submit(having="first", is_on="on", first="17:30", second="")
        self.patient.expect("Saved.")
        return "at 17:30 on her own clock"

    def exercise(self) -> str:
        reminded = ""
        for number, worst in enumerate(WORST):
            day = self.first_day + timedelta(days=number)
            if number == REMINDER_DAY:
                self._at(day, wall_time(17, 31))
                reminded = self._until(self._reminder_has_come, "no reminder came")
            self._at(day, wall_time(18))
            self._session(worst)
        return f"{len(WORST)} sessions; {reminded}"

    def _session(self, worst: int) -> None:
        person = self.patient
        session = person.call("/api/v1/sessions/", {"client_key": str(uuid.uuid4())})
        path = f"/api/v1/sessions/{session['id']}/"
        plan = person.call(path)
        person.call(f"{path}pain/", _rating("BEFORE", max(0, worst - 1)))
        for item in plan["items"]:
            for one in item["sets"]:
                done = {
                    "client_key": str(uuid.uuid4()),
                    "prescription": item["prescription"],
                    "number": one["number"],
                    "side": one["side"],
                    "state": "DONE",
                    "repetitions": one["repetitions"],
                    "held_seconds": one["hold_seconds"],
                    "moved_seconds": one["duration_seconds"],
                }
                first = person.call(f"{path}sets/", done)
                if person.call(f"{path}sets/", done)["id"] != first["id"]:
                    raise TourFailed("the same set sent twice was logged twice")
        person.call(f"{path}pain/", _rating("WORST", worst))
        person.call(f"{path}pain/", _rating("AFTER", max(0, worst - 1)))
        closed = person.call(f"{path}finish/", {"effort": 4})
        if closed["status"] != "COMPLETED" or closed["share"] != 1:
            raise TourFailed(f"the session was closed as {closed}")

    def _reminder_has_come(self) -> str:
        try:
            self._in_mail(PATIENT, r"/reminders/stop/[\w-]+/")
        except TourFailed:
            return ""
        return "a reminder from the worker lay in the mailbox on the day it was due"

    def find(self) -> str:
        self.flag_sentence = self._until(self._open_flag, "no flag was raised")
        self.therapist.expect("usual", "evidence")
        return self.flag_sentence

    def _open_flag(self) -> str:
        page = self.therapist.open(self.patient_path)
        found = re.search(r"Worst pain [\d ]+, usual [\d.]+[^<]*", page)
        return found.group().strip() if found else ""

    def follow_up(self) -> str:
        person = self.therapist
        flag = re.search(r"/flags/[0-9a-f-]{36}/", person.page)
        if flag is None:
            raise TourFailed(f"{person.url} offers nothing to do about the flag")
        person.open(f"{flag.group()}follow-up/")
        person.submit(having="kind", kind="CALL", when="DONE", note="Two sets for a week.")
        person.open(self.patient_path)
        person.expect("Two sets for a week.")
        person.open(f"{flag.group()}close/")
        person.submit(having="outcome", outcome="ADVICE_GIVEN", note="Settles with less.")
        person.open(self.patient_path)
        person.expect("Settles with less.")
        return "a call on record, the flag closed with advice given"

    def stays_closed(self) -> str:
        self._at(self.first_day + timedelta(days=len(WORST)), wall_time(9))
        time.sleep(65)  # a beat and the review of the new day
        self.therapist.open(self.patient_path)
        if re.search(r"/flags/[0-9a-f-]{36}/close/", self.therapist.page):
            raise TourFailed("a flag is open again")
        return "no open flag on the next morning"

    def _at(self, day: date, wall: wall_time) -> None:
        """Move the demo's clock, forward only, to a time on the clinic's wall."""
        target = resolve_wall_time(day, wall, ZONE)
        real = clock.now() - clock.offset()
        if target > clock.now():
            clock.move(target - real)

    def _in_mail(self, address: str, pattern: str) -> str:
        """Return what matches in the newest mail to `address` that has it."""
        page = self.outside.open("/demo/mailbox/")
        for path in dict.fromkeys(re.findall(r'href="(/demo/mailbox/[^"?]+/)"', page)):
            mail = self.outside.open(path)
            found = re.search(pattern, mail)
            if address in mail and found:
                return found.group()
        raise TourFailed(f"no mail to {address} with {pattern}")

    def _until(self, look: Callable[[], str], otherwise: str) -> str:
        started = time.monotonic()
        while time.monotonic() - started < PATIENCE_SECONDS:
            if seen := look():
                return seen
            time.sleep(2)
        raise TourFailed(otherwise)


def _rating(moment: str, score: int) -> dict[str, Any]:
    return {"client_key": str(uuid.uuid4()), "moment": moment, "score": score}
