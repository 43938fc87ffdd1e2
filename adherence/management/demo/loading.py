"""Loading the demo: clinic, people, programs, twelve weeks, and what the rules make of it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import yaml

from adherence.management.demo.people import (
    ProgramMaker,
    Staff,
    create_clinic,
    create_person,
    pause_and_end,
)
from adherence.management.demo.simulation import Character, Part, PlayedSession, SharpPain, play
from adherence.management.demo.writing import Book, write_in_bulk
from adherence.models import Flag, FollowUpKind, Outcome
from adherence.operations.flags import close_flag, record_follow_up, review_patient
from adherence.operations.reminders import set_preference
from clinic.models import Patient
from programs.models import Program
from programs.queries.programs import ProgramView, items_of_revisions, program_view
from programs.rules.schedule import due_sessions
from shared.dates import DateWindow, local_date, resolve_wall_time, week_start


def load_demo(folder: Path, *, now: datetime, password: str) -> dict[str, int]:
    """Load everything from the files in `folder`, relative to the clinic's today; count rows."""
    files = {
        name: yaml.safe_load((folder / f"{name}.yaml").read_text(encoding="utf-8"))
        for name in ("clinic", "characters", "programs", "people")
    }
    staff = create_clinic(files["clinic"], password=password)
    characters = {name: Character.from_data(d) for name, d in files["characters"].items()}
    maker = ProgramMaker()
    counts = {"patients": 0, "sessions": 0}
    for data in files["people"]:
        counts["patients"] += 1
        counts["sessions"] += _load_person(
            data,
            staff,
            maker,
            template=files["programs"][data["program"]],
            character=characters[data["character"]],
            now=now,
            password=password,
        )
    counts["open flags"] = Flag.objects.open().count()
    return counts


def _load_person(
    data: Mapping[str, Any],
    staff: Staff,
    maker: ProgramMaker,
    *,
    template: Mapping[str, Any],
    character: Character,
    now: datetime,
    password: str,
) -> int:
    zone = staff.clinic.timezone
    today = local_date(now, zone)
    starts_on = today - timedelta(days=data.get("days", data["weeks"] * 7))
    therapist = staff.therapists[data["therapist"]]
    patient = create_person(
        data,
        staff,
        started_at=resolve_wall_time(starts_on, time(6), zone),
        today=today,
        password=password,
    )
    program = maker.issue(template, patient, therapist, starts_on=starts_on, today=today)
    pause_and_end(data, program, by_id=therapist.user_id, today=today, now=now)
    book, played = simulate(
        program, patient, character, stop=_stop(data, today), today=today,
        entered_by_id=patient.user_id or therapist.user_id, seed=patient.name,
    )  # fmt: skip
    written = write_in_bulk(book, played)
    if times := data.get("reminders"):
        set_preference(
            patient=patient, is_on=True, times=[time.fromisoformat(t) for t in times], now=now
        )
    _follow_up(data, patient, therapist.user_id, today=today)
    review_patient(patient_id=patient.pk, now=now)
    return written


def simulate(
    program: Program,
    patient: Patient,
    character: Character,
    *,
    stop: SharpPain | None,
    today: date,
    entered_by_id: int,
    seed: str,
) -> tuple[Book, list[PlayedSession]]:
    """Return what this person did from the start of the program until yesterday."""
    view = program_view(Program.objects.prefetch_related("revisions", "pauses").get(pk=program.pk))
    items = items_of_revisions([r.id for r in view.revisions])
    doses = {key: tuple((i.prescription_id, i.dose) for i in rows) for key, rows in items.items()}
    start = view.starts_on or today
    # To the end of the week: a weekly quota has its deadlines there, its sessions lie before.
    window = DateWindow(start, week_start(today) + timedelta(days=7))
    due = due_sessions(view.spans, view.pauses, window, completed_on=view.completed_on)
    played = play(
        character=character,
        due=due,
        parts=_parts(view, doses),
        zone=patient.timezone,
        starts_on=start,
        today=today,
        seed=seed,
        stop=stop,
    )
    return Book(patient, entered_by_id, doses), list(played)


def _parts(view: ProgramView, doses: Mapping[Any, Any]) -> dict[Any, Part]:
    return {
        r.id: Part(r.id, r.effective_from, r.is_step_up, doses[r.id])
        for r in view.revisions
        if r.effective_from is not None
    }


def _stop(data: Mapping[str, Any], today: date) -> SharpPain | None:
    stop = data.get("stop")
    if stop is None:
        return None
    on = today + timedelta(days=stop["day"])
    return SharpPain(on=on, item=stop["item"], score=stop["score"], note=stop["note"])


def _follow_up(
    data: Mapping[str, Any], patient: Patient, by_id: int, *, today: date
) -> None:
    """Review as of that day, then do what the team did about it."""
    for row in data.get("follow_ups", ()):
        at = resolve_wall_time(today + timedelta(days=row["day"]), time(11), patient.timezone)
        review_patient(patient_id=patient.pk, now=at)
        flag = Flag.objects.open().filter(patient=patient, kind=row.get("closes", "")).first()
        if flag is None:
            flag = Flag.objects.open().filter(patient=patient).first()
        record_follow_up(
            patient=patient,
            flag=flag,
            kind=FollowUpKind(row["kind"]),
            note=row["note"],
            due_on=None,
            by_id=by_id,
            now=at,
        )
        if flag is not None and row.get("closes") == flag.kind:
            close_flag(flag=flag, outcome=Outcome(row["outcome"]), note="", by_id=by_id, now=at)
