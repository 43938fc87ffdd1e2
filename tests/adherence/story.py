"""A patient's days for tests of flags, told one after the other through the product's records."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from adherence.models import ExerciseStop, Flag, SessionLog, SessionStatus
from adherence.operations.flags import review_patient, stop_exercise
from adherence.rules.flags import FlagKind
from tests import factories
from tests.factories import STARTED_ON

RISING = (3, 3, 2, 3, 4, 3, 3, 4, 3, 5, 5, 4, 6, 5, 6, 5)  # usual 3.0, a trend on day 14


def at(day: date, hour: int = 18) -> datetime:
    return datetime.combine(day, time(hour), UTC)


@dataclass
class Story:
    """A patient's days, told one after the other."""

    program: Any
    patient: Any
    by_id: int
    today: date = STARTED_ON
    logged: list[SessionLog] = field(default_factory=list)

    @property
    def now(self) -> datetime:
        return at(self.today)

    @property
    def revision(self):
        return self.program.revisions.get()

    def done(self, score: int | None = 3, *, on: date | None = None) -> SessionLog:
        """Log a session of today or another day, done in full."""
        day = on or self.today
        session = factories.SessionLogFactory(
            revision=self.revision,
            local_date=day,
            slot=SessionLog.objects.filter(patient=self.patient, local_date=day).count() + 1,
            done=True,
            entered_later=day < self.today,
        )
        if score is not None:
            factories.PainRatingFactory(session=session, score=score)
        self.logged.append(session)
        return session

    def not_done(self, reason: str = "NO_TIME") -> SessionLog:
        """Log today's session as not done."""
        return factories.SessionLogFactory(
            revision=self.revision,
            local_date=self.today,
            slot=SessionLog.objects.filter(patient=self.patient, local_date=self.today).count() + 1,
            status=SessionStatus.NOT_DONE,
            reason=reason,
            finished_at=self.now,
        )

    def review(self):
        return review_patient(patient_id=self.patient.pk, now=self.now)

    def open(self, kind: FlagKind) -> Flag | None:
        return Flag.objects.open().filter(patient=self.patient, kind=kind).first()

    def sharp(self, *, score: int | None = 7, position: int = 1) -> ExerciseStop:
        """Start a session of today and stop an exercise of it for sharp pain."""
        session = factories.SessionLogFactory(
            revision=self.revision,
            local_date=self.today,
            slot=SessionLog.objects.filter(patient=self.patient, local_date=self.today).count() + 1,
            status=SessionStatus.STOPPED,
            finished_at=self.now,
            share=0.2,
        )
        return stop_exercise(
            session=session,
            client_key=uuid.uuid4(),
            prescription_id=self.revision.prescriptions.get(position=position).pk,
            score=score,
            note="",
            occurred_at=self.now,
            now=self.now,
        )


def rising(story: Story) -> Flag:
    """Log the published example of a rise, and review on its last day."""
    for score in RISING:
        story.done(score)
        story.today += timedelta(days=1)
    story.review()
    flag = story.open(FlagKind.RISING_PAIN)
    assert flag is not None
    return flag
