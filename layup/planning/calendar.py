"""The days before and the hours of a day: what waits for what, the latest start, at which hour a press day begins best.

A network of tasks by its critical path, from the first glue-up until the part is out. Hands work in the shop's hours,
waits go on through the night; some evenings are too cold.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from math import ceil, floor, inf
from typing import TYPE_CHECKING

from layup.chemistry.datasheet import least_warmth
from layup.chemistry.demould import demould, setting_of
from layup.chemistry.numerics import require_between
from layup.chemistry.temperature import AHEAD_S, DAY_S, History, course_K, stretch
from layup.chemistry.uncertainty import Band
from layup.dimensions import ZERO_CELSIUS_K
from layup.errors import InputError, RangeError
from layup.planning.fit import FITS, FitWord, fit_of
from layup.planning.night import OUT_BY_S
from layup.planning.plan import Plan, Task
from layup.planning.planner import PlanResult

if TYPE_CHECKING:
    from layup.planning.castings import Pouring
    from layup.planning.night import Night


USUAL_HOURS_s = (8 * 3600.0, 21 * 3600.0)
"""When people work in the shop, from midnight (common practice, no source)."""
WARM_UP, PRESS, CURE, OUT = "warm-up", "lay up and close", "cure in the press", "out of the mould"
NEVER_S = 30 * DAY_S
"""Counted for a casting that is not hard in the two weeks that are looked ahead (our own judgement)."""


@dataclass(frozen=True, slots=True)
class Placed:
    """A task with its earliest and its latest times, in seconds on the clock of the hours, whose days begin at 0."""

    task: Task
    earliest_s: float
    latest_s: float

    @property
    def slack_s(self) -> float:
        """Return by how much it may begin later without making the whole late [s]."""
        return self.latest_s - self.earliest_s

    @property
    def latest_end_s(self) -> float:
        """Return by when it must be over [s]."""
        return self.latest_s + self.task.takes_s


def network(
    tasks: Sequence[Task], *, end_s: float, hours_s: tuple[float, float] | None = USUAL_HOURS_s
) -> tuple[Placed, ...]:
    """Place tasks by what waits for what: as late as the end allows, and as early as the first of them then lets them.

    In the order of their latest starts; the latest start of all is the first one's. Raises InputError for a name twice,
    a task that waits for none that there is, or tasks that wait for each other; RangeError for work that is longer than
    the shop's hours, or a time below zero.

    Backward pass: a task ends by the earliest of its followers' latest starts, a wait begins as soon as what it waits
    for is over; forward pass: it begins by the latest of its forerunners' ends, the whole beginning with the latest
    start of all. Where hands work only in hours, each pass moves a task into the nearest hours that hold it whole.
    Source: J. E. Kelley and M. R. Walker, Critical-path planning and scheduling, Proc. Eastern Joint Computer Conf.
    1959, 160.

    Parameters
    ----------
    tasks : In any order, each name once [-]
    end_s : When all of it has to be over, on a clock whose days begin at 0 [s]
    hours_s : From when until when in a day hands work; None for round the clock [s]
    """
    order = _in_order(tasks)
    for task in order:
        require_between(f"{task.name}: time", task.takes_s, 0.0, 400 * DAY_S, unit="s")
    takes_s = {task.name: task.takes_s for task in order}
    followers: dict[str, list[Task]] = {task.name: [] for task in order}
    for task in order:
        for name in task.after:
            followers[name].append(task)
    latest: dict[str, float] = {}
    for task in reversed(order):
        by_s = min((latest[each.name] for each in followers[task.name]), default=end_s)
        latest[task.name] = _before(task, by_s, hours_s)
    for task in order:
        if task.after and not task.hands:  # a wait goes on as soon as it may
            latest[task.name] = min(latest[task.name], max(latest[name] + takes_s[name] for name in task.after))
    begin_s = min(latest.values(), default=end_s)
    earliest: dict[str, float] = {}
    for task in order:
        from_s = max((earliest[name] + takes_s[name] for name in task.after), default=begin_s)
        earliest[task.name] = min(_after(task, from_s, hours_s), latest[task.name])
    placed = (Placed(task, earliest[task.name], latest[task.name]) for task in order)
    return tuple(sorted(placed, key=lambda each: (each.latest_s, each.latest_end_s)))


def critical(placed: Sequence[Placed]) -> tuple[Placed, ...]:
    """Find the chain that decides the latest start: from the first task on, each time what must begin soonest after it.

    In their order; round the clock none of them has slack, while between the shop's hours some may.
    """
    chain = list(placed[:1])
    while chain:
        after = [each for each in placed if chain[-1].task.name in each.task.after]
        if not after:
            break
        chain.append(min(after, key=lambda each: each.latest_s))
    return tuple(chain)


def tasks_of(
    plan: Plan, result: PlanResult, pours: Sequence[Pouring], night: Night, *, warm_up_s: float = 0.0
) -> tuple[Task, ...]:
    """Find the tasks of a plan: what its file states of the days before, its castings, warm-up, press day and cure.

    Parameters
    ----------
    warm_up_s : What cans, core and mould need to follow the shop, 0 or more [s]
    """
    tasks = [*plan.before, *_cast_tasks(plan, pours)]
    before = _ends(tasks)
    if warm_up_s > 0.0:
        tasks.append(Task(WARM_UP, warm_up_s, before, hands=False))
        before = (WARM_UP,)
    if plan.lays and result.timeline is not None:
        tasks.append(Task(PRESS, result.timeline.closed_s, before))
        wait_s = _late_s(night.ready.out_s)
        if wait_s < inf:
            tasks.append(Task(CURE, wait_s, (PRESS,), hands=False))
            tasks.append(Task(OUT, 0.0, (CURE,)))
    return tuple(tasks)


def _cast_tasks(plan: Plan, pours: Sequence[Pouring]) -> list[Task]:
    """Return warm, seal, tape, pour, harden and plane of what is cast before press day; it waits for all stated."""
    stated, waits = [each.name for each in plan.before], _ends(plan.before)
    tasks: list[Task] = []
    before = [pouring for pouring in pours if pouring.starts_s is None]
    for pouring in before:
        work = plan.casting
        steps = (
            ("warm and dry core", work.warm_s, True),
            ("seal core", work.seal_s, True),
            ("sealer dries", work.seal_wait_s or 0.0, False),
            ("tape and level", work.tape_s, True),
            ("pour castings", pouring.takes_s, True),
            ("castings harden", min(_late_s(pouring.planable.out_s), NEVER_S), False),
            ("plane castings", work.tape_s, True),
        )
        last = waits
        for word, takes_s, hands in steps:
            if takes_s <= 0.0:
                continue
            name = word if len(before) == 1 and word not in stated else f"{pouring.name}: {word}"
            tasks.append(Task(name, takes_s, last, hands))
            last = (name,)
    return tasks


def _ends(tasks: Sequence[Task]) -> tuple[str, ...]:
    """Return the names of what nothing waits for."""
    waited_for = {name for task in tasks for name in task.after}
    return tuple(task.name for task in tasks if task.name not in waited_for)


def _late_s(out_s: Band) -> float:
    """Return the late edge of when something is hard, or the likely time where there is no late one."""
    return out_s.high if out_s.high < inf else out_s.likely


def _in_order(tasks: Sequence[Task]) -> list[Task]:
    """Return the tasks so that each comes after what it waits for."""
    by_name: dict[str, Task] = {}
    for task in tasks:
        if task.name in by_name:
            raise InputError("calendar", "has a task twice", value=task.name, todo="give each its own name")
        by_name[task.name] = task
    for task in tasks:
        for name in task.after:
            if name not in by_name:
                allowed = f"one of {', '.join(by_name)}"
                raise InputError(f"{task.name}: after", "is no task", value=name, allowed=allowed)
    done: dict[str, Task] = {}
    while len(done) < len(by_name):
        left = [task for name, task in by_name.items() if name not in done]
        ready = [task for task in left if all(name in done for name in task.after)]
        if not ready:
            stuck = ", ".join(task.name for task in left)
            raise InputError("calendar", "has tasks that wait for each other", value=stuck, todo="break the circle")
        done.update((task.name, task) for task in ready)
    return list(done.values())


def _before(task: Task, by_s: float, hours_s: tuple[float, float] | None) -> float:
    """Return the latest start that is over by a time, in the shop's hours where it takes hands."""
    if hours_s is None or not task.hands:
        return by_s - task.takes_s
    opens_s, shuts_s = _hours_for(task, hours_s)
    day = floor(by_s / DAY_S)
    for back in (0, 1):
        end_s = min(by_s, (day - back) * DAY_S + shuts_s)
        if end_s - task.takes_s >= (day - back) * DAY_S + opens_s:
            return end_s - task.takes_s
    raise AssertionError("yesterday's hours hold what the shop's hours hold")


