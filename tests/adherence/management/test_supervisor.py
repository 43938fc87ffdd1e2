"""The demo's parts as one: started in order, stopped together, and never two on the same data."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.client import HTTPConnection
from pathlib import Path

import pytest

from adherence.management.supervisor import LOADING, LOCK, Supervisor, hold, start_over
from shared.environment import ROOT
from shared.processes import CannotStart, free_port

EMPTY_CLINIC = (
    "from clinic.models import Clinic; Clinic.objects.create(name='Elm Court', slug='elm-court')"
)
RUNNING = "Ctrl-C stops all of it"


def supervisor(data: Path, *, port: int, host: str = "127.0.0.1") -> Supervisor:
    return Supervisor(root=ROOT, data=data, host=host, port=port, say=lambda line: None)


def running_below(pid: int) -> set[int]:
    """Return the processes that descend from one, without those that have ended."""
    parents: dict[int, list[int]] = {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            state, parent = (folder / "stat").read_text().rpartition(")")[2].split()[:2]
        except OSError:
            continue
        if state != "Z":
            parents.setdefault(int(parent), []).append(int(folder.name))
    found: set[int] = set()
    waiting = [pid]
    while waiting:
        below = parents.get(waiting.pop(), [])
        found.update(below)
        waiting.extend(below)
    return found


def alive(pids: set[int]) -> set[int]:
    return {pid for pid in pids if Path(f"/proc/{pid}").exists()}


def soon(condition: Callable[[], bool], *, seconds: float) -> bool:
    deadline = time.monotonic() + seconds
    while time.monotonic() < deadline:
        if condition():
            return True
        time.sleep(0.05)
    return False


class Demo:
    """`manage.py demo` as a person starts it, on a data folder and a port of its own."""

    def __init__(self, data: Path) -> None:
        self.data = data
        self.port = free_port()
        ours = ("DATABASE_URL", "REDIS_URL", "DJANGO_SETTINGS_MODULE", "ALLOWED_HOSTS")
        self.environment = {k: v for k, v in os.environ.items() if k not in ours}
        self.environment["CARRYOVER_DATA"] = str(data)

    def prepare(self) -> None:
        """Make the tables and a clinic, so that a start need not load the whole demo."""
        self.data.mkdir()
        given = self.environment | {"DJANGO_SETTINGS_MODULE": "clinic.settings.demo"}
        for command in (["migrate", "--verbosity", "0"], ["shell", "-c", EMPTY_CLINIC]):
            subprocess.run(
                [sys.executable, "manage.py", *command],
                cwd=ROOT,
                env=given,
                check=True,
                capture_output=True,
            )

    def command(self) -> list[str]:
        return [sys.executable, "manage.py", "demo", "--port", str(self.port)]

    @contextmanager
    def running(self) -> Iterator[subprocess.Popen[str]]:
        log = self.data.parent / "demo.txt"
        with log.open("w") as output:
            process = subprocess.Popen(
                self.command(),
                cwd=ROOT,
                env=self.environment,
                stdout=output,
                stderr=subprocess.STDOUT,
                text=True,
            )
        try:
            assert soon(
                lambda: RUNNING in log.read_text() or process.poll() is not None, seconds=120
            )
            assert process.poll() is None, log.read_text()
            yield process
        finally:
            process.kill()
            process.wait()

    def refused(self) -> str:
        """Start it where it cannot start; return the sentence."""
        done = subprocess.run(
            self.command(),
            cwd=ROOT,
            env=self.environment,
            capture_output=True,
            text=True,
            check=False,
            timeout=120,
        )
        assert done.returncode == 1
        assert "Traceback" not in done.stderr
        return done.stderr.strip()

    def health(self) -> int:
        connection = HTTPConnection("127.0.0.1", self.port, timeout=5)
        try:
            connection.request("GET", "/healthz")
            return connection.getresponse().status
        finally:
            connection.close()


@pytest.mark.processes
def test_the_demo_serves_refuses_a_second_start_and_leaves_nothing_running(tmp_path: Path) -> None:
    demo = Demo(tmp_path / "data")
    demo.prepare()

    with demo.running() as process:
        assert demo.health() == 200
        parts = running_below(process.pid)
        assert len(parts) >= 4  # Redis protocol, worker, beat, web server
        assert f"Another demo (process {process.pid}) uses the data folder" in demo.refused()

        process.send_signal(signal.SIGINT)
        assert process.wait(60) == 0
        assert alive(parts) == set()
    assert "Stopped: nothing is left running." in (tmp_path / "demo.txt").read_text()

    with demo.running() as process:  # a second start keeps the data
        parts = running_below(process.pid)
        process.send_signal(signal.SIGKILL)
        process.wait()
        assert soon(lambda: alive(parts) == set(), seconds=60)

    with demo.running() as process:  # a part that ends takes the rest with it, and is named
        worker = [
            pid
            for pid in running_below(process.pid)
            if b"worker" in Path(f"/proc/{pid}/cmdline").read_bytes().split(b"\0")
        ]
        parts = running_below(process.pid)
        os.kill(worker[0], signal.SIGKILL)
        assert process.wait(60) == 1
        assert alive(parts) == set()
    told = (tmp_path / "demo.txt").read_text()
    assert "The Celery worker ended by itself (signal 9). The end of its log, " in told
    assert "Traceback" not in told


def test_a_busy_port_is_one_sentence_that_names_the_option(tmp_path: Path) -> None:
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        port = holder.getsockname()[1]
        with (
            pytest.raises(CannotStart, match=f"^Port {port} is in use .* with --port"),
            supervisor(tmp_path, port=port).running(fresh=False),
        ):
            pass


@pytest.mark.parametrize("host", ["192.0.2.1", "no-such-host.invalid"])
def test_a_host_that_is_not_ours_is_one_sentence(tmp_path: Path, host: str) -> None:
    with (
        pytest.raises(CannotStart, match="is not an address of this machine"),
        supervisor(tmp_path, port=free_port(), host=host).running(fresh=False),
    ):
        pass


def test_starting_over_removes_the_demo_and_nothing_else(tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "letter").touch()
    data = tmp_path / "data"
    (data / "logs").mkdir(parents=True)
    for name in ("db.sqlite3", "db.sqlite3-wal", "clock", "beat-schedule.db", LOADING, "notes"):
        (data / name).touch()
    (data / "mailbox").symlink_to(elsewhere)

    start_over(data)

    assert sorted(path.name for path in data.iterdir()) == ["logs", "notes"]
    assert (elsewhere / "letter").exists()

    (data / "mailbox").mkdir()
    (data / "mailbox" / "letter").touch()
    start_over(data)
    assert sorted(path.name for path in data.iterdir()) == ["logs", "notes"]


def test_another_database_is_never_started_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DATABASE_URL", "postgresql://somewhere.example/else")
    (tmp_path / "db.sqlite3").touch()
    with (
        pytest.raises(CannotStart, match="DATABASE_URL names another one"),
        supervisor(tmp_path, port=free_port()).running(fresh=True),
    ):
        pass
    assert (tmp_path / "db.sqlite3").exists()


def test_a_data_folder_is_held_by_one_and_free_again_afterwards(tmp_path: Path) -> None:
    with hold(tmp_path / "data"):
        with (
            pytest.raises(CannotStart, match=rf"Another demo \(process {os.getpid()}\)"),
            hold(tmp_path / "data"),
        ):
            pass
        assert (tmp_path / "data" / LOCK).exists()
    with hold(tmp_path / "data"):
        pass


def test_a_data_folder_that_cannot_be_made_is_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with (
        pytest.raises(CannotStart, match=r"cannot write to its data folder .*CARRYOVER_DATA"),
        hold(tmp_path / "file" / "data"),
    ):
        pass


def test_the_address_is_one_a_browser_can_open(tmp_path: Path) -> None:
    addresses = {
        host: supervisor(tmp_path, port=8000, host=host).address
        for host in ("127.0.0.1", "0.0.0.0", "::1", "::")
    }
    assert addresses == {
        "127.0.0.1": "http://127.0.0.1:8000",
        "0.0.0.0": "http://127.0.0.1:8000",
        "::1": "http://[::1]:8000",
        "::": "http://[::1]:8000",
    }
