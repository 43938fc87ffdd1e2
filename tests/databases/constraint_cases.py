"""For each constraint, rows that break it: one line per constraint.

A check is broken by one row with the given fields. A uniqueness is broken by a second row that
shares the named fields with the first.
"""

from __future__ import annotations

from datetime import date, time, timedelta

from adherence.models import FlagStatus, FollowUpStatus, SessionStatus
from programs.models import ProgramStatus, RevisionStatus
from tests import factories as f
from tests.factories import JOINED, NOW, TODAY

YESTERDAY = TODAY - timedelta(days=1)

# name: (factory, fields of one bad row, fields of another one, …)
CHECKS = {
    "membership_role_known": (f.MembershipFactory, {"role": "OWNER"}),
    "policy_target_percent_in_range": (
        f.ClinicPolicyFactory,
        {"target_percent": 49},
        {"target_percent": 101},
    ),
    "policy_pain_limit_in_range": (f.ClinicPolicyFactory, {"pain_limit": 9}),
    "policy_pain_evidence_limit_in_range": (
        f.ClinicPolicyFactory,
        {"pain_evidence_limit": 4.9},
        {"pain_evidence_limit": 8.1},
    ),
    "policy_pain_jump_in_range": (f.ClinicPolicyFactory, {"pain_jump": 2.9}, {"pain_jump": 6.1}),
    "policy_snooze_days_in_range": (f.ClinicPolicyFactory, {"snooze_days": 2}),
    "policy_misses_limit_daily_in_range": (f.ClinicPolicyFactory, {"misses_limit_daily": 1.9}),
    "policy_misses_limit_weekly_in_range": (f.ClinicPolicyFactory, {"misses_limit_weekly": 1.4}),
    "policy_silent_days_in_range": (f.ClinicPolicyFactory, {"silent_days": 22}),
    "policy_backfill_hours_in_range": (f.ClinicPolicyFactory, {"backfill_hours": 73}),
    "policy_morning_above_in_range": (f.ClinicPolicyFactory, {"morning_above": 9}),
    "policy_quiet_hours_overnight": (f.ClinicPolicyFactory, {"quiet_from": time(8)}),
    "care_ends_after_start": (
        f.CareRelationshipFactory,
        {"ends_at": JOINED - timedelta(seconds=1)},
    ),
    "invitation_kind_known": (f.InvitationFactory, {"kind": "GUEST"}),
    "invitation_names_patient_or_role": (
        f.InvitationFactory,
        {"role": "THERAPIST"},
        {"kind": "STAFF", "role": "THERAPIST"},
    ),
    "exercise_region_known": (f.ExerciseFactory, {"region": "TAIL"}),
    "exercise_aim_known": (f.ExerciseFactory, {"aim": "FUN"}),
    "exercise_position_known": (f.ExerciseFactory, {"position": "FLOATING"}),
    "exercise_dose_kind_known": (f.ExerciseFactory, {"dose_kind": "MILES"}),
    "exercise_side_mode_known": (f.ExerciseFactory, {"side_mode": "UPSIDE_DOWN"}),
    "rung_alternative_reason_known": (f.RungAlternativeFactory, {"because": "WHIM"}),
    "program_status_known": (f.ProgramFactory, {"status": "ON_HOLD"}),
    "program_end_has_a_date": (
        f.ProgramFactory,
        {"status": ProgramStatus.COMPLETED},
        {"completed_on": TODAY},
    ),
    "revision_status_known": (f.ProgramRevisionFactory, {"status": "LOST"}),
    "revision_pattern_known": (f.ProgramRevisionFactory, {"pattern": "MONTHLY"}),
    "revision_times_per_day_range": (
        f.ProgramRevisionFactory,
        {"times_per_day": 0},
        {"times_per_day": 7},
    ),
    "revision_every_days_range": (
        f.ProgramRevisionFactory,
        {"every_days": 1},
        {"every_days": 31},
    ),
    "revision_weekly_quota_range": (
        f.ProgramRevisionFactory,
        {"weekly_quota": 0},
        {"weekly_quota": 8},
    ),
    "revision_pain_limit_range": (f.ProgramRevisionFactory, {"pain_limit": 11}),
    "revision_ends_after_start": (f.ProgramRevisionFactory, {"ends_on": date(2026, 2, 1)}),
    "revision_issued_has_author_and_date": (
        f.ProgramRevisionFactory,
        {"issued_by": None},
        {"issued_at": None},
        {"effective_from": None},
        {"status": RevisionStatus.DRAFT},
    ),
    "revision_superseded_has_an_end": (
        f.ProgramRevisionFactory,
        {"status": RevisionStatus.SUPERSEDED},
        {"effective_until": TODAY},
    ),
    "prescription_side_known": (f.PrescriptionFactory, {"side": "TOP"}),
    "prescription_kind_known": (f.PrescriptionFactory, {"kind": "MILES"}),
    "prescription_load_unit_known": (f.PrescriptionFactory, {"load_unit": "STONE"}),
    "prescription_sets_range": (f.PrescriptionFactory, {"sets": 0}, {"sets": 11}),
    "prescription_repetitions_range": (
        f.PrescriptionFactory,
        {"repetitions": 0},
        {"repetitions": 101},
    ),
    "prescription_hold_range": (
        f.PrescriptionFactory,
        {"kind": "HOLD", "repetitions": None, "hold_seconds": 601},
    ),
    "prescription_duration_range": (
        f.PrescriptionFactory,
        {"kind": "TIMED", "repetitions": None, "duration_seconds": 4},
    ),
    "prescription_rest_range": (f.PrescriptionFactory, {"rest_seconds": 601}),
    "prescription_load_range": (f.PrescriptionFactory, {"load_value": 201}, {"load_value": -1}),
    "prescription_effort_range": (f.PrescriptionFactory, {"effort_target": 11}),
    "prescription_dose_fits_its_kind": (
        f.PrescriptionFactory,
        {"repetitions": None},
        {"hold_seconds": 5},
        {"kind": "HOLD"},
        {"kind": "TIMED", "repetitions": None},
    ),
    "pause_reason_known": (f.ProgramPauseFactory, {"reason": "RAIN"}),
    "pause_ends_after_start": (f.ProgramPauseFactory, {"ends_on": YESTERDAY}),
    "flag_kind_known": (f.FlagFactory, {"kind": "LAZY"}),
    "flag_severity_known": (f.FlagFactory, {"severity": "DOOM"}),
    "flag_status_known": (f.FlagFactory, {"status": "LOST"}),
    "flag_ended_has_a_time": (
        f.FlagFactory,
        {"status": FlagStatus.CLEARED},
        {"ended_at": NOW},
    ),
    "flag_closed_has_an_outcome": (
        f.FlagFactory,
        {"status": FlagStatus.CLOSED, "ended_at": NOW},
        {"status": FlagStatus.CLOSED, "ended_at": NOW, "outcome": "REFERRED"},
    ),
    "follow_up_kind_known": (f.FollowUpFactory, {"kind": "LETTER"}),
    "follow_up_planned_or_done": (
        f.FollowUpFactory,
        {"done_at": None},
        {"status": FollowUpStatus.PLANNED},
    ),
    "reminder_status_known": (f.ReminderFactory, {"status": "LOST"}),
    "reminder_sent_has_a_time": (f.ReminderFactory, {"status": "SENT"}),
    "session_status_known": (f.SessionLogFactory, {"status": "LOST"}),
    "session_slot_range": (f.SessionLogFactory, {"slot": 0}, {"slot": 13}),
    "session_effort_range": (f.SessionLogFactory, {"effort": 11}),
    "session_share_range": (f.SessionLogFactory, {"share": 1.01}, {"share": -0.1}),
    "session_not_done_has_a_reason": (
        f.SessionLogFactory,
        {"status": SessionStatus.NOT_DONE, "finished_at": NOW},
    ),
    "session_closed_has_a_time": (
        f.SessionLogFactory,
        {"status": SessionStatus.COMPLETED},
        {"finished_at": NOW},
    ),
    "set_side_known": (f.SetLogFactory, {"side": "TOP"}),
    "set_state_known": (f.SetLogFactory, {"state": "LOST"}),
    "set_number_range": (f.SetLogFactory, {"number": 0}, {"number": 11}),
    "set_repetitions_range": (f.SetLogFactory, {"repetitions": 1000}),
    "set_held_range": (f.SetLogFactory, {"held_seconds": 3601}),
    "set_moved_range": (f.SetLogFactory, {"moved_seconds": 7201}),
    "set_load_range": (f.SetLogFactory, {"load_value": 201}),
    "pain_moment_known": (f.PainRatingFactory, {"moment": "NOON"}),
    "pain_score_range": (f.PainRatingFactory, {"score": 11}),
    "stop_score_range": (f.ExerciseStopFactory, {"score": 11}),
}

