"""What is typed into a board form, as a plan file has it: a bare number gets the unit that people see."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from layup.chemistry.caul import CAULS
from layup.errors import InputError
from layup.files.tables import CLOTH_FORMS
from layup.units import mass, parse, show, spelled, volume

# -- values ----------------------------------------------------------------------------------------------------------

NUMBER = r"[+-]?(?:[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+)"
_LENGTH = rf"{NUMBER}\s?(?:mm|cm|m|in|ft)?(?![a-z])"
_STATION = re.compile(rf"(?:(?P<at>{_LENGTH})(?:\s*:\s*|\s+))?(?P<width>{_LENGTH})(?:\s*/\s*(?P<right>{_LENGTH}))?")
_APART = re.compile(r"\s*(?:;|,\s|\n)\s*|,$")
_FROM = re.compile(r"\bfrom (?:the )?(?:(?P<tip>tip|front|nose)|tail|rear|back)\b")
_BESIDE = re.compile(r"\b(?:at|from|the|front|rear|back|end|tip|tail|nose|waist|middle|shovel|cent(?:er|re)|and)\b")
"""Words of a sketch that stand beside its numbers."""
_STATIONS_TODO = "write 300 122, or 10 cm 60/66 for left/right; next one on a line of its own"


_COUNTED = "(?:ski|board|panel|piece|person|clamp|bolt|layer|pour)s?|people"


def whole(text: str) -> int:
    """Return a whole number, also with what is counted: "2 skis"; a pair is two."""
    counted = re.fullmatch(rf"\s*(\d+|an?|one)?\s*(pairs?(?: of [a-z]+)?|{_COUNTED})?\s*", text.lower())
    try:
        if counted is None or not counted[2]:
            return int(text)
        return (2 if counted[2].startswith("pair") else 1) * int(counted[1] if (counted[1] or "").isdigit() else 1)
    except ValueError:
        raise InputError("number", "is not whole", value=text.strip(), allowed="write 2") from None


def minutes(text: str) -> float:
    """Return minutes, as a plain number."""
    spent = parse(spelled(text, "time"), "time") / 60.0
    return int(spent) if spent.is_integer() else round(spent, 2)


def share(text: str) -> str:
    """Return a share; a bare number above 1 is per cent."""
    plain = " ".join(text.split())
    if re.fullmatch(NUMBER, plain) and float(plain.replace(",", ".")) > 1.0:
        plain = f"{plain} %"
    parse(plain, "fraction")
    return plain


def uptake(text: str) -> str:
    """Return what a face drinks; one that is dry drinks nothing."""
    return "0 g/m^2" if text.strip().lower() in ("dry", "none", "nothing") else spelled(text, "areal_weight")


_FOAM = re.compile(
    rf"\s*(?P<thickness>{_LENGTH})\s+(?P<density>\S.*?)(?:\s+(?P<strength>{NUMBER}\s?(?:[kM]?Pa|psi)))?"
    rf"(?:\s+(?P<hottest>{NUMBER}\s?(?:°\s?|deg\s?)?[CF]))?\s*"
)


def foam(text: str) -> dict[str, object]:
    """Return the foam of a mould: how thick, its density; what its maker lets it bear, and the warmest it may get."""
    match = _FOAM.fullmatch(text)
    if match is None:
        raise InputError("foam", "cannot be read", value=text.strip(), allowed="write 50 mm 35 kg/m3")
    of = {"thickness": "length", "density": "density", "strength": "pressure", "hottest": "temperature"}
    return {key: spelled(match[key], dimension) for key, dimension in of.items() if match[key]}


def channel(text: str) -> dict[str, object]:
    """Return a channel's section: how wide at its top, and how deep."""
    plain = re.sub(r"(?<=[0-9a-z])\s*[x×/]\s*(?=[0-9])|\b(?:wide|deep)\b", " ", text.lower())
    match = re.fullmatch(rf"\s*({_LENGTH})\s+({_LENGTH})\s*", plain)
    if match is None:
        raise InputError("channel", "cannot be read", value=text.strip(), allowed="write 8 x 12 mm: width x depth")
    unit = re.sub(r"[^a-z]", "", match[2])
    wide = f"{match[1]} {unit}" if re.fullmatch(NUMBER, match[1].strip()) else match[1]
    return {"width": spelled(wide, "length"), "depth": spelled(match[2], "length")}


