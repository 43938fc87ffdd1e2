"""Read-only records of the library and of programs."""

from __future__ import annotations

import uuid
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.permissions import IsAuthenticated
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from clinic.access import IsStaffMember, viewer_of
from programs.access import read_program, readable_programs
from programs.api import serializers
from programs.queries.library import LibraryFilter, found_exercises
from programs.queries.program_record import program_record
from shared import clock
from shared.http import PAGE_PARAMETERS, paged, paged_shape


class Exercises(APIView):
    """The library that the viewer's clinic prescribes from."""

    permission_classes = [IsAuthenticated, IsStaffMember]

    @extend_schema(
        parameters=[serializers.ExerciseSearch, *PAGE_PARAMETERS],
        responses=paged_shape(serializers.Exercise),
        operation_id="exercises_list",
    )
    def get(self, request: Request) -> Response:
        """Search exercises, the best first, then by name."""
        asked = serializers.ExerciseSearch(data=request.query_params)
        asked.is_valid(raise_exception=True)
        wanted: dict[str, Any] = dict(asked.validated_data)
        rows = found_exercises(
            viewer_of(request).clinic_id,
            LibraryFilter(
                words=wanted.pop("q"), at_hand=frozenset(wanted.pop("at_hand", ())), **wanted
            ),
        )
        return paged(request, rows, serializers.Exercise)


class Programs(APIView):
    """Programs of a therapist's patients, and one's own."""

    permission_classes = [IsAuthenticated]

    @extend_schema(
        parameters=PAGE_PARAMETERS,
        responses=paged_shape(serializers.Program),
        operation_id="programs_list",
    )
    def get(self, request: Request) -> Response:
        """List programs, newest first."""
        rows = readable_programs(viewer_of(request), at=clock.now())
        return paged(request, rows.order_by("-created_at", "pk"), serializers.Program)


class ProgramDetail(APIView):
    """One program."""

    permission_classes = [IsAuthenticated]

    @extend_schema(responses=serializers.ProgramDetail, operation_id="program")
    def get(self, request: Request, program_id: uuid.UUID) -> Response:
        """Return what was issued, and the exercises of the revision issued last."""
        program = read_program(viewer_of(request), program_id, at=clock.now())
        return Response(serializers.ProgramDetail(program_record(program)).data)
