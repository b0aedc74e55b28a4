"""One plan result: this part, this resin, this shop, and what the plan comes to there.

The temperature window: from a shop too cold to lay up in to one where batches go off, and what works between.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from math import isclose, log
from types import MappingProxyType
from typing import Literal

from layup.chemistry.calibration import Calibration
from layup.chemistry.climate import DRY_MARGIN_K, dew_point_K
from layup.chemistry.datasheet import Datasheet, ViscosityPoint, least_warmth
from layup.chemistry.laminate import CURED_DENSITY_G_CM3, fibre_mass_fraction
from layup.chemistry.numerics import first_at_or_above, require_between
from layup.chemistry.viscosity import FARTHEST_K, WET_OUT_LIMIT_PA_S, viscosity_Pa_s
from layup.planning.batches import Odds, odds, split_batches
from layup.planning.budget import Budget, budget, for_part
from layup.planning.clocks import LifeTable, life_tables
from layup.planning.crew import Job, job_of
from layup.planning.cuts import cast_resins
from layup.planning.plan import CastStep, FabricStep, FibreTarget, Plan, Shop, Step
from layup.planning.schedule import LimitKind, Split, Timeline, tight_spare, timeline
from layup.units import temperature, temperature_change, viscosity

# -- settings --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Settings:
    """What can be changed without touching a file."""

    resin_id: str
    temperature_K: float
    people: int
    cup_g: float | None
    fraction: float
    """Of fibre, by weight or by volume as the plan's own, 0..1."""
    relative_humidity: float | None = None
    cans_K: float | None = None
    """Resin and hardener as they are weighed; None at the shop's temperature."""
    lessons: bool = True
    """Whether the plan uses what earlier sessions taught."""

    @property
    def shop(self) -> Shop:
        return Shop(self.temperature_K, relative_humidity=self.relative_humidity, resin_K=self.cans_K)


def plan_with(
    plan: Plan, datasheet: Datasheet, *, people: int, largest_cup_g: float | None, fibre_fraction: float
) -> Plan:
    """Return a plan for another resin, crew, cup and fibre fraction.

    The same steps; those with a fibre fraction of their own keep it.

    Parameters
    ----------
    people : At the bench, 1 or more [-]
    largest_cup_g : The most mix that a cup may hold; None for no limit [g]
    fibre_fraction : Aimed at, by weight or by volume as the plan's own, 0 to 1 [-]
    """
    target = FibreTarget(plan.target.by, fibre_fraction)

    def aimed(step: FabricStep) -> FabricStep:
        follows = isclose(step.fibre_mass_fraction, _by_mass(plan.target, step), rel_tol=0.02)
        return replace(step, fibre_mass_fraction=_by_mass(target, step)) if follows else step

    steps = plan.steps
    if target != plan.target:
        steps = tuple(aimed(step) if isinstance(step, FabricStep) else step for step in plan.steps)
    if not plan.lays:
        steps = tuple(_cast_of(step, plan.resin_id, datasheet.id) for step in steps)
    return replace(
        plan,
        resin_id=datasheet.id,
        target=target,
        crew=replace(plan.crew, people=people),
        largest_cup_g=largest_cup_g,
        steps=steps,
    )


def _cast_of(step: Step, resin_id: str, other_id: str) -> Step:
    """Return a step of a casting plan with another resin for its own."""
    return replace(step, resin_id=other_id) if isinstance(step, CastStep) and step.resin_id == resin_id else step


def _by_mass(target: FibreTarget, step: FabricStep) -> float:
    """Return a target as a fraction by mass of one cloth."""
    if target.by == "weight":
        return target.value
    return fibre_mass_fraction(target.value, step.fibre_density_g_cm3, CURED_DENSITY_G_CM3)


