"""What a plan names beside itself: a drawing of the outline, the course of the shop's temperature.

A drawing is points in a CSV table, or curves exported as DXF or SVG; the outline is a closed polyline in metres. Curves
are flattened so that they stay within `TOLERANCE_m` of the drawing, and loose ones are joined end to end. A forecast is
one temperature, a day's swing, times of day with temperatures, or a CSV file of both.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime
from importlib import import_module
from math import dist
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import ParseError

from layup.chemistry.temperature import DAY_S, History, course_K, swing
from layup.dimensions import DIMENSIONS, ZERO_CELSIUS_K
from layup.errors import InputError, RangeError, StorageError
from layup.files.fields import printable
from layup.units import cloth_length, parse, with_unit

# -- curves ----------------------------------------------------------------------------------------------------------

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


# -- drawing ---------------------------------------------------------------------------------------------------------

TOLERANCE_m = 5e-5
"""A flattened curve is nowhere further from the drawn one than this: 0.05 mm, less than a saw's width."""
JOINT_m = 1e-4
"""Curves whose ends are this near to each other are one line: exports round their coordinates."""
SMALLEST_PART_m, LARGEST_PART_m = 0.02, 10.0
FURTHEST_POINT_m = 1000.0
LARGEST_FILE_BYTES = 10_000_000
MOST_CURVES = 1000

UNIT_m = {unit: DIMENSIONS["length"].common[unit] for unit in ("mm", "cm", "m", "in", "ft")}
_DXF_UNITS = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m"}
"""The codes of $INSUNITS that a part may be drawn in; 0 is "not stated"."""
_DXF_CURVES = "LINE ARC CIRCLE ELLIPSE SPLINE LWPOLYLINE POLYLINE"
_SVG_PIXELS_PER_INCH = 96.0
"""CSS fixes the pixel at 1/96 inch, which counts where the drawing states its size in millimetres or inches."""
_PHYSICAL = re.compile(r"\s*[0-9.]+\s*(?:mm|cm|in|pt|pc)\s*")
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]{1,2})?")
_HEADER_UNIT = re.compile(r".*[\s_(\[](mm|cm|m|in|ft)\s*[)\]]?\s*")
_DAMAGED = (
    ParseError,
    ArithmeticError,
    AttributeError,
    LookupError,
    RuntimeError,
    StopIteration,
    TypeError,
    ValueError,
)
"""What the drawing libraries are known to raise on damaged files, beside errors of their own."""


def read_polyline_m(path: Path, unit: str | None) -> tuple[Point, ...]:
    """Return the closed outline in the drawing at `path`, in metres.

    `unit` is what one unit of the drawing is; None takes what the file itself says. Raises InputError with `where`
    naming the plan's key, StorageError where the file cannot be read.
    """
    readers: dict[str, Callable[[Path, str | None], list[Curve]]] = {
        ".csv": _csv_curves,
        ".dxf": _dxf_curves,
        ".svg": _svg_curves,
    }
    reader = readers.get(path.suffix.lower())
    if reader is None:
        raise _refused(path, "is no drawing that can be read", f"{', '.join(readers)} are read")
    try:
        size_bytes = path.stat().st_size
        path.open("rb").close()
    except OSError as error:
        raise StorageError("file", "cannot be read", value=f"{path}: {error.strerror}", todo="check the path") from None
    if size_bytes > LARGEST_FILE_BYTES:
        raise _refused(path, "is larger than 10 MB", "export the outline alone")
    return _outline(path, reader(path, unit))


def _refused(path: Path, wrong: str, todo: str, *, where: str = "file") -> InputError:
    return InputError(where, wrong, value=printable(path.name), todo=todo)


def _unit_missing(path: Path) -> InputError:
    return _refused(path, "does not say its unit", 'write unit = "mm", or cm, m, in, ft', where="unit")


def _outline(path: Path, curves: list[Curve]) -> tuple[Point, ...]:
    """Return the one closed curve of a drawing (in metres), without its last point, which joins the first."""
    for curve in curves:
        _require_near(path, curve)
    if len(curves) > MOST_CURVES:
        raise _refused(path, f"has more than {MOST_CURVES} curves", "export the outline alone, as a polyline")
    closed = [line for line in join(curves, JOINT_m) if is_closed(line, JOINT_m)]
    if len(closed) != 1:
        found = f"has {len(closed)} closed curves" if closed else "has no closed curve"
        raise _refused(path, found, "export the outline alone, its ends joined, its blocks and texts as curves")
    longest = size(closed[0])
    if not SMALLEST_PART_m <= longest <= LARGEST_PART_m:
        raise _refused(
            path, f"is {cloth_length(longest, '.3g')} long", "check the unit: 20 mm to 10 m is read", where="unit"
        )
    return tuple(closed[0][:-1])


def _require_near(path: Path, curve: Curve) -> None:
    """Refuse coordinates that are no numbers, or so large that the unit must be wrong."""
    if not is_within(curve, FURTHEST_POINT_m):
        raise _refused(
            path, f"has a point further than {cloth_length(FURTHEST_POINT_m, 'g')} away", "check the unit", where="unit"
        )


