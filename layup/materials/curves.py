"""Make one closed outline of the loose curves of a drawing: flatten, join end to end, check. Plain geometry."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import dist

Point = tuple[float, float]
Curve = list[Point]

_DEEPEST_SPLIT = 14


def flatten(point_at: Callable[[float], Point], tolerance: float) -> Curve:
    """Return points along a curve over 0..1, none of its quarters further than `tolerance` from the chord."""
    curve = [point_at(0.0)]
    pending = [(0.0, 1.0, 0)]
    while pending:
        low, high, depth = pending.pop()
        start, end = point_at(low), point_at(high)
        inner = (point_at(low + share * (high - low)) for share in (0.25, 0.5, 0.75))
        if depth >= _DEEPEST_SPLIT or (depth > 1 and all(_off_chord(each, start, end) <= tolerance for each in inner)):
            curve.append(end)
        else:
            middle = (low + high) / 2
            pending += [(middle, high, depth + 1), (low, middle, depth + 1)]
    return curve


def join(curves: Sequence[Curve], joint: float) -> list[Curve]:
    """Join curves whose ends are at most `joint` apart to as few as possible."""
    loose = [curve for curve in curves if len(curve) > 1]
    joined = []
    while loose:
        line = list(loose.pop(0))
        while not is_closed(line, joint):
            match = next((each for each in loose if _touches(line, each, joint)), None)
            if match is None:
                break
            loose.remove(match)
            line = _appended(line, match, joint)
        joined.append(line)
    return joined


def is_closed(curve: Curve, joint: float) -> bool:
    """Whether a curve ends where it starts and encloses something."""
    return len(curve) > 3 and dist(curve[0], curve[-1]) <= joint


def size(curve: Curve) -> float:
    """Return the longer side of the box around a curve."""
    xs, ys = [x for x, _ in curve], [y for _, y in curve]
    return max(max(xs) - min(xs), max(ys) - min(ys))


def is_within(curve: Curve, reach: float) -> bool:
    """Whether every coordinate is a number of at most `reach`."""
    return all(abs(x) <= reach and abs(y) <= reach for x, y in curve)


def _off_chord(point: Point, start: Point, end: Point) -> float:
    """Return the distance of `point` from the straight line between `start` and `end`."""
    length = dist(start, end)
    if length == 0:
        return dist(point, start)
    dx, dy = end[0] - start[0], end[1] - start[1]
    along = ((point[0] - start[0]) * dx + (point[1] - start[1]) * dy) / length**2
    along = min(1.0, max(0.0, along))
    return dist(point, (start[0] + along * dx, start[1] + along * dy))


def _touches(line: Curve, other: Curve, joint: float) -> bool:
    return any(dist(a, b) <= joint for a in (line[0], line[-1]) for b in (other[0], other[-1]))


def _appended(line: Curve, other: Curve, joint: float) -> Curve:
    """Return `line` with `other` put on the end that it touches."""
    if not any(dist(line[-1], end) <= joint for end in (other[0], other[-1])):
        line = line[::-1]
    if dist(line[-1], other[0]) > joint:
        other = other[::-1]
    return line + other[1:]
