"""Keys that cannot apply now say why."""

import pytest
from session_examples import batch_plan, mixed, stamped, start

from layup.session.batch_events import (
    BatchLost,
    BatchMixed,
    BatchPouredOut,
    CupTemperatureRead,
    Demoulded,
    MixLeft,
    Observation,
    PourRead,
    PressClosed,
    Replanned,
    Retightened,
    StepDone,
    Tightened,
)
from layup.session.day_events import Note, SessionEnded, StepAdded, StepMerged, StepSkipped, TemperatureRead, Undone
from layup.session.fields import BatchPlan, StepPlan
from layup.session.records import fold, refusal
from layup.session.state import Event, Outcome

POURED = [mixed(1), BatchPouredOut(batch=1)]
CLOSED = [*POURED, PressClosed()]
PATCH = StepAdded(step=9, name="a patch", kind="place", planned_s=60.0)
LEFT = MixLeft(batch=1, left_in_cup_g=20.0, left_for=(2,), left_shares=(0.2,))
SEEN = Observation(batch=1, word="runny")


@pytest.mark.parametrize(
    ("before", "event", "why"),
    [
        ([], start(), "the session has started already"),
        ([], mixed(9), "there is no batch 9 - a new plan of the batches adds one"),
        ([], PourRead(batch=9, resin_g=1.0, hardener_g=1.0), "there is no batch 9 - a new plan"),
        ([StepDone(step=1)], StepSkipped(step=1), "step 1 is done already"),
        ([StepSkipped(step=1)], StepDone(step=1), "step 1 is left out today"),
        ([StepMerged(step=1, into_step=2)], StepDone(step=1), "step 1 is laid together with step 2"),
        ([StepMerged(step=1, into_step=2)], StepSkipped(step=2), "step 1 is laid together with step 2 - undo that"),
        ([], StepMerged(step=1, into_step=3), "after step 1 comes step 2, not step 3"),
        ([], StepMerged(step=3, into_step=1), "no step comes after step 3"),
        (CLOSED, StepSkipped(step=2), "the press is closed - the work on this part is over"),
        ([], PATCH.model_copy(update={"step": 1}), "there is a step 1 already"),
        ([StepDone(step=1)], PATCH.model_copy(update={"before_step": 1}), "step 1 is done already"),
        (CLOSED, PATCH, "the press is closed"),
        ([], MixLeft(batch=1, left_in_cup_g=5.0), "batch 1 is to mix - nothing is left in its cup"),
        (POURED, MixLeft(batch=1, left_in_cup_g=5.0), "batch 1 is on the part - nothing is left in its cup"),
        ([mixed(1)], MixLeft(batch=1, left_in_cup_g=131.0), "batch 1 was 130 g - no more than that is left of it"),
        ([mixed(2)], MixLeft(batch=2, left_in_cup_g=5.0), "batch 2 is for step 2 yet - it is not left over"),
        ([mixed(1), LEFT], PourRead(batch=1, resin_g=9.0, hardener_g=3.0), "what is left of batch 1 was said already"),
        (
            [mixed(1), LEFT, StepDone(step=1), StepDone(step=2)],
            MixLeft(batch=1, left_in_cup_g=1.0),
            "what was left of batch 1 is laid on step 2 already",
        ),
        ([], Tightened(), "the press is not closed yet"),
        ([*CLOSED, Demoulded()], Retightened(), "the part is out already"),
        ([mixed(1)], mixed(1), "batch 1 is mixed already - its clock runs"),
        ([mixed(1)], PourRead(batch=1, resin_g=1.0, hardener_g=0.0), "batch 1 is mixed - it has hardener in it"),
        (POURED, PourRead(batch=1, resin_g=1.0, hardener_g=1.0), "batch 1 is on the part already - its scale"),
        (CLOSED, PourRead(batch=2, resin_g=1.0, hardener_g=1.0), "the press is closed - nothing more can be mixed"),
        ([mixed(1), BatchLost(batch=1)], mixed(1), "batch 1 is lost - plan the batches anew"),
        (CLOSED, mixed(2), "the press is closed - nothing more can be mixed"),
        ([], BatchMixed(batch=1, resin_g=9.0, hardener_g=0.0, start_K=290.0), "needs both resin and hardener"),
        ([], BatchPouredOut(batch=1), "batch 1 is not mixed yet - hardener in comes first"),
        ([], BatchPouredOut(batch=9), "there is no batch 9"),
        (POURED, BatchPouredOut(batch=1), "batch 1 is on the part already"),
        ([*CLOSED[:1], mixed(2), *CLOSED[1:]], BatchPouredOut(batch=2), "the press is closed - no more resin"),
        ([], BatchLost(batch=1), "batch 1 is neither weighed nor mixed - there is nothing to lose"),
        ([mixed(1), BatchLost(batch=1)], BatchLost(batch=1), "batch 1 is lost"),
        (CLOSED, BatchLost(batch=1), "batch 1 is under the press - it cannot be lost any more"),
        ([], StepDone(step=9), "there is no step 9 in the plan"),
        ([StepDone(step=1)], StepDone(step=1), "step 1 is done already"),
        ([], SEEN, "batch 1 is not mixed yet"),
        ([], CupTemperatureRead(batch=9, temperature_K=300.0), "there is no batch 9"),
        (CLOSED, PressClosed(), "the press is closed already"),
        ([], Demoulded(), "the press is not closed yet"),
        ([*CLOSED, Demoulded()], Demoulded(), "the part is out already"),
        (CLOSED, Replanned(batches=()), "the press is closed - there is nothing left to plan"),
        ([mixed(1)], Replanned(batches=(batch_plan(1),)), "batch 1 is in the cup already - a new plan starts with"),
        ([], Replanned(batches=(batch_plan(7), batch_plan(7))), "two of the new batches have the same number"),
        ([SessionEnded()], mixed(1), "the session has ended - undo brings it back"),
        ([SessionEnded()], SessionEnded(), "the session has ended - undo brings it back"),
    ],
)
def test_a_key_that_cannot_apply_says_why(before: list[Event], event: Event, why: str) -> None:
    state = fold(stamped([start(), *before]))
    assert not state.misfits
    said = refusal(state, event)
    assert said is not None
    assert why in said


