"""Short ways to say a schedule in a test, and strategies that draw whole histories of a program."""

from __future__ import annotations

from datetime import date, timedelta

from hypothesis import strategies as st

from programs.rules.schedule import Pattern, Pause, RevisionSpan, Schedule

MONDAY = date(2026, 1, 5)
DAILY = Schedule(Pattern.DAILY, MONDAY)
QUOTA = Schedule(Pattern.WEEKLY_QUOTA, MONDAY, weekly_quota=3)


def plus(days: int) -> date:
    return MONDAY + timedelta(days=days)


def span(schedule: Schedule, start: date = MONDAY, end: date | None = None) -> RevisionSpan:
    return RevisionSpan("r1", schedule, start, end)


OFFSETS = st.integers(-10, 90)


@st.composite
def schedules(draw: st.DrawFn) -> Schedule:
    pattern = draw(st.sampled_from(Pattern))
    starts_on = plus(draw(OFFSETS))
    quota = pattern is Pattern.WEEKLY_QUOTA
    weekdays = st.frozensets(st.integers(0, 6), min_size=1)
    return Schedule(
        pattern,
        starts_on,
        times_per_day=1 if quota else draw(st.integers(1, 6)),
        weekdays=draw(weekdays) if pattern is Pattern.WEEKDAYS else frozenset(),
        every_days=draw(st.integers(2, 30)) if pattern is Pattern.EVERY_N_DAYS else None,
        weekly_quota=draw(st.integers(1, 7)) if quota else None,
        ends_on=draw(st.none() | st.integers(0, 60).map(lambda n: starts_on + timedelta(n))),
    )


@st.composite
def histories(draw: st.DrawFn) -> tuple[list[RevisionSpan], list[Pause], date | None]:
    """Draw up to four revisions one after the other, pauses that may overlap, and an end."""
    cuts = sorted(draw(st.lists(OFFSETS, min_size=1, max_size=5)))
    ends: list[date | None] = [plus(cut) for cut in cuts[1:]]
    if not ends or draw(st.booleans()):
        ends.append(None)
    starts = [plus(cut) for cut in cuts]
    spans = [
        RevisionSpan(number, draw(schedules()), start, end)
        for number, (start, end) in enumerate(zip(starts, ends, strict=False))
    ]
    pauses = draw(
        st.lists(
            st.builds(
                lambda start, days: Pause(plus(start), days and plus(start + days)),
                OFFSETS,
                st.none() | st.integers(1, 30),
            ),
            max_size=3,
        )
    )
    return spans, pauses, draw(st.none() | OFFSETS.map(plus))


History = tuple[list[RevisionSpan], list[Pause], date | None]
