"""When a part may leave the mould, with its 80 % band: the maker's time is up, and the resin is a glass."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from itertools import chain
from math import erfc, exp, inf, isfinite, log, sqrt
from typing import Literal

from layup.chemistry.calibration import Calibration
from layup.chemistry.cure_course import CureCourse, Setting, set_on_part
from layup.chemistry.datasheet import CurePoint, Datasheet
from layup.chemistry.film import GEL_MARGIN
from layup.chemistry.glass import MakersClock, glass_of
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.steady_cure import SteadyCourse, steady_courses
from layup.chemistry.temperature import History, ramps
from layup.chemistry.uncertainty import EIGHTY_PERCENT, NEAR_ENOUGH, Band, Chance, Covariance, Wait, log_sd, when_s
from layup.units import hours_of_band, in_hours, temperature, temperature_change

# -- demould ---------------------------------------------------------------------------------------------------------

GLASS_LEAD_K = 10.0
"""How far the glass transition must be above the mould at demoulding (common practice, no source).

Strength and stiffness grow from vitrification on: O. Moussa et al., Int. J. Adhesion & Adhesives 35 (2012) 9.
"""
WARM_ROOM_K = 303.15
"""A part with its glass transition below 30 degC goes soft in use (common practice, no source)."""
HORIZON_S = 14 * 86_400.0
"""How far ahead demoulding is looked for: two weeks."""
HARDLY_CURES_K = 278.15
"""At 0 to 5 degC the cure of a cold-setting epoxy hardly starts (O. Moussa, A. P. Vassilopoulos and T. Keller, Int. J.
Adhesion & Adhesives 35 (2012) 9): the least warmth of a resin whose datasheet states none."""


def least_warmth(datasheet: Datasheet) -> tuple[float, str]:
    """Find the temperature below which a resin is not to be cured, and the words for why.

    The stated minimum, else 278.15 [K]; what happens below it, as a predicate [-].
    """
    stated_K = datasheet.minimum_temperature_K
    if stated_K is not None:
        return stated_K, "does not cure as its maker states"
    return HARDLY_CURES_K, "hardly starts to cure, and its datasheet does not allow it"


def setting_of(datasheet: Datasheet, kinetics: Kinetics) -> tuple[Setting, tuple[str, ...]]:
    """Gather what a datasheet says of setting on the part, and say in words what was assumed.

    The resin as it sets, and the assumptions as sentences. Raises RangeError for stated demould times or a glass
    transition that cannot be.
    """
    glass, words = glass_of(datasheet)
    setting = Setting(kinetics, glass, MakersClock(datasheet.demould, kinetics.activation_energy_J_mol))
    stated = (
        f"the maker's demould times count as one clock over {len(datasheet.demould)} stated temperature(s), and a part "
        "waits for it"
        if datasheet.demould
        else "the datasheet states no demould time: only the glass transition says when"
    )
    lead = temperature_change(GLASS_LEAD_K)
    return setting, (
        stated,
        f"a part may leave the mould once it is {100.0 * GEL_MARGIN:.0f} % past its gel (our own judgement) and its "
        f"glass transition is {lead} above the mould's temperature (common practice, no source)",
        *words,
        "the laminate has the mould's temperature: its own warmth is left out",
    )


def demould_time_s(
    setting: Setting,
    mould: float | History,
    *,
    conversion_start: float = 0.0,
    lead_K: float = GLASS_LEAD_K,
    until_s: float = HORIZON_S,
    rough: bool = False,
) -> float:
    """Find the earliest time at which a part may leave the mould [s].

    On the same clock as `mould`; inf where it does not come by `until_s`. Raises RangeError for a value outside its
    range, or a history that is empty or runs backwards.

    All must hold: the maker's demould time is up, where one is stated, as the integral of dt/t(T); the conversion is
    0.03 past the gel, for a resin may turn to glass before it is a network; and the glass transition is `lead_K` above
    the mould, for a part that is not a glass bends, creeps and springs back.

    >>> from layup.chemistry.datasheet import CurePoint
    >>> from layup.chemistry.glass import Glass
    >>> setting = Setting(Kinetics(3e-4), Glass(355.15), MakersClock((CurePoint(86400.0, 296.15),)))
    >>> round(demould_time_s(setting, 296.15) / 3600.0, 3)
    24.0

    Parameters
    ----------
    mould : One temperature, or (time_s, temperature_K) points of the mould, held after the last [K]
    conversion_start : Conversion the resin has at the start, 0 to below 0.999 [-]
    lead_K : How far the glass transition must be above the mould [K]
    until_s : How far to look [s]
    rough : Whether five digits do [-]
    """
    enough = setting.ready(lead_K)
    course = set_on_part(setting, mould, until_s=until_s, conversion_start=conversion_start, enough=enough, rough=rough)
    return course.ready_s(lead_K)


# -- cure band -------------------------------------------------------------------------------------------------------

GLASS_SD = {"uncured_K": 10.0, "cured_K": 7.0, "shape": 0.05, "half_rate_lead_K": 5.0}
STATED_LOG_SD = 0.10
"""One standard deviation of what is unsure about the glass and the stated times (our own judgement, no source)."""
COLD_RELATION_K = 283.15
WIDER_PER_K = 0.1
"""Below a cure at 10 degC the glass transition depends on the cure's temperature, not on conversion alone (O. Moussa,
A. P. Vassilopoulos and T. Keller, Int. J. Adhesion & Adhesives 35 (2012) 9): each kelvin adds this share to the spreads
of DiBenedetto's constants, so that they double at 0 degC (how much: our own judgement, no source)."""
REACH = EIGHTY_PERCENT
"""How many of them each of these is moved to either side: what it does is far from even, so the ends count."""
Course = CureCourse | SteadyCourse
Verdict = Literal["makes it", "may make it", "does not make it"]


