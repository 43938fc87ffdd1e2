"""Routes of the library and programs."""

from __future__ import annotations

from django.urls import path

import programs.api.views as api
from programs.views import editor, ladders, library, programs

program_routes = [
    path("patients/<uuid:patient_id>/program/", programs.program, name="program"),
    path("patients/<uuid:patient_id>/program/new/", programs.program_new, name="program_new"),
    path("programs/<uuid:program_id>/edit/", editor.program_edit, name="program_edit"),
    path("programs/<uuid:program_id>/issue/", editor.program_issue, name="program_issue"),
    path("programs/<uuid:program_id>/pause/", programs.program_pause, name="program_pause"),
    path("programs/<uuid:program_id>/resume/", programs.program_resume, name="program_resume"),
    path(
        "programs/<uuid:program_id>/complete/", programs.program_complete, name="program_complete"
    ),
    path("programs/<uuid:program_id>/discard/", programs.program_discard, name="program_discard"),
    path("programs/<uuid:program_id>/print/", programs.program_print, name="program_print"),
    path(
        "programs/<uuid:program_id>/revisions/<int:number>/",
        programs.program_revision,
        name="program_revision",
    ),
]

library_routes = [
    path("library/", library.library, name="library"),
    path("library/ladders/", ladders.ladders, name="ladders"),
    path("library/ladders/<slug:slug>/", ladders.ladder, name="ladder"),
    path("library/<slug:slug>/", library.exercise, name="exercise"),
]

api_routes = [
    path("api/v1/exercises/", api.Exercises.as_view(), name="api_exercises"),
    path("api/v1/programs/", api.Programs.as_view(), name="api_programs"),
    path("api/v1/programs/<uuid:program_id>/", api.ProgramDetail.as_view(), name="api_program"),
]

urlpatterns = [*library_routes, *program_routes, *api_routes]
