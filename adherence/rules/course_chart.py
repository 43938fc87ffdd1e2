"""Where everything stands on the course chart: days and figures in, rectangles and points out.

One time axis with three bands: what was done of what was due, worst pain with the usual band, and
events. Lengths are units of the drawing, one about a pixel wide; nothing here knows a color. Up to
half a year a column is a day, above that a week, because thinner columns could not be told apart.
"""

from collections.abc import Callable, Iterable, Sequence
from datetime import date, timedelta
from itertools import pairwise

from adherence.rules.course_shapes import (
    Box,
    ChartDay,
    Column,
    CourseChart,
    EventMark,
    Happening,
    Level,
    Line,
    Point,
    PointShape,
    Span,
    Stretch,
    Tick,
)
from adherence.rules.matching import DayState

__all__ = [
    "Box",
    "ChartDay",
    "Column",
    "CourseChart",
    "EventMark",
    "Happening",
    "Level",
    "Line",
    "Point",
    "PointShape",
    "Span",
    "Stretch",
    "Tick",
    "course_chart",
    "fitted",
    "pain_y",
]

WIDTH = 840.0
PLOT = 808.0  # the rest holds the numbers of the pain scale
DAYS_AS_WEEKS = 183
WEEK = 7
WIDEST_BAR = 32.0
BAR_SHARE = 0.8

SPANS_TOP, SPANS_HEIGHT = 4.0, 24.0
DONE_LABEL = 52.0
DONE_TOP, DONE_HEIGHT = 68.0, 46.0
LATER_AT = 62.0
PAIN_LABEL = 142.0
PAIN_TOP, PAIN_HEIGHT = 152.0, 110.0
EVENTS_TOP, EVENT_ROW, EVENT_ROWS = 274.0, 16.0, 3
AXIS_HEIGHT = 40.0
HIGHEST_PAIN = 10
# Ratings further apart than this many days are joined by a dotted line only.
JOINED_DAYS = 3
CHARACTER = 6.6  # mean width of a letter of the chart's text
WEEK_LABEL_ROOM, DATE_LABEL_ROOM = 30.0, 62.0


def course_chart(
    days: Sequence[ChartDay],
    *,
    usual: tuple[float, float] | None = None,
    revisions: Iterable[Stretch] = (),
    flagged: Iterable[Stretch] = (),
    missed: Iterable[Stretch] = (),
    events: Iterable[Happening] = (),
    started_on: date | None = None,
) -> CourseChart:
    """Lay out the chart of consecutive `days`, oldest first. ValueError without a day.

    `usual` is the band of usual pain, low and high. Stretches and events are cut to the days
    shown. `started_on` is the first day of the program, from which weeks are counted.
    """
    if not days:
        raise ValueError("A chart needs at least one day.")
    by_weeks = len(days) > DAYS_AS_WEEKS
    first, end = days[0].on, days[-1].on + timedelta(days=1)
    slot = PLOT / len(days)

    def x_of(day: date) -> float:
        inside = min(max(day, first), end)
        return round((inside - first).days * slot, 2)

    groups = _by_weeks(days) if by_weeks else [[day] for day in days]
    columns = tuple(_column(group, x_of) for group in groups)
    marks, rows = _events(events, first, end, lambda day: x_of(day) + slot / 2)
    bottom = EVENTS_TOP + rows * EVENT_ROW
    return CourseChart(
        width=WIDTH,
        height=round(bottom + AXIS_HEIGHT, 2),
        plot=PLOT,
        by_weeks=by_weeks,
        columns=columns,
        spans=tuple(_spans(revisions, first, end, x_of, SPANS_TOP, SPANS_HEIGHT)),
        flagged=tuple(_spans(flagged, first, end, x_of, PAIN_TOP, PAIN_HEIGHT)),
        missed=tuple(_spans(missed, first, end, x_of, DONE_TOP - 3, DONE_HEIGHT + 6)),
        band=_band(usual),
        levels=tuple(Level(score, pain_y(score)) for score in (0, 5, 10)),
        lines=_lines(columns),
        points=_points(columns, usual),
        events=marks,
        ticks=_ticks(first, end, x_of, started_on),
        events_top=SPANS_TOP + SPANS_HEIGHT + 4,
        events_bottom=round(bottom - 4, 2),
        axis_y=round(bottom + 14, 2),
        done_label_y=DONE_LABEL,
        pain_label_y=PAIN_LABEL,
        later_y=LATER_AT,
    )


