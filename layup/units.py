"""The edge where quantities are text: what people write becomes plain floats in the core's units, and back.

Numbers are read here, by a strict grammar, and nothing is ever evaluated. Spellings that every file uses are in
`dimensions` with their exact factor, so that a workshop loads without pint; every other unit, and product of units, is
asked of pint's registry, which is built at its first use. Tests hold the tables against pint's own definitions.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache, lru_cache
from math import isfinite
from typing import TYPE_CHECKING

from layup.dimensions import DIMENSIONS, OFFSET_K, TEX_YARDS_PER_POUND, Dimension, System
from layup.errors import InputError

if TYPE_CHECKING:
    from pint import UnitRegistry

LONGEST_TEXT = 60
"""No quantity needs more characters; longer text is refused before it is read."""

_NUMBER = r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_SUM = re.compile(rf"(?:{_NUMBER}\s*[A-Za-z'\"]+\s*){{2,}}")
_PART = re.compile(rf"({_NUMBER})\s*([A-Za-z'\"]+)")
_FIRST_NUMBER = re.compile(rf"\s*({_NUMBER})\s*(.*)", re.DOTALL)
_FACTOR = r"[A-Za-z_]+(?:\^-?[1-4])?"
_PRODUCT = re.compile(rf"(?:1?/)?{_FACTOR}(?:[*/ ]{_FACTOR})*")
_OPERATOR = re.compile(r" ?([*/^]) ?")
_POWER = re.compile(r"(?<=[A-Za-z])([1-4])(?![0-9])")
_PLAIN = str.maketrans("\u2212\u00b7\u22c5\u00b5\u03bc\u2032\u2033", "-**uu'\"")
"""Typographic minus, dots, micro signs and primes, as a keyboard has them."""
_AMBIGUOUS_VOLUMES = ("fl oz", "floz", "gal", "gallon", "gallons")


def parse(text: str, dimension: str, *, where: str = "") -> float:
    """Read `text` ("6 oz/yd^2", "25 degC", "1 h 30 min") as a float in the core's unit for `dimension`.

    Raises InputError, and nothing else, when the text is not a quantity of that dimension.
    """
    kind = DIMENSIONS[dimension]
    where = where or kind.name.partition(" ")[2]
    plain = _plain(text, kind, where)
    try:
        value = _sum_of_parts(plain, dimension) if kind.adds_up else None
        if value is None:
            match = _FIRST_NUMBER.fullmatch(plain)
            if match is None:
                raise _RefusedError("does not start with a number", f"write {kind.name} such as {kind.example}")
            value = _convert(_number(match[1]), _tidy(match[2]), dimension)
        if not isfinite(value):
            raise _RefusedError("is too large to be true", f"write {kind.name} such as {kind.example}")
    except _RefusedError as refused:
        raise InputError(where, refused.wrong, value=plain, allowed=refused.todo) from None
    return value


def show(value: float, dimension: str, system: System = "metric", digits: int | None = None) -> str:
    """Write a value of the core as people read it; `digits` is the number of decimals."""
    kind = DIMENSIONS[dimension]
    if dimension == "time" and digits is None:
        return _show_time(value)
    unit, decimals = kind.us if system == "us" else kind.metric
    offset = OFFSET_K[unit] if dimension == "temperature" else 0.0
    number = f"{(value - offset) / kind.common[unit]:.{decimals if digits is None else digits}f}"
    if float(number) == 0.0:
        number = number.lstrip("-")
    return f"{number} {unit.replace('^2', '²').replace('^3', '³').replace('*', '·')}"


class _RefusedError(Exception):
    """Why a text is no quantity of the dimension wanted; `parse` turns it into an InputError."""

    def __init__(self, wrong: str, todo: str) -> None:
        super().__init__(wrong)
        self.wrong = wrong
        self.todo = todo


def _plain(text: str, kind: Dimension, where: str) -> str:
    """Return `text` with its typographic variants made plain, or refuse what is empty or far too long."""
    if len(text) > LONGEST_TEXT:
        short = f"{len(text)} characters"
        raise InputError(where, "is too long to be a quantity", value=short, allowed=f"write {kind.example}")
    plain = unicodedata.normalize("NFKC", text.translate(_PLAIN)).strip()
    if not plain:
        raise InputError(where, "is empty", allowed=f"write {kind.name} such as {kind.example}")
    if not plain.isprintable():
        raise InputError(where, "holds control characters", value=ascii(plain), allowed=f"write {kind.example}")
    return plain


def _number(text: str) -> float:
    """Read a number; a comma is a decimal comma unless it could as well part thousands."""
    if re.fullmatch(r"[+-]?[0-9]{1,3},[0-9]{3}", text) and not text.lstrip("+-").startswith("0,"):
        whole, _, rest = text.partition(",")
        raise _RefusedError("can be read in two ways", f"write {whole}.{rest} or {whole}{rest}")
    return float(text.replace(",", "."))


def _tidy(unit: str) -> str:
    """Return a unit in one spelling of its operators: "g / m2" is "g/m^2"."""
    return _POWER.sub(r"^\1", _OPERATOR.sub(r"\1", " ".join(unit.replace("**", "^").split())))


def _sum_of_parts(plain: str, dimension: str) -> float | None:
    """Add up "1 h 30 min"; None where the text is not two or more parts, each a number and a unit."""
    parts = _PART.findall(plain) if _SUM.fullmatch(plain) else []
    common = DIMENSIONS[dimension].common
    if not parts or not all(unit in common for _, unit in parts):
        return None
    numbers = [_number(number) for number, _ in parts]
    factors = [common[unit] for _, unit in parts]
    if any(number[0] in "+-" for number, _ in parts) or sorted(factors, reverse=True) != factors:
        raise _RefusedError("is not a sum, largest unit first", "write for instance 1 h 30 min, 5 ft 6 in or 1 lb 2 oz")
    return sum(_scaled(number, factor) for number, factor in zip(numbers, factors, strict=True))


def _convert(number: float, unit: str, dimension: str) -> float:
    """Return `number` in `unit` as a value of the core for `dimension`."""
    kind = DIMENSIONS[dimension]
    want = f"write {kind.name} such as {kind.example}"
    if dimension == "temperature" and unit in OFFSET_K:
        value = number * kind.common[unit] + OFFSET_K[unit]
        if value < 0:
            raise _RefusedError("is below absolute zero", want)
        return value
    if dimension == "fraction" and not unit and not 0 <= number <= 1:
        raise _RefusedError("is not between 0 and 1 and has no % sign", want)
    if unit in kind.common:
        return _scaled(number, kind.common[unit])
    if dimension == "linear_density" and unit == "yd/lb" and number > 0:
        return TEX_YARDS_PER_POUND / number
    if not unit:
        raise _RefusedError("has no unit", want)
    _refuse_double_readings(number, unit, dimension)
    factor, offset = _asked(unit, dimension)
    value = _scaled(number, factor) + (offset if dimension == "temperature" else 0.0)
    if dimension == "temperature" and value < 0:
        raise _RefusedError("is below absolute zero", want)
    return value


def _scaled(number: float, factor: float) -> float:
    """Return number x factor; by division where that is exact, so that 700 mPa*s is 0.7 and not a hair more."""
    inverse = 1.0 / factor
    return number / inverse if inverse > 1.0 and inverse.is_integer() else number * factor


def _refuse_double_readings(number: float, unit: str, dimension: str) -> None:
    """Refuse units that the trade reads in two ways, and show both readings."""
    if dimension == "areal_weight" and unit in ("oz", "ounce", "ounces"):
        cloth, mat = (number * DIMENSIONS[dimension].common[per] for per in ("oz/yd^2", "oz/ft^2"))
        raise _RefusedError(
            "does not say ounces per what",
            f"write {number:g} oz/yd^2 for cloth ({cloth:.4g} g/m^2) or {number:g} oz/ft^2 for mat ({mat:.4g} g/m^2)",
        )
    if dimension == "volume" and unit in _AMBIGUOUS_VOLUMES:
        name = "gal" if unit.startswith("gal") else "fl oz"
        american, imperial = (number * DIMENSIONS[dimension].common[f"{of} {name}"] * 1e6 for of in ("US", "imp"))
        raise _RefusedError(
            "does not say whose measure",
            f"write {number:g} US {name} ({american:.4g} ml) or {number:g} imp {name} ({imperial:.4g} ml)",
        )


@lru_cache(maxsize=512)
def _asked(unit: str, dimension: str) -> tuple[float, float]:
    """Ask pint how many core units `unit` is, and where its zero is; one of another dimension is named."""
    kind = DIMENSIONS[dimension]
    want = f"write {kind.name} such as {kind.example}"
    for other in DIMENSIONS.values():
        if unit in other.common:
            raise _RefusedError(f"is {other.name}, not {kind.name}", want)
    if not _PRODUCT.fullmatch(unit):
        raise _RefusedError(f"has a unit that cannot be read: {unit}", want)
    import pint  # here, because its import costs more than the app's first frame

    ureg = _registry()
    core = ureg.parse_units(kind.core or "dimensionless")
    try:
        given = ureg.parse_units(f"1{unit}" if unit.startswith("/") else unit.replace(" ", "*"))
        if not kind.core and str(ureg.get_root_units(given)[1]) != "dimensionless":
            raise _RefusedError(f"is no share: {unit}", want)
        zero, one = (float(ureg.convert(number, given, core)) for number in (0.0, 1.0))
        if abs(float(ureg.convert(2.0, given, core)) - (2.0 * one - zero)) > 1e-9 * abs(one - zero):
            raise _RefusedError(f"has a unit that is no plain multiple: {unit}", want)
    except pint.DimensionalityError:
        names = (other.name for other in DIMENSIONS.values() if other.core and _same_kind(given, other.core))
        raise _RefusedError(f"is {next(names, 'another kind of quantity')}, not {kind.name}", want) from None
    except (pint.PintError, ValueError, ArithmeticError):  # nan and inf are numbers to pint; a decibel of 0 is none
        raise _RefusedError(f"has an unknown unit: {unit}", want) from None
    return one - zero, zero


def _same_kind(given: object, core: str) -> bool:
    """Whether a pint unit has the dimensionality of a core unit."""
    return bool(_registry().is_compatible_with(given, core))


@cache
def _registry() -> UnitRegistry[float]:
    """Build pint's registry, with the equivalent of a resin as the mole that it counts."""
    import pint

    ureg: UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=False)
    ureg.define("@alias mole = eq")
    return ureg


def _show_time(value_s: float) -> str:
    """Write seconds as people say them: 90 s, 45 min, 2 h 30 min, 7 d."""
    sign = "-" if value_s < 0 else ""
    seconds = abs(value_s)
    if seconds < 120:
        return f"{sign}{seconds:.0f} s"
    minutes = round(seconds / 60)
    if minutes < 100:
        return f"{sign}{minutes} min"
    if minutes < 48 * 60:
        return f"{sign}{minutes // 60} h" + (f" {minutes % 60} min" if minutes % 60 else "")
    return f"{sign}{minutes / 1440:.3g} d"
