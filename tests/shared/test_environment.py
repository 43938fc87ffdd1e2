"""The project's own environment: made from hashes, believed only when whole, told in sentences."""

from __future__ import annotations

import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from shared import environment
from shared.environment import ROOT, RUNNING, UNFINISHED, Environment, Need, NotPossible

RUN = Need("to run", "requirements.txt", ("carried",), "a moment")
TEST = Need("to test", "requirements-dev.txt", ("carried", "proven"), "a moment")


class Checkout:
    """A folder with lock files like the project's, over packages that lie beside them."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.environment = Environment(root / ".venv", root)
        (root / "wheels").mkdir()
        self.hashes = {name: self.wheel(name) for name in ("carried", "proven")}
        self.lock("requirements.txt", "carried")
        self.lock("requirements-dev.txt", "carried", "proven")

    def wheel(self, name: str) -> str:
        """Pack a package of one module; return its hash."""
        path = self.root / "wheels" / f"{name}-1.0-py3-none-any.whl"
        info = f"{name}-1.0.dist-info"
        with zipfile.ZipFile(path, "w") as wheel:
            wheel.writestr(f"{name}.py", "")
            wheel.writestr(
                f"{info}/METADATA", f"Metadata-Version: 2.1\nName: {name}\nVersion: 1.0\n"
            )
            wheel.writestr(
                f"{info}/WHEEL", "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n"
            )
            wheel.writestr(f"{info}/RECORD", "")
        return hashlib.sha256(path.read_bytes()).hexdigest()

    def lock(self, file: str, *names: str, remark: str = "") -> None:
        """Write a lock file that finds its packages without a network."""
        lines = [f"# {remark}", "--no-index", f"--find-links {self.root / 'wheels'}"]
        lines += [f"{name}==1.0 --hash=sha256:{self.hashes[name]}" for name in names]
        (self.root / file).write_text("\n".join(lines) + "\n")

    def line(self, file: str) -> str:
        """Return the stamp of an environment that was made from a lock file as it is now."""
        return f"{file} {hashlib.sha256((self.root / file).read_bytes()).hexdigest()}"

    def stamp(self) -> str:
        return (self.root / ".venv" / environment.STAMP).read_text().strip()

    def imports(self, name: str) -> bool:
        command = [str(self.environment.python), "-I", "-c", f"import {name}"]
        return subprocess.run(command, capture_output=True, check=False).returncode == 0


@pytest.fixture
def checkout(tmp_path: Path) -> Checkout:
    """Return a checkout in which nothing has been installed yet."""
    return Checkout(tmp_path)


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return an environment with the packages to run; made once, because it takes seconds."""
    made = Checkout(tmp_path_factory.mktemp("installed"))
    made.environment.make(RUN)
    return made.environment.folder


@pytest.fixture
def checkout_installed(tmp_path: Path, installed: Path) -> Checkout:
    """Return a checkout with the packages to run, named by the same hash as in `installed`."""
    checkout = Checkout(tmp_path)
    shutil.copytree(installed, checkout.environment.folder, symlinks=True)
    (checkout.environment.folder / environment.STAMP).write_text(checkout.line("requirements.txt"))
    return checkout


def test_an_environment_is_made_upgraded_and_made_anew_only_when_something_changed(
    checkout: Checkout, capsys: pytest.CaptureFixture[str]
) -> None:
    made = checkout.environment
    assert not made.serves(RUN)

    made.make(RUN)
    said = capsys.readouterr().err
    assert "Making a virtual environment" in said
    assert "a moment" in said
    assert checkout.imports("carried")
    assert not checkout.imports("proven")
    assert checkout.stamp() == checkout.line("requirements.txt")
    assert made.serves(RUN)
    assert not made.serves(TEST)

    made.make(RUN)
    assert capsys.readouterr().err == ""  # nothing to do, nothing said

    made.make(TEST)
    assert "up to what Carryover needs to test" in capsys.readouterr().err
    assert checkout.imports("proven")
    assert made.serves(TEST)

    checkout.lock("requirements-dev.txt", "carried", "proven", remark="changed")
    assert not made.serves(TEST)
    made.make(TEST)
    assert made.serves(TEST)


