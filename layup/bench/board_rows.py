"""The lines of a board form: the keys that they fill, how each is read, what it means, and how it stands.

Of its outline what shape it needs, and how ends that no station reaches are closed.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import Any

from layup.bench import typed
from layup.errors import InputError, Problem
from layup.files.plan_file import PlanFile
from layup.files.tables import SURFACES
from layup.files.toml import KeyPath, key_lines, key_name, models_in
from layup.files.writing import written
from layup.planning.outline import COVERED
from layup.units import areal_weight, length, parse

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
    beside: str = ""
    """The key of the same file or step that it is there for; empty where it is asked always."""


YES_NO = ("yes", "no")
WAIT, WRITE, CASTING = "", "WRITE IT", "CASTING DAY"
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
        BoardField("outline.measured_from", "Measured from", str.strip, "", ("tip", "tail"), beside="outline.stations"),
        BoardField("outline.ends", "Ends", str.strip, "", ("round", "straight"), beside="outline.stations"),
    ),
    "STACK, from the mould up": (BoardField("steps", "add", str, "triax 750 · cast tips 60 ml · ash core 11 mm"),),
    WAIT: (BoardField("", WRITE, str.strip, "or go on: what follows can wait"),),
    "THESE CAN WAIT: SHOP": (
        BoardField("cups.largest", "Largest cup", "mass", "300 g, or 500 ml", at_once=False),
        BoardField("scale.readability", "Scale shows", "mass", "1 g"),
        BoardField("scale.capacity", "Scale up to", "mass", "5000 g"),
        BoardField("scale.tare_each", "Tare twice", typed.flag, choices=YES_NO),
        BoardField("crew.mixing", "Mixing", "time", "4 min"),
        BoardField("crew.stirring", "Stirring", "time", "2 min"),
        BoardField("crew.second_pair", "Second pair", typed.share, "50 %"),
        BoardField("wanted", "Out by", str.strip, "2026-12-05 18:00"),
    ),
    "DAYS BEFORE": (BoardField("before", "add", str, "glue the core 2 h; sealer dries 12 h alone"),),
    CASTING: (
        BoardField("casting.core_temperature", "Core warmed to", "temperature", "30 degC"),
        BoardField("casting.core_moisture", "Core's water", typed.share, "12 %"),
        BoardField("casting.warm", "Warming takes", "time", "15 min"),
        BoardField("casting.seal", "Sealing takes", "time", "10 min"),
        BoardField("casting.seal_wait", "Sealer dries", "time", "2 h"),
        BoardField("casting.tape", "Taping takes", "time", "15 min"),
    ),
    "CLOSING": (
        BoardField("closing.method", "Method", str.strip, choices=("clamps", "bolts", "bladder", "bag")),
        BoardField("closing.minutes", "Minutes", typed.minutes, "10"),
        BoardField("closing.target_pressure", "Pressure", "pressure", "100 kPa"),
        BoardField("closing.area", "on an area of", "area", "0.2 m^2"),
        BoardField("closing.clamps", "Clamps a piece", typed.whole, "14"),
        BoardField("closing.clamp_rating", "Each gives", "force", "2 kN"),
        BoardField("closing.caul", "Caul", str.strip, "plywood 18 mm", at_once=False),
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
        BoardField("outline.unit", "its unit", str.strip, "", ("mm", "cm", "m", "in", "ft"), beside="outline.file"),
    ),
}
"""The form from top to bottom."""

NAMED = (BoardField("name", "Name", str.strip), BoardField("minutes", "Minutes", typed.minutes, "10"))
OF_STEP = {
    "fabric": (
        BoardField("fabric", "Cloth", str.strip, "type to find", at_once=False),
        BoardField("areal_weight", "or weight", "areal_weight", "300 g/m^2"),
        BoardField("fibre", "of fibre", str.strip, "E-glass", at_once=False),
        BoardField("fibre_density", "fibre weighs", "density", "2.6 g/cm3", beside="fibre"),
        BoardField("layers", "Layers", typed.whole, "1"),
        BoardField("width", "Strip width", "length", "60 mm"),
        BoardField("overhang", "Overhang", "length", "0 mm"),
        BoardField("target_fibre_fraction", "Fibre", typed.fibre_fraction, "50 % by volume, or 65 % w", at_once=False),
        BoardField("price_per_m2", "Price per m2", typed.number, "12.50"),
    ),
    "bond": (
        BoardField("surface", "Face", str.strip, "type to find", at_once=False),
        BoardField("uptake", "Drinks", typed.uptake, "120 g/m^2, or dry"),
        BoardField("coverage", "Covers", typed.share, "55 %"),
        BoardField("area", "or area", "area", "0.03 m^2"),
        BoardField("presealed", "Sealed", typed.flag, choices=YES_NO),
    ),
    "place": (BoardField("thickness", "Core thickness", "length", "11 mm"),),
    "cast": (
        BoardField("resin", "Resin", str.strip, "type to find", at_once=False),
        BoardField("channel", "Channel", typed.channel, "8 x 12 mm: width x depth", at_once=False),
        BoardField("volume", "or volume", "volume", "60 ml"),
        BoardField("pigments", "Colours", typed.colours, "black; red, or black to red", at_once=False),
        BoardField("loading", "Pigment of", typed.share, "2 %"),
        BoardField("loading_limit", "at most", typed.share, "5 %", beside="loading"),
        BoardField("channel.sides", "Along", str.strip, "", ("both", "one", "around"), beside="channel"),
        BoardField("channel.offset", "Inwards by", "length", "2 mm", beside="channel"),
        BoardField("channel.bottom", "At its bottom", "length", "6 mm", beside="channel"),
        BoardField("channel.begin", "Begins at", "length", "100 mm", beside="channel"),
        BoardField("channel.end", "Ends at", "length", "1500 mm", beside="channel"),
        BoardField("pours", "Pours", typed.whole, "1"),
        BoardField("join.when", "Next pour", str.strip, "", ("soft", "firm")),
        BoardField("join.earliest", "not before", "time", "0 min", beside="join"),
        BoardField("join.latest", "not after", "time", "8 min", beside="join"),
        BoardField("overfill", "Over the brim", typed.share, "10 %"),
        BoardField("loss", "In each cup", "mass", "5 g"),
        BoardField("before_press_day", "Day before", typed.flag, choices=YES_NO),
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
    "channel": ("volume",),
}
"""What a key takes the place of: a file may say one of them."""


@dataclass(frozen=True, slots=True)
class FormRow:
    """One line of the form as it stands."""

    path: KeyPath
    kind: str
    """head, field, item (of a list that is typed), step, add or write."""
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


GUESS = "our guess"
"""Of minutes that nobody typed."""
_MINUTES_LINE = re.compile(r"(?P<says>\s*minutes\s*=\s*[0-9.]+)\s*(?:#\s*(?P<guess>guess))?\s*")

# -- words and values ------------------------------------------------------------------------------------------------


def step_words(step: Mapping[str, Any]) -> str:
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
    holds = f"{step['volume']} a piece" if step.get("volume") else ""
    parts = (name, own_words, layers, step.get("width"), covers, holds, section, colour_words(step))
    return " · ".join(str(each) for each in parts if each)


def row_of(path: KeyPath, field: BoardField, data: dict[str, Any]) -> FormRow:
    """Return the line of a key as it stands."""
    value: Any = data
    for part in path:
        value = value.get(part, {}) if isinstance(value, dict) else value[part]
    words = meaning(path)
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
        sides = (value.get("width"), value.get("depth"))
        return " x ".join(map(str, sides)) if all(sides) else " ".join(str(each) for each in value.values())
    return f"{value}"


def colour_words(step: Mapping[str, Any]) -> str:
    """Return a cast's colours as they are typed."""
    told = step.get("pigments") or [step[key] for key in ("pigment", "pigment_to") if step.get(key)]
    fades = step.get("fade", "pigment_to" in step)
    return (" to " if fades else "; ").join(map(str, told)) if isinstance(told, list) else str(told)


