"""Colors: every pair that is used reaches its contrast, in light and in dark."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

DESIGN = Path(__file__).resolve().parents[2] / "shared" / "static" / "design"
GROUNDS = ("paper", "sheet")
TEXT = 4.5  # WCAG 2.2, 1.4.3
PARTS = 3.0  # WCAG 2.2, 1.4.11
STAGE = 7.0  # WCAG 2.2, 1.4.6, for the screen read from two meters away

TEXT_PAIRS = [
    *[(word, ground) for ground in GROUNDS for word in ("ink", "quiet", "spruce", "spruce-deep")],
    *[(word, ground) for ground in GROUNDS for word in ("ochre", "brick", "slate", "rust")],
    ("ink", "sand"),
    ("quiet", "sand"),
    ("paper", "ink"),
    ("sheet", "slate"),
    ("sheet", "rust"),
    ("on-spruce", "spruce"),
    ("on-spruce", "spruce-deep"),
    ("on-brick", "brick"),
    *[(name, f"{name}-soft") for name in ("spruce", "ochre", "brick", "slate", "rust")],
    *[("ink", f"{name}-soft") for name in ("spruce", "ochre", "brick", "slate", "rust")],
    *[("spruce", f"{name}-soft") for name in ("ochre", "brick", "slate")],
    ("spruce-deep", "spruce-soft"),
]
PART_PAIRS = [
    *[(part, ground) for ground in GROUNDS for part in ("edge", "spruce", "slate", "rust")],
    *[(part, ground) for ground in GROUNDS for part in ("focus", "figure-body", "figure-moves")],
    ("spruce", "sand"),
    ("ochre", "sand"),
    ("slate", "slate-soft"),
    ("rust", "slate-soft"),
    ("spruce", "tide"),
    ("focus", "spruce-soft"),
    ("focus", "tide"),
]
STAGE_PAIRS = [
    *[(word, ground) for ground in ("paper", "tide") for word in ("tide-ink", "stage-quiet")],
    ("ink", "paper"),
    ("on-spruce", "spruce"),
    ("brick", "sheet"),
]


def _declarations(block: str) -> dict[str, str]:
    return dict(re.findall(r"--([a-z-]+):\s*(#[0-9a-f]+);", block))


def _blocks() -> dict[str, dict[str, str]]:
    css = (DESIGN / "tokens.css").read_text()
    found = {
        "light": r':root,\s*\[data-theme="light"\] \{(.*?)\n\}',
        "device_dark": r":root:not\(\[data-theme\]\) \{(.*?)\n  \}",
        "dark": r'\n  \[data-theme="dark"\] \{(.*?)\n  \}',
    }
    matches = {name: re.search(pattern, css, re.DOTALL) for name, pattern in found.items()}
    return {name: _declarations(match[1]) for name, match in matches.items() if match}


def luminance(color: str) -> float:
    """Relative luminance of ``#rrggbb`` as WCAG 2.2 defines it."""
    channels = [int(color[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two opaque colors, 1 to 21."""
    bright, dim = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


def test_the_formula_agrees_with_known_ratios() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.005)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.005)


def test_all_three_blocks_name_the_same_tokens() -> None:
    blocks = _blocks()
    assert set(blocks) == {"light", "device_dark", "dark"}
    assert blocks["light"].keys() == blocks["dark"].keys()
    assert len(blocks["light"]) > 25


def test_dark_by_device_and_dark_by_choice_are_the_same() -> None:
    assert _blocks()["device_dark"] == _blocks()["dark"]


@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize(
    ("pairs", "least"),
    [(TEXT_PAIRS, TEXT), (PART_PAIRS, PARTS), (STAGE_PAIRS, STAGE)],
    ids=["text", "parts", "stage"],
)
def test_pairs_reach_their_contrast(theme: str, pairs: list[tuple[str, str]], least: float) -> None:
    tokens = _blocks()[theme]
    short = {
        f"{front} on {ground}": round(contrast(tokens[front], tokens[ground]), 2)
        for front, ground in pairs
        if contrast(tokens[front], tokens[ground]) < least
    }
    assert short == {}


def test_every_token_that_is_used_exists() -> None:
    css = {path: path.read_text() for path in DESIGN.rglob("*.css")}
    defined = {name for text in css.values() for name in re.findall(r"(--[a-z-]+)\s*:", text)}
    for path, text in css.items():
        unknown = set(re.findall(r"var\((--[a-z-]+)", text)) - defined
        assert not unknown, f"{path.name}: {unknown}"


def test_colors_stand_in_the_tokens_only() -> None:
    allowed = {"tokens.css", "print.css", "dialog.css"}  # dialog: the veil behind it
    for path in DESIGN.rglob("*.css"):
        if path.name not in allowed:
            assert not re.search(r"#[0-9a-f]{3,8}\b", path.read_text()), path.name


def test_every_component_is_imported_once() -> None:
    main = (DESIGN / "main.css").read_text()
    imported = re.findall(r'@import url\("([^"]+)"\)', main)
    assert len(imported) == len(set(imported))
    files = {
        path.relative_to(DESIGN).as_posix()
        for path in DESIGN.rglob("*.css")
        if path.name not in {"main.css", "gallery.css"}
    }
    assert files == set(imported)
