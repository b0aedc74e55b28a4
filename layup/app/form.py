"""A form: a column of fields for one file, each with why it matters and what is wrong with it, and what comes of it.

What is typed goes into the text of the file at once, and the file's own checks say what is wrong with that. One entry
line serves all fields, so that whoever types on without looking loses no key.
"""

from __future__ import annotations

import threading
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rich.style import Style
from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widgets import Static
from textual.widgets.input import Selection

from layup.app import form_fields as of
from layup.app.form_fields import MISSING, NEEDED, NOT_KNOWN, OF_LABEL, Asked, FieldEntry, FormJudgement, wrong_lines
from layup.app.place import Host, in_pieces
from layup.app.prompts import Dialog
from layup.errors import InputError, LayupError, Problem
from layup.files.toml import KeyPath
from layup.files.writing import written
from layup.session.text import shortened

if TYPE_CHECKING:
    from pydantic import BaseModel

    from layup.files.drafts import Draft

BESIDE = 76
"""Columns from which on what comes of it stands beside the fields."""
OF_COLUMN = 44
PAUSE_S = 0.6
"""How long nothing is typed before the entry itself is called wrong."""

# -- form ------------------------------------------------------------------------------------------------------------


class Form(Dialog[str | None]):
    """The fields of one file. Its answer is the name of what was written; None where it was left for later."""

    model: type[BaseModel]
    opened_by, heading = "F", ""

    def __init__(self, draft: Draft) -> None:
        super().__init__()
        self.draft = draft
        self.data: dict[str, Any] = {}
        self.fields: list[Asked] = []
        self.at = 0
        self.judged = FormJudgement("")
        older = "an older draft is kept   ^R takes it up" if draft.older else ""
        self.said = "draft taken up again   ^R drops it" if draft.resumed else older
        self._busy = self._pausing = False
        self._typing_at: int | None = None  # the field that the last change was typed in, while it is not left
        self._told: Sequence[KeyPath] = ()  # what the last change filled beside its own field
        self._touched: KeyPath = ()  # the field of the last change
        self._filling: KeyPath = ()  # the group last typed in, while it is neither left nor gone through
        self._before = FormJudgement("")  # what came of the text before that group was begun
        self._taken = ""  # what stood in the entry when it was last taken
        self._keeping = threading.Lock()

    # -- what a form of a file says of itself

    def asked(self, data: Mapping[str, Any]) -> Sequence[Asked]:
        """Return the fields, by what the file says."""
        raise NotImplementedError

    def judge(self, text: str) -> FormJudgement:
        """Return what is wrong with a text, and what comes of it; runs beside the screen."""
        raise NotImplementedError

    def beside(self, judged: FormJudgement, width: int, rows: int) -> Text:
        """Draw what comes of it."""
        raise NotImplementedError

    def settled(self, text: str) -> str:
        """Return a text with what follows from what was typed."""
        return text

    def place(self) -> Path:
        """Return where the file is to be written."""
        raise NotImplementedError

    # -- screen

    def compose(self) -> ComposeResult:
        yield Static(id="form-title")
        with Horizontal(id="form-body"):
            with Vertical(id="form-column"):
                yield of.Rows(id="form-above")
                with Horizontal(id="form-row"):
                    yield Static(id="form-label")
                    yield FieldEntry(max_length=2000, compact=True)
                yield Static(id="form-note")
                yield of.Rows(id="form-below")
            yield Static(id="form-beside")
        yield Static(id="form-said")
        yield Static(id="form-ways")

    def on_mount(self) -> None:
        """Show the first field that is needed."""
        self._read()
        self.go(next((at for at, each in enumerate(self.fields) if each.needed and not each.shown(self.data)), 0))
        self._judge_soon()

    def on_resize(self) -> None:
        """Draw it anew at the new size."""
        self.call_after_refresh(self.draw)

    @property
    def entry(self) -> FieldEntry:
        """The line that is typed in."""
        return self.query_one(FieldEntry)

    @property
    def here(self) -> Asked | None:
        """The field that is being filled in; None on the last line, which writes the file."""
        return self.fields[self.at] if self.at < len(self.fields) else None

    @property
    def writes(self) -> bool:
        """Whether Enter writes the file on this line."""
        return self.here is None or self.here.kind == of.WRITE

    def _read(self) -> None:
        """Take up what the text says."""
        with suppress(tomllib.TOMLDecodeError):
            self.data = tomllib.loads(self.draft.text)
        here = self.here
        self.fields = [each for each in self.asked(self.data) if each.when(self.data)]
        if here is not None:
            self.at = next((at for at, each in enumerate(self.fields) if each.path == here.path), self.at)

    # -- keys

    def took(self, event: events.Key) -> bool:
        """Take a key that moves or does something, or that chooses where there is a choice."""
        here, acts = self.here, self._acts()
        if event.key in acts:
            acts[event.key]()
        elif self.writes:
            self.app.bell()
        elif here is None or here.kind != "choice":
            return False
        elif (chosen := here.chosen(here.shown(self.data), event.key, event.character or "")) is None:
            self.say(f"{of.CHOOSES}{', '.join(here.choices)}")
        else:
            self._change(chosen)
            self._show_entry()
            self.draw()
        return True

    def _acts(self) -> dict[str, Callable[[], None]]:
        """Return what each key does on every line; at once, and not as a binding, which comes behind the next keys."""
        moves = {"up": -1, "shift+tab": -1, "down": 1, "tab": 1}
        acts: dict[str, Callable[[], None]] = {key: partial(self._move, by) for key, by in moves.items()}
        acts |= {"pageup": partial(self._page, -1), "pagedown": partial(self._page, 1), "escape": self._later}
        return acts | {"ctrl+z": self._undo, "ctrl+s": self._write, "ctrl+r": self._drop, "ctrl+l": self._look}

    def entered(self, text: str) -> None:
        """Go on to the next field, or write the file from the last line."""
        del text
        if self.writes:
            self._write()
        else:
            self._take()
            ahead = (at for at, each in enumerate(self.fields) if at > self.at and each.path not in self._told)
            self.go(next(ahead, len(self.fields)))

    def _move(self, by: int) -> None:
        """Go to a field beside."""
        self.go(self.at + by)

    def _page(self, by: int) -> None:
        """Go to the next group, or the one before."""
        begins = [at for at, each in enumerate(self.fields) if each.heading or at == 0]
        others = [at for at in begins if (at > self.at if by > 0 else at < self.at)]
        self.go((others[0] if by > 0 else others[-1]) if others else len(self.fields) if by > 0 else 0)

    def go(self, at: int) -> None:
        """Leave the field, and go to another; what follows from what was typed is filled in."""
        self._take()
        if self._typing_at is not None:
            self.draft.change(self.settled(self.draft.text), same_step=True)
        self._typing_at, self._pausing = None, False
        self.said = "" if self.said.startswith(of.CHOOSES) else self.said
        self.at = max(0, min(at, len(self.fields)))
        self._read()
        self._filling = self._filling if self._waits else ()
        self._say_left()
        self._show_entry()
        self.draw()
        self._judge_soon()

    @property
    def _waits(self) -> bool:  # the group that is filled in has fields behind this one: needed still, not wrong
        return of.begun(self.fields[self.at :], self._filling)

    def _show_entry(self) -> None:
        entry, here = self.entry, self.here
        value = "" if here is None else here.shown(self.data)
        if here is not None and here.kind == "choice":
            value = f"◂ {value or NEEDED if here.needed else value or NOT_KNOWN} ▸"
        entry.value = self._taken = value
        entry.placeholder = f"such as {here.example}" if here is not None and here.example else ""
        plain = here is None or here.kind == "choice"
        entry.selection = Selection.cursor(len(value)) if plain else Selection(len(value), 0)
        entry.focus()

    def on_input_changed(self) -> None:
        """Put what is typed into the file's text."""
        if self._take():
            self._pausing = False
            self.draw()
            self.set_timer(PAUSE_S, partial(self._paused, self._taken))

    def _take(self) -> bool:
        """Take what stands in the entry, where it says something new; a key may come before the message of it."""
        here, typed = self.here, self.entry.value
        if here is None or here.kind == "choice" or typed == self._taken:
            return False
        self._taken = typed
        self._change(typed)
        return True

    def _paused(self, typed: str) -> None:
        self._pausing = typed == self._taken  # else it goes on
        self.draw()

    def _change(self, typed: str) -> None:
        here = self.here
        assert here is not None
        try:
            text = self._text_with(here, typed)
        except InputError as error:
            self.said = str(error)
            return
        self.said, self._told = "", [path for path in here.changes(typed) if path != here.path]
        self.draft.change(text, same_step=self._typing_at == self.at)
        self._typing_at, self._touched, self._filling = self.at, here.path, here.path[:-1]
        self._read()
        self._judge_soon()

    def _text_with(self, here: Asked, typed: str) -> str:
        """Return the file's text with what is typed in a field."""
        return written(self.draft.text, here.changes(typed), self.model)

    def _undo(self) -> None:
        """Take the last change back, and go to it."""
        self._take()
        before = of.standing(self.fields, self.data)
        if not self.draft.undo():
            self.say("nothing to undo")
            return
        self._typing_at, self._taken = None, self.entry.value
        self._read()
        at, name = of.first_changed(before, of.standing(self.fields, self.data))
        self.go(self.at if at is None else at)
        self.say(f"undone: {name}" if name else "undone")

    def _drop(self) -> None:
        """Go back to what the file says, or from there to a draft set aside as it changed; that can be undone too."""
        self._take()
        older = "" if self.draft.changed else self.draft.older
        self.draft.change(older or self.draft.first)
        self._typing_at, self._taken = None, self.entry.value
        self.go(0)
        self.say("older draft taken up   ^Z drops it" if older else "draft dropped   ^Z brings it back")

    def _look(self) -> None:
        """Show what comes of it in the place of the fields, or the fields again."""
        self.toggle_class("-looking")
        self.call_after_refresh(self.draw)

    def on_key(self, event: events.Key) -> None:
        """Go back to the fields, whose entry is hidden and takes no key; other keys do there what they do."""
        if self.has_class("-looking") and (act := self._acts().get(event.key)):
            event.stop()
            self._look()
            if event.key not in ("escape", "ctrl+l"):
                act()

    def _later(self) -> None:
        """Leave; what was typed is kept."""
        self._take()
        kept = self.draft.changed
        self._keep()
        if kept and isinstance(self.app, Host):
            self.app.say(f"draft kept: {self.opened_by} goes on")
        self.dismiss(None)

    def _write(self) -> None:
        """Write the file, or go to what keeps it from being written."""
        self._take()
        text = self.settled(self.draft.text)
        self.draft.change(text, same_step=True)
        self._read()
        self.judged = self.judge(text)
        wrong = [problem for problem in self.judged.problems if not problem.warning]
        if wrong:
            self._filling = ()
            places = self._placed().items()
            self.go(min((at for at, each in places if at >= 0 and not each.warning), default=self.at))
            self.say(f"{sum(not each.warning for _, each in places)} to mend before it can be used")
            return
        try:
            with self._keeping:  # so that no draft is kept behind it
                self.dismiss(self.saved())
        except LayupError as error:
            self.say(str(error))

    def saved(self) -> str:
        """Write the file; return its name."""
        path = self.place()
        self.draft.save(path)
        return path.stem

    def ways(self) -> str:
        """Return the keys of this line."""
        return of.WAYS

    def say(self, words: str) -> None:
        """Show one line above the keys."""
        self.said = words
        self.draw()

    # -- what comes of it

    def _judge_soon(self) -> None:
        """Judge the text beside the screen; while that lasts, only the last text is next."""
        if not self._busy and self.judged.text != self.draft.text:
            self._busy = True
            self.run_worker(partial(self._judge, self.draft.text), thread=True, group="form")

    def _judge(self, text: str) -> None:
        try:
            self._keep()
            judged = replace(self.judge(self.settled(text)), text=text)
        except LayupError as error:
            judged = FormJudgement(text, (Problem("", 0, "", str(error)),))
        with suppress(RuntimeError):  # the app is gone
            self.app.call_from_thread(self._now_judged, judged)

    def _now_judged(self, judged: FormJudgement) -> None:
        self._busy = False
        self.judged = judged
        if judged.stands or not self._waits:
            self._before = judged
        if self.is_attached and not self.answered:
            self._say_left()
            self.draw()
            self._judge_soon()

    def _say_left(self) -> None:
        """Say what is wrong or odd with the field that was typed in last, once it is left and that is known."""
        if self.judged.text == self.draft.text and self._typing_at is None:
            self.said = of.left_words(self._placed(), self.fields, self._touched, self.at) or self.said

    def _keep(self) -> None:
        """Keep the draft on the disk, unless it was written."""
        with self._keeping:
            if not self.answered:
                self.draft.keep()

    # -- drawing

    @property
    def columns(self) -> int:
        """How many columns the fields have."""
        beyond = self.size.width - BESIDE
        return min(OF_COLUMN + beyond // 3, 70) if beyond >= 0 else self.size.width - 2

    def draw(self) -> None:
        """Draw the fields around the one that is being filled in, and what comes of them."""
        wide = self.size.width >= BESIDE
        self.set_class(wide, "-beside")
        self.set_class(self.has_class("-looking") and not wide, "-looking")
        if not self.has_class("-looking"):
            self.entry.focus()
        body_width, rows = self.size.width - 2, max(self.query_one("#form-body").size.height, 4)
        width = self.columns
        self.query_one("#form-column").styles.width = width if wide else "100%"
        problems = self._placed()
        self.query_one("#form-title", Static).update(Text(shortened(self._title(), body_width), style="bold"))
        label = f"▸{self.here.label}" if self.here else "▸WRITE THE FILE"
        self.query_one("#form-label", Static).update(Text(label, style="bold"))
        self.query_one("#form-label").styles.width = "100%" if self.writes else OF_LABEL
        self.query_one("#form-note", Static).update(note := self._note(problems.get(self.at), width))
        room = rows - 1 - len(note.plain.splitlines())
        lines = [list(self._lines(at, problems.get(at), width)) for at in range(len(self.fields) + 1)]
        above = [line for each in lines[: self.at] for line in each] + self._head(self.at)
        below = [line for each in lines[self.at + 1 :] for line in each]
        first = min(len(above), max(room // 2, room - len(below)))
        self.query_one("#form-above", Static).update(Text("\n").join(above[len(above) - first :]) if first else Text())
        self.query_one("#form-above").display = bool(first)
        self.query_one("#form-below", Static).update(Text("\n").join(below[: max(room - first, 0)]))
        said = self.said or (problems[-1].message if -1 in problems else "")
        self.query_one("#form-said", Static).update(Text(said, style="bold"))
        self.query_one("#form-said").display = bool(said)
        ways = self.ways() if wide else of.narrow(self.ways(), looking=self.has_class("-looking"))
        self.query_one("#form-ways", Static).update(Text(in_pieces(ways.split("   "), body_width, "   ")[0]))
        space = body_width - 1 - (width if wide else 0)
        if wide or self.has_class("-looking"):
            of_before = self._waits and self._before.stands and of.still_said(self._before.text, self.data)
            judged = replace(self.judged, figures=self._before.figures) if of_before else self.judged
            self.query_one("#form-beside", Static).update(self.beside(judged, space, rows))

    def _title(self) -> str:
        needed, told = of.told(self.fields, self.data, self._placed())
        ready = self.judged.stands and not needed
        return "   ".join([self.heading, *told, *(["ready: ^S writes it"] if ready else [])])

    def _placed(self) -> dict[int, Problem]:
        shown = of.unheld(self.judged.problems, self.fields, self._filling if self._waits else ())
        return of.placed(shown, self.fields, self._touched)

    def _note(self, problem: Problem | None, width: int) -> Text:
        """Return what is wrong with the field, or why it matters."""
        here = self.here
        if here is None:
            return Text(f"  {self.place().name}", style="dim")
        missing = problem is None or problem.message.endswith(MISSING)
        typing = self._typing_at == self.at and not self._pausing and here.kind != "choice"
        if missing or typing:
            return Text(f"  {here.why}", style="italic")
        return Text("\n").join(Text(line, style="bold") for line in wrong_lines(problem, width, rows=3))

    def _head(self, at: int) -> list[Text]:
        heading = self.fields[at].heading if at < len(self.fields) else " "
        return [Text(heading, style="bold underline" if heading.strip() else "")] if heading else []

    def _lines(self, at: int, problem: Problem | None, width: int) -> Iterator[Text]:
        """Yield the lines of a field that is not being filled in."""
        meta = Style(meta={"field": at})
        yield from self._head(at)
        if at == len(self.fields):
            yield Text(" WRITE THE FILE", style=meta)
        else:
            yield from of.field_lines(self.fields[at], self.data, problem, width, meta)
