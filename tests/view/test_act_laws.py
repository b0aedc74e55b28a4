"""Laws of the bench view: any day, well or badly spent, has one act at every moment, which can be done."""

from functools import cache

from hypothesis import given, settings
from hypothesis import strategies as st
from scripted_days import beside, day_of, done, with_window
from view_checks import check_fan, check_it_can_be_done, check_nothing_due_is_silent, check_one_act

from layup.bench.acts import RANKS
from layup.bench.day import PressDay
from layup.bench.view import BenchView, bench_view
from layup.session.batch_events import (
    BatchLost,
    BatchMixed,
    BatchPouredOut,
    CupTemperatureRead,
    Demoulded,
    Observation,
    PourRead,
    PressClosed,
    StepDone,
)
from layup.session.day_events import AlarmAcknowledged, PeopleChanged, SessionEnded, TemperatureRead
from layup.session.records import refusal
from layup.session.state import Event

KEYS = ["cup 1", "cup 2", "part", "shop", "replan", "mix 1", "step 3", "life 1"]
batches = st.integers(1, 2)
events = st.one_of(
    st.builds(PourRead, batch=batches, resin_g=st.floats(150.0, 300.0), hardener_g=st.floats(0.0, 90.0)),
    st.builds(BatchMixed, batch=batches, resin_g=st.just(200.0), hardener_g=st.just(60.0), start_K=st.just(293.15)),
    st.builds(BatchPouredOut, batch=batches),
    st.builds(BatchLost, batch=batches, why=st.sampled_from(["", "gelled in the cup", "spilt"])),
    st.builds(StepDone, step=st.integers(2, 13)),
    st.builds(Observation, batch=batches, word=st.sampled_from(["runny", "thickening", "stringy", "gelled"])),
    st.builds(TemperatureRead, place=st.just("air"), temperature_K=st.floats(280.0, 306.0)),
    st.builds(CupTemperatureRead, batch=batches, temperature_K=st.floats(285.0, 360.0)),
    st.builds(AlarmAcknowledged, alarm=st.sampled_from(KEYS), rank=st.sampled_from(RANKS)),
    st.builds(PeopleChanged, people=st.integers(1, 3)),
    st.just(PressClosed()),
    st.just(Demoulded()),
    st.just(SessionEnded()),
)
likely = st.one_of(events, st.just(None))
"""What is logged by hand, or the act on top done."""
days = st.lists(st.tuples(st.sampled_from([1.0, 61.0, 400.0, 1500.0]), likely), min_size=1, max_size=9)
Chosen = list[tuple[float, Event | None]]


@cache
def begun(people: int) -> PressDay:
    return with_window(day_of(people), 16.0, 24.0)


def played(people: int, chosen: Chosen) -> list[tuple[PressDay, BenchView]]:
    """Play a day of random waits, events that apply and acts done; return every look."""
    day, looks = beside(begun(people)), []
    for wait_s, event in chosen:
        day.clock.advance(wait_s)
        view = bench_view(day)
        looks.append((beside(day), view))
        if event is None:
            done(day, view.act)
        elif refusal(day.state, event) is None:
            day.source.append(event)
    looks.append((day, bench_view(day)))
    return looks


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 2), days)
def test_any_day_has_one_act_at_every_look_which_can_be_done_and_is_never_silent(people: int, chosen: Chosen) -> None:
    for day, view in played(people, chosen):
        check_one_act(view)
        check_nothing_due_is_silent(view)
        check_it_can_be_done(day, view)
        if not any(batch.temperatures for batch in day.state.batches):
            for fan in (*view.cups, *view.parts):
                if fan.by_s is not None:
                    check_fan(fan, view.now_s, day.closing_s)


@settings(max_examples=15, deadline=None)
@given(st.integers(1, 2), days)
def test_the_view_is_a_pure_function_of_what_was_logged_and_the_time(people: int, chosen: Chosen) -> None:
    for day, view in played(people, chosen)[-2:]:
        fresh = beside(day)
        fresh._alive_of = fresh._balance_of = ()
        fresh._if_poured = (float("-inf"), None, None)
        assert bench_view(fresh) == view
