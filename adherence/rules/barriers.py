"""Why a session was not done: one code a reason, in the patient's words and in the therapist's.

The codes are reasons that studies of home exercise found to matter, and some for the clinic's own
part in it.
"""

from enum import StrEnum

from programs.rules.wording import Translate


class Barrier(StrEnum):
    """Reason for a session not done, or not done in full."""

    PAIN_FLARE = "PAIN_FLARE"
    FATIGUE = "FATIGUE"
    UNWELL = "UNWELL"
    FORGOT = "FORGOT"
    UNSURE_HOW = "UNSURE_HOW"
    TOO_COMPLEX = "TOO_COMPLEX"
    NO_TIME = "NO_TIME"
    NO_PLACE = "NO_PLACE"
    NO_EQUIPMENT = "NO_EQUIPMENT"
    TRAVEL = "TRAVEL"
    NO_SUPPORT = "NO_SUPPORT"
    CARING_DUTIES = "CARING_DUTIES"
    NO_BENEFIT = "NO_BENEFIT"
    FEELS_BETTER = "FEELS_BETTER"
    FEAR_OF_HARM = "FEAR_OF_HARM"
    LOW_CONFIDENCE = "LOW_CONFIDENCE"
    LOW_MOOD = "LOW_MOOD"
    NOT_IN_ROUTINE = "NOT_IN_ROUTINE"
    BORING = "BORING"
    DOUBTS_UNANSWERED = "DOUBTS_UNANSWERED"
    TOO_MANY = "TOO_MANY"
    PLAN_UNCLEAR = "PLAN_UNCLEAR"
    OTHER = "OTHER"


# What the picker offers first; everything else stands under "something else".
SHORT_LIST: tuple[Barrier, ...] = (
    Barrier.PAIN_FLARE,
    Barrier.FATIGUE,
    Barrier.UNWELL,
    Barrier.NO_TIME,
    Barrier.FORGOT,
    Barrier.UNSURE_HOW,
    Barrier.FEELS_BETTER,
    Barrier.FEAR_OF_HARM,
)
LONG_LIST: tuple[Barrier, ...] = tuple(b for b in Barrier if b not in SHORT_LIST)


def barrier_wording(barrier: Barrier | str, translate: Translate) -> str:
    """What the patient picks, in the first person. Raises ValueError on an unknown code."""
    _ = translate
    wordings = {
        Barrier.PAIN_FLARE: _("It hurt more than usual"),
        Barrier.FATIGUE: _("I was too tired"),
        Barrier.UNWELL: _("I was ill"),
        Barrier.FORGOT: _("I forgot"),
        Barrier.UNSURE_HOW: _("I am not sure I do it right"),
        Barrier.TOO_COMPLEX: _("It is too hard to follow"),
        Barrier.NO_TIME: _("I had no time"),
        Barrier.NO_PLACE: _("I had nowhere to do it"),
        Barrier.NO_EQUIPMENT: _("I did not have the things I need"),
        Barrier.TRAVEL: _("I was away from home"),
        Barrier.NO_SUPPORT: _("I had nobody to help me"),
        Barrier.CARING_DUTIES: _("I was looking after others"),
        Barrier.NO_BENEFIT: _("It does not seem to help"),
        Barrier.FEELS_BETTER: _("I feel better already"),
        Barrier.FEAR_OF_HARM: _("I am afraid it may do harm"),
        Barrier.LOW_CONFIDENCE: _("I do not think I can do it"),
        Barrier.LOW_MOOD: _("I felt low"),
        Barrier.NOT_IN_ROUTINE: _("It is not part of my day yet"),
        Barrier.BORING: _("I find it dull"),
        Barrier.DOUBTS_UNANSWERED: _("I have a question first"),
        Barrier.TOO_MANY: _("There are too many exercises"),
        Barrier.PLAN_UNCLEAR: _("I do not know what is planned"),
        Barrier.OTHER: _("Something else"),
    }
    return wordings[Barrier(barrier)]


def barrier_reason(barrier: Barrier | str, translate: Translate) -> str:
    """What the therapist reads within a sentence. Raises ValueError on an unknown code."""
    _ = translate
    reasons = {
        Barrier.PAIN_FLARE: _("more pain"),
        Barrier.FATIGUE: _("too tired"),
        Barrier.UNWELL: _("ill"),
        Barrier.FORGOT: _("forgot"),
        Barrier.UNSURE_HOW: _("unsure how"),
        Barrier.TOO_COMPLEX: _("too hard to follow"),
        Barrier.NO_TIME: _("no time"),
        Barrier.NO_PLACE: _("no place"),
        Barrier.NO_EQUIPMENT: _("no equipment"),
        Barrier.TRAVEL: _("away from home"),
        Barrier.NO_SUPPORT: _("nobody to help"),
        Barrier.CARING_DUTIES: _("looking after others"),
        Barrier.NO_BENEFIT: _("sees no benefit"),
        Barrier.FEELS_BETTER: _("feels better"),
        Barrier.FEAR_OF_HARM: _("afraid of harm"),
        Barrier.LOW_CONFIDENCE: _("not confident"),
        Barrier.LOW_MOOD: _("low mood"),
        Barrier.NOT_IN_ROUTINE: _("not in a routine"),
        Barrier.BORING: _("finds it dull"),
        Barrier.DOUBTS_UNANSWERED: _("has a question"),
        Barrier.TOO_MANY: _("too many exercises"),
        Barrier.PLAN_UNCLEAR: _("plan unclear"),
        Barrier.OTHER: _("another reason"),
    }
    return reasons[Barrier(barrier)]
