"""The temperature window: from a shop too cold to lay up in to one where batches go off, and what works between."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from layup.chemistry.climate import DRY_MARGIN_K, dew_point_K
from layup.chemistry.datasheet import Datasheet, ViscosityPoint
from layup.chemistry.ranges import require_between
from layup.chemistry.viscosity import FARTHEST_K, WET_OUT_LIMIT_PA_S, viscosity_Pa_s
from layup.planning.batches import split_batches
from layup.planning.crew import Job
from layup.planning.plan import CastStep, Shop
from layup.planning.planner import Case, clocks_at
from layup.planning.schedule import LimitKind, Split

COLDEST_K, HOTTEST_K = 278.15, 308.15
"""5 to 35 degC."""
SAMPLES = 31
END_STEPS = 5
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


@dataclass(frozen=True, slots=True)
class Window:
    """Slack against shop temperature, and the interval around (or nearest to) today in which the plan works."""

    samples: tuple[Sample, ...]
    today_K: float
    low_K: float | None
    high_K: float | None
    cold_limits: tuple[ColdLimit, ...]


def temperature_window(
    case: Case, job: Job, *, coldest_K: float = COLDEST_K, hottest_K: float = HOTTEST_K, samples: int = SAMPLES
) -> Window:
    """Plan the same job in shops from cold to hot.

    Parameters
    ----------
    case : Case
        Part, resin and today's shop [-]
    job : Job
        The case's work and batch limits [-]
    coldest_K : float
        Coldest shop to try [K]
    hottest_K : float
        Hottest shop to try, above `coldest_K` [K]
    samples : int
        How many temperatures, 2 to 1000 [-]

    Returns
    -------
    Window
        Slack at each temperature, and the interval that works [s, K]

    Raises
    ------
    RangeError
        A range that runs backwards, or fewer than two temperatures.

    Notes
    -----
    Each sample is split anew, with the pace of today. Cans and part follow the shop unless the shop states their own
    temperature. The ends of the interval are found to 1/32 of the distance of two samples. The dew point is that of
    today's air, warmed or cooled without drying it.
    """
    require_between("hottest shop", hottest_K, coldest_K, 333.15, unit="K", open_low=True)
    require_between("temperatures to try", samples, 2, 1000)
    limits = cold_limits(case)

    def split_at(temperature_K: float) -> Split:
        """Split the job in a shop of another temperature."""
        return split_batches(job, clocks_at(case, job, replace(case.shop, temperature_K=temperature_K)))

    found = []
    for i in range(samples):
        temperature = coldest_K + (hottest_K - coldest_K) * i / (samples - 1)
        split = split_at(temperature)
        limit = split.limit.kind if split.limit else None
        works = split.fits and not _unmet(limits, replace(case.shop, temperature_K=temperature))
        found.append(Sample(temperature, split.slack_s, limit, len(split.batches), works))
    low, high = _interval(found, case.shop.temperature_K, limits, split_at)
    return Window(tuple(found), case.shop.temperature_K, low, high, limits)


def cold_limits(case: Case) -> tuple[ColdLimit, ...]:
    """Return what makes a shop too cold for a case's resin.

    Notes
    -----
    Each resin that the plan casts is judged as well, in the shop of the plan. Thickness is judged at the cans'
    temperature, for mix is laid before it has cooled; the others at the coldest of shop and part.
    """
    limits = []
    lays = case.plan.lays
    thick = thicker_below_K(case.datasheet.viscosities, TOO_THICK_PA_S) if lays else None
    if thick is not None:
        words = (
            f"Below {_celsius(thick)} this resin is too thick to wet out cloth by hand (common practice, no source)."
        )
        limits.append(ColdLimit("thick", thick, words))
    cures = [("this resin", case.datasheet)] if lays else []
    cures += [(sheet.title, sheet) for sheet in cast_sheets(case)]
    for name, sheet in cures:
        minimum = sheet.minimum_temperature_K
        if minimum is not None:
            words = f"Below {_celsius(minimum)} {name} does not cure as its maker states."
            limits.append(ColdLimit("minimum", minimum, words))
    humidity = case.shop.relative_humidity
    if humidity is not None:
        dry = dew_point_K(case.shop.temperature_K, humidity) + DRY_MARGIN_K
        words = f"Below {_celsius(dry)} today's air comes within 3 K of its dew point: surfaces get damp."
        limits.append(ColdLimit("dew", dry, words))
    return tuple(limits)


def cast_sheets(case: Case) -> tuple[Datasheet, ...]:
    """Return the resins at hand that a case's plan casts.

    Parameters
    ----------
    case : Case
        Part, resins and shop [-]

    Returns
    -------
    tuple[Datasheet, ...]
        Each once, in bench order [-]
    """
    named = dict.fromkeys(step.resin_id for step in case.plan.steps if isinstance(step, CastStep))
    return tuple(case.casting_resins[name] for name in named if name in case.casting_resins)


def too_cold(case: Case) -> tuple[ColdLimit, ...]:
    """Return the cold limits that a case's shop does not meet."""
    return _unmet(cold_limits(case), case.shop)


def _unmet(limits: Sequence[ColdLimit], shop: Shop) -> tuple[ColdLimit, ...]:
    """Return the limits that a shop does not meet."""
    cans = shop.resin_K or shop.temperature_K
    coldest = min(shop.temperature_K, shop.part_K or shop.temperature_K)
    return tuple(limit for limit in limits if (cans if limit.kind == "thick" else coldest) < limit.temperature_K)


def thicker_below_K(points: Sequence[ViscosityPoint], limit_Pa_s: float) -> float | None:
    """Return the temperature below which a mix is thicker than a limit.

    Notes
    -----
    Found within 0.001 K, and where it is a stated temperature that one, so that a shop of just that warmth is enough.
    """
    if not points:
        return None
    stated = sorted(point.temperature_K for point in points)
    cold, warm = stated[0] - FARTHEST_K, stated[-1] + FARTHEST_K
    if viscosity_Pa_s(points, cold) <= limit_Pa_s:
        return None
    while warm - cold > NEAR_K:
        middle = (cold + warm) / 2.0
        cold, warm = (middle, warm) if viscosity_Pa_s(points, middle) > limit_Pa_s else (cold, middle)
    return next((kelvin for kelvin in stated if abs(kelvin - warm) <= NEAR_K), warm)


def _interval(
    samples: Sequence[Sample], today_K: float, limits: Sequence[ColdLimit], split_at: Callable[[float], Split]
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
        low = max([_end(samples[first], samples[first - 1], split_at), *below])
    if last + 1 < len(samples):
        high = _end(samples[last], samples[last + 1], split_at)
    return low, high


def _end(inside: Sample, outside: Sample, split_at: Callable[[float], Split]) -> float:
    """Return the last temperature that fits between a sample that works and its neighbour, by bisection."""
    if outside.slack_s is not None and outside.slack_s >= 0.0:  # it fits there too, and is only too cold
        return outside.temperature_K
    good, bad = inside.temperature_K, outside.temperature_K
    for _ in range(END_STEPS):
        middle = (good + bad) / 2.0
        good, bad = (middle, bad) if split_at(middle).fits else (good, middle)
    return good


def _celsius(temperature_K: float) -> str:
    return f"{temperature_K - 273.15:.0f} °C"
