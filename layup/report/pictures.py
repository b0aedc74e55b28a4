"""The plan as pictures: one piece from above, the temperature window, and the batches over time.

A mix's course, and its life over temperatures and masses, as a table and, with its band, as curves: a slip in a
datasheet shows as a silly shape.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from layup.chemistry.calibration import Calibration
from layup.chemistry.ensemble import ageing, cases_of, sd_of
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.life_band import predict_band
from layup.chemistry.prediction import Vessel, predict
from layup.chemistry.stages import Stage, follow
from layup.chemistry.uncertainty import Band
from layup.dimensions import ZERO_CELSIUS_K
from layup.errors import InputError, RangeError
from layup.planning.castings import numbered, pourings
from layup.planning.outline import Outline, ring_m, shape
from layup.planning.planner import PlanResult, Window
from layup.planning.schedule import Row, Split, Timeline
from layup.report.bars import (
    AHEAD,
    CUP,
    MARK,
    PART,
    WORK,
    Span,
    columns,
    labels,
    line_plot,
    strip,
    table_lines,
    time_axis,
)
from layup.session.text import shortened
from layup.units import Printed, area, countdown, in_hours, in_minutes, length, mass, minutes, temperature

# -- stack pictures --------------------------------------------------------------------------------------------------

OUTSIDE, LEAST = "×", "▁"
"""Where a plan does not work, and where it works with nothing to spare."""
ROOM_FOR_WHAT = 60
"""Columns of an axis from which on there is room to say of a cup what must be done by its mark."""
LEGEND = f"{CUP} cup  {PART} part  {WORK} closing  {MARK} by then"


def outline_picture(outline: Outline, *, width: int, rows: int) -> list[str]:
    """Draw one piece from above as wide as there is room, its width drawn larger: a slip of the pen is a bump in it."""
    try:
        ring = ring_m(outline, "a picture")
    except InputError:
        return []
    along, across = [x for x, _ in ring], [y for _, y in ring]
    middle = [(0.0, 0.0), (max(along), 0.0)]
    reach = max(max(across), -min(across))
    drawn = line_plot(
        [[*ring, ring[0]], *([middle] if outline.edges_m else [])],
        x_range=(0.0, max(along)),
        y_range=(-reach, reach) if outline.edges_m else (min(across), max(across)),
        width=width,
        height=rows,
    )
    body = shape(outline)
    assert body.length_m is not None  # held by ring_m
    assert body.widest_m is not None
    size = f"{length.digits(body.length_m)} x {length(body.widest_m)}, {area(body.area_m2, '.3f')} a piece"
    ends = f"tail{size if len(size) + 9 <= width else '':^{max(width - 7, 0)}}tip"
    return [*drawn, ends] if size in ends else [*drawn, ends, size]


def window_picture(window: Window, *, width: int, rows: int = 2) -> list[str]:
    """Draw the time to spare against the shop's temperature, × where the plan does not work, with today below."""
    samples, cells = window.samples, max(width, 1)
    half_K = (samples[-1].temperature_K - samples[0].temperature_K) / (len(samples) - 1) / 2.0
    low_K, high_K = samples[0].temperature_K - half_K, samples[-1].temperature_K + half_K
    shown = [samples[int((cell + 0.5) / cells * len(samples))] for cell in range(cells)]
    spares = [sample.slack_s if sample.works and sample.slack_s is not None else None for sample in shown]
    most_s = max((spare for spare in spares if spare is not None), default=0.0)
    lines = columns(spares, top=max(most_s, 1.0), rows=rows)
    lowest = zip(lines[-1], spares, strict=True)
    lines[-1] = "".join(OUTSIDE if spare is None else LEAST if cell == " " else cell for cell, spare in lowest)
    head = (f"≤ {in_minutes(most_s)} " if most_s > 0.0 else "") + f"spare, shop {temperature.sign}"
    today_K, words = window.today_K, f"▲{temperature(window.today_K)}"
    if not low_K <= today_K <= high_K:
        words = f"◀ {temperature(today_K)}" if today_K < low_K else f"{temperature(today_K)} ▶"
    named = [(min(max(today_K, low_K), high_K), words)]  # today first, then the ends of the window, then round ones
    named += [(end_K, temperature.digits(end_K)) for end_K in (window.low_K, window.high_K) if end_K is not None]
    named += [(temperature.value(mark), f"{mark}") for mark in range(0, 120, 5)]
    return [head, *lines, labels(named, low_K, high_K, cells)]


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


