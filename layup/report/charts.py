"""The charts of a report: the day as planned and as it went, the temperatures, and the time to spare."""

from __future__ import annotations

from layup.chemistry.history import History
from layup.records.facts import in_effect
from layup.records.state import SessionState
from layup.records.track import BatchTrack, StepTrack, Track
from layup.report.blocks import Chart
from layup.report.svg import LABELS, WIDTH, Canvas, Scale, legend, thinned, time_ticks_s

ROW, EDGE = 22.0, 16.0
LETTERS = {"runny": "r", "thickening": "t", "stringy": "s", "gelled": "g"}
DASHES = {"air": "", "mould": "6 3", "cans": "2 2"}
CUP_DASH = "1 3"


def day_chart(track: Track, begin_s: float = 0.0) -> Chart:
    """Draw each step and each batch over time, planned above real, with limits and the closing."""
    rows = len(track.steps) + len(track.batches)
    canvas = Canvas(ROW * rows + 78.0)
    ends = [track.end_s, track.planned_closed_s or 0.0, *(step.planned.end_s for step in track.steps)]
    ends += [batch.cup.low_s for batch in track.batches if batch.cup and batch.left_cup_s]
    scale = Scale(begin_s, max(ends) * 1.03 + 60.0, LABELS, WIDTH - EDGE)
    _time_axis(canvas, scale, ROW * rows + 32.0)
    y = top = 20.0
    for step in track.steps:
        _step_row(canvas, scale, y, step)
        y += ROW
    for batch in track.batches:
        _batch_row(canvas, scale, y, batch, track)
        y += ROW
    for time_s, words, dash in _uprights(track):
        canvas.line([(scale(time_s), top - 4.0), (scale(time_s), y)], dash=dash, width=1.0)
        canvas.text(scale(time_s), top - 8.0, words, anchor="end" if dash else "start", size=9.0)
    legend(
        canvas,
        y + 44.0,
        [("#fff", "planned"), ("#999", "step done"), ("url(#hatch)", "in the cup"), ("#444", "on the part")],
    )
    canvas.text(LABELS + 360.0, y + 44.0, "├─┤ thickens (80 %)   r t s g: how it looked", size=10.0)
    return _named(canvas, "The day as planned and as it went", _day_words(track))


def _time_axis(canvas: Canvas, scale: Scale, y: float) -> None:
    for time_s, words in time_ticks_s(scale.low, scale.high):
        canvas.line([(scale(time_s), 4.0), (scale(time_s), y - 12.0)], width=0.4, stroke="#bbb")
        canvas.text(scale(time_s), y, words, anchor="middle", size=9.0)


def _uprights(track: Track) -> list[tuple[float, str, str]]:
    marks = []
    if track.planned_closed_s is not None:
        marks.append((track.planned_closed_s, "to be closed ", "3 3"))
    if track.closed_s is not None:
        marks.append((track.closed_s, " closed", ""))
    return marks


def _step_row(canvas: Canvas, scale: Scale, y: float, step: StepTrack) -> None:
    canvas.text(LABELS - 6.0, y + 12.0, step.name[:32], anchor="end")
    canvas.bar(scale(step.planned.begin_s), scale(step.planned.end_s), y, 7.0, fill="#fff")
    if step.real is not None:
        canvas.bar(scale(step.real.begin_s), scale(step.real.end_s), y + 8.0, 8.0, fill="#999")


def _batch_row(canvas: Canvas, scale: Scale, y: float, batch: BatchTrack, track: Track) -> None:
    canvas.text(LABELS - 6.0, y + 12.0, f"Batch {batch.number}, {batch.mass_g:.0f} g", anchor="end")
    if batch.planned is not None:
        canvas.bar(scale(batch.planned.begin_s), scale(batch.planned.end_s), y, 7.0, fill="#fff")
    if batch.contact_s is None:
        return
    left_s = track.end_s if batch.left_cup_s is None else batch.left_cup_s
    canvas.bar(scale(batch.contact_s), scale(left_s), y + 8.0, 8.0, fill="url(#hatch)")
    if batch.used:
        canvas.bar(scale(left_s), scale(track.end_s), y + 8.0, 8.0, fill="#444")
    if batch.lost_s is not None:
        canvas.text(scale(batch.lost_s) + 3.0, y + 16.0, "lost", size=9.0)
    if batch.cup is not None:
        low, high = scale(batch.cup.low_s), scale(batch.cup.high_s)
        canvas.line([(low, y + 3.5), (high, y + 3.5)], width=1.0)
        for x in (low, high):
            canvas.line([(x, y), (x, y + 7.0)], width=1.0)
    for at_s, word in batch.observations:
        canvas.text(scale(at_s), y + 7.0, LETTERS[word], anchor="middle", size=10.0)


def _day_words(track: Track) -> str:
    """Return the chart in words."""
    late = [step for step in track.steps if (step.over_s or 0.0) > 60.0]
    steps = ", ".join(f"{step.name} {(step.over_s or 0.0) / 60:+.0f} min" for step in late)
    closed = "" if track.closed_s is None else f" The press was closed after {track.closed_s / 60:.0f} min."
    return (f"slower than planned: {steps}." if steps else "no step was slower than planned by a minute.") + closed


