"""Answers as people remember them: exact, about so much, between two, or not known; read, and said back no sharper.

How wide "about" is, is common practice without a source: 2 K, a seventh of a mass, a fifth of a time, each the 80 % of
what is meant. A range is taken as its 80 %, too.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from math import sqrt

from layup.chemistry.looks import FELT, LOOKS, ToldWord
from layup.errors import InputError, LayupError
from layup.session.fields import ToldDay, Width
from layup.units import in_minutes, mass, parse, temperature, usual_unit

NOT_KNOWN = ("", "?", "-", "not known", "unknown", "don't know", "dont know", "no idea", "not sure")
_ABOUT = re.compile(r"(?:about|around|roughly|approx\.?|circa|ca\.?|some|~|≈)\s*", re.IGNORECASE)
_BETWEEN = re.compile(r"\s*(?:\bto\b|\band\b|\bor\b|\.{2,3}|[-–—…])\s*", re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]*)?")
_BARE = re.compile(r"[+-]?[0-9]+(?:[.,][0-9]+)?")
_FIRST = re.compile(rf"({_BARE.pattern}\s*°?[^\W\d]+)[\s,;.][^0-9]*|({_BARE.pattern})[,;]\s[^0-9]*")


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of number that is remembered: its dimension, how wide "about" is, and what can be true at all."""

    dimension: str
    low: float
    high: float
    share: float
    """What "about" multiplies and divides by; 1 where it adds."""
    add: float
    shown: Callable[[float], str]
    example: str


SHOP = Kind("temperature", 253.15, 323.15, 1.0, 2.0, temperature, '"18 C", "about 12", "10-14"')
CUP = Kind("mass", 5.0, 20_000.0, 1.15, 0.0, mass, '"300 g", "about 400 g", "200-300 g"')
TIME = Kind("time", 30.0, 2 * 86_400.0, 1.2, 0.0, in_minutes, '"25 min", "about 25", "20-30 min"')


def known(text: str) -> bool:
    """Return whether an answer says something."""
    return text.strip().casefold() not in NOT_KNOWN


def width_of(text: str, kind: Kind, *, where: str) -> Width | None:
    """Read a remembered number, or None where it is not known; InputError says what is allowed."""
    if not known(text):
        return None
    plain = text.strip()
    about = _ABOUT.match(plain)
    plain = plain[about.end() :] if about else plain
    plain = re.sub(r"^between\s+", "", plain, flags=re.IGNORECASE)
    ends = _ends(plain, kind)
    allowed = f'{kind.example} or "not known"'
    if ends is None:
        try:
            one = _quantity_in(plain, kind, where)
        except LayupError as error:
            raise InputError(where, error.wrong, value=text.strip(), allowed=allowed) from None
        low, likely, high = one, one, one
        if about:
            low, high = one / kind.share - kind.add, one * kind.share + kind.add
    else:
        low, high = ends
        likely = sqrt(low * high) if kind.share > 1.0 else 0.5 * (low + high)
    for value in (likely, *(ends or ())):
        if not kind.low <= value <= kind.high:
            between = f"between {kind.shown(kind.low)} and {kind.shown(kind.high)}"
            raise InputError(where, "is out of range", value=text.strip(), allowed=between)
    return Width(low=low, likely=likely, high=high, about=about is not None and ends is None)


def _quantity_in(plain: str, kind: Kind, where: str) -> float:
    """Read a quantity, or the one that an answer begins with where no other number follows: "20 min, it was"."""
    try:
        return quantity_of(plain, kind.dimension, where=where)
    except LayupError:
        if found := _FIRST.fullmatch(plain):
            with suppress(LayupError):
                return quantity_of(found[1] or found[2], kind.dimension, where=where)
        raise


def _ends(plain: str, kind: Kind) -> tuple[float, float] | None:
    """Return the two ends of a range in order, or None where it is none; a bare first end has the other's unit."""
    for gap in _BETWEEN.finditer(plain):
        first, second = plain[: gap.start()].strip(), plain[gap.end() :].strip()
        if not first or not second:
            continue
        if _BARE.fullmatch(first) and (unit := _NUMBER.sub("", second, count=1).strip()):
            first = f"{first} {unit}"
        try:
            one, other = (quantity_of(end, kind.dimension, where="range") for end in (first, second))
        except LayupError:
            continue
        return min(one, other), max(one, other)
    return None


def quantity_of(text: str, dimension: str, *, where: str) -> float:
    """Read a quantity; a bare number is in the unit that people see."""
    plain = text.strip()
    return parse(f"{plain} {usual_unit(dimension)}" if _BARE.fullmatch(plain) else plain, dimension, where=where)


def said(width: Width | None, kind: Kind) -> str:
    """Say a remembered number no more exactly than it was told."""
    if width is None:
        return "not known"
    if width.exact or width.about:
        return f"{'about ' if width.about else ''}{kind.shown(width.likely)}"
    low, high = kind.shown(width.low), kind.shown(width.high)
    shared = low.rpartition(" ")
    return f"{shared[0] if high.endswith(f' {shared[2]}') else low} to {high}"


def minute_of(told: ToldDay | None, at_s: float) -> str:
    """Return the minute of an entry in a list: of a day told from memory no sharper than it was told."""
    vague = [] if told is None else [told.thick_s, told.closed_s]
    if any(width is not None and not width.exact and abs(width.likely - at_s) < 1.0 for width in vague):
        return f"≈ {at_s / 60.0:.0f}"
    if told is not None and at_s > TIME.high:
        return "later"  # added long after, which is no minute of that day
    return f"{at_s / 60.0:.1f}"


