"""Read what a mould went through, or will: stages in words, or a logger's file."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from pathlib import Path

from layup.chemistry.history import History
from layup.commands.reading import BARE_NUMBER, quantity
from layup.errors import InputError, StorageError
from layup.units import parse

STAGES_EXAMPLE = '"20 degC:12 h, 45 degC:6 h", "18 degC to 6 degC:8 h" for a slow change, or a CSV file'
CHANGE_S = 60.0
"""From one stage to the next the mould takes a minute, unless the stage itself is shorter."""
LONGEST_FILE = 5_000_000
UNIT_IN_HEADING = re.compile(r".*[\[(_]\s*([^\])_]+?)\s*[\])]?\s*\Z")
DIMENSIONS = ("time", "temperature")


def read_history(text: str, assumed: list[str]) -> tuple[History, float]:
    """Return the mould's temperatures as points, and the time [s] at which what is known of them ends."""
    if text.lower().endswith(".csv"):
        history = tuple(_rows(Path(text), assumed))
        if len(history) < 2:
            raise InputError(text, "holds fewer than two readings", allowed="a time and a temperature on each line")
        start_s = history[0][0]
        points = tuple((time_s - start_s, temperature_K) for time_s, temperature_K in history)
    else:
        points = tuple(_stages(text, assumed))
    return points, points[-1][0]


def _stages(text: str, assumed: list[str]) -> Iterator[tuple[float, float]]:
    """Yield the corners of stages written one after the other."""
    start_s = 0.0
    for i, stage in enumerate(text.split(",")):
        warmth, colon, time = stage.partition(":")
        if not colon:
            raise InputError(
                "--temps",
                "has a stage without its time",
                value=stage.strip() or text,
                allowed=f"write {STAGES_EXAMPLE}",
            )
        lasts_s = quantity(time.strip(), "time", assumed, where="time of a stage")
        if lasts_s <= 0.0:
            raise InputError("--temps", "has a stage without length", value=stage.strip(), allowed="above 0")
        first, slow, last = warmth.partition(" to ")
        first_K = quantity(first.strip(), "temperature", assumed, where="temperature of a stage")
        last_K = quantity(last.strip(), "temperature", assumed, where="temperature of a stage") if slow else first_K
        yield (start_s if i == 0 else start_s + min(CHANGE_S, 0.5 * lasts_s)), first_K
        start_s += lasts_s
        yield start_s, last_K
    if "," in text:
        assumed.append("from one stage to the next the mould takes a minute; write A to B:time for a slow change")


def _rows(path: Path, assumed: list[str]) -> Iterator[tuple[float, float]]:
    """Yield (time_s, temperature_K) from a file of two columns, with units in the cells or in the heading."""
    units = ["", ""]
    for number, cells in enumerate(csv.reader(_text(path).splitlines()), 1):
        if not any(cell.strip() for cell in cells):
            continue
        if len(cells) < 2:
            raise InputError(f"{path}:{number}", "has one column", allowed="a time and a temperature", value=cells[0])
        if number == 1 and not any(cell.strip()[:1].isdigit() or cell.strip()[:1] in "+-" for cell in cells[:2]):
            units = [_heading_unit(cell, dimension) for cell, dimension in zip(cells, DIMENSIONS, strict=False)]
            continue
        where = f"{path}:{number}"
        time, warmth = (_with_unit(cell, unit) for cell, unit in zip(cells[:2], units, strict=True))
        noted: list[str] = []
        yield (
            quantity(time, "time", noted, where=f"{where}: time"),
            quantity(warmth, "temperature", noted, where=f"{where}: temperature"),
        )
        if noted and not any("minutes" in line for line in assumed):
            assumed.append(f"{path.name}: times are in minutes and temperatures in °C where no unit is given")


def _heading_unit(cell: str, dimension: str) -> str:
    """Return the unit that "time [h]" or "temperature_degC" names, or nothing."""
    match = UNIT_IN_HEADING.match(cell)
    try:
        parse(f"1 {match[1]}" if match else "", dimension)
    except InputError:
        return ""
    return match[1] if match else ""


def _with_unit(cell: str, unit: str) -> str:
    return f"{cell.strip()} {unit}" if unit and BARE_NUMBER.match(cell) else cell.strip()


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > LONGEST_FILE:
            raise InputError(str(path), "is too large for a temperature log", allowed="at most 5 MB")
        return path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise StorageError(str(path), "cannot be read", value=error.strerror, todo="check the path") from None
    except UnicodeDecodeError:
        raise InputError(str(path), "is no text file", todo="save it as CSV, UTF-8") from None
