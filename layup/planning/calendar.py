"""The days before: what a part needs from the first glue-up until it is out, what waits for what, the latest start.

A network of tasks by its critical path. Hands work in the shop's hours, waits go on through the night.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, inf
from typing import TYPE_CHECKING

from layup.chemistry.ranges import require_between
from layup.chemistry.temperature import DAY_S
from layup.chemistry.uncertainty import Band
from layup.errors import InputError, RangeError
from layup.planning.plan import Plan, Task

if TYPE_CHECKING:  # reading a plan file asks for the network alone
    from layup.planning.castings import Pouring
    from layup.planning.night import Night
    from layup.planning.planner import PlanResult

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

    Parameters
    ----------
    tasks : Sequence[Task]
        In any order, each name once [-]
    end_s : float
        When all of it has to be over, on a clock whose days begin at 0 [s]
    hours_s : tuple[float, float] or None
        From when until when in a day hands work; None for round the clock [s]

    Returns
    -------
    tuple[Placed, ...]
        In the order of their latest starts; the latest start of all is the first one's [-]

    Raises
    ------
    InputError
        For a name twice, a task that waits for none that there is, or tasks that wait for each other.
    RangeError
        For work that is longer than the shop's hours, or a time below zero.

    Notes
    -----
    Backward pass: a task ends by the earliest of its followers' latest starts, a wait begins as soon as what it waits
    for is over; forward pass: it begins by the latest of its forerunners' ends, the whole beginning with the latest
    start of all. Where hands work only in hours, each pass moves a task into the nearest hours that hold it whole.

    References
    ----------
    J. E. Kelley and M. R. Walker, Critical-path planning and scheduling, Proc. Eastern Joint Computer Conf. 1959, 160.
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

    Parameters
    ----------
    placed : Sequence[Placed]
        All tasks, as `network` places them [-]

    Returns
    -------
    tuple[Placed, ...]
        In their order; round the clock none of them has slack, while between the shop's hours some may [-]
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
    plan : Plan
        The part [-]
    result : PlanResult
        Its press day [-]
    pours : Sequence[Pouring]
        Its castings [-]
    night : Night
        The part under press, for when it may come out: the late edge of that is counted [-]
    warm_up_s : float
        What cans, core and mould need to follow the shop, 0 or more [s]

    Returns
    -------
    tuple[Task, ...]
        For `network` [-]
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