def day_strips(day: Timeline, split: Split, *, width: int, rows: int = 1) -> list[str]:
    """Draw each batch from its weighing to the closed press on one axis of time, in so many rows.

    Marked is by when the tightest thing must be done: what is spare is what lies between that and when it is.
    """
    names = [f"{batch.number} {mass(batch.mass_g)}" for batch in split.batches]
    label = max(map(len, names)) + 1
    tightest = split.limit.batch if split.limit is not None and split.limit.kind == "cup" else None
    cup = next((batch for batch in split.batches if batch.number == tightest), None)
    by_s = day.press_by_s.low if cup is None else cup.emptied_s + cup.cup_margin_s
    end_s, cells = max(by_s, day.closed_s) * 1.02, max(width - label, 1)
    closing = tuple(Span(span.begin_s, span.end_s, WORK) for span in day.closing.spans)
    lines = []
    for at, (name, batch, row) in enumerate(zip(names, split.batches, day.batches, strict=True)):
        mark = (Span(by_s, by_s, MARK),) if cup in (None, batch) else ()
        for again in range(rows):
            spans = (*_spans_of(row, named=not at + again), *closing, *mark)
            lines.append(f"{'' if again else name:<{label}}" + strip(spans, 0.0, end_s, cells))
    margin, closed = " " * label, day.closed_s
    by = [(by_s, f"press by {in_minutes(by_s)}")]
    if cup is not None:  # as they are shown the two differ by what is said to be spare
        empty = f"empty {round(by_s / 60.0) - round(cup.cup_margin_s / 60.0)}"
        by = [(by_s, f"empty by {in_minutes(by_s)}"), (cup.emptied_s, empty)]
        by = by if cells >= ROOM_FOR_WHAT else [(by_s, f"cup {cup.number} {empty}, by {round(by_s / 60.0)}")]
    done, begins = (closed, f"closed {in_minutes(closed)}"), (0.0, "0")
    axes = [labels((*by, done, begins), 0.0, end_s, cells)]
    if "closed" not in axes[0]:  # both have no room beside each other
        axes = [labels((done, begins), 0.0, end_s, cells), labels(by, 0.0, end_s, cells)]
    legend = () if not lines or all(word in lines[0] for word in ("cup", "part")) else (LEGEND,)
    return [*lines, *(margin + axis for axis in axes), *legend]


def _spans_of(row: Row, *, named: bool) -> Iterator[Span]:
    """Yield a batch's stretches, `named` or not: its clock runs, in the cup, from the first contact on."""
    in_cup = [span for span in row.spans if span.kind in ("stirring", "in the cup")]
    for span in row.spans:
        if span.kind == "weighing":
            yield Span(max(span.begin_s, 0.0), span.end_s, AHEAD)
        elif span.kind == "on the part":
            yield Span(in_cup[0].begin_s, in_cup[-1].end_s, CUP, "cup" if named else "")
            yield Span(span.begin_s, span.end_s, PART, "part" if named else "")


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
TALL = 8
"""Rows of each curve."""
DRAWN_TO = 0.97
"""Conversion at which the picture ends: past it only the cooling is left to see."""
TABLE_STEPS_K = (-10.0, -5.0, 0.0, 5.0, 10.0)
TABLE_SHARES = (0.25, 0.5, 1.0, 2.0, 4.0)


@dataclass(frozen=True, slots=True)
class LifeGrid:
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
) -> list[str]:
    """Draw conversion and temperature against time, each with the slow and the fast edge of the 80 % band."""
    band = predict_band(calibration, vessel, mass_g=mass_g, start_K=start_K, ambient=shop_K)
    end_s = max(band.gel_s.high, band.life.working_s * 1.3)
    course = follow(calibration.kinetics, [Stage(vessel, 0.0, shop_K)], mass_g=mass_g, start_K=start_K, until_s=end_s)
    points = [point for point in course.samples(240) if point[1] < DRAWN_TO]
    # The edges: the same course, run faster or slower by the band's own share.
    stretches = (1.0, band.working_s.low / band.life.working_s, band.working_s.high / band.life.working_s)
    cells = max(width - GUTTER, 1)
    conversion = [[(t * by, a) for t, a, _ in points if t * by <= end_s] for by in stretches]
    hottest = temperature.number(max(kelvin for t, _, kelvin in points if t <= end_s))
    coolest = temperature.number(min(kelvin for _, _, kelvin in points))
    top = max(hottest, coolest + 10.0)
    warmth = [[(t * by, temperature.number(k)) for t, _, k in points if t * by <= end_s] for by in stretches]
    first = line_plot(conversion, x_range=(0, end_s), y_range=(0, 1), width=cells, height=TALL)
    second = line_plot(warmth, x_range=(0, end_s), y_range=(coolest - 1, top + 1), width=cells, height=TALL)
    marks = [_mark(row, calibration.kinetics) for row in range(TALL)]
    ends = [f"{top:.0f} {temperature.sign}", *[""] * (TALL - 2), f"{coolest:.0f} {temperature.sign}"]
    lines = ["conversion, likely and 80 % band"]
    lines += [f"{mark:>10} |{line}" for mark, line in zip(marks, first, strict=True)]
    lines.append("temperature of the mix")
    lines += [f"{end:>10} |{line}" for end, line in zip(ends, second, strict=True)]
    axis = time_axis(end_min=end_s / 60.0, width=GUTTER + cells, label_width=GUTTER)
    return [*lines, f"{'+':>{GUTTER}}" + "-" * cells, axis]


