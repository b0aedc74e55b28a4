"""When a part may leave the mould, with its 80 % band: the maker's time is up, and the resin is a glass."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from itertools import chain
from math import ceil, erfc, exp, inf, isfinite, log, sqrt
from typing import Literal

from layup.chemistry.calibration import Calibration
from layup.chemistry.cure_course import (
    GLASS_LEAD_K,
    WLF_SLOPE,
    WLF_SPAN_K,
    CureCourse,
    Glass,
    Setting,
    cure_slopes,
    glass_of,
    set_on_part,
)
from layup.chemistry.datasheet import Datasheet, MakersClock
from layup.chemistry.film import GEL_MARGIN
from layup.chemistry.kinetics import FULLY_CURED, Kinetics, stretch, unstretch
from layup.chemistry.numerics import GAUSS, Array, cubic, integral, require_between
from layup.chemistry.temperature import History, Ramp, ramps
from layup.chemistry.uncertainty import EIGHTY_PERCENT, NEAR_ENOUGH, Band, Chance, Covariance, Wait, log_sd, when_s
from layup.units import hours_of_band, in_hours, temperature, temperature_change

# -- at one mould temperature ----------------------------------------------------------------------------------------

PANEL = 0.06
"""Between two nodes of y, so that a cubic between them is good to five digits of conversion."""

Law = tuple[Glass, float, float, float]
"""What shapes a course at one temperature, whatever the rate constant: the glass, a0, m and n."""
Nodes = tuple[list[float], list[float], float, list[float], list[float]]
"""The last five fields of a `SteadyCourse`."""


@dataclass(frozen=True, slots=True)
class SteadyCourse:
    """One resin at one mould temperature."""

    setting: Setting
    ramp: Ramp
    per_s: float
    """k at the mould's temperature."""
    y: Sequence[float]
    reduced: Sequence[float]
    """The time to each y, in units of 1/k."""
    ahead: float
    """So much later y bends little against the logarithm of that time, also where a glass all but stops it."""
    late: Sequence[float]
    """That logarithm."""
    slope: Sequence[float]
    """Of y against it."""

    def conversion_at(self, time_s: float) -> float:
        """Return the conversion at a time [s]; after the course's end the last one."""
        a0, late = self.setting.kinetics.a0, self.late
        at = log(min(time_s, HORIZON_S) * self.per_s + self.ahead)
        i = bisect_right(late, at)
        if i >= len(late):
            return unstretch(self.y[-1], a0)
        h = late[i] - late[i - 1]
        y = cubic((at - late[i - 1]) / h, h, self.y[i - 1], self.y[i], self.slope[i - 1], self.slope[i])
        return unstretch(y, a0)

    def glass_s(self) -> float:
        """Return when the glass transition is first the margin above the mould [s]; inf where it never is."""
        glass, need_K = self.setting.glass, self.ramp.base_K + GLASS_LEAD_K
        if need_K >= glass.cured_K:
            return inf
        return self._reached_s(glass.conversion_at(max(need_K, glass.uncured_K)))

    def gel_s(self) -> float:
        """Return when the resin is past its gel by `GEL_MARGIN` [s]; inf where it never is."""
        return self._reached_s(self.setting.kinetics.conversion_gel + GEL_MARGIN)

    def stated_s(self) -> float:
        """Return when the maker's demould time is up [s]: the start where none is stated, inf where it never is."""
        clock = self.setting.clock
        return _within(1.0 / clock.rate_per_s(self.ramp.base_K) if clock.points else 0.0)

    def ready_s(self) -> float:
        """Return when all hold at once [s]; inf where they never do: none that holds ceases to."""
        return max(self.stated_s(), self.glass_s(), self.gel_s())

    def _reached_s(self, conversion: float) -> float:
        """Return when a conversion is reached [s]; inf where it never is."""
        law = self.setting.kinetics
        end = stretch(conversion, law.a0) if conversion < FULLY_CURED else inf
        if end >= self.y[-1]:
            return inf
        if end <= self.y[0]:
            return 0.0
        i = bisect_right(self.y, end) - 1
        slopes = cure_slopes(self.setting, self.ramp)
        rest_s = integral(lambda y: 1.0 / slopes(0.0, y, 0.0)[0], self.y[i], end, 1)
        return _within(self.reduced[i] / self.per_s + rest_s)