# -- result ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)  # no slots: what is worked out is kept on it
class PlanResult:
    """A plan with its resin, calibrated, in one shop; and what it comes to there, worked out once it is asked for.

    With one of its fields replaced it is another question, with nothing worked out yet. Asking may raise RangeError (a
    number out of range, a fibre fraction above the packing ceiling) or InputError (an outline without a length where
    cloth is cut, a ratio by volume without densities).
    """

    plan: Plan
    datasheet: Datasheet
    calibration: Calibration
    shop: Shop
    casting_resins: Mapping[str, Datasheet] = field(default_factory=lambda: MappingProxyType({}))
    settings: Settings | None = None
    """With which it was asked for; None where no dial was turned, as in a review."""
    lessons_used: bool = False
    taught: tuple[str, ...] = ()
    """What earlier sessions taught, in words, as far as it was used."""

    @cached_property
    def job(self) -> Job:
        """Return the work and its limits, with the losses of one batch."""
        grams = budget(self.plan, self.datasheet, casting_resins=self.casting_resins)
        return job_of(self.plan, grams, self.datasheet)

    @cached_property
    def in_part(self) -> Calibration:
        """Return the resin as it sets in the part."""
        return for_part(self.calibration, self.plan)

    @cached_property
    def clocks(self) -> LifeTable:
        """Return how long a batch lasts."""
        return clocks_in(self.in_part, self.job, (self.shop,))[0]

    @cached_property
    def split(self) -> Split:
        return split_batches(self.job, self.clocks)

    @cached_property
    def budget(self) -> Budget:
        return budget(
            self.plan,
            self.datasheet,
            batches=max(len(self.split.batches), 1),
            left_over_g=self.split.left_over_g,
            casting_resins=self.casting_resins,
        )

    @cached_property
    def timeline(self) -> Timeline | None:
        """Return the day; None without batches."""
        return timeline(self.plan, self.job, self.split, self.clocks)

    @cached_property
    def window(self) -> Window:
        return temperature_window(self)

    @cached_property
    def odds(self) -> Odds | None:
        """Return the odds of closing in time; None without batches. A tenth of a second, so off the screen."""
        crew = self.plan.crew
        if not self.split.batches:
            return None
        return odds(self.job, self.split, self.clocks, day_pace=crew.day_pace, batch_pace=crew.batch_pace)

    def in_shops(self, shops: Sequence[Shop]) -> tuple[PlanResult, ...]:
        """Return the same work in other shops: it is counted once, and the clocks of all of them march together."""
        clocks = clocks_in(self.in_part, self.job, shops)
        found = tuple(replace(self, shop=shop) for shop in shops)
        for result, lives in zip(found, clocks, strict=True):
            result.__dict__.update(job=self.job, clocks=lives)
        return found

    def with_people(self, people: int) -> PlanResult:
        """Return the plan with so many at the bench, nothing worked out yet."""
        return replace(self, plan=replace(self.plan, crew=replace(self.plan.crew, people=people)))

    def work_out(self) -> None:
        """Work out now all that the screens show, but the odds."""
        _ = self.budget, self.timeline, self.window

    @property
    def chance(self) -> float | None:
        """Return the chance of closing in time, 0 to 1; None without batches."""
        return self.odds.chance if self.odds else None


def clocks_in(resin: Calibration, job: Job, shops: Sequence[Shop]) -> tuple[LifeTable, ...]:
    """Return the clocks of a resin in many shops, which costs little more than in one."""
    lightest, heaviest = job.masses_g
    dry = [replace(shop, relative_humidity=None) for shop in shops]  # no life depends on it: tabulated once
    return life_tables(resin, dry, lightest, heaviest)


# -- window ----------------------------------------------------------------------------------------------------------

COLDEST_K, HOTTEST_K = 278.15, 308.15
"""5 to 35 degC."""
SAMPLES = 31
END_STEPS = 5
END_STRIDE = 4
"""Of the temperatures between two samples every fourth is tabulated first, then the three beside the end."""
NEAR_K = 0.001
TOO_THICK_PA_S = 2.0 * WET_OUT_LIMIT_PA_S
"""Twice the viscosity at which wetting out gets slow: there it does not happen by hand (common practice, no source)."""

ColdKind = Literal["thick", "minimum", "dew"]


@dataclass(frozen=True, slots=True)
class ColdLimit:
    """A temperature below which the shop is too cold, and why."""

    kind: ColdKind
    temperature_K: float
    words: str
    short: str
    """The same in three words, beside a verdict."""


