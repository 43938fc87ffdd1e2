"""Wording: every sentence goes through translation and keeps its figures."""

import pytest

from adherence.rules.sentences import reason_list, sentence
from programs.rules.wording import plain, plain_plural

PAIN = {
    "series": "WORST",
    "scores": [5, 6],
    "usual": 3.04,
    "evidence": 7.0,
    "limit": 6.0,
    "jump": 4.0,
    "later": [],
}
MISSED = {"missed": 1, "due": 1, "reasons": [], "no_entry": 0}
CASES = [
    ("PAIN_TREND", PAIN, "Worst pain 5 6, usual 3.0; evidence 7.0 of 6.0."),
    (
        "PAIN_TREND",
        {**PAIN, "series": "NEXT_MORNING", "later": [4]},
        "Next-morning pain 5 6, usual 3.0; evidence 7.0 of 6.0. Since then 4.",
    ),
    ("PAIN_JUMP", PAIN, "Worst pain 6, usual 3.0; a jump of 3.0, limit 4.0."),
    ("MISSED_SESSIONS", MISSED, "The last due session was not done."),
    (
        "MISSED_SESSIONS",
        {**MISSED, "missed": 3, "due": 4, "no_entry": 3},
        "3 of the last 4 sessions not done, no entry.",
    ),
    (
        "SHARP_PAIN",
        {"exercise": "Bridge 100 %", "score": 0, "stops": 3},
        "Bridge 100 % stopped for sharp pain, rated 0 of 10. 2 more stops.",
    ),
    ("NOT_STARTED", {"due": 1}, "Not started: 1 session due, no entry."),
    ("SHARE", {"done": 0, "due": 1, "days": 14}, "0 of 1 session in 14 days."),
    (
        "SHARE",
        {"done": 0, "due": 5, "days": 14, "target": 62.5},
        "0 of 5 sessions in 14 days, target 62.5 %.",
    ),
    ("SILENT", {"days": 1}, "No entry and no reason for 1 day."),
    ("SILENT", {"sessions": 1}, "No entry for the last due session."),
    ("", {}, ""),
]


@pytest.mark.parametrize(("code", "parameters", "expected"), CASES)
def test_the_sentence_of_each_code(code, parameters, expected):
    assert sentence(code, parameters, plain, plain_plural) == expected


@pytest.mark.parametrize(("code", "parameters"), [case[:2] for case in CASES[:-1]])
def test_no_word_escapes_translation(code, parameters):
    """With every message replaced by a mark of its own, no English of ours is left."""

    def marked(text):
        keys = [part.split(")")[0] for part in text.split("%(")[1:]]
        return " ".join(["#", *(f"%({key})s" for key in keys)])

    def marked_plural(one, many, count):
        return marked(one if count == 1 else many)

    said = sentence(code, parameters, marked, marked_plural)
    for word in ("pain", "sessions", "entry", "stopped", "usual", "target", "stop", "Since"):
        assert word not in said.replace("Bridge 100 %", "")


def test_the_most_frequent_reasons_come_first_and_only_three():
    codes = ["BORING", "NO_TIME", "NO_TIME", "FORGOT", "UNWELL", "GONE_OUT_OF_USE"]
    assert reason_list(codes, plain) == "no time, finds it dull, forgot"
    assert reason_list([], plain) == ""