@dataclass(frozen=True, slots=True)
class Demould:
    """When a part may leave the mould, in seconds of the course; inf for what does not come within it."""

    out_s: Band
    stated_s: float
    """When the maker's own demould time is up, counted at the mould's temperature; the course's start without one."""
    glass_s: float
    """When the resin is a glass by the margin asked."""
    gel_s: float
    """When it is past its gel."""
    softens_K: float
    """The glass transition at the likely time; at the end of the course where that does not come."""

    @property
    def softens_words(self) -> str:
        """Say where a part that leaves its mould then goes soft in use."""
        return f"softens above {temperature(self.softens_K)}"

    def after(self, begin: str, form: str = ".0f") -> str:
        """Say how long after its begin it may come out, with the 80 % band, and from what warmth on it softens."""
        low_s, likely_s, high_s = self.out_s
        band = hours_of_band(low_s, high_s, form)
        return f"{in_hours(likely_s, form)} after {begin} ({band}), {self.softens_words}"

    @property
    def cautions(self) -> tuple[str, ...]:
        """Say so where a part that may leave its mould is hard for want of warmth, and not cured."""
        if not isfinite(self.out_s.likely) or self.softens_K >= WARM_ROOM_K:
            return ()
        return (
            f"Hard is not cured: a part out then softens at about {temperature(self.softens_K)}.",
            "A warm room or the sun bends it: cure it on, warm and in its shape, before it is used.",
        )

    def verdict(self, by_s: float) -> Verdict:
        """Say whether the part may leave the mould by `by_s` [s]; "may make it" within the band."""
        if self.out_s.high <= by_s:
            return "makes it"
        return "may make it" if self.out_s.low <= by_s else "does not make it"


