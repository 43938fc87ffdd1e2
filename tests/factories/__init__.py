"""One factory per model: the least that makes a sound row, and no random clinical values.

Rows hang together by themselves: the clinic comes from the patient, the patient from the program.
Times lie before `NOW` and are given, not read from a clock.
"""

from .entries import library_entry
from .library_and_programs import (
    ExerciseFactory,
    ExerciseRevisionFactory,
    LadderFactory,
    PrescriptionFactory,
    ProgramFactory,
    ProgramPauseFactory,
    ProgramRevisionFactory,
    RungAlternativeFactory,
    RungFactory,
)
from .logs import (
    ExerciseStopFactory,
    FlagFactory,
    FollowUpFactory,
    PainRatingFactory,
    ReminderFactory,
    ReminderPreferenceFactory,
    ReviewFactory,
    SessionLogFactory,
    SetLogFactory,
    SweepFactory,
)
from .people import (
    PASSWORD,
    CareRelationshipFactory,
    ClinicFactory,
    ClinicPolicyFactory,
    InvitationFactory,
    MembershipFactory,
    PatientFactory,
    UserFactory,
)
from .times import JOINED, NOW, STARTED_AT, STARTED_ON, TODAY

__all__ = [
    "JOINED",
    "NOW",
    "PASSWORD",
    "STARTED_AT",
    "STARTED_ON",
    "TODAY",
    "CareRelationshipFactory",
    "ClinicFactory",
    "ClinicPolicyFactory",
    "ExerciseFactory",
    "ExerciseRevisionFactory",
    "ExerciseStopFactory",
    "FlagFactory",
    "FollowUpFactory",
    "InvitationFactory",
    "LadderFactory",
    "MembershipFactory",
    "PainRatingFactory",
    "PatientFactory",
    "PrescriptionFactory",
    "ProgramFactory",
    "ProgramPauseFactory",
    "ProgramRevisionFactory",
    "ReminderFactory",
    "ReminderPreferenceFactory",
    "ReviewFactory",
    "RungAlternativeFactory",
    "RungFactory",
    "SessionLogFactory",
    "SetLogFactory",
    "SweepFactory",
    "UserFactory",
    "library_entry",
]