def _csv_curves(path: Path, unit: str | None) -> list[Curve]:
    """Read a table of two columns, x and y; a first line of words may state the unit, as in "x_mm, y (mm)"."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise _refused(path, "is not UTF-8 text", "save the table as CSV, UTF-8") from None
    delimiter = next((each for each in ";\t" if each in text), ",")
    points: Curve = []
    for number, line in enumerate(text.splitlines(), start=1):
        cells = [cell.strip().strip('"') for cell in line.split(delimiter)]
        if not any(cells) or line.lstrip().startswith("#"):
            continue
        if delimiter != ",":
            cells = [cell.replace(",", ".") for cell in cells]
        if len(cells) == 2 and all(_NUMBER.fullmatch(cell) for cell in cells):
            points.append((float(cells[0]), float(cells[1])))
        elif points or len(cells) != 2 or number > 1:
            raise _refused(path, f"has no two numbers in line {number}", "write x and y of one point a line")
        elif unit is None:
            stated = {match[1] for cell in cells if (match := _HEADER_UNIT.fullmatch(cell))}
            unit = stated.pop() if len(stated) == 1 else None
    if len(points) < 3:
        raise _refused(path, f"has {len(points)} points", "three or more make an outline")
    if unit is None:
        raise _unit_missing(path)
    return [[(x * UNIT_m[unit], y * UNIT_m[unit]) for x, y in [*points, points[0]]]]


def _dxf_curves(path: Path, unit: str | None) -> list[Curve]:
    """Read the curves in the model space of a DXF export."""
    ezdxf, paths = _library("ezdxf"), _library("ezdxf.path")
    try:
        drawing = ezdxf.readfile(path)
        unit = unit or _DXF_UNITS.get(drawing.header.get("$INSUNITS", 0))
        if unit is None:
            raise _unit_missing(path)
        scale = UNIT_m[unit]
        shapes = [paths.make_path(each, segments=8) for each in drawing.modelspace().query(_DXF_CURVES)]
        for shape in shapes:  # before it is flattened, for that never ends where a coordinate is infinite
            for at in shape.control_vertices():
                _require_near(path, [(at.x * scale, at.y * scale), (at.z * scale, 0.0)])
        return [
            [(at.x * scale, at.y * scale) for at in each.flattening(TOLERANCE_m / scale)]
            for each in shapes
            if len(each)
        ]
    except InputError:
        raise
    except (*_DAMAGED, OSError, ezdxf.DXFError):
        raise _refused(path, "is no sound DXF file", "export it again as DXF, version R12 or later") from None


def _svg_curves(path: Path, unit: str | None) -> list[Curve]:
    """Read every shape of an SVG export, its transforms applied."""
    svg = _library("svgelements")
    try:
        drawing = svg.SVG.parse(str(path), reify=True, ppi=_SVG_PIXELS_PER_INCH)
        scale, to_drawn = _svg_scale(path, drawing, unit), svg.Matrix()
        if unit is not None:
            to_drawn = ~svg.Matrix(drawing.viewbox_transform)
        shapes = [abs(svg.Path(each) * to_drawn) for each in drawing.elements() if isinstance(each, svg.Shape)]
        return [_svg_line(path, svg.Path(part), scale) for shape in shapes for part in shape.as_subpaths()]
    except InputError:
        raise
    except _DAMAGED:
        raise _refused(path, "is no sound SVG file", "export it again as plain SVG") from None


def _svg_scale(path: Path, drawing: Any, unit: str | None) -> float:  # Any: svgelements has no types
    """Return the metres of one unit: of a user unit where `unit` states it, else of a pixel."""
    if unit is not None:
        return UNIT_m[unit]
    attributes = drawing.values["attributes"]
    if not all(_PHYSICAL.fullmatch(str(attributes.get(side, ""))) for side in ("width", "height")):
        raise _unit_missing(path)
    return UNIT_m["in"] / _SVG_PIXELS_PER_INCH


def _svg_line(path: Path, part: Any, scale: float) -> Curve:  # Any: svgelements has no types
    """Return one unbroken subpath as points in metres."""
    curve: Curve = []
    for segment in part:
        if segment.start is None or segment.end is None:
            continue

        def point_at(share: float, segment: Any = segment) -> Point:
            at = segment.point(share)
            point = float(at.x) * scale, float(at.y) * scale
            _require_near(path, [point])
            return point

        straight = type(segment).__name__ in ("Line", "Close")
        curve += [point_at(0.0), point_at(1.0)] if straight else flatten(point_at, TOLERANCE_m)
    return [at for at, before in zip(curve, [None, *curve], strict=False) if at != before]


def _library(name: str) -> Any:  # Any: a module that may be missing, one of them without types
    try:
        return import_module(name)
    except ModuleNotFoundError:
        raise InputError(
            "file", f"needs {name.partition('.')[0]} to be read", todo="install it: pip install 'layup[drawing]'"
        ) from None


EXAMPLES = '"16 degC", "4 degC to 16 degC", "06:00 4 degC, 15:00 16 degC", or a CSV file of both columns'
LARGEST = 5_000_000
MOST_POINTS, EACH_S = 300, 600.0
"""A course of more points is taken every ten minutes."""
CLOCK = re.compile(r"(\d{1,2}):(\d{2})(?::\d{2})?\Z")
MEASURED_C = (-40.0, 60.0)


def read_forecast(text: str, *, folder: Path = Path()) -> History:
    """Return a day's course as (seconds from midnight, temperature_K), its times increasing.

    Raises InputError or RangeError where the words make no course, StorageError where the file cannot be read.
    """
    text = text.strip()
    if text.lower().endswith(".csv"):
        return _course(_cells(folder / text), text)
    first, to, last = text.partition(" to ")
    if ":" not in text:
        ends = (parse(end.strip(), "temperature", where="forecast") for end in (first, last if to else first))
        return swing(*sorted(ends))
    return _course((("forecast", *_word(point)) for point in text.split(",")), "forecast")


def wanted_day(text: str, *, where: str = "wanted") -> datetime:
    """Return the day, with or without a time, on which a part is wanted, by the clock of the shop.

    Raises InputError for what is no such day.
    """
    try:
        wanted = datetime.fromisoformat(text.strip())
    except ValueError:
        allowed = "a date, with or without a time: 2026-12-05 18:00"
        wrong = "is no date" if text.strip() else "is empty"
        raise InputError(where, wrong, value=text.strip() or None, allowed=allowed) from None
    if wanted.tzinfo is not None or not datetime(1990, 1, 1) < wanted < datetime(2200, 1, 1):
        raise InputError(where, "is no date of this shop", value=text, allowed="one by its own clock")
    return wanted


def _word(point: str) -> tuple[str, str]:
    """Return the time and the temperature of "15:00 16 degC"."""
    time, blank, warmth = point.strip().partition(" ")
    if not blank:
        raise InputError("forecast", "has a time without its temperature", value=point.strip(), allowed=EXAMPLES)
    return time, warmth.strip()


def rows_of_log(path: Path) -> Iterator[tuple[int, list[str]]]:
    """Yield the number and the cells, two or more, of each line of a file of times and temperatures.

    Raises InputError or StorageError where it cannot be read.
    """
    try:
        if path.stat().st_size > LARGEST:
            raise InputError(str(path), "is too large for a temperature log", allowed="at most 5 MB")
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise StorageError(str(path), "cannot be read", value=error.strerror, todo="check the path") from None
    except UnicodeDecodeError:
        raise InputError(str(path), "is no text file", todo="save it as CSV, UTF-8") from None
    for number, cells in enumerate(csv.reader(text.splitlines()), 1):
        if any(cell.strip() for cell in cells):
            if len(cells) < 2:
                allowed = "a time and a temperature"
                raise InputError(f"{path}:{number}", "has one column", allowed=allowed, value=cells[0])
            yield number, cells


def _cells(path: Path) -> Iterator[tuple[str, str, str]]:
    """Yield (place, time, temperature) from a file, its heading left out."""
    unit = ""
    for number, cells in rows_of_log(path):
        if number == 1 and not any(letter.isdigit() for letter in cells[0]):
            unit = "degF" if cells[1].strip().rstrip(")]").lower().endswith("f") else "degC"
            continue
        yield f"{path}:{number}", cells[0].strip(), with_unit(cells[1], unit or "degC")


def _course(points: Iterable[tuple[str, str, str]], where: str) -> History:
    """Return the points in the order of the day; of two at one time the later counts."""
    found: dict[float, float] = {}
    for place, time, warmth in points:
        kelvin = parse(warmth, "temperature", where=place)
        if not MEASURED_C[0] <= kelvin - ZERO_CELSIUS_K <= MEASURED_C[1]:
            raise RangeError(place, "is no temperature of a shop", value=warmth, allowed="-40 to 60 degC")
        found[_of_the_day_s(time, place)] = kelvin
    if not found:
        raise InputError(where, "has no temperature", allowed=EXAMPLES)
    course = tuple(sorted(found.items()))
    if len(course) <= MOST_POINTS:
        return course
    return tuple((at * EACH_S, course_K(course, at * EACH_S)) for at in range(int(DAY_S / EACH_S)))


def _of_the_day_s(text: str, where: str) -> float:
    """Return a clock time, or that of a date and time, in seconds from midnight."""
    clock = CLOCK.match(text)
    if clock:
        hour, minute = int(clock[1]), int(clock[2])
        if hour < 24 and minute < 60:
            return 3600.0 * hour + 60.0 * minute
    else:
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            pass
        else:
            return 3600.0 * moment.hour + 60.0 * moment.minute
    raise InputError(where, "is no time of day", value=text, allowed="15:00, or a date and time 2026-11-28 15:00")
