"""The same day with one thing changed: its logged temperatures and its real step times, and the spare time then.

A day as it was worked is a few cups, each mixed, emptied and closed over at some time. A change moves those times, or
the mix in them; what each cup then had to spare is worked out as on the day, with the resin as the day taught it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from functools import partial
from itertools import combinations
from math import ceil
from typing import Literal

from layup.chemistry.calibration import Calibration, calibrate
from layup.chemistry.datasheet import Datasheet
from layup.errors import LayupError
from layup.planning.budget import for_part
from layup.planning.crew import pace_of
from layup.planning.fit import COOLEST_CANS_K
from layup.review.causes_bench import SLOW_S
from layup.review.evidence import Finding, FindingKind
from layup.review.review import Review
from layup.review.timeline import StepTrack, Stretch, spread_open
from layup.session.lifetimes import learnt_today, lifetime
from layup.session.state import SessionState
from layup.session.state_parts import BatchState
from layup.units import mass, minutes, temperature

ChangeKind = Literal["emptied", "step", "closed", "cups", "later", "cans", "helper", "shop", "resin"]
"""What is changed, in the order of effort: what was meant to be so, what the next day can do, what it buys."""
ORDER: tuple[ChangeKind, ...] = ("emptied", "step", "closed", "cups", "later", "cans", "helper", "shop", "resin")
ANSWERS: dict[FindingKind, tuple[ChangeKind, ...]] = {
    "past thickening": ("emptied", "cups", "later"),
    "slow step": ("step", "helper"),
    "closed late": ("closed", "later", "helper"),
    "cup too large": ("cups",),
    "cup too hot": ("cans", "cups"),
    "shop outside the window": ("shop",),
}
"""Which changes a finding proposes."""
MOST, MOST_PAIRED = 5, 4
WORTH_S = 60.0
"""A change of less than a minute is none."""
CANS_COLDER_K = 6.0
"""So much cooler than the shop cans are kept with ease (common practice, no source)."""
DRIFT_K = 1.5
"""Warmer than planned by less than this is as planned (common practice, no source)."""


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


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that could have been otherwise, in words, and what it makes of a day."""

    kind: ChangeKind
    words: str
    apply: Callable[[WorkedDay], WorkedDay]


@dataclass(frozen=True, slots=True)
class ChangedDay:
    """What a day had to spare with one thing changed, or two; below zero what it lacked."""

    kinds: tuple[ChangeKind, ...]
    words: str
    spare_s: float

    @property
    def in_time(self) -> bool:
        """Whether it would have closed in time."""
        return self.spare_s >= 0.0


@dataclass(frozen=True, slots=True)
class ChangedDays:
    """The day as it went, simulated with nothing changed, the best single changes, and the best pair."""

    own_spare_s: float
    own_tightest: str
    """Which cup, or the part, had least to spare."""
    rows: tuple[ChangedDay, ...]
    pair: ChangedDay | None

    @property
    def saves(self) -> ChangedDay | None:
        """Return what would have turned a day that was too late: the least single change, else the pair."""
        if self.own_spare_s >= 0.0:
            return None
        return next((one for one in (*self.rows, self.pair) if one is not None and one.in_time), None)

    def for_finding(self, finding: Finding) -> ChangedDay | None:
        """Return the best of the changes that a finding proposes."""
        wanted = ANSWERS.get(finding.kind, ())
        return next((row for row in self.rows if row.kinds[0] in wanted), None)