def _after(task: Task, from_s: float, hours_s: tuple[float, float] | None) -> float:
    """Return the earliest start from a time on, in the shop's hours where it takes hands."""
    if hours_s is None or not task.hands:
        return from_s
    opens_s, shuts_s = _hours_for(task, hours_s)
    day = floor(from_s / DAY_S)
    begin_s = max(from_s, day * DAY_S + opens_s)
    return begin_s if begin_s + task.takes_s <= day * DAY_S + shuts_s else (day + 1) * DAY_S + opens_s


def _hours_for(task: Task, hours_s: tuple[float, float]) -> tuple[float, float]:
    opens_s, shuts_s = hours_s
    require_between("hours of the shop", opens_s, 0.0, shuts_s, unit="s")
    require_between("hours of the shop", shuts_s, opens_s, DAY_S, unit="s")
    if task.takes_s > shuts_s - opens_s:
        raise RangeError(f"{task.name}: time", "is longer than the shop's hours", todo="split it, or lengthen them")
    return opens_s, shuts_s


HOUR_S = 3600.0
STEP_K = 0.5
"""Temperatures are rounded away from each other to this, so that hours that are alike are worked out once."""
ENOUGH_S = 1200.0
"""Time to spare beyond which more of it is no better (our own judgement)."""


@dataclass(frozen=True, slots=True)
class Hour:
    """A press day that begins at one hour."""

    begin_s: float
    """From midnight."""
    low_K: float
    high_K: float
    """The shop from the first batch to the closing."""
    verdict: FitWord
    """The worse of what it is at the coldest and at the warmest of that."""
    slack_s: float | None
    """The less of both."""
    why: str
    """What forbids it, or makes it tight; empty where it fits."""
    out_s: float
    """From closing, when the part may come out on a mould as warm as the shop; inf for not in four days, or no plan."""
    too_cold: bool
    """Whether the shop gets colder than the resin cures in, before the press is closed."""


