"""Every key of resin and plan files, with what it means: for `layup check --keys`.

Whether a key is needed, and an example, come from the models that read the files.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from layup.chemistry.caul import CAULS
from layup.files.plan_file import PlanFile
from layup.files.resin_file import ResinFile
from layup.files.toml import models_in

_FRACTION = {
    "by": "weight or volume: which fibre fraction is meant",
    "value": "the fibre fraction, between 0 and 1",
}
RESIN_KEYS = {
    "id": "the file's name without .toml; plans name the resin by it",
    "title": "its name as people read it",
    "chemistry": "epoxy-amine, urethane or other; polyester and vinyl ester are refused",
    "resin": "part A",
    "resin.name": "its name on the can",
    "resin.density": "needed for a ratio by volume, and for volumes",
    "resin.equivalent_weight": "EEW in g/eq, or of an isocyanate: checks the ratio, and gives the heat",
    "hardener": "part B",
    "hardener.name": "its name on the can",
    "hardener.density": "needed for a ratio by volume, and for volumes",
    "hardener.equivalent_weight": "AHEW in g/eq, or of a polyol",
    "ratio": "the mixing ratio",
    "ratio.by": "weight or volume",
    "ratio.resin": "parts of resin, as 100",
    "ratio.hardener": "parts of hardener to those",
    "pot_life": "the pot life as the datasheet states it; one more, at another temperature or mass, narrows the band",
    "pot_life.time": "how long",
    "pot_life.mass": "of how much mix: a pot life without its mass says little",
    "pot_life.temperature": "at which temperature",
    "pot_life.endpoint": "thickening (too thick to use), gel (no longer flows), viscosity doubled, or temperature",
    "pot_life.reaches": "the temperature of the mix that ends it, for the endpoint temperature",
    "pot_life.vessel": "a cup, or a tray spread to a depth",
    "pot_life.diameter": "inner width of the cup, where it is stated: a wide one loses more heat",
    "pot_life.depth": "depth of the mix in a tray",
    "film": "how long a thin film lasts: the most useful second number",
    "film.time": "how long",
    "film.temperature": "at which temperature",
    "film.endpoint": "open (no longer bonds), tack-free or gel",
    "viscosity": "of the mix just mixed, at one or more temperatures: tells when it is too thick to wet out",
    "viscosity.value": "how thick",
    "viscosity.temperature": "at which temperature",
    "cure": "what the datasheet says of the cure",
    "cure.minimum_temperature": "below this it does not cure properly",
    "cure.demould": "when a part may leave the mould, at one or more temperatures",
    "cure.demould.time": "after how long",
    "cure.demould.temperature": "at which temperature",
    "cure.post_cure": "the post-cure, step by step",
    "cure.post_cure.time": "how long a step lasts",
    "cure.post_cure.temperature": "at which temperature",
    "cure.glass_transition": "Tg of the full cure",
    "hazards": "from the safety data sheet",
    "hazards.signal_word": "Warning or Danger",
    "hazards.cautions": "what is shown before a press day and on mix sheets",
    "source": "where the numbers are from",
    "source.document": "its title",
    "source.revision": "its revision",
    "source.date": "its date",
    "source.note": "anything worth knowing of it",
    "price_per_kg": "of the mix, in your own money: for the cost of a plan",
}
"""Key of resins/NAME.toml -> what it means."""

PLAN_KEYS = {
    "title": "the part's name",
    "resin": "the id of the laminating resin",
    "pieces": "how many are pressed in one go, as 2 for a pair",
    "people": "how many hands-on people, the one who mixes included",
    "target_fibre_fraction": "how much of the laminate is to be fibre",
    **{f"target_fibre_fraction.{key}": words for key, words in _FRACTION.items()},
    "outline": "the shape of one piece: stations, area or file, one of them",
    "outline.length": "the length of a piece",
    "outline.stations": "widths along the length; a smooth line is drawn through them",
    "outline.stations.at": "where, from the tail",
    "outline.stations.width": "how wide there",
    "outline.area": "the area of one piece, instead of a shape",
    "outline.file": "a drawing beside the plan: .csv, .dxf or .svg",
    "outline.unit": "the unit of the drawing's numbers",
    "outline.overhang": "how far cloth stands over on every side",
    "outline.roll_width": "width of the cloth on its roll: for the cut list",
    "steps": "the work on the bench, in its order",
    "steps.name": "what it is",
    "steps.minutes": "how long it takes one pair of hands, for all pieces",
    "steps.kind": "fabric, bond, place or cast; it says which keys below may stand in the step",
    "steps.fabric": "(fabric) a cloth of the table; the error message of a wrong one lists them",
    "steps.areal_weight": "(fabric) instead of fabric: its weight, dry",
    "steps.fibre": "(fabric) beside areal_weight: what it is made of",
    "steps.fibre_density": "(fabric) where the fibre is not in the table",
    "steps.layers": "(fabric) how many of it",
    "steps.width": "(fabric) of a strip; without it the cloth covers the outline",
    "steps.overhang": "(fabric) of this cloth, instead of the outline's",
    "steps.target_fibre_fraction": "(fabric) of this cloth, instead of the plan's",
    **{f"steps.target_fibre_fraction.{key}": f"(fabric) {words}" for key, words in _FRACTION.items()},
    "steps.price_per_m2": "(fabric) for the cost",
    "steps.surface": "(bond) a face that drinks resin, of the table; the error message of a wrong one lists them",
    "steps.uptake": "(bond) what it drinks, where the table does not know it or you measured",
    "steps.coverage": "(bond) the share of the outline that it covers",
    "steps.area": "(bond) its area on one piece, instead of coverage",
    "steps.presealed": "(bond) true once it was sealed the day before",
    "steps.resin": "(cast) the id of the casting resin",
    "steps.volume": "(cast) how much is poured in all",
    "steps.pours": "(cast) in how many pours",
    "steps.before_press_day": "(cast) whether it is poured on an earlier day",
    "steps.pigment": "(cast) the pigment, in words",
    "steps.pigment_to": "(cast) the pigment of the last pour, where the colour changes",
    "steps.loading": "(cast) pigment, as a share of the mass",
    "steps.loading_limit": "(cast) the most that the resin's maker allows",
    "losses": "what does not stay on the part",
    "losses.per_batch": "left in each cup, on brushes and rollers",
    "losses.squeeze_out": "share of the mix on the part that the press drives out; reckoned without where not given",
    "closing": "how the press is closed",
    "closing.method": "clamps, bolts, bladder or bag",
    "closing.minutes": "how long it takes one pair of hands, for all pieces",
    "closing.area": "the area under pressure, where it is not the outline's",
    "closing.target_pressure": "the pressure wanted on the part",
    "closing.clamps": "how many clamps or bolts there are",
    "closing.clamp_rating": "the most that one clamp or bolt may give; without it, that is not checked",
    "closing.caul": "the board that spreads the clamps' force; without it, 30 mm of birch plywood is taken",
    "closing.caul.material": f"one of {', '.join(CAULS)}",
    "closing.caul.thickness": "how thick it is",
    "closing.backing": "the board that the part lies on; without it, what is under the part is taken as rigid",
    "closing.backing.material": "as of the caul",
    "closing.backing.thickness": "how thick it is",
    "scale": "the scale for resin",
    "scale.readability": "the smallest step that it shows",
    "scale.capacity": "the most that it weighs",
    "scale.tare_each": "true: tared again before the hardener, which lets it weigh smaller batches",
    "cups": "the mixing cups",
    "cups.largest": "the most mix that goes in one; without it, any",
    "crew": "how the people share the work",
    "crew.mixing": "how long weighing and stirring one batch takes",
    "crew.second_pair": "how much faster a second pair of hands makes the laying, 0 to 1",
    "crew.stirring": "the part of mixing after hardener meets resin; without it, half",
}
"""Key of plan.toml -> what it means."""


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a file: its path, how to write it where that is not plain, whether it must be there, its meaning."""

    path: str
    example: str
    needed: bool
    words: str


def resin_keys() -> list[Key]:
    """Return the keys of a resin file, in the order that its tables have."""
    return _keys(ResinFile, RESIN_KEYS)


def plan_keys() -> list[Key]:
    """Return the keys of a plan file, in the order that its tables have."""
    return _keys(PlanFile, PLAN_KEYS)


def _keys(model: type[BaseModel], meanings: dict[str, str]) -> list[Key]:
    found: dict[str, Key] = {}
    for path, field in _fields(model):
        found.setdefault(path, Key(path, _example(field), field.is_required(), meanings[path]))
    return list(found.values())


def _fields(model: type[BaseModel], above: str = "") -> Iterator[tuple[str, FieldInfo]]:
    """Yield every field of a file with its path; variants of a step one after the other."""
    for name, field in model.model_fields.items():
        yield above + name, field
        for table in models_in(field.annotation):
            yield from _fields(table, f"{above}{name}.")


def _example(field: FieldInfo) -> str:
    """Return how a value is written: a table's brackets, or the example that error messages give too."""
    if any(models_in(field.annotation)):
        return "[[ ]]" if get_origin(field.annotation) is tuple else "[ ]"
    return str(field.examples[0]) if field.examples else ""
