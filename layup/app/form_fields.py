"""The fields of a form: what each fills in a file, the line that is typed in, and which problem is whose."""

from __future__ import annotations

import datetime
import re
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import zip_longest
from textwrap import wrap
from typing import Any, Protocol, runtime_checkable

from rich.style import Style
from rich.text import Text
from textual import events
from textual.binding import Binding
from textual.widgets import Input, Static
from textual.widgets.input import Selection

from layup.bench.board_rows import YES_NO, FormRow
from layup.bench.typed import number
from layup.dimensions import DIMENSIONS
from layup.errors import Problem
from layup.files.toml import KeyPath, key_name
from layup.files.writing import found
from layup.session.text import shortened
from layup.units import spelled

OF_LABEL = 18
NOT_KNOWN, NEEDED = "not known", "needed"
WRITE = "write"
"""The kind of the line that writes the file, above what can wait."""
MISSING = " is missing"
"""How a problem ends that is of a key which is not there."""

WAYS = "Enter next   Esc later   ^S write   ^Z undo   PgUp PgDn group   ↑↓"
"""The keys of most lines."""
CHOOSES = "←→ chooses: "


def narrow(ways: str, *, looking: bool) -> str:
    """Return the keys of a line where what comes of the form has no room beside it, or is looked at in its place."""
    if looking:
        return "^L fields   Esc fields   ^S write"
    first = ["Enter next", "", "^S write   Esc"] if ways == WAYS else ways.split("   ", 2)
    return "   ".join([*filter(None, first[:2]), "^L curve", *first[2:]])


def _always(_data: Mapping[str, Any]) -> bool:
    return True


# -- fields ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Asked:
    """One field: the key of the file that it fills, its label, why it matters, and the kind of its value.

    A kind is the name of a dimension, or one of text, number, date, list (its items parted by ;) and choice.
    """

    path: KeyPath
    label: str
    why: str
    kind: str = "text"
    choices: tuple[str, ...] = ()
    heading: str = ""
    """Stands above it, where a group begins."""
    needed: bool = False
    when: Callable[[Mapping[str, Any]], bool] = field(default=_always)
    """Whether it is asked at all, by what the file says."""
    bare_unit: str = ""
    """Of a number without a unit; empty where that is the one that people see."""

    @property
    def keys(self) -> tuple[str, ...]:
        """The names that problems have for what it fills."""
        return (key_name(self.path),)

    @property
    def called(self) -> str:
        """Its name in a sentence."""
        return self.label.strip()

    @property
    def example(self) -> str:
        """How it may be typed, where that is not plain."""
        if self.bare_unit:
            return f"24 {self.bare_unit}"
        if self.kind in DIMENSIONS:
            return DIMENSIONS[self.kind].example
        return {"date": "2024-05-31", "list": "one; another"}.get(self.kind, "")

    def shown(self, data: Mapping[str, Any]) -> str:
        """Return what the file says, as it is typed."""
        value = found(data, self.path)
        if isinstance(value, list):
            return "; ".join(str(each) for each in value)
        return "" if value is None else str(value)

    def changes(self, text: str) -> dict[KeyPath, object]:
        """Return what the file is to say for what was typed; what cannot be read goes there as it is."""
        return {self.path: self.value(text.strip())}

    def value(self, text: str) -> object:
        """Return the value that a text means; "150 g (cup)" is 150 g."""
        text = re.sub(r"\s*\([^)]*\)", "", text) if self.kind in (*DIMENSIONS, "number") else text
        if not text:
            return None
        with suppress(ValueError):
            if self.kind == "number":
                return number(text)
            if self.kind == "date":
                return datetime.date.fromisoformat(text)
            if self.kind not in ("text", "choice", "list"):
                return spelled(text, self.kind, bare_unit=self.bare_unit)
        return [part.strip() for part in text.split(";") if part.strip()] if self.kind == "list" else text

    def lacks(self, data: Mapping[str, Any], problem: Problem | None) -> bool:
        """Whether it has to be filled in and is not."""
        missing = problem is not None and not problem.warning and problem.message.endswith(MISSING)
        return not self.shown(data) and (self.needed or missing)

    def chosen(self, now: str, key: str, letter: str) -> str | None:
        """Return the choice that a key makes, an arrow or a first letter; "" takes it away, None means nothing."""
        at = self.choices.index(now) if now in self.choices else None
        if key in ("left", "right"):
            by, first = (1, 0) if key == "right" else (-1, len(self.choices) - 1)
            return self.choices[first if at is None else (at + by) % len(self.choices)]
        if key in ("backspace", "delete"):
            return ""
        after = self.choices[0 if at is None else at + 1 :]
        told = (each for each in (*after, *self.choices) if letter.strip() and each.lower().startswith(letter.lower()))
        return next(told, None)


