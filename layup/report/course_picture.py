"""A mix's course as a picture, and its life over temperatures and masses as a table."""

from __future__ import annotations

from dataclasses import dataclass

from layup.chemistry.potlife import Calibration, Kinetics, Stage, Vessel, follow, predict, predict_band
from layup.errors import RangeError
from layup.report.pictures import line_plot, time_axis

GUTTER = 12
"""Characters for the labels on the left."""
DRAWN_TO = 0.97
"""Conversion at which the picture ends: past it only the cooling is left to see."""
TABLE_STEPS_K = (-10.0, -5.0, 0.0, 5.0, 10.0)
TABLE_SHARES = (0.25, 0.5, 1.0, 2.0, 4.0)


@dataclass(frozen=True, slots=True)
class LifeTable:
    """Minutes of useful life, one row a temperature and one column a mass; a single column without mass for a film.

    None where the model does not reach.
    """

    masses_g: tuple[float, ...]
    temperatures_K: tuple[float, ...]
    pot_life_min: tuple[tuple[float | None, ...], ...]


def course_picture(
    calibration: Calibration,
    vessel: Vessel,
    mass_g: float,
    start_K: float,
    shop_K: float,
    *,
    width: int,
    height: int = 8,
) -> list[str]:
    """Draw conversion and temperature against time, each with the slow and the fast edge of the 80 % band."""
    band = predict_band(calibration, vessel, mass_g=mass_g, start_K=start_K, ambient=shop_K)
    end_s = max(band.gel_high_s, band.life.working_s * 1.3)
    course = follow(calibration.kinetics, [Stage(vessel, 0.0, shop_K)], mass_g=mass_g, start_K=start_K, until_s=end_s)
    points = [point for point in course.samples(240) if point[1] < DRAWN_TO]
    # The edges: the same course, run faster or slower by the band's own share.
    stretches = (1.0, band.working_low_s / band.life.working_s, band.working_high_s / band.life.working_s)
    cells = max(width - GUTTER, 1)
    conversion = [[(t * by, a) for t, a, _ in points if t * by <= end_s] for by in stretches]
    hottest = max(kelvin for t, _, kelvin in points if t <= end_s) - 273.15
    coolest = min(kelvin for _, _, kelvin in points) - 273.15
    top = max(hottest, coolest + 10.0)
    warmth = [[(t * by, k - 273.15) for t, _, k in points if t * by <= end_s] for by in stretches]
    first = line_plot(conversion, x_range=(0, end_s), y_range=(0, 1), width=cells, height=height)
    second = line_plot(warmth, x_range=(0, end_s), y_range=(coolest - 1, top + 1), width=cells, height=height)
    lines = ["conversion, likely and 80 % band"]
    lines += [f"{_mark(row, height, calibration.kinetics):>10} |{line}" for row, line in enumerate(first)]
    lines.append("temperature of the mix")
    for row, line in enumerate(second):
        label = f"{top:.0f} °C" if row == 0 else f"{coolest:.0f} °C" if row == height - 1 else ""
        lines.append(f"{label:>10} |{line}")
    axis = time_axis(end_min=end_s / 60.0, width=GUTTER + cells, label_width=GUTTER)
    return [*lines, f"{'+':>{GUTTER}}" + "-" * cells, axis]


def _mark(row: int, height: int, kinetics: Kinetics) -> str:
    """Name the row in which a limit of the conversion lies."""
    low, high = (height - row - 1) / height, (height - row) / height
    if low <= kinetics.conversion_gel < high:
        return "gelled"
    return "thick" if low <= kinetics.conversion_working < high else ""


def life_table(calibration: Calibration, vessel: Vessel, mass_g: float, shop_K: float) -> LifeTable:
    """Return minutes of useful life around a mass and a temperature; a film's does not depend on the mass."""
    masses_g = () if vessel.kind == "film" else tuple(mass_g * share for share in TABLE_SHARES)
    temperatures_K = tuple(shop_K + step for step in TABLE_STEPS_K)
    rows = (
        tuple(_minutes(calibration, vessel, mass, kelvin) for mass in masses_g or (mass_g,))
        for kelvin in temperatures_K
    )
    return LifeTable(masses_g, temperatures_K, tuple(rows))


def _minutes(calibration: Calibration, vessel: Vessel, mass_g: float, kelvin: float) -> float | None:
    try:
        life = predict(calibration.kinetics, vessel, mass_g=mass_g, start_K=kelvin, ambient=kelvin)
    except RangeError:
        return None
    return (life.working_s if life.open_s is None else life.open_s) / 60.0
