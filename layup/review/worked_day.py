"""A day as it was worked: a few cups, each mixed, emptied and closed over at some time, and what it had to spare."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from layup.chemistry.calibration import Calibration, calibrate
from layup.planning.budget import for_part
from layup.planning.crew import pace_of
from layup.review.timeline import Stretch, Track, spread_open
from layup.session.archive import StoredSession
from layup.session.lifetimes import learnt_today, lifetime
from layup.session.state import SessionState
from layup.session.state_parts import BatchState


@dataclass(frozen=True, slots=True)
class Cup:
    """One batch of a day: mixed, laid from and emptied at these times."""

    number: int
    resin_g: float
    hardener_g: float
    start_K: float
    contact_s: float
    laid_from_s: float
    emptied_s: float
    as_logged: BatchState
    """The batch that it was on the day: what was measured in it counts while nothing of it is changed."""


@dataclass(frozen=True, slots=True)
class WorkedDay:
    """A day as it was worked, or as it would have been."""

    cups: tuple[Cup, ...]
    closed_s: float
    state: SessionState
    """For its temperatures."""
    law: Calibration
    earlier_s: float = 0.0
    """So much earlier it was begun than its times say, which stay those of the temperatures' clock."""

    @property
    def spans(self) -> tuple[tuple[float, float], ...]:
        """From when to when each batch was in its cup, by the clock of the day."""
        return tuple((cup.contact_s - self.earlier_s, cup.emptied_s - self.earlier_s) for cup in self.cups)

    def moved(self, when_s: Callable[[float], float]) -> WorkedDay:
        """Return the day with every time moved."""
        cups = tuple(
            replace(
                cup,
                contact_s=when_s(cup.contact_s),
                laid_from_s=when_s(cup.laid_from_s),
                emptied_s=when_s(cup.emptied_s),
            )
            for cup in self.cups
        )
        return replace(self, cups=cups, closed_s=when_s(self.closed_s))


def worked_day(kept: StoredSession, track: Track | None) -> WorkedDay | None:
    """Return a session as it was worked; None where no cup went on the part, nothing was closed, or from memory."""
    state, plan = kept.state, kept.plan
    if state.recalled is not None or track is None or plan is None or track.closed_s is None or kept.sheet is None:
        return None
    stirring_s = pace_of(plan.crew).stirring_s
    spans = list(laid_spans(state, {step.number: step.real for step in track.steps if step.real is not None}))
    cups: list[Cup] = []
    for batch in sorted(track.batches, key=lambda one: one.emptied_s or 0.0):
        logged = state.batch(batch.number)
        if batch.contact_s is None or batch.emptied_s is None or not batch.used or logged is None:
            continue
        begun_s = min((begin_s for number, begin_s, _ in spans if number == batch.number), default=0.0)
        laid_s = min(max(batch.contact_s + stirring_s, begun_s), batch.emptied_s)
        resin_g, hardener_g = logged.resin_g or 0.0, logged.hardener_g or 0.0
        start_K = batch.start_K or track.shop.temperature_K
        cups.append(Cup(batch.number, resin_g, hardener_g, start_K, batch.contact_s, laid_s, batch.emptied_s, logged))
    if not cups:
        return None
    law = learnt_today(state, for_part(calibrate(kept.sheet), plan)).calibration
    return WorkedDay(tuple(cups), track.closed_s, state, law)


def spare_s(day: WorkedDay) -> float:
    """Return what the tightest cup or part of a day had to spare, below zero what it lacked.

    Parameters
    ----------
    day : WorkedDay
        The day [-]

    Returns
    -------
    float
        By when each cup had to be empty, and the press closed, less when it was, by the early ends [s]

    Raises
    ------
    RangeError
        A mix beyond the model.
    """
    return tightest(day)[0]


def tightest(day: WorkedDay) -> tuple[float, str]:
    """Return the same with the cup or part that it was."""
    found = []
    for cup in day.cups:
        in_cup = _batch(cup)
        found.append((lifetime(in_cup, day.state, day.law).due(0.0).by_s - cup.emptied_s, f"cup {cup.number}"))
        open_s = lifetime(replace(in_cup, poured_out_s=cup.emptied_s), day.state, day.law).over_s
        if spread_open(open_s, cup.emptied_s):
            found.append((open_s.low - day.closed_s, "the part"))
    return min(found)


def _batch(cup: Cup) -> BatchState:
    """Return a cup as the journal would hold it, in its cup; what was measured counts where nothing is changed."""
    logged = cup.as_logged
    same = (logged.resin_g, logged.hardener_g, logged.mixed_s) == (cup.resin_g, cup.hardener_g, cup.contact_s)
    same = same and logged.start_K == cup.start_K
    return replace(
        logged, resin_g=cup.resin_g, hardener_g=cup.hardener_g, mixed_s=cup.contact_s, start_K=cup.start_K,
        poured_out_s=None, pressed_s=None, lost_s=None, observations=(),
        temperatures=logged.temperatures if same else (),
    )  # fmt: skip


def laid_spans(state: SessionState, real: Mapping[int, Stretch]) -> Iterator[tuple[int, float, float]]:
    """Yield each batch with from when to when its share of each of its steps was laid, by the step's real time."""
    gone: dict[int, float] = {}
    for batch in state.batches:
        for number, share in batch.serves if batch.lost_s is None else ():
            before = gone.get(number, 0.0)
            gone[number] = min(before + share, 1.0)
            if number in real:
                begin_s, took_s = real[number].begin_s, real[number].took_s
                yield batch.number, begin_s + before * took_s, begin_s + gone[number] * took_s
