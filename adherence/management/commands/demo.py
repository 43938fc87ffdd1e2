"""Runs Carryover with an invented clinic: database, worker, beat and web server."""

from __future__ import annotations

import sys
from argparse import ArgumentParser, ArgumentTypeError
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse

from adherence.management.supervisor import Supervisor
from clinic.queries import demo_cast
from shared.processes import CannotStart, StopRequested, free_port, stop_signals


def port_number(text: str) -> int:
    """Read --port; ArgumentTypeError outside 1 to 65535."""
    if text.isdecimal() and 1 <= int(text) <= 65535:
        return int(text)
    raise ArgumentTypeError("a port is a number from 1 to 65535")


class Command(BaseCommand):
    """Serves until it is stopped, or plays the tour and ends."""

    help = "Sets up and runs the demo: an invented clinic with real parts."
    # The database may not exist yet, and each part checks the project itself.
    requires_system_checks = ()
    requires_migrations_checks = False

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to serve on")
        parser.add_argument(
            "--port", type=port_number, help="port to serve on (8000; the tour: any)"
        )
        parser.add_argument("--fresh", action="store_true", help="forget everything and start over")
        parser.add_argument(
            "--tour",
            action="store_true",
            help="play the main job on fresh data and end",
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.IS_DEMO:
            raise CommandError("The demo runs with its own settings: leave DJANGO_SETTINGS_MODULE.")
        data: Path = settings.DATA_DIR.resolve()
        tour: bool = options["tour"]
        supervisor = Supervisor(
            root=settings.BASE_DIR,
            data=data / "tour" if tour else data,
            host=options["host"],
            port=options["port"] or (free_port() if tour else 8000),
            say=self.say,
        )
        code = 0
        try:
            with stop_signals(), supervisor.running(fresh=tour or options["fresh"]):
                if tour:
                    code = supervisor.run_step("The tour", "play_tour", supervisor.address)
                else:
                    self.show(supervisor.address)
                    supervisor.watch()
        except CannotStart as problem:
            raise CommandError(str(problem)) from None
        except StopRequested:
            self.say("\nStopped: nothing is left running.")
            code = 1 if tour else 0
        sys.exit(code)

    def say(self, line: str) -> None:
        """Write a line at once, so that it stands before what the parts write."""
        self.stdout.write(line)
        self.stdout.flush()

    def show(self, address: str) -> None:
        """Print where the demo is and who can sign in."""
        cast = [(person.role, person.name, person.email) for person in demo_cast()]
        widths = [max((len(row[column]) for row in cast), default=0) for column in (0, 1)]
        self.say(f"Carryover is running at {address}")
        self.say(f"Sign in as one of these; everybody's password is {settings.DEMO_PASSWORD}")
        for role, name, email in cast:
            self.say(f"  {role:<{widths[0]}}  {name:<{widths[1]}}  {email}")
        self.say(f"Mail that the demo sends: {address}{reverse('demo_mailbox')}")
        self.say("Ctrl-C stops all of it. The data stays; --fresh starts over.")
