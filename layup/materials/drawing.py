"""Read a part's outline from a drawing: points in a CSV table, or curves exported as DXF or SVG.

The outline is a closed polyline in metres. Curves are flattened so that they stay within `TOLERANCE_m` of the drawing.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from importlib import import_module
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import ParseError

from layup.dimensions import DIMENSIONS
from layup.errors import InputError, StorageError
from layup.materials.curves import Curve, Point, flatten, is_closed, is_within, join, size
from layup.materials.fields import printable

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
        raise _refused(path, f"is {longest:.3g} m long", "check the unit: 20 mm to 10 m is read", where="unit")
    return tuple(closed[0][:-1])


def _require_near(path: Path, curve: Curve) -> None:
    """Refuse coordinates that are no numbers, or so large that the unit must be wrong."""
    if not is_within(curve, FURTHEST_POINT_m):
        raise _refused(path, f"has a point further than {FURTHEST_POINT_m:g} m away", "check the unit", where="unit")


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
