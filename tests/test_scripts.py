"""The tests of the scripts, run by node's own runner: the one that the browser's driver brings."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from playwright._impl._driver import compute_driver_executable

TESTS = Path(__file__).resolve().parent
SCRIPTS = sorted(TESTS.rglob("*.test.mjs"))


@pytest.mark.parametrize("script", SCRIPTS, ids=lambda path: path.name)
def test_script(script: Path) -> None:
    node, _driver = compute_driver_executable()
    run = subprocess.run(
        [node, "--test", script], capture_output=True, text=True, timeout=120, check=False
    )
    assert run.returncode == 0, run.stdout[-6000:]


def test_there_are_tests_of_scripts() -> None:
    assert SCRIPTS
