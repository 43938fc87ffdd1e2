"""The run on SQLite runs everything where databases differ on a real PostgreSQL as well."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
OURS = ("REDIS_URL", "DATABASE_URL", "CARRYOVER_DATA", "PYTEST_ADDOPTS")


def test_constraints_locks_races_and_migrations_hold_on_postgresql():
    """A run of its own, with its own servers: the settings of this one are loaded already."""
    environment = {
        name: value
        for name, value in os.environ.items()
        if name not in OURS and not name.startswith("PYTEST_XDIST")
    }
    environment["CARRYOVER_TEST_DATABASE"] = "postgresql"
    run = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-n", "0", "-m", "databases_differ"],
        cwd=ROOT,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )
    told = run.stdout[-6000:] + run.stderr[-2000:]
    assert run.returncode == 0, told
    passed = re.search(r"(\d+) passed", run.stdout)
    assert passed, told
    assert int(passed[1]) > 0
