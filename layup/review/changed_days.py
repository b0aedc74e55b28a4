"""The same day with one thing changed: its logged temperatures and its real step times, and the spare time then.

A change moves the times of the cups of a day, the mix in them, or the temperatures; what each cup then had to spare is
worked out as on the day, with the resin as the day taught it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, replace
from functools import partial
from itertools import combinations
from math import ceil
from typing import Literal, get_args

from layup.chemistry.datasheet import Datasheet
from layup.chemistry.mixing import parts_by_mass
from layup.errors import LayupError
from layup.planning.crew import pace_of, pairs_of_hands
from layup.planning.plan import Plan
from layup.planning.remedies import COOLEST_CANS_K, tared_for
from layup.review.causes_air import OUTSIDE_K, coldest_working_K
from layup.review.causes_bench import SLOW_S
from layup.review.evidence import Cause, Finding
from layup.review.timeline import StepTrack, Track
from layup.review.worked_day import (
    Cup,
    WorkedDay,
    cold_on,
    in_time,
    laid_spans,
    other_laws,
    tightest,
    unmeasured,
    with_law,
    worked_day,
)
from layup.session.archive import StoredSession
from layup.session.state_parts import Forecast, in_effect
from layup.units import mass, minutes, temperature, temperature_change

ChangeKind = Literal[
    "emptied", "step", "closed", "cups", "later", "earlier", "cans", "helper", "shop", "warmer", "resin"
]
"""What is changed, in the order of effort: what was meant to be so, what the next day can do, what it buys."""
ORDER: tuple[ChangeKind, ...] = get_args(ChangeKind)
ANSWERS: dict[Cause, tuple[ChangeKind, ...]] = {
    "past thickening": ("emptied", "cups", "later", "earlier"),
    "slow step": ("step", "helper"),
    "closed late": ("closed", "later", "helper"),
    "cup too large": ("cups",),
    "cup too hot": ("cans", "cups"),
    "shop outside the window": ("shop", "earlier", "warmer"),
    "mould outside the window": ("warmer",),
}
"""Which changes a finding proposes."""
MOST, MOST_PAIRED = 5, 4
COLDER = {"cans", "resin"}
"""Never both: whether another resin still wets out cloth is judged as warm as the cups were."""
WORTH_S = 60.0
"""A change of less than a minute is none."""
CANS_COLDER_K = 6.0
"""So much cooler than the shop cans are kept with ease (common practice, no source)."""
DRIFT_K = 1.5
"""Warmer than planned by less than this is as planned (common practice, no source)."""
WARMER_K = 3.0, 5.0
"""So much warmer a stove makes a shop overnight (common practice, no source)."""
EARLIER_S, HALF_S = 3600.0, 1800.0
"""A day is begun an hour earlier, or half an hour where no more of its temperatures is known."""


@dataclass(frozen=True, slots=True)
class Change:
    """One thing that could have been otherwise, in words, and what it makes of a day."""

    kind: ChangeKind
    words: str
    apply: Callable[[WorkedDay], WorkedDay]
    mends: bool = False
    """Whether it takes away what was wrong beside the time."""


@dataclass(frozen=True, slots=True)
class ChangedDay:
    """What a day had to spare with one thing changed, or two; below zero what it lacked."""

    kinds: tuple[ChangeKind, ...]
    words: str
    spare_s: float
    mends: bool = False
    """Whether something that was wrong beside the time is not so then."""
    cups: tuple[tuple[float, float], ...] = ()
    """From when to when each batch is in its cup then."""
    closed_s: float = 0.0
    """When the press is closed then."""

    @property
    def in_time(self) -> bool:
        """Whether it would have closed in time."""
        return self.spare_s >= 0.0

    @property
    def rank(self) -> tuple[bool, bool, float]:
        return not self.in_time, not self.mends, ORDER.index(self.kinds[0]) if self.in_time else -self.spare_s


@dataclass(frozen=True, slots=True)
class ChangedDays:
    """The day as it went, simulated with nothing changed, the best single changes, and the best pair."""

    own_spare_s: float
    own_tightest: str
    """Which cup, or the part, had least to spare."""
    rows: tuple[ChangedDay, ...]
    pair: ChangedDay | None

    @property
    def all(self) -> tuple[ChangedDay, ...]:
        """Every changed day, the best pair last."""
        return (*self.rows, *([self.pair] if self.pair else []))

    @property
    def saves(self) -> ChangedDay | None:
        """Return what would have turned a day that was too late: the least single change, else the pair."""
        if self.own_spare_s >= 0.0:
            return None
        return next((one for one in self.all if one.in_time), None)

    def for_finding(self, finding: Finding) -> ChangedDay | None:
        """Return the best of the changes that a finding proposes."""
        wanted = ANSWERS.get(finding.cause, ())
        return next((row for row in self.rows if row.kinds[0] in wanted), None)


_LAST: deque[tuple[object, ChangedDays | None]] = deque(maxlen=4)


def changed_days(stored: StoredSession, track: Track | None, resins: Mapping[str, Datasheet]) -> ChangedDays | None:
    """Return a session's day with one thing changed, and with the best two.

    Up to five single changes, the best first: those in time by the least effort, then the others by what they lack.
    None for a day without a cup on the part, without a closing, or told from memory. `resins` are the workshop's, by
    their ids.

    With nothing changed it gives back what the day's own cups and parts had to spare by their clocks: within two
    minutes where nobody looked into a cup, and within a tenth of its life where somebody saw one thicken, because the
    look then moves the resin and not that one cup. The last few are kept: list, opened day and pages of the Logbook
    ask for the same one in turn.
    """
    asked = stored.state, stored.plan, stored.sheet, track, dict(resins)
    for known, found in tuple(_LAST):
        if known == asked:
            return found
    _LAST.append((asked, found := _changed_days(stored, track, resins)))
    return found


def _changed_days(stored: StoredSession, track: Track | None, resins: Mapping[str, Datasheet]) -> ChangedDays | None:
    day = worked_day(stored, track)
    if day is None or track is None:
        return None
    try:
        again = tightest(day)
        own_s, where = track.tightest or again
        least_s = max(own_s, again[0]) + WORTH_S  # no change counts that leaves less
    except LayupError:
        return None
    singles = []
    for change in changes(stored, track, day, resins):
        tried = _tried(day, (change,))
        if tried is not None and (tried.mends or tried.spare_s > least_s):
            singles.append((tried, change))
    singles.sort(key=lambda one: one[0].rank)
    rows = tuple(one for one, _ in singles[:MOST])
    pairs = [
        tried
        for (_, first), (_, second) in combinations(singles[:MOST_PAIRED], 2)
        if first.kind != second.kind
        and {first.kind, second.kind} != COLDER
        and (tried := _tried(day, (first, second))) is not None
    ]
    pair = max(pairs, key=lambda one: one.spare_s, default=None)
    better = pair is not None and rows and pair.spare_s > max(row.spare_s for row in rows) + WORTH_S
    return ChangedDays(own_s, where, rows, pair if better else None)


def saving_causes(stored: StoredSession, track: Track | None, findings: Sequence[Finding]) -> frozenset[Cause]:
    """Return those causes of a day that was too late whose own change, by itself, would have had it in time."""
    asked = [one.cause for one in findings if one.cause in ANSWERS]
    late = track is not None and track.tightest is not None and track.tightest[0] < 0.0
    day = worked_day(stored, track) if late and len(asked) > 1 else None
    if day is None or track is None:
        return frozenset()
    wanted = {kind for cause in asked for kind in ANSWERS[cause]}
    possible = (change for change in changes(stored, track, day, {}) if change.kind in wanted)
    saving = {change.kind for change in possible if in_time(change.apply(day))}
    return frozenset(cause for cause in asked if saving & set(ANSWERS[cause]))


def _tried(day: WorkedDay, applied: Sequence[Change]) -> ChangedDay | None:
    """Return a day with changes made in the order in which they act on it; None where the model ends."""
    ordered = sorted(applied, key=lambda change: ORDER.index(change.kind))
    for change in ordered:
        day = change.apply(day)
    try:
        left_s, _ = tightest(day)
    except LayupError:
        return None
    kinds, words = tuple(change.kind for change in ordered), " + ".join(one.words for one in ordered)
    mends = any(change.mends for change in ordered)
    return ChangedDay(kinds, words, left_s, mends, day.spans, day.closed_s - day.earlier_s)


# -- changes ---------------------------------------------------------------------------------------------------------


def changes(stored: StoredSession, track: Track, day: WorkedDay, resins: Mapping[str, Datasheet]) -> Iterator[Change]:
    """Yield every change that could be made to a day, in the order of effort."""
    plan, sheet = stored.plan, stored.sheet
    if plan is None or sheet is None:
        return
    yield from _in_time(track, plan, day)
    yield from _other_cups(track, plan, sheet, day)
    yield from _earlier(day)
    yield from _other_hands_and_air(track, plan, day)
    yield from _warmer(track, sheet, day)
    for other, law in other_laws(plan, sheet, resins):
        if cold_on(plan, day, other, law).word == "fits":
            yield Change("resin", other.title, partial(with_law, law=law))


def _in_time(track: Track, plan: Plan, day: WorkedDay) -> Iterator[Change]:
    """Yield what was meant to be so: a cup emptied with its step, a step in its time, the press closed at once."""
    real = {step.number: step.real for step in track.steps if step.real is not None}
    for cup in day.cups:
        ends = [end_s for number, _, end_s in laid_spans(day.state, real) if number == cup.number]
        if ends and cup.emptied_s - max(ends) > 2.0 * WORTH_S:
            words = f"cup {cup.number} emptied with its last step"
            emptied = partial(_emptied, number=cup.number, at_s=max(ends))
            yield Change("emptied", words, partial(WorkedDay.with_cups, changed=emptied))
    slow = sorted((step for step in track.steps if (step.over_s or 0.0) > SLOW_S), key=lambda step: -(step.over_s or 0))
    for step in slow[:2]:
        words = f"{step.name.lower()} in {minutes(step.planned.took_s)}"
        yield Change("step", words, partial(WorkedDay.moved, when_s=_as_planned(step)))
    last_s = max([stretch.end_s for stretch in real.values()] + [cup.emptied_s for cup in day.cups])
    closing_s = plan.closing.bench_s / pace_of(plan.crew).full
    late_s = day.closed_s - last_s - closing_s
    if late_s > 2.0 * WORTH_S:
        words = f"closed {minutes(closing_s)} after the last step"
        yield Change("closed", words, lambda one: replace(one, closed_s=one.closed_s - late_s))


def _emptied(cup: Cup, number: int, at_s: float) -> Cup:
    return replace(cup, emptied_s=max(min(cup.emptied_s, at_s), cup.laid_from_s)) if cup.number == number else cup


def _as_planned(step: StepTrack) -> Callable[[float], float]:
    """Return when everything would have been had a step taken what was planned."""
    assert step.real is not None
    begin_s, end_s = step.real
    share = step.planned.took_s / max(step.real.took_s, 1.0)

    def when_s(at_s: float) -> float:
        return at_s - (1.0 - share) * (min(max(at_s, begin_s), end_s) - begin_s)

    return when_s


def _other_cups(track: Track, plan: Plan, sheet: Datasheet, day: WorkedDay) -> Iterator[Change]:
    """Yield smaller cups, later ones, and cans that were cooler."""
    pace = pace_of(plan.crew)
    allowed_g = {batch.number: batch.planned_g for batch in track.batches if batch.planned_g > 0.0}
    largest = max(day.cups, key=lambda cup: cup.mass_g)
    whole_g = largest.mass_g
    parts = max(2, ceil(whole_g / allowed_g.get(largest.number, whole_g) - 0.15))
    mixing_s = pace.mixing_s if plan.crew.people == 1 else 0.0
    for most_g in (whole_g / count for count in range(parts, 1, -1)):
        least_g = min(cup.mass_g / _count(cup, most_g) for cup in day.cups if _count(cup, most_g) > 1)
        used = tared_for(plan.scale, least_g, parts_by_mass(sheet))
        if used is not None:
            more_g = plan.losses.per_batch_g * sum(_count(cup, most_g) - 1 for cup in day.cups)
            words = f"cups ≤ {mass(most_g)}{', tared twice' if used != plan.scale else ''}, +{mass(more_g)} mix"
            yield Change("cups", words, partial(_smaller, most_g=most_g, stirring_s=pace.stirring_s, mixing_s=mixing_s))
            break
    if any(cup.laid_from_s - pace.stirring_s - cup.contact_s > WORTH_S for cup in day.cups[1:]):
        names = ", ".join(str(cup.number) for cup in day.cups[1:])
        yield Change("later", f"batch {names} mixed when wanted", lambda one: _later(one, pace.stirring_s))
    air_K = track.shop.temperature_K
    start_K = max(cup.start_K for cup in day.cups)
    cold_K = air_K if start_K > air_K + DRIFT_K else max(air_K - CANS_COLDER_K, COOLEST_CANS_K)
    if cold_K < start_K - DRIFT_K and cold_on(plan, _with_cans(day, cold_K), sheet, day.law).word == "fits":
        words = f"cans at {temperature(cold_K)}"
        yield Change("cans", words, lambda one: _with_cans(one, cold_K))


def _count(cup: Cup, most_g: float) -> int:
    return max(ceil(cup.mass_g / most_g - 0.05), 1)


def _smaller(day: WorkedDay, most_g: float, stirring_s: float, mixing_s: float) -> WorkedDay:
    """Return the day with each cup laid from several, each mixed when the one before is empty."""
    cups: list[Cup] = []
    later_s = 0.0
    for cup in day.cups:
        count = _count(cup, most_g)
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
    return day.with_cups(lambda cup: replace(cup, start_K=min(cup.start_K, cans_K)))


def _other_hands_and_air(track: Track, plan: Plan, day: WorkedDay) -> Iterator[Change]:
    """Yield one helper more, and a shop kept as it was planned."""
    people = max(day.state.start.people if day.state.start else plan.crew.people, 1)
    hands = [pairs_of_hands(plan.crew, count) for count in (people, people + 1)]
    first_s = day.cups[0].contact_s
    share = hands[0] / hands[1]
    if share < 1.0:
        words = f"one helper more, {people + 1} in all"

        def sooner_s(at_s: float) -> float:
            return min(at_s, first_s) + share * max(at_s - first_s, 0.0)

        yield Change("helper", words, partial(WorkedDay.moved, when_s=sooner_s))
    planned_K = track.shop.temperature_K
    if max((kelvin for at_s, kelvin in day.state.air if at_s <= day.closed_s), default=planned_K) > planned_K + DRIFT_K:
        kept = f"shop kept at {temperature(planned_K)}"
        yield Change("shop", kept, lambda one: _in_air(one, lambda at_s, read_K: (at_s, min(read_K, planned_K)), None))


def _in_air(
    day: WorkedDay, changed: Callable[[float, float], tuple[float, float]], forecast: Forecast | None
) -> WorkedDay:
    """Return the day with each temperature of shop and mould changed, and with what was then foretold."""
    state = copy(day.state)
    state.forecast = forecast
    state.air = tuple(changed(*one) for one in day.state.air)
    state.mould = tuple(changed(*one) for one in day.state.mould)
    return replace(day.with_cups(unmeasured), state=state)


def _earlier(day: WorkedDay) -> Iterator[Change]:
    """Yield the day begun earlier, in the temperatures of then; before the log began they are not known."""
    if not day.state.air:
        return
    known_s = day.cups[0].contact_s - day.state.air[0][0]
    by_s = HALF_S if HALF_S <= known_s < EARLIER_S else EARLIER_S
    unknown = ", if the shop was then as at the first reading" if known_s < by_s else ""

    # the cups keep their times, and the temperatures come later: it is the same
    def begun_earlier(one: WorkedDay) -> WorkedDay:
        told = one.state.forecast
        told = None if told is None else told._replace(midnight_s=told.midnight_s + by_s)
        return replace(_in_air(one, lambda at_s, read_K: (at_s + by_s, read_K), told), earlier_s=by_s)

    yield Change("earlier", f"begun {minutes(by_s)} earlier{unknown}", begun_earlier)


def _warmer(track: Track, sheet: Datasheet, day: WorkedDay) -> Iterator[Change]:
    """Yield the shop so much warmer that it, and its mould, are no longer too cold; else nothing."""
    low_K = coldest_working_K(track.result, sheet)
    read = in_effect(day.state.air, day.cups[0].contact_s, day.closed_s)
    coldest_K = min((kelvin for _, kelvin in read), default=low_K)
    enough_K = next((kelvin for kelvin in WARMER_K if coldest_K + kelvin >= low_K), None)
    if coldest_K < low_K - OUTSIDE_K and enough_K is not None:
        words = f"shop {temperature_change(enough_K)} warmer: no longer too cold"
        yield Change("warmer", words, partial(_warmed, by_K=enough_K), mends=True)


def _warmed(day: WorkedDay, by_K: float) -> WorkedDay:
    """Return the day so much warmer, and its cans with the shop."""
    warm = _in_air(day, lambda at_s, read_K: (at_s, read_K + by_K), day.state.forecast)
    return warm.with_cups(lambda cup: replace(cup, start_K=cup.start_K + by_K))
