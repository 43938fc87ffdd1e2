"""Codes of the exercise library, with the plain words that go on a page."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from programs.rules.wording import gettext_noop


class Region(StrEnum):
    """The part of the body that an exercise is for."""

    SHOULDER = "SHOULDER"
    NECK = "NECK"
    THORACIC_SPINE = "THORACIC_SPINE"
    LUMBAR_SPINE = "LUMBAR_SPINE"
    HIP = "HIP"
    KNEE = "KNEE"
    ANKLE_FOOT = "ANKLE_FOOT"
    BALANCE = "BALANCE"


class Aim(StrEnum):
    """What an exercise is to gain."""

    MOBILITY = "MOBILITY"
    STRENGTH = "STRENGTH"
    ENDURANCE = "ENDURANCE"
    BALANCE = "BALANCE"
    CONTROL = "CONTROL"
    AEROBIC = "AEROBIC"


class Position(StrEnum):
    """The position in which an exercise starts."""

    STANDING = "STANDING"
    SITTING = "SITTING"
    LYING_ON_BACK = "LYING_ON_BACK"
    LYING_ON_SIDE = "LYING_ON_SIDE"
    LYING_FACE_DOWN = "LYING_FACE_DOWN"
    HANDS_AND_KNEES = "HANDS_AND_KNEES"
    KNEELING = "KNEELING"
    HALF_KNEELING = "HALF_KNEELING"


class Equipment(StrEnum):
    """What has to be at hand."""

    MAT = "MAT"
    CHAIR = "CHAIR"
    STOOL = "STOOL"
    STEP = "STEP"
    WALL = "WALL"
    TABLE = "TABLE"
    STICK = "STICK"
    BAND = "BAND"
    WEIGHT = "WEIGHT"
    TOWEL = "TOWEL"
    BALL = "BALL"
    PILLOW = "PILLOW"
    DOORWAY = "DOORWAY"


class Precaution(StrEnum):
    """What on a patient's record makes a therapist look twice before assigning an exercise."""

    RECENT_SURGERY = "RECENT_SURGERY"
    RECENT_FRACTURE = "RECENT_FRACTURE"
    OSTEOPOROSIS = "OSTEOPOROSIS"
    JOINT_REPLACEMENT_HIP = "JOINT_REPLACEMENT_HIP"
    JOINT_REPLACEMENT_KNEE = "JOINT_REPLACEMENT_KNEE"
    RECENT_TENDON_REPAIR = "RECENT_TENDON_REPAIR"
    POOR_BALANCE = "POOR_BALANCE"
    DIZZINESS = "DIZZINESS"
    HIGH_BLOOD_PRESSURE = "HIGH_BLOOD_PRESSURE"
    HEART_CONDITION = "HEART_CONDITION"
    BREATHLESSNESS = "BREATHLESSNESS"
    PREGNANCY = "PREGNANCY"
    NUMBNESS = "NUMBNESS"
    SHOULDER_INSTABILITY = "SHOULDER_INSTABILITY"
    ACUTE_SWELLING = "ACUTE_SWELLING"
    CANNOT_GET_TO_FLOOR = "CANNOT_GET_TO_FLOOR"
    CANNOT_KNEEL = "CANNOT_KNEEL"
    NECK_ARTERY_CAUTION = "NECK_ARTERY_CAUTION"


class AlternativeReason(StrEnum):
    """Why another exercise may stand in for the one on a rung."""

    EQUIPMENT = "EQUIPMENT"
    PLACE = "PLACE"
    RANGE = "RANGE"


REGION_NAMES: Mapping[Region, str] = {
    Region.SHOULDER: gettext_noop("Shoulder"),
    Region.NECK: gettext_noop("Neck"),
    Region.THORACIC_SPINE: gettext_noop("Upper back"),
    Region.LUMBAR_SPINE: gettext_noop("Lower back"),
    Region.HIP: gettext_noop("Hip"),
    Region.KNEE: gettext_noop("Knee"),
    Region.ANKLE_FOOT: gettext_noop("Ankle and foot"),
    Region.BALANCE: gettext_noop("Balance"),
}

