"""The outline of a board as a form has it: what shape it needs, and how ends that no station reaches are closed."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from contextlib import suppress
from typing import Any

from layup.errors import InputError, Problem
from layup.files.plan_file import PlanFile
from layup.files.writing import written
from layup.planning.outline import COVERED
from layup.units import length, parse

SHAPES = "widths, an area or a drawing"


def gaps_m(data: Mapping[str, Any]) -> tuple[float, float] | None:
    """Return how far the ends lie beyond the first and the last station; None where nothing is between."""
    outline = data.get("outline", {})
    with suppress(InputError, AttributeError, KeyError, TypeError, ValueError):
        at = [parse(str(each["at"]), "length") for each in outline["stations"]]
        end_m = parse(str(outline["length"]), "length")
        gaps = min(at), end_m - max(at)
        return gaps if max(gaps) > COVERED * end_m else None
    return None


def settled(text: str) -> str:
    """Return a text with what follows: ends close round that no station reaches, a face that drinks nothing is dry."""
    data = tomllib.loads(text)
    for number, step in enumerate(data.get("steps", [])):
        with suppress(InputError, AttributeError):
            if step.get("kind") == "bond" and parse(str(step.get("uptake")), "areal_weight") == 0.0:
                dry = {"kind": "place"} | dict.fromkeys(("surface", "uptake", "coverage", "area", "presealed"))
                text = written(text, {("steps", number, key): value for key, value in dry.items()}, PlanFile)
    if gaps_m(data) is None or "ends" in data["outline"]:
        return text
    return written(text, {("outline", "ends"): "round"}, PlanFile)


def ends_words(data: Mapping[str, Any]) -> str:
    """Say how the ends of an outline are closed beyond its stations."""
    gaps, outline = gaps_m(data), data.get("outline", {})
    if gaps is None or outline.get("ends") is None:
        return ""
    tip_m, tail_m = gaps if outline.get("measured_from") == "tip" else gaps[::-1]
    return f"ends {outline['ends']}: {length.digits(tip_m)} tip, {length(tail_m)} tail"


def has_shape(data: Mapping[str, Any]) -> bool:
    """Return whether a plan's outline has what gives a piece its shape."""
    return any(data.get("outline", {}).get(key) for key in ("stations", "area", "file"))


def shape_asked(problem: Problem, data: Mapping[str, Any]) -> Problem:
    """Return a problem as the form has it: what is not there yet is missing at its field, and not wrong."""
    if problem.message.startswith("needs a volume or a channel"):
        step = problem.key.removesuffix(".kind")
        return problem._replace(key=step, message="channel is missing", hint="8 x 12 mm, or a volume")
    if problem.message.endswith("second pigment needs a loading"):
        return problem._replace(message="loading is missing", hint="of each colour: 2 %")
    if problem.message.startswith("has no fibre fraction"):
        return problem._replace(key="", message="target_fibre_fraction is missing")
    if has_shape(data) or (problem.key != "outline" and problem.message != "outline is missing"):
        return problem
    return problem._replace(key="outline", message="stations is missing", hint=SHAPES)
