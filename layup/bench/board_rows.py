"""The lines of a board form: the keys that they fill, how each is read, what it means, and how it stands."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

from layup.bench import typed
from layup.files.plan_file import PlanFile
from layup.files.tables import SURFACES
from layup.files.toml import KeyPath, key_name, models_in
from layup.units import areal_weight

# -- rows ------------------------------------------------------------------------------------------------------------

Read = Callable[[str], object]


@dataclass(frozen=True, slots=True)
class BoardField:
    """One line of the form: the key it fills, its name, how it is read, and how to type it."""

    key: str
    label: str
    read: Read | str
    """A function, or the dimension of a quantity."""
    example: str = ""
    choices: tuple[str, ...] = ()
    at_once: bool = True
    """Whether each key that is typed goes into the file; else all of it with Enter."""


YES_NO = ("yes", "no")
WAIT, WRITE = "", "WRITE IT"
"""The line that writes the file from where it has what an answer needs."""


SECTIONS = {
    "BOARD": (
        BoardField("title", "Title", str.strip, "Powder board 168"),
        BoardField("resin", "Resin", str.strip, "type to find", at_once=False),
        BoardField("pieces", "Pieces", typed.whole, "2, or 1 pair"),
        BoardField("people", "People", typed.whole, "2"),
        BoardField("shop.forecast", "Shop", typed.shop_day, "17, or 4 to 16 degC"),
        BoardField("target_fibre_fraction", "Fibre", typed.fibre_fraction, "50 % by volume, or 65 % w", at_once=False),
    ),
    "OUTLINE": (
        BoardField("outline.length", "Length", "length", "1680 mm or 168 cm"),
        BoardField("outline.stations", "Widths", str, "10 cm 60/66 · 0.3 m2 · board.dxf"),
        BoardField("outline.measured_from", "Measured from", str.strip, choices=("tip", "tail")),
        BoardField("outline.ends", "Ends", str.strip, choices=("round", "straight")),
    ),
    "STACK, from the mould up": (BoardField("steps", "add", str, "triax 750 · ash core 11 mm · veneer 0.6 mm"),),
    WAIT: (BoardField("", WRITE, str.strip, "or go on: what follows can wait"),),
    "THESE CAN WAIT: SHOP": (
        BoardField("cups.largest", "Largest cup", "mass", "300 g, or 500 ml", at_once=False),
        BoardField("scale.readability", "Scale shows", "mass", "1 g"),
        BoardField("scale.capacity", "Scale up to", "mass", "5000 g"),
        BoardField("scale.tare_each", "Tare twice", typed.flag, choices=YES_NO),
        BoardField("crew.mixing", "Mixing", "time", "4 min"),
        BoardField("crew.stirring", "Stirring", "time", "2 min"),
        BoardField("crew.second_pair", "Second pair", typed.share, "50 %"),
    ),
    "CLOSING": (
        BoardField("closing.method", "Method", str.strip, choices=("clamps", "bolts", "bladder", "bag")),
        BoardField("closing.minutes", "Minutes", typed.minutes, "10"),
        BoardField("closing.target_pressure", "Pressure", "pressure", "100 kPa"),
        BoardField("closing.clamps", "Clamps", typed.whole, "14"),
        BoardField("closing.clamp_rating", "Each gives", "force", "2 kN"),
        BoardField("closing.caul", "Caul", str.strip, "birch ply 30", at_once=False),
        BoardField("closing.backing", "Backing, mould", str.strip, "plywood 30 mm", at_once=False),
        BoardField("closing.foam", "Mould foam", typed.foam, "50 mm 35 kg/m3", at_once=False),
        BoardField("closing.curved_ends", "Curved ends", "length", "150 mm"),
    ),
    "CLOTH AND LOSSES": (
        BoardField("outline.overhang", "Overhang", "length", "25 mm"),
        BoardField("outline.roll_width", "Roll width", "length", "1270 mm"),
        BoardField("losses.per_batch", "In a cup", "mass", "20 g"),
        BoardField("losses.squeeze_out", "Driven out", typed.share, "12 %"),
    ),
    "OUTLINE, OTHERWISE": (
        BoardField("outline.area", "or area", "area", "0.17 m^2"),
        BoardField("outline.file", "or drawing", str.strip, "board.dxf", at_once=False),
        BoardField("outline.unit", "its unit", str.strip, choices=("mm", "cm", "m", "in", "ft")),
    ),
}
"""The form from top to bottom."""

NAMED = (BoardField("name", "Name", str.strip), BoardField("minutes", "Minutes", typed.minutes, "10"))
OF_STEP = {
    "fabric": (
        BoardField("fabric", "Cloth", str.strip, "type to find", at_once=False),
        BoardField("areal_weight", "or weight", "areal_weight", "300 g/m^2"),
        BoardField("fibre", "of fibre", str.strip, "E-glass", at_once=False),
        BoardField("layers", "Layers", typed.whole, "1"),
        BoardField("width", "Strip width", "length", "60 mm"),
        BoardField("overhang", "Overhang", "length", "0 mm"),
        BoardField("target_fibre_fraction", "Fibre", typed.fibre_fraction, "50 % by volume, or 65 % w", at_once=False),
    ),
    "bond": (
        BoardField("surface", "Face", str.strip, "type to find", at_once=False),
        BoardField("uptake", "Drinks", typed.uptake, "120 g/m^2, or dry"),
        BoardField("coverage", "Covers", typed.share, "55 %"),
        BoardField("area", "or area", "area", "0.03 m^2"),
        BoardField("presealed", "Sealed", typed.flag, choices=YES_NO),
    ),
    "place": (),
    "cast": (
        BoardField("resin", "Resin", str.strip, "type to find", at_once=False),
        BoardField("volume", "Volume", "volume", "60 ml"),
        BoardField("pours", "Pours", typed.whole, "1"),
        BoardField("before_press_day", "Day before", typed.flag, choices=YES_NO),
        BoardField("pigment", "Pigment", str.strip, "black paste"),
        BoardField("loading", "Pigment of", typed.share, "2 %"),
    ),
}
"""The lines of one step when it is opened, beside its name and its minutes."""
NEEDED = ("title", "resin", "pieces", "people")
"""What no plan can do without, beside an outline and a stack."""
INSTEAD = {
    "outline.stations": ("outline.area", "outline.file", "outline.unit"),
    "outline.area": ("outline.stations", "outline.ends", "outline.measured_from", "outline.file", "outline.unit"),
    "outline.file": ("outline.stations", "outline.ends", "outline.measured_from", "outline.area"),
    "fabric": ("areal_weight", "fibre", "fibre_density"),
    "areal_weight": ("fabric",),
    "coverage": ("area",),
    "area": ("coverage",),
    "volume": ("channel",),
}
"""What a key takes the place of: a file may say one of them."""


@dataclass(frozen=True, slots=True)
class FormRow:
    """One line of the form as it stands."""

    path: KeyPath
    kind: str
    """head, field, station, step, add or write."""
    label: str
    value: str = ""
    """As it stands in the file; empty where it is not known."""
    meaning: str = ""
    example: str = ""
    choices: tuple[str, ...] = ()
    at_once: bool = False
    needed: bool = False

    @property
    def name(self) -> str:
        return key_name(self.path)


# -- words and values ------------------------------------------------------------------------------------------------


def step_words(step: Mapping[str, Any]) -> str:
    """Return what a step is, in words."""
    kind = step.get("kind")
    own = f"{step.get('areal_weight', '?')} {step.get('fibre', '?')}"
    what = {
        "fabric": step.get("fabric") or own,
        "bond": f"{step.get('surface', '?')}",
        "cast": f"cast of {step.get('resin', '?')}",
    }.get(str(kind), "")
    name = str(step.get("name", "?"))
    layers = f"×{step['layers']}" if step.get("layers", 1) != 1 else ""
    share = step.get("coverage")
    covers = f"{100.0 * share:g} %" if isinstance(share, float) else share
    own_words = "" if name.lower() == what.lower() else what
    channel = step.get("channel")
    section = f"{channel.get('width', '?')} x {channel.get('depth', '?')}" if isinstance(channel, dict) else ""
    parts = (name, own_words, layers, step.get("width"), covers, step.get("volume"), section)
    return " · ".join(str(each) for each in parts if each)


def row_of(path: KeyPath, field: BoardField, data: dict[str, Any]) -> FormRow:
    """Return the line of a key as it stands."""
    value: Any = data
    for part in path:
        value = value.get(part, {}) if isinstance(value, dict) else value[part]
    words = meaning(key_name(path))
    if field.choices == YES_NO:
        words = re.sub("^(true|false): ", lambda found: f"{_shown(found[1] == 'true')}: ", words)
    needed = field.key in NEEDED
    return FormRow(
        path, "field", field.label, _shown(value), words, field.example, field.choices, field.at_once, needed
    )


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        if "by" in value:
            share = value.get("value")
            return f"{100.0 * share:.3g} % by {value['by']}" if isinstance(share, int | float) else str(share)
        return " ".join(str(each) for each in value.values())
    return f"{value}"


def with_uptake(row: FormRow, step: Mapping[str, Any]) -> FormRow:
    """Return the line of what a face drinks; the table's figure stands there until somebody types one."""
    known = SURFACES.get(str(step.get("surface")))
    if row.value or known is None:
        return row
    face = known.sealed() if step.get("presealed") is True else known
    return replace(row, value=f"{areal_weight(face.uptake_g_m2)} by table", meaning=f"{row.meaning}; or the table's")


def sides(station: Mapping[str, object]) -> str:
    """Return how wide a station is, in words."""
    if "width" in station:
        return f"{station['width']}"
    return f"{station.get('left', '?')} / {station.get('right', '?')}"


def field_at(path: KeyPath) -> BoardField:
    """Return the line that fills a key."""
    if path[0] == "steps" and len(path) > 1:
        fields = (*NAMED, *(each for fields in OF_STEP.values() for each in fields))
        return next(field for field in fields if field.key == path[2])
    name = key_name(path)
    return next(field for fields in SECTIONS.values() for field in fields if field.key == name)


def meaning(name: str) -> str:
    """Return what a key means, as the list of keys has it."""
    models: list[Any] = [PlanFile]
    words = ""
    for part in re.sub(r"\[\d+\]", "", name).split("."):
        fields = [each.model_fields[part] for each in models if part in each.model_fields]
        words = fields[0].description or "" if fields else ""
        models = [found for field in fields for found in models_in(field.annotation)]
    return words
