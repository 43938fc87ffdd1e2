"""Child processes: none outlives its parent, each failure is told, the Redis protocol is real."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
import redis

from shared.environment import ROOT
from shared.processes import (
    CannotStart,
    StopRequested,
    check_port,
    free_port,
    start_child,
    start_redis,
    stop_children,
    stop_signals,
    wait_until,
)

DEAF = """
import signal, subprocess, sys, time
signal.signal(signal.SIGTERM, signal.SIG_IGN)
below = subprocess.Popen(["sleep", "600"])
print(below.pid, flush=True)
time.sleep(600)
"""
PARENT = """
import sys, time
from pathlib import Path
from shared.processes import start_child, start_redis
folder = Path(sys.argv[1])
child = start_child("A part", ["sleep", "600"], log=folder / "part.log")
server = start_redis(folder)
print(child.process.pid, server.child.process.pid, flush=True)
time.sleep(600)
"""


def alive(pid: int) -> bool:
    """Return whether a process runs; one that has ended and waits for its parent does not."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def soon(condition: Callable[[], bool]) -> bool:
    deadline = time.monotonic() + 10
    while time.monotonic() < deadline:
        if condition():
            return True
        time.sleep(0.02)
    return False


def test_children_end_when_their_parent_is_killed(tmp_path: Path) -> None:
    parent = subprocess.Popen(
        [sys.executable, "-c", PARENT, str(tmp_path)], cwd=ROOT, stdout=subprocess.PIPE, text=True
    )
    assert parent.stdout is not None
    pids = [int(word) for word in parent.stdout.readline().split()]
    assert len(pids) == 2
    assert all(alive(pid) for pid in pids)

    parent.send_signal(signal.SIGKILL)
    parent.wait()

    assert soon(lambda: not any(alive(pid) for pid in pids))
    parent.stdout.close()


def test_stopping_kills_what_ignores_the_request_and_what_it_started(tmp_path: Path) -> None:
    child = start_child("Deaf", [sys.executable, "-c", DEAF], log=tmp_path / "deaf.log")
    assert soon(lambda: child.last_lines() != [])
    below = int(child.last_lines()[0])

    stop_children([child], patience=0.2)

    assert child.exit_code() == -signal.SIGKILL
    assert soon(lambda: not alive(below))


def test_a_child_that_ends_instead_of_answering_is_told_with_the_end_of_its_log(
    tmp_path: Path,
) -> None:
    script = "[print('line', n) for n in range(30)]; raise SystemExit(3)"
    child = start_child("The part", [sys.executable, "-c", script], log=tmp_path / "part.log")

    with pytest.raises(CannotStart) as told:
        wait_until(lambda: False, child, seconds=10)

    message = str(told.value)
    assert "The part ended by itself (exit code 3)" in message
    assert str(tmp_path / "part.log") in message
    assert "line 29" in message
    assert "line 10" in message
    assert "line 9\n" not in message


def test_a_child_that_never_answers_is_told(tmp_path: Path) -> None:
    child = start_child("The part", ["sleep", "600"], log=tmp_path / "part.log")
    try:
        with pytest.raises(CannotStart, match="The part did not answer within 0 seconds"):
            wait_until(lambda: False, child, seconds=0.1)
    finally:
        stop_children([child])


def test_a_program_that_does_not_exist_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(CannotStart, match=r"^The part could not be started: .*no-such-program"):
        start_child("The part", ["no-such-program"], log=tmp_path / "part.log")


def test_the_own_server_speaks_the_protocol_asks_a_password_and_keeps_nothing(
    tmp_path: Path,
) -> None:
    server = start_redis(tmp_path)
    assert server.child is not None
    try:
        client = redis.Redis.from_url(server.url)
        client.set("key", "value")
        assert client.get("key") == b"value"
        assert client.config_get("maxmemory-policy") == {"maxmemory-policy": "noeviction"}
        assert client.config_get("save") == {"save": ""}
        place = client.connection_pool.connection_kwargs
        with (
            redis.Redis(host=place["host"], port=place["port"], retry=None) as unnamed,
            pytest.raises(redis.AuthenticationError),
        ):
            unnamed.ping()
        client.close()
        # The password must not stand where every user of the machine can read it.
        command_line = Path(f"/proc/{server.child.process.pid}/cmdline").read_bytes()
        assert place["password"].encode() not in command_line
    finally:
        server.stop()

    assert not alive(server.child.process.pid)
    assert [path.name for path in tmp_path.iterdir()] == ["redis.log"]


def test_a_named_server_is_used_as_it_is(tmp_path: Path) -> None:
    ours = start_redis(tmp_path / "ours")
    try:
        named = start_redis(tmp_path / "other", url=ours.url)
        assert named.child is None
        assert named.url == ours.url
        named.stop()
        with redis.Redis.from_url(ours.url) as client:
            assert client.ping()
    finally:
        ours.stop()


def test_a_named_server_that_does_not_answer_is_told_without_its_password(tmp_path: Path) -> None:
    with pytest.raises(CannotStart) as told:
        start_redis(tmp_path, url=f"redis://:hidden-word@127.0.0.1:{free_port()}/0")
    assert "REDIS_URL" in str(told.value)
    assert "hidden-word" not in str(told.value)


def test_a_busy_port_is_seen_and_a_free_one_is_free() -> None:
    with socket.socket() as holder:
        holder.bind(("127.0.0.1", 0))
        holder.listen()
        with pytest.raises(OSError, match="in use"):
            check_port("127.0.0.1", holder.getsockname()[1])
    check_port("127.0.0.1", free_port())


def test_a_stop_signal_is_raised_once_and_the_handlers_come_back() -> None:
    before = signal.getsignal(signal.SIGTERM)
    with stop_signals():
        with pytest.raises(StopRequested):
            os.kill(os.getpid(), signal.SIGTERM)
        os.kill(os.getpid(), signal.SIGTERM)
        os.kill(os.getpid(), signal.SIGINT)
    assert signal.getsignal(signal.SIGTERM) == before
