"""The plan as pictures: the temperature window, and the batches over time."""

from __future__ import annotations

from collections.abc import Iterable
from math import ceil

from layup.planning.case import Settled
from layup.planning.timeline import Timeline
from layup.planning.window import Window
from layup.report.pictures import Span, bars, columns, time_axis

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
        spare = f"{top_s / 60:.0f} min"
        for row, line in enumerate(columns(slacks, top=top_s, rows=rows)):
            label = spare if gutter and row == 0 else ""
            lines.append(f"{label:<{gutter}}" + "".join(cell * each for cell in line))
    label = "to spare" if gutter else ""
    lines.append(f"{label:<{gutter}}" + "".join(("━" if sample.works else "x") * each for sample in samples))
    axis = ""
    for celsius in range(5, 40, 5):
        column = round(at(celsius + 273.15))
        if len(axis) <= column and column + 2 <= width:
            axis = axis.ljust(column) + f"{celsius}"
    today, right = f"today {window.today_K - 273.15:.0f} °C", gutter + each * len(samples)
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
        ends = f"{min(in_time_K) - 273.15:.0f} to {max(in_time_K) - 273.15:.0f} °C"
        too_cold = [limit.words for limit in window.cold_limits if max(in_time_K) < limit.temperature_K]
        return " ".join([f"TEMPERATURE WINDOW: none, it closes in time at {ends}, but:", *(too_cold or cold)])
    return f"TEMPERATURE WINDOW {window.low_K - 273.15:.0f} to {window.high_K - 273.15:.0f} °C" + (
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


def batch_lines(settled: Settled) -> list[str]:
    """Return the batches as a table: what to weigh, when, and what each has to spare."""
    lines = ["batch    mix   resin hardener  weigh at  in cup  cup spare  part spare"]
    for batch in settled.split.batches:
        resin_g, hardener_g = batch.parts_g[0], batch.parts_g[1]
        lines.append(
            f"{batch.number:>5} {batch.mass_g:>4.0f} g {resin_g:>5.0f} g {hardener_g:>6.0f} g "
            f"{batch.weigh_s / 60:>5.0f} min {batch.held_s / 60:>3.0f} min {batch.cup_margin_s / 60:>6.0f} min "
            f"{batch.part_margin_s / 60:>7.0f} min"
        )
    return lines
