"""The days before: what of a plan has to get warm in a cold shop, and what waits for what until the part is out.

A network of tasks by its critical path. Hands work in the shop's hours, waits go on through the night.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import floor, inf, pi, sqrt
from typing import TYPE_CHECKING

from layup.chemistry.climate import saturation_pressure_Pa
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.film import SolidLayer
from layup.chemistry.kinetics import EPOXY_J_g_K
from layup.chemistry.numerics import require_between, require_stated
from layup.chemistry.soak import (
    CLOTH_PACKED,
    MATERIALS,
    BLOWN_AIR_W_m2_K,
    Body,
    CLOTH_J_g_K,
    CLOTH_W_m_K,
    EPOXY_W_m_K,
    FOAM_J_g_K,
    FOAM_W_m_K,
    WATER_W_m2_K,
    WOOD_J_g_K,
    bath_time_s,
    follow_time_s,
    wood_conductivity_W_m_K,
)
from layup.chemistry.temperature import DAY_S
from layup.chemistry.uncertainty import Band
from layup.errors import InputError, RangeError
from layup.planning.budget import Budget
from layup.planning.cuts import fabrics_of
from layup.planning.night import Night
from layup.planning.outline import area_m2
from layup.planning.plan import Board, PlaceStep, Plan, Shop, Task
from layup.planning.planner import PlanResult
from layup.units import length

if TYPE_CHECKING:
    from layup.planning.castings import Pouring

USUAL_RESIN_g_cm3, USUAL_HARDENER_g_cm3 = 1.15, 0.97
"""Where a datasheet does not say (epoxy and amine, from memory)."""
TALL = 1.2
"""Height of a can over its diameter (common practice, no source)."""
USUAL_CORE_m = 0.012
"""As the density of a core and the usual mould, common practice, no source."""
USUAL_MOULD = Board("birch plywood", 0.018)
WOOD_MOISTURE = 0.10
"""Of a core kept indoors; as the mould, common practice, no source."""
USUAL_BATH_K = 308.15
"""35 degC: what a bucket of warm water holds a while (common practice, no source)."""
HOTTEST_BATH_K = 318.15
"""45 degC, beyond which a can is not warmed: it lives too short in the cup (our own judgement, no source)."""
WARMING_CAUTIONS = (
    "A heater wants a thermostat, a second cut-out and room around it; nothing that burns or gives off solvent near.",
    "Warm cans on a water bath or in a box, never on a flame or a hot plate: loosen the lids of epoxy and amine.",
    "Cans of isocyanate stay closed and dry: no water near them. Their safety data sheet comes first.",
)


@dataclass(frozen=True, slots=True)
class Stored:
    """How the things of a plan stand in the cold, as far as its file does not say."""

    can_g: float | None = None
    """What the resin's can holds; None takes what the plan wants ready."""
    core_m: float | None = None
    """None takes the plan's, or where it states none the usual one."""
    core_g_cm3: float = 0.30
    """A light wood (common practice, no source)."""
    mould_both_faces: bool = False
    """Whether air comes to the mould from below, too."""

    def __post_init__(self) -> None:
        require_stated("can of resin", self.can_g, 10.0, 250_000.0, unit="g")
        require_stated("thickness of the core", self.core_m, 0.001, 0.2, unit="m")
        require_between("density of the core", self.core_g_cm3, 0.02, 1.0, unit="g/cm^3")

    @property
    def core_of_foam(self) -> bool:
        """Return whether the core is lighter than any wood (the lightest balsa, from memory)."""
        return self.core_g_cm3 < 0.1


@dataclass(frozen=True, slots=True)
class Warming:
    """One thing, and how long its coldest point takes to within 2 K of the shop."""

    body: Body
    from_K: float
    to_K: float
    time_s: float
    fan_s: float
    """In front of a fan."""
    bath_s: float | None
    """A can in a bath, then stirred; None for what does not go into water."""
    stored_J_K: float
    """The heat that it takes up for a kelvin."""


