"""A layup from before the program, asked for in nine questions; the answers outlive a crash as a draft."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime

from layup.chemistry.datasheet import Datasheet, offered
from layup.chemistry.looks import ONE_TOLD, ToldWord
from layup.errors import InputError, LayupError
from layup.files.durable import put
from layup.files.toml import read_plain
from layup.files.workshop import Workshop
from layup.planning.crew import MOST_PEOPLE, pace_of
from layup.planning.plan import Plan
from layup.session.fields import NAME_LIMIT, NOTE_LIMIT, StepPlan, ToldDay, Width
from layup.session.mass_balance import step_plans
from layup.session.recall import Story
from layup.session.text import clean_text
from layup.session.told import SHOP, TIME, cups_of, day_of, known, look_of, width_of

DRAFT = ".recall.json"
"""Beside the sessions, until the answers are one of them."""


# -- questions -------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RecallQuestion:
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


class Interview:
    """The questions one after the other, each answered in words; what was answered outlives a crash as a draft."""

    def __init__(self, workshop: Workshop, now: datetime, plan_name: str | None = None, *, keep: bool = True) -> None:
        self.workshop = workshop
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
        self.answers: dict[str, str] = {}
        self.draft = workshop.sessions_folder / DRAFT if keep else None
        self.resumed = self._read_draft()
        self.at = min((KEYS.index(key) for key in KEYS if key not in self.answers), default=len(KEYS))

    @property
    def question(self) -> RecallQuestion | None:
        """The question to answer now; None where all are."""
        return QUESTIONS[self.at] if self.at < len(QUESTIONS) else None

    @property
    def steps(self) -> tuple[StepPlan, ...]:
        """The steps that may have been on the part."""
        return () if self.plan is None else step_plans(self.plan, pace_of(self.plan.crew))

    def choices(self) -> list[str]:
        """Return what can be chosen by its number where the question has such: the resins, or the steps."""
        if self.question is None or self.question.key not in ("resin", "on_part"):
            return []
        if self.question.key == "resin":
            return [f"{number}  {sheet.title}" for number, sheet in enumerate(self.resins, 1)]
        numbered = {step.step for step in self.steps}
        before = [
            step.name for number, step in enumerate(self.plan.steps if self.plan else (), 1) if number not in numbered
        ]
        return [*(f" -  {name}: before that day" for name in before), *(f"{s.step:>2}  {s.name}" for s in self.steps)]

    def answer(self, text: str) -> None:
        """Take the answer to the question and go on; InputError says where, what is wrong and what is allowed."""
        if self.question is None:
            return
        plain = clean_text(text, limit=NOTE_LIMIT).text.strip()
        self.read(self.question.key, plain)
        self.answers[self.question.key] = plain
        self.at += 1
        self._write_draft()

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

    def read(self, key: str, text: str) -> object:
        """Return what one answer means."""
        where = next(question.title.rstrip("?") for question in QUESTIONS if question.key == key)
        if key == "resin":
            return self._resin(text, where)
        if key == "shop":
            return width_of(text, SHOP, where=where)
        if key == "cup":
            return cups_of(text, where=where)
        if key == "thick":
            return self._thick(text, where)
        if key == "on_part":
            return self._steps_done(text, where)
        if key == "closed":
            return self._closed(text, where)
        if key == "people":
            return self._people(text, where)
        return day_of(text, self.now) if key == "when" else text

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

    @staticmethod
    def _thick(text: str, where: str) -> tuple[Width | None, ToldWord | None]:
        if not known(text) or text.casefold() in ("no", "never", "it did not", "not at all"):
            return None, None
        look, rest = look_of(text)
        at = width_of(rest, TIME, where=where)
        return at, look or ("thickening" if at is not None else None)

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

    @staticmethod
    def _closed(text: str, where: str) -> tuple[bool | None, Width | None]:
        plain = text.casefold()
        if plain in ("no", "never", "not closed", "n"):
            return False, None
        if plain in ("yes", "y", "closed"):
            return True, None
        width = width_of(text, TIME, where=where)
        return (None if width is None else True), width

    @staticmethod
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

    def story(self) -> Story:
        """Return all that was answered."""
        said = {question.key: self.answers.get(question.key, "") for question in QUESTIONS}
        sheet = self._resin(said["resin"], "resin")
        cup_g, cups = cups_of(said["cup"], where="cup")
        thick_s, look = self._thick(said["thick"], "thick")
        closed, closed_s = self._closed(said["closed"], "closed")
        day, when = day_of(said["when"], self.now)
        told = ToldDay(
            resin_known=True,
            shop_K=width_of(said["shop"], SHOP, where="shop"),
            cup_g=cup_g,
            cups=cups,
            thick_s=thick_s,
            look=look,
            steps_done=self._steps_done(said["on_part"], "steps"),
            closed=closed,
            closed_s=closed_s,
            people=self._people(said["people"], "people"),
            wrong=said["wrong"] if known(said["wrong"]) else "",
            when=when[:NAME_LIMIT],
        )
        return Story(told, sheet, self.plan_name if self.plan is not None else None, self.plan, day)

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

    def _write_draft(self) -> None:
        """Keep the answers so far at one go; where that cannot be, the questions go on all the same."""
        if self.draft is None:
            return
        with suppress(OSError):
            put(self.draft, json.dumps({"plan": self.plan_name, "answers": self.answers}).encode())

    def forget(self) -> None:
        """Begin anew: the draft is gone."""
        self.answers, self.at, self.resumed = {}, 0, False
        if self.draft is not None:
            with suppress(OSError):
                self.draft.unlink(missing_ok=True)