def step_rows(number: int, data: dict[str, Any], guess: str, held: str = "") -> Iterator[FormRow]:
    """Yield the lines of one step; `guess` are its minutes where nobody typed them, `held` what its channel holds."""
    step = data["steps"][number]
    for field in (*NAMED, *OF_STEP.get(step.get("kind", ""), ())):
        if field.beside and field.beside not in step:
            continue
        row = row_of(("steps", number, *field.key.split(".")), field, data)
        if field.key == "minutes" and guess:
            row = replace(row, value=guess, meaning=f"{row.meaning}; until you type them: a guess")
        if held and field.key.startswith(("channel", "volume")):
            row = replace(row, meaning=held)
        if field.key == "pigments":
            row = replace(row, value=colour_words(step), meaning="part with ; or 'black to red' where it fades")
        yield replace(row, needed=True) if field.key in lacking(step) else _with_uptake(row, step)


def lacking(step: Mapping[str, Any]) -> list[str]:
    """Return the keys that a cast cannot do without and has not got yet, in the order in which they are asked for."""
    several = len(step.get("pigments", ())) > 1 or "pigment_to" in step
    wants = ["resin", *([] if "volume" in step else ["channel"]), *(["loading"] if several else [])]
    return [key for key in wants if key not in step] if step.get("kind") == "cast" else []


