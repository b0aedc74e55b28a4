"""A line of a stack as builders say it, "triax 750" or "ash core 11 mm": the steps that it may mean.

And one of the days before, "glue the core 2 h", with what it waits for behind an "after".
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from layup.bench.typed import NUMBER, OWN, Offer, colours, minutes
from layup.errors import InputError
from layup.files.plan_file import PlanFile
from layup.files.tables import FABRICS, SURFACES, Fabric, Surface, by_density, find
from layup.files.toml import KeyPath
from layup.files.writing import arranged, written
from layup.units import areal_weight, parse, spelled

# -- what is said ----------------------------------------------------------------------------------------------------

_PARTS = re.compile(
    rf"(?<!\S)(?:(?P<layers>[x×]\s?\d+|\d+\s?[x×])"
    rf"|(?P<wide>{NUMBER})\s?[x×]\s?(?P<deep>{NUMBER})\s?mm"
    rf"|(?P<number>{NUMBER})\s?(?P<unit>g/m2|g/m\^2|g/m²|gsm|oz/yd2|oz/yd\^2|m2|m\^2|m²|ml|mm|cm|in|min|%))(?!\S)",
    re.IGNORECASE,
)
_KEY_OF = {
    "areal_weight": ("g/m^2", "oz/yd^2"),
    "area": ("m^2",),
    "volume": ("ml",),
    "width": ("mm", "cm", "in"),
    "minutes": ("min",),
    "coverage": ("%",),
}
KEYS_OF = {
    "fabric": ("layers", "width", "minutes"),
    "bond": ("coverage", "area", "minutes"),
    "cast": ("volume", "channel", "pigment", "pigments", "fade", "loading", "minutes"),
    "place": ("thickness", "minutes"),
}
"""What may be typed behind the name of each kind of step."""
_DRY = re.compile(
    r"\b(?:is |stays )?(?:dry|does(?: not|n't) drink|drinks (?:nothing|no resin)|no resin|0\s?(?:g/m2|gsm))(?!\w)",
    re.IGNORECASE,
)
_PLASTIC = re.compile(r"\b(?:pe|hdpe|uhmw(?:-?pe)?|polyethylene|sintered)\b", re.IGNORECASE)
"""Of a base that nothing soaks into (common practice, no source): dry first, and what it would drink below."""
_CAST = re.compile(r"\b(?:cast|pour)(?:s|ed|ings?)?\b", re.IGNORECASE)
_PLACED = re.compile(r"\bin(?: p\w*)?$")
_CLOTH = re.compile(
    r"\b(?:[es]?-?glass|carbon|aramid|basalt|flax|bi|biax\w*|tri|triax\w*|quad\w*|uni\w*|ud|twill|plain|woven|roving"
    r"|mat|csm|veil|fleece|cloth|fabric|tow)\b"
)
_FACES = {
    r"veneer": "veneer",
    r"top ?sheet": "topsheet",
    r"base": "base sheet",
    r"edges?": "steel edge",
    r"(?:side ?)?walls?": "plastic sidewall",
    r"ply": "plywood",
}
"""What a builder calls a face, and its row."""
_NARROW = {"steel edge": "5 %", "plastic sidewall": "10 %", "rubber": "5 %"}
"""The share of a board that they cover, until one's own is typed: a guess (common practice, no source)."""
_UNKNOWN_WOOD = by_density("unknown wood", 0.45)

# -- offers ----------------------------------------------------------------------------------------------------------


def step_offers(typed: str, casting: Sequence[tuple[str, str]] = ()) -> list[Offer]:
    """Return the steps that a text may mean, the likeliest first; `casting` are resins for a cast, id and title.

    "tri 750 x2" is two plies of a cloth, of one's own weight where no table has it; "ash core 11 mm" a core whose two
    faces drink, "poplar 55 %" one face on a part of the board; "tips 60 ml", "walls 8x12 mm" or "cast walls in black,
    red 2 %" a casting. It is dry only where it says so, or where somebody picks that.
    """
    words, said, name = _split(typed)
    if not re.search(r"[^\W\d]", words):
        return []
    low = words.lower()
    dry = Offer(f"{name}: dry, takes time and no resin", "", _step(name, "place", said))
    if "volume" in said or "channel" in said or _CAST.search(typed):
        casts = [
            Offer(f"{name}: cast of {title}", OWN, _step(name, "cast", said, resin=each)) for each, title in casting
        ]
        casts = casts or [Offer(f"{name}: cast, its resin to be named", OWN, _step(name, "cast", said))]
        return [*casts, *_others(low, said, name), dry]
    if _DRY.search(typed) or _PLACED.search(low) or (_PLASTIC.search(typed) and "areal_weight" not in said):
        return [dry, *_others(low, said, name)]
    found = [*_cloths(low, said, name), *_cores(low, said, name), *_others(low, said, name)]
    faces = next((at for at, each in enumerate(found) if "fabric" in steps_of(each)[0]), len(found))
    at = faces or len(found)  # beside the faces, above cloths whose names only begin alike
    return [*found[:at], dry, *found[at:]] if found else [replace(dry, sure=False)]


