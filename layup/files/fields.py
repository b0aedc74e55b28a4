"""The kinds of value that resin and plan files hold, checked as they are read."""

from __future__ import annotations

import datetime
from math import isfinite
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from layup.dimensions import ZERO_CELSIUS_K
from layup.errors import InputError
from layup.units import parse, show

LONGEST_TITLE = 120
LONGEST_TEXT = 2000
UNLIMITED = float("inf")
LARGEST_WHOLE = 10**15
"""Whole numbers up to here are exact as floats; no file needs a larger one."""


class FileModel(BaseModel):
    """A table of a file: frozen, and a key that it does not know is an error."""

    model_config = ConfigDict(extra="forbid", frozen=True, defer_build=True)


class CoreTable(FileModel):
    """A table that becomes one plain object of the core; what the core refuses is a problem of the table."""

    def core(self) -> object:
        """Return the same facts as plain data of the core."""
        raise NotImplementedError

    @model_validator(mode="after")
    def _core_accepts_it(self) -> Self:
        self.core()
        return self


def _refuse(wrong: str, value: object, todo: str) -> InputError:
    return InputError("value", wrong, value=None if value is None else printable(value), allowed=todo)


def printable(value: object) -> str:
    """Return a short text of `value` that is safe on a terminal and holds no line break."""
    if isinstance(value, dict | list):
        return "a table" if isinstance(value, dict) else "a list"
    if isinstance(value, int) and abs(value) >= LARGEST_WHOLE:
        return "a huge number"
    text = value if isinstance(value, str) else str(value)
    text = text if text.isprintable() else ascii(text)[1:-1]
    return text if len(text) <= 60 else f"{text[:57]}..."


def quantity(dimension: str, *, low: float = 0.0, high: float = UNLIMITED, inclusive: bool = False) -> BeforeValidator:
    """Check a text with a unit; between `low` and `high` in the core's unit, `low` itself only if `inclusive`."""

    def read(value: Any) -> float:  # Any: whatever TOML holds
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise _refuse("is not a quantity", value, 'write a text with a unit, such as "20 mm"')
        number = parse(value if isinstance(value, str) else printable(value), dimension)
        if dimension == "pressure" and number < 0.0:
            raise _refuse(
                "is below zero", value, f"write {show(-number, dimension)}: a bag's counts below the shop's air"
            )
        if number < low or number > high or (number == low and not inclusive):
            allowed = _allowed(show(low, dimension), show(high, dimension) if high < UNLIMITED else "", inclusive)
            raise _refuse("is out of range", value, allowed)
        return number

    return BeforeValidator(read)


def temperature(low_C: float, high_C: float) -> BeforeValidator:
    """Check a temperature between two limits in degrees Celsius, ends included."""
    return quantity("temperature", low=low_C + ZERO_CELSIUS_K, high=high_C + ZERO_CELSIUS_K, inclusive=True)


def number(
    *, low: float = 0.0, high: float = UNLIMITED, inclusive: bool = False, whole: bool = False
) -> BeforeValidator:
    """Check a plain number between `low` and `high`, `low` itself only if `inclusive`."""

    def read(value: Any) -> float | int:  # Any: whatever TOML holds
        if isinstance(value, bool) or not isinstance(value, int | float) or (whole and not isinstance(value, int)):
            wrong = "is not a whole number" if whole else "is not a number"
            raise _refuse(wrong, value, "write it plain, without quotes or unit")
        outside = value < low or value > high or (value == low and not inclusive)
        if outside or abs(value) >= LARGEST_WHOLE or not isfinite(value):
            raise _refuse(
                "is out of range", value, _allowed(f"{low:g}", f"{high:g}" if high < UNLIMITED else "", inclusive)
            )
        return value

    return BeforeValidator(read)


def count(most: int) -> BeforeValidator:
    """Check a whole number from 1 to `most`."""
    return number(low=1, high=most, inclusive=True, whole=True)


