"""The first minute at which a day's outcome was decided, and what would still have helped just before it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil, floor

from layup.bench.day import PressDay
from layup.bench.opening import day_state, plan_now
from layup.bench.replay import Replay
from layup.chemistry.mixing import parts_by_mass
from layup.errors import LayupError
from layup.planning.replan import Replan, replan, rescue_of
from layup.review.review import Review
from layup.review.timeline import BatchTrack, Track
from layup.session.mass_balance import doubt
from layup.units import mass

MINUTE_S = 60.0
LATE_KINDS = frozenset({"past thickening", "closed late"})
"""The findings that say that something was too late."""
STILL_CLOSES = ("close", "close if wet", "core first")
"""What saves most, where that closes a press over what is laid."""
GO_ON = "go on"
NO_WAY = "no way on was left in time"


@dataclass(frozen=True, slots=True)
class Decided:
    """When nothing that was in hand could turn the day any more, why, and what would have turned it a minute before."""

    at_s: float
    """The first whole minute at which no way on was left, or when mix that was over went on the part."""
    why: str
    way: str
    """What would still have helped; empty where nothing did from first contact on."""
    way_s: float
    """At what minute that was asked."""


def ways_left(day: PressDay) -> Iterator[str]:
    """Yield each way on that still closes the press in time by the day's own planner, the least effort first."""
    state = day_state(day)
    result = plan_now(day)
    plan = replan(result, state)
    if plan.in_time:
        on = GO_ON if day.state.step_now is not None else "close the press"
        yield f"{on}, {mixing}" if (mixing := _mixing(plan)) else on
    for saver in plan.savers:
        tried = replan(saver.result, replace(state, people=saver.result.plan.crew.people))
        if tried.in_time:
            yield saver.words.rstrip(".").lower()
    if state.in_cup:
        fresh = replan(result, replace(state, in_cup=()))
        if fresh.in_time:
            cups = _and([str(cup.batch) for cup in state.in_cup])
            anew = f"{mixing} anew" if (mixing := _mixing(fresh)) else GO_ON
            yield f"carry cup{'s' if len(state.in_cup) > 1 else ''} {cups} outside, {anew}"
    if any(batch.open_within_s > 0.0 for batch in state.on_part):
        rescue = rescue_of(result.plan, state.people, state.done, state.in_cup, state.on_part)
        if rescue.kind in STILL_CLOSES and not rescue.urgent:
            yield rescue.words


def _mixing(plan: Replan) -> str:
    masses = [mass(batch.mass_g) for batch in plan.split.batches]
    return f"mix {_and(masses)}" if masses else ""


def _and(words: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))


def decided(replay: Replay, found: Review) -> Decided | None:
    """Return when a day was decided, by bisection over its minutes; None where nothing was too late or wrong for good.

    Parameters
    ----------
    replay : Replay
        The session at any of its moments [-]
    found : Review
        The same session looked back on [-]

    Returns
    -------
    Decided | None
        The first minute at which neither the plan of the day, nor a planner's change, nor fresh mix for what stands in
        the cups, nor closing over what is laid was still in time; or, if that came first, the moment at which mix past
        thickening or off ratio went on the part [s]

    Notes
    -----
    A day told from memory has no such minute. A way that is lost stays lost while the clocks run on, so that halving
    the minutes finds the last one that had one.
    """
    track = found.track
    if track is None or track.contact_s is None or found.kept.state.recalled is not None:
        return None  # of a day from memory nobody told a minute so exactly
    harm = min(_harms(found, track), default=None)
    if harm is None and not LATE_KINDS & {finding.kind for finding in found.findings}:
        return None
    end_s = track.end_s if harm is None else harm[0]
    first, last = floor(track.contact_s / MINUTE_S) + 1, ceil(end_s / MINUTE_S) - 1
    known: dict[int, str] = {}

    def way(minute: int) -> str:
        if minute not in known:
            replay.view_at(MINUTE_S * minute)
            try:
                known[minute] = next(ways_left(replay.day), "")
            except LayupError:  # a batch beyond the model: nobody could plan on
                known[minute] = ""
        return known[minute]

    lost = _first_without(way, first, last)
    if lost is not None:
        return Decided(MINUTE_S * lost, NO_WAY, way(lost - 1) if lost > first else "", MINUTE_S * (lost - 1))
    if harm is None:
        return None
    return Decided(harm[0], harm[1], way(max(last, first)), MINUTE_S * max(last, first))


def _first_without(way: Callable[[int], str], first: int, last: int) -> int | None:
    """Return the first minute without a way; None where the last one still has one."""
    if last < first or way(last):
        return None
    low, high = first - 1, last
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if way(middle) else (low, middle)
    return high


def _harms(found: Review, track: Track) -> Iterator[tuple[float, str]]:
    """Yield when mix went on the part that was over or off ratio, and which, where the review says so."""
    kinds = {finding.kind for finding in found.findings}
    parts = parts_by_mass(found.kept.sheet) if found.kept.sheet is not None else ()
    for batch in track.batches:
        if batch.emptied_s is None or not batch.used:
            continue
        if "past thickening" in kinds and _thick(batch):
            yield batch.emptied_s, f"cup {batch.number} went on the part thick"
        state = found.kept.state.batch(batch.number)
        if "off ratio" in kinds and parts and state is not None and doubt(state, parts) == "off ratio":
            yield batch.emptied_s, f"batch {batch.number} went on the part off ratio"


def _thick(batch: BatchTrack) -> bool:
    """Return whether a cup was more likely past thickening than not when it was emptied."""
    assert batch.emptied_s is not None
    return batch.cup is not None and batch.emptied_s > batch.cup.likely
