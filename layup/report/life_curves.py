"""How long a mix lives against temperature and mass, with its band: a slip in a datasheet shows as a silly shape."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from layup.chemistry.ageing import ageing, cases_of, sd_of
from layup.chemistry.calibration import Calibration
from layup.chemistry.uncertainty import Band
from layup.chemistry.vessel import Vessel
from layup.dimensions import ZERO_CELSIUS_K
from layup.report.bars import labels, line_plot
from layup.session.text import shortened
from layup.units import Printed, in_hours, in_minutes, mass, minutes, temperature

COLDEST_C, HOTTEST_C, STEP_C = 10, 35, 2.5
MASSES_g = (50.0, 75.0, 100.0, 150.0, 200.0, 300.0, 400.0, 500.0, 600.0)
TOLD_C, TOLD_g = (10.0, 20.0, 30.0), (100.0, 300.0, 600.0)
"""Where the numbers stand beside the curve."""
LOWEST = 3
"""Rows of a curve at least, where both are drawn."""
HEADROOM = 1.2
"""What is drawn above the longest likely life; where the band is wider it leaves the picture."""
LONG_S = 36_000.0
"""From here on a band is told in hours."""
GUTTER = 5
"""Columns of the minutes on the left: a slow hardener in the cold lives for more than 999."""

Points = tuple[tuple[float, Band], ...]
"""Lives over what they depend on."""


@dataclass(frozen=True, slots=True)
class LifeCurves:
    """Lives in a cup at the datasheet's mass over temperatures, and at its temperature over masses."""

    mass_g: float
    temperature_K: float
    by_temperature: Points
    """Temperature [K] and life [s]."""
    by_mass: Points
    """Mass [g] and life [s]."""


def life_curves(calibration: Calibration, mass_g: float, temperature_K: float) -> LifeCurves:
    """Return the lives around what a datasheet states, all with their 80 % band.

    Parameters
    ----------
    calibration : Calibration
        The calibrated resin [-]
    mass_g : float
        The mass that a pot life is stated for [g]
    temperature_K : float
        The temperature that it is stated at [K]

    Returns
    -------
    LifeCurves
        The lives until it thickens [s]

    Raises
    ------
    RangeError
        If some of it is too thin to be anything but a film.
    """
    import numpy as np

    count = round((HOTTEST_C - COLDEST_C) / STEP_C) + 1
    temperatures_K = [ZERO_CELSIUS_K + COLDEST_C + STEP_C * step for step in range(count)]
    masses_g = sorted({*MASSES_g, mass_g})
    cells_g = np.array([mass_g] * count + masses_g)
    cells_K = np.array([*temperatures_K, *([temperature_K] * len(masses_g))])
    cups = ageing(cases_of(calibration), Vessel.cup(), mass_g=cells_g, start_K=cells_K, ambient_K=cells_K)
    likely_s, log_sds = cups.working_s[0], sd_of(np.log(cups.working_s), calibration)
    lives = [Band.around(float(time_s), float(sd)) for time_s, sd in zip(likely_s, log_sds, strict=True)]
    by_temperature, by_mass = zip(temperatures_K, lives[:count], strict=True), zip(masses_g, lives[count:], strict=True)
    return LifeCurves(mass_g, temperature_K, tuple(by_temperature), tuple(by_mass))


def curves_picture(curves: LifeCurves, *, width: int, rows: int) -> list[str]:
    """Draw both curves under each other, likely and 80 % band, with the numbers at a few points below each.

    Where there is no room for both, only the first one.
    """
    told = len(TOLD_C) + 2
    both = rows >= 2 * (told + LOWEST)
    tall = max(rows // (2 if both else 1) - told, 1)
    lines = [
        shortened(f"estimate: pot life of {mass(curves.mass_g)}", width),
        *_plot(curves.by_temperature, curves.temperature_K, temperature, width, tall),
        *_told(curves.by_temperature, [ZERO_CELSIUS_K + each for each in TOLD_C], temperature, width),
    ]
    if both:
        lines.append(shortened(f"by mass, at {temperature(curves.temperature_K)}", width))
        lines += _plot(curves.by_mass, curves.mass_g, mass, width, tall) + _told(curves.by_mass, TOLD_g, mass, width)
    return lines


def _plot(lives: Points, stated: float, prints: Printed, width: int, rows: int) -> list[str]:
    """Draw the likely life whole and the ends of its band broken, with the minutes on the left and an axis below."""
    cells, (first, last) = max(width - GUTTER, 1), (lives[0][0], lives[-1][0])
    top_s = HEADROOM * max(band.likely for _, band in lives)
    ends = [(band.likely, band.low, band.high) for _, band in lives]
    series = [[(at, end[which]) for (at, _), end in zip(lives, ends, strict=True)] for which in range(3)]
    drawn = line_plot(series, x_range=(first, last), y_range=(0.0, top_s), width=cells, height=rows)
    lines = [f"{'':>{GUTTER}}{line}" for line in drawn]
    lines[0] = f"{top_s / 60.0:>{GUTTER - 1}.0f} {drawn[0]}"
    marks = [(stated, f"▲{prints.digits(stated)}"), (first, prints.digits(first)), (last, prints(last))]
    return [*lines, f"{'':>{GUTTER}}" + labels(marks, first, last, cells)]


def _told(lives: Points, wanted: Sequence[float], prints: Printed, width: int) -> list[str]:
    """Say the lives at some points of a curve in numbers."""
    told = dict(lives)
    return [shortened(f"{prints(at):>7} {minutes(told[at].likely):>10}  {_ends(told[at])}", width) for at in wanted]


def _ends(band: Band) -> str:
    """Write the ends of a band: in hours, where minutes say too much."""
    if band.high >= LONG_S:
        return f"{in_hours(band.low).removesuffix(' h')}-{in_hours(band.high)}"
    return f"{in_minutes(band.low).removesuffix(' min')}-{in_minutes(band.high)}"
