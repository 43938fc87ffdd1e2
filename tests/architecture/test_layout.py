"""The house rules that no linter knows. Each exemption is listed here, and may only go away."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.architecture.sources import (
    APPS,
    ROOT,
    files,
    function_imports,
    name,
    python_files,
    tree,
)

LONGEST = 400
DUMPING_GROUNDS = {"utils", "util", "helpers", "helper", "common", "misc", "lib", "tools"}
# Imports that must wait: Django's registry, and packages that may not be there yet.
MAY_IMPORT_LATE = {"clinic/apps.py", "manage.py"}
# Modules that build markup themselves, and escape what they are given.
MAY_MARK_SAFE = re.compile(r"shared/templatetags/design\.py|.*/(figures|charts)(/\w+)?\.py")


def test_no_file_is_longer_than_four_hundred_lines():
    long = {
        name(path): lines
        for path in [*python_files(), *files(".js", ".mjs", ".css", ".html")]
        if (lines := len(path.read_text().splitlines())) > LONGEST
    }
    assert long == {}


def test_every_module_says_what_it_is():
    silent = [
        name(path)
        for path in python_files()
        if (module := tree(path)).body and not ast.get_docstring(module)
    ]
    assert silent == []


def test_no_function_imports_anything():
    late = {
        name(path): lines
        for path in python_files()
        if (lines := list(function_imports(tree(path)))) and name(path) not in MAY_IMPORT_LATE
    }
    assert late == {}


def test_the_exemptions_from_late_imports_are_still_needed():
    for file in MAY_IMPORT_LATE:
        assert list(function_imports(tree(ROOT / file))), f"{file} needs no exemption any more."


def test_no_module_is_a_dumping_ground():
    named = [
        name(path)
        for path in [*python_files(), *files(".js", ".css", within=APPS)]
        if DUMPING_GROUNDS
        & {part.removesuffix(path.suffix) for part in path.relative_to(ROOT).parts}
    ]
    assert named == []


def pure_modules() -> list[str]:
    """Return the modules that promise to be plain Python."""
    folders = ("clinic/rules", "programs/rules", "adherence/rules", "programs/figures")
    paths = [path for folder in folders for path in sorted((ROOT / folder).glob("*.py"))]
    assert len(paths) > 10
    modules = [".".join(path.relative_to(ROOT).with_suffix("").parts) for path in paths]
    return [*(module.removesuffix(".__init__") for module in modules), "shared.dates"]


BLOCKED = """
import importlib, sys

class Blocked:
    def find_spec(self, name, path=None, target=None):
        if name.partition(".")[0] in {"django", "rest_framework", "celery", "crispy_forms"}:
            raise ImportError(f"{name} is not for rules")

sys.meta_path.insert(0, Blocked())
for module in sys.argv[1:]:
    importlib.import_module(module)