@lru_cache(maxsize=16)
def demould(
    setting: Setting,
    calibration: Calibration,
    mould: float | History,
    *,
    from_s: float = 0.0,
    conversion_start: float = 0.0,
    until_s: float = HORIZON_S,
) -> Demould:
    """Find the earliest demoulding with its 80 % band, and which of its conditions it waits for.

    Raises RangeError for a history that is empty or runs backwards.

    The waits for the maker and for the glass are log-normal with a standard deviation to each side, its square the rate
    law's own and the sum of (d_i/1.2816)^2: d_i is how much sooner or later ln t comes with one of the glass's
    constants, or the stated times, at the ends of their own 80 %. A glass that stops itself early puts the end off by
    far more than one that stops late brings it forward. A part is past its gel by a time with the chance that its
    conversion then exceeds the gel's by 0.03, both normal. Of a resin that reacted below 10 degC the constants are less
    sure. The part is ready by when all is over in one case out of ten, and in nine. Where a side does not come by
    `until_s`, the high end is inf.

    Parameters
    ----------
    calibration : The calibration behind it, for what is unsure [-]
    mould : One temperature, or (time_s, temperature_K) points of the mould, held after the last [K]
    from_s : Start of the course [s]
    conversion_start : Conversion the resin has at the start, 0 to below 0.999 [-]
    until_s : How far to look, after `from_s` [s]
    """

    def ready_s(one: Course) -> float:
        return one.ready_s(GLASS_LEAD_K)

    def glassy_s(one: Course) -> float:
        return one.glass_s(GLASS_LEAD_K)

    best, courses = _courses(setting, calibration, mould, from_s, until_s, conversion_start)
    time_s, stated_s, glass_s, gel_s = ready_s(best), best.stated_s(), glassy_s(best), best.gel_s()
    pairs = list(zip(courses, courses, strict=True))
    laws, others = pairs[: len(calibration.variants)], pairs[len(calibration.variants) :]

    def over_when(when: Callable[[Course], float]) -> Chance:
        laws_s, others_s = ([(when(low), when(high)) for low, high in pairs] for pairs in (laws, others))
        return _spread(when(best), from_s, laws_s, others_s, calibration.covariance).over_by

    def ready_by(waited_s: float) -> float:
        """Return the chance that all is over: gel and glass come early together, and late for opposite reasons."""
        gel, glass = gelled(waited_s), hard(waited_s)
        return stated(waited_s) * (min(gel, glass) if from_s + waited_s < max(gel_s, glass_s) else gel * glass)

    if not isfinite(time_s):
        low_s, high_s = min(ready_s(one) for pair in (*laws, *others) for one in pair), inf
    else:
        likely_s, ends = time_s - from_s, (0.1, 0.9)
        if time_s <= max(stated_s, glass_s, gel_s) * (1.0 + NEAR_ENOUGH):
            stated, hard = over_when(lambda one: one.stated_s()), over_when(glassy_s)
            gelled = _gelled(best, laws, others, calibration, from_s)
            at_best = (when_s(lambda s: stated(s) * hard(s), likely_s, chance) for chance in ends)
            low_s, high_s = (from_s + when_s(ready_by, s, at, s) for s, at in zip(at_best, ends, strict=True))
        else:
            low_s, high_s = (from_s + when_s(over_when(ready_s), likely_s, chance) for chance in ends)
    return Demould(
        Band(low_s, time_s, high_s),
        stated_s=stated_s,
        glass_s=glass_s,
        gel_s=gel_s,
        softens_K=setting.glass.transition_K(best.conversion_at(time_s)),
    )


def _courses(
    setting: Setting,
    calibration: Calibration,
    mould: float | History,
    from_s: float,
    until_s: float,
    conversion_start: float,
) -> tuple[Course, Iterator[Course]]:
    """Return the likely course, and roughly those of the sides of all that is unsure: such as set alike once."""
    first, laws = ramps(mould, from_s=from_s)[0], _laws(setting, calibration)
    if first.slope_K_s == 0.0 and first.end_s >= until_s:
        sides = [*laws, *_others(setting, min(first.base_K, COLD_RELATION_K))]
        resins = [setting, *chain.from_iterable(sides)]
        found = iter(steady_courses(resins, first, from_s=from_s, until_s=until_s, conversion_start=conversion_start))
        return next(found), found
    follow = partial(set_on_part, mould=mould, from_s=from_s, until_s=until_s, conversion_start=conversion_start)
    best = follow(setting, enough=setting.ready(GLASS_LEAD_K))
    sides = [*laws, *_others(setting, min(best.reacted_at_K(), COLD_RELATION_K))]

    def followed() -> Iterator[Course]:
        known: dict[object, CureCourse] = {}
        for resin in chain.from_iterable(sides):
            law, enough = resin.kinetics, resin.ready(GLASS_LEAD_K)
            alike = resin.glass, resin.clock, law.k_ref_per_s, law.activation_energy_J_mol, law.a0, law.m, law.n
            course = known.get(alike)
            if course is None or (course.end.time_s < until_s and enough(course.end) < 0.0):
                course = known[alike] = follow(resin, enough=enough, rough=True)
            yield replace(course, setting=resin)

    return best, followed()


@lru_cache(maxsize=16)
def _laws(setting: Setting, calibration: Calibration) -> tuple[tuple[Setting, Setting], ...]:
    """Return the setting with each thing unsure of its rate law half a standard deviation down and up.

    The calibration's variants are carried over as ratios, so that what a witness cup has taught stays in.
    """
    law = calibration.kinetics
    return tuple((_moved(setting, law, low), _moved(setting, law, high)) for low, high in calibration.variants)


