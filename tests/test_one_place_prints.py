"""Degrees, and clocks and dates, are written in one place, so that another way to write them is one file."""

import re
from pathlib import Path

import layup

DEGREES = re.compile(r"°C|°F|- 273\.15")
ELSEWHERE = {
    "chemistry/climate.py",
    "chemistry/cure.py",
    "chemistry/life_band.py",
    "cli.py",
    "dimensions.py",
    "review/as_built.py",
    "bench/alarms.py",
    "units.py",
}
"""Tables and grammar of the units themselves, doctests and docstrings, and what a thermometer's bare number is."""


def test_degrees_are_written_in_the_units_alone():
    root = Path(layup.__file__).parent
    found = {str(path.relative_to(root)) for path in root.rglob("*.py") if DEGREES.search(path.read_text("utf-8"))}
    assert found == ELSEWHERE


PRINTED_MOMENT = re.compile(r"\{[^{}\n]*:[^{}\n]*%[aAbBdHMY]|strftime\(")
"""A moment in a format string, or asked for its words; a moment that is read (`strptime`) is none."""


def test_clocks_and_dates_are_written_in_the_units_alone():
    root = Path(layup.__file__).parent
    found = {
        str(path.relative_to(root)) for path in root.rglob("*.py") if PRINTED_MOMENT.search(path.read_text("utf-8"))
    }
    assert found == {"units.py"}
