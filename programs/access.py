"""The doors to programs and library entries; what is not yours answers 404."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db.models import Q, QuerySet
from django.http import Http404

from clinic.access import Viewer, visible_patients
from clinic.rules.roles import Capability
from programs.models import Exercise, Ladder, Program, ProgramStatus


def visible_programs(viewer: Viewer, *, at: datetime) -> QuerySet[Program]:
    """Return the programs of patients whose records the viewer may open."""
    return Program.objects.filter(
        clinic_id=viewer.clinic_id, patient__in=visible_patients(viewer, at=at)
    )


def access_program(viewer: Viewer, program_id: uuid.UUID, *, at: datetime) -> Program:
    """Open a program as the patient's therapist; else Http404."""
    if not viewer.may(Capability.TREAT):
        raise Http404
    program = (
        visible_programs(viewer, at=at)
        .exclude(Q(patient_id=viewer.patient_id))
        .filter(pk=program_id)
        .select_related("patient", "patient__clinic", "patient__clinic__stored_policy")
        .first()
    )
    if program is None:
        raise Http404
    return program


def readable_programs(viewer: Viewer, *, at: datetime) -> QuerySet[Program]:
    """Return what may be read: programs of patients under own care, and one's own once issued."""
    programs = visible_programs(viewer, at=at)
    if viewer.patient_id is None:
        return programs
    return programs.exclude(patient_id=viewer.patient_id, status=ProgramStatus.DRAFT)


def read_program(viewer: Viewer, program_id: uuid.UUID, *, at: datetime) -> Program:
    """Open a program for reading, as the patient's therapist or as the patient; else Http404."""
    program = readable_programs(viewer, at=at).filter(pk=program_id).first()
    if program is None:
        raise Http404
    return program


def access_exercise(viewer: Viewer, slug: str) -> Exercise:
    """Open an exercise of the starter library or of the viewer's clinic; the clinic's own wins."""
    found = (
        Exercise.objects.visible_in(viewer.clinic_id)
        .filter(slug=slug, current__isnull=False)
        .select_related("current")
        .order_by("-clinic_id")
    )
    if not viewer.may(Capability.READ_LIBRARY) or not (rows := list(found)):
        raise Http404
    return next((row for row in rows if row.clinic_id), rows[0])


def access_ladder(viewer: Viewer, slug: str) -> Ladder:
    """Open a ladder of the starter library or of the viewer's clinic; else Http404."""
    rows = list(Ladder.objects.filter(Q(clinic=None) | Q(clinic_id=viewer.clinic_id), slug=slug))
    if not viewer.may(Capability.READ_LIBRARY) or not rows:
        raise Http404
    return next((row for row in rows if row.clinic_id), rows[0])