def changed_days(found: Review, resins: Mapping[str, Datasheet]) -> ChangedDays | None:
    """Return a session's day with one thing changed, and with the best two.

    Parameters
    ----------
    found : Review
        The session looked back on [-]
    resins : Mapping[str, Datasheet]
        The resins of the workshop, by their ids [-]

    Returns
    -------
    ChangedDays | None
        Up to five single changes, the best first: those in time by the least effort, then the others by what they lack
        [s]; None for a day without a cup on the part, without a closing, or told from memory

    Notes
    -----
    With nothing changed it gives back what the day's own cups and parts had to spare by their clocks: within two
    minutes where nobody looked into a cup, and within a tenth of its life where somebody saw one thicken, because the
    look then moves the resin and not that one cup.
    """
    day = worked_day(found) if found.kept.state.recalled is None else None  # no minutes are known of a day from memory
    if day is None:
        return None
    try:
        own_s, tightest = _tightest(day)
    except LayupError:
        return None
    singles = []
    for change in changes(found, day, resins):
        tried = _tried(day, (change,))
        if tried is not None and tried.spare_s > own_s + WORTH_S:
            singles.append((tried, change))
    singles.sort(key=lambda one: _rank(one[0]))
    rows = tuple(one for one, _ in singles[:MOST])
    pairs = [
        tried
        for (_, first), (_, second) in combinations(singles[:MOST_PAIRED], 2)
        if first.kind != second.kind and (tried := _tried(day, (first, second))) is not None
    ]
    pair = max(pairs, key=lambda one: one.spare_s, default=None)
    better = pair is not None and rows and pair.spare_s > max(row.spare_s for row in rows) + WORTH_S
    return ChangedDays(own_s, tightest, rows, pair if better else None)


def _rank(one: ChangedDay) -> tuple[bool, float]:
    return not one.in_time, ORDER.index(one.kinds[0]) if one.in_time else -one.spare_s


def _tried(day: WorkedDay, applied: Sequence[Change]) -> ChangedDay | None:
    """Return a day with changes made in the order in which they act on it; None where the model ends."""
    ordered = sorted(applied, key=lambda change: ORDER.index(change.kind))
    for change in ordered:
        day = change.apply(day)
    try:
        left_s = spare_s(day)
    except LayupError:
        return None
    return ChangedDay(tuple(change.kind for change in ordered), " + ".join(one.words for one in ordered), left_s)


# -- the day as it was worked ----------------------------------------------------------------------------------------


def worked_day(found: Review) -> WorkedDay | None:
    """Return a session as it was worked; None where no cup went on the part or nothing was closed."""
    track, state, plan = found.track, found.kept.state, found.kept.plan
    if track is None or plan is None or track.closed_s is None or found.kept.sheet is None:
        return None
    stirring_s = pace_of(plan.crew).stirring_s
    laid = list(_laid(state, {step.number: step.real for step in track.steps if step.real is not None}))
    cups: list[Cup] = []
    for batch in sorted(track.batches, key=lambda one: one.emptied_s or 0.0):
        logged = state.batch(batch.number)
        if batch.contact_s is None or batch.emptied_s is None or not batch.used or logged is None:
            continue
        begun_s = min((begin_s for number, begin_s, _ in laid if number == batch.number), default=0.0)
        laid_s = min(max(batch.contact_s + stirring_s, begun_s), batch.emptied_s)
        resin_g, hardener_g = logged.resin_g or 0.0, logged.hardener_g or 0.0
        start_K = batch.start_K or track.shop.temperature_K
        cups.append(Cup(batch.number, resin_g, hardener_g, start_K, batch.contact_s, laid_s, batch.emptied_s, logged))
    if not cups:
        return None
    law = learnt_today(state, for_part(calibrate(found.kept.sheet), plan)).calibration
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
    return _tightest(day)[0]


def _tightest(day: WorkedDay) -> tuple[float, str]:
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


# -- changes ---------------------------------------------------------------------------------------------------------


def changes(found: Review, day: WorkedDay, resins: Mapping[str, Datasheet]) -> Iterator[Change]:
    """Yield every change that could be made to a day, in the order of effort."""
    yield from _in_time(found, day)
    yield from _other_cups(found, day)
    yield from _other_hands_and_air(found, day)
    plan, sheet = found.kept.plan, found.kept.sheet
    for other in resins.values():
        if plan is None or sheet is None or other.id == sheet.id or other.chemistry != sheet.chemistry:
            continue
        try:
            law = for_part(calibrate(other), plan)
        except LayupError:
            continue
        yield Change("resin", other.title, partial(_other_law, law=law))