def steps_of(offer: Offer) -> list[Mapping[str, object]]:
    """Return the steps that an offer puts in: a core is three."""
    return [
        each for each in (offer.value if isinstance(offer.value, list) else [offer.value]) if isinstance(each, dict)
    ]


def _split(typed: str) -> tuple[str, dict[str, object], str]:
    """Return the words of a text, what it says beside them, and a name for it."""
    plain = re.sub(r"\([^)]*\)", " ", _DRY.sub(" ", typed))
    said: dict[str, object] = {}
    for match in _PARTS.finditer(plain):
        if match["layers"]:
            said["layers"] = int(re.sub(r"\D", "", match["layers"]))
            continue
        if match["wide"]:
            said["channel"] = {"width": f"{match['wide']} mm", "depth": f"{match['deep']} mm"}
            continue
        unit = re.sub(r"2$|²$", "^2", match["unit"].lower().replace("gsm", "g/m^2").replace("^2", "2"))
        key = next(key for key, units in _KEY_OF.items() if unit in units)
        said[key] = minutes(match["number"]) if key == "minutes" else f"{match['number']} {unit}"
    rest = _PARTS.sub(" ", plain)
    if "volume" in said or "channel" in said or _CAST.search(plain):
        rest, _, hues = rest.partition(" in ")
        said |= {key: value for key, value in colours(hues).items() if value is not None}
        said |= {"loading": said["coverage"]} if "coverage" in said and hues else {}
    words = " ".join(rest.replace(",", " ").split())
    said |= {"thickness": said["width"]} if "width" in said and re.search(r"\bcores?\b", words, re.IGNORECASE) else {}
    return words, said, words[:1].upper() + words[1:]


def _others(low: str, said: Mapping[str, object], name: str) -> Iterator[Offer]:
    """Yield a face of one's own figure, the rows of the tables that hold what is said, then what may be meant."""
    rows: list[Fabric | Surface] = [*find(low, FABRICS), *find(low, SURFACES)]
    exact = [row for row in rows if all(word in row.searched.lower() for word in low.split())]
    called = [] if exact else [SURFACES[row] for word, row in _FACES.items() if re.search(rf"\b{word}\b", low)]
    if (weight := said.get("areal_weight")) and not _CLOTH.search(low):
        yield Offer(f"{name}: drinks {weight}", OWN, _step(name, "bond", said, surface=low, uptake=weight))
    thick = f" {said['width']}" if "width" in said else ""
    for row in (*exact, *called, *(each for each in rows if each not in exact and each not in called)):
        offer = _table_offer(row, said)
        if isinstance(row, Surface) and isinstance(offer.value, dict) and (thick or row in called):
            own = f"{name if row in called else offer.value['name']}{thick}"
            offer = replace(offer, words=offer.words.replace(row.name, own, 1), value={**offer.value, "name": own})
        yield offer


