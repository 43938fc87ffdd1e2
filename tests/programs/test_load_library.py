"""The command that loads the library: what it says, and what it refuses."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
import yaml
from django.core.management import CommandError, call_command

from programs.models import Exercise, Ladder
from tests.programs.rules.entries import EXERCISE, LADDER, SLUGS

pytestmark = pytest.mark.django_db


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A small library on disk."""
    for name in ("exercises", "ladders"):
        (tmp_path / name).mkdir()
    write(tmp_path / "exercises/hip.yaml", [EXERCISE | {"slug": slug} for slug in SLUGS])
    write(tmp_path / "ladders/calf.yaml", LADDER)
    return tmp_path


def write(path: Path, data: Any) -> None:
    path.write_text(yaml.safe_dump(data), encoding="utf-8")


def said(*arguments: str, **options: Any) -> str:
    out = io.StringIO()
    call_command("load_library", *arguments, stdout=out, **options)
    return out.getvalue()


def test_the_library_of_the_project_loads_twice(db):
    first = said()
    assert "new" in first
    assert Exercise.objects.count() >= 40
    assert Ladder.objects.count() >= 8
    second = said()
    assert "new" not in second
    assert "changed" not in second.replace("unchanged", "")


def test_it_says_what_it_did(folder):
    where = f"--folder={folder}"
    assert said(where) == "Library: exercises: 4 new; ladders: 1 new.\n"
    assert said(where) == "Library: exercises: 4 unchanged; ladders: 1 unchanged.\n"
    write(
        folder / "exercises/hip.yaml",
        [EXERCISE | {"slug": slug} for slug in SLUGS[:-1]]
        + [EXERCISE | {"slug": SLUGS[-1], "purpose": "Other."}, EXERCISE | {"slug": "new-one"}],
    )
    told = said(where, verbosity=2)
    assert "exercises: 1 new, 1 changed, 3 unchanged" in told
    assert "changed: rise-four" in told
    assert said(where, verbosity=0) == ""


def test_a_check_looks_and_changes_nothing(folder):
    where = f"--folder={folder}"
    assert said(where, "--check") == "Library: no mistakes; exercises: 4; ladders: 1.\n"
    assert not Exercise.objects.exists()


@pytest.mark.parametrize("options", [[], ["--check"]])
def test_mistakes_name_file_and_key_and_nothing_is_imported(folder, options):
    write(folder / "exercises/hip.yaml", [EXERCISE | {"slug": s, "aim": "FUN"} for s in SLUGS])
    write(folder / "ladders/calf.yaml", LADDER | {"purpose": ""})
    with pytest.raises(CommandError) as refused:
        said(f"--folder={folder}", *options)
    lines = str(refused.value).splitlines()
    assert "5 mistakes" in lines[0]
    assert lines[1].startswith("exercises/hip.yaml: rise-one.aim: 'FUN' is not one of")
    assert lines[-1] == "ladders/calf.yaml: calf-strength.purpose: is empty."
    assert not Exercise.objects.exists()


@pytest.mark.parametrize(
    ("content", "part"),
    [
        (b"- slug: [", "exercises/hip.yaml is not readable YAML"),
        (b"- slug: a\n  slug: b\n", "the key 'slug' stands there twice"),
        (b"- slug: \xff\xfe\n", "exercises/hip.yaml is not UTF-8 text"),
        (b"", "exercises/hip.yaml: must be a list of exercises."),
        (b"42", "must be a list of exercises."),
        (b"- !!python/object/apply:os.getcwd []\n", "is not readable YAML"),
    ],
)
def test_a_file_that_cannot_be_read_is_named(folder, content, part):
    (folder / "exercises/hip.yaml").write_bytes(content)
    with pytest.raises(CommandError) as refused:
        said(f"--folder={folder}")
    assert part in str(refused.value)
    assert not Exercise.objects.exists()


def test_a_file_that_would_be_passed_over_is_named(folder):
    (folder / "exercises/knee.yml").write_text("[]")
    with pytest.raises(CommandError, match=r"knee\.yml would not be read"):
        said(f"--folder={folder}")


def test_an_empty_folder_is_no_library(tmp_path):
    with pytest.raises(CommandError, match="There are no files"):
        said(f"--folder={tmp_path}")
