"""The cast, the moment at which tests play, and doors to the databases and the broker.

The clinic: `therapist` treats `patient`; `colleague` treats `other_patient`; `admin` runs it.
The other clinic: `outsider` treats `outside_patient`. Staff are Membership rows, patients are
Patient rows; both have a `.user`. Nothing here is used by itself: a test names what it needs.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
import redis
import time_machine
from django.conf import settings
from django.db import connection
from django.test import Client
from hypothesis import settings as hypothesis_settings
from pytest_django.plugin import DjangoDbBlocker

from clinic.models import Clinic, Membership, Patient, User
from clinic.rules.roles import Role
from programs.models import Program
from programs.operations.programs import (
    DraftContent,
    Item,
    draft_program,
    issue_revision,
    save_draft,
)
from programs.rules.dose import Dose, DoseKind, Side, SideMode
from programs.rules.schedule import Pattern, Schedule
from tests import factories
from tests.factories import NOW, STARTED_AT, STARTED_ON
from tests.world import World, records_of

BACKEND = "allauth.account.auth_backends.AuthenticationBackend"

# A slow machine is no finding, and a failing example prints how to run it again.
hypothesis_settings.register_profile("carryover", deadline=None, print_blob=True, database=None)
hypothesis_settings.load_profile("carryover")


@pytest.fixture(scope="session")
def django_db_modify_db_settings(django_db_modify_db_settings_parallel_suffix: None) -> None:
    """Keep SQLite's test database in a file, so that several connections see the same rows."""
    if connection.vendor == "sqlite":
        worker = os.environ.get("PYTEST_XDIST_WORKER", "main")
        name = str(Path(os.environ["CARRYOVER_DATA"]) / f"test-{worker}.sqlite3")
        connection.settings_dict["TEST"]["NAME"] = name
        # Only a power cut tells the difference, and every commit of a test is faster.
        pragmas = connection.settings_dict["OPTIONS"]["init_command"]
        connection.settings_dict["OPTIONS"]["init_command"] = pragmas.replace("FULL", "OFF")


