"""Makes the project's own Python environment (.venv) and enters it. Standard library only.

A Python that already has the packages (a container's, a developer's own) is used as it is and
nothing is created. The environment is believed only if its stamp names the very lock file that
lies in the checkout, and the stamp is written when the last package is in.
"""

from __future__ import annotations

import fcntl
import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

ROOT = Path(__file__).resolve().parent.parent
VENV = ".venv"
STAMP = ".carryover-lock"
INSTALL_LOG = ".carryover-install.log"
UNFINISHED = "unfinished"
# What pip prints when it stops fetching and begins to change the environment.
TOUCHED = "Installing collected packages"

NO_NETWORK = (
    "Retrying (Retry(",
    "NewConnectionError",
    "NameResolutionError",
    "ConnectTimeout",
    "ProxyError",
    "Network is unreachable",
    "Connection refused",
)


class NotPossible(Exception):
    """Something outside our hands is missing; the message is one sentence for the person."""


@dataclass(frozen=True)
class Need:
    """A set of packages: the lock that names it, and modules that show whether a Python has it."""

    purpose: str
    lock: str
    modules: tuple[str, ...]
    duration: str


RUNNING = Need(
    purpose="to run",
    lock="requirements.txt",
    modules=("django", "rest_framework", "allauth", "celery", "granian", "redis"),
    duration="half a minute to a few minutes",
)
TESTING = Need(
    purpose="to run and to test",
    lock="requirements-dev.txt",
    modules=(
        *RUNNING.modules,
        "pytest",
        "pytest_django",
        "xdist",
        "hypothesis",
        "playwright",
    ),
    duration="one minute to several",
)


def say(sentence: str) -> None:
    """Tell the person what happens; on stderr, so that output stays usable in a pipe."""
    print(sentence, file=sys.stderr, flush=True)


def need_of(command: str) -> Need:
    """Return the packages that a manage.py command needs."""
    return TESTING if command == "test" else RUNNING


def enter(arguments: list[str]) -> None:
    """Return if this Python can run the command; otherwise start it anew in one that can.

    `arguments` is sys.argv: script, command, options. Raises NotPossible with one sentence.
    """
    python = prepared_python(need_of(arguments[1] if len(arguments) > 1 else ""))
    if python is not None:
        os.execv(python, [str(python), *arguments])


def run_pytest(arguments: list[str]) -> NoReturn:
    """Become pytest, on two workers unless the arguments say otherwise."""
    workers = [] if "no:xdist" in " ".join(arguments) else ["-n", "2"]
    os.chdir(ROOT)
    os.execv(sys.executable, [sys.executable, "-m", "pytest", *workers, *arguments])


def prepared_python(need: Need, root: Path = ROOT) -> Path | None:
    """Return the Python to start instead of this one, made first if need be; None to stay."""
    environment = Environment(root / VENV, root)
    inside = Path(sys.prefix).resolve() == environment.folder.resolve()
    if has_modules(need) and not (inside and environment.is_ours()):
        return None
    if environment.serves(need):
        return None if inside else environment.python
    environment.make(need)
    return environment.python


def has_modules(need: Need) -> bool:
    """Return whether this Python can import what the need names."""
    return all(importlib.util.find_spec(name) is not None for name in need.modules)


