"""The doors to sessions and flags; what is not yours answers 404."""

from __future__ import annotations

import uuid
from datetime import datetime

from django.db.models import QuerySet
from django.http import Http404

from adherence.models import Flag, FollowUp, SessionLog
from clinic.access import Viewer, visible_patients
from clinic.rules.roles import Capability


def access_session(viewer: Viewer, session_id: uuid.UUID) -> SessionLog:
    """Open one of the viewer's own sessions; else Http404."""
    if viewer.patient_id is None:
        raise Http404
    session = (
        SessionLog.objects.filter(
            pk=session_id,
            clinic_id=viewer.clinic_id,
            patient_id=viewer.patient_id,
            patient__discharged_at=None,
        )
        .select_related("patient", "patient__clinic", "patient__clinic__stored_policy", "revision")
        .first()
    )
    if session is None:
        raise Http404
    return session


def visible_sessions(viewer: Viewer, *, at: datetime) -> QuerySet[SessionLog]:
    """Return the sessions of patients whose records the viewer may open."""
    return SessionLog.objects.filter(
        clinic_id=viewer.clinic_id, patient__in=visible_patients(viewer, at=at)
    )


def visible_flags(viewer: Viewer, *, at: datetime) -> QuerySet[Flag]:
    """Return the flags of the therapist's own patients; flags are the team's, not the patient's."""
    if not viewer.may(Capability.TREAT):
        return Flag.objects.none()
    return Flag.objects.filter(
        clinic_id=viewer.clinic_id, patient__in=visible_patients(viewer, at=at)
    ).exclude(patient__in=_own(viewer))


def access_flag(viewer: Viewer, flag_id: uuid.UUID, *, at: datetime) -> Flag:
    """Open a flag of one's own patient; else Http404."""
    flag = visible_flags(viewer, at=at).filter(pk=flag_id).select_related("patient").first()
    if flag is None:
        raise Http404
    return flag


def access_follow_up(viewer: Viewer, follow_up_id: uuid.UUID, *, at: datetime) -> FollowUp:
    """Open a follow-up of one's own patient; else Http404."""
    if not viewer.may(Capability.TREAT):
        raise Http404
    follow_up = (
        FollowUp.objects.filter(
            pk=follow_up_id,
            clinic_id=viewer.clinic_id,
            patient__in=visible_patients(viewer, at=at),
        )
        .exclude(patient__in=_own(viewer))
        .select_related("patient")
        .first()
    )
    if follow_up is None:
        raise Http404
    return follow_up


def _own(viewer: Viewer) -> list[uuid.UUID]:
    """Return the record of a therapist who is a patient too, and must not treat themselves."""
    return [viewer.patient_id] if viewer.patient_id else []