@dataclass(frozen=True, slots=True)
class Sample:
    """The plan in a shop of one temperature: `slack_s` is what the tightest batch has to spare, below zero if it fails.

    None where no batch has an allowed mass. `works` also asks that the shop be warm enough.
    """

    temperature_K: float
    slack_s: float | None
    limit: LimitKind | None
    batches: int
    works: bool
    tight: bool
    """Whether it has too little to spare."""


@dataclass(frozen=True, slots=True)
class Window:
    """Slack against shop temperature, and the interval around (or nearest to) today in which the plan works."""

    samples: tuple[Sample, ...]
    today_K: float
    low_K: float | None
    high_K: float | None
    cold_limits: tuple[ColdLimit, ...]


def temperature_window(
    result: PlanResult, *, coldest_K: float = COLDEST_K, hottest_K: float = HOTTEST_K, samples: int = SAMPLES
) -> Window:
    """Plan the same work in shops from cold to hot.

    Raises RangeError for a range that runs backwards, or fewer than two temperatures. Each sample is split anew, with
    the pace of today. Cans and part follow the shop unless the shop states their own temperature. The ends of the
    interval are found to 1/32 of the distance of two samples. The dew point is that of today's air, warmed or cooled
    without drying it.

    Parameters
    ----------
    coldest_K : Coldest shop to try [K]
    hottest_K : Hottest shop to try, above `coldest_K` [K]
    samples : How many temperatures, 2 to 1000 [-]
    """
    require_between("hottest shop", hottest_K, coldest_K, 333.15, unit="K", open_low=True)
    require_between("temperatures to try", samples, 2, 1000)
    temperatures_K = tuple(coldest_K + (hottest_K - coldest_K) * i / (samples - 1) for i in range(samples))
    return _window(result.job, result.in_part, result.shop, cold_limits(result), temperatures_K)


@lru_cache(maxsize=64)
def _window(
    job: Job, resin: Calibration, shop: Shop, limits: tuple[ColdLimit, ...], temperatures_K: tuple[float, ...]
) -> Window:
    """Return the window of a job; the last ones are kept, for a dial that is turned back and for who asks next."""

    def clocks_of(temperatures_K: Sequence[float]) -> tuple[LifeTable, ...]:
        return clocks_in(resin, job, [replace(shop, temperature_K=kelvin) for kelvin in temperatures_K])

    def fitting(temperatures_K: Sequence[float]) -> int:
        """Return how many of some temperatures fit, from the first on, by bisection."""
        clocks = clocks_of(temperatures_K)
        return bisect_left(clocks, True, key=lambda each: not split_batches(job, each).fits)

    found = []
    for temperature_K, clocks in zip(temperatures_K, clocks_of(temperatures_K), strict=True):
        split = split_batches(job, clocks)
        limit = split.limit.kind if split.limit else None
        works = split.fits and not _unmet(limits, replace(shop, temperature_K=temperature_K))
        found.append(Sample(temperature_K, split.slack_s, limit, len(split.batches), works, bool(tight_spare(split))))
    low, high = _interval(found, shop.temperature_K, limits, fitting)
    return Window(tuple(found), shop.temperature_K, low, high, limits)


def cold_limits(result: PlanResult) -> tuple[ColdLimit, ...]:
    """Return what makes a shop too cold for a plan's resin.

    All that there are, met or not.

    Each resin that the plan casts is judged as well, in the shop of the plan. Thickness is judged at the cans'
    temperature, for mix is laid before it has cooled; the others at the coldest of shop and part.
    """
    limits = []
    lays = result.plan.lays
    thick = thicker_below_K(result.datasheet.viscosities, TOO_THICK_PA_S) if lays else None
    if thick is not None:
        words = f"Below {temperature(thick)}: too thick to wet out by hand."
        limits.append(ColdLimit("thick", thick, words, "mix too thick"))
    cures = [("this resin", result.datasheet)] if lays else []
    cures += [(sheet.title, sheet) for sheet in cast_sheets(result)]
    for name, sheet in cures:
        minimum, what = least_warmth(sheet)
        limits.append(ColdLimit("minimum", minimum, f"Below {temperature(minimum)} {name} {what}.", "does not cure"))
    humidity = result.shop.relative_humidity
    if humidity is not None:
        dry = dew_point_K(result.shop.temperature_K, humidity) + DRY_MARGIN_K
        words = (
            f"Below {temperature(dry)} today's air comes within {temperature_change(DRY_MARGIN_K)} of its dew point: "
            "surfaces get damp."
        )
        limits.append(ColdLimit("dew", dry, words, "surfaces get damp"))
    return tuple(limits)