def _within(time_s: float) -> float:
    return time_s if time_s <= HORIZON_S else inf


def steady_courses(settings: Sequence[Setting], ramp: Ramp, conversion_start: float) -> list[SteadyCourse]:
    """Follow many resins at one mould temperature: those that only react faster or slower share their nodes.

    How long a resin takes to a conversion is then one integral, dt = dy / (k(T) f(a) m(Tg(a) - T)) da/dy over
    y = ln((a0 + a)/(a0 (1 - a))), by the five-point Gauss-Legendre rule.
    """
    require_between("conversion at the start", conversion_start, 0.0, FULLY_CURED, open_high=True)
    shapes = [(one.glass, one.kinetics.a0, one.kinetics.m, one.kinetics.n) for one in settings]
    laws = list(dict.fromkeys(shapes))
    nodes = dict(zip(laws, _nodes(tuple(laws), ramp.base_K, conversion_start), strict=True))
    return [
        SteadyCourse(one, ramp, one.kinetics.rate_constant_per_s(ramp.base_K), *nodes[law])
        for one, law in zip(settings, shapes, strict=True)
    ]


@lru_cache(maxsize=16)
def _nodes(laws: tuple[Law, ...], mould_K: float, conversion_start: float) -> list[Nodes]:
    """Return the nodes of each law: of all resins that only react faster or slower."""
    import numpy as np

    start, end = (np.array([[stretch(a, a0)] for _, a0, _, _ in laws]) for a in (conversion_start, FULLY_CURED))
    panels = ceil(float(np.max(end - start)) / PANEL)
    y = start + (end - start) * np.arange(panels + 1) / panels
    half = 0.5 * (end - start) / panels
    middle = y[:, :-1] + half
    spent = sum(weight / _slope(laws, middle + half * x, mould_K) for x, weight in GAUSS) * half
    reduced = np.concatenate([np.zeros_like(start), np.cumsum(spent, axis=1)], axis=1)
    slope = _slope(laws, y, mould_K)
    ahead = 1.0 / slope[:, :1]
    later = reduced + ahead
    found = y, reduced, ahead[:, 0], np.log(later), slope * later
    return list(zip(*(each.tolist() for each in found), strict=True))


def _slope(laws: Sequence[Law], y: Array, mould_K: float) -> Array:
    """Return dy/dt over k of each law (rows), as `cure_slopes` does for one."""
    import numpy as np

    a0, m, n = (np.array([[law[i]] for law in laws]) for i in (1, 2, 3))
    cured_K, uncured_K, shape, lead_at_half_K = (
        np.array([[getattr(law[0], name)] for law in laws])
        for name in ("cured_K", "uncured_K", "shape", "half_rate_lead_K")
    )
    growth = np.exp(y)
    below = 1.0 + a0 * growth
    conversion = a0 * (growth - 1.0) / below
    per_k = (1.0 + a0) ** 2 / below
    if (m != 1.0).any() or (n != 2.0).any():
        per_k = per_k * ((1.0 + a0) / below) ** (n - 2.0) * (a0 + conversion**m) / (a0 + conversion)
    lead_K = uncured_K + (cured_K - uncured_K) * shape * conversion / (1.0 - (1.0 - shape) * conversion) - mould_K
    share = lead_K / (WLF_SPAN_K + np.abs(lead_K)) - lead_at_half_K / (WLF_SPAN_K + lead_at_half_K)
    slope: Array = per_k / (1.0 + np.exp(WLF_SLOPE * share))
    return slope


# -- demould ---------------------------------------------------------------------------------------------------------