@dataclass(frozen=True, slots=True)
class BoardLine(Asked):
    """A line of a board as a field of the form."""

    row: FormRow = field(default=FormRow((), "head", ""))

    @property
    def called(self) -> str:
        """Its name in a sentence; a step's or an item's is what it holds."""
        in_list = self.row.kind in ("step", "item")
        return f"{self.label} {self.row.value.partition(' · ')[0]}" if in_list else self.label

    def shown(self, data: Mapping[str, Any]) -> str:
        """Return the value as it stands."""
        del data
        return self.row.value

    def chosen(self, now: str, key: str, letter: str) -> str | None:
        """Return the choice that a key makes; of yes and no also by the letters of true and false."""
        letter = {"t": "y", "f": "n"}.get(letter.lower(), letter) if self.choices == YES_NO else letter
        return Asked.chosen(self, now, key, letter)


@runtime_checkable
class TakesKeys(Protocol):
    """A screen with an entry, which takes some of its keys before the next one."""

    def entered(self, text: str) -> None:
        """Take what was typed, at Enter."""

    def took(self, event: events.Key) -> bool:
        """Take another key that is not of the entry's text; False where it is."""
        ...


@runtime_checkable
class HasFields(Protocol):
    """A screen with fields to go to."""

    def go(self, at: int) -> None:
        """Go to a field."""
        ...


class Rows(Static):
    """Fields that are not being filled in; a tap goes to one."""

    def on_click(self, event: events.Click) -> None:
        """Go to the field that is tapped."""
        form, at = self.screen, event.style.meta.get("field")
        if isinstance(form, HasFields) and at is not None:
            form.go(at)


EDITS = {key: one.action for one in Input.BINDINGS if isinstance(one, Binding) for key in one.key.split(",")}
"""What a key does in a line that is typed in; "backspace" and its like."""


class FieldEntry(Input):
    """A line whose keys are taken in their order, Enter too: whoever types on without looking loses no letter."""

    async def _on_key(self, event: events.Key) -> None:
        """Give the key to the screen at once; one that bubbles to bindings comes behind the next ones."""
        screen = self.screen
        assert isinstance(screen, TakesKeys)
        if event.key == "enter":
            screen.entered(self.value)
        elif not screen.took(event):
            if event.key not in EDITS:
                await super()._on_key(event)
                return
            await self.run_action(EDITS[event.key])
        event.stop()
        event.prevent_default()

    def action_home(self, select: bool = False) -> None:
        """Go to the start; where all is selected the cursor is there, and typing still takes the place of it."""
        if select or self.selection != Selection(len(self.value), 0):
            super().action_home(select)


# -- problems --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class FormJudgement:
    """What is wrong with a text, and what comes of it; `figures` is what a form draws beside its fields."""

    text: str
    problems: tuple[Problem, ...] = ()
    figures: object = None

    @property
    def stands(self) -> bool:
        """Whether the file could be used; of nothing, or what was not judged yet, it is not."""
        return bool(self.text) and all(problem.warning for problem in self.problems)


def placed(problems: Iterable[Problem], fields: Sequence[Asked], touched: KeyPath = ()) -> dict[int, Problem]:
    """Return the worst problem of each field, by its place; one that no field has stands at -1.

    What is wrong with a whole table stands at the field of it that was `touched` last, else at its first.
    """
    places: dict[int, Problem] = {}
    names = [each.keys for each in fields]
    for problem in sorted(problems, key=lambda each: (each.warning, each.message.endswith(MISSING))):
        key = problem.key
        if problem.message.endswith(MISSING):
            key = ".".join(part for part in (key, problem.message.removesuffix(MISSING)) if part)
        near = [
            at for at, each in enumerate(fields) if each.path == touched and key_name(touched).startswith(f"{key}[")
        ]
        places.setdefault(near[0] if near and key else _place_of(key, names), problem)
    return places


def standing(fields: Sequence[Asked], data: Mapping[str, Any]) -> list[tuple[KeyPath, str, str]]:
    """Return the key, the value and the name of each field."""
    return [(each.path, each.shown(data), each.called) for each in fields]


def first_changed(
    before: Sequence[tuple[object, ...]], after: Sequence[tuple[object, ...]]
) -> tuple[int | None, object]:
    """Return the place and the name of the first field that differs; of one that is gone, or is there again, too."""
    longer = max(after, before, key=len)
    at = next((at for at, pair in enumerate(zip_longest(before, after)) if pair[0] != pair[1]), None)
    return at, "" if at is None else longer[at][2]


