"""Earliest demoulding with its 80 % band: what a datasheet, a glass and a stated time leave unsure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import exp, inf, isfinite, log, sqrt
from typing import Literal

from layup.chemistry.calibration import Calibration
from layup.chemistry.datasheet import CurePoint
from layup.chemistry.demould import GLASS_LEAD_K, HORIZON_S, WARM_ROOM_K
from layup.chemistry.film_course import Course, Setting
from layup.chemistry.history import History
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.maker import MakersClock
from layup.chemistry.setting import set_on_part
from layup.chemistry.spread import EIGHTY_PERCENT

UNCURED_SD_K, CURED_SD_K, SHAPE_SD, LEAD_SD_K, STATED_LOG_SD = 10.0, 7.0, 0.05, 5.0, 0.10
"""One standard deviation of what is unsure about the glass and the stated times (our own judgement, no source)."""

Verdict = Literal["makes it", "may make it", "does not make it"]


@dataclass(frozen=True, slots=True)
class Demould:
    """When a part may leave the mould, in seconds of the course; inf for what does not come within it."""

    time_s: float
    low_s: float
    high_s: float
    stated_s: float
    """When the maker's own demould time is up, counted at the mould's temperature; the course's start without one."""
    glass_s: float
    """When the resin is a glass by the margin asked."""
    softens_K: float
    """The glass transition at `time_s`; at the end of the course where that does not come."""

    @property
    def cautions(self) -> tuple[str, ...]:
        """Say so where a part that may leave its mould is hard for want of warmth, and not cured."""
        if not isfinite(self.time_s) or self.softens_K >= WARM_ROOM_K:
            return ()
        return (
            f"Hard is not cured: a part out then softens at about {self.softens_K - 273.15:.0f} °C.",
            "A warm room or the sun bends it: cure it on, warm and in its shape, before it is used.",
        )

    def verdict(self, by_s: float) -> Verdict:
        """Say whether the part may leave the mould by `by_s` [s]; "may make it" within the band."""
        if self.high_s <= by_s:
            return "makes it"
        return "may make it" if self.low_s <= by_s else "does not make it"


def demould(
    setting: Setting,
    calibration: Calibration,
    mould: float | History,
    *,
    from_s: float = 0.0,
    conversion_start: float = 0.0,
    lead_K: float = GLASS_LEAD_K,
    until_s: float = HORIZON_S,
) -> Demould:
    """Find the earliest demoulding with its 80 % band, and which of the two conditions it waits for.

    Parameters
    ----------
    setting : Setting
        The resin, with its maker's clock [-]
    calibration : Calibration
        The calibration behind it, for what is unsure [-]
    mould : float or History
        One temperature, or (time_s, temperature_K) points of the mould, held after the last [K]
    from_s : float
        Start of the course [s]
    conversion_start : float
        Conversion the resin has at the start, 0 to below 0.999 [-]
    lead_K : float
        How far the glass transition must be above the mould [K]
    until_s : float
        How far to look, after `from_s` [s]

    Returns
    -------
    demould : Demould
        Earliest time, low and high, and the time of each condition [s]

    Raises
    ------
    RangeError
        For a value outside its range, or a history that is empty or runs backwards.

    Notes
    -----
    Log-normal band exp(+-1.2816 sqrt(sum d_i^2)), d_i the change of ln t when one unsure thing moves from half a
    standard deviation below to half one above: the calibration's own, the glass's constants, and the stated times.
    Where a side does not come by `until_s`, the high end is inf.
    """

    def course(resin: Setting) -> Course:
        return set_on_part(
            resin,
            mould,
            until_s=until_s,
            from_s=from_s,
            conversion_start=conversion_start,
            enough=resin.ready(lead_K),
        )

    best = course(setting)
    time_s = best.ready_s(lead_K)
    pairs = [
        (course(low).ready_s(lead_K), course(high).ready_s(lead_K)) for low, high in _variants(setting, calibration)
    ]
    low_s, high_s = _band_s(time_s, from_s, pairs)
    return Demould(
        time_s,
        low_s,
        high_s,
        stated_s=best.stated_s(),
        glass_s=best.glass_s(lead_K),
        softens_K=(best.at(time_s) if isfinite(time_s) else best.end).glass_transition_K,
    )


def _variants(setting: Setting, calibration: Calibration) -> Iterator[tuple[Setting, Setting]]:
    """Yield the setting with each unsure thing half a standard deviation down and up.

    The calibration's variants are carried over as ratios, so that what a witness cup has taught stays in.
    """
    for pair in calibration.variants:
        low, high = (_moved(setting, calibration.kinetics, kinetics) for kinetics in pair)
        yield low, high
    glass = setting.glass
    for name, sd in (
        ("uncured_K", UNCURED_SD_K),
        ("cured_K", CURED_SD_K),
        ("shape", SHAPE_SD),
        ("half_rate_lead_K", LEAD_SD_K),
    ):
        value = getattr(glass, name)
        low, high = (replace(setting, glass=replace(glass, **{name: value + sign * 0.5 * sd})) for sign in (-1.0, 1.0))
        yield low, high
    if setting.clock.points:
        low, high = (
            replace(setting, clock=_stretched(setting.clock, exp(sign * 0.5 * STATED_LOG_SD))) for sign in (-1.0, 1.0)
        )
        yield low, high


def _moved(setting: Setting, base: Kinetics, variant: Kinetics) -> Setting:
    """Return the setting with its rate law changed as `variant` differs from `base`."""
    kinetics = replace(variant, k_ref_per_s=setting.kinetics.k_ref_per_s * variant.k_ref_per_s / base.k_ref_per_s)
    clock = replace(setting.clock, activation_energy_J_mol=variant.activation_energy_J_mol)
    return replace(setting, kinetics=kinetics, clock=clock)


def _stretched(clock: MakersClock, factor: float) -> MakersClock:
    return replace(clock, points=tuple(CurePoint(p.time_s * factor, p.temperature_K) for p in clock.points))


def _band_s(time_s: float, from_s: float, pairs: list[tuple[float, float]]) -> tuple[float, float]:
    """Return the low and high end of the 80 % band around `time_s`, counted from `from_s`."""
    finite = [side for pair in pairs for side in pair if isfinite(side)]
    if not isfinite(time_s):
        return min(finite, default=inf), inf
    spent_s = time_s - from_s
    if spent_s <= 0.0:
        return time_s, time_s
    total = 0.0
    for pair in pairs:
        sides = [log(max(side - from_s, 1e-9) / spent_s) for side in pair if isfinite(side)]
        total += (max(sides) - min(sides)) ** 2 if len(sides) == 2 else (2.0 * max(map(abs, sides), default=0.0)) ** 2
    spread = EIGHTY_PERCENT * sqrt(total)
    never = len(finite) < 2 * len(pairs)
    return from_s + spent_s * exp(-spread), inf if never else from_s + spent_s * exp(spread)
