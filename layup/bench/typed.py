"""What is typed into a board form, as a plan file has it: a bare number gets the unit that people see."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from layup.chemistry.caul import CAULS
from layup.errors import InputError
from layup.files.tables import CLOTH_FORMS, FABRICS, FIBRES, SURFACES, Fabric, Surface, find
from layup.units import areal_weight, parse, spelled

# -- values ----------------------------------------------------------------------------------------------------------

_NUMBER = r"[+-]?(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)"
_LENGTH = rf"{_NUMBER}\s?(?:mm|cm|m|in|ft)?"
_STATION = re.compile(rf"(?:(?P<at>{_LENGTH})\s+)?(?P<width>{_LENGTH})(?:\s*/\s*(?P<right>{_LENGTH}))?")
_APART = re.compile(r"\s*(?:;|,\s|\n)\s*|,$")
_STATIONS_TODO = "write 300 122, or 300 60/66 for left/right; a comma and a space between two"


def whole(text: str) -> int:
    """Return a whole number."""
    try:
        return int(text)
    except ValueError:
        raise InputError("number", "is not whole", value=text.strip(), allowed="write 2") from None


def minutes(text: str) -> float:
    """Return minutes, as a plain number."""
    spent = parse(spelled(text, "time"), "time") / 60.0
    return int(spent) if spent.is_integer() else round(spent, 2)


def share(text: str) -> str:
    """Return a share; a bare number above 1 is per cent."""
    plain = " ".join(text.split())
    if re.fullmatch(_NUMBER, plain) and float(plain.replace(",", ".")) > 1.0:
        plain = f"{plain} %"
    parse(plain, "fraction")
    return plain


def foam(text: str) -> dict[str, object]:
    """Return the foam of a mould: how thick it is, and its density."""
    match = re.fullmatch(rf"\s*({_LENGTH})\s+(\S.*)", text)
    if match is None:
        raise InputError("foam", "cannot be read", value=text.strip(), allowed="write 50 mm 35 kg/m3")
    return {"thickness": spelled(match[1], "length"), "density": spelled(match[2], "density")}


def flag(text: str) -> bool:
    """Return yes or no; a file's own true and false mean them too."""
    word = text.strip().lower()
    if word and ("yes".startswith(word) or "true".startswith(word)):
        return True
    if word and ("no".startswith(word) or "false".startswith(word)):
        return False
    raise InputError("answer", "is neither yes nor no", value=text.strip(), allowed="write yes or no")


def shop_day(text: str) -> str:
    """Return the shop's day; bare numbers are temperatures, one for all day or the coldest to the warmest."""
    ends = text.strip().split(" to ")
    if len(ends) > 2 or not all(re.fullmatch(rf"{_NUMBER}\s*(?:°?[cCfF])?", end.strip()) for end in ends):
        return text.strip()
    return " to ".join(spelled(end, "temperature") for end in ends)


def fibre_fraction(text: str) -> dict[str, object]:
    """Return a fibre fraction: by weight, or where a v follows by volume."""
    match = re.fullmatch(rf"\s*({_NUMBER})\s*(%)?\s*([wv])?[a-z]*\s*", text.lower().replace("by ", ""))
    if match is None:
        raise InputError("fibre", "is no share", value=text.strip(), allowed="write 60 % by weight, or 48 % v")
    value = float(match[1].replace(",", "."))
    return {"by": "volume" if match[3] == "v" else "weight", "value": value / 100.0 if match[2] or value > 1 else value}