AIM_NAMES: Mapping[Aim, str] = {
    Aim.MOBILITY: gettext_noop("Mobility"),
    Aim.STRENGTH: gettext_noop("Strength"),
    Aim.ENDURANCE: gettext_noop("Endurance"),
    Aim.BALANCE: gettext_noop("Balance"),
    Aim.CONTROL: gettext_noop("Control"),
    Aim.AEROBIC: gettext_noop("Aerobic fitness"),
}

POSITION_NAMES: Mapping[Position, str] = {
    Position.STANDING: gettext_noop("Standing"),
    Position.SITTING: gettext_noop("Sitting"),
    Position.LYING_ON_BACK: gettext_noop("Lying on your back"),
    Position.LYING_ON_SIDE: gettext_noop("Lying on your side"),
    Position.LYING_FACE_DOWN: gettext_noop("Lying face down"),
    Position.HANDS_AND_KNEES: gettext_noop("On hands and knees"),
    Position.KNEELING: gettext_noop("Kneeling"),
    Position.HALF_KNEELING: gettext_noop("Kneeling on one knee"),
}

EQUIPMENT_NAMES: Mapping[Equipment, str] = {
    Equipment.MAT: gettext_noop("Mat"),
    Equipment.CHAIR: gettext_noop("Chair"),
    Equipment.STOOL: gettext_noop("Stool"),
    Equipment.STEP: gettext_noop("Step"),
    Equipment.WALL: gettext_noop("Wall"),
    Equipment.TABLE: gettext_noop("Table"),
    Equipment.STICK: gettext_noop("Stick"),
    Equipment.BAND: gettext_noop("Elastic band"),
    Equipment.WEIGHT: gettext_noop("Weight"),
    Equipment.TOWEL: gettext_noop("Towel"),
    Equipment.BALL: gettext_noop("Ball"),
    Equipment.PILLOW: gettext_noop("Pillow"),
    Equipment.DOORWAY: gettext_noop("Doorway"),
}

ALTERNATIVE_REASON_NAMES: Mapping[AlternativeReason, str] = {
    AlternativeReason.EQUIPMENT: gettext_noop("Other equipment"),
    AlternativeReason.PLACE: gettext_noop("Another place or position"),
    AlternativeReason.RANGE: gettext_noop("Less range needed elsewhere"),
}

PRECAUTION_TEXTS: Mapping[Precaution, str] = {
    Precaution.RECENT_SURGERY: gettext_noop("Operation in the last months"),
    Precaution.RECENT_FRACTURE: gettext_noop("Broken bone that is still healing"),
    Precaution.OSTEOPOROSIS: gettext_noop("Thin bones (osteoporosis)"),
    Precaution.JOINT_REPLACEMENT_HIP: gettext_noop("Hip replacement"),
    Precaution.JOINT_REPLACEMENT_KNEE: gettext_noop("Knee replacement"),
    Precaution.RECENT_TENDON_REPAIR: gettext_noop("Tendon repaired in the last months"),
    Precaution.POOR_BALANCE: gettext_noop("Unsteady on the feet, or a fall in the last year"),
    Precaution.DIZZINESS: gettext_noop("Dizziness or fainting"),
    Precaution.HIGH_BLOOD_PRESSURE: gettext_noop("High blood pressure that is not controlled"),
    Precaution.HEART_CONDITION: gettext_noop("Heart condition"),
    Precaution.BREATHLESSNESS: gettext_noop("Short of breath at rest or on little effort"),
    Precaution.PREGNANCY: gettext_noop("Pregnancy, or birth in the last months"),
    Precaution.NUMBNESS: gettext_noop("Numbness, tingling or weakness in an arm or leg"),
    Precaution.SHOULDER_INSTABILITY: gettext_noop("Shoulder that slips or has been dislocated"),
    Precaution.ACUTE_SWELLING: gettext_noop("Joint that is hot or newly swollen"),
    Precaution.CANNOT_GET_TO_FLOOR: gettext_noop("Cannot get down to the floor and up again"),
    Precaution.CANNOT_KNEEL: gettext_noop("Cannot kneel"),
    Precaution.NECK_ARTERY_CAUTION: gettext_noop("Caution with neck movement at end of range"),
}