def test_the_development_packages_serve_a_demo_too_while_they_are_there(
    checkout_installed: Checkout,
) -> None:
    checkout_installed.environment.make(TEST)
    assert checkout_installed.environment.serves(RUN)
    # An environment whose modules have gone is not believed, whatever its stamp says.
    next(checkout_installed.root.glob(".venv/lib/*/site-packages/proven.py")).unlink()
    assert checkout_installed.environment.serves(RUN)
    assert not checkout_installed.environment.serves(TEST)


def test_an_interrupted_installation_is_not_believed_and_starts_over(
    checkout: Checkout, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = checkout.root / ".venv"
    folder.mkdir()
    (folder / environment.STAMP).write_text(UNFINISHED + "\n")
    leftover = folder / "half-a-package"
    leftover.touch()
    assert not checkout.environment.serves(RUN)

    checkout.environment.make(RUN)

    assert "did not finish; starting it over" in capsys.readouterr().err
    assert not leftover.exists()
    assert checkout.imports("carried")


def test_a_wrong_hash_installs_nothing_and_is_told_in_one_sentence(
    checkout_installed: Checkout,
) -> None:
    checkout_installed.hashes["proven"] = "0" * 64
    checkout_installed.lock("requirements-dev.txt", "carried", "proven")

    with pytest.raises(NotPossible, match=r"did not match its hash in requirements-dev\.txt"):
        checkout_installed.environment.make(TEST)

    assert not checkout_installed.imports("proven")
    assert not checkout_installed.environment.serves(TEST)


def test_an_upgrade_that_cannot_be_fetched_leaves_the_environment_as_whole_as_it_was(
    checkout_installed: Checkout, monkeypatch: pytest.MonkeyPatch
) -> None:
    lock = checkout_installed.root / "requirements-dev.txt"
    lock.write_text(f"absent==1.0 --hash=sha256:{'0' * 64}\n")
    monkeypatch.setenv("PIP_INDEX_URL", "http://127.0.0.1:9/simple")  # the discard port
    monkeypatch.setenv("PIP_NO_CACHE_DIR", "1")

    with pytest.raises(NotPossible, match="registry could not be reached") as told:
        checkout_installed.environment.make(TEST)

    assert "\n" not in str(told.value)
    assert checkout_installed.environment.serves(RUN)


def test_a_failure_of_another_kind_quotes_its_reason(checkout_installed: Checkout) -> None:
    (checkout_installed.root / "wheels" / "proven-1.0-py3-none-any.whl").unlink()
    with pytest.raises(NotPossible, match=r"packages of requirements-dev\.txt failed: .*proven"):
        checkout_installed.environment.make(TEST)
    assert checkout_installed.environment.serves(RUN)


def test_a_failure_half_way_through_installing_is_not_believed(
    checkout_installed: Checkout,
) -> None:
    # pip fetches and checks everything, then finds no room for one file of the package.
    site = next(checkout_installed.root.glob(".venv/lib/*/site-packages"))
    (site / "proven.py").mkdir()
    with pytest.raises(NotPossible, match=r"packages of requirements-dev\.txt failed"):
        checkout_installed.environment.make(TEST)
    assert checkout_installed.stamp() == UNFINISHED
    assert not checkout_installed.environment.serves(RUN)


@pytest.mark.parametrize("module", ["venv", "ensurepip"])
def test_a_python_without_the_means_is_told_what_to_install(
    checkout: Checkout, monkeypatch: pytest.MonkeyPatch, module: str
) -> None:
    find = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name: None if name == module else find(name)
    )
    with pytest.raises(NotPossible, match=f"lacks the module '{module}'.*python3-venv"):
        checkout.environment.make(RUN)
    assert not (checkout.root / ".venv").exists()


def test_a_folder_that_may_not_be_written_is_told(
    checkout: Checkout, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The superuser may write everywhere, so the answer of the system is given here.
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(NotPossible, match=f"may not write to {checkout.root}"):
        checkout.environment.make(RUN)
    assert not (checkout.root / ".venv").exists()


def test_a_python_that_has_the_packages_is_used_and_nothing_is_made(tmp_path: Path) -> None:
    assert environment.prepared_python(RUNNING, root=tmp_path) is None
    assert list(tmp_path.iterdir()) == []


def test_a_missing_lock_is_told(tmp_path: Path) -> None:
    with pytest.raises(NotPossible, match="is this a whole checkout"):
        Environment(tmp_path / ".venv", tmp_path).serves(RUN)


def test_the_start_needs_nothing_but_the_standard_library() -> None:
    command = [sys.executable, "-S", "-c", "import manage, shared.environment, shared.chromium"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
