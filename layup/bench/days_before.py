"""The days before as a form has them: an act a line, "glue the core 2 h", what it waits for behind an "after"."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from typing import Any

from layup.bench.typed import NUMBER
from layup.errors import InputError
from layup.files.plan_file import PlanFile
from layup.files.toml import KeyPath
from layup.files.writing import arranged, written
from layup.units import spelled

_CAST = re.compile(r"(?:cast|pour)(?:s|ing|ings)?\b", re.IGNORECASE)
_SPENT = re.compile(
    rf"(?P<name>.*\S)\s+(?P<time>{NUMBER}\s?(?:min\w*|h|hours?|d|days?))(?P<alone>,?\s+(?:alone|by itself|unattended))?"
    r"(?:,?\s+after\s+(?P<after>.+))?"
)


def act_words(act: Mapping[str, Any]) -> str:
    """Return an act as it is typed."""
    alone = " alone" if act.get("hands") is False else ""
    after = f" after {', '.join(map(str, act['after']))}" if act.get("after") else ""
    return f"{act.get('name', '?')} {act.get('time', '?')}{alone}{after}"


def acts(text: str, known: Sequence[str]) -> list[dict[str, object]]:
    """Return the acts that a line tells, parted by ; each may wait for one of `known`, or for one before it there."""
    found: list[dict[str, object]] = []
    for item in filter(None, (part.strip() for part in text.split(";"))):
        if _CAST.match(item):
            raise InputError("act", "is a casting", value=item, todo="type it in STACK: cast tips 60 ml in red")
        match = _SPENT.fullmatch(item)
        if match is None:
            todo = "say how long: glue the core 2 h, or 12 h alone"
            raise InputError("act", "cannot be read", value=item, todo=todo)
        name, names = match["name"], [*known, *(str(each["name"]) for each in found)]
        act: dict[str, object] = {"name": name[:1].upper() + name[1:], "time": spelled(match["time"], "time")}
        if match["after"]:
            act["after"] = _waited_for(match["after"], names)
        found.append(act | ({"hands": False} if match["alone"] else {}))
    return found


def with_acts(text: str, place: KeyPath, typed: str) -> str:
    """Return a file's text with the acts that are typed at a place of its list, at the end where there is none."""
    there = tomllib.loads(text).get("before", [])
    told = acts(typed, [str(each.get("name")) for each in there])
    at = int(place[0]) if place else len(there)
    if len(told) != 1 or at == len(there):
        order: list[int | Mapping[str, object]] = [*range(at), *told, *range(at + 1, len(there))]
        return arranged(text, ("before",), order, PlanFile)
    changes: dict[KeyPath, object] = {
        ("before", at, key): told[0].get(key) for key in ("name", "time", "after", "hands")
    }
    for number, each in enumerate(there):
        if there[at].get("name") in each.get("after", []) and number != at:
            names = [told[0]["name"] if name == there[at]["name"] else name for name in each["after"]]
            changes["before", number, "after"] = names
    return written(text, changes, PlanFile)


def _waited_for(text: str, names: Sequence[str]) -> list[str]:
    """Return the names in a text: those that are known as a whole, or by how they begin; else as they are typed."""
    left, waited = text, list[str]()
    while left:
        known = [name for name in names if re.match(rf"{re.escape(name)}(?:\s*,\s*|$)", left, re.IGNORECASE)]
        part = max(known, key=len) if known else left.partition(",")[0].strip()
        begun = {name for name in names if name.lower().startswith(part.lower())}
        waited.append(part if known or len(begun) != 1 else begun.pop())
        left = left[len(part) :].lstrip(" ,")
    return waited