# name: (factory, fields that the second row shares with the first, fields of both)
UNIQUE = {
    "user_email_once_whatever_case": (f.UserFactory, (), {}),  # see the test of its own
    "membership_once": (f.MembershipFactory, ("clinic", "user"), {}),
    "patient_one_record_per_user_and_clinic": (f.PatientFactory, ("clinic", "user"), {}),
    "care_one_lead_at_a_time": (f.CareRelationshipFactory, ("patient",), {}),
    "invitation_one_open_per_patient": (f.InvitationFactory, ("patient",), {}),
    "exercise_starter_slug_once": (f.ExerciseFactory, ("slug",), {}),
    "exercise_clinic_slug_once": (
        f.ExerciseFactory,
        ("slug", "clinic"),
        {"clinic": f.ClinicFactory},
    ),
    "exercise_revision_number_once": (f.ExerciseRevisionFactory, ("exercise", "number"), {}),
    "ladder_starter_slug_once": (f.LadderFactory, ("slug",), {}),
    "ladder_clinic_slug_once": (f.LadderFactory, ("slug", "clinic"), {"clinic": f.ClinicFactory}),
    "rung_position_once": (f.RungFactory, ("ladder", "position"), {}),
    "rung_alternative_once": (f.RungAlternativeFactory, ("rung", "exercise"), {}),
    "program_one_live_per_patient": (f.ProgramFactory, ("patient",), {}),
    "revision_number_once": (
        f.ProgramRevisionFactory,
        ("program", "number"),
        {"status": RevisionStatus.SUPERSEDED, "effective_until": TODAY},
    ),
    "revision_one_draft": (f.ProgramRevisionFactory, ("program",), {"draft": True}),
    "revision_one_in_force": (f.ProgramRevisionFactory, ("program",), {}),
    "prescription_position_once": (f.PrescriptionFactory, ("revision", "position"), {}),
    "pause_one_open": (f.ProgramPauseFactory, ("program",), {}),
    "flag_one_open_per_patient_and_kind": (f.FlagFactory, ("program",), {}),
    "reminder_once_a_slot": (f.ReminderFactory, ("patient",), {}),
    "session_client_key_once": (
        f.SessionLogFactory,
        ("revision", "client_key"),
        {"done": True},
    ),
    "session_slot_once_a_day": (f.SessionLogFactory, ("revision",), {"done": True}),
    "session_one_in_progress": (f.SessionLogFactory, ("revision",), {}),
    "set_client_key_once": (f.SetLogFactory, ("session", "client_key"), {}),
    "set_once": (f.SetLogFactory, ("session", "prescription"), {}),
    "pain_client_key_once": (f.PainRatingFactory, ("session", "client_key"), {"withdrawn_at": NOW}),
    "pain_once_a_moment": (f.PainRatingFactory, ("session",), {}),
    "stop_client_key_once": (f.ExerciseStopFactory, ("session", "client_key"), {}),
    "stop_once_an_exercise": (f.ExerciseStopFactory, ("session", "prescription"), {}),
}

# What differs between the two rows, where the first would break another constraint as well.
SECOND = {
    "revision_one_draft": {"number": 2},
    "revision_one_in_force": {"number": 2},
    "session_client_key_once": {"slot": 2},
    "session_one_in_progress": {"slot": 2},
}
