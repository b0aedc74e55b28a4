"""A layup from before the program, asked for in nine questions; the answers outlive a crash as a draft.

They are read as people remember: exact, about so much, between two, or not known; and said back no sharper.
How wide "about" is, is common practice without a source: 2 K, a seventh of a mass, a fifth of a time, each the 80 % of
what is meant. A range is taken as its 80 %, too.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from math import sqrt
from typing import Any, NamedTuple

from layup.chemistry.datasheet import Datasheet, offered
from layup.chemistry.looks import FELT, LOOKS, ONE_TOLD, ToldWord
from layup.errors import InputError, LayupError
from layup.files.durable import put
from layup.files.toml import read_plain
from layup.files.workshop import Workshop
from layup.planning.crew import MOST_PEOPLE, pace_of
from layup.planning.plan import Plan
from layup.session.fields import ToldDay, Width
from layup.session.mass_balance import step_plans
from layup.session.text import NAME_LIMIT, NOTE_LIMIT, clean
from layup.units import in_minutes, mass, parse, temperature, usual_unit, with_unit

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
    if ends is not None:
        low, high = ends
        likely = sqrt(low * high) if kind.share > 1.0 else 0.5 * (low + high)
    else:
        try:
            low = likely = high = _quantity_in(plain, kind, where)
        except LayupError as error:
            raise InputError(where, error.wrong, value=text.strip(), allowed=allowed) from None
        if about:
            low, high = likely / kind.share - kind.add, likely * kind.share + kind.add
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
    return parse(with_unit(text, usual_unit(dimension)), dimension, where=where)


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
    today, shown = now.date(), " ".join(text.split()) if known(text) else ""
    day, exact = _day(_ABOUT.sub("", shown, count=1).casefold(), today) if shown else (today, True)
    if day is not None and day > today:
        raise InputError("date", "is still to come", value=text.strip(), allowed="today or earlier")
    noon = datetime.combine(day or today, time(12)).astimezone(UTC)
    about = "" if exact or shown.casefold().startswith("about") else "about "
    return min(noon, now.astimezone(UTC)), f"{about}{shown}"


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


# -- questions -------------------------------------------------------------------------------------------------------

DRAFT = ".recall.json"
"""Beside the sessions, until the answers are one of them."""


class RecallQuestion(NamedTuple):
    """One question: its key, how it is asked, and what may be answered beside "not known"."""

    key: str
    title: str
    hint: str


QUESTIONS = (
    RecallQuestion("resin", "Which resin was it?", "its number; one that is missing: Esc, 7 makes it, R goes on"),
    RecallQuestion("shop", "How warm was the shop?", "18 C, about 12, 10-14"),
    RecallQuestion("cup", "How much in a cup?", "300 g, about 400 g; two at once: 2 x 300 g"),
    RecallQuestion("thick", "When did it get thick, and how?", f"minutes after mixing, and {ONE_TOLD}: about 25, hot"),
    RecallQuestion("on_part", "What was on the part by then?", "the last step's number, 2-4, nothing, all"),
    RecallQuestion("closed", "When was the press closed?", "minutes after mixing: 50, about 60; or: no"),
    RecallQuestion("people", "How many people worked?", "1, 2, alone, with a helper"),
    RecallQuestion("wrong", "What went wrong, in your words?", "gelled in the cup; dry spot at the tip"),
    RecallQuestion("when", "When was that?", "2025-02-14, last winter, 3 weeks ago"),
)
KEYS = tuple(question.key for question in QUESTIONS)
HANDS = {"alone": 1, "myself": 1, "one": 1, "me": 1, "helper": 2, "two": 2, "both": 2, "pair": 2, "three": 3, "four": 4}


@dataclass(frozen=True, slots=True)
class Story:
    """All that was told, with the resin and the plan that it is set beside."""

    told: ToldDay
    sheet: Datasheet
    plan_name: str | None
    plan: Plan | None
    day: datetime


def _thick(text: str, where: str) -> tuple[Width | None, ToldWord | None]:
    if not known(text) or text.casefold() in ("no", "never", "it did not", "not at all"):
        return None, None
    look, rest = look_of(text)
    at = width_of(rest, TIME, where=where)
    return at, look or ("thickening" if at is not None else None)


def _closed(text: str, where: str) -> tuple[bool | None, Width | None]:
    plain = text.casefold()
    if plain in ("no", "never", "not closed", "n"):
        return False, None
    if plain in ("yes", "y", "closed"):
        return True, None
    width = width_of(text, TIME, where=where)
    return (None if width is None else True), width


def _people(text: str, where: str) -> int | None:
    if not known(text):
        return None
    named = [many for word, many in HANDS.items() if word in text.casefold().split()]
    given = [int(number) for number in re.findall(r"[0-9]+", text)[:1]]
    many = (given or named or [0])[0]
    if not 1 <= many <= MOST_PEOPLE:
        allowed = f'a number from 1 to {MOST_PEOPLE}, "alone", "with a helper" or "not known"'
        raise InputError(where, "is no number of people", value=text, allowed=allowed)
    return many


class Interview:
    """The questions one after the other, each answered in words; what was answered outlives a crash as a draft."""

    def __init__(self, workshop: Workshop, now: datetime, plan_name: str | None = None, *, keep: bool = True) -> None:
        self.now = now
        self.known = workshop.resins()
        self.plan_name = plan_name or next(iter([*workshop.draft_names(), *workshop.session_names()]), None)
        self.plan: Plan | None = None
        self.trouble = ""
        """Why there is no plan to set the day beside; empty where there is one, or none was asked for."""
        if self.plan_name is not None:
            try:
                self.plan = workshop.plan(self.plan_name)
            except LayupError as error:
                if plan_name is not None:
                    raise
                self.trouble = error.words
        of_plan = self.known.get(self.plan.resin_id) if self.plan is not None else None
        self.resins = list(offered(self.known, of_plan).values())
        """Those to choose from; any other may be named."""
        self.steps = () if self.plan is None else step_plans(self.plan, pace_of(self.plan.crew))
        """Those that may have been on the part."""
        self.answers: dict[str, str] = {}
        self.draft = workshop.sessions_folder / DRAFT if keep else None
        self.resumed = self._read_draft()
        self.at = min((KEYS.index(key) for key in KEYS if key not in self.answers), default=len(KEYS))

    @property
    def question(self) -> RecallQuestion | None:
        """The question to answer now; None where all are."""
        return QUESTIONS[self.at] if self.at < len(QUESTIONS) else None

    def choices(self) -> list[str]:
        """Return what can be chosen by its number where the question has such: the resins, or the steps."""
        key = self.question and self.question.key
        if key == "resin":
            return [f"{number}  {sheet.title}" for number, sheet in enumerate(self.resins, 1)]
        if key != "on_part":
            return []
        numbered = {step.step for step in self.steps}
        before = [
            step.name for number, step in enumerate(self.plan.steps if self.plan else (), 1) if number not in numbered
        ]
        return [*(f" -  {name}: before that day" for name in before), *(f"{s.step:>2}  {s.name}" for s in self.steps)]

    def answer(self, text: str) -> None:
        """Take the answer to the question and go on; InputError says where, what is wrong and what is allowed."""
        if self.question is None:
            return
        plain = clean(text, NOTE_LIMIT).strip()
        self.read(self.question.key, plain)
        self.answers[self.question.key] = plain
        self.at += 1
        if self.draft is not None:
            with suppress(OSError):  # where they cannot be kept, the questions go on all the same
                put(self.draft, json.dumps({"plan": self.plan_name, "answers": self.answers}).encode())

    def back(self) -> None:
        """Go back to the question before; its answer stands there to be changed."""
        self.at = max(self.at - 1, 0)

    def give(self, answers: Mapping[str, str]) -> None:
        """Take answers by their keys, with all that is wrong with them at once; what is not given is not known."""
        wrong = []
        for key in KEYS:
            try:
                self.read(key, answers.get(key, ""))
            except LayupError as error:
                wrong.append(str(error))
        if wrong:
            where, _, words = wrong[0].partition(": ")
            raise InputError(where, "\n".join([words, *wrong[1:]]))
        self.answers, self.at = dict(answers), len(KEYS)

    # -- what the answers mean ------------------------------------------------------------------------------------

    def read(self, key: str, text: str) -> Any:  # Any: what the question asks for
        """Return what one answer means."""
        readers: dict[str, Callable[[str, str], object]] = {
            "resin": self._resin,
            "shop": lambda text, where: width_of(text, SHOP, where=where),
            "cup": lambda text, where: cups_of(text, where=where),
            "thick": _thick,
            "on_part": self._steps_done,
            "closed": _closed,
            "people": _people,
            "wrong": lambda text, _: text if known(text) else "",
            "when": lambda text, _: day_of(text, self.now),
        }
        return readers[key](text, QUESTIONS[KEYS.index(key)].title.rstrip("?"))

    def _resin(self, text: str, where: str) -> Datasheet:
        if not known(text):
            todo = "make it from its pot life: 7 in the app; or take the most alike"
            raise InputError(where, "is needed to judge anything", value=text or "not told", todo=todo)
        if text.isdigit() and 1 <= int(text) <= len(self.resins):
            return self.resins[int(text) - 1]
        wanted = text.casefold()
        by_id = [sheet for sheet in self.known.values() if sheet.id == wanted]
        found = by_id or [sheet for sheet in self.known.values() if wanted in f"{sheet.id} {sheet.title}".casefold()]
        if len(found) != 1:
            names = ", ".join(f"{number} {sheet.id}" for number, sheet in enumerate(self.resins, 1))
            wrong = "fits several" if found else "is not in this workshop"
            raise InputError(where, wrong, value=text, allowed=names)
        return found[0]

    def _steps_done(self, text: str, where: str) -> Width | None:
        numbers = [step.step for step in self.steps]
        if not known(text) or not numbers:
            return None
        plain = text.casefold()
        whole = {"nothing": 0, "none": 0, "no": 0, "all": len(numbers), "everything": len(numbers)}
        if plain in whole:
            return Width(low=whole[plain], likely=whole[plain], high=whole[plain])
        named = [count for count, step in enumerate(self.steps, 1) if plain in step.name.casefold()]
        about = bool(re.match(r"about|around|~", plain))
        given = [int(word) for word in re.findall(r"[0-9]+", plain)]
        counts = named[:1] if named and not given else [numbers.index(n) + 1 for n in given if n in numbers]
        if not counts or len(counts) != len(given or counts) or len(counts) > 2:
            allowed = f'a step from {numbers[0]} to {numbers[-1]}, "2-4", "nothing", "all" or "not known"'
            raise InputError(where, "is no step of the plan", value=text, allowed=allowed)
        low, high = min(counts), max(counts)
        if about and low == high:
            return Width(low=max(low - 1, 0), likely=low, high=min(low + 1, len(numbers)), about=True)
        return Width(low=low, likely=(low + high) // 2, high=high)

    def story(self) -> Story:
        """Return all that was answered."""
        means = {key: self.read(key, self.answers.get(key, "")) for key in KEYS}
        (cup_g, cups), (thick_s, look), (closed, closed_s) = means["cup"], means["thick"], means["closed"]
        day, when = means["when"]
        told = ToldDay(
            resin_known=True,
            shop_K=means["shop"],
            cup_g=cup_g,
            cups=cups,
            thick_s=thick_s,
            look=look,
            steps_done=means["on_part"],
            closed=closed,
            closed_s=closed_s,
            people=means["people"],
            wrong=means["wrong"],
            when=when[:NAME_LIMIT],
        )
        return Story(told, means["resin"], self.plan_name if self.plan is not None else None, self.plan, day)

    # -- draft ------------------------------------------------------------------------------------------------------

    def _read_draft(self) -> bool:
        if self.draft is None:
            return False
        try:
            kept = json.loads(read_plain(self.draft, most=4 * NOTE_LIMIT))
            answers = {key: str(kept["answers"][key]) for key in KEYS if key in kept["answers"]}
            if kept["plan"] != self.plan_name:
                return False
            for key, text in answers.items():
                self.read(key, text)
        except (OSError, ValueError, TypeError, KeyError, RecursionError, LayupError):
            return False  # there is none, or it is of another plan, or cannot be read: it is written anew
        self.answers = answers
        return bool(answers)

    def forget(self) -> None:
        """Begin anew: the draft is gone."""
        self.answers, self.at, self.resumed = {}, 0, False
        if self.draft is not None:
            with suppress(OSError):
                self.draft.unlink(missing_ok=True)
