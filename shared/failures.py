"""How a failure may be told in a log: what it was and where, never what it was about."""

from __future__ import annotations

import traceback
from pathlib import PurePath


def kind_and_place(error: BaseException) -> str:
    """Return the kind of an error and the line that raised it, such as "ValueError in x.py:12".

    Its message is left out: a database quotes the row, and a row holds what a patient entered.
    """
    frames = traceback.extract_tb(error.__traceback__)
    place = f" in {PurePath(frames[-1].filename).name}:{frames[-1].lineno}" if frames else ""
    return type(error).__name__ + place
