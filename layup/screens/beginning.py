"""Before the first batch: what is known of the night and the wood, what is ticked, and whether to begin. No widget."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from layup.planning.checklist import Item, checklist
from layup.planning.odds import odds_of
from layup.planning.overnight import Outlook
from layup.planning.readiness import Readiness, heating_lines, readiness, with_list
from layup.records.events import Checked, Event, NightExpected, WoodMoistureRead
from layup.records.text import clean_text

if TYPE_CHECKING:
    from layup.screens.desk import Figures

SHAPES = {"go": "●", "wait": "◆", "no": "■"}
"""One shape for each answer; each always stands beside its word."""
SUMMARY = {
    "go": "Nothing that is known stands against it",
    "wait": "Put this right or arrange it first, or begin knowing it",
    "no": "Change something first",
}


class Beginning:
    """What is settled before a press day begins; a new one for each day."""

    def __init__(self) -> None:
        self.outlook = Outlook()
        self.ticked: dict[str, str] = {}
        """Key -> words of what is ticked."""
        self._judged: tuple[Figures, Outlook, Readiness] | None = None

    def known(self, figures: Figures) -> Readiness | None:
        """Return the answer for these figures, if it was worked out."""
        if self._judged is None or self._judged[0] is not figures or self._judged[1] != self.outlook:
            return None
        return self._judged[2]

    def judge(self, figures: Figures) -> Readiness:
        """Work the answer out; it may take half a second, so off the screen."""
        outlook, what = self.outlook, figures.what
        drawn = odds_of(what.settled)
        chance = drawn.chance if drawn else None
        found = readiness(what.case, what.settled, what.window, outlook, chance=chance)
        self._judged = (figures, outlook, found)
        return found

    def answer(self, figures: Figures) -> Readiness | None:
        """Return the answer with the list "before you start", if it was worked out."""
        ready, items = self.known(figures), self.items(figures)
        ticked = sum(item.key in self.ticked for item in items)
        return None if ready is None else with_list(ready, ticked=ticked, of=len(items))

    def items(self, figures: Figures) -> tuple[Item, ...]:
        """Return the list "before you start"."""
        return checklist(figures.what.case, figures.what.settled, self.known(figures))

    def tick(self, item: Item) -> bool:
        """Tick an item, or take its tick away; return whether it is ticked now."""
        if item.key in self.ticked:
            del self.ticked[item.key]
            return False
        self.ticked[item.key] = item.words
        return True

    def first_events(self) -> tuple[Event, ...]:
        """Return what the journal is told as the day begins."""
        known = self.outlook
        events: list[Event] = [ticked(key, words) for key, words in self.ticked.items()]
        if known.wood_moisture is not None:
            events.append(WoodMoistureRead(moisture_fraction=known.wood_moisture))
        if known.night_K is not None:
            events.append(NightExpected(coldest_K=known.night_K, out_by_s=known.out_by_s))
        return tuple(events)


def ticked(key: str, words: str, *, done: bool = True) -> Checked:
    """Return the event of an item ticked, or not any more."""
    return Checked(item=key, words=clean_text(words, limit=200).text, done=done)


def summary(ready: Readiness) -> str:
    """Return the answer in a sentence, with how much of it nobody knows."""
    count = len(ready.unknown)
    unknown = f"; {count} {'thing is' if count == 1 else 'things are'} not known" if count else ""
    return f"{SUMMARY[ready.answer]}{unknown}."


def ready_rows(ready: Readiness) -> list[tuple[str, str]]:
    """Return (head, words) rows: what weighs most, the heat that takes it away, the rest, what is not known."""
    rows = [(reason.answer.upper(), f"{reason.words} {reason.todo}".strip()) for reason in ready.reasons]
    worst = [row for row in rows if row[0] == ready.answer.upper()]
    heat = [("HEAT", words) for words in heating_lines(ready.heating)] if ready.heating else []
    return [*worst, *heat, *rows[len(worst) :], *(("?", words) for words in ready.unknown)]


def readiness_lines(ready: Readiness, *, width: int) -> list[str]:
    """Return the answer whether to begin as lines of at most `width`."""
    lines = []
    for head, words in ready_rows(ready):
        lines += hanging(f"{SHAPES.get(head.lower(), ' ')} {head:<5}", words, width)
    return lines


def hanging(head: str, words: str, width: int) -> list[str]:
    """Return words in lines of at most `width` characters, each after the first as far in as the first's head."""
    return textwrap.wrap(words, width, initial_indent=head, subsequent_indent=" " * len(head), break_on_hyphens=False)


def against(ready: Readiness) -> str:
    """Return the reasons against beginning in one line, for the note of a day begun all the same."""
    return " ".join(reason.words for reason in ready.reasons if reason.answer == "no")