def wants_fibre(data: Mapping[str, Any]) -> bool:
    """Return whether a plan needs a fibre fraction: for cloth that has none of its own, and until a stack says so."""
    steps = data.get("steps")
    cloth = [each for each in steps or () if each.get("kind") == "fabric"]
    return not steps or any("target_fibre_fraction" not in each for each in cloth)


def _with_uptake(row: FormRow, step: Mapping[str, Any]) -> FormRow:
    """Return the line of what a face drinks; the table's figure stands there until somebody types one."""
    known = SURFACES.get(str(step.get("surface")))
    if row.value or known is None or row.path[-1] != "uptake":
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
        return next(field for field in fields if field.key == ".".join(map(str, path[2:])))
    name = key_name(path)
    return next(field for fields in SECTIONS.values() for field in fields if field.key == name)


def meaning(path: KeyPath) -> str:
    """Return what a key means, as the list of keys has it."""
    models: list[Any] = [PlanFile]
    words = ""
    for part in (part for part in path if isinstance(part, str)):
        fields = [each.model_fields[part] for each in models if part in each.model_fields]
        words = fields[0].description or "" if fields else ""
        models = [found for field in fields for found in models_in(field.annotation)]
    return words


# -- guesses ---------------------------------------------------------------------------------------------------------


def is_guess(text: str, lines: Mapping[KeyPath, int], number: int) -> bool:
    """Return whether the minutes of a step are a guess: not there, or marked as one."""
    line = lines.get(("steps", number, "minutes"))
    if line is None:
        return True
    match = _MINUTES_LINE.fullmatch(text.split("\n")[line - 1])
    return match is not None and match["guess"] is not None


def marked(text: str, number: int, bench_s: float) -> str:
    """Return the text with guessed minutes of a step, marked as a guess."""
    path = ("steps", number, "minutes")
    text = written(text, {path: round(bench_s / 60.0)}, PlanFile)
    return _line_changed(text, path, "  # guess")


def unmarked(text: str, number: int) -> str:
    """Return the text with the mark of a guess taken from the minutes of a step."""
    return _line_changed(text, ("steps", number, "minutes"), "")


def _line_changed(text: str, path: KeyPath, ending: str) -> str:
    at = key_lines(text).get(path)
    lines = text.split("\n")
    match = _MINUTES_LINE.fullmatch(lines[at - 1]) if at is not None else None
    if at is not None and match is not None:
        lines[at - 1] = f"{match['says']}{ending}"
    return "\n".join(lines)


# -- outline -----------------------------------------------------------------------------------------------------------

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
