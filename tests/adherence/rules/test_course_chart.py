"""Where things stand on the course chart: every day once, in order, and nothing over another."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from adherence.rules.course_chart import (
    DAYS_AS_WEEKS,
    DONE_HEIGHT,
    DONE_TOP,
    PAIN_HEIGHT,
    PAIN_TOP,
    PLOT,
    WIDTH,
    ChartDay,
    Happening,
    PointShape,
    Stretch,
    course_chart,
    fitted,
    pain_y,
)
from adherence.rules.matching import DayState

FIRST = date(2026, 2, 2)
SCORES = st.one_of(st.none(), st.integers(0, 10))


def day(offset: int, state: DayState = DayState.DONE, **other) -> ChartDay:
    counted = {DayState.DONE: (1, 1), DayState.PARTLY: (1, 1), DayState.EXTRA: (0, 0)}
    due, done = counted.get(state, (1, 0))
    values = {"due": due, "done": done, "share": 1.0 if state == DayState.DONE else None}
    return ChartDay(on=FIRST + timedelta(days=offset), state=state, **(values | other))


def days(count: int, **other) -> list[ChartDay]:
    return [day(offset, **other) for offset in range(count)]


def test_a_day_is_a_column_and_the_columns_fill_the_axis():
    chart = course_chart(days(14))
    assert [column.starts_on for column in chart.columns] == [one.on for one in days(14)]
    assert chart.columns[0].hit.x == 0
    assert chart.columns[-1].hit.x + chart.columns[-1].hit.width == pytest.approx(PLOT)
    for before, after in zip(chart.columns, chart.columns[1:], strict=False):
        assert before.hit.x + before.hit.width == pytest.approx(after.hit.x, abs=0.02)
        assert before.ground.x + before.ground.width < after.ground.x
        assert before.ends_on == after.starts_on


def test_a_whole_session_fills_the_bar_and_a_part_fills_its_share():
    chart = course_chart(
        [
            day(0),
            day(1, DayState.PARTLY, share=0.5),
            day(2, DayState.NOT_DONE),
            day(3, DayState.NO_ENTRY),
        ]
    )
    whole, part, not_done, no_entry = chart.columns
    assert whole.filled == whole.ground
    assert part.filled is not None
    assert part.filled.height == pytest.approx(DONE_HEIGHT / 2)
    assert part.filled.y + part.filled.height == pytest.approx(DONE_TOP + DONE_HEIGHT)
    assert not_done.filled is None
    assert no_entry.filled is None
    assert not_done.state != no_entry.state


def test_pain_stands_between_its_lines():
    assert pain_y(0) == PAIN_TOP + PAIN_HEIGHT
    assert pain_y(10) == PAIN_TOP
    assert pain_y(5) == PAIN_TOP + PAIN_HEIGHT / 2


def test_a_rating_above_the_usual_band_has_another_shape():
    rated = [day(0, worst=3), day(1, worst=6), day(2, morning=2)]
    points = course_chart(rated, usual=(2.0, 4.0)).points
    assert [(point.shape, point.score) for point in points] == [
        (PointShape.USUAL, 3),
        (PointShape.HIGH, 6),
        (PointShape.MORNING, 2),
    ]
    assert {point.shape for point in course_chart(rated).points} == {
        PointShape.USUAL,
        PointShape.MORNING,
    }


def test_days_without_a_rating_are_bridged_by_a_dotted_line_only():
    rated = [day(n, worst=3 if n in (0, 1, 5, 8) else None) for n in range(9)]
    assert [line.is_dotted for line in course_chart(rated).lines] == [False, True, False]
    # Between day 5 and day 8 lie two days, which is how a program of every third day looks.


def test_no_rating_draws_no_line_and_no_band():
    chart = course_chart(days(5))
    assert chart.lines == ()
    assert chart.points == ()
    assert chart.band is None


def test_above_half_a_year_a_column_is_a_week():
    chart = course_chart([day(n, worst=n % 5) for n in range(DAYS_AS_WEEKS + 1)])
    assert chart.by_weeks
    assert len(chart.columns) == (DAYS_AS_WEEKS + 1 + 6) // 7
    assert {(c.ends_on - c.starts_on).days for c in chart.columns[1:]} == {7}
    assert chart.columns[-1].ends_on == FIRST + timedelta(days=DAYS_AS_WEEKS + 1)
    assert chart.columns[-1].worst == 4
    assert chart.columns[-1].due == 7


def test_a_week_with_one_missed_day_is_partly_done_and_says_how_many():
    year = [day(n, DayState.NO_ENTRY if n % 7 == 3 else DayState.DONE) for n in range(210)]
    column = course_chart(year).columns[5]
    assert column.state == DayState.PARTLY
    assert (column.done, column.due) == (6, 7)
    assert column.filled is not None
    assert column.filled.height == pytest.approx(DONE_HEIGHT * 6 / 7, abs=0.01)


def test_spans_are_cut_to_the_days_shown_and_the_one_in_force_is_marked():
    spans = course_chart(
        days(14),
        revisions=[
            Stretch(FIRST - timedelta(days=30), FIRST - timedelta(days=7), "long past"),
            Stretch(FIRST - timedelta(days=7), FIRST + timedelta(days=7), "Revision 1"),
            Stretch(FIRST + timedelta(days=7), None, "Revision 2", is_marked=True),
            Stretch(FIRST + timedelta(days=20), None, "to come"),
        ],
    ).spans
    assert [(span.title, span.is_marked) for span in spans] == [
        ("Revision 1", False),
        ("Revision 2", True),
    ]
    assert spans[0].box.x + spans[0].box.width < spans[1].box.x
    assert spans[1].box.x + spans[1].box.width < PLOT


@pytest.mark.parametrize(
    ("room", "shown"), [(200, "Revision 2"), (50, "Revisi…"), (20, ""), (-5, "")]
)
def test_a_label_is_cut_to_its_room(room, shown):
    assert fitted("Revision 2", room) == shown


def test_events_of_one_day_share_a_line_and_others_keep_apart():
    chart = course_chart(
        days(14),
        events=[
            Happening(FIRST + timedelta(days=6), "call"),
            Happening(FIRST + timedelta(days=6), "flag ended"),
            Happening(FIRST + timedelta(days=6), "call"),
            Happening(FIRST + timedelta(days=7), "flag: pain rising"),
            Happening(FIRST + timedelta(days=40), "not shown"),
        ],
    )
    assert [event.label for event in chart.events] == ["call, flag ended", "flag: pain rising"]
    assert chart.events[0].y != chart.events[1].y


def test_weeks_are_counted_from_the_first_day_of_the_program():
    ticks = course_chart(days(28), started_on=FIRST + timedelta(days=9)).ticks
    numbered = [(tick.week, tick.on) for tick in ticks if tick.week]
    assert numbered == [
        (1, FIRST + timedelta(days=9)),
        (2, FIRST + timedelta(days=16)),
        (3, FIRST + timedelta(days=23)),
    ]
    assert [tick.names_week for tick in ticks if tick.week] == [True, False, False]
    assert [tick.week for tick in course_chart(days(28)).ticks] == [None] * 4


def test_a_chart_needs_a_day():
    with pytest.raises(ValueError, match="at least one day"):
        course_chart([])


@given(
    st.lists(st.tuples(st.sampled_from(list(DayState)), SCORES, SCORES), min_size=1, max_size=400),
    st.lists(
        st.tuples(st.integers(-5, 420), st.text("abc ", min_size=1, max_size=60)), max_size=12
    ),
)
def test_everything_stays_on_the_paper(drawn, happened):
    chart = course_chart(
        [
            day(n, state, worst=worst, morning=morning)
            for n, (state, worst, morning) in enumerate(drawn)
        ],
        usual=(1.0, 3.0),
        events=[Happening(FIRST + timedelta(days=n), label) for n, label in happened],
        flagged=[Stretch(FIRST, None, "Pain rising")],
        started_on=FIRST,
    )
    assert sum((c.ends_on - c.starts_on).days for c in chart.columns) == len(drawn)
    for column in chart.columns:
        for box in (column.ground, column.hit, *([column.filled] if column.filled else [])):
            assert box.width > 0
            assert box.height > 0
            assert 0 <= box.x <= box.x + box.width <= PLOT + 0.1
            assert 0 <= box.y <= box.y + box.height <= chart.height
    for point in chart.points:
        assert 0 <= point.x <= PLOT
        assert PAIN_TOP <= point.y <= PAIN_TOP + PAIN_HEIGHT
    for event in chart.events:
        assert 0 <= event.x <= WIDTH
        assert event.y is None or event.y < chart.axis_y
    assert chart.axis_y < chart.height