def stations(text: str, length_m: float | None, *, here: str = "") -> list[dict[str, object]]:
    """Return stations: each where and how wide; or widths alone, spread evenly over the length, one of them `here`."""
    found: list[dict[str, object]] = []
    for item in filter(None, _APART.split(text.strip())):
        match = _STATION.fullmatch(item)
        if match is None:
            raise InputError("width", "cannot be read", value=item, todo=_STATIONS_TODO)
        at, width, right = match.group("at", "width", "right")
        if right is not None and re.fullmatch(_NUMBER, right):
            right += re.sub(r"[^a-z]", "", width)  # 30 cm/28 is centimetres on both sides
        at, width, right = (part and spelled(part, "length") for part in (at, width, right))
        sides: dict[str, object] = {"width": width} if right is None else {"left": width, "right": right}
        found.append(sides if at is None else {"at": at} | sides)
    placed = ["at" in each for each in found]
    if here and len(found) == 1 and not placed[0]:
        return [{"at": here} | found[0]]
    if not found or all(placed):
        return found
    if any(placed) or len(found) < 2 or length_m is None:
        wrong = "stand without their places" if any(placed) or length_m is not None else "need the length first"
        raise InputError("widths", wrong, value=text.strip(), todo=_STATIONS_TODO)
    every_m = length_m / (len(found) - 1)
    return [
        {"at": spelled(f"{1000.0 * every_m * number:.5g} mm", "length")} | each for number, each in enumerate(found)
    ]


def with_stations(
    there: Sequence[Mapping[str, object]], typed: Sequence[Mapping[str, object]]
) -> list[Mapping[str, object]]:
    """Return stations in their order, those typed in place of any at the same place."""
    by_place = {parse(str(each.get("at", "")), "length"): each for each in (*there, *typed)}
    return [by_place[at] for at in sorted(by_place)]


# -- offers ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Offer:
    """One thing that may be picked: its words, where its numbers are from, and what a file then says."""

    words: str
    source: str
    value: object


_PARTS = re.compile(
    rf"(?<!\S)(?:(?P<layers>[x×]\s?\d+|\d+\s?[x×])"
    rf"|(?P<wide>{_NUMBER})\s?[x×]\s?(?P<deep>{_NUMBER})\s?mm"
    rf"|(?P<number>{_NUMBER})\s?(?P<unit>g/m2|g/m\^2|g/m²|gsm|oz/yd2|oz/yd\^2|m2|m\^2|m²|ml|mm|cm|in|min|%))(?!\S)",
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
    "cast": ("volume", "channel", "minutes"),
    "place": ("minutes",),
}
"""What may be typed behind the name of each kind of step."""
OWN = "your own figure"


def step_offers(typed: str, casting: Sequence[tuple[str, str]] = ()) -> list[Offer]:
    """Return the steps that a text may mean, the likeliest first; `casting` are resins for a cast, id and title.

    "tri 750 x2" is two plies of a cloth, "poplar 55 %" a face on a part of the board, "glass 300 g/m2" a cloth of
    one's own, "tips 60 ml" or "walls 8x12 mm" a casting; whatever it is, it may be the name of something without resin.
    """
    words, said = _split(typed)
    if not words:
        return []
    name = words[:1].upper() + words[1:]
    rows = _rows(words)
    exact = [row for row in rows if all(word in row.searched.lower() for word in words.lower().split())]
    offers = [_table_offer(row, said) for row in exact]
    if weight := said.get("areal_weight"):
        fibres = [fibre for fibre in FIBRES if any(word in fibre.lower() for word in words.lower().split())]
        own = [
            Offer(f"{name}: {weight} of {fibre}", OWN, _step(name, "fabric", said, areal_weight=weight, fibre=fibre))
            for fibre in fibres
        ]
        face = Offer(f"{name}: drinks {weight}", OWN, _step(name, "bond", said, surface=words, uptake=weight))
        offers = [*own, face, *offers]
    if "volume" in said or "channel" in said:
        casts = [
            Offer(f"{name}: cast of {title}", OWN, _step(name, "cast", said, resin=each)) for each, title in casting
        ]
        offers = [*casts, *offers]
    offers.append(Offer(f"{name}: takes time, no resin", "", _step(name, "place", said)))
    return [*offers, *(_table_offer(row, said) for row in rows if row not in exact)]


