"""The zone rules come from the tzdata package alone, as the time-zone cases take for granted."""

from __future__ import annotations

import os
import zoneinfo


def test_system_zone_files_are_never_read():
    assert zoneinfo.TZPATH == ()
    assert os.environ["PYTHONTZPATH"] == ""