def hours_of(
    work_out: Callable[[float], PlanResult],
    course: History,
    *,
    from_s: float,
    to_s: float,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[Hour, ...]:
    """Judge a press day at each full hour.

    Raises InputError for a course without points; RangeError for hours outside the day. From the first batch to the
    closing the plan must work at the warmest, which shortens every life, and at the coldest, which thickens the mix;
    the cure follows the course, day by day.

    Parameters
    ----------
    work_out : What the plan comes to in a shop of one temperature [K]
    from_s : First hour, from midnight, 0 to a day [s]
    to_s : Last hour, `from_s` to a day [s]
    progress : Told how many hours are judged, of how many [-]
    """
    require_between("first hour", from_s, 0.0, DAY_S, unit="s")
    require_between("last hour", to_s, from_s, DAY_S, unit="s")
    at = cache(work_out)
    first, last = ceil(from_s / HOUR_S), floor(to_s / HOUR_S)
    found: list[Hour] = []
    for hour in range(first, last + 1):
        if progress is not None:
            progress(len(found), last + 1 - first)
        found.append(_hour(at, course, hour * HOUR_S))
    return tuple(found)


def best_hour(hours: tuple[Hour, ...]) -> Hour | None:
    """Find the hour to begin at: by its verdict, then a part that is out by when it is wanted, then the time to spare.

    None where it fits at none. More than 20 min to spare count as 20: of two such hours the one whose part is out first
    is taken.
    """
    fit = [hour for hour in hours if hour.verdict != "does not fit"]

    def rank(hour: Hour) -> tuple[float, ...]:
        late = hour.too_cold or hour.out_s > OUT_BY_S
        return FITS.index(hour.verdict), late, -min(hour.slack_s or 0.0, ENOUGH_S), hour.out_s

    return min(fit, key=rank, default=None)


def _hour(at: Callable[[float], PlanResult], course: History, begin_s: float) -> Hour:
    """Return the judgement of one hour."""
    middle = at(_rounded(course_K(course, begin_s), up=True))
    closed_s = middle.timeline.closed_s if middle.timeline is not None else HOUR_S
    shop_K = [kelvin for _, kelvin in stretch(course, begin_s, begin_s + closed_s)]
    low_K, high_K = min(shop_K), max(shop_K)
    ends = (at(_rounded(high_K, up=True)), at(_rounded(low_K, up=False)))
    fits = [fit_of(end) for end in ends]
    verdict = max((fit.word for fit in fits), key=FITS.index)
    slacks = [end.split.slack_s for end in ends if end.split.slack_s is not None]
    reasons = [words for fit in fits if fit.word == verdict for words in (*fit.against, *fit.tight, *fit.beside)]
    return Hour(
        begin_s=begin_s,
        low_K=low_K,
        high_K=high_K,
        verdict=verdict,
        slack_s=min(slacks, default=None),
        why=reasons[0] if reasons and verdict != "fits" else "",
        out_s=inf if verdict == "does not fit" else _out_s(middle, course, begin_s + closed_s),
        too_cold=low_K < least_warmth(middle.datasheet)[0],
    )


def _out_s(result: PlanResult, course: History, closed_s: float) -> float:
    """Return when the part may come out of a mould as warm as the shop, from closing; inf for not in four days."""
    setting, _ = setting_of(result.datasheet, result.calibration.kinetics)
    mould = stretch(course, closed_s, closed_s + AHEAD_S)
    try:
        out_s = demould(setting, result.calibration, mould).out_s.likely
    except RangeError:  # a shop beyond what the cure is known in
        return inf
    return out_s if out_s <= AHEAD_S else inf


def _rounded(kelvin: float, *, up: bool) -> float:
    """Return a temperature rounded away from the other end, in whole or half degrees Celsius."""
    steps = (kelvin - ZERO_CELSIUS_K) / STEP_K
    return ZERO_CELSIUS_K + STEP_K * (ceil(steps - 1e-9) if up else floor(steps + 1e-9))
