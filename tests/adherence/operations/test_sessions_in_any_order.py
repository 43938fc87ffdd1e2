"""Calls that come twice, late or in another order: the record is the same."""

from __future__ import annotations

import uuid

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from adherence.models import SessionLog, SessionStatus, SetLog
from adherence.models import SetState as State
from programs.rules.dose import SetDone, dose_share
from tests.adherence.sessions import finish, log

AMOUNTS = st.sampled_from(
    [(State.DONE, None), (State.PARTLY, 4), (State.DONE, 30), (State.SKIPPED, None)]
)


@settings(
    max_examples=40,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(data=st.data())
def test_any_order_and_any_number_of_repeats_end_in_the_same_record(session, plans, data):
    """Calls that arrive twice, late or after the end leave what the first of each has said."""
    SetLog.objects.all().delete()
    SessionLog.objects.update(status="IN_PROGRESS", finished_at=None, share=None, over=0)
    session.refresh_from_db()
    chosen = data.draw(st.lists(st.sampled_from(range(1, len(plans))), unique=True))
    calls = [(place, uuid.uuid4(), *data.draw(AMOUNTS)) for place in chosen]
    order = data.draw(st.permutations(calls * 2))
    ends_after = data.draw(st.integers(0, len(order)))
    log(session, plans[0])
    for turn, (place, key, state, count) in enumerate(order):
        if turn == ends_after:
            session = finish(session)
        plan = plans[place][1]
        name = "repetitions" if plan.repetitions else "held_seconds"
        name = "moved_seconds" if plan.duration_seconds else name
        log(session, plans[place], key=key, state=state, **{name: count})
    session = finish(session)
    session.refresh_from_db()
    expected = [None] * len(plans)
    expected[0] = SetDone(repetitions=12)
    for place, _key, state, count in calls:
        plan = plans[place][1]
        if state != State.SKIPPED:
            whole = plan.repetitions or plan.hold_seconds or plan.duration_seconds
            done = whole if count is None else count
            expected[place] = SetDone(
                repetitions=done if plan.repetitions else None,
                held_seconds=done if plan.hold_seconds else None,
                duration_seconds=done if plan.duration_seconds else None,
            )
    amount = dose_share([plan for _row, plan in plans], expected)
    assert session.status == SessionStatus.COMPLETED
    assert (session.share, session.over) == pytest.approx((amount.share, amount.over))
    assert SetLog.objects.filter(withdrawn_at=None).count() == len(calls) + 1