def pain_y(score: float) -> float:
    """Return the height of a rating, 10 at the top."""
    return round(PAIN_TOP + PAIN_HEIGHT * (1 - score / HIGHEST_PAIN), 2)


def _by_weeks(days: Sequence[ChartDay]) -> list[list[ChartDay]]:
    """Return the days in weeks that end with the last day, the first perhaps shorter."""
    head = len(days) % WEEK
    weeks = [list(days[:head])] if head else []
    return weeks + [list(days[i : i + WEEK]) for i in range(head, len(days), WEEK)]


def _column(group: Sequence[ChartDay], x_of: Callable[[date], float]) -> Column:
    starts_on, ends_on = group[0].on, group[-1].on + timedelta(days=1)
    left, right = x_of(starts_on), x_of(ends_on)
    width = right - left
    bar = min(WIDEST_BAR, width * BAR_SHARE)
    x = round(left + (width - bar) / 2, 2)
    due, done = sum(day.due for day in group), sum(day.done for day in group)
    state = group[0].state if len(group) == 1 else _week_state(group, due, done)
    share = _share(group, due, done)
    filled = None
    if state in (DayState.DONE, DayState.EXTRA) or (share > 0 and done):
        height = DONE_HEIGHT if state == DayState.DONE else DONE_HEIGHT * min(max(share, 0.12), 0.9)
        if state != DayState.EXTRA:
            filled = Box(
                x, round(DONE_TOP + DONE_HEIGHT - height, 2), round(bar, 2), round(height, 2)
            )
    worst = [day.worst for day in group if day.worst is not None]
    morning = [day.morning for day in group if day.morning is not None]
    return Column(
        starts_on=starts_on,
        ends_on=ends_on,
        state=state,
        due=due,
        done=done,
        extra=sum(day.extra for day in group),
        entered_later=any(day.entered_later for day in group),
        worst=max(worst, default=None),
        morning=max(morning, default=None),
        middle=round((left + right) / 2, 2),
        ground=Box(x, DONE_TOP, round(bar, 2), DONE_HEIGHT),
        filled=filled,
        hit=Box(left, DONE_LABEL - 8, round(width, 2), EVENTS_TOP - DONE_LABEL + 4),
    )


def _week_state(group: Sequence[ChartDay], due: int, done: int) -> DayState:
    states = {day.state for day in group}
    if due:
        if done >= due:
            return DayState.DONE
        if done:
            return DayState.PARTLY
        if DayState.NOT_DONE in states:
            return DayState.NOT_DONE
        return DayState.NO_ENTRY if DayState.NO_ENTRY in states else DayState.OPEN
    if DayState.EXTRA in states:
        return DayState.EXTRA
    return DayState.PAUSED if DayState.PAUSED in states else DayState.NOT_DUE


def _share(group: Sequence[ChartDay], due: int, done: int) -> float:
    """Return the dose share of a day, or the sessions done of those due in a week."""
    if len(group) == 1 and group[0].share is not None:
        return group[0].share
    return done / due if due else 0.0


def _spans(
    stretches: Iterable[Stretch],
    first: date,
    end: date,
    x_of: Callable[[date], float],
    top: float,
    height: float,
) -> Iterable[Span]:
    for stretch in stretches:
        until = end if stretch.ends_on is None else stretch.ends_on
        if until <= first or stretch.starts_on >= end or until <= stretch.starts_on:
            continue
        left, right = x_of(stretch.starts_on), x_of(until)
        yield Span(
            box=Box(left + 1, top, round(max(right - left - 2, 1), 2), height),
            label=fitted(stretch.label, right - left - 16),
            title=stretch.label,
            is_marked=stretch.is_marked,
        )


