"""The plan as pictures: the temperature window, and the batches over time.

A mix's course as a picture, and its life over temperatures and masses as a table.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil

from layup.chemistry.band import predict_band
from layup.chemistry.calibration import Calibration
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.prediction import predict
from layup.chemistry.stages import Stage, follow
from layup.chemistry.vessel import Vessel
from layup.errors import RangeError
from layup.planning.batches import Timeline
from layup.planning.planner import Window
from layup.planning.schedule import Split
from layup.report.bars import Span, bars, columns, line_plot, time_axis
from layup.report.tables import table_lines
from layup.units import in_minutes, mass, temperature

# -- stack pictures --------------------------------------------------------------------------------------------------

FILLS = {
    "weighing": "·",
    "stirring": "░",
    "in the cup": "▒",
    "on the part": "▓",
    "laying": "▒",
    "dry work": "·",
    "closing": "█",
}
"""Each stretch of the day by its own texture."""
LEGEND = ("weighing", "stirring", "in the cup", "on the part", "closing")


def window_picture(window: Window, *, width: int, rows: int = 2) -> list[str]:
    """Draw the time to spare against the shop's temperature, with today marked, and say what holds."""
    gutter = 9 if width >= 60 else 0
    samples = window.samples[:: ceil(len(window.samples) / max(width - gutter, 2))]
    each = max((width - gutter) // len(samples), 1)
    slacks = [None if s.slack_s is None or not s.works else s.slack_s for s in samples]
    top_s = max((slack for slack in slacks if slack is not None), default=0.0)
    low, high = samples[0].temperature_K, samples[-1].temperature_K

    def at(temperature_K: float) -> float:
        return gutter + (temperature_K - low) / (high - low) * (each * (len(samples) - 1))

    lines = [window_words(window)]
    if top_s > 0:
        spare = f"{in_minutes(top_s)}"
        for row, line in enumerate(columns(slacks, top=top_s, rows=rows)):
            label = spare if gutter and row == 0 else ""
            lines.append(f"{label:<{gutter}}" + "".join(cell * each for cell in line))
    label = "to spare" if gutter else ""
    lines.append(f"{label:<{gutter}}" + "".join(("━" if sample.works else "x") * each for sample in samples))
    axis = ""
    for mark in range(5, 100, 5):
        column = round(at(temperature.value(mark)))
        if low - 0.1 <= temperature.value(mark) <= high + 0.1 and len(axis) <= column and column + 2 <= width:
            axis = axis.ljust(column) + f"{mark}"
    today, right = f"today {temperature(window.today_K)}", gutter + each * len(samples)
    beyond = window.today_K > window.samples[-1].temperature_K  # though the last cell drawn may reach so far
    return [*lines, axis, _pointed(today, right if beyond else round(at(window.today_K)), gutter, right)]


def _pointed(words: str, column: int, left: int, right: int) -> str:
    """Return words with a point at `column`: before them, after them near the right edge, sideways beyond an edge."""
    if column < left:
        return " " * left + f"◀ {words}"
    if column >= right:
        return f"{words} ▶".rjust(right)
    return " " * column + f"▲ {words}" if column + len(words) + 2 <= right else f"{words} ▲".rjust(column + 1)


def window_words(window: Window) -> str:
    """Say in which temperatures the plan works; where in none, whether time or cold and damp are the cause."""
    cold = [limit.words for limit in window.cold_limits if window.today_K < limit.temperature_K]
    if window.low_K is None or window.high_K is None:
        in_time_K = [one.temperature_K for one in window.samples if one.slack_s is not None and one.slack_s >= 0.0]
        if not in_time_K:
            return " ".join(["TEMPERATURE WINDOW: none, it closes in time at no temperature.", *cold])
        ends = f"{temperature.digits(min(in_time_K))} to {temperature(max(in_time_K))}"
        too_cold = [limit.words for limit in window.cold_limits if max(in_time_K) < limit.temperature_K]
        return " ".join([f"TEMPERATURE WINDOW: none, it closes in time at {ends}, but:", *(too_cold or cold)])
    return f"TEMPERATURE WINDOW {temperature.digits(window.low_K)} to {temperature(window.high_K)}" + (
        ": " + " ".join(cold) if cold else ""
    )


def gantt(day: Timeline, *, width: int) -> list[str]:
    """Draw each batch over time, the closing, and by when the press must be closed."""
    end_s = max(day.press_by_s, day.closed_s) * 1.05
    rows = [
        (row.label, [Span(max(span.begin_s, 0.0), span.end_s, FILLS[span.kind]) for span in row.spans])
        for row in (*day.batches, day.closing)
    ]
    label_width = max(len(label) for label, _ in rows) + 1
    lines = bars(rows, end=end_s, width=width, mark=day.press_by_s)
    lines.append(time_axis(end_min=end_s / 60.0, width=width, label_width=label_width))
    return [*lines, *_packed((*(f"{FILLS[kind]} {kind}" for kind in LEGEND), "┃ press by"), width)]


def _packed(items: Iterable[str], width: int) -> list[str]:
    """Return items side by side, in as few lines as it takes."""
    lines: list[str] = []
    for item in items:
        if lines and len(lines[-1]) + 2 + len(item) <= width:
            lines[-1] += f"  {item}"
        else:
            lines.append(item)
    return lines


def batch_lines(split: Split) -> list[str]:
    """Return the batches as a table: what to weigh, when, and what each has to spare."""
    heads = ("batch", "mix", "resin", "hardener", "weigh at", "in cup", "cup spare", "part spare")
    return table_lines(
        heads,
        [
            (
                str(batch.number),
                *map(mass, (batch.mass_g, *batch.parts_g)),
                *map(in_minutes, (batch.weigh_s, batch.held_s, batch.cup_margin_s, batch.part_margin_s)),
            )
            for batch in split.batches
        ],
    )


# -- course picture --------------------------------------------------------------------------------------------------

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
    hottest = temperature.number(max(kelvin for t, _, kelvin in points if t <= end_s))
    coolest = temperature.number(min(kelvin for _, _, kelvin in points))
    top = max(hottest, coolest + 10.0)
    warmth = [[(t * by, temperature.number(k)) for t, _, k in points if t * by <= end_s] for by in stretches]
    first = line_plot(conversion, x_range=(0, end_s), y_range=(0, 1), width=cells, height=height)
    second = line_plot(warmth, x_range=(0, end_s), y_range=(coolest - 1, top + 1), width=cells, height=height)
    lines = ["conversion, likely and 80 % band"]
    lines += [f"{_mark(row, height, calibration.kinetics):>10} |{line}" for row, line in enumerate(first)]
    lines.append("temperature of the mix")
    for row, line in enumerate(second):
        label = (
            f"{top:.0f} {temperature.sign}"
            if row == 0
            else f"{coolest:.0f} {temperature.sign}"
            if row == height - 1
            else ""
        )
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