def _cloths(low: str, said: Mapping[str, object], name: str) -> Iterator[Offer]:
    """Yield the cloth of a weight that is said: the table's, or one's own of the fibre that the nearest style has."""
    bare = re.search(r"(?<!\S)[1-9][0-9]{1,3}(?!\S)", low)
    weight = said.get("areal_weight") or (f"{bare[0]} g/m^2" if bare and _CLOTH.search(low) else None)
    is_face = find(low, SURFACES) or any(re.search(rf"\b{word}\b", low) for word in _FACES)
    if weight is None or (is_face and not _CLOTH.search(low)):
        return
    g_m2, words = parse(str(weight), "areal_weight"), [each for each in low.split() if not each.isdigit()]

    def far(row: Fabric) -> tuple[int, float]:
        known = row.searched.lower().split()
        return -sum(any(one.startswith(word) for one in known) for word in words), abs(row.areal_weight_g_m2 - g_m2)

    ranked = sorted(FABRICS.values(), key=far)
    if far(ranked[0])[0] < 0 and far(ranked[0])[1] < 0.5:
        yield _table_offer(ranked[0], said)
    fibres = [*dict.fromkeys(row.fibre for row in ranked if far(row)[0] == far(ranked[0])[0])]
    for fibre in fibres[:3] if _CLOTH.search(low) else ["E-glass"]:
        near = next(row for row in ranked if row.fibre == fibre)
        told = fibre if any(word in fibre.lower() for word in words) else f"{fibre} (assumed)"
        step = _step(name, "fabric", said, areal_weight=weight, fibre=fibre)
        own = "" if bare else f"{weight} of "
        yield Offer(f"{name}: {own}{told}, yours", f"{OWN}; near {near.name}", step)


def _cores(low: str, said: Mapping[str, object], name: str) -> Iterator[Offer]:
    """Yield a core: its lower face, the core itself, its upper face; both faces drink as its woods do."""
    words = {each.rstrip("s") for each in low.split()}
    if "face" in words or "areal_weight" in said or not ("core" in words or "width" in said):
        return
    rows = [row for row in SURFACES.values() if row.name.endswith(" core face")]
    kinds = {row: row.name.removesuffix(" core face").lower().split() for row in rows}
    woods = [row for row, kind in kinds.items() if words.issuperset(kind)]
    woods = woods or [row for row, kind in kinds.items() if kind[-1] in words][:1]
    if not woods and not ("core" in words and (len(words) > 1 or "width" in said)):
        return
    if not woods or len(woods) > 1:
        drinks = areal_weight(sum(each.uptake_g_m2 for each in woods or [_UNKNOWN_WOOD]) / max(len(woods), 1))
        whose = f"the mean of {len(woods)} woods" if woods else "of a wood not known: a guess"
        face: dict[str, object] = {"surface": low if woods else "core face", "uptake": drinks.replace("²", "^2")}
        source = " · ".join(f"{each.name} {areal_weight(each.uptake_g_m2)}" for each in woods) or _UNKNOWN_WOOD.source
    else:
        drinks, whose, source = areal_weight(woods[0].uptake_g_m2), "", woods[0].source
        face = {"surface": woods[0].name}
    core = f"{name} {said['width']}" if "width" in said else name
    faces = [_step(f"{side} face, {core[:1].lower()}{core[1:]}", "bond", {}, **face) for side in ("Lower", "Upper")]
    steps = [faces[0], _step(f"{core} in place", "place", said), faces[1]]
    yield Offer(f"{core}: two faces drink {drinks} each{whose and f', {whose}'}", source, steps)


def _table_offer(row: Fabric | Surface, said: Mapping[str, object]) -> Offer:
    name = row.name[:1].upper() + row.name[1:]
    if isinstance(row, Fabric):
        words = f"{row.name}: {areal_weight(row.areal_weight_g_m2)} {row.fibre}"
        return Offer(words, row.source, _step(name, "fabric", said, fabric=row.name))
    low, high = areal_weight.digits(row.low_g_m2), areal_weight.digits(row.high_g_m2)
    words = f"{row.name}: drinks {areal_weight(row.uptake_g_m2)}, {low} to {high}"
    own: dict[str, object] = {"uptake": said["areal_weight"]} if "areal_weight" in said else {}
    if row.name in _NARROW and not {"coverage", "area"} & set(said):
        own["coverage"] = _NARROW[row.name]
        words = f"{words}, on {own['coverage']} (a guess)"
    return Offer(words, row.source, _step(name, "bond", said, surface=row.name, **own))


def _step(name: str, kind: str, said: Mapping[str, object], **keys: object) -> dict[str, object]:
    return {"name": name, "kind": kind, **keys, **{key: said[key] for key in KEYS_OF[kind] if key in said}}


def row_offers(rows: Sequence[Fabric | Surface]) -> list[Offer]:
    """Return cloths or faces of a table as what may be picked."""
    return [replace(_table_offer(row, {}), value=row.name) for row in rows]


# -- the days before ---------------------------------------------------------------------------------------------------

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