@dataclass(frozen=True)
class Environment:
    """The folder of a virtual environment and the checkout whose lock files fill it."""

    folder: Path
    root: Path

    @property
    def python(self) -> Path:
        return self.folder / "bin" / "python"

    def is_ours(self) -> bool:
        """Return whether manage.py made this environment (finished or not)."""
        return bool(self._stamp())

    def serves(self, need: Need) -> bool:
        """Return whether the last package of the need's lock, as it is now, was installed here.

        The development lock holds everything of the other one, so it serves both needs.
        """
        return self._stamp() in (self._line(need), self._line(TESTING)) and self._runs(need)

    def make(self, need: Need) -> None:
        """Create or bring up to date, hash-checked; raise NotPossible with one sentence."""
        self._check_means()
        with self._one_at_a_time() as held:
            if self.serves(need):
                return  # another start did it while this one waited
            started = time.monotonic()
            try:
                before = self._create(need, held)
                self._install(need, held, before)
                self._write_stamp(self._line(need))
            except OSError as problem:
                raise NotPossible(
                    f"Making {self.folder} failed ({problem.strerror or problem}); "
                    "put that right and run the same command again."
                ) from problem
            say(f"The packages are in, after {time.monotonic() - started:.0f} seconds.")

    def _stamp(self) -> str:
        try:
            return (self.folder / STAMP).read_text().strip()
        except OSError:
            return ""

    def _write_stamp(self, line: str) -> None:
        new = self.folder / f"{STAMP}.new"
        new.write_text(line + "\n")
        new.replace(self.folder / STAMP)

    def _line(self, need: Need) -> str:
        lock = self.root / need.lock
        try:
            return f"{need.lock} {hashlib.sha256(lock.read_bytes()).hexdigest()}"
        except OSError as problem:
            raise NotPossible(
                f"The list of packages, {lock}, cannot be read ({problem.strerror}); "
                "is this a whole checkout?"
            ) from problem

    def _runs(self, need: Need) -> bool:
        """Return whether its Python still starts and finds the modules (a system upgrade breaks
        both without touching the stamp)."""
        test = "import importlib.util as u, sys; sys.exit(not all(map(u.find_spec, sys.argv[1:])))"
        command = [str(self.python), "-I", "-c", test, *need.modules]
        try:
            return subprocess.run(command, capture_output=True, check=False).returncode == 0
        except OSError:
            return False

    def _check_means(self) -> None:
        for module in ("venv", "ensurepip"):
            if importlib.util.find_spec(module) is None:
                raise NotPossible(
                    f"This Python ({sys.executable}) lacks the module {module!r} and so cannot "
                    "make a virtual environment; install it (Debian and Ubuntu: apt install "
                    "python3-venv) and run the same command again."
                )
        place = self.folder if self.folder.exists() else self.root
        if not os.access(place, os.W_OK | os.X_OK):
            raise NotPossible(
                f"Carryover may not write to {place}, where its packages go; give this user write "
                "access, or run manage.py with a Python that already has the packages of "
                "requirements.txt."
            )

    @contextmanager
    def _one_at_a_time(self) -> Iterator[int]:
        """Keep other starts out; yield the descriptor that does so for as long as it is open.

        Children that install get it too: should we be killed, the next start waits for them.
        """
        # The lock file is always there and is never written: nothing to clean up afterwards.
        with (self.root / RUNNING.lock).open("rb") as handle:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                say("Another start is installing the packages just now; waiting for it.")
                fcntl.flock(handle, fcntl.LOCK_EX)
            yield handle.fileno()

    def _create(self, need: Need, held: int) -> str:
        """Leave an environment, marked unfinished, to install into; return its stamp till now."""
        stamp = self._stamp()
        if stamp and stamp != UNFINISHED and self._runs(Need("", "", ("pip",), "")):
            say(
                f"Bringing {self.folder} up to what Carryover needs {need.purpose}: "
                f"{need.lock}, every package checked by its hash. This takes {need.duration}."
            )
            self._write_stamp(UNFINISHED)
            return stamp
        if stamp == UNFINISHED:
            say(f"An earlier installation in {self.folder} did not finish; starting it over.")
            shutil.rmtree(self.folder)
        elif self.folder.exists() and not self._runs(Need("", "", (), "")):
            say(f"The Python of {self.folder} no longer starts; making it anew.")
            shutil.rmtree(self.folder)
        say(
            f"Making a virtual environment in {self.folder} with the packages that Carryover needs "
            f"{need.purpose} ({need.lock}, every one checked by its hash). "
            f"This happens once and takes {need.duration}."
        )
        self.folder.mkdir(exist_ok=True)
        self._write_stamp(UNFINISHED)
        base = getattr(sys, "_base_executable", None) or sys.executable
        made = subprocess.run(
            [base, "-I", "-m", "venv", str(self.folder)],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            check=False,
            pass_fds=(held,),
        )
        if made.returncode:
            last = (made.stdout.strip().splitlines() or ["no reason given"])[-1]
            raise NotPossible(
                f"Python could not make a virtual environment in {self.folder} ({last}); "
                "on Debian and Ubuntu, apt install python3-venv usually helps."
            )
        return UNFINISHED

    def _install(self, need: Need, held: int, before: str) -> None:
        options = "--require-hashes --disable-pip-version-check --no-input --progress-bar off"
        options += " --retries 3 --timeout 20"
        command = [str(self.python), "-I", "-m", "pip", "install", *options.split()]
        command += ["-r", str(self.root / need.lock)]
        log = self.folder / INSTALL_LOG
        counts = sys.stderr.isatty()
        fetched = 0
        with (
            log.open("w") as record,
            subprocess.Popen(
                command,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                text=True,
                pass_fds=(held,),
            ) as pip,
        ):
            assert pip.stdout is not None
            for line in pip.stdout:
                record.write(line)
                fetched += line.startswith("Collecting ")
                if counts and fetched:
                    print(f"\r  {fetched} packages fetched", end="", file=sys.stderr, flush=True)
        if counts and fetched:
            print(file=sys.stderr)
        if pip.returncode:
            output = log.read_text(errors="replace")
            if before != UNFINISHED and TOUCHED not in output:
                self._write_stamp(before)  # as whole as it was before
            raise NotPossible(_reason(output, need, log))


def _reason(output: str, need: Need, log: Path) -> str:
    """Turn what pip printed into one sentence."""
    if "DO NOT MATCH THE HASHES" in output:
        return (
            f"A package did not match its hash in {need.lock}, so it was not installed; if your "
            f"registry can be trusted, the lock is at fault (pip's output: {log})."
        )
    if "No space left on device" in output:
        return f"The disk is full, so the packages could not be installed in {log.parent}."
    if any(sign in output for sign in NO_NETWORK):
        return (
            "The package registry could not be reached, so the packages could not be installed; "
            "connect to the network (or name a registry within reach in PIP_INDEX_URL) and run "
            "the same command again."
        )
    errors = [line for line in output.splitlines() if line.startswith("ERROR:")]
    last = errors[-1].removeprefix("ERROR:").strip() if errors else "no reason given"
    return f"Installing the packages of {need.lock} failed: {last} (pip's whole output: {log})."


def main() -> None:
    """Print the Python that has what a command needs, making it first: for scripts."""
    try:
        python = prepared_python(need_of(sys.argv[1] if len(sys.argv) > 1 else ""))
    except NotPossible as problem:
        sys.exit(str(problem))
    print(python or sys.executable)


if __name__ == "__main__":
    main()
