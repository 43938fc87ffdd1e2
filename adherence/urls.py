"""Routes of the patient's and the therapist's screens, and of the API that they use."""

from __future__ import annotations

from django.urls import path

from adherence.api import views as api
from adherence.views import (
    caseload,
    flags,
    paper,
    patient,
    progress,
    ready,
    reminders,
    session,
    today,
)

urlpatterns = [
    path("today/", today.today, name="today"),
    path("today/yesterday/", today.yesterday, name="yesterday"),
    path("today/not-done/", today.not_done, name="session_not_done"),
    path("today/pause/", today.pause, name="today_pause"),
    path("today/morning/<uuid:session_id>/", today.next_morning, name="next_morning"),
    path("progress/", progress.progress, name="progress"),
    path("reminders/", reminders.preference, name="reminder_preference"),
    path("reminders/stop/<str:token>/", reminders.stop, name="reminder_stop"),
    path("clinic/reminders/", reminders.delivery, name="clinic_reminders"),
    path("readyz", ready.ready, name="readyz"),
    path("session/start/", session.start, name="session_start"),
    path("session/<uuid:session_id>/", session.session, name="session"),
    path("session/<uuid:session_id>/before/", session.rate_before, name="session_before"),
    path("session/<uuid:session_id>/set/", session.log_one_set, name="session_set"),
    path("session/<uuid:session_id>/undo/", session.undo, name="session_undo"),
    path(
        "session/<uuid:session_id>/stop/<uuid:prescription_id>/", session.stop, name="session_stop"
    ),
    path("session/<uuid:session_id>/stopped/", session.stopped, name="session_stopped"),
    path("session/<uuid:session_id>/finish/", session.finish, name="session_finish"),
    path("session/<uuid:session_id>/done/", session.done, name="session_done"),
    path("caseload/", caseload.caseload, name="caseload"),
    path("patients/<uuid:patient_id>/", patient.patient, name="patient"),
    path("patients/<uuid:patient_id>/follow-up/", flags.follow_up_new, name="follow_up_new"),
    path("patients/<uuid:patient_id>/paper/", paper.paper_log, name="paper_log"),
    path("flags/<uuid:flag_id>/acknowledge/", flags.acknowledge, name="flag_acknowledge"),
    path("flags/<uuid:flag_id>/follow-up/", flags.follow_up, name="flag_follow_up"),
    path("flags/<uuid:flag_id>/close/", flags.close, name="flag_close"),
    path("follow-ups/<uuid:follow_up_id>/done/", flags.follow_up_done, name="follow_up_done"),
    path("api/v1/sessions/", api.Sessions.as_view(), name="api_sessions"),
    path("api/v1/sessions/<uuid:session_id>/", api.SessionDetail.as_view(), name="api_session"),
    path(
        "api/v1/sessions/<uuid:session_id>/sets/",
        api.SessionSets.as_view(),
        name="api_session_sets",
    ),
    path(
        "api/v1/sessions/<uuid:session_id>/pain/",
        api.SessionPain.as_view(),
        name="api_session_pain",
    ),
    path(
        "api/v1/sessions/<uuid:session_id>/stops/",
        api.SessionStops.as_view(),
        name="api_session_stops",
    ),
    path(
        "api/v1/sessions/<uuid:session_id>/finish/",
        api.SessionFinish.as_view(),
        name="api_session_finish",
    ),
    path("api/v1/flags/", api.Flags.as_view(), name="api_flags"),
]
