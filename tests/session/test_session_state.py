"""What a session's records amount to."""

import pytest
from session_examples import good_day, jumps_of, mixed, stamped, start

from layup.session.batch_events import (
    BatchMixed,
    BatchPouredOut,
    CupTemperatureRead,
    Observation,
    PourRead,
    PressClosed,
    Replanned,
    StepDone,
)
from layup.session.clock import Jump
from layup.session.day_events import LotRecorded, Note, SessionEnded, TemperatureRead, Undone
from layup.session.fields import BatchPlan
from layup.session.records import ClockJumped, JournalOpened, fold, refusal
from layup.session.state import Event, Outcome, SessionState
from layup.session.state_parts import LotSeen, NoteTaken


def after(*events: Event) -> SessionState:
    """Return the state after the start, at 0 s, and `events`, one a minute from 60 s."""
    return fold(stamped([start(), *events]))


def test_nothing_is_known_before_the_first_record() -> None:
    state = fold([])
    assert state == SessionState()
    assert state.start is None
    assert state.moment is None
    assert refusal(state, mixed(1)) == "the session has not started"
    assert refusal(state, Undone(undone_seq=1)) == "nothing has been logged yet"


def test_a_day_is_folded_into_its_batches_steps_and_readings() -> None:
    state = fold(stamped(good_day()))
    assert not state.misfits
    assert [batch.status for batch in state.batches] == ["under press", "lost", "to mix"]
    assert state.air == ((60.0, 293.15),)
    assert state.history("mould") == ((840.0, 303.15),)
    assert state.humidity == ((120.0, 0.55),)
    assert [(step.done_s, step.took_s) for step in state.steps] == [(420.0, 420.0), (720.0, 300.0), (None, None)]
    assert state.step_now is not None
    assert state.step_now.number == 3
    assert state.people == 1
    assert state.notes == (NoteTaken(600.0, 11, "später, mit 手袋 ✋"),)
    assert (state.closed_s, state.pressure_Pa, state.ended_s, state.demoulded_s) == (780.0, 50_000.0, 900.0, 960.0)


def test_a_batch_goes_from_the_scale_to_the_press_in_words() -> None:
    events: list[Event] = [
        PourRead(batch=1, resin_g=101.0, hardener_g=30.0),
        BatchMixed(batch=1, resin_g=101.0, hardener_g=30.2, start_K=295.0, vessel="tray", depth_m=0.01),
        BatchPouredOut(batch=1),
        PressClosed(),
    ]
    words = []
    for count in range(len(events) + 1):
        batch = after(*events[:count]).batch(1)
        assert batch is not None
        words.append(batch.status)
    assert words == ["to mix", "weighed", "in the cup", "on the part", "under press"]
    batch = after(*events).batch(1)
    assert batch is not None
    assert (batch.weighed_s, batch.mixed_s, batch.poured_out_s, batch.pressed_s) == (60.0, 120.0, 180.0, 240.0)
    assert (batch.depth_m, batch.start_K) == (0.01, 295.0)
    assert batch.mass_g == pytest.approx(131.2)


def test_the_planned_mass_stands_until_a_pour_is_read() -> None:
    batch = after().batch(1)
    assert batch is not None
    assert batch.mass_g == 130.0


def test_observations_and_cup_temperatures_stay_with_their_batch() -> None:
    state = after(
        mixed(2), Observation(batch=2, word="runny"), CupTemperatureRead(batch=2, temperature_K=301.0),
        Observation(batch=2, word="stringy"),
    )  # fmt: skip
    batch = state.batch(2)
    assert batch is not None
    assert batch.observations == ((120.0, "runny"), (240.0, "stringy"))
    assert batch.temperatures == ((180.0, 301.0),)


def test_of_two_readings_at_the_same_instant_the_later_counts() -> None:
    records = stamped([start(), *(TemperatureRead(place="air", temperature_K=k) for k in (290.0, 291.0))], every_s=0.0)
    assert fold(records).air == ((0.0, 291.0),)


def test_lots_and_the_last_outcome_are_kept() -> None:
    state = after(
        LotRecorded(component="resin", lot="A-17"), Outcome(tags=("dry spot",)), Outcome(tags=("good",), notes="flat")
    )
    assert state.lots == (LotSeen(60.0, "resin", "A-17"),)
    assert state.outcome is not None
    assert (state.outcome.tags, state.outcome.notes) == (("good",), "flat")


