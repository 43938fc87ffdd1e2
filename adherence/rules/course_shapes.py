"""What the course chart is made of: what goes in, and the shapes that come out."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from adherence.rules.matching import DayState


class PointShape(StrEnum):
    """How a rating is drawn."""

    USUAL = "USUAL"
    HIGH = "HIGH"
    MORNING = "MORNING"


@dataclass(frozen=True)
class ChartDay:
    """One day of the record: its state, the dose share, what was due, and the ratings 0 to 10."""

    on: date
    state: DayState
    share: float | None = None
    due: int = 0
    done: int = 0
    extra: int = 0
    entered_later: bool = False
    worst: int | None = None
    morning: int | None = None


@dataclass(frozen=True)
class Stretch:
    """Days [starts_on, ends_on) with a label; `is_marked` for the one that is in force."""

    starts_on: date
    ends_on: date | None
    label: str
    is_marked: bool = False


@dataclass(frozen=True)
class Happening:
    """Something on a day that is named under the chart."""

    on: date
    label: str


@dataclass(frozen=True)
class Box:
    """A rectangle."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True)
class Column:
    """One day (or week): [starts_on, ends_on), the state drawn and the boxes of its bar.

    `ground` is the whole bar, `filled` the part that was done; `hit` takes the pointer.
    """

    starts_on: date
    ends_on: date
    state: DayState
    due: int
    done: int
    extra: int
    entered_later: bool
    worst: int | None
    morning: int | None
    middle: float
    ground: Box
    filled: Box | None
    hit: Box

    @property
    def floor_y(self) -> float:
        """Where signs stand that are no bars."""
        return self.ground.y + self.ground.height - 3

    @property
    def center_y(self) -> float:
        """The middle of the bar."""
        return self.ground.y + self.ground.height / 2

    @property
    def dash_from(self) -> float:
        """Where the dash of a session not done begins."""
        return round(self.ground.x + self.ground.width * 0.25, 2)

    @property
    def dash_to(self) -> float:
        """Where the dash of a session not done ends."""
        return round(self.ground.x + self.ground.width * 0.75, 2)


@dataclass(frozen=True)
class Span:
    """A labelled stretch as it is drawn; the label may be shortened, `title` is not."""

    box: Box
    label: str
    title: str
    is_marked: bool


@dataclass(frozen=True)
class Point:
    """A rating."""

    x: float
    y: float
    shape: PointShape
    score: int


@dataclass(frozen=True)
class Line:
    """A straight line between two ratings; dotted where days without a rating lie between."""

    x1: float
    y1: float
    x2: float
    y2: float
    is_dotted: bool


@dataclass(frozen=True)
class EventMark:
    """An event: a line down the chart, and its words where there is room for them."""

    x: float
    label: str
    anchor: str  # start, middle or end
    y: float | None
    title: str


@dataclass(frozen=True)
class Tick:
    """The beginning of a week under the chart."""

    x: float
    on: date
    week: int | None
    names_week: bool  # the first that has a number says what the numbers are
    shows_date: bool


@dataclass(frozen=True)
class Level:
    """A line of the pain scale."""

    score: int
    y: float


@dataclass(frozen=True)
class CourseChart:
    """Everything that is drawn. Lengths in units of the drawing, `width` by `height`."""

    width: float
    height: float
    plot: float
    by_weeks: bool
    columns: tuple[Column, ...]
    spans: tuple[Span, ...]
    flagged: tuple[Span, ...]  # behind pain
    missed: tuple[Span, ...]  # behind what was done
    band: Box | None
    levels: tuple[Level, ...]
    lines: tuple[Line, ...]
    points: tuple[Point, ...]
    events: tuple[EventMark, ...]
    ticks: tuple[Tick, ...]
    events_top: float
    events_bottom: float
    axis_y: float
    done_label_y: float
    pain_label_y: float
    later_y: float
