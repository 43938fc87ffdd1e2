"""Collecting static files: every reference between our own files carries a hashed name."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from django.core.management import call_command

HASHED = r"[\w./-]+\.[0-9a-f]{12}\.(?:css|js)"


@pytest.fixture
def collected(settings: Any, tmp_path: Path) -> Path:
    settings.STATIC_ROOT = tmp_path
    settings.STORAGES = settings.STORAGES | {
        "staticfiles": {"BACKEND": "shared.staticfiles.ModuleManifestStorage"}
    }
    call_command("collectstatic", interactive=False, verbosity=0)
    return tmp_path / "design"


def test_references_between_files_are_hashed(collected: Path) -> None:
    entry = next(collected.glob("main.*.css")).read_text()
    imports = re.findall(r'@import url\("([^"]+)"\) layer\(\w+\);', entry)
    assert len(imports) > 20
    assert [name for name in imports if not re.fullmatch(HASHED, name)] == []
    script = next(collected.glob("js/page.*.js")).read_text()
    modules = re.findall(r'from "([^"]+)";', script)
    assert len(modules) >= 2
    assert [name for name in modules if not re.fullmatch(HASHED, name)] == []


def test_the_plain_entry_stays_for_the_page_that_has_no_manifest(collected: Path) -> None:
    assert (collected / "main.css").exists()
    assert (collected / "tokens.css").exists()
