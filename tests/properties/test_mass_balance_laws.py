"""No mix appears or vanishes: whatever is poured, laid, lost, planned anew and undone, poured = laid + lost + left."""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from session_examples import NOON, start

from layup.session.batch_events import BatchLost, BatchMixed, BatchPouredOut, MixLeft, PourRead, Replanned, StepDone
from layup.session.day_events import StepMerged, StepSkipped, Undone
from layup.session.fields import BatchPlan
from layup.session.mass_balance import laid_by_steps_g, mass_balance
from layup.session.records import extend, fold, record_of, refusal
from layup.session.state import Event, SessionState

STEPS = (1, 2, 3, 4)
NEAR = 1e-9
grams = st.floats(1.0, 500.0)
needs = st.fixed_dictionaries({step: st.floats(0.0, 300.0) for step in STEPS})
number = st.integers(1, 5)


@st.composite
def plans(draw: st.DrawFn) -> BatchPlan:
    """Return a batch for some of the steps, with or without the shares it lays of them."""
    steps = tuple(draw(st.lists(st.sampled_from(STEPS), unique=True, max_size=4)))
    shares = tuple(draw(st.floats(0.0, 1.0)) for _ in steps) if draw(st.booleans()) else ()
    return BatchPlan(batch=draw(number), mass_g=130.0, resin_g=100.0, hardener_g=30.0, steps=steps, shares=shares)


def one_of_each(found: list[BatchPlan]) -> tuple[BatchPlan, ...]:
    return tuple({plan.batch: plan for plan in found}.values())


batches = st.lists(plans(), min_size=1, max_size=5).map(one_of_each)
share = st.none() | st.floats(0.0, 1.0)
left_over = st.builds(
    lambda batch, left_g, found: MixLeft(
        batch=batch,
        left_in_cup_g=left_g,
        left_for=tuple(step for step, _ in found),
        left_shares=tuple(share for _, share in found),
    ),
    *(number, st.floats(0.0, 100.0), st.lists(st.tuples(st.sampled_from(STEPS), st.floats(0.0, 1.0)), max_size=2)),
)
moves = st.one_of(
    st.builds(PourRead, batch=number, resin_g=grams, hardener_g=st.just(0.0) | grams),
    st.builds(BatchMixed, batch=number, resin_g=grams, hardener_g=grams, start_K=st.just(293.15)),
    st.builds(BatchPouredOut, batch=number),
    st.tuples(number, share),
    st.builds(StepDone, step=st.sampled_from(STEPS)),
    st.builds(Replanned, batches=batches),
    st.builds(StepSkipped, step=st.sampled_from(STEPS)),
    st.builds(StepMerged, step=st.sampled_from(STEPS), into_step=st.sampled_from(STEPS)),
    left_over,
    left_over,
    st.just("undo"),
)


@dataclass
class Books:
    """What really went where, kept by hand beside the journal: grams poured, and grams on the part, by batch."""

    poured_g: dict[int, float] = field(default_factory=dict)
    laid_g: dict[int, float] = field(default_factory=dict)
    mixed: set[int] = field(default_factory=set)
    lost: set[int] = field(default_factory=set)
    left_g: dict[int, float] = field(default_factory=dict)

    def after(self, event: Event, plain_g: float) -> Books:
        """Return the books after an event; `plain_g` is what a batch lost without a word had laid."""
        books = Books(dict(self.poured_g), dict(self.laid_g), set(self.mixed), set(self.lost), dict(self.left_g))
        if isinstance(event, PourRead | BatchMixed):
            books.poured_g[event.batch] = event.resin_g + event.hardener_g
            if isinstance(event, BatchMixed):
                books.mixed.add(event.batch)
        elif isinstance(event, BatchPouredOut):
            books.laid_g[event.batch] = books.poured_g[event.batch]
        elif isinstance(event, MixLeft):
            books.left_g[event.batch] = event.left_in_cup_g
        elif isinstance(event, BatchLost):
            books.lost.add(event.batch)
            books.laid_g[event.batch] = plain_g if event.laid_g is None else event.laid_g
        elif isinstance(event, Replanned):
            stay = books.mixed | books.lost | {plan.batch for plan in event.batches}
            books.poured_g = {batch: mass for batch, mass in books.poured_g.items() if batch in stay}
        return books


def then(state: SessionState, event: Event) -> SessionState:
    stamp = {"seq": state.seq + 1, "at": NOON, "elapsed_s": state.last_s + 60.0}
    return extend(state, (record_of(event, stamp),))


