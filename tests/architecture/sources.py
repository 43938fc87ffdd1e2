"""The project's own files, as the layout tests walk them."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
APPS = ("adherence", "programs", "clinic", "shared")


def files(*suffixes: str, within: tuple[str, ...] = (*APPS, "tests", "templates")) -> list[Path]:
    """Return our files with one of the suffixes; migrations are written by Django."""
    found = [
        path
        for folder in within
        for path in sorted((ROOT / folder).rglob("*"))
        if path.suffix in suffixes and not {"migrations", "__pycache__"} & set(path.parts)
    ]
    assert found, f"No {suffixes} in {within}: the walk has lost its way."
    return found


def python_files(*, with_tests: bool = True) -> list[Path]:
    """Return every Python file of ours."""
    within = (*APPS, "tests") if with_tests else APPS
    return [ROOT / "manage.py", *files(".py", within=within)]


def name(path: Path) -> str:
    """Return the path as people write it."""
    return path.relative_to(ROOT).as_posix()


def tree(path: Path) -> ast.Module:
    """Return the parsed file."""
    return ast.parse(path.read_text(), filename=str(path))


def function_imports(module: ast.Module) -> Iterator[int]:
    """Yield the lines of imports that stand inside a function."""
    for node in ast.walk(module):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            for inner in ast.walk(node):
                if isinstance(inner, ast.Import | ast.ImportFrom):
                    yield inner.lineno