def test_a_new_plan_replaces_what_is_not_mixed_and_keeps_what_is_weighed_by_its_number() -> None:
    new = (
        BatchPlan(batch=3, mass_g=200.0, resin_g=154.0, hardener_g=46.0),
        BatchPlan(batch=4, mass_g=90.0, resin_g=69.0, hardener_g=21.0),
    )
    state = after(mixed(1), PourRead(batch=3, resin_g=100.0, hardener_g=30.0), Replanned(batches=new))
    assert [(batch.number, batch.status) for batch in state.batches] == [
        *((1, "in the cup"), (3, "weighed"), (4, "to mix"))
    ]
    third = state.batch(3)
    assert third is not None
    assert third.plan.mass_g == 200.0


def test_undo_takes_back_the_last_thing_a_person_logged_and_both_stay_in_the_log() -> None:
    state = after(mixed(1), StepDone(step=1), TemperatureRead(place="air", temperature_K=290.0, source="thermometer"))
    assert state.undoable == 3
    state = after(
        mixed(1), StepDone(step=1), TemperatureRead(place="air", temperature_K=290.0, source="thermometer"),
        Undone(undone_seq=3),
    )  # fmt: skip
    step = state.step(1)
    assert step is not None
    assert step.done_s is None
    assert state.air == ((180.0, 290.0),)
    assert [record.event for record in state.records][2::2] == ["step-done", "undone"]
    assert (state.undoable, state.redoable) == (2, 5)


def test_undoing_an_undo_brings_the_event_back_at_its_own_time() -> None:
    state = after(StepDone(step=1), Undone(undone_seq=2), Undone(undone_seq=3))
    step = state.step(1)
    assert step is not None
    assert step.done_s == 60.0
    assert (state.undoable, state.redoable) == (2, None)


def test_redo_goes_back_through_several_undos_until_something_new_is_logged() -> None:
    undone = [StepDone(step=1), StepDone(step=2), Undone(undone_seq=3), Undone(undone_seq=2)]
    assert after(*undone).redoable == 5
    assert after(*undone, Undone(undone_seq=5)).redoable == 4
    assert after(*undone, Undone(undone_seq=5), Undone(undone_seq=4)).redoable is None
    assert after(*undone, StepDone(step=3)).redoable is None
    assert after(*undone, TemperatureRead(place="air", temperature_K=290.0, source="thermometer")).redoable == 5


def test_the_clocks_are_followed_through_openings_and_jumps() -> None:
    opened = JournalOpened(boot_id="b", monotonic_s=1000.0, process_id=7, program="layup 0", reason="created")
    state = after(opened, ClockJumped(wall_s=400.0, monotonic_s=60.0, taken_s=400.0), Note(text="on"))
    assert jumps_of(state) == ((120.0, Jump(400.0, 60.0, 400.0)),)
    assert state.moment is not None
    # opened at 60 s with the raw clock at 1000 s; 340 s of sleep were counted that the raw clock did not see
    assert state.moment.monotonic_s == 1000.0 - 60.0 - 340.0 + 180.0
    assert state.moment.boot_id == "b"


def test_an_undo_of_itself_or_of_the_future_takes_nothing_back() -> None:
    state = after(Undone(undone_seq=2), Undone(undone_seq=4), StepDone(step=1))
    assert [misfit.why for misfit in state.misfits] == ["there is no event 2 to undo", "there is no event 4 to undo"]
    assert state.cancelled == frozenset()


def test_an_event_that_does_not_fit_changes_nothing_and_is_kept_with_the_reason() -> None:
    state = after(BatchPouredOut(batch=1), Undone(undone_seq=1), Undone(undone_seq=77), SessionEnded(), mixed(1))
    assert [(misfit.seq, misfit.event) for misfit in state.misfits] == [
        *((2, "batch-poured-out"), (3, "undone"), (4, "undone"), (6, "batch-mixed"))
    ]
    assert state.misfits[1].why == "event 1 (session-started) cannot be undone"
    assert state.misfits[2].why == "there is no event 77 to undo"
    assert [batch.status for batch in state.batches] == ["to mix"] * 3


def test_nothing_can_be_added_to_a_state_that_was_handed_out() -> None:
    state = after(Note(text="on"))
    record = state.records[-1]
    with pytest.raises(AttributeError, match="no attribute 'append'"):
        record.apply(state, record)
    assert len(state.notes) == 1