@pytest.fixture(scope="session")
def django_db_setup(
    django_db_setup: None, django_db_blocker: DjangoDbBlocker
) -> Iterator[None]:
    """Let PostgreSQL's test database be dropped: threads of a live server may still hold it."""
    yield
    if connection.vendor == "postgresql":
        with django_db_blocker.unblock(), connection.cursor() as cursor:
            cursor.execute(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity"
                " WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )


@pytest.fixture
def clock() -> Iterator[time_machine.Traveller]:
    """Hold the clock still at NOW; `clock.move_to(…)` and `clock.shift(…)` set it."""
    with time_machine.travel(NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def now(clock: time_machine.Traveller) -> datetime:
    """The instant at which the clock stands: Wednesday, 11 March 2026, 10:00 UTC."""
    return NOW


@pytest.fixture
def clinic(db: None, now: datetime) -> Clinic:
    """The clinic of the cast, in London's zone, with the default policy."""
    return factories.ClinicFactory(name="Willow Row Clinic", slug="willow-row")


@pytest.fixture
def other_clinic(db: None, now: datetime) -> Clinic:
    """Another clinic on the same installation."""
    return factories.ClinicFactory(name="Mill Bridge Clinic", slug="mill-bridge")


def _staff(clinic: Clinic, name: str, role: Role) -> Membership:
    email = f"{name.split(maxsplit=1)[0].lower()}@{clinic.slug}.example"
    user = factories.UserFactory(name=name, email=email)
    return factories.MembershipFactory(clinic=clinic, user=user, role=role)


def _patient(therapist: Membership, given_name: str, family_name: str) -> Patient:
    patient = factories.PatientFactory(
        clinic=therapist.clinic,
        given_name=given_name,
        family_name=family_name,
        user__email=f"{given_name.lower()}@mail.example",
    )
    factories.CareRelationshipFactory(patient=patient, therapist=therapist)
    return patient


@pytest.fixture
def therapist(clinic: Clinic) -> Membership:
    """Tess treats `patient`."""
    return _staff(clinic, "Tess Arden", Role.THERAPIST)


@pytest.fixture
def colleague(clinic: Clinic) -> Membership:
    """Colm works at the same clinic and treats `other_patient`, not `patient`."""
    return _staff(clinic, "Colm Brandt", Role.THERAPIST)


@pytest.fixture
def admin(clinic: Clinic) -> Membership:
    """Ines runs the clinic and treats nobody."""
    return _staff(clinic, "Ines Dahl", Role.CLINIC_ADMIN)


@pytest.fixture
def outsider(other_clinic: Clinic) -> Membership:
    """Olaf is a therapist of the other clinic and treats `outside_patient`."""
    return _staff(other_clinic, "Olaf Reyes", Role.THERAPIST)


@pytest.fixture
def patient(therapist: Membership) -> Patient:
    """Pia is treated by `therapist` and can sign in."""
    return _patient(therapist, "Pia", "Lund")


@pytest.fixture
def other_patient(colleague: Membership) -> Patient:
    """Otto is treated by `colleague` and can sign in."""
    return _patient(colleague, "Otto", "Marsh")


@pytest.fixture
def outside_patient(outsider: Membership) -> Patient:
    """Uma is treated by `outsider` at the other clinic."""
    return _patient(outsider, "Uma", "Frost")


@pytest.fixture
def sign_in() -> Callable[..., Client]:
    """Return a new browser signed in as somebody: `sign_in(therapist).get("/caseload/")`."""

    def browser(person: Membership | Patient | User, **options: Any) -> Client:
        client = Client(**options)
        user = person if isinstance(person, User) else person.user
        assert user is not None, "Somebody without a user cannot sign in."
        client.force_login(user, backend=BACKEND)
        return client

    return browser


DOSES = (
    Dose(DoseKind.REPETITIONS, 3, 12, None, None, 45, Side.BILATERAL, tempo=(2, 1, 3)),
    Dose(DoseKind.HOLD, 2, None, 30, None, 30, Side.BOTH),
    Dose(DoseKind.TIMED, 2, None, None, 60, 60, Side.ALTERNATE),
)


@pytest.fixture
def issue_program() -> Callable[..., Program]:
    """Return a function that issues a program: `issue_program(patient, therapist, doses=…)`."""

    def issue(
        patient: Patient,
        therapist: Membership,
        *,
        doses: tuple[Dose, ...] = DOSES,
        schedule: Schedule | None = None,
        at: datetime = STARTED_AT,
    ) -> Program:
        draft = draft_program(
            patient=patient,
            title="Ankle strength",
            drafted_by_id=therapist.user_id,
            pain_limit=5,
            now=at,
            today=at.date(),
        )
        draft = save_draft(
            draft=draft,
            version=draft.version,
            content=DraftContent(
                title="Ankle strength",
                items=[Item(_exercise_for(dose).current_id, dose) for dose in doses],
                schedule=schedule or Schedule(Pattern.DAILY, starts_on=at.date()),
                note_to_patient="Slow and steady.",
            ),
            edited_by_id=therapist.user_id,
            now=at,
        )
        issued = issue_revision(
            draft=draft,
            version=draft.version,
            issued_by_id=therapist.user_id,
            now=at,
            today=at.date(),
        )
        return Program.objects.get(pk=issued.program_id)

    return issue


def _exercise_for(dose: Dose) -> Any:
    mode = {Side.BILATERAL: SideMode.BOTH_TOGETHER, Side.ALTERNATE: SideMode.ALTERNATING}
    return factories.ExerciseFactory(
        dose_kind=dose.kind, side_mode=mode.get(dose.side, SideMode.ONE_SIDE)
    )


@pytest.fixture
def issued_program(
    patient: Patient, therapist: Membership, issue_program: Callable[..., Program]
) -> Program:
    """A program of `patient`, daily from 2 February 2026, of three exercises.

    In order: 3 sets of 12 repetitions; 2 holds of 30 seconds on each side; 2 times a minute,
    alternating.
    """
    program = issue_program(patient, therapist)
    assert program.revisions.get().effective_from == STARTED_ON
    return program


@pytest.fixture
def broker() -> Iterator[redis.Redis]:
    """The real Redis-protocol server, emptied: queues, cache and limits."""
    with redis.Redis.from_url(settings.REDIS_URL) as client:
        client.flushdb()
        yield client
        client.flushdb()


@pytest.fixture
def other_process(transactional_db: None, tmp_path: Path) -> dict[str, str]:
    """The environment for a process of its own that shares our database and broker.

    It runs on the demo's settings: mail goes into `tmp_path/"mailbox"`, and writing seconds into
    `tmp_path/"clock"` moves its clock ahead of the real one.
    """
    return os.environ | {
        "DJANGO_SETTINGS_MODULE": "clinic.settings.demo",
        "CARRYOVER_DATA": str(tmp_path),
        "DATABASE_URL": _database_url(),
        "REDIS_URL": settings.REDIS_URL,
    }


def _database_url() -> str:
    name = connection.settings_dict["NAME"]
    if connection.vendor == "sqlite":
        return f"sqlite:///{name}"
    address = os.environ["DATABASE_URL"]
    path, _, options = address.partition("?")
    return path.rpartition("/")[0] + f"/{name}" + (f"?{options}" if options else "")


@pytest.fixture
def world(
    issue_program: Callable[..., Program],
    issued_program: Program,
    patient: Patient,
    other_patient: Patient,
    outside_patient: Patient,
    therapist: Membership,
    colleague: Membership,
    admin: Membership,
    outsider: Membership,
) -> World:
    """Both clinics with a record of every kind: `world.url(route)`, `world.people`."""
    theirs = issue_program(outside_patient, outsider)
    issue_program(other_patient, colleague)
    return World(
        people={
            "patient": patient,
            "other_patient": other_patient,
            "therapist": therapist,
            "colleague": colleague,
            "admin": admin,
            "outsider": outsider,
        },
        ours=records_of(patient, therapist, issued_program, "our-")
        | {"membership_id": _staff(therapist.clinic, "Ravi Stone", Role.THERAPIST).pk},
        theirs=records_of(outside_patient, outsider, theirs, "their-")
        | {"membership_id": outsider.pk},
    )
