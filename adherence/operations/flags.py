"""The life of a flag: raised once, refreshed, acknowledged, followed up, cleared or closed."""

from __future__ import annotations

import uuid
from datetime import date, datetime, timedelta
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from adherence.models import (
    ExerciseStop,
    Flag,
    FlagStatus,
    FollowUp,
    FollowUpKind,
    FollowUpStatus,
    Outcome,
    PainMoment,
    PainRating,
    Review,
    SessionLog,
)
from adherence.operations.sessions import SessionRefused, rate_pain
from adherence.queries.facts import review_facts
from adherence.rules.flags import (
    RULE_VERSION,
    Action,
    Decision,
    FlagKind,
    SharpStop,
    decide,
    severity_of,
    sharp_pain_evidence,
)
from clinic.models import Patient
from clinic.queries import policy_of, policy_of_patient
from programs.models import Prescription
from shared.dates import local_date


class FlagError(Exception):
    """A step that the flag's state does not allow; the message says why in plain words."""


@transaction.atomic
def review_patient(*, patient_id: uuid.UUID, now: datetime) -> tuple[Decision, ...]:
    """Let the rules look at a patient's record, and raise, refresh or clear flags accordingly.

    Running it again on the same record changes nothing but the time of the last look.
    """
    patient = Patient.objects.select_for_update(no_key=True).get(pk=patient_id)
    today = local_date(now, patient.timezone)
    found = review_facts(patient_id, today=today)
    decisions: tuple[Decision, ...] = ()
    if found is not None:
        facts, program_id = found
        decisions = decide(facts, policy=policy_of(patient.clinic_id))
        for decision in decisions:
            _apply(decision, patient=patient, program_id=program_id, now=now, today=today)
    Review.objects.update_or_create(
        patient=patient,
        defaults={
            "wanted_at": None,
            "done_at": now,
            "done_for": today,
            "clinic_id": patient.clinic_id,
        },
    )
    return decisions


def _apply(
    decision: Decision, *, patient: Patient, program_id: uuid.UUID, now: datetime, today: date
) -> None:
    open_flag = Flag.objects.open().filter(patient=patient, kind=decision.kind)
    if decision.action == Action.RAISE:
        _raise(
            patient=patient,
            program_id=program_id,
            kind=decision.kind,
            evidence=decision.evidence,
            now=now,
            today=today,
        )
    elif decision.action == Action.KEEP:
        # Evidence that has run out (ratings left the window) is kept as it was last seen.
        if decision.sentence_code:
            open_flag.update(evidence=decision.evidence, refreshed_at=now, program_id=program_id)
    elif decision.action == Action.CLEAR:
        # A flag of an earlier program waits for a person: a new program is no recovery.
        open_flag.filter(program_id=program_id).update(
            status=FlagStatus.CLEARED, ended_at=now, ended_on=today, refreshed_at=now
        )


def _raise(
    *,
    patient: Patient,
    program_id: uuid.UUID,
    kind: FlagKind,
    evidence: dict[str, Any],
    now: datetime,
    today: date,
) -> Flag:
    """Open a flag, or refresh the one that is open: never two of a kind."""
    flag, created = Flag.objects.get_or_create(
        patient=patient,
        kind=kind,
        status=FlagStatus.OPEN,
        defaults={
            "clinic_id": patient.clinic_id,
            "program_id": program_id,
            "severity": severity_of(kind),
            "evidence": evidence,
            "rule_version": RULE_VERSION,
            "raised_at": now,
            "raised_on": today,
            "refreshed_at": now,
        },
    )
    if not created:
        flag.evidence, flag.refreshed_at = evidence, now
        flag.save(update_fields=["evidence", "refreshed_at"])
    return flag


@transaction.atomic
def stop_exercise(
    *,
    session: SessionLog,
    client_key: uuid.UUID,
    prescription_id: uuid.UUID,
    score: int | None,
    note: str,
    occurred_at: datetime,
    now: datetime,
) -> ExerciseStop:
    """Record sharp pain: the exercise is over for today, and the flag is open at once.

    The flag stands in the same transaction as the record, so neither can be lost alone. A rating
    given with it counts as the worst pain of the session when it is higher than the one so far.
    Said again of the same exercise it stays one stop, and the team is told again where nobody has
    that flag open any more, or where it hurts more than they were told.
    """
    Patient.objects.select_for_update(no_key=True).get(pk=session.patient_id)
    prescription = (
        Prescription.objects.filter(pk=prescription_id, revision_id=session.revision_id)
        .select_related("exercise_revision", "revision")
        .first()
    )
    if prescription is None:
        raise SessionRefused("NOT_IN_PROGRAM", _("Your program does not have this exercise."))
    stops = ExerciseStop.objects.filter(session=session)
    key = client_key
    if stops.filter(client_key=key).exclude(prescription=prescription).exists():
        # A key that served for another exercise must not cost anybody this report.
        key = uuid.uuid5(client_key, str(prescription.pk))
    stop, created = stops.get_or_create(
        prescription=prescription,
        defaults={
            "session": session,
            "clinic_id": session.clinic_id,
            "client_key": key,
            "score": score,
            "note": note,
            "occurred_at": min(occurred_at, now),
            "recorded_at": now,
        },
    )
    if not created and (stop.client_key == key or not _says_more(stop, score=score, note=note)):
        return stop
    if score is not None:
        _rate_worst(session, client_key=key, score=score, occurred_at=occurred_at, now=now)
    _tell_of(stop, patient=session.patient, prescription=prescription, now=now)
    return stop