def fitted(label: str, room: float) -> str:
    """Return a label cut to the room it has; empty where not even three letters fit."""
    letters = int(room / CHARACTER)
    if len(label) <= letters:
        return label
    return f"{label[: letters - 1].rstrip()}…" if letters > 3 else ""


def _band(usual: tuple[float, float] | None) -> Box | None:
    if usual is None:
        return None
    top, bottom = pain_y(usual[1]), pain_y(usual[0])
    return Box(0.0, top, PLOT, round(max(bottom - top, 2), 2))


def _lines(columns: Sequence[Column]) -> tuple[Line, ...]:
    rated = [column for column in columns if column.worst is not None]
    lines = []
    for before, after in pairwise(rated):
        gap = (after.starts_on - before.ends_on).days
        lines.append(
            Line(
                before.middle,
                pain_y(before.worst or 0),
                after.middle,
                pain_y(after.worst or 0),
                gap >= JOINED_DAYS,
            )
        )
    return tuple(lines)


def _points(columns: Sequence[Column], usual: tuple[float, float] | None) -> tuple[Point, ...]:
    points = []
    for column in columns:
        if column.morning is not None:
            y = pain_y(column.morning)
            points.append(Point(column.middle, y, PointShape.MORNING, column.morning))
        if column.worst is not None:
            is_high = usual is not None and column.worst > usual[1]
            shape = PointShape.HIGH if is_high else PointShape.USUAL
            points.append(Point(column.middle, pain_y(column.worst), shape, column.worst))
    return tuple(points)


def _events(
    events: Iterable[Happening], first: date, end: date, x_of: Callable[[date], float]
) -> tuple[tuple[EventMark, ...], int]:
    """Return the marks, one a day, and how many rows of words they take.

    A label goes to the first of the rows in which it overlaps no other; where none has room, the
    line alone stands, and the table has the words.
    """
    by_day: dict[date, list[str]] = {}
    for event in sorted(events, key=lambda one: one.on):
        if first <= event.on < end and event.label not in by_day.setdefault(event.on, []):
            by_day[event.on].append(event.label)
    taken = [-1.0] * EVENT_ROWS
    marks: list[EventMark] = []
    rows = 0
    for day, labels in by_day.items():
        text = ", ".join(labels)
        x = round(x_of(day), 2)
        width = len(text) * CHARACTER
        anchor = "middle"
        left = x - width / 2
        if left < 0:
            anchor, left = "start", x
        elif x + width / 2 > WIDTH:
            anchor, left = "end", x - width
        row = next((i for i, until in enumerate(taken) if left > until and left >= 0), None)
        y = None
        if row is not None:
            taken[row] = left + width + CHARACTER
            rows = max(rows, row + 1)
            y = EVENTS_TOP + (row + 0.75) * EVENT_ROW
        marks.append(EventMark(x, text, anchor, y, text))
    return tuple(marks), rows


def _ticks(
    first: date, end: date, x_of: Callable[[date], float], started_on: date | None
) -> tuple[Tick, ...]:
    """Return the weeks of the program, or calendar weeks without one, thinned to what fits."""
    anchor = started_on if started_on is not None else first - timedelta(days=first.weekday())
    day = first + timedelta(days=(anchor - first).days % WEEK)
    ticks: list[Tick] = []
    last_week = last_date = -WIDTH
    while day < end:
        x = x_of(day)
        week = None
        if started_on is not None and day >= started_on:
            week = (day - started_on).days // WEEK + 1
        shows_date = x - last_date >= DATE_LABEL_ROOM and x <= PLOT - DATE_LABEL_ROOM / 2
        if x - last_week >= WEEK_LABEL_ROOM or shows_date:
            is_first = week is not None and not any(tick.names_week for tick in ticks)
            ticks.append(Tick(x, day, week, is_first, shows_date))
            last_week = x
            last_date = x if shows_date else last_date
        day += timedelta(days=WEEK)
    return tuple(ticks)
