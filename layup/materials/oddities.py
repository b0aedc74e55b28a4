"""What a resin file may state and hardly means: numbers that no datasheet has, or that do not go together.

The limits are common practice, no source; what is found is a warning, and the file stays usable.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from math import log

from layup.chemistry.datasheet import Datasheet
from layup.errors import Problem
from layup.materials.problems import problem_at
from layup.materials.toml_lines import Document, KeyPath
from layup.units import show

STATED_AT_K = (278.15, 333.15)
"""Pot lives, film times and viscosities of a laminating resin are stated at 5 to 60 degC."""
STEEPEST_K = 20_000.0
"""B of ln(viscosity) = A + B/T; laminating mixes have 5000 to 12000. This one is three times thinner within 5 K."""
CHECK = "check the number and its unit"


def oddities(document: Document, sheet: Datasheet) -> Iterator[Problem]:
    """Yield a warning for each number of a datasheet that is hardly meant."""
    for path, words in (*_temperatures(sheet), *_viscosities(sheet), *_cure(sheet)):
        yield problem_at(document, path, words, CHECK, warning=True)


def _temperatures(sheet: Datasheet) -> Iterator[tuple[KeyPath, str]]:
    low_K, high_K = STATED_AT_K
    stated_K = {
        "pot_life": [point.temperature_K for point in sheet.pot_lives],
        "film": [point.temperature_K for point in sheet.films],
        "viscosity": [point.temperature_K for point in sheet.viscosities],
    }
    for table, temperatures_K in stated_K.items():
        for place, temperature_K in enumerate(temperatures_K):
            if not low_K <= temperature_K <= high_K:
                usual = f"datasheets state this at {_celsius(low_K)} to {_celsius(high_K)}"
                yield (table, place, "temperature"), f"is {_celsius(temperature_K)}, and {usual}"


def _viscosities(sheet: Datasheet) -> Iterator[tuple[KeyPath, str]]:
    stated = sorted(enumerate(sheet.viscosities), key=lambda each: each[1].temperature_K)
    for (_, cold), (place, warm) in pairwise(stated):
        apart_K = warm.temperature_K - cold.temperature_K
        fall = log(cold.viscosity_Pa_s / warm.viscosity_Pa_s)
        if fall * cold.temperature_K * warm.temperature_K > STEEPEST_K * apart_K:
            thinner = f"{cold.viscosity_Pa_s / warm.viscosity_Pa_s:.3g} times thinner than {apart_K:.3g} K colder"
            yield ("viscosity", place, "value"), f"is {thinner}: no mix thins so fast as it warms"


def _cure(sheet: Datasheet) -> Iterator[tuple[KeyPath, str]]:
    if not sheet.demould:
        return
    coldest_K = min(point.temperature_K for point in sheet.demould)
    minimum_K = sheet.minimum_temperature_K
    if minimum_K is not None and minimum_K > coldest_K:
        words = f"is {_celsius(minimum_K)}, and a demoulding time is stated at {_celsius(coldest_K)}, which is colder"
        yield ("cure", "minimum_temperature"), words
    warmest_K = max((point.temperature_K for point in sheet.post_cure), default=coldest_K)
    if warmest_K < coldest_K:
        words = f"is at {_celsius(warmest_K)} at most, colder than any demoulding time is stated for"
        yield ("cure", "post_cure"), words


def _celsius(temperature_K: float) -> str:
    return show(temperature_K, "temperature", digits=0)