def _says_more(stop: ExerciseStop, *, score: int | None, note: str) -> bool:
    """Take into a stop what is worse than before; whether the team has to hear of it again."""
    is_worse = score is not None and (stop.score is None or stop.score < score)
    if is_worse:
        stop.score = score
    stop.note = stop.note or note
    stop.save(update_fields=["score", "note"])
    open_flags = Flag.objects.open().filter(
        patient_id=stop.session.patient_id, kind=FlagKind.SHARP_PAIN
    )
    return is_worse or not open_flags.exists()


def _tell_of(
    stop: ExerciseStop, *, patient: Patient, prescription: Prescription, now: datetime
) -> None:
    """Open the flag of sharp pain, or add the stop to the one that is open."""
    flag = Flag.objects.open().filter(patient=patient, kind=FlagKind.SHARP_PAIN).first()
    new = SharpStop(
        id=stop.pk,
        local_date=stop.session.local_date,
        exercise_name=prescription.exercise_revision.content["name"],
        score=stop.score,
    )
    evidence = sharp_pain_evidence([new])
    if flag is not None:
        told = [one for one in flag.evidence.get("stops", []) if one["id"] != str(stop.pk)]
        evidence["stops"] = told + evidence["stops"]
        # Whoever has seen the flag has not seen this: it asks for somebody again.
        Flag.objects.filter(pk=flag.pk).update(acknowledged_at=None, acknowledged_by=None)
    _raise(
        patient=patient,
        program_id=prescription.revision.program_id,
        kind=FlagKind.SHARP_PAIN,
        evidence=evidence,
        now=now,
        today=local_date(now, patient.timezone),
    )


def _rate_worst(
    session: SessionLog, *, client_key: uuid.UUID, score: int, occurred_at: datetime, now: datetime
) -> None:
    worst = PainRating.objects.filter(
        session=session, moment=PainMoment.WORST, withdrawn_at=None
    ).first()
    if worst is None or worst.score < score:
        rate_pain(
            session=session,
            client_key=uuid.uuid5(client_key, "worst"),
            moment=PainMoment.WORST,
            score=score,
            occurred_at=occurred_at,
            now=now,
        )


@transaction.atomic
def acknowledge_flag(*, flag: Flag, by_id: int, now: datetime) -> None:
    """Note that somebody has seen it; the first who did stays on record."""
    Flag.objects.open().filter(pk=flag.pk, acknowledged_at=None).update(
        acknowledged_at=now, acknowledged_by_id=by_id
    )


@transaction.atomic
def record_follow_up(
    *,
    patient: Patient,
    flag: Flag | None,
    kind: FollowUpKind,
    note: str,
    due_on: date | None,
    by_id: int,
    now: datetime,
) -> FollowUp:
    """Record what was done, or with `due_on` what is planned. Seeing to a flag acknowledges it."""
    if flag is not None:
        acknowledge_flag(flag=flag, by_id=by_id, now=now)
    planned = due_on is not None
    return FollowUp.objects.create(
        clinic_id=patient.clinic_id,
        patient=patient,
        flag=flag,
        kind=kind,
        status=FollowUpStatus.PLANNED if planned else FollowUpStatus.DONE,
        note=note,
        due_on=due_on,
        done_at=None if planned else now,
        recorded_by_id=by_id,
        recorded_at=now,
    )


@transaction.atomic
def answer_flag(
    *,
    flag: Flag,
    kind: FollowUpKind,
    note: str,
    due_on: date | None,
    outcome: Outcome | None,
    by_id: int,
    now: datetime,
) -> FollowUp:
    """Record a follow-up of a flag and, with an outcome, close the flag: both, or neither.

    Raises FlagError where the flag is to be closed and is not open any more.
    """
    # The patient before the flag, as the rules take them, or the two wait in a circle.
    Patient.objects.select_for_update(no_key=True).get(pk=flag.patient_id)
    follow_up = record_follow_up(
        patient=flag.patient,
        flag=flag,
        kind=kind,
        note=note,
        due_on=due_on,
        by_id=by_id,
        now=now,
    )
    if outcome is not None:
        close_flag(flag=flag, outcome=outcome, note="", by_id=by_id, now=now)
    return follow_up


@transaction.atomic
def complete_follow_up(*, follow_up: FollowUp, note: str, now: datetime) -> None:
    """Mark a planned follow-up as done, adding how it went."""
    text = "\n".join(filter(None, [follow_up.note, note]))
    FollowUp.objects.filter(pk=follow_up.pk, status=FollowUpStatus.PLANNED).update(
        status=FollowUpStatus.DONE, done_at=now, note=text
    )


@transaction.atomic
def close_flag(*, flag: Flag, outcome: Outcome, note: str, by_id: int, now: datetime) -> Flag:
    """Close a flag with what came of it. The same entries never open it again.

    Raises FlagError when it is no longer open: a colleague or the rules were first.
    """
    # The patient before the flag, as the rules take them, or the two wait in a circle.
    patient = (
        Patient.objects.select_for_update(of=("self",), no_key=True)
        .select_related("clinic", "clinic__stored_policy")
        .get(pk=flag.patient_id)
    )
    today = local_date(now, patient.timezone)
    acknowledge_flag(flag=flag, by_id=by_id, now=now)
    closed = (
        Flag.objects.open()
        .filter(pk=flag.pk)
        .update(
            status=FlagStatus.CLOSED,
            ended_at=now,
            ended_on=today,
            closed_by_id=by_id,
            outcome=outcome,
            closing_note=note,
            snoozed_until=today + timedelta(days=policy_of_patient(patient).snooze_days),
        )
    )
    if closed != 1:
        raise FlagError(_("This flag is not open any more."))
    flag.refresh_from_db()
    return flag
