#!/usr/bin/env python3
"""Carryover's commands. Run by a bare python3, it first makes the project's own environment."""

import os
import sys

if sys.version_info < (3, 11):  # noqa: UP036 - the sentence for people whose Python is older
    sys.exit(
        "Carryover needs Python 3.11 or later, and this one is %d.%d; "  # noqa: UP031
        "run manage.py with a newer python3." % sys.version_info[:2]
    )
if sys.platform == "win32":
    sys.exit("Carryover runs on Linux and macOS; on Windows use the Linux subsystem (WSL).")

from shared import chromium, environment

SETTINGS = {"demo": "clinic.settings.demo", "test": "clinic.settings.test"}


def main() -> None:
    """Enter a Python that has the packages, then hand over to Django, or to pytest for `test`."""
    command = sys.argv[1] if len(sys.argv) > 1 else ""
    os.environ.setdefault(
        "DJANGO_SETTINGS_MODULE", SETTINGS.get(command, "clinic.settings.development")
    )
    try:
        environment.enter(sys.argv)
        if command == "test":
            chromium.export()
            environment.run_pytest(sys.argv[2:])
    except environment.NotPossible as problem:
        sys.exit(str(problem))
    except KeyboardInterrupt:
        sys.exit("Interrupted; the same command starts it again.")

    # Only now: before this line the packages may not have been there.
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line(sys.argv)
    except KeyboardInterrupt:
        sys.exit("Interrupted.")


if __name__ == "__main__":
    main()
