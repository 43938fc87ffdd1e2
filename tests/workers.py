"""Celery workers as processes of their own, to be killed where a test wants them to die."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path

import time_machine

from shared.environment import ROOT

COMMAND = (
    *(sys.executable, "-m", "celery", "-A", "clinic", "worker", "--pool", "solo"),
    *("--loglevel", "INFO", "--without-gossip", "--without-mingle"),
)


def soon(condition: Callable[[], object], *, seconds: float = 60) -> bool:
    """Return whether it came true in time."""
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        if condition():
            return True
        time.sleep(0.05)
    return False


class Worker:
    """One worker without children: its process is the one that sends."""

    def __init__(self, process: subprocess.Popen[bytes], log: Path) -> None:
        self.process = process
        self.log = log

    def told(self) -> str:
        """Return its log."""
        return self.log.read_text(errors="replace")

    def is_ready(self) -> bool:
        """Whether it takes tasks."""
        return " ready." in self.told()

    def kill(self) -> None:
        """End it as a power cut would."""
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.wait()


@contextmanager
def workers(count: int, environment: dict[str, str], **more: str) -> Iterator[list[Worker]]:
    """Have so many workers ready within, and none after."""
    folder = Path(environment["CARRYOVER_DATA"])
    started: list[Worker] = []
    try:
        for _ in range(count):
            log = folder / f"worker-{time.monotonic_ns()}.log"
            with log.open("wb") as output:
                process = subprocess.Popen(
                    [*COMMAND, "--hostname", f"{log.stem}@%h"],
                    cwd=ROOT,
                    env=environment | {"DJANGO_SETTINGS_MODULE": "tests.worker_settings"} | more,
                    stdout=output,
                    stderr=subprocess.STDOUT,
                )
            started.append(Worker(process, log))
        for worker in started:
            assert soon(worker.is_ready, seconds=90), worker.told()
        yield started
    finally:
        for worker in started:
            worker.process.terminate()
        for worker in started:
            try:
                worker.process.wait(timeout=15)
            except subprocess.TimeoutExpired:
                worker.kill()


def set_clock(environment: dict[str, str], at: datetime) -> None:
    """Let the clock of other processes stand at `at` now; from there it goes on."""
    real = time_machine.escape_hatch.datetime.datetime.now(at.tzinfo)
    ahead: timedelta = at - real
    (Path(environment["CARRYOVER_DATA"]) / "clock").write_text(str(ahead.total_seconds()))
