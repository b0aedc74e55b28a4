"""What is told on the page beside the acts: notes, when it was, how the part turned out, the list before you start."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from layup.bench.afterwards import FIELDS, met_again, note_of, noted, outcome_with, times_to_meet
from layup.bench.changes import last_told, that_was, when_question, when_s
from layup.bench.day import PressDay, Said
from layup.bench.opening import MEASURED, items_of_day, tick_item
from layup.review.evidence import DEFECTS, GOOD
from layup.units import parse

AGO_MIN = (2, 5, 10, 15, 30)
"""Offered for what was forgotten, so that one tap tells it."""
TYPED = {"typed": True}
BACK = "BACK"
"""What leaves a question without an answer."""
NEXT = "NEXT"
"""What leaves an item of the list open, and goes on to the one after it."""
Fields = Mapping[str, object]
Choices = list[tuple[str, object]]
"""What a question may be answered with: words and answer; TYPED for what is typed, None to leave it."""


@dataclass(frozen=True, slots=True)
class PageQuestion:
    """A question as the page shows it; the answer comes back with `kind` and what it is `about`."""

    kind: str
    title: str
    choices: Choices
    about: str = ""
    tap: str = ""
    """The button that the answer goes to, where it is not the one that was tapped."""
    usual: str = ""
    number: str = ""
    typed_words: bool = False
    """Whether what is typed is words, not a number."""


def with_unit(text: str, unit: str) -> str:
    """Return what was typed with a unit, where it is a bare number."""
    plain = text.strip().replace(",", ".")
    return f"{plain} {unit}" if plain.replace(".", "", 1).lstrip("-").isdigit() else plain


def note(day: PressDay, given: Fields) -> Said | PageQuestion:
    """Ask for a note and keep it, once; then log when it is met again."""
    asked, answer, about = (given.get(key) for key in ("question", "answer", "about"))
    if not isinstance(answer, str):
        return PageQuestion(
            "note", "Note: what is worth knowing next time", [("KEEP IT", TYPED), (BACK, None)], typed_words=True
        )
    if asked == "again" and isinstance(about, str):
        return met_again(day, about, answer)
    if day.state.notes and day.state.notes[-1].text == note_of(answer).text:
        return Said("noted already", False)
    return noted(day, answer)


def outcome(day: PressDay, given: Fields) -> Said | PageQuestion:
    """Ask how the part turned out, word by word, and keep each once."""
    answer, before = given.get("answer"), day.state.outcome
    if isinstance(answer, str):
        event = outcome_with(day.state, answer)
        return Said(f"{answer}: noted already", False) if event is None else day.log(event, event.describe())
    tags = () if before is None else before.tags
    words: Choices = [(word, word) for word in (GOOD, *DEFECTS) if word not in tags]
    title = ": ".join(filter(None, (FIELDS[0].title, ", ".join(tags))))
    return PageQuestion("outcome", title, [*words, ("DONE", None)], tap="outcome")


def earlier(day: PressDay, given: Fields) -> Said | PageQuestion:
    """Ask when the last entry by hand happened, and give that entry, once, the time that is said."""
    seq, answer, about = last_told(day), given.get("answer"), given.get("about")
    if isinstance(answer, str) and len(answer) <= 40 and isinstance(about, str) and about.isdecimal():
        return that_was(day, when_s(day, answer), int(about))
    if seq is None:
        return Said("not now: there is no entry yet", False)
    ago: Choices = [(f"{each} min ago", f"{each}") for each in AGO_MIN if 60.0 * each <= day.now_s()]
    return PageQuestion("earlier", when_question(day, seq), [*ago, ("AS TYPED", TYPED), (BACK, None)], about=f"{seq}")


def when_met_again(day: PressDay, given: Fields) -> PageQuestion:
    """Ask when a note that was just kept is met again."""
    times: Choices = [(words, step) for step, words in times_to_meet(day)]
    return PageQuestion("again", "Meet this note again next time?", times, about=str(given.get("answer")))


def checklist(day: PressDay, given: Fields) -> Said | PageQuestion:
    """Show the first item that is open, or the next one after what it is about; tick one, once, measured where it is.

    LayupError where the plan cannot be worked out, or a number cannot be read.
    """
    items, answer, about = items_of_day(day), given.get("answer"), given.get("about")
    here = next((place for place, item in enumerate(items) if item.key == about), -1)
    if here >= 0 and answer is not None and answer != NEXT:
        item = items[here]
        if item.key in day.state.ticks:
            return Said(f"{item.short}: ticked already", False)
        if item.key not in MEASURED:
            return tick_item(day, item) if answer is True else Said("not ticked", False)
        title = MEASURED[item.key]
        return tick_item(day, item, parse(with_unit(str(answer)[:20], "%"), "fraction", where=title))
    ahead = [item for item in (*items[here + 1 :], *items[: here + 1]) if item.key not in day.state.ticks]
    if not ahead:
        return Said(f"CHECKLIST {len(items)}/{len(items)}", False)
    item, done = ahead[0], sum(item.key in day.state.ticks for item in items)
    tick: tuple[str, object] = ("AS TYPED", TYPED) if item.key in MEASURED else ("TICK", True)
    asked = f"\n{MEASURED[item.key]}, %" if item.key in MEASURED else ""
    title = f"CHECKLIST {done}/{len(items)}\n{item.group}\n{item.words}{asked}"
    return PageQuestion("checklist", title, [tick, (NEXT, NEXT), (BACK, None)], item.key, "checklist")