def colours(text: str) -> dict[str, object]:
    """Return the keys of a cast's colours: one, several each poured pure, or "a to b" where one fades into the next."""
    fade = [part.strip() for part in re.split(r"\bto\b", text)]
    pure = [part.strip() for part in re.split(r";|&|\band\b|,(?!\s*[0-9])", text)]
    told = [part for part in (fade if len(fade) > 1 else pure) if part]
    keys: dict[str, object] = dict.fromkeys(("pigment", "pigment_to", "pigments", "fade"))
    if len(told) == 1:
        return keys | {"pigment": told[0]}
    return keys | {"pigments": told or None, "fade": True if told and len(fade) > 1 else None}


def number(text: str) -> int | float:
    """Return a number as it was typed, with a decimal point or a comma."""
    plain = text.strip().replace(",", ".")
    try:
        return int(plain) if plain.lstrip("+-").isdigit() else float(plain)
    except ValueError:
        raise InputError("number", "is none", value=text.strip(), allowed="write 12.50") from None


_AND_MINUTES = r"h\s*[0-5]?\d(?:\s*min\w*|(?![.,]?\d|\s*(?:°|deg|[CF]\b|k?g\b|oz\b|m?Pa|cP)))"
"""After the hours of "1 h 50", whose 50 has no unit of its own."""
_TOLD = re.compile(
    rf"(?P<number>{NUMBER})\s*(?:(?P<temperature>°\s?[CF]|deg\s?[CF]|[CF])|(?P<time>{_AND_MINUTES}|h|hours?|min\w*|d|days?)"
    r"|(?P<mass>k?g|oz|grams?)|(?P<value>mPa[ .*·]?s|Pa[ .*·]?s|cP|cps))(?![A-Za-z/])"
)
_ENDS = {"gel": "gel", "thick": "thickening", "doubl": "viscosity doubled"}


def told(text: str) -> dict[str, str]:
    """Return what a line of a datasheet says at once: "42 min (150 g at 23 degC, to 50 degC)" has time, mass ...

    A temperature that comes first, before the one at which it holds, is "first".
    """
    found: dict[str, str] = {}
    for match in _TOLD.finditer(text):
        kind = str(match.lastgroup)
        unit = {"value": "mPa*s"}.get(kind, match[kind]) if not match[kind].startswith("Pa") else "Pa*s"
        key = {"value": "viscosity"}.get(kind, kind)
        value = spelled(f"{match['number']} {unit}".replace("° ", "°").replace("deg ", "deg"), key)
        if kind == "temperature" and re.search(r"(?:to|until|reach\w*|ends? at)\s*$", text[: match.start()]):
            found |= {"reaches": value, "endpoint": "temperature"}
        elif kind == "temperature" and not text[: match.start()].strip():
            found["first"] = value
        else:
            found.setdefault(kind, value)
    ends = (end for word, end in _ENDS.items() if word in text.lower())
    return found if (end := next(ends, None)) is None else found | {"endpoint": end}


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
    if len(ends) > 2 or not all(re.fullmatch(rf"{NUMBER}\s*(?:°?[cCfF])?", end.strip()) for end in ends):
        return text.strip()
    return " to ".join(spelled(end, "temperature") for end in ends)


def fibre_fraction(text: str) -> dict[str, object]:
    """Return a fibre fraction: by volume, or where a w follows by weight."""
    match = re.fullmatch(rf"\s*({NUMBER})\s*(%)?\s*([wv])?[a-z]*\s*", text.lower().replace("by ", ""))
    if match is None:
        raise InputError("fibre", "is no share", value=text.strip(), allowed="write 50 % by volume, or 65 % w")
    value = float(match[1].replace(",", "."))
    return {"by": "weight" if match[3] == "w" else "volume", "value": value / 100.0 if match[2] or value > 1 else value}


def measured_from(text: str) -> str | None:
    """Return the end that stations are measured from where it is said: tip or tail."""
    match = _FROM.search(text.lower())
    return match and ("tip" if match["tip"] else "tail")


