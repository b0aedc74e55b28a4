"""Two sessions, or two plans, side by side: what differs, what differed first; and two days on one axis.

Two days are laid over each other at first contact or at the closing: each step, and what was to spare.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import inf
from typing import Literal, TypeVar, get_args

from layup.chemistry.temperature import History
from layup.errors import InputError
from layup.planning.plan import FabricStep, Plan
from layup.review.review import Review
from layup.review.timeline import BatchTrack, StepTrack, Track, on_line, spare_words
from layup.session.state_parts import in_effect
from layup.units import areal_weight, mass, minutes, pressure, temperature

T = TypeVar("T", BatchTrack, StepTrack)

MINUTES_APART_S, SHARE_APART = 120.0, 0.15
"""Times less than two minutes and 15 % apart are the same."""
SAME_BOARD = 0.5
"""Boards with fewer of their steps in common are of different kind (common practice, no source)."""
KELVIN_APART, DAMP_APART, MASS_APART, RATIO_APART, FRACTION_APART = 1.0, 0.10, 0.05, 0.02, 0.02


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing on both sides: in words, and whether it differs by more than chance. `at_s` is when it showed."""

    topic: str
    left: str
    right: str
    differs: bool
    at_s: float | None = None
    """Seconds since the session started on the earlier side; None for what was settled before it began."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """Everything on both sides, what was settled before first, then in the order of the day."""

    rows: tuple[Difference, ...]
    not_compared: tuple[str, ...] = ()
    """What cannot be set side by side, in words: boards of different kind have other steps, grams and times."""

    @property
    def differing(self) -> tuple[Difference, ...]:
        return tuple(row for row in self.rows if row.differs)

    @property
    def first(self) -> Difference | None:
        """What differed first."""
        return next(iter(self.differing), None)


def compare_plans(left: Plan, right: Plan) -> Comparison:
    """Return what two plans settle, side by side."""
    return Comparison(tuple(_plan_rows(left, right)))


def compare(left: Review, right: Review) -> Comparison:
    """Return two sessions side by side."""
    days, other = (left, right), _other_board(left, right)
    rows: list[Difference] = []
    if left.stored.plan is not None and right.stored.plan is not None:
        rows += (
            _shared_rows(left.stored.plan, right.stored.plan)
            if other
            else _plan_rows(left.stored.plan, right.stored.plan)
        )
    if other:
        cup_s = _least(days, lambda one: one.cup_left_s)
        least = _near("least to spare in a cup", cup_s, 2.0 * MINUTES_APART_S, spare_words)
        spare = least, _part_row(days), _pressure_row(days)
        return Comparison((*rows, *_start_rows(days), *spare, *_outcome_rows(days)), other)
    day = [*_start_rows(days), *_batch_rows(days), *_step_rows(days), *_end_rows(days)]
    day.sort(key=lambda row: inf if row.at_s is None else row.at_s)
    return Comparison((*rows, *day, *_outcome_rows(days)))


def _other_board(left: Review, right: Review) -> tuple[str, ...]:
    """Return what cannot be compared, where the two are days of another kind or of boards with few steps in common."""
    states = left.stored.state, right.stored.state
    kinds = [state.kind for state in states]
    if kinds[0] != kinds[1]:
        return (f"steps, batches and times: one is a {kinds[0]} day, the other a {kinds[1]} day",)
    names = [{_same_name(step.plan.name) for step in state.steps} for state in states]
    common, most = len(names[0] & names[1]), max(map(len, names))
    if common >= SAME_BOARD * most:
        return ()
    titles = " and ".join(state.start.title if state.start else "?" for state in states)
    return (
        f"steps and their times: {common} of {most} have the same name ({titles})",
        "grams of the batches, and their places in the day",
        "time from first contact to the closed press",
    )


def _same_name(name: str) -> str:
    return " ".join(name.split()).casefold()


# -- rows ------------------------------------------------------------------------------------------------------------

Pair = tuple[Review, Review]


def _same(topic: str, pair: Iterable[str], at_s: float | None = None) -> Difference:
    """Return a row of two words that are the same or not."""
    left, right = pair
    return Difference(topic, left, right, left != right, at_s)


def _near(
    topic: str, pair: Sequence[float | None], apart: float, show: Callable[[float], str], at_s: float | None = None
) -> Difference:
    """Return a row of two numbers, the same if no further apart than chance puts them."""
    left, right = pair
    differs = left is not right if left is None or right is None else abs(left - right) > apart
    words = ["-" if value is None else show(value) for value in pair]
    return Difference(topic, words[0], words[1], differs, at_s)


def _both(pair: Sequence[T | None], value: Callable[[T], float | None]) -> list[float | None]:
    """Return a number of each of two; None of one that is not there."""
    return [None if one is None else value(one) for one in pair]


def _pairs(days: Pair, parts: Callable[[Track], Sequence[T]]) -> Iterator[tuple[int, list[T | None]]]:
    """Yield what has the same number on both days; None for what only one has."""
    sides = [{one.number: one for one in parts(found.track)} if found.track else {} for found in days]
    for number in sorted(sides[0].keys() | sides[1].keys()):
        yield number, [side.get(number) for side in sides]


def _least(days: Pair, spare_s: Callable[[BatchTrack], float | None]) -> list[float | None]:
    """Return the least that any batch of each day had to spare."""
    batches = [found.track.batches if found.track else () for found in days]
    return [min((left_s for one in side if (left_s := spare_s(one)) is not None), default=None) for side in batches]


def _earlier(pair_s: Sequence[float | None]) -> float | None:
    return min((time_s for time_s in pair_s if time_s is not None), default=None)


def _apart_s(pair_s: Sequence[float | None]) -> float:
    return max(MINUTES_APART_S, SHARE_APART * max(time_s or 0.0 for time_s in pair_s))


def _tenths(kelvin: float) -> str:
    return temperature(kelvin, ".1f")


def _first(history: History) -> float | None:
    return history[0][1] if history else None


def _shared_rows(left: Plan, right: Plan) -> Iterator[Difference]:
    """Compare what plans of any boards have in common."""
    plans = left, right
    yield _same("resin", (plan.resin_id for plan in plans))
    yield _same("people planned", (f"{plan.crew.people}" for plan in plans))
    yield _same("fibre fraction aimed at", (f"{100 * plan.target.value:.0f} % by {plan.target.by}" for plan in plans))


def _plan_rows(left: Plan, right: Plan) -> Iterator[Difference]:
    yield from _shared_rows(left, right)
    plans = left, right
    yield _same("pieces", (f"{plan.pieces}" for plan in plans))
    cups_g = (plan.largest_cup_g for plan in plans)
    yield _same("largest cup", ("-" if mass_g is None else mass(mass_g) for mass_g in cups_g))
    yield _same("closing", map(_closing, plans))
    for index in range(max(len(left.steps), len(right.steps))):
        yield _same(f"step {index + 1}", (_step(plan, index) for plan in plans))


def _closing(plan: Plan) -> str:
    wanted_Pa = plan.closing.target_pressure_Pa
    return f"{plan.closing.method}" + (f", {pressure(wanted_Pa)}" if wanted_Pa else "")


def _step(plan: Plan, index: int) -> str:
    """Return a step of a plan in a few words."""
    if index >= len(plan.steps):
        return "-"
    step = plan.steps[index]
    weight = f", {step.layers} x {areal_weight(step.areal_weight_g_m2)}" if isinstance(step, FabricStep) else ""
    return f"{step.name}{weight}, {minutes(step.bench_s)}"


def _part_row(days: Pair, at_s: float | None = None) -> Difference:
    spare_s = _least(days, lambda one: one.part_left_s)
    return _near("to spare on the part", spare_s, 2.0 * MINUTES_APART_S, spare_words, at_s)


def _pressure_row(days: Pair, at_s: float | None = None) -> Difference:
    return _near("pressure", [found.stored.state.pressure_Pa for found in days], 10_000.0, pressure, at_s)


def _start_rows(days: Pair) -> Iterator[Difference]:
    """Compare what a session begins with: people, lots, air, cans, mould."""
    a, b = (found.stored.state for found in days)
    yield _same("people at the bench", (str(a.people), str(b.people)), 0.0)
    yield _near("shop at the start", (_first(a.air), _first(b.air)), KELVIN_APART, _tenths, 0.0)
    yield _near("humidity", (_first(a.humidity), _first(b.humidity)), DAMP_APART, lambda h: f"{100 * h:.0f} %", 0.0)
    yield _near("mould", (_first(a.mould), _first(b.mould)), KELVIN_APART, _tenths, 0.0)
    yield _near("cans", (_first(a.resin), _first(b.resin)), KELVIN_APART, _tenths, 0.0)
    for component in ("resin", "hardener"):
        lots = [", ".join(lot.lot for lot in state.lots if lot.component == component) or "-" for state in (a, b)]
        yield _same(f"{component} lot", lots, 0.0)
    yield _shop_row(a.air, b.air)


def _shop_row(left: History, right: History) -> Difference:
    """Compare the shop through the day: where it first differs, else where it was at its warmest."""
    times = sorted({at_s for at_s, _ in (*left, *right)})
    for at_s in times:
        pair = [_first(in_effect(history, at_s, at_s)) for history in (left, right)]
        if (row := _near("shop during the day", pair, KELVIN_APART, _tenths, at_s)).differs:
            return row
    warmest = [max((kelvin for _, kelvin in history), default=None) for history in (left, right)]
    return _near("shop at its warmest", warmest, KELVIN_APART, _tenths, times[-1] if times else 0.0)


def _batch_rows(days: Pair) -> Iterator[Difference]:
    """Compare batch by batch: mass, ratio, start, time in the cup, what it had to spare."""
    for number, pair in _pairs(days, lambda day: day.batches):
        name, contact_s = f"batch {number}", _earlier(_both(pair, lambda one: one.contact_s))
        left_s = _earlier(_both(pair, lambda one: one.left_cup_s))
        masses_g = _both(pair, lambda one: None if one.contact_s is None else one.mass_g)
        off, held_s = _both(pair, lambda one: one.off_ratio), _both(pair, lambda one: one.held_s)
        apart_g = MASS_APART * max(filter(None, masses_g), default=0.0)
        yield _near(f"{name} mass", masses_g, apart_g, mass, contact_s)
        yield _near(f"{name} hardener off ratio", off, RATIO_APART, lambda share: f"{100 * share:+.1f} %", contact_s)
        yield _near(f"{name} start", _both(pair, lambda one: one.start_K), KELVIN_APART, _tenths, contact_s)
        yield _near(f"{name} in its cup", held_s, _apart_s(held_s), minutes, left_s)
        spare_s = _both(pair, lambda one: one.cup_left_s)
        yield _near(f"{name} cup to spare", spare_s, 2.0 * MINUTES_APART_S, spare_words, left_s)
        went = ["-" if one is None or one.contact_s is None else one.went for one in pair]
        yield _same(f"{name} went", went, left_s)


def _step_rows(days: Pair) -> Iterator[Difference]:
    """Compare how long each step took."""
    for number, pair in _pairs(days, lambda day: day.steps):
        took_s = _both(pair, lambda one: one.real and one.real.took_s)
        done_s = _earlier(_both(pair, lambda one: one.real and one.real.end_s))
        names = " / ".join(dict.fromkeys(step.name for step in pair if step))
        yield _near(f"step {number} '{names}' took", took_s, _apart_s(took_s), minutes, done_s)


def _end_rows(days: Pair) -> Iterator[Difference]:
    """Compare the closing and the cure."""
    states = [found.stored.state for found in days]
    closed_s = _earlier([state.closed_s for state in states])
    begun_s = [found.track.contact_s if found.track else None for found in days]
    took_s = [_from(state.closed_s, at_s) for state, at_s in zip(states, begun_s, strict=True)]
    yield _near("press closed after first contact", took_s, _apart_s(took_s), minutes, closed_s)
    yield _pressure_row(days, closed_s)
    yield _part_row(days, closed_s)
    shut_s = [_from(state.demoulded_s, state.closed_s) for state in states]
    out_s = _earlier([state.demoulded_s for state in states])
    yield _near("in the mould", shut_s, 0.1 * max(time_s or 0.0 for time_s in shut_s), minutes, out_s)


def _from(at_s: float | None, zero_s: float | None) -> float | None:
    return None if at_s is None or zero_s is None else at_s - zero_s


def _outcome_rows(days: Pair) -> Iterator[Difference]:
    """Compare how the parts turned out."""
    best = [found.as_built.best if found.as_built else None for found in days]
    fractions = [way.by_mass.value if way else None for way in best]
    yield _near("fibre by weight", fractions, FRACTION_APART, lambda share: f"{100 * share:.1f} %")
    yield _same("outcome", (", ".join(o.tags) if (o := found.stored.state.outcome) else "-" for found in days))
    yield _same("findings", (", ".join(one.cause for one in found.findings[:3]) or "-" for found in days))


# -- on one axis -------------------------------------------------------------------------------------------------------

Align = Literal["contact", "closing"]
ALIGNS: tuple[Align, ...] = get_args(Align)


@dataclass(frozen=True, slots=True)
class AlignedSide:
    """A step as one day had it: from when to when after the moment that both are laid over, and what was to spare then.

    Spare is what was left until the first limit of all mix in hand as the step was done.
    """

    begin_s: float
    end_s: float
    spare_s: float | None


@dataclass(frozen=True, slots=True)
class AlignedStep:
    """One step on both days; None where a day had none of this name, or did not log it."""

    name: str
    left: AlignedSide | None
    right: AlignedSide | None

    @property
    def spare_difference_s(self) -> float | None:
        """How much more the right one had to spare as it was done."""
        if self.left is None or self.right is None or self.left.spare_s is None or self.right.spare_s is None:
            return None
        return self.right.spare_s - self.left.spare_s


@dataclass(frozen=True, slots=True)
class Aligned:
    """Two days on one axis; times are from the moment that they are laid over each other at."""

    by: Align
    steps: tuple[AlignedStep, ...]
    closed_s: tuple[float | None, float | None]
    """When each press was closed."""

    @property
    def begin_s(self) -> float:
        """Where the axis begins."""
        return min([0.0, *(side.begin_s for side in self._sides())])

    @property
    def end_s(self) -> float:
        return max(
            [0.0, *(side.end_s for side in self._sides()), *(at_s for at_s in self.closed_s if at_s is not None)]
        )

    def _sides(self) -> Iterator[AlignedSide]:
        yield from (side for step in self.steps for side in (step.left, step.right) if side is not None)


def aligned(left: Review, right: Review, by: Align) -> Aligned:
    """Return two days on one axis. Raises InputError where one has no such moment."""
    days = [_day_from(found, by) for found in (left, right)]
    sides = [_sides(day, zero_s) for day, zero_s in days]
    order = list(dict.fromkeys([*sides[0], *sides[1]]))
    if len(order) > len(sides[0]):  # what only the right one has stands where it was done there
        order.sort(key=lambda key: min(side[key][1] for side in sides if key in side))
    steps = []
    for key in order:
        found = [side.get(key, ("", 0.0, None)) for side in sides]
        steps.append(AlignedStep(found[0][0] or found[1][0], found[0][2], found[1][2]))
    closed_s = [_from(day.closed_s, zero_s) for day, zero_s in days]
    return Aligned(by, tuple(steps), (closed_s[0], closed_s[1]))


def _day_from(found: Review, by: Align) -> tuple[Track, float]:
    """Return a day with the moment that it is laid over another at."""
    if found.track is None:
        raise InputError(found.stored.name, "has no day to lay over another", value=by, todo="see 'layup review'")
    at_s = found.track.contact_s if by == "contact" else found.track.closed_s
    if at_s is None:
        wrong = "has no first contact" if by == "contact" else "has no closed press"
        other = next(each for each in ALIGNS if each != by)
        raise InputError(found.stored.name, wrong, todo=f"lay them over each other at {other}")
    return found.track, at_s


def _sides(day: Track, zero_s: float) -> dict[tuple[str, int], tuple[str, float, AlignedSide | None]]:
    """Return of each step, by its name and which of that name it is, its name, when it began, and how it went."""
    found, seen, spare_s = {}, Counter[str](), day.spare_s()
    for step in day.steps:
        name, real = _same_name(step.name), step.real
        seen[name] += 1
        begin_s = (real or step.planned).begin_s - zero_s
        side = None if real is None else AlignedSide(begin_s, real.end_s - zero_s, on_line(spare_s, real.end_s))
        found[name, seen[name]] = step.name, begin_s, side
    return found