def told_rows(told: ToldDay, resin: str) -> list[tuple[str, str]]:
    """Return what was told, each as a question and its answer."""
    cups = f"{told.cups}, taken as mixed at once, " if told.cups > 1 else ""
    done, closed = told.steps_done, {None: "not known", False: "no", True: "yes"}[told.closed]
    laid = "not known"
    if done is not None:
        about = "about " if done.about else ""
        laid = (
            f"{about}{done.likely:.0f} steps"
            if done.exact or done.about
            else f"{done.low:.0f} to {done.high:.0f} steps"
        )
    return [
        ("resin", resin if told.resin_known else "not known"),
        ("shop", said(told.shop_K, SHOP)),
        ("in a cup", f"{cups}{said(told.cup_g, CUP)}"),
        ("thick", "not known" if told.thick_s is None else f"{told.look} {said(told.thick_s, TIME)} after mixing"),
        ("on the part by then", laid),
        ("closed", closed if told.closed_s is None else f"{said(told.closed_s, TIME)} after mixing"),
        ("people", str(told.people or "not known")),
        ("went wrong", told.wrong or "not known"),
        ("when", told.when or "not known"),
    ]


# -- words -----------------------------------------------------------------------------------------------------------

HEARD: dict[str, ToldWord] = {
    **{said: word for word, look in LOOKS.items() for said in look.told},
    **{said: felt for felt, cup in FELT.items() for said in cup.told},
}
"""What people say of a mix, for each the word for it."""
WORST: tuple[ToldWord, ...] = (
    *(word for look in LOOKS for word in (look, *(felt for felt, cup in FELT.items() if cup.worse_than == look))),
)
"""From the best."""
_WORD = re.compile(r"[a-z]+", re.IGNORECASE)


def look_of(text: str) -> tuple[ToldWord | None, str]:
    """Return the worst look that an answer names, and the answer without such words."""
    found = [HEARD[word.casefold()] for word in _WORD.findall(text) if word.casefold() in HEARD]
    rest = _WORD.sub(lambda word: "" if word[0].casefold() in (*HEARD, "and", "after", "at", "then") else word[0], text)
    rest = re.sub(r"(^[\s,;:+]+|[\s,;:+]+$)", "", rest)
    return max(found, key=WORST.index, default=None), re.sub(r"\s*[,;]\s*(?=[,;]|$)", "", rest)


CUPS = re.compile(
    r"(?P<many>[0-9]{1,2})\s*(?:x|×|\*|cups?\s*(?:of|with|,)?)\s*(?P<each>.*[0-9].*)"
    r"|(?P<each2>.*?[0-9].*?)\s*(?:\bx|×|\*|,|\bin)\s*(?P<many2>[0-9]{1,2})(?:\s*cups?)?",
    re.IGNORECASE,
)


def cups_of(text: str, *, where: str) -> tuple[Width | None, int]:
    """Read how much was in each cup, and how many were mixed at once: "300 g", "2 x 300 g", "about 300 g in 2 cups"."""
    plain = re.sub(r"^\s*a\s+", "", text.strip())
    about = _ABOUT.match(plain)
    found = CUPS.fullmatch(plain[about.end() :] if about else plain)
    if found is None:
        return width_of(plain, CUP, where=where), 1
    each = found["each"] or found["each2"]
    return width_of(f"{about[0] if about else ''}{each}", CUP, where=where), max(
        int(found["many"] or found["many2"]), 1
    )


# -- days ------------------------------------------------------------------------------------------------------------

_AGO = re.compile(r"(?P<many>a|an|one|last|[0-9]{1,3})\s+(?P<unit>day|week|month|year)s?(?:\s+ago)?")
_SEASONS = {"winter": 1, "spring": 4, "summer": 7, "autumn": 10, "fall": 10}
"""The month in the middle of each, in the northern half."""
_DAYS = {"day": 1, "week": 7, "month": 30, "year": 365}


def day_of(text: str, now: datetime) -> tuple[datetime, str]:
    """Return noon of the day that is meant, as near as it was told, and the words for it; today where it is not known.

    A day of the calendar stands as it is; all else is marked as about.
    """
    today, plain = now.date(), re.sub(_ABOUT, "", " ".join(text.split()), count=1).casefold()
    if not known(text):
        return _noon(today, now), ""
    day, exact = _day(plain, today)
    if day is not None and day > today:
        raise InputError("date", "is still to come", value=text.strip(), allowed="today or earlier")
    shown = " ".join(text.split())
    return _noon(day or today, now), shown if exact or shown.casefold().startswith("about") else f"about {shown}"


def _day(plain: str, today: date) -> tuple[date | None, bool]:
    """Return the middle of what is meant, and whether that is one day."""
    for form in ("%Y-%m-%d", "%Y-%m", "%B %Y", "%b %Y", "%Y"):
        try:
            found = datetime.strptime(plain, form).replace(tzinfo=UTC).date()
        except ValueError:
            continue
        if form == "%Y-%m-%d":
            return found, True
        middle = found.replace(month=7) if form == "%Y" else found.replace(day=15)
        return min(middle, max(found, today)), False
    if plain in ("today", "yesterday"):
        return today - timedelta(days=plain == "yesterday"), True
    if ago := _AGO.fullmatch(plain):
        many = int(ago["many"]) if ago["many"].isdigit() else 1
        return today - timedelta(days=many * _DAYS[ago["unit"]]), False
    season = next((name for name in _SEASONS if plain in (name, f"last {name}", f"this {name}")), None)
    if season is not None:
        middle = today.replace(month=_SEASONS[season], day=15)
        return middle if middle <= today else middle.replace(year=today.year - 1), False
    return None, False


def _noon(day: date, now: datetime) -> datetime:
    noon = datetime.combine(day, time(12)).astimezone(UTC)
    return min(noon, now.astimezone(UTC))
