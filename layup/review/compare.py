"""Two sessions, or two plans, side by side: what differs, what differed first; and two days on one axis.

Two days are laid over each other at first contact or at the closing: each step, and what was to spare.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import inf
from typing import Literal, TypeVar, get_args

from layup.chemistry.temperature import History
from layup.errors import InputError
from layup.planning.plan import FabricStep, Plan
from layup.review.as_built import AsBuilt
from layup.review.review import Review
from layup.review.timeline import BatchTrack, StepTrack, Stretch, Track, on_line, spare_words
from layup.session.state_parts import in_effect
from layup.units import areal_weight, mass, minutes, pressure, temperature

T = TypeVar("T")

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
    other = _other_board(left, right)
    rows: list[Difference] = []
    if left.kept.plan is not None and right.kept.plan is not None:
        rows += _shared_rows(left.kept.plan, right.kept.plan) if other else _plan_rows(left.kept.plan, right.kept.plan)
    if other:
        day = [*_start_rows(left, right), *_any_board_rows(left, right)]
        return Comparison((*rows, *day, *_outcome_rows(left, right)), other)
    day = [*_start_rows(left, right), *_batch_rows(left, right), *_step_rows(left, right), *_end_rows(left, right)]
    day.sort(key=lambda row: inf if row.at_s is None else row.at_s)
    return Comparison((*rows, *day, *_outcome_rows(left, right)))


def _other_board(left: Review, right: Review) -> tuple[str, ...]:
    """Return what cannot be compared, where the two are days of another kind or of boards with few steps in common."""
    starts = [found.kept.state.start for found in (left, right)]
    kinds = [start.kind if start else "press" for start in starts]
    if kinds[0] != kinds[1]:
        return (f"steps, batches and times: one is a {kinds[0]} day, the other a {kinds[1]} day",)
    names = [
        {" ".join(step.plan.name.split()).casefold() for step in found.kept.state.steps} for found in (left, right)
    ]
    common, most = len(names[0] & names[1]), max(len(names[0]), len(names[1]))
    if common >= SAME_BOARD * most:
        return ()
    titles = " and ".join(start.title if start else "?" for start in starts)
    return (
        f"steps and their times: {common} of {most} have the same name ({titles})",
        "grams of the batches, and their places in the day",
        "time from first contact to the closed press",
    )


def _shared_rows(left: Plan, right: Plan) -> Iterator[Difference]:
    """Compare what plans of any boards have in common."""
    yield _same("resin", left.resin_id, right.resin_id)
    yield _same("people planned", str(left.crew.people), str(right.crew.people))
    yield _same("fibre fraction aimed at", _aim(left), _aim(right))


def _any_board_rows(left: Review, right: Review) -> Iterator[Difference]:
    """Compare of days with any boards what was to spare, and the pressure."""
    cups = [[batch.cup_left_s for batch in found.track.batches] if found.track else [] for found in (left, right)]
    least = [min((spare_s for spare_s in side if spare_s is not None), default=None) for side in cups]
    yield _near("least to spare in a cup", least, 2.0 * MINUTES_APART_S, spare_words)
    spare = [_least_on_part_s(found) for found in (left, right)]
    yield _near("to spare on the part", spare, 2.0 * MINUTES_APART_S, spare_words)
    states = left.kept.state, right.kept.state
    yield _near("pressure", [state.pressure_Pa for state in states], 10_000.0, pressure)


def _plan_rows(left: Plan, right: Plan) -> Iterator[Difference]:
    yield from _shared_rows(left, right)
    yield _same("pieces", str(left.pieces), str(right.pieces))
    yield _same("largest cup", _grams(left.largest_cup_g), _grams(right.largest_cup_g))
    yield _same("closing", _closing(left), _closing(right))
    for index in range(max(len(left.steps), len(right.steps))):
        yield _same(f"step {index + 1}", _step(left, index), _step(right, index))


def _aim(plan: Plan) -> str:
    return f"{100 * plan.target.value:.0f} % by {plan.target.by}"


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


def _grams(mass_g: float | None) -> str:
    return "-" if mass_g is None else f"{mass(mass_g)}"


def _same(topic: str, left: str, right: str, at_s: float | None = None) -> Difference:
    """Return a row of two words that are the same or not."""
    return Difference(topic, left, right, left != right, at_s)


def _near(
    topic: str, pair: Sequence[float | None], apart: float, show: Callable[[float], str], at_s: float | None = None
) -> Difference:
    """Return a row of two numbers, the same if no further apart than chance puts them."""
    left, right = pair
    words = ["-" if value is None else show(value) for value in (left, right)]
    if left is None or right is None:
        return Difference(topic, words[0], words[1], (left is None) != (right is None), at_s)
    return Difference(topic, words[0], words[1], abs(left - right) > apart, at_s)


def _apart_s(pair_s: Sequence[float | None]) -> float:
    return max(MINUTES_APART_S, SHARE_APART * max(time_s or 0.0 for time_s in pair_s))


def _tenths(kelvin: float) -> str:
    return temperature(kelvin, ".1f")


def _first(history: Sequence[tuple[float, float]]) -> float | None:
    return history[0][1] if history else None


def _start_rows(left: Review, right: Review) -> Iterator[Difference]:
    """Compare what a session begins with: people, lots, air, cans, mould."""
    a, b = left.kept.state, right.kept.state
    yield _same("people at the bench", str(a.people), str(b.people), 0.0)
    yield _near("shop at the start", (_first(a.air), _first(b.air)), KELVIN_APART, _tenths, 0.0)
    yield _near("humidity", (_first(a.humidity), _first(b.humidity)), DAMP_APART, lambda h: f"{100 * h:.0f} %", 0.0)
    yield _near("mould", (_first(a.mould), _first(b.mould)), KELVIN_APART, _tenths, 0.0)
    yield _near("cans", (_first(a.resin), _first(b.resin)), KELVIN_APART, _tenths, 0.0)
    for component in ("resin", "hardener"):
        lots = [", ".join(lot.lot for lot in state.lots if lot.component == component) or "-" for state in (a, b)]
        yield _same(f"{component} lot", lots[0], lots[1], 0.0)
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


def _batch_rows(left: Review, right: Review) -> Iterator[Difference]:
    """Compare batch by batch: mass, ratio, start, time in the cup, what it had to spare."""
    for number, a, b in _pairs(_batches(left), _batches(right)):
        contact = [_of(batch, lambda one: one.contact_s) for batch in (a, b)]
        masses = [_of(batch, lambda one: None if one.contact_s is None else one.mass_g) for batch in (a, b)]
        off = [_of(batch, lambda one: one.off_ratio) for batch in (a, b)]
        start = [_of(batch, lambda one: one.start_K) for batch in (a, b)]
        held = [_of(batch, _held_s) for batch in (a, b)]
        spare = [_of(batch, lambda one: one.cup_left_s) for batch in (a, b)]
        name, contact_s = f"batch {number}", _earlier(*contact)
        left_s = _earlier(*(_of(batch, lambda one: one.left_cup_s) for batch in (a, b)))
        apart_g = MASS_APART * max(filter(None, masses), default=0.0)
        yield _near(f"{name} mass", masses, apart_g, mass, contact_s)
        yield _near(f"{name} hardener off ratio", off, RATIO_APART, lambda share: f"{100 * share:+.1f} %", contact_s)
        yield _near(f"{name} start", start, KELVIN_APART, _tenths, contact_s)
        yield _near(f"{name} in its cup", held, _apart_s(held), minutes, left_s)
        yield _near(f"{name} cup to spare", spare, 2.0 * MINUTES_APART_S, spare_words, left_s)
        yield _same(f"{name} went", _went(a), _went(b), left_s)


def _of(track: T | None, value: Callable[[T], float | None]) -> float | None:
    return None if track is None else value(track)


def _batches(review: Review) -> dict[int, BatchTrack]:
    return {batch.number: batch for batch in review.track.batches} if review.track else {}


def _held_s(batch: BatchTrack) -> float | None:
    if batch.contact_s is None or batch.left_cup_s is None:
        return None
    return batch.left_cup_s - batch.contact_s


def _went(batch: BatchTrack | None) -> str:
    if batch is None or batch.contact_s is None:
        return "-"
    return batch.went


def _earlier(left_s: float | None, right_s: float | None) -> float | None:
    return min((time_s for time_s in (left_s, right_s) if time_s is not None), default=None)


def _pairs(left: dict[int, T], right: dict[int, T]) -> Iterator[tuple[int, T | None, T | None]]:
    for number in sorted(left.keys() | right.keys()):
        yield number, left.get(number), right.get(number)


def _step_rows(left: Review, right: Review) -> Iterator[Difference]:
    """Compare how long each step took."""
    for number, a, b in _pairs(_steps(left), _steps(right)):
        took = [_of(step, lambda one: one.real and one.real.took_s) for step in (a, b)]
        done_s = _earlier(*(_of(step, lambda one: one.real and one.real.end_s) for step in (a, b)))
        names = " / ".join(dict.fromkeys(step.name for step in (a, b) if step))
        yield _near(f"step {number} '{names}' took", took, _apart_s(took), minutes, done_s)


def _steps(review: Review) -> dict[int, StepTrack]:
    return {step.number: step for step in review.track.steps} if review.track else {}


def _end_rows(left: Review, right: Review) -> Iterator[Difference]:
    """Compare the closing and the cure."""
    a, b = left.kept.state, right.kept.state
    closed_s = _earlier(a.closed_s, b.closed_s)
    closed = [_from_contact(review, review.kept.state.closed_s) for review in (left, right)]
    yield _near("press closed after first contact", closed, _apart_s(closed), minutes, closed_s)
    yield _near("pressure", (a.pressure_Pa, b.pressure_Pa), 10_000.0, pressure, closed_s)
    spare = [_least_on_part_s(review) for review in (left, right)]
    yield _near("to spare on the part", spare, 2.0 * MINUTES_APART_S, spare_words, closed_s)
    shut = [None if s.demoulded_s is None or s.closed_s is None else s.demoulded_s - s.closed_s for s in (a, b)]
    out_s = _earlier(a.demoulded_s, b.demoulded_s)
    yield _near("in the mould", shut, 0.1 * max(shut[0] or 0.0, shut[1] or 0.0), minutes, out_s)


def _from_contact(review: Review, time_s: float | None) -> float | None:
    if review.track is None or review.track.contact_s is None or time_s is None:
        return None
    return time_s - review.track.contact_s


def _least_on_part_s(review: Review) -> float | None:
    batches = review.track.batches if review.track else ()
    return min((batch.part_left_s for batch in batches if batch.part_left_s is not None), default=None)


def _outcome_rows(left: Review, right: Review) -> Iterator[Difference]:
    """Compare how the parts turned out."""
    fractions = [_fraction(review.as_built) for review in (left, right)]
    yield _near("fibre by weight", fractions, FRACTION_APART, lambda share: f"{100 * share:.1f} %")
    tags = [", ".join(o.tags) if (o := review.kept.state.outcome) else "-" for review in (left, right)]
    yield _same("outcome", tags[0], tags[1])
    causes = [", ".join(finding.cause for finding in review.findings[:3]) or "-" for review in (left, right)]
    yield _same("findings", causes[0], causes[1])


def _fraction(built: AsBuilt | None) -> float | None:
    return built.best.by_mass.value if built and built.best else None


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
    tracks = [_track(found, by) for found in (left, right)]
    zeros_s = [_zero_s(found, day, by) for found, day in zip((left, right), tracks, strict=True)]
    sides = [dict(_named(day.steps)) for day in tracks]
    order = list(dict.fromkeys([*sides[0], *sides[1]]))
    if len(order) > len(sides[0]):  # what only the right one has stands where it was done there
        timed = list(zip(sides, zeros_s, strict=True))
        order.sort(key=lambda key: min(_at_s(each[key], zero_s) for each, zero_s in timed if key in each))
    return Aligned(
        by=by,
        steps=tuple(
            AlignedStep(
                next(each[key].name for each in sides if key in each),
                *(_side(day, each.get(key), zero_s) for day, each, zero_s in zip(tracks, sides, zeros_s, strict=True)),
            )
            for key in order
        ),
        closed_s=(_from(tracks[0].closed_s, zeros_s[0]), _from(tracks[1].closed_s, zeros_s[1])),
    )


def _track(found: Review, by: Align) -> Track:
    if found.track is None:
        raise InputError(found.kept.name, "has no day to lay over another", value=by, todo="see 'layup review'")
    return found.track


def _zero_s(found: Review, day: Track, by: Align) -> float:
    at_s = day.contact_s if by == "contact" else day.closed_s
    if at_s is None:
        wrong = "has no first contact" if by == "contact" else "has no closed press"
        other = next(each for each in ALIGNS if each != by)
        raise InputError(found.kept.name, wrong, todo=f"lay them over each other at {other}")
    return at_s


def _from(at_s: float | None, zero_s: float) -> float | None:
    return None if at_s is None else at_s - zero_s


def _named(steps: tuple[StepTrack, ...]) -> Iterator[tuple[tuple[str, int], StepTrack]]:
    """Yield each step with its name and which of that name it is."""
    seen: dict[str, int] = {}
    for step in steps:
        name = " ".join(step.name.split()).casefold()
        seen[name] = seen.get(name, 0) + 1
        yield (name, seen[name]), step


def _at_s(step: StepTrack, zero_s: float) -> float:
    return (step.real or step.planned).begin_s - zero_s


def _side(day: Track, step: StepTrack | None, zero_s: float) -> AlignedSide | None:
    real: Stretch | None = None if step is None else step.real
    if real is None:
        return None
    return AlignedSide(real.begin_s - zero_s, real.end_s - zero_s, on_line(day.spare_s(), real.end_s))
