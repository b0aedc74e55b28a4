"""The edge where quantities are text: what people write becomes plain floats in the core's units, and back.

Numbers are read here, by a strict grammar, and nothing is ever evaluated. Spellings that every file uses are in
`dimensions` with their exact factor, so that a workshop loads without pint; every other unit, and product of units, is
asked of pint's registry, which is built at its first use. Tests hold the tables against pint's own definitions.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import cache, lru_cache
from math import isfinite
from typing import TYPE_CHECKING, get_args

from layup.dimensions import DIMENSIONS, OFFSET_K, TEX_YARDS_PER_POUND, Dimension, System
from layup.errors import InputError

if TYPE_CHECKING:
    from datetime import date, datetime

    from pint import UnitRegistry

LONGEST_TEXT = 60
"""No quantity needs more characters; longer text is refused before it is read."""

SYSTEMS: tuple[System, ...] = get_args(System)
_NUMBER = r"[+-]?(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,3})?"
_SUM = re.compile(rf"(?:{_NUMBER}\s*[A-Za-z'\"]+\s*){{2,}}")
_PART = re.compile(rf"({_NUMBER})\s*([A-Za-z'\"]+)")
_FIRST_NUMBER = re.compile(rf"\s*({_NUMBER})\s*(.*)", re.DOTALL)
_HOURS = re.compile(r"^([0-9]{1,3})\s*h\s*([0-5]?[0-9])$")
_CLOCK = re.compile(r"([0-9]{1,3}):([0-5][0-9])")
_FACTOR = r"[A-Za-z_]+(?:\^-?[1-4])?"
_PRODUCT = re.compile(rf"(?:1?/)?{_FACTOR}(?:[*/ ]{_FACTOR})*")
_OPERATOR = re.compile(r" ?([*/^]) ?")
_POWER = re.compile(r"(?<=[A-Za-z])([1-4])(?![0-9])")
_PLAIN = str.maketrans("\u2212\u00b7\u22c5\u00b5\u03bc\u2032\u2033", "-**uu'\"")
"""Typographic minus, dots, micro signs and primes, as a keyboard has them."""
_AMBIGUOUS_VOLUMES = ("fl oz", "floz", "gal", "gallon", "gallons")


def parse(text: str, dimension: str, *, where: str = "") -> float:
    """Read `text` ("6 oz/yd^2", "25 degC", "1 h 30 min", "1 h 30") as a float in the core's unit for `dimension`.

    Raises InputError, and nothing else, when the text is not a quantity of that dimension.
    """
    kind = DIMENSIONS[dimension]
    where = where or kind.name.partition(" ")[2]
    plain = _plain(text, kind, where)
    if dimension == "time":
        plain = _HOURS.sub(r"\1 h \2 min", plain)
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


def spelled(text: str, dimension: str, *, bare_unit: str = "") -> str:
    """Return a quantity that was typed as a file has it: "45min", "0:45" and a bare 45 are "45 min", 77F is "77 degF".

    Hours and minutes, 1:50 or 1h50, are "1 h 50 min"; a bare number is in `bare_unit`, else in the unit people see.
    Raises InputError as `parse` does.
    """
    plain = text.strip()
    if hours := _CLOCK.fullmatch(plain) or _HOURS.fullmatch(plain) if dimension == "time" else None:
        parts = ((int(hours[1]), "h"), (int(hours[2]), "min"))
        plain = " ".join(f"{number} {unit}" for number, unit in parts if number) or "0 min"
    else:
        plain = with_unit(plain, bare_unit or usual_unit(dimension))
    value = parse(plain, dimension)
    common, match = DIMENSIONS[dimension].common, _FIRST_NUMBER.fullmatch(plain)
    unit = _tidy(match[2].translate(_PLAIN)) if match else ""
    if match is None or unit not in common:
        return re.sub(r"(?<=[0-9])(?=[A-Za-z])", " ", " ".join(plain.split()))
    plain = f"{match[1].replace(',', '.').lstrip('+')} {_typed(unit, dimension)}".strip()
    return plain if parse(plain, dimension) == value else text.strip()


def with_unit(text: str, unit: str) -> str:
    """Return what was typed, with a unit where it is a bare number."""
    return f"{text.strip()} {unit}" if unit and re.fullmatch(_NUMBER, text.strip()) else text.strip()


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


# -- printing --------------------------------------------------------------------------------------------------------


@dataclass(slots=True)
class _Choice:
    """The one switch: the units that people see, on every screen, sheet and report."""

    system: System = "metric"


_choice = _Choice()


def use_units(name: str) -> None:
    """Choose the units that people see from here on: "metric", or "us" for oz, °F, psi, in and ft."""
    if name not in SYSTEMS:
        raise InputError("units", "are not known", value=name, allowed=" or ".join(SYSTEMS))
    _choice.system = SYSTEMS[SYSTEMS.index(name)]


def system() -> System:
    """Return the units that people see now."""
    return _choice.system


@dataclass(frozen=True, slots=True)
class Printed:
    """How a quantity is printed: in the units of its dimension, or in its `own`, one of each system."""

    dimension: str
    own: tuple[str, ...] = ()

    @property
    def unit(self) -> str:
        return self.own[SYSTEMS.index(_choice.system)] if self.own else DIMENSIONS[self.dimension].shown(system())[0]

    def number(self, value: float) -> float:
        """Return the number that stands before the unit."""
        factor = DIMENSIONS[self.dimension].common[self.unit]
        offset = OFFSET_K[self.unit] if self.dimension == "temperature" else 0.0
        inverse = 1.0 / factor
        return (value - offset) * inverse if inverse.is_integer() else (value - offset) / factor

    def value(self, number: float) -> float:
        """Return the value of the core for a number before the unit."""
        offset = OFFSET_K[self.unit] if self.dimension == "temperature" else 0.0
        return number * DIMENSIONS[self.dimension].common[self.unit] + offset

    def digits(self, value: float, form: str = ".0f") -> str:
        """Write the number alone; `form` is that of the metric number."""
        if _choice.system != "metric":
            kind = DIMENSIONS[self.dimension]
            more = 0 if self.own else kind.shown(system())[1] - kind.metric[1]
            form = f".{max(int(form[1:-1]) + more, 0)}f" if form.endswith("f") else ".4g"
        text = format(self.number(value), form)
        return text.lstrip("-") if float(text) == 0.0 else text

    def __call__(self, value: float, form: str = ".0f") -> str:
        """Write a value of the core with its unit."""
        return f"{self.digits(value, form)} {self.sign}"

    @property
    def sign(self) -> str:
        """The unit as people see it."""
        return _signs(self.unit)


temperature, temperature_change = Printed("temperature"), Printed("temperature_difference")
mass, load = Printed("mass"), Printed("mass", ("kg", "lb"))
length, cloth_length = Printed("length"), Printed("length", ("m", "ft"))
area, volume, areal_weight = Printed("area"), Printed("volume"), Printed("areal_weight")
pressure, force, torque = Printed("pressure"), Printed("force"), Printed("torque")
power, energy, viscosity = Printed("power"), Printed("energy"), Printed("viscosity")
"""How each kind of quantity is printed; called with a value of the core, and the form of its metric number."""


def show(value: float, dimension: str) -> str:
    """Write a value of the core as people read it."""
    if dimension == "time":
        return _show_time(value)
    return Printed(dimension)(value, f".{DIMENSIONS[dimension].metric[1]}f")


NEVER_BARE = ("temperature_difference", "power", "energy", "torque", "linear_density", "count", "fraction")


def usual_unit(dimension: str) -> str:
    """Return the unit that a bare number is taken to be in, as it is typed; empty where it is taken to be in none."""
    return "" if dimension in NEVER_BARE else _typed(Printed(dimension).unit, dimension)


def _typed(unit: str, dimension: str) -> str:
    """Return the first spelling of a unit that a keyboard has."""
    common = DIMENSIONS[dimension].common
    same = (each for each in common if common[each] == common[unit] and each.isascii())
    return next((each for each in same if OFFSET_K.get(each) == OFFSET_K.get(unit)), unit)


def temperature_limits(low_K: float, high_K: float, text: str) -> str:
    """Write two limits in the unit that `text` gives its own temperature in, or in the one people see."""
    said = text.strip().lower()[-1:]
    unit = (
        "°F" if said in ("f", "t") else "K" if said in ("k", "n") else "°C" if said in ("c", "s") else temperature.unit
    )
    low, high = ((kelvin - OFFSET_K[unit]) / DIMENSIONS["temperature"].common[unit] for kelvin in (low_K, high_K))
    return f"between {low:g} and {high:g} {unit}"


def temperature_hint() -> str:
    """Say what a bare number is where a temperature is asked for."""
    return f"{temperature.sign}, or {'20 C' if temperature.unit == '°F' else '68 F'}"


def in_minutes(time_s: float, form: str = ".0f") -> str:
    """Write a time in minutes: "12 min"."""
    return f"{format(time_s / 60.0, form)} min"


def in_hours(time_s: float, form: str = ".0f") -> str:
    """Write a time in hours: "12 h"."""
    return f"{format(time_s / 3600.0, form)} h"


def hours_of_band(low_s: float, high_s: float, form: str = ".0f") -> str:
    """Write the ends of an 80 % band beside its likely hours: "80 %: 9 to 14", or "to never"."""
    return f"80 %: {format(low_s / 3600.0, form)} to {format(high_s / 3600.0, form) if isfinite(high_s) else 'never'}"


def in_seconds(time_s: float, form: str = ".0f") -> str:
    """Write a time in seconds: "12 s"."""
    return f"{format(time_s, form)} s"


def minutes(time_s: float) -> str:
    """Write a time as people say it: "45 s", "12 min" or "2 h 05 min"; one that is over is "0 s"."""
    if time_s < 59.5:
        return in_seconds(max(time_s, 0.0))
    whole = round(time_s / 60.0)
    return f"{whole} min" if whole < 120 else f"{whole // 60} h {whole % 60:02d} min"


def spare_of(time_s: float, lacking: str = "too late") -> str:
    """Write what there is to spare, or below zero how much is `lacking`: "12 min spare", "under 1 min too late"."""
    return f"{minutes(abs(time_s)) if abs(time_s) >= 60.0 else 'under 1 min'} {'spare' if time_s >= 0.0 else lacking}"


def countdown(left_s: float) -> str:
    """Write a time left as digits: 31:20, 1:05:00, and +2:10 once it is over; +125 is minutes."""
    seconds = int(abs(left_s))
    whole, hours = seconds // 60, seconds // 3600
    if left_s < 0 and seconds:
        return f"+{whole}:{seconds % 60:02d}" if whole < 100 else f"+{whole}"
    return f"{hours}:{whole % 60:02d}:{seconds % 60:02d}" if hours else f"{whole}:{seconds % 60:02d}"


def time_left(left_s: float) -> str:
    """Write a time left as it is read from afar: 8:08 below ten minutes, 28 min, 2 h 35, and +4:26 once it is over."""
    if abs(left_s) < 600.0:
        return countdown(left_s)
    whole = int(abs(left_s)) // 60
    sign = "+" if left_s < 0 else ""
    return f"{sign}{whole} min" if whole < 120 else f"{sign}{whole // 60} h {whole % 60:02d}"


def clock_time(moment: datetime, today: date | None = None, *, seconds: bool = False) -> str:
    """Write a moment as the clock on the wall shows it, with its weekday, or date beyond a week, where not `today`."""
    days = 0 if today is None else abs((moment.date() - today).days)
    return f"{moment:{'%a ' if 0 < days < 7 else '%d %b ' if days else ''}%H:%M{':%S' if seconds else ''}}"


def day_and_month(day: date) -> str:
    """Write a day of this year: 28 Nov."""
    return f"{day.day} {day:%b}"


def day_clock(at_s: float) -> str:
    """Write a time of day, in seconds from midnight, as the clock on the wall shows it."""
    whole = int(at_s) // 60
    return f"{whole // 60:02d}:{whole % 60:02d}"


def moment(at: datetime) -> str:
    """Write a moment of some day: weekday, date and the clock on the wall."""
    return f"{at:%a %d %b %H:%M}"


def moment_of_year(at: datetime) -> str:
    """Write a moment of any year, for where a clock itself may be wrong."""
    return f"{at:%a %d %b %Y %H:%M}"


def utc_stamp(at: datetime) -> str:
    """Write a moment in UTC as files and reports have it: 2026-03-07 08:00 UTC."""
    return f"{at:%Y-%m-%d %H:%M} UTC"


def axis_time(at: datetime) -> str:
    """Write a moment under an axis: the hour, and the weekday at midnight."""
    return f"{at:%a}" if at.hour == 0 else f"{at:%H}"


def _signs(unit: str) -> str:
    return unit.replace("^2", "²").replace("^3", "³").replace("*", "·")


def _show_time(value_s: float) -> str:
    """Write seconds as people say them: 90 s, 45 min, 2 h 30 min, 7 d."""
    sign = "-" if value_s < 0 else ""
    seconds = abs(value_s)
    if seconds < 120:
        return f"{sign}{seconds:.0f} s"
    whole = round(seconds / 60)
    if whole < 100:
        return f"{sign}{whole} min"
    if whole < 48 * 60:
        return f"{sign}{whole // 60} h" + (f" {whole % 60} min" if whole % 60 else "")
    return f"{sign}{whole / 1440:.3g} d"