def _mark(row: int, kinetics: Kinetics) -> str:
    """Name the row in which a limit of the conversion lies."""
    low, high = (TALL - row - 1) / TALL, (TALL - row) / TALL
    if low <= kinetics.conversion_gel < high:
        return "gelled"
    return "thick" if low <= kinetics.conversion_working < high else ""


def life_table(calibration: Calibration, vessel: Vessel, mass_g: float, shop_K: float) -> LifeGrid:
    """Return minutes of useful life around a mass and a temperature; a film's does not depend on the mass."""
    masses_g = () if vessel.kind == "film" else tuple(mass_g * share for share in TABLE_SHARES)
    temperatures_K = tuple(shop_K + step for step in TABLE_STEPS_K)
    rows = (
        tuple(_minutes(calibration, vessel, mass, kelvin) for mass in masses_g or (mass_g,))
        for kelvin in temperatures_K
    )
    return LifeGrid(masses_g, temperatures_K, tuple(rows))


def _minutes(calibration: Calibration, vessel: Vessel, mass_g: float, kelvin: float) -> float | None:
    try:
        life = predict(calibration.kinetics, vessel, mass_g=mass_g, start_K=kelvin, ambient=kelvin)
    except RangeError:
        return None
    return (life.working_s if life.open_s is None else life.open_s) / 60.0


def pour_lines(result: PlanResult) -> list[str]:
    """Return the pours of a casting plan, one line each: grams, colour, when it is mixed, by when its cup is empty."""
    lines = []
    for number, casting, pour in numbered(pourings(result, None)):
        starts_s, colours = casting.starts_s or 0.0, "-".join(name for name, _ in pour.pigments_g)
        times = f"mix at {countdown(starts_s + pour.mix_s)}, empty by {countdown(starts_s + pour.due_s)}"
        lines.append(" ".join(filter(None, (f"{number}", mass(pour.mass_g), colours, times))))
    return ["cups, min:s from the first weighing", *lines] if lines else ["no pours"]


# -- life curves -------------------------------------------------------------------------------------------------------

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
CURVES_GUTTER = 5
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
    """Return the lives around the mass and the temperature of a stated pot life, all with their 80 % band.

    Raises RangeError if some of it is too thin to be anything but a film.
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
    cells, (first, last) = max(width - CURVES_GUTTER, 1), (lives[0][0], lives[-1][0])
    top_s = HEADROOM * max(band.likely for _, band in lives)
    ends = [(band.likely, band.low, band.high) for _, band in lives]
    series = [[(at, end[which]) for (at, _), end in zip(lives, ends, strict=True)] for which in range(3)]
    drawn = line_plot(series, x_range=(first, last), y_range=(0.0, top_s), width=cells, height=rows)
    lines = [f"{'':>{CURVES_GUTTER}}{line}" for line in drawn]
    lines[0] = f"{top_s / 60.0:>{CURVES_GUTTER - 1}.0f} {drawn[0]}"
    marks = [(stated, f"▲{prints.digits(stated)}"), (first, prints.digits(first)), (last, prints(last))]
    return [*lines, f"{'':>{CURVES_GUTTER}}" + labels(marks, first, last, cells)]


def _told(lives: Points, wanted: Sequence[float], prints: Printed, width: int) -> list[str]:
    """Say the lives at some points of a curve in numbers."""
    told = dict(lives)
    return [shortened(f"{prints(at):>7} {minutes(told[at].likely):>10}  {_ends(told[at])}", width) for at in wanted]


def _ends(band: Band) -> str:
    """Write the ends of a band: in hours, where minutes say too much."""
    shown = in_hours if band.high >= LONG_S else in_minutes
    return f"{shown(band.low).rpartition(' ')[0]}-{shown(band.high)}"