def _other_law(day: WorkedDay, law: Calibration) -> WorkedDay:
    """Return the day with another resin: what was measured in its cups was of this one."""
    cups = tuple(replace(cup, as_logged=replace(cup.as_logged, temperatures=())) for cup in day.cups)
    return replace(day, cups=cups, law=law)


def _in_time(found: Review, day: WorkedDay) -> Iterator[Change]:
    """Yield what was meant to be so: a cup emptied with its step, a step in its time, the press closed at once."""
    track, state = found.track, found.kept.state
    if track is None:
        return
    real = {step.number: step.real for step in track.steps if step.real is not None}
    for cup in day.cups:
        ends = [end_s for number, _, end_s in _laid(state, real) if number == cup.number]
        if ends and cup.emptied_s - max(ends) > 2.0 * WORTH_S:
            words = f"cup {cup.number} emptied with its last step"
            yield Change("emptied", words, partial(_emptied, number=cup.number, at_s=max(ends)))
    slow = sorted((step for step in track.steps if (step.over_s or 0.0) > SLOW_S), key=lambda step: -(step.over_s or 0))
    for step in slow[:2]:
        words = f"{step.name.lower()} in {minutes(step.planned.took_s)}"
        yield Change("step", words, partial(WorkedDay.moved, when_s=_as_planned(step)))
    last_s = max([stretch.end_s for stretch in real.values()] + [cup.emptied_s for cup in day.cups])
    closing_s = found.kept.plan.closing.bench_s / pace_of(found.kept.plan.crew).full if found.kept.plan else 0.0
    late_s = day.closed_s - last_s - closing_s
    if late_s > 2.0 * WORTH_S:
        words = f"closed {minutes(closing_s)} after the last step"
        yield Change("closed", words, lambda one: replace(one, closed_s=one.closed_s - late_s))


def _laid(state: SessionState, real: Mapping[int, Stretch]) -> Iterator[tuple[int, float, float]]:
    """Yield each batch with from when to when its share of each of its steps was laid, by the step's real time."""
    gone: dict[int, float] = {}
    for batch in state.batches:
        for number, share in batch.serves if batch.lost_s is None else ():
            before = gone.get(number, 0.0)
            gone[number] = min(before + share, 1.0)
            if number in real:
                begin_s, took_s = real[number].begin_s, real[number].took_s
                yield batch.number, begin_s + before * took_s, begin_s + gone[number] * took_s


def _emptied(day: WorkedDay, number: int, at_s: float) -> WorkedDay:
    return replace(
        day,
        cups=tuple(
            replace(cup, emptied_s=max(min(cup.emptied_s, at_s), cup.laid_from_s)) if cup.number == number else cup
            for cup in day.cups
        ),
    )


def _as_planned(step: StepTrack) -> Callable[[float], float]:
    """Return when everything would have been had a step taken what was planned."""
    assert step.real is not None
    begin_s, end_s = step.real
    share = step.planned.took_s / max(step.real.took_s, 1.0)

    def when_s(at_s: float) -> float:
        return at_s - (1.0 - share) * (min(max(at_s, begin_s), end_s) - begin_s)

    return when_s


