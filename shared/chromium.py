"""Finds the browser that the tests drive, or installs it. Standard library only."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

from shared.environment import NotPossible, say

VARIABLE = "CARRYOVER_CHROMIUM"
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
OWN_BROWSER = (
    "from playwright.sync_api import sync_playwright\n"
    "with sync_playwright() as p: print(p.chromium.executable_path)"
)


def export() -> None:
    """Name the browser in CARRYOVER_CHROMIUM for the tests; NotPossible if there is none."""
    os.environ[VARIABLE] = str(find() or install())


def find() -> Path | None:
    """Return a Chromium or Chrome that starts: the one named, on PATH, or the test tool's own."""
    named = os.environ.get(VARIABLE)
    if named:
        if not starts(Path(named)):
            raise NotPossible(
                f"{VARIABLE} names {named}, which does not start; "
                "correct it, or unset it to let the tests find a Chromium."
            )
        return Path(named)
    for name in NAMES:
        path = shutil.which(name)
        if path and starts(Path(path)):
            return Path(path)
    return _own()


def install() -> Path:
    """Install a Chromium: through the test tool, then through apt when root may."""
    say("The tests drive a Chromium and none was found; installing one, which may take minutes.")
    quick = os.environ | {"PLAYWRIGHT_DOWNLOAD_CONNECTION_TIMEOUT": "10000"}
    command = [sys.executable, "-m", "playwright", "install", "chromium"]
    if _succeeds(command, env=quick):
        found = _own()
        if found:
            return found
    if os.geteuid() == 0 and shutil.which("apt-get"):
        quiet = os.environ | {"DEBIAN_FRONTEND": "noninteractive"}
        _succeeds(["apt-get", "update", "-q"], env=quiet)
        _succeeds(["apt-get", "install", "-y", "-q", "chromium"], env=quiet)
        found = find()
        if found:
            return found
    raise NotPossible(
        "The tests need a Chromium, none was found and none could be installed; install one "
        f"(Debian: apt install chromium) or name its program in {VARIABLE}."
    )


def starts(program: Path) -> bool:
    """Return whether the program runs at all (a stub or one with libraries missing does not)."""
    return _succeeds([str(program), "--version"], timeout=30)


def _own() -> Path | None:
    try:
        asked = subprocess.run(
            [sys.executable, "-c", OWN_BROWSER],
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
    except (OSError, subprocess.TimeoutExpired):
        return None
    path = Path(asked.stdout.strip() or os.devnull)
    return path if path.is_file() and starts(path) else None


def _succeeds(
    command: list[str], *, env: dict[str, str] | None = None, timeout: float = 900
) -> bool:
    try:
        done = subprocess.run(command, env=env, capture_output=True, timeout=timeout, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return False
    return done.returncode == 0