WARM_ROOM_K = 303.15
"""A part with its glass transition below 30 degC goes soft in use (common practice, no source)."""
HORIZON_S = 14 * 86_400.0
"""How far ahead demoulding is looked for: two weeks."""


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
    conversion_start: float = 0.0,
) -> Demould:
    """Find the earliest demoulding with its 80 % band, and which of its conditions it waits for.

    Raises RangeError for a history that is empty or runs backwards.

    The waits for the maker and for the glass are log-normal with a standard deviation to each side, its square the rate
    law's own and the sum of (d_i/1.2816)^2: d_i is how much sooner or later ln t comes with one of the glass's
    constants, or the stated times, at the ends of their own 80 %. A glass that stops itself early puts the end off by
    far more than one that stops late brings it forward. A part is past its gel by a time with the chance that its
    conversion then exceeds the gel's by 0.03, both normal. Of a resin that reacted below 10 degC the constants are less
    sure. The part is ready by when all is over in one case out of ten, and in nine. Where a side does not come in two
    weeks, the high end is inf.

    Parameters
    ----------
    calibration : The calibration behind it, for what is unsure [-]
    mould : One temperature, or (time_s, temperature_K) points of the mould, held after the last [K]
    conversion_start : Conversion the resin has at the start, 0 to below 0.999 [-]
    """

    best, courses = _courses(setting, calibration, mould, conversion_start)
    time_s, stated_s, glass_s, gel_s = best.ready_s(), best.stated_s(), best.glass_s(), best.gel_s()
    pairs = list(zip(courses, courses, strict=True))
    laws, others = pairs[: len(calibration.variants)], pairs[len(calibration.variants) :]

    def over_when(when: Callable[[Course], float]) -> Chance:
        laws_s, others_s = ([(when(low), when(high)) for low, high in pairs] for pairs in (laws, others))
        return _spread(when(best), laws_s, others_s, calibration.covariance).over_by

    def ready_by(at_s: float) -> float:
        """Return the chance that all is over: gel and glass come early together, and late for opposite reasons."""
        gel, glass = gelled(at_s), hard(at_s)
        return stated(at_s) * (min(gel, glass) if at_s < max(gel_s, glass_s) else gel * glass)

    if not isfinite(time_s):
        low_s, high_s = min(one.ready_s() for pair in (*laws, *others) for one in pair), inf
    else:
        ends = 0.1, 0.9
        if time_s <= max(stated_s, glass_s, gel_s) * (1.0 + NEAR_ENOUGH):
            stated, hard = over_when(lambda one: one.stated_s()), over_when(lambda one: one.glass_s())
            gelled = _gelled(best, laws, others, calibration)
            at_best = (when_s(lambda s: stated(s) * hard(s), time_s, chance) for chance in ends)
            low_s, high_s = (when_s(ready_by, s, at, s) for s, at in zip(at_best, ends, strict=True))
        else:
            low_s, high_s = (when_s(over_when(lambda one: one.ready_s()), time_s, chance) for chance in ends)
    return Demould(
        Band(low_s, time_s, high_s),
        stated_s=stated_s,
        glass_s=glass_s,
        gel_s=gel_s,
        softens_K=setting.glass.transition_K(best.conversion_at(time_s)),
    )


def _courses(
    setting: Setting, calibration: Calibration, mould: float | History, conversion_start: float
) -> tuple[Course, Iterator[Course]]:
    """Return the likely course, and roughly those of the sides of all that is unsure: such as set alike once."""
    first, laws = ramps(mould)[0], _laws(setting, calibration)
    if first.slope_K_s == 0.0 and first.end_s >= HORIZON_S:
        sides = [*laws, *_others(setting, min(first.base_K, COLD_RELATION_K))]
        found = iter(steady_courses([setting, *chain.from_iterable(sides)], first, conversion_start))
        return next(found), found
    follow = partial(set_on_part, mould=mould, until_s=HORIZON_S, conversion_start=conversion_start)
    best = follow(setting, enough=setting.ready())
    sides = [*laws, *_others(setting, min(best.reacted_at_K(), COLD_RELATION_K))]

    def followed() -> Iterator[Course]:
        known: dict[object, CureCourse] = {}
        for resin in chain.from_iterable(sides):
            law, enough = resin.kinetics, resin.ready()
            alike = resin.glass, resin.clock, law.k_ref_per_s, law.activation_energy_J_mol, law.a0, law.m, law.n
            course = known.get(alike)
            if course is None or (course.end.time_s < HORIZON_S and enough(course.end) < 0.0):
                course = known[alike] = follow(resin, enough=enough, rough=True)
            yield replace(course, setting=resin)

    return best, followed()