def glass_sd(reacted_at_K: float) -> dict[str, float]:
    """Return one standard deviation of each of the glass's constants for a cure at a temperature [K]."""
    wider = 1.0 + WIDER_PER_K * max(COLD_RELATION_K - reacted_at_K, 0.0)
    return {name: sd if name == "half_rate_lead_K" else wider * sd for name, sd in GLASS_SD.items()}


@lru_cache(maxsize=16)
def _others(setting: Setting, reacted_at_K: float) -> tuple[tuple[Setting, Setting], ...]:
    """Return the setting with each of the glass's constants, and the stated times, at the ends of its own 80 %."""
    glass, clock, stated = setting.glass, setting.clock, REACH * STATED_LOG_SD
    reaches = [(name, getattr(glass, name), REACH * sd) for name, sd in glass_sd(reacted_at_K).items()]
    sides = [[replace(glass, **{name: value + end * by}) for end in (-1.0, 1.0)] for name, value, by in reaches]
    pairs = [(replace(setting, glass=low), replace(setting, glass=high)) for low, high in sides]
    if clock.points:
        pairs.append(
            (
                replace(setting, clock=_stretched(clock, exp(-stated))),
                replace(setting, clock=_stretched(clock, exp(stated))),
            )
        )
    return tuple(pairs)


def _moved(setting: Setting, base: Kinetics, variant: Kinetics) -> Setting:
    """Return the setting with its rate law changed as `variant` differs from `base`."""
    kinetics = replace(variant, k_ref_per_s=setting.kinetics.k_ref_per_s * variant.k_ref_per_s / base.k_ref_per_s)
    clock = replace(setting.clock, activation_energy_J_mol=variant.activation_energy_J_mol)
    return replace(setting, kinetics=kinetics, clock=clock)


def _stretched(clock: MakersClock, factor: float) -> MakersClock:
    return replace(clock, points=tuple(CurePoint(p.time_s * factor, p.temperature_K) for p in clock.points))


def _spread(
    time_s: float,
    from_s: float,
    laws_s: Sequence[tuple[float, float]],
    others_s: Sequence[tuple[float, float]],
    covariance: Covariance,
) -> Wait:
    """Return one wait, of its likely end and the ends where each unsure thing is moved to either side."""
    likely_s = time_s - from_s
    if likely_s <= 0.0:
        return Wait(0.0, 0.0, 0.0)

    def later(pair: tuple[float, float]) -> tuple[float, float]:
        """Return how much later each side comes, as a logarithm; one that never does, as far as the other is sooner."""
        low, high = (log(max(side_s - from_s, 1e-9) / likely_s) if isfinite(side_s) else None for side_s in pair)
        return (-(high or 0.0) if low is None else low), (-(low or 0.0) if high is None else high)

    law = log_sd([high - low for low, high in map(later, laws_s)], covariance) ** 2
    moves = [later(pair) for pair in others_s]
    early, late = (law + sum((side(0.0, *pair) / REACH) ** 2 for pair in moves) for side in (min, max))
    never = any(side_s == inf for pair in (*laws_s, *others_s) for side_s in pair)
    return Wait(likely_s, sqrt(early), inf if never else sqrt(late))


def _gelled(
    best: Course,
    laws: Sequence[tuple[Course, Course]],
    others: Sequence[tuple[Course, Course]],
    calibration: Calibration,
    from_s: float,
) -> Chance:
    """Return the chance that a part is past its gel by a time.

    A glass may stop the resin just short of it, so it is judged by conversion, not by how late it comes.
    """
    need = best.setting.kinetics.conversion_gel + GEL_MARGIN

    def over_by(waited_s: float) -> float:
        def reached(course: Course) -> float:
            return course.conversion_at(from_s + waited_s)

        likely, worse = reached(best), min if reached(best) > need else max
        spread = log_sd([reached(high) - reached(low) for low, high in laws], calibration.covariance) ** 2
        spread += sum(((worse(likely, *map(reached, pair)) - likely) / REACH) ** 2 for pair in others)
        spread += calibration.uncertainty.conversion_gel**2
        return 0.5 * erfc((need - likely) / sqrt(2.0 * spread))

    return over_by