def _split(typed: str) -> tuple[str, dict[str, object]]:
    """Return the words of a text, and what it says beside them."""
    said: dict[str, object] = {}
    for match in _PARTS.finditer(typed):
        if match["layers"]:
            said["layers"] = int(re.sub(r"\D", "", match["layers"]))
            continue
        if match["wide"]:
            said["channel"] = {"width": f"{match['wide']} mm", "depth": f"{match['deep']} mm"}
            continue
        unit = re.sub(r"2$|²$", "^2", match["unit"].lower().replace("gsm", "g/m^2").replace("^2", "2"))
        key = next(key for key, units in _KEY_OF.items() if unit in units)
        said[key] = minutes(match["number"]) if key == "minutes" else f"{match['number']} {unit}"
    return " ".join(_PARTS.sub(" ", typed).split()), said


def _rows(words: str) -> list[Fabric | Surface]:
    return [*find(words, FABRICS), *find(words, SURFACES)]


def _table_offer(row: Fabric | Surface, said: Mapping[str, object]) -> Offer:
    name = row.name[:1].upper() + row.name[1:]
    if isinstance(row, Fabric):
        words = f"{row.name}: {areal_weight(row.areal_weight_g_m2)} {row.fibre}"
        return Offer(words, row.source, _step(name, "fabric", said, fabric=row.name))
    low, high = areal_weight.digits(row.low_g_m2), areal_weight.digits(row.high_g_m2)
    words = f"{row.name}: drinks {areal_weight(row.uptake_g_m2)}, {low} to {high}"
    own = {"uptake": said["areal_weight"]} if "areal_weight" in said else {}
    return Offer(words, row.source, _step(name, "bond", said, surface=row.name, **own))


def _step(name: str, kind: str, said: Mapping[str, object], **keys: object) -> dict[str, object]:
    return {"name": name, "kind": kind, **keys, **{key: said[key] for key in KEYS_OF[kind] if key in said}}


def row_offers(rows: Sequence[Fabric | Surface]) -> list[Offer]:
    """Return cloths or faces of a table as what may be picked."""
    return [replace(_table_offer(row, {}), value=row.name) for row in rows]


def fibre_offers(typed: str) -> list[Offer]:
    """Return the fibres of the table that a text may mean."""
    return [Offer(fibre.name, fibre.source, fibre.name) for fibre in find(typed, FIBRES)]


def fraction_offers(text: str = "") -> list[Offer]:
    """Return the share that is typed, by weight first unless it says; then what cloth usually reaches, by volume."""
    words, own = text.lower().split(), list[Offer]()
    with suppress(InputError):
        told = fibre_fraction(text)
        ways = [told["by"]] if re.search("[wv]", text.lower()) else ["weight", "volume"]
        percent = 100.0 * float(f"{told['value']}")
        own = [Offer(f"{percent:.3g} % by {by}", OWN, told | {"by": by}) for by in ways]
    middles = ((form, round(50.0 * (form.usual_low + form.usual_high))) for form in CLOTH_FORMS.values())
    usual = [
        Offer(f"{percent} % by volume: {form.name} cloth", form.source, {"by": "volume", "value": percent / 100.0})
        for form, percent in middles
    ]
    return [*own, *(each for each in usual if own or all(word in each.words.lower() for word in words))]


def board_offers(typed: str) -> list[Offer]:
    """Return the cauls and moulds that a text may mean: a material of the table, and how thick."""
    match = re.fullmatch(rf"(?P<words>.*?)\s*(?P<thick>{_LENGTH})?", typed.strip())
    words = match["words"].lower().split() if match else []
    if match is None or not match["thick"]:
        return []
    thick = spelled(match["thick"], "length")
    return [
        Offer(f"{name} {thick}", caul.source, {"material": name, "thickness": thick})
        for name, caul in CAULS.items()
        if all(word in name.lower() for word in words)
    ]


def drawing(typed: str, folder: Path, root: Path) -> str:
    """Return the name of a drawing beside the plan, or its whole path where it lies elsewhere."""
    name = typed.strip()
    for path in (folder / name, root / name, Path(name).expanduser()):
        if path.is_file():
            return name if path.parent == folder else str(path.resolve())
    raise InputError("drawing", "is not there", value=name, todo="type its path: .dxf, .svg or .csv")
