"""Read the shop's forecast: one temperature, a day's swing, times of day with temperatures, or a CSV file of both."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator
from datetime import datetime
from pathlib import Path

from layup.chemistry.temperature import DAY_S, History, course_K, swing
from layup.dimensions import ZERO_CELSIUS_K
from layup.errors import InputError, RangeError, StorageError
from layup.units import parse

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
        raise InputError(where, "is no date", value=text, allowed=allowed) from None
    if wanted.tzinfo is not None or not datetime(1990, 1, 1) < wanted < datetime(2200, 1, 1):
        raise InputError(where, "is no date of this shop", value=text, allowed="one by its own clock")
    return wanted


def _word(point: str) -> tuple[str, str]:
    """Return the time and the temperature of "15:00 16 degC"."""
    time, blank, warmth = point.strip().partition(" ")
    if not blank:
        raise InputError("forecast", "has a time without its temperature", value=point.strip(), allowed=EXAMPLES)
    return time, warmth.strip()


def text_of_log(path: Path) -> str:
    """Return the text of a file of times and temperatures.

    Raises InputError or StorageError where it cannot be read.
    """
    try:
        if path.stat().st_size > LARGEST:
            raise InputError(str(path), "is too large for a temperature log", allowed="at most 5 MB")
        return path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise StorageError(str(path), "cannot be read", value=error.strerror, todo="check the path") from None
    except UnicodeDecodeError:
        raise InputError(str(path), "is no text file", todo="save it as CSV, UTF-8") from None


def _cells(path: Path) -> Iterator[tuple[str, str, str]]:
    """Yield (place, time, temperature) from a file, its heading left out."""
    unit = ""
    for number, cells in enumerate(csv.reader(text_of_log(path).splitlines()), 1):
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) < 2:
            raise InputError(f"{path}:{number}", "has one column", allowed="a time and a temperature", value=cells[0])
        if number == 1 and not any(letter.isdigit() for letter in cells[0]):
            unit = "degF" if cells[1].strip().rstrip(")]").lower().endswith("f") else "degC"
            continue
        bare = re.fullmatch(r"\s*[-+]?\d+(\.\d+)?\s*", cells[1]) is not None
        yield f"{path}:{number}", cells[0].strip(), f"{cells[1].strip()} {unit or 'degC'}" if bare else cells[1].strip()


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