def _other_cups(found: Review, day: WorkedDay) -> Iterator[Change]:
    """Yield smaller cups, later ones, and cans that were cooler."""
    plan, track = found.kept.plan, found.track
    if plan is None or track is None:
        return
    pace = pace_of(plan.crew)
    allowed_g = {batch.number: batch.planned_g for batch in track.batches if batch.planned_g > 0.0}
    largest = max(day.cups, key=lambda cup: cup.resin_g + cup.hardener_g)
    whole_g = largest.resin_g + largest.hardener_g
    parts = max(2, ceil(whole_g / allowed_g.get(largest.number, whole_g) - 0.15))
    mixing_s = pace.mixing_s if plan.crew.people == 1 else 0.0
    words = f"cups of {mass(whole_g / parts)} at most"
    yield Change("cups", words, lambda one: _smaller(one, whole_g / parts, pace.stirring_s, mixing_s))
    if any(cup.laid_from_s - pace.stirring_s - cup.contact_s > WORTH_S for cup in day.cups[1:]):
        names = ", ".join(str(cup.number) for cup in day.cups[1:])
        yield Change("later", f"batch {names} mixed when wanted", lambda one: _later(one, pace.stirring_s))
    air_K = track.shop.temperature_K
    start_K = max(cup.start_K for cup in day.cups)
    cold_K = air_K if start_K > air_K + DRIFT_K else max(air_K - CANS_COLDER_K, COOLEST_CANS_K)
    if cold_K < start_K - DRIFT_K:
        words = f"cans at {temperature(cold_K)}"
        yield Change("cans", words, lambda one: _with_cans(one, cold_K))


def _smaller(day: WorkedDay, most_g: float, stirring_s: float, mixing_s: float) -> WorkedDay:
    """Return the day with each cup laid from several, each mixed when the one before is empty."""
    cups: list[Cup] = []
    later_s = 0.0
    for cup in day.cups:
        count = max(ceil((cup.resin_g + cup.hardener_g) / most_g - 0.05), 1)
        span_s = (cup.emptied_s - cup.laid_from_s) / count
        for place in range(count):
            later_s += mixing_s if place else 0.0
            from_s = cup.laid_from_s + place * span_s + later_s
            contact_s = from_s - stirring_s if place else cup.contact_s + later_s
            cups.append(
                replace(cup, resin_g=cup.resin_g / count, hardener_g=cup.hardener_g / count, contact_s=contact_s,
                        laid_from_s=from_s, emptied_s=from_s + span_s)
            )  # fmt: skip
    return replace(day, cups=tuple(cups), closed_s=day.closed_s + later_s)


def _later(day: WorkedDay, stirring_s: float) -> WorkedDay:
    first, *others = day.cups
    moved = [replace(cup, contact_s=max(cup.contact_s, cup.laid_from_s - stirring_s)) for cup in others]
    return replace(day, cups=(first, *moved))


def _with_cans(day: WorkedDay, cans_K: float) -> WorkedDay:
    return replace(day, cups=tuple(replace(cup, start_K=min(cup.start_K, cans_K)) for cup in day.cups))


def _other_hands_and_air(found: Review, day: WorkedDay) -> Iterator[Change]:
    """Yield one helper more, and a shop kept as it was planned."""
    plan, track = found.kept.plan, found.track
    if plan is None or track is None:
        return
    people = max(found.kept.state.start.people if found.kept.state.start else plan.crew.people, 1)
    hands = [pace_of(replace(plan.crew, people=count)).full for count in (people, people + 1)]
    first_s = day.cups[0].contact_s
    share = hands[0] / hands[1]
    if share < 1.0:
        words = f"one helper more, {people + 1} in all"

        def sooner_s(at_s: float) -> float:
            return min(at_s, first_s) + share * max(at_s - first_s, 0.0)

        yield Change("helper", words, partial(WorkedDay.moved, when_s=sooner_s))
    planned_K = track.shop.temperature_K
    if max((kelvin for at_s, kelvin in day.state.air if at_s <= day.closed_s), default=planned_K) > planned_K + DRIFT_K:
        yield Change("shop", f"shop kept at {temperature(planned_K)}", lambda one: _shop_at(one, planned_K))


def _shop_at(day: WorkedDay, kelvin: float) -> WorkedDay:
    """Return the day in a shop that got no warmer, its mould with it."""
    state = copy(day.state)
    state.air = tuple((at_s, min(read_K, kelvin)) for at_s, read_K in day.state.air)
    state.mould = tuple((at_s, min(read_K, kelvin)) for at_s, read_K in day.state.mould)
    return replace(day, state=state)
