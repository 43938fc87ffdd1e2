"""One verb a view: translate in, call one operation or query, translate out."""

from __future__ import annotations

import uuid
from typing import Any

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from adherence.access import access_session, visible_flags, visible_sessions
from adherence.api import serializers
from adherence.operations.corrections import withdraw_set
from adherence.operations.flags import stop_exercise
from adherence.operations.late_ratings import rate_moment
from adherence.operations.sessions import (
    SessionRefused,
    day_to_log,
    finish_session,
    log_set,
    start_session,
)
from adherence.queries.session import session_page, session_plan
from adherence.tasks import review_one
from clinic.access import IsPatient, IsStaffMember, own_record, viewer_of
from clinic.queries import policy_of_patient
from shared import clock
from shared.enqueue import enqueue
from shared.http import PAGE_PARAMETERS, Problem, paged, paged_shape


def _read(serializer: type[Any], request: Request) -> dict[str, Any]:
    form = serializer(data=request.data)
    form.is_valid(raise_exception=True)
    data: dict[str, Any] = form.validated_data
    return data


class SessionView(APIView):
    """A view of sessions: a log that cannot be taken is answered as a problem of its own code."""

    def handle_exception(self, exc: Exception) -> Response:
        """Answer a refusal with 409; anything else as every view does."""
        if isinstance(exc, SessionRefused):
            exc = Problem(code=exc.code.lower(), detail=str(exc), status=409)
        return super().handle_exception(exc)


class Sessions(SessionView):
    """The viewer's own sessions, or those of a therapist's patients; a patient starts one here."""

    permission_classes = [IsAuthenticated]

    @extend_schema(
        parameters=PAGE_PARAMETERS,
        responses=paged_shape(serializers.Session),
        operation_id="sessions_list",
    )
    def get(self, request: Request) -> Response:
        """List sessions, newest first."""
        rows = visible_sessions(viewer_of(request), at=clock.now())
        return paged(request, rows.order_by("-local_date", "-slot", "pk"), serializers.Session)

    @extend_schema(
        request=serializers.StartSession,
        responses={201: serializers.Session},
        operation_id="sessions_start",
    )
    def post(self, request: Request) -> Response:
        """Start a session, or return the one that this key or this day has begun."""
        now, viewer = clock.now(), viewer_of(request)
        patient = own_record(viewer)
        data = _read(serializers.StartSession, request)
        hours = policy_of_patient(patient).backfill_hours
        day = day_to_log(patient=patient, on=data["on"], now=now, backfill_hours=hours)
        session = start_session(
            patient=patient,
            client_key=data["client_key"],
            day=day,
            entered_by_id=viewer.user_id,
            now=now,
        )
        return Response(serializers.Session(session).data, status=201)


class SessionDetail(APIView):
    """One own session with what is still to do."""

    permission_classes = [IsAuthenticated, IsPatient]

    @extend_schema(responses=OpenApiTypes.OBJECT, operation_id="session_plan")
    def get(self, request: Request, session_id: uuid.UUID) -> Response:
        """Return the plan that the session screen follows."""
        session = access_session(viewer_of(request), session_id)
        return Response(session_plan(session_page(session)))


class SessionSets(SessionView):
    """Sets of an own session."""

    permission_classes = [IsAuthenticated, IsPatient]

    @extend_schema(
        request=serializers.LogSet,
        responses={201: serializers.Recorded},
        operation_id="session_log_set",
    )
    def post(self, request: Request, session_id: uuid.UUID) -> Response:
        """Log one set. The same client key again answers with the first row."""
        now = clock.now()
        session = access_session(viewer_of(request), session_id)
        data = _read(serializers.LogSet, request)
        row = log_set(
            session=session,
            prescription_id=data.pop("prescription"),
            occurred_at=data.pop("occurred_at", now),
            now=now,
            **data,
        )
        return Response(serializers.Recorded(row).data, status=201)

    @extend_schema(
        request=serializers.WithdrawSet, responses={204: None}, operation_id="session_withdraw_set"
    )
    def delete(self, request: Request, session_id: uuid.UUID) -> Response:
        """Take back the set logged under a client key; again, or an unknown key: nothing to do."""
        session = access_session(viewer_of(request), session_id)
        data = _read(serializers.WithdrawSet, request)
        withdraw_set(session=session, client_key=data["client_key"], now=clock.now())
        return Response(status=204)


class SessionPain(SessionView):
    """Pain ratings of an own session."""

    permission_classes = [IsAuthenticated, IsPatient]

    @extend_schema(
        request=serializers.RatePain,
        responses={201: serializers.Recorded},
        operation_id="session_rate_pain",
    )
    def post(self, request: Request, session_id: uuid.UUID) -> Response:
        """Record a rating; a later one of the same moment corrects it while one recalls."""
        now = clock.now()
        session = access_session(viewer_of(request), session_id)
        data = _read(serializers.RatePain, request)
        row = rate_moment(
            session=session,
            occurred_at=data.pop("occurred_at", now),
            now=now,
            backfill_hours=policy_of_patient(session.patient).backfill_hours,
            **data,
        )
        return Response(serializers.Recorded(row).data, status=201)


class SessionStops(SessionView):
    """Exercises stopped for sharp pain."""

    permission_classes = [IsAuthenticated, IsPatient]

    @extend_schema(
        request=serializers.StopExercise,
        responses={201: serializers.Recorded},
        operation_id="session_stop_exercise",
    )
    def post(self, request: Request, session_id: uuid.UUID) -> Response:
        """Stop an exercise; the team's flag is open when this answers."""
        now = clock.now()
        session = access_session(viewer_of(request), session_id)
        data = _read(serializers.StopExercise, request)
        row = stop_exercise(
            session=session,
            prescription_id=data.pop("prescription"),
            occurred_at=data.pop("occurred_at", now),
            now=now,
            **data,
        )
        return Response(serializers.Recorded(row).data, status=201)


class SessionFinish(SessionView):
    """The end of an own session."""

    permission_classes = [IsAuthenticated, IsPatient]

    @extend_schema(
        request=serializers.FinishSession,
        responses=serializers.Session,
        operation_id="session_finish",
    )
    def post(self, request: Request, session_id: uuid.UUID) -> Response:
        """Close the session with what was done."""
        session = access_session(viewer_of(request), session_id)
        data = _read(serializers.FinishSession, request)
        session = finish_session(session=session, now=clock.now(), **data)
        enqueue(review_one, patient_id=str(session.patient_id))
        return Response(serializers.Session(session).data)


class Flags(APIView):
    """Flags of a therapist's patients."""

    permission_classes = [IsAuthenticated, IsStaffMember]

    @extend_schema(
        parameters=PAGE_PARAMETERS,
        responses=paged_shape(serializers.Flag),
        operation_id="flags_list",
    )
    def get(self, request: Request) -> Response:
        """List flags, newest first."""
        rows = visible_flags(viewer_of(request), at=clock.now())
        return paged(request, rows.order_by("-raised_at", "pk"), serializers.Flag)