def bodies(plan: Plan, found: Budget, sheet: Datasheet, standing: Stored) -> Iterator[tuple[Body, float]]:
    """Yield each thing of a plan that has to get warm, with the heat that it takes up for a kelvin [J/K]."""
    share = 1.0 if standing.can_g is None or not found.buy_resin_g else standing.can_g / found.buy_resin_g
    for name, density_g_cm3, mass_g in (
        ("resin can", sheet.resin.density_g_cm3 or USUAL_RESIN_g_cm3, found.buy_resin_g),
        ("hardener can", sheet.hardener.density_g_cm3 or USUAL_HARDENER_g_cm3, found.buy_hardener_g),
    ):
        if mass_g:
            yield _can(name, density_g_cm3, mass_g * share), mass_g * share * EPOXY_J_g_K
    face_m2 = plan.pieces * area_m2(plan.outline)
    if plan.lays:
        core = _core(core_m(plan, standing), standing)
        yield Body("core", "slab", (core,)), core.warms[1] * face_m2
    mould = _mould(plan, standing)
    yield mould, sum(layer.warms[1] for layer in mould.layers) * face_m2
    roll = _roll(plan, found)
    if roll is not None:
        yield roll, sum(line.glass_g for line in found.lines) * CLOTH_J_g_K


def warmings(
    plan: Plan,
    found: Budget,
    sheet: Datasheet,
    standing: Stored,
    *,
    from_K: float,
    to_K: float,
    bath_K: float,
    measured_K: dict[str, float] | None = None,
) -> tuple[Warming, ...]:
    """Find how long each thing of a plan takes to follow the shop, the slowest first.

    Parameters
    ----------
    from_K : What all of it has at first, unless it was measured [K]
    to_K : The shop from now on [K]
    bath_K : A bath for the cans, at most 318.15 [K]
    measured_K : What a thermometer said of a thing, by its name [K]
    """
    require_between("bath", bath_K, 233.15, HOTTEST_BATH_K, unit="K", todo="warmer spoils the resin's working time")
    told = measured_K or {}
    rows = []
    for body, stored_J_K in bodies(plan, found, sheet, standing):
        start_K = told.get(body.name, from_K)
        in_water = replace(body, h_W_m2_K=WATER_W_m2_K)
        still_s, fan_s = (
            follow_time_s(one, from_K=start_K, to_K=to_K) for one in (body, replace(body, h_W_m2_K=BLOWN_AIR_W_m2_K))
        )
        wet = body.shape == "can" and start_K < to_K < bath_K
        bath_s = bath_time_s(in_water, from_K=start_K, bath_K=bath_K, to_K=to_K) if wet else None
        rows.append(Warming(body, start_K, to_K, still_s, fan_s, bath_s, stored_J_K))
    return tuple(sorted(rows, key=lambda row: -row.time_s))


def warm_up_s(result: PlanResult, stored_K: float) -> float:
    """Return how long the slowest thing of a plan needs from where all is stored to the shop's temperature.

    0 where all is as warm.

    Parameters
    ----------
    stored_K : What cans, core and mould have before [K]
    """
    shop_K = result.shop.temperature_K
    rows = warmings(result.plan, result.budget, result.datasheet, Stored(), from_K=stored_K, to_K=shop_K, bath_K=shop_K)
    return max((row.time_s for row in rows), default=0.0)


def assumed_words(plan: Plan, standing: Stored) -> tuple[str, ...]:
    """Return what the times rest on."""
    words = [
        "still air and even temperatures at first; no heat from a hand or a draught",
        f"cans {TALL:g} times as tall as wide, their resin at rest (common practice, no source)",
        f"core {length(core_m(plan, standing))} thick, {standing.core_g_cm3:.2f} of water's density",
        "the roll of cloth is a third fibre, the rest air (our own estimate, no source)",
    ]
    if plan.closing.backing is None and plan.closing.foam is None:
        words.append(f"mould {USUAL_MOULD}, as the plan states none (backing and foam in its [closing])")
    words.append(
        "the mould has air on both faces" if standing.mould_both_faces else "the mould lies: air on one face only"
    )
    return tuple(words)


def _can(name: str, density_g_cm3: float, mass_g: float) -> Body:
    radius_m = (1e-6 * mass_g / density_g_cm3 / (2.0 * TALL * pi)) ** (1 / 3)
    inside = SolidLayer(EPOXY_W_m_K, density_g_cm3, EPOXY_J_g_K, radius_m)
    return Body(name, "can", (inside,), radius_m=radius_m, height_m=2.0 * TALL * radius_m)