"""


def test_rules_run_where_there_is_no_django():
    run = subprocess.run(
        [sys.executable, "-c", BLOCKED, *pure_modules()],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 0, run.stderr


def test_the_block_on_django_works():
    run = subprocess.run(
        [sys.executable, "-c", BLOCKED, "clinic.models"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert "is not for rules" in run.stderr


RULES_READ = re.compile(r"\b(datetime\.now|date\.today|time\.time|open\(|read_text|os\.environ)\b")


def test_rules_read_no_clock_no_file_no_environment():
    reading = {
        name(path): found
        for path in files(".py", within=("clinic/rules", "programs/rules", "adherence/rules"))
        if (found := RULES_READ.findall(path.read_text()))
    }
    assert reading == {}


def _patched_names(module: ast.Module) -> list[str]:
    """Return what a test replaces: the first argument of patch(…) or setattr(…)."""
    found = []
    for node in ast.walk(module):
        if not isinstance(node, ast.Call) or not node.args:
            continue
        called = ast.unparse(node.func)
        if called.rpartition(".")[2] in ("patch", "setattr", "object", "multiple"):
            found.append(ast.unparse(node.args[0]).strip("'\""))
    return found


def _imported_from_us(module: ast.Module) -> set[str]:
    names: set[str] = set()
    for node in module.body:
        if isinstance(node, ast.ImportFrom) and (node.module or "").partition(".")[0] in APPS:
            names |= {alias.asname or alias.name for alias in node.names}
        elif isinstance(node, ast.Import):
            names |= {
                alias.asname or alias.name.partition(".")[0]
                for alias in node.names
                if alias.name.partition(".")[0] in APPS
            }
    return names


# Reading the clock and sending mail are the outside world: (test file, what is replaced).
MAY_REPLACE = {"clock", "shared.clock", "shared.clock.now"}


def test_no_test_replaces_our_own_code():
    replaced: dict[str, list[str]] = {}
    for path in files(".py", within=("tests",)):
        module = tree(path)
        ours = _imported_from_us(module) | set(APPS)
        targets = [
            target
            for target in _patched_names(module)
            if target.partition(".")[0] in ours and target not in MAY_REPLACE
        ]
        if targets:
            replaced[name(path)] = targets
    assert replaced == {}


def test_no_test_is_skipped():
    skipping = {
        name(path): found
        for path in files(".py", within=("tests",))
        if path != Path(__file__)
        and (
            found := re.findall(
                r"\b(?:skipif|pytest\.skip|mark\.skip|importorskip)\b", path.read_text()
            )
        )
    }
    assert skipping == {}


def _without_comments(text: str) -> str:
    text = re.sub(r"\{#.*?#\}", "", text)
    return re.sub(r"\{% comment %\}.*?\{% endcomment %\}", "", text, flags=re.DOTALL)


TEMPLATE_FAULTS = {
    "an inline style": r"<style|\sstyle=",
    "an inline script": r"<script(?![^>]*\bsrc=)(?![^>]*type=\"application/(ld\+)?json\")",
    "an inline handler": r"<[^>]*\son[a-z]+\s*=",
    "a javascript: address": r"javascript:",
    "unescaped output": r"\|\s*safe\b|autoescape off|safeseq",
    "another host": r"(?:src|href)=\"(?:https?:)?//",
}


@pytest.mark.parametrize("fault", TEMPLATE_FAULTS)
def test_templates_are_free_of(fault):
    pattern = re.compile(TEMPLATE_FAULTS[fault], re.IGNORECASE)
    faulty = [
        name(path)
        for path in files(".html", within=("templates",))
        if pattern.search(_without_comments(path.read_text()))
    ]
    assert faulty == []


def test_markup_is_marked_safe_in_few_places():
    marking = [
        name(path)
        for path in python_files(with_tests=False)
        if re.search(r"\bmark_safe\b|SafeString\(", path.read_text())
        and not MAY_MARK_SAFE.fullmatch(name(path))
    ]
    assert marking == []


OPEN_IMPORT = re.compile(
    r"^\s*(?:(?:import|export|\})[^;\"']*\bfrom|import)\s*[\"'][^\"']+[\"'](?!;)", re.MULTILINE
)


def test_module_imports_end_with_a_semicolon():
    """Without it the storage does not see the import, and the unhashed name ships silently."""
    open_ended = {
        name(path): found
        for path in files(".js", within=APPS)
        if (found := OPEN_IMPORT.findall(path.read_text()))
    }
    assert open_ended == {}


@pytest.mark.parametrize(
    ("line", "is_open"),
    [
        ('import { a } from "./a.js"', True),
        ('import "./a.js"\n', True),
        ('import {\n  a,\n} from "./a.js"\n', True),
        ('export { a } from "./a.js"', True),
        ('import { a } from "./a.js";', False),
        ('import "./a.js";', False),
        ('export function a(b = "c") {}', False),
    ],
)
def test_the_search_for_open_imports_finds_them(line, is_open):
    assert bool(OPEN_IMPORT.search(line)) is is_open


def test_styles_name_no_other_host():
    calling = [
        name(path)
        for path in files(".css", ".js", within=APPS)
        if re.search(r"url\(\s*[\"']?https?:|fetch\(\s*[\"']https?:", path.read_text())
    ]
    assert calling == []


def test_the_tests_mirror_the_code():
    """Every package of rules, operations and queries has tests in the same place."""
    missing = [
        f"tests/{app}/{layer}"
        for app in ("clinic", "programs", "adherence")
        for layer in ("rules", "operations", "queries")
        if not any((ROOT / "tests" / app).glob(f"{layer}/test_*.py"))
        and not (ROOT / "tests" / app / f"test_{layer}.py").exists()
    ]
    assert missing == []