def begun(rest: Sequence[Asked], group: KeyPath) -> bool:
    """Return whether a group has fields behind the one that is filled in, the first of the `rest`."""
    groups = [each.path[:-1] for each in rest]
    return bool(group) and groups[:1] == [group] and group in groups[1:]


def still_said(text: str, data: Mapping[str, Any]) -> bool:
    """Return whether all that a file's text says stands in what is said now, which may say more."""

    def within(old: object, now: object) -> bool:
        if isinstance(old, Mapping):
            return isinstance(now, Mapping) and all(within(old[key], now.get(key)) for key in old)
        if isinstance(old, list):
            return isinstance(now, list) and len(old) <= len(now) and all(map(within, old, now))
        return old == now

    return within(tomllib.loads(text), data)


def unheld(problems: Iterable[Problem], fields: Sequence[Asked], group: KeyPath) -> Iterator[Problem]:
    """Yield what is wrong while a group is half filled in: of that only what is missing, or wrong in one field."""
    name, own = key_name(group), {key for each in fields for key in each.keys}
    for each in problems:
        of_group = each.key and (name.startswith(each.key) or each.key.startswith(name)) and each.key not in own
        if not group or not of_group or each.message.endswith(MISSING):
            yield each


def _place_of(key: str, names: Sequence[tuple[str, ...]]) -> int:
    """Return which field a problem's key is of: its own, else the first one below it, else the one around it."""
    for fits in (str.__eq__, lambda name, key: name.startswith((f"{key}.", f"{key}["))):
        for at, keys in enumerate(names):
            if key and any(fits(name, key) for name in keys):
                return at
    around = (at for at, keys in enumerate(names) if any(key.startswith((f"{name}.", f"{name}[")) for name in keys))
    return next(around, -1)


def wrong_lines(problem: Problem | None, width: int, *, rows: int) -> list[str]:
    """Return what is wrong in a few lines: ! where it may stay so, ✗ where the file could not be used."""
    if problem is None:
        return []
    words = f"{'!' if problem.warning else '✗'} {problem.message}" + (f" - {plain(problem)}" if problem.hint else "")
    lines = wrap(words, max(width - 2, 10), initial_indent="  ", subsequent_indent="    ")
    if len(lines) <= rows:
        return lines
    rest = " ".join(line.strip() for line in lines[rows - 1 :])
    return [*lines[: rows - 1], shortened(f"  {rest}", width)]


def plain(problem: Problem) -> str:
    """Return what to do about a problem as a form says it: what to type, without the key of the file."""
    return re.sub(r'write (?:\w+ = )?"([^"]*)"', r"write \1", problem.hint)


def told(fields: Sequence[Asked], data: Mapping[str, Any], places: Mapping[int, Problem]) -> tuple[int, list[str]]:
    """Return how many fields are needed still, and in words how many are needed, wrong and odd."""
    needed = sum(1 for at, each in enumerate(fields) if each.lacks(data, places.get(at)))
    odd = sum(1 for each in places.values() if each.warning)
    counts = (needed, NEEDED), (len(places) - odd - needed, "wrong"), (odd, "odd")
    return needed, [f"{count} {word}" for count, word in counts if count > 0]


def left_words(places: Mapping[int, Problem], fields: Sequence[Asked], touched: KeyPath, here: int) -> str:
    """Say what is wrong or odd with a field that was left, or in it, and what to type; empty where nothing is."""
    for at, each in places.items():
        own = at not in (-1, here) and touched and fields[at].path[: len(touched)] == touched
        if own and not each.message.endswith(MISSING):
            return f"{fields[at].label.strip()}: {each.message}" + (f" - {plain(each)}" if each.hint else "")
    return ""


def field_lines(
    one: Asked, data: Mapping[str, Any], problem: Problem | None, width: int, meta: Style
) -> Iterator[Text]:
    """Yield a field's label and value in a line, and what is wrong with it below."""
    if one.kind == WRITE:
        yield Text(shortened(f" {one.label}   {one.why}", width), style=meta)
        return
    value, lacks = one.shown(data), one.lacks(data, problem)
    line = Text(f" {one.label:<{OF_LABEL - 1}}", style=meta, no_wrap=True)
    words = shortened(value, max(width - OF_LABEL, 8)) or (NEEDED if lacks else NOT_KNOWN)
    yield line.append(words, style="bold" if value else "reverse" if lacks else "dim")
    if problem is not None and not problem.message.endswith(MISSING):
        yield from (Text(words, style=meta) for words in wrong_lines(problem, width, rows=3))