def done_in(state: SessionState) -> set[int]:
    return {step.number for step in state.steps if step.done_s is not None}


def check(state: SessionState, books: Books, mix_g: dict[int, float]) -> None:
    balance = mass_balance(state, mix_g)
    assert {b.number for b in state.batches if b.poured_g > 0.0} == set(books.poured_g)
    for batch in state.batches:
        account = balance.of_batch(batch.number)
        assert min(account) >= -NEAR
        assert account.poured_g == pytest.approx(books.poured_g.get(batch.number, 0.0), abs=NEAR)
        assert account.poured_g == pytest.approx(account.laid_g + account.lost_g + account.left_g, abs=NEAR)
        if batch.number in books.left_g and batch.number not in books.lost:
            least_g = books.poured_g[batch.number] - books.left_g[batch.number]
            assert account.laid_g >= least_g - NEAR, "all but what is left is on the part"
            if not {step for step, _ in batch.left_for}.intersection(done_in(state)):
                assert account.laid_g == pytest.approx(books.laid_g.get(batch.number, least_g), abs=NEAR)
        if batch.number in books.laid_g:
            assert account.laid_g == pytest.approx(books.laid_g[batch.number], abs=NEAR)
        assert (account.left_g if batch.number in books.lost else account.lost_g) == pytest.approx(0.0, abs=NEAR)
    by_step = [balance.of_step(step) for step in STEPS]
    for account in by_step:
        assert min(account) >= -NEAR
        assert account.poured_g == pytest.approx(account.laid_g + account.lost_g + account.left_g, abs=NEAR)
    stepless = sum(portion.poured_g for portion in balance.portions if portion.step is None)
    assert sum(account.poured_g for account in by_step) + stepless == pytest.approx(
        sum(books.poured_g.values()), abs=NEAR
    )


@given(batches, needs, st.lists(moves, max_size=25))
@settings(max_examples=300, deadline=None)
def test_all_that_was_poured_is_laid_lost_or_left_by_batch_and_by_step(
    begun: tuple[BatchPlan, ...], mix_g: dict[int, float], chosen: list[object]
) -> None:
    first = start(batches=0, steps=len(STEPS)).model_copy(update={"batches": begun})
    opened = record_of(first, {"seq": 1, "at": NOON, "elapsed_s": 0.0})
    state, books = fold([opened]), Books()
    history: list[Books] = []
    for move in chosen:
        event, plain_g = move, 0.0
        if move == "undo":
            if state.undoable is None:
                continue
            event = Undone(undone_seq=state.undoable)
        elif isinstance(move, tuple):
            batch = state.batch(move[0])
            if batch is None:
                continue
            said_g = None if move[1] is None else move[1] * (batch.poured_g if batch.mixed_s is not None else 0.0)
            event, plain_g = BatchLost(batch=move[0], laid_g=said_g), laid_by_steps_g(batch, state.steps, mix_g)
        assert isinstance(event, Event)
        if refusal(state, event) is not None:
            continue
        state = then(state, event)
        if isinstance(event, Undone):
            books = history.pop()
        else:
            history.append(books)
            books = books.after(event, plain_g)
        check(state, books, mix_g)
        assert mass_balance(fold(state.records), mix_g) == mass_balance(state, mix_g)


@given(needs, st.floats(0.0, 1.0), st.integers(0, 4))
def test_what_was_said_to_be_laid_went_to_the_steps_done_first(mix_g: dict[int, float], said: float, done: int) -> None:
    plan = BatchPlan(batch=1, mass_g=260.0, resin_g=200.0, hardener_g=60.0, steps=STEPS, shares=(1.0,) * 4)
    first = start(batches=0, steps=len(STEPS)).model_copy(update={"batches": (plan,)})
    opened = record_of(first, {"seq": 1, "at": NOON, "elapsed_s": 0.0})
    state = then(fold([opened]), BatchMixed(batch=1, resin_g=200.0, hardener_g=60.0, start_K=293.15))
    for step in STEPS[:done]:
        state = then(state, StepDone(step=step))
    state = then(state, BatchLost(batch=1, laid_g=260.0 * said))
    balance = mass_balance(state, mix_g)
    accounts = [balance.of_step(step) for step in STEPS]
    touched = [account for account in accounts if account.poured_g > 1e-6]
    for before, after in pairwise(touched):
        assert after.laid_g < NEAR or before.lost_g < 1e-6, "a later step got mix while an earlier one lacks it"