def cast_sheets(result: PlanResult) -> tuple[Datasheet, ...]:
    """Return the resins at hand that a plan casts, each once, in bench order."""
    return tuple(result.casting_resins[name] for name in cast_resins(result.plan) if name in result.casting_resins)


def too_cold(result: PlanResult) -> tuple[ColdLimit, ...]:
    """Return the cold limits that a plan's shop does not meet."""
    return _unmet(cold_limits(result), result.shop)


def _unmet(limits: Sequence[ColdLimit], shop: Shop) -> tuple[ColdLimit, ...]:
    """Return the limits that a shop does not meet."""
    coldest = min(shop.temperature_K, shop.surface_K)
    return tuple(limit for limit in limits if (shop.cans_K if limit.kind == "thick" else coldest) < limit.temperature_K)


def thick_in_the_cup(result: PlanResult) -> tuple[str, float] | None:
    """Say that a mix still flows and is slow to wet out cloth, and from which temperature it is not."""
    cans_K = result.shop.cans_K
    warm_K = thicker_below_K(result.datasheet.viscosities, WET_OUT_LIMIT_PA_S) if result.plan.lays else None
    if warm_K is None or cans_K >= warm_K or any(limit.kind == "thick" for limit in too_cold(result)):
        return None
    words = (
        f"The mix is thicker than {viscosity(WET_OUT_LIMIT_PA_S)} at {temperature(cans_K)}: "
        "slow to wet out cloth by hand (common practice, no source)."
    )
    return words, warm_K


@lru_cache(maxsize=64)
def thicker_below_K(points: tuple[ViscosityPoint, ...], limit_Pa_s: float) -> float | None:
    """Return the temperature below which a mix is thicker than a limit.

    Found within 0.001 K, and where it is a stated temperature that one, so that a shop of just that warmth is enough.
    """
    if not points:
        return None
    stated = sorted(point.temperature_K for point in points)
    cold, warm = stated[0] - FARTHEST_K, stated[-1] + FARTHEST_K
    if viscosity_Pa_s(points, cold) <= limit_Pa_s:
        return None
    warm = first_at_or_above(lambda kelvin: log(limit_Pa_s / viscosity_Pa_s(points, kelvin)), cold, warm, NEAR_K)
    return next((kelvin for kelvin in stated if abs(kelvin - warm) <= NEAR_K), warm)


def _interval(
    samples: Sequence[Sample], today_K: float, limits: Sequence[ColdLimit], fitting: Callable[[Sequence[float]], int]
) -> tuple[float | None, float | None]:
    """Return the ends of the run of samples that work nearest to today."""
    working = [i for i, sample in enumerate(samples) if sample.works]
    if not working:
        return None, None
    first = last = min(working, key=lambda i: abs(samples[i].temperature_K - today_K))
    while first - 1 in working:
        first -= 1
    while last + 1 in working:
        last += 1
    low, high = samples[first].temperature_K, samples[last].temperature_K
    if first > 0:
        below = [limit.temperature_K for limit in limits if limit.temperature_K <= low]
        low = max([_end(samples[first], samples[first - 1], fitting), *below])
    if last + 1 < len(samples):
        high = _end(samples[last], samples[last + 1], fitting)
    return low, high


def _end(inside: Sample, outside: Sample, fitting: Callable[[Sequence[float]], int]) -> float:
    """Return the last temperature that fits between a sample that works and its neighbour, by bisection."""
    if outside.slack_s is not None and outside.slack_s >= 0.0:  # it fits there too, and is only too cold
        return outside.temperature_K
    reach_K = (outside.temperature_K - inside.temperature_K) / (1 << END_STEPS)
    between_K = [inside.temperature_K + reach_K * i for i in range(1, 1 << END_STEPS)]
    passed = END_STRIDE * fitting(between_K[END_STRIDE - 1 :: END_STRIDE])
    return inside.temperature_K + reach_K * (passed + fitting(between_K[passed : passed + END_STRIDE - 1]))
