"""Whatever dose is sound comes back from the database as it was saved."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from programs.models import ProgramRevision
from programs.operations.programs import DraftContent, Item, problems_of, save_draft
from programs.rules.dose import Band, Dose, DoseKind, LoadUnit, Side, SideMode, sides_allowed
from programs.rules.schedule import Pattern, Schedule
from tests import factories
from tests.factories import NOW, TODAY


@st.composite
def sound_doses(draw) -> Dose:
    kind = draw(st.sampled_from(DoseKind))
    load = draw(st.sampled_from(LoadUnit))
    kilograms = st.decimals(0, 200, places=2, allow_nan=False)
    seconds = st.integers(0, 10)
    tempo = st.none() | st.tuples(seconds, seconds, seconds).filter(any)
    return Dose(
        kind=kind,
        sets=draw(st.integers(1, 10)),
        repetitions=draw(st.integers(1, 100)) if "REPETITIONS" in kind else None,
        hold_seconds=draw(st.integers(1, 600)) if "H" in kind.value[:1] else None,
        duration_seconds=draw(st.integers(5, 3600)) if kind is DoseKind.TIMED else None,
        rest_seconds=draw(st.integers(0, 600)),
        side=draw(st.sampled_from(Side)),
        tempo=draw(tempo) if kind is DoseKind.REPETITIONS else None,
        load_value=draw(kilograms) if load is LoadUnit.KG else None,
        load_unit=load,
        band=draw(st.sampled_from(Band)).value if load is LoadUnit.BAND else "",
        effort_target=draw(st.none() | st.integers(0, 10)),
    )


class TestRoundTrip(TestCase):
    """Whatever dose is sound comes back from the database as it was."""

    def setUp(self) -> None:
        self.draft = factories.ProgramRevisionFactory(draft=True, program__status="DRAFT")
        self.exercises = {
            (kind, mode): factories.ExerciseFactory(dose_kind=kind, side_mode=mode)
            for kind in DoseKind
            for mode in SideMode
        }

    @settings(max_examples=60)
    @given(st.lists(sound_doses(), max_size=4))
    def test_doses_come_back_as_they_were_saved(self, doses: list[Dose]) -> None:
        items = [Item(self.exercise_for(dose).current_id, dose) for dose in doses]
        saved = save_draft(
            draft=self.draft,
            version=ProgramRevision.objects.get(pk=self.draft.pk).version,
            content=DraftContent(
                title="Strength", items=items, schedule=Schedule(Pattern.DAILY, starts_on=TODAY)
            ),
            edited_by_id=self.draft.edited_by_id,
            now=NOW,
        )
        assert [row.dose for row in saved.prescriptions.order_by("position")] == doses
        assert not [one for at, one in problems_of(saved) if one.is_error and at]

    def exercise_for(self, dose: Dose):
        mode = next(mode for mode in SideMode if dose.side in sides_allowed(mode))
        return self.exercises[dose.kind, mode]
