"""Runs the demo's parts side by side: Redis-protocol server, worker, beat and web server."""

from __future__ import annotations

import errno
import fcntl
import http.client
import os
import shutil
import socket
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from shared.processes import (
    CannotStart,
    Child,
    check_port,
    ending,
    free_port,
    start_child,
    start_redis,
    stop_children,
    wait_until,
)

LOCK = "demo.lock"
DATABASE_FILES = (
    "db.sqlite3",
    "db.sqlite3-wal",
    "db.sqlite3-shm",
    "db.sqlite3-journal",
)
# Beat's schedule is a shelf: which of these files exist depends on the platform's dbm.
SCHEDULE_FILES = tuple(f"beat-schedule{end}" for end in ("", ".db", ".dat", ".dir", ".bak"))
LOADING = "loading"
EVERYWHERE = {"0.0.0.0": "127.0.0.1", "::": "::1"}  # noqa: S104 - where to knock


@dataclass
class Supervisor:
    """Starts the parts in order, watches them, and stops all of them whatever happens.

    `root` is the checkout, `data` the folder for database, mailbox, clock and logs, `say` shows
    one line to the person.
    """

    root: Path
    data: Path
    host: str
    port: int
    say: Callable[[str], None]
    children: list[Child] = field(default_factory=list)
    environment: dict[str, str] = field(default_factory=dict)

    @property
    def address(self) -> str:
        """Return where a browser on this machine finds the web server."""
        host = EVERYWHERE.get(self.host, self.host)
        return f"http://[{host}]:{self.port}" if ":" in host else f"http://{host}:{self.port}"

    @contextmanager
    def running(self, *, fresh: bool) -> Iterator[None]:
        """Have all parts running within, none of them before and after. Raises CannotStart."""
        with hold(self.data):
            self._check_port()
            if fresh or (self.data / LOADING).exists():
                self._start_over(asked=fresh)
            try:
                self._start()
                yield
            finally:
                # The Redis-protocol server, first in the list, ends last: the others still talk
                # to it while they end.
                stop_children(self.children[1:])
                stop_children(self.children[:1])

    def watch(self, until: Child | None = None) -> int:
        """Return the exit code of `until`; raise CannotStart as soon as any part ends."""
        while True:
            for child in self.children:
                if child is not until and child.exit_code() is not None:
                    raise CannotStart(ending(child))
            if until is not None:
                code = until.exit_code()
                if code is not None:
                    return code
            time.sleep(0.1)

    def run_step(self, name: str, *arguments: str) -> int:
        """Run a manage.py command beside the parts, showing what it prints; return its code."""
        step = self._python(name, str(self.root / "manage.py"), *arguments, log=None)
        try:
            return self.watch(until=step)
        finally:
            stop_children([step])
            self.children.remove(step)

    def _check_port(self) -> None:
        try:
            check_port(self.host, self.port)
        except socket.gaierror:
            raise CannotStart(f"--host {self.host} is not an address of this machine.") from None
        except (OSError, OverflowError) as problem:
            number = getattr(problem, "errno", None)
            if number == errno.EADDRINUSE:
                raise CannotStart(
                    f"Port {self.port} is in use by another program; choose another one with "
                    f"--port, for example --port {free_port()}."
                ) from None
            if number == errno.EADDRNOTAVAIL:
                raise CannotStart(
                    f"--host {self.host} is not an address of this machine."
                ) from None
            raise CannotStart(
                f"Port {self.port} on {self.host} cannot be used ({problem}); "
                "choose another one with --port."
            ) from None

    def _start_over(self, *, asked: bool) -> None:
        if os.environ.get("DATABASE_URL"):
            raise CannotStart(
                "--fresh only removes the demo's own SQLite database, and DATABASE_URL names "
                "another one; empty that one yourself, or unset DATABASE_URL."
            )
        if not asked:
            self.say("An earlier start was interrupted while it loaded the demo; starting over.")
        start_over(self.data)

    def _start(self) -> None:
        server = start_redis(self.data / "logs", url=os.environ.get("REDIS_URL", ""))
        if server.child is not None:
            self.children.append(server.child)
        self.environment = {
            "CARRYOVER_DATA": str(self.data),
            "DJANGO_SETTINGS_MODULE": "clinic.settings.demo",
            "REDIS_URL": server.url,
            "SITE_URL": self.address,
            "ALLOWED_HOSTS": os.environ.get("ALLOWED_HOSTS")
            or EVERYWHERE.get(self.host, self.host),
            "PYTHONUNBUFFERED": "1",
        }
        if self.run_step("The preparation of the database", "prepare_demo") != 0:
            raise CannotStart("The database could not be prepared; the reason stands above.")
        web = self._python(
            "The web server",
            *("-m", "granian", "--interface", "wsgi", "--host", self.host),
            *("--port", str(self.port), "--workers", "1", "--blocking-threads", "2"),
            *("--no-ws", "--log-level", "warning", "clinic.wsgi:application"),
            log=self.data / "logs" / "web.log",
        )
        celery = ("-m", "celery", "-A", "clinic")
        self._python(
            "The Celery worker",
            # One process and no children of its own: two cores are enough for everything.
            *(*celery, "worker", "--pool", "solo", "--loglevel", "WARNING"),
            *("--without-gossip", "--without-mingle"),
            log=self.data / "logs" / "worker.log",
        )
        self._python(
            "Celery beat",
            *(*celery, "beat", "--loglevel", "WARNING", "--pidfile", ""),
            *("--schedule", str(self.data / "beat-schedule")),
            log=self.data / "logs" / "beat.log",
        )
        wait_until(self._serves, web, seconds=60)

    def _python(self, name: str, *arguments: str, log: Path | None) -> Child:
        child = start_child(
            name,
            [sys.executable, *arguments],
            log=log,
            env=self.environment,
            cwd=self.root,
        )
        self.children.append(child)
        return child

    def _serves(self) -> bool:
        host = EVERYWHERE.get(self.host, self.host)
        connection = http.client.HTTPConnection(host, self.port, timeout=5)
        try:
            connection.request("GET", "/healthz")
            return connection.getresponse().status == 200
        except (OSError, http.client.HTTPException):
            return False
        finally:
            connection.close()


@contextmanager
def hold(data: Path) -> Iterator[None]:
    """Make the data folder if need be and keep every other demo out of it; CannotStart if not."""
    try:
        data.mkdir(parents=True, exist_ok=True)
        handle = (data / LOCK).open("a+")
    except OSError as problem:
        raise CannotStart(
            f"Carryover cannot write to its data folder {data} ({problem.strerror}); "
            "give this user write access, or name another folder in CARRYOVER_DATA."
        ) from None
    with handle:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            handle.seek(0)
            raise CannotStart(
                f"Another demo (process {handle.read().strip() or 'unknown'}) uses the data folder "
                f"{data}; stop that one first, or name another folder in CARRYOVER_DATA."
            ) from None
        handle.truncate(0)
        handle.write(f"{os.getpid()}\n")
        handle.flush()
        yield


def start_over(data: Path) -> None:
    """Remove the demo's database, mailbox, clock and schedule from its folder, nothing else."""
    for name in (*DATABASE_FILES, *SCHEDULE_FILES, "clock", LOADING):
        (data / name).unlink(missing_ok=True)
    mailbox = data / "mailbox"
    if mailbox.is_symlink():
        mailbox.unlink()
    elif mailbox.exists():
        shutil.rmtree(mailbox)