@pytest.mark.parametrize(
    ("before", "event"),
    [
        ([mixed(1), BatchLost(batch=1)], SEEN),
        ([PourRead(batch=1, resin_g=1.0, hardener_g=1.0)], BatchLost(batch=1)),
        ([PourRead(batch=1, resin_g=1.0, hardener_g=1.0)], PourRead(batch=1, resin_g=2.0, hardener_g=1.0)),
        (CLOSED, StepDone(step=3)),
        ([*CLOSED, SessionEnded()], Demoulded()),
        ([SessionEnded()], Note(text="the day after")),
        ([SessionEnded()], Outcome(tags=("good",))),
        ([SessionEnded()], TemperatureRead(place="mould", temperature_K=320.0)),
        ([SessionEnded()], Undone(undone_seq=2)),
        ([mixed(1)], Replanned(batches=(BatchPlan(batch=8, mass_g=1.0, resin_g=0.7, hardener_g=0.3),))),
    ],
)
def test_a_key_that_applies_is_taken(before: list[Event], event: Event) -> None:
    assert refusal(fold(stamped([start(), *before])), event) is None


def test_a_start_that_names_a_batch_or_a_step_twice_is_refused() -> None:
    twice = start().model_copy(update={"batches": (batch_plan(1), batch_plan(1))})
    assert refusal(fold([]), twice) == "two of the batches have the same number"
    step = StepPlan(step=1, name="a", kind="place", planned_s=1.0)
    assert refusal(fold([]), start().model_copy(update={"steps": (step, step)})) == (
        "two of the steps have the same number"
    )


@pytest.mark.parametrize(
    ("number", "why"),
    [
        (1, "event 1 (session-started) cannot be undone"),
        (2, "event 3 (batch-poured-out) builds on event 2 - undo that first"),
        (4, "event 4 is undone already"),
        (99, "there is no event 99 to undo"),
    ],
)
def test_an_undo_that_cannot_be_says_why(number: int, why: str) -> None:
    state = fold(stamped([start(), *POURED, StepDone(step=1), Undone(undone_seq=4)]))
    assert refusal(state, Undone(undone_seq=number)) == why


def test_a_redo_that_no_longer_fits_is_refused() -> None:
    state = fold(stamped([start(), StepDone(step=1), Undone(undone_seq=2), StepDone(step=1)]))
    assert refusal(state, Undone(undone_seq=3)) == "event 4 (step-done) builds on event 3 - undo that first"


def test_the_hardener_read_after_first_contact_corrects_the_mass_and_keeps_the_clock():
    before = fold(stamped([start(), mixed(1)]))
    after = fold(stamped([start(), mixed(1), PourRead(batch=1, resin_g=100.0, hardener_g=33.0)]))
    batch, was = after.batch(1), before.batch(1)
    assert batch is not None
    assert was is not None
    assert (batch.mass_g, batch.mixed_s, batch.status) == (133.0, was.mixed_s, "in the cup")