def _named(canvas: Canvas, title: str, words: str) -> Chart:
    return Chart(canvas.svg(title), f"{title}: {words}")


def temperature_charts(state: SessionState) -> list[Chart]:
    """Draw every temperature that was read: at the bench, and, where any was read after the closing, in the cure."""
    places: list[tuple[str, History]] = [("air", state.air), ("mould", state.mould), ("cans", state.resin)]
    cups = [(f"cup {batch.number}", batch.temperatures) for batch in state.batches]
    times = [at_s for _, history in (*places, *cups) for at_s, _ in history]
    if not times:
        return []
    closed_s = state.closed_s
    if closed_s is None or max(times) <= closed_s:
        end_s = max(*times, closed_s or 0.0, 60.0)
        return _temperatures("Temperatures at the bench", [*places, *cups], 0.0, end_s)
    bench = _temperatures("Temperatures at the bench", [*places, *cups], 0.0, max(closed_s, 60.0))
    return bench + _temperatures("Temperatures in the cure", places, closed_s, max(*times, state.demoulded_s or 0.0))


def _temperatures(title: str, lines: list[tuple[str, History]], begin_s: float, end_s: float) -> list[Chart]:
    """Draw the temperatures that counted in a stretch; nothing where there is none."""
    read = [(name, part) for name, history in lines if (part := _within(name, history, begin_s, end_s))]
    if not read:
        return []
    kelvins = [kelvin for _, history in read for _, kelvin in history]
    canvas = Canvas(240.0)
    across = Scale(begin_s, end_s, 40.0, WIDTH - 90.0)
    up = Scale(min(kelvins) - 1.0, max(kelvins) + 1.0, 206.0, 10.0)
    _time_axis(canvas, across, 222.0)
    _degrees(canvas, up)
    for index, (name, history) in enumerate(read):
        dash = DASHES.get(name, CUP_DASH)
        points = [(across(at_s), up(kelvin)) for at_s, kelvin in thinned(history)]
        canvas.line([*points, (across(end_s), points[-1][1])] if name in DASHES else points, dash=dash)
        for x, y in points if len(points) < 40 else ():
            canvas.bar(x - 1.5, x + 1.5, y - 1.5, 3.0, fill="#000")
        x, y = WIDTH - 84.0, 20.0 + 16.0 * index
        canvas.line([(x, y), (x + 26.0, y)], dash=dash)
        canvas.text(x + 30.0, y + 4.0, name, size=10.0)
    return [_named(canvas, title, ", ".join(_range_words(name, history) for name, history in read) + ".")]


def _within(name: str, history: History, begin_s: float, end_s: float) -> History:
    """Return the readings of a stretch; those of a place count on from the last one before."""
    if name not in DASHES:
        return tuple(reading for reading in history if begin_s <= reading[0] <= end_s)
    return tuple((max(at_s, begin_s), kelvin) for at_s, kelvin in in_effect(history, begin_s, end_s))


def _range_words(name: str, history: History) -> str:
    low, high = (extreme(kelvin for _, kelvin in history) - 273.15 for extreme in (min, max))
    return f"{name} {low:.1f} °C" if high - low < 0.05 else f"{name} {low:.1f} to {high:.1f} °C"


def _degrees(canvas: Canvas, up: Scale) -> None:
    """Draw the marks of an axis of temperature."""
    step = 2 if up.high - up.low < 12.0 else 5 if up.high - up.low < 40.0 else 20
    for celsius in range(-40, 260, step):
        if up.low <= celsius + 273.15 <= up.high:
            y = up(celsius + 273.15)
            canvas.line([(40.0, y), (WIDTH - 90.0, y)], width=0.4, stroke="#bbb")
            canvas.text(34.0, y + 3.0, f"{celsius} °C", anchor="end", size=9.0)


def spare_chart(track: Track) -> Chart | None:
    """Draw what was left, at each moment, until the first of all mix in hand was over; None where none was mixed."""
    line = track.spare_s()
    if not line:
        return None
    canvas = Canvas(150.0)
    begin_s, end_s = line[0][0], line[-1][0]
    values = [value for _, value in line]
    across = Scale(begin_s, max(end_s, begin_s + 60.0), 64.0, WIDTH - EDGE)
    up = Scale(min(0.0, *values) / 60.0, max(values) / 60.0 * 1.05 + 1.0, 116.0, 8.0)
    _time_axis(canvas, across, 132.0)
    canvas.line([(64.0, up(0.0)), (WIDTH - EDGE, up(0.0))], width=1.2)
    canvas.text(58.0, up(0.0) + 3.0, "0 min", anchor="end", size=9.0)
    for value in (max(values), min(values)):
        if abs(value) > 0.1 * (max(values) - min(values)):
            canvas.text(58.0, up(value / 60.0) + 3.0, f"{value / 60:.0f} min", anchor="end", size=9.0)
    canvas.line([(across(at_s), up(value / 60.0)) for at_s, value in line])
    least = f"{abs(min(values)) / 60:.0f} min{' over' if min(values) < 0.0 else ''}"
    words = f"the least was {least}, by the early end of the 80 % band."
    return _named(canvas, "Time to spare until the first batch in hand is over", words)