def text(longest: int = LONGEST_TITLE, *, empty: bool = False, breaks: bool = False) -> BeforeValidator:
    """Check a text: not `empty`, not too long, and no control characters, but line `breaks` where they may be."""

    def read(value: Any) -> str:  # Any: whatever TOML holds
        if not isinstance(value, str):
            raise _refuse("is not a text", value, "write it in quotes")
        if len(value) > longest:
            raise _refuse("is too long", f"{len(value)} characters", f"at most {longest}")
        if not empty and not value.strip():
            raise _refuse("is empty", None, "write a name")
        if not (value.replace("\n", " ") if breaks else value).isprintable():
            raise _refuse("holds control characters", value, "write plain text")
        return value

    return BeforeValidator(read)


def items(most: int, *, least: int = 0) -> BeforeValidator:
    """Check how many items a list has; without a bound, a file of a megabyte would be planned for hours."""

    def read(value: Any) -> Any:  # Any: whatever TOML holds
        if isinstance(value, list) and len(value) < least:
            raise _refuse("is empty", None, "at least one is needed")
        if isinstance(value, list) and len(value) > most:
            raise _refuse("has too many items", len(value), f"at most {most}")
        return value

    return BeforeValidator(read)


def _flag(value: Any) -> bool:  # Any: whatever TOML holds
    if not isinstance(value, bool):
        raise _refuse("is not true or false", value, "write true or false")
    return value


def _date(value: Any) -> str:  # Any: whatever TOML holds
    if isinstance(value, datetime.date):
        return value.isoformat()
    if not isinstance(value, str) or not value.isprintable() or len(value) > LONGEST_TITLE:
        raise _refuse("is not a date", value, "write it as 2024-05-31")
    return value


def _allowed(low: str, high: str, low_included: bool) -> str:
    if not high:
        return f"must be {'at least' if low_included else 'above'} {low}"
    return f"must be between {low} and {high}" + ("" if low_included else f", {low} excluded")


Title = Annotated[str, text()]
Note = Annotated[str, text(LONGEST_TEXT, empty=True, breaks=True)]
Flag = Annotated[bool, BeforeValidator(_flag)]
Date = Annotated[str, BeforeValidator(_date)]
Share = Annotated[float, quantity("fraction", high=1.0, inclusive=True)]
Mass = Annotated[float, quantity("mass")]
Length = Annotated[float, quantity("length", high=100.0)]
Time = Annotated[float, quantity("time")]
Area = Annotated[float, quantity("area")]
Volume = Annotated[float, quantity("volume")]
Density = Annotated[float, quantity("density", low=0.2, high=5.0)]
ArealWeight = Annotated[float, quantity("areal_weight", high=10_000.0)]
Viscosity = Annotated[float, quantity("viscosity")]
Pressure = Annotated[float, quantity("pressure")]
Force = Annotated[float, quantity("force")]
EquivalentWeight = Annotated[float, quantity("equivalent_weight")]
ShopTemperature = Annotated[float, temperature(-20, 120)]
OvenTemperature = Annotated[float, temperature(-50, 300)]
Price = Annotated[float, number(inclusive=True)]
Minutes = Annotated[float, number(high=1440.0, inclusive=True)]
Part = Annotated[float, number()]
Functionality = Annotated[float, number(low=2.0, high=100.0, inclusive=True)]


class FibreFraction(FileModel):
    """`target_fibre_fraction = { by = "weight", value = 0.62 }`."""

    by: Literal["weight", "volume"] = Field(description="weight or volume: which fibre fraction is meant")
    value: Annotated[float, number(high=1.0)] = Field(description="the fibre fraction, between 0 and 1")


def needed(example: str, description: str) -> Any:  # Any: what a key holds says its own type
    """Describe a key that must be there, and how it is written."""
    return Field(examples=[example], description=description)


def optional(description: str, default: object = None, *, example: str = "") -> Any:  # Any: as above
    """Describe a key that may be left out."""
    return Field(default=default, examples=[example] if example else None, description=description)


A_KIND = Field(description="fabric, bond, place or cast; it says which keys below may stand in the step")


class StepBase(CoreTable):
    """What every step has; its minutes are for all pieces together, with one pair of hands."""

    name: Title = needed('"Lower glass"', "what it is")
    minutes: Minutes = needed("10", "how long it takes one pair of hands, for all pieces")

    @property
    def bench_s(self) -> float:
        return self.minutes * 60.0
