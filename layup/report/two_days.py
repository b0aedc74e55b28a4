"""Two days on one axis as lines of text: each step as a bar of either, and the difference of what was to spare."""

from __future__ import annotations

from layup.report.bars import MARK, Span, labels, strip
from layup.review.aligned import Aligned, AlignedSide
from layup.session.text import shortened
from layup.units import in_minutes

LEFT, RIGHT = "░", "█"
"""The bar of the left day, and of the right one."""
NAME, NARROW_NAME, NARROW, SPARE = 22, 12, 60, 9
"""Columns of a step's name, of one where there is little room, below how many there is, and of the difference."""

EXPLAINED = ("+ B had more to spare then, - less", "  (until its first mix sets)")


def two_days_lines(found: Aligned, *, width: int) -> list[str]:
    """Draw each step of both days on one axis, A above B, and how much more B had to spare as it was done."""
    name = NAME if width >= NARROW else NARROW_NAME
    cells = max(width - name - 3 - SPARE, 8)
    begin_s, end_s = found.begin_s, max(found.end_s, found.begin_s + 60.0) * 1.001
    at = {"contact": "first contact", "closing": "press closed"}[found.by]
    any_told = False
    lines = [f"{'':<{name}}   {'':<{cells}}{'B spare':>{SPARE}}"]
    for step in found.steps:
        more = step.spare_difference_s
        told = "" if more is None else in_minutes(60.0 * round(more / 60.0) + 0.0, "+.0f")
        drawn = [_bar(side, fill, begin_s, end_s, cells) for side, fill in ((step.left, LEFT), (step.right, RIGHT))]
        any_told = any_told or bool(told)
        lines.append(f"{shortened(step.name, name):<{name}} A {drawn[0]}".rstrip())
        lines.append(f"{'':<{name}} B {drawn[1]}{told:>{SPARE}}".rstrip())
    for side, closed_s in zip("AB", found.closed_s, strict=True):
        if closed_s is not None:
            mark = strip([Span(closed_s, closed_s, MARK)], begin_s, end_s, cells)
            lines.append(f"{'press closed' if side == 'A' else '':<{name}} {side} {mark}".rstrip())
    marks = [(0.0, f"0 {at}"), *((at_s, in_minutes(at_s)) for at_s in (begin_s, end_s) if abs(at_s) >= 60.0)]
    return [*lines, f"{'':<{name}}   {labels(marks, begin_s, end_s, cells)}".rstrip(), *EXPLAINED[: 2 * any_told]]


def _bar(side: AlignedSide | None, fill: str, begin_s: float, end_s: float, cells: int) -> str:
    spans = [] if side is None else [Span(side.begin_s, side.end_s, fill)]
    return strip(spans, begin_s, end_s, cells)