def core_m(plan: Plan, standing: Stored) -> float:
    """Return how thick the core is: as told, else the thickest that the plan puts in place, else a usual one [m]."""
    stated = (step.thickness_m or 0.0 for step in plan.steps if isinstance(step, PlaceStep))
    return standing.core_m or max(stated, default=0.0) or USUAL_CORE_m


def _core(thick_m: float, standing: Stored) -> SolidLayer:
    density_g_cm3 = standing.core_g_cm3
    if standing.core_of_foam:
        return SolidLayer(FOAM_W_m_K, density_g_cm3, FOAM_J_g_K, thick_m)
    conducts = wood_conductivity_W_m_K(density_g_cm3 / (1.0 + WOOD_MOISTURE), WOOD_MOISTURE)
    return SolidLayer(conducts, density_g_cm3, WOOD_J_g_K, thick_m)


def _mould(plan: Plan, standing: Stored) -> Body:
    closing = plan.closing
    board = closing.backing or (USUAL_MOULD if closing.foam is None else None)
    layers = [] if board is None else [SolidLayer(*MATERIALS[board.material], board.thickness_m)]
    if closing.foam is not None:
        layers.append(SolidLayer(FOAM_W_m_K, closing.foam.density_g_cm3, FOAM_J_g_K, closing.foam.thickness_m))
    both = standing.mould_both_faces
    if len(layers) > 1:
        return Body("mould", "layers", tuple(layers), both_faces=both)
    return Body("mould", "slab" if both else "half slab", tuple(layers))


def _roll(plan: Plan, found: Budget) -> Body | None:
    """Return all cloth on one roll as wide as the part's roll, or as the widest piece of it."""
    grams = sum(line.glass_g for line in found.lines)
    fabrics = [*fabrics_of(plan).values()]
    if not fabrics or grams <= 0.0:
        return None
    density_g_cm3 = CLOTH_PACKED * fabrics[0].fibre_density_g_cm3
    radius_m = sqrt(1e-6 * grams / density_g_cm3 / (plan.outline.roll_width_m or 1.0) / pi)
    cloth = SolidLayer(CLOTH_W_m_K, density_g_cm3, CLOTH_J_g_K, radius_m)
    return Body("cloth roll", "cylinder", (cloth,), radius_m=radius_m)


def shop_at(shop: Shop, temperature_K: float) -> Shop:
    """Return a shop warmed or cooled to another temperature."""
    humidity = shop.relative_humidity
    if humidity is not None:
        dried = saturation_pressure_Pa(shop.temperature_K) / saturation_pressure_Pa(temperature_K)
        humidity = min(humidity * dried, 1.0)
    return replace(shop, temperature_K=temperature_K, relative_humidity=humidity)


def following(result: PlanResult, to_K: float) -> tuple[Warming, ...]:
    """Return how long the things of a plan take to a shop's temperature, from what was measured of them."""
    shop = result.shop
    measured_K = {"resin can": shop.resin_K, "hardener can": shop.resin_K}
    measured_K |= dict.fromkeys(("core", "mould", "cloth roll"), shop.part_K)
    return warmings(
        result.plan,
        result.budget,
        result.datasheet,
        Stored(),
        from_K=shop.temperature_K,
        to_K=to_K,
        bath_K=USUAL_BATH_K,
        measured_K={name: kelvin for name, kelvin in measured_K.items() if kelvin is not None},
    )


# -- calendar --------------------------------------------------------------------------------------------------------

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
        if hours_s and task.hands and task.takes_s > hours_s[1] - hours_s[0]:
            raise RangeError(f"{task.name}: time", "is longer than the shop's hours", todo="split it, or lengthen them")
    takes_s = {task.name: task.takes_s for task in order}
    latest: dict[str, float] = {}
    for task in reversed(order):
        by_s = min((latest[each.name] for each in order if task.name in each.after), default=end_s)
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
    opens_s, shuts_s = hours_s
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
    opens_s, shuts_s = hours_s
    day = floor(from_s / DAY_S)
    begin_s = max(from_s, day * DAY_S + opens_s)
    return begin_s if begin_s + task.takes_s <= day * DAY_S + shuts_s else (day + 1) * DAY_S + opens_s