@lru_cache(maxsize=16)
def _laws(setting: Setting, calibration: Calibration) -> tuple[tuple[Setting, Setting], ...]:
    """Return the setting with each thing unsure of its rate law half a standard deviation down and up.

    The calibration's variants are carried over as ratios, so that what a witness cup has taught stays in.
    """
    base = calibration.kinetics

    def moved(variant: Kinetics) -> Setting:
        kinetics = replace(variant, k_ref_per_s=setting.kinetics.k_ref_per_s * variant.k_ref_per_s / base.k_ref_per_s)
        clock = replace(setting.clock, activation_energy_J_mol=variant.activation_energy_J_mol)
        return replace(setting, kinetics=kinetics, clock=clock)

    return tuple((moved(low), moved(high)) for low, high in calibration.variants)


def glass_sd(reacted_at_K: float) -> dict[str, float]:
    """Return one standard deviation of each of the glass's constants for a cure at a temperature [K]."""
    wider = 1.0 + WIDER_PER_K * max(COLD_RELATION_K - reacted_at_K, 0.0)
    return {name: sd if name == "half_rate_lead_K" else wider * sd for name, sd in GLASS_SD.items()}


@lru_cache(maxsize=16)
def _others(setting: Setting, reacted_at_K: float) -> tuple[tuple[Setting, Setting], ...]:
    """Return the setting with each of the glass's constants, and the stated times, at the ends of its own 80 %."""
    glass, clock = setting.glass, setting.clock

    def side(end: float) -> list[Setting]:
        spreads = glass_sd(reacted_at_K).items()
        glasses = [replace(glass, **{name: getattr(glass, name) + end * REACH * sd}) for name, sd in spreads]
        sides = [replace(setting, glass=each) for each in glasses]
        if clock.points:
            factor = exp(end * REACH * STATED_LOG_SD)
            points = tuple(replace(point, time_s=point.time_s * factor) for point in clock.points)
            sides.append(replace(setting, clock=replace(clock, points=points)))
        return sides

    return tuple(zip(side(-1.0), side(1.0), strict=True))


def _spread(
    likely_s: float,
    laws_s: Sequence[tuple[float, float]],
    others_s: Sequence[tuple[float, float]],
    covariance: Covariance,
) -> Wait:
    """Return one wait, of its likely end and the ends where each unsure thing is moved to either side."""
    if likely_s <= 0.0:
        return Wait(0.0, 0.0, 0.0)

    def later(pair: tuple[float, float]) -> tuple[float, float]:
        """Return how much later each side comes, as a logarithm; one that never does, as far as the other is sooner."""
        low, high = (log(max(side_s, 1e-9) / likely_s) if isfinite(side_s) else None for side_s in pair)
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
) -> Chance:
    """Return the chance that a part is past its gel by a time.

    A glass may stop the resin just short of it, so it is judged by conversion, not by how late it comes.
    """
    need = best.setting.kinetics.conversion_gel + GEL_MARGIN

    def over_by(at_s: float) -> float:
        def reached(course: Course) -> float:
            return course.conversion_at(at_s)

        likely, worse = reached(best), min if reached(best) > need else max
        spread = log_sd([reached(high) - reached(low) for low, high in laws], calibration.covariance) ** 2
        spread += sum(((worse(likely, *map(reached, pair)) - likely) / REACH) ** 2 for pair in others)
        spread += calibration.uncertainty.conversion_gel**2
        return 0.5 * erfc((need - likely) / sqrt(2.0 * spread))

    return over_by