def stations(text: str, length_m: float | None, *, here: str = "") -> list[dict[str, object]]:
    """Return stations: each where and how wide; or widths alone, spread evenly over the length, one of them `here`."""
    found: list[dict[str, object]] = []
    for item in filter(None, _APART.split(text.strip())):
        match = _STATION.fullmatch(re.sub(r"\s+:", ":", _BESIDE.sub(" ", item.lower())).strip(" :"))
        if match is None:
            raise InputError("width", "cannot be read", value=item, todo=_STATIONS_TODO)
        at, width, right = match.group("at", "width", "right")
        if right is not None and re.fullmatch(NUMBER, right):
            right += re.sub(r"[^a-z]", "", width)  # 30 cm/28 is centimetres on both sides
        elif right is not None and re.fullmatch(NUMBER, width):
            width += re.sub(r"[^a-z]", "", right)
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
    sure: bool = True
    """Whether Enter takes it where it is the first; else it has to be picked."""


OWN = "your own figure"


def fraction_offers(text: str = "") -> list[Offer]:
    """Return the share that is typed, by volume first unless it says; then what cloth usually reaches, by volume."""
    words, own = text.lower().split(), list[Offer]()
    with suppress(InputError):
        told = fibre_fraction(text)
        ways = [told["by"]] if re.search("[wv]", text.lower()) else ["volume", "weight"]
        percent = 100.0 * float(f"{told['value']}")
        own = [Offer(f"{percent:.3g} % by {by}", OWN, told | {"by": by}) for by in ways]
    middles = ((form, round(50.0 * (form.usual_low + form.usual_high))) for form in CLOTH_FORMS.values())
    usual = [
        Offer(f"{percent} % by volume: {form.name} cloth", form.source, {"by": "volume", "value": percent / 100.0})
        for form, percent in middles
    ]
    return [*own, *(each for each in usual if own or all(word in each.words.lower() for word in words))]


ROUND = 0.002
"""So near, as a share, a cup's volume is one that a cup has: what is kept of it are whole grams."""
FULL = 0.8
"""How full a cup is at most, so that it can be stirred (common practice, no source)."""


def cup_words(grams: str, mix_g_cm3: float) -> str:
    """Return the most mix in a cup, with the cup that it fills so far where that is one of a round volume."""
    with suppress(InputError):
        full_m3 = parse(grams, "mass") / mix_g_cm3 / 1e6 / FULL
        cup_m3 = 5e-5 * round(full_m3 / 5e-5)
        if cup_m3 > 0.0 and abs(full_m3 / cup_m3 - 1.0) < ROUND:
            return f"{grams} ({volume(cup_m3)}, {100.0 * FULL:.0f} % full)"
    return grams


def cup_offers(typed: str, mix_g_cm3: float) -> list[Offer]:
    """Return the most mix that a cup of a volume takes: four fifths full, or to its brim."""
    with suppress(InputError):
        full_g = parse(typed, "volume") * 1e6 * mix_g_cm3
        whose = f"mix of {show(mix_g_cm3, 'density')}"
        ways = (FULL, f"{100.0 * FULL:.0f} % full, to stir it"), (1.0, "to the brim")
        return [Offer(f"{mass(share * full_g)}: {how}", whose, f"{share * full_g:.0f} g") for share, how in ways]
    return []


USUAL_BOARDS = ("12 mm", "18 mm", "24 mm", "30 mm")
"""Offered where no thickness is typed (common practice, no source)."""


def board_offers(typed: str) -> list[Offer]:
    """Return the cauls and moulds that a text may mean: a material of the table, and how thick."""
    match = re.search(rf"(?<!\S){_LENGTH}(?!\S)", typed.strip().lower())
    words = re.sub(rf"(?<!\S){_LENGTH}(?!\S)", " ", typed.strip().lower()).split()
    if match is None and not words:
        return []
    return [
        Offer(f"{name} {thick}", caul.source, {"material": name, "thickness": thick}, bool(match and words))
        for name, caul in CAULS.items()
        if all(word in name.lower() for word in words)
        for thick in ([spelled(match[0], "length")] if match else USUAL_BOARDS)
    ]


def drawing(typed: str, folder: Path, root: Path) -> str:
    """Return the name of a drawing beside the plan, or its whole path where it lies elsewhere."""
    name = typed.strip()
    for path in (folder / name, root / name, Path(name).expanduser()):
        if path.is_file():
            return name if path.parent == folder else str(path.resolve())
    raise InputError("drawing", "is not there", value=name, todo="type its path: .dxf, .svg or .csv")
