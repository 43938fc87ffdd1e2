"""The shapes of one day: SVG of a cell in the strip and the sign in a cell of the week."""

from __future__ import annotations

CELL_WIDTH, CELL_HEIGHT, CELL_STEP = 7.5, 22.0, 9.0
WEEK_SIGNS = {
    "DONE": '<path class="week__tick" d="m23 17.5 5 5 9-11"/>',
    "EXTRA": '<path class="week__tick" d="M30 10v14M23 17h14"/>',
    "NOT_DONE": '<path class="week__sign" d="M24 17h12"/>',
    "PAUSED": '<path class="week__sign" d="M26 11v12M34 11v12"/>',
    "NO_ENTRY": '<circle class="week__sign" cx="30" cy="17" r="5"/>',
    "NOT_DUE": '<path class="week__sign" d="M30 17h.01"/>',
}


def short(number: float) -> str:
    """A coordinate with at most two decimals and no trailing zero."""
    return f"{number:.2f}".rstrip("0").rstrip(".")


def cell_shape(state: str, share: float, x: float) -> str:
    """SVG of one day whose left edge is at ``x``; the caller's box is 30 high."""
    top, bottom, middle = 4.0, 26.0, x + CELL_WIDTH / 2
    hollow = (
        f'x="{short(x + 0.6)}" y="{short(top + 0.6)}" width="{short(CELL_WIDTH - 1.2)}" '
        f'height="{short(CELL_HEIGHT - 1.2)}" rx="2"'
    )
    if state == "DONE":
        return (
            f'<rect class="cells__fill" x="{short(x)}" y="{short(top)}" '
            f'width="{short(CELL_WIDTH)}" height="{short(CELL_HEIGHT)}" rx="2.5"/>'
        )
    if state == "PARTLY":
        height = CELL_HEIGHT * min(max(share, 0.15), 0.9)
        return (
            f'<rect class="cells__hollow" {hollow}/>'
            f'<rect class="cells__fill" x="{short(x)}" y="{short(bottom - height)}" '
            f'width="{short(CELL_WIDTH)}" height="{short(height)}" rx="2.5"/>'
        )
    if state == "NOT_DONE":
        return (
            f'<rect class="cells__ground" x="{short(x)}" y="{short(top)}" '
            f'width="{short(CELL_WIDTH)}" height="{short(CELL_HEIGHT)}" rx="2.5"/>'
            f'<path class="cells__dash" d="M{short(x + 1.8)} 15h{short(CELL_WIDTH - 3.6)}"/>'
        )
    if state == "NO_ENTRY":
        return f'<rect class="cells__hollow" {hollow}/>'
    if state == "OPEN":
        return f'<rect class="cells__open" {hollow}/>'
    if state == "EXTRA":
        return f'<circle class="cells__fill" cx="{short(middle)}" cy="22.5" r="3"/>'
    if state == "PAUSED":
        return f'<path class="cells__pause" d="M{short(x)} 25h{short(CELL_STEP)}"/>'
    return f'<circle class="cells__dot" cx="{short(middle)}" cy="25" r="1.2"/>'
