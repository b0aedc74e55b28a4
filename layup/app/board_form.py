"""A board, written down from a sketch: outline, stack, closing; beside it the section, the grams and the verdict."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Any

from rich.style import Style
from rich.text import Text
from textual import events
from textual.widgets import Input, Static

from layup.app.form import BESIDE, Form
from layup.app.form_fields import MISSING, OF_LABEL, WAYS, WRITE, Asked, BoardLine, FormJudgement
from layup.app.place import Host, in_pieces
from layup.app.resin_form import ResinForm
from layup.app.shell import TEXTURES, section
from layup.bench.board import BEFORE_ALL, BoardDraft, judged
from layup.bench.board_rows import FormRow, ends_words, lacking, settled, shape_asked
from layup.bench.planner import USUAL_SHOP_K, verdict_words
from layup.errors import LayupError, Problem
from layup.files.plan_file import PlanFile
from layup.files.toml import KeyPath, parse_toml
from layup.files.writing import found
from layup.planning.budget import step_lines
from layup.planning.plan import Plan
from layup.report.pictures import outline_picture
from layup.review.lessons import NOTHING_LEARNT
from layup.session.text import shortened
from layup.units import mass, temperature

if TYPE_CHECKING:
    from layup.bench.typed import Offer
    from layup.planning.planner import PlanResult
    from layup.review.lessons import Lessons

OF_STEP = "Enter open   type: new below   Ins above   < > move   = copy   ⌫ remove"
OF_PLACE = "type what comes here   < > up or down the stack   Enter done   Esc later"
OF_LIST = "Enter takes it   ↑↓ pick   Tab next   ^Z undo   ^S write   Esc later"
OF_RESIN = "   ^O its datasheet   "
OF_NUMBER = 7
"""Columns of the number and the texture of a step."""
LEAST_WET = 2
"""Layers to wet below which nothing is glued to anything: no stack to judge yet."""
ASKED = {"resin": "resin", "stations": "outline", "steps": "stack", "target_fibre_fraction": "fibre"}
"""What a verdict cannot do without, by its key."""
WIDEST_SKETCH = 5
"""Rows of the outline from above at most."""


@dataclass(frozen=True, slots=True)
class _Answer:
    """What a plan comes to, as far as it is known."""

    words: str
    figures: PlanResult | None = None


class BoardForm(Form):
    """A plan file in the making; `stem` names the plan to change, None makes a new one."""

    model = PlanFile

    def __init__(self, root: Path, stem: str | None = None) -> None:
        self.board = BoardDraft(root, stem)
        super().__init__(self.board.draft)
        path = self.draft.path
        self.heading = "NEW BOARD" if path is None else f"BOARD {path.parent.name}"
        self.picking = -1
        """Which of the offers the arrows went to; below 0 none."""
        self._stood: Plan | None = None
        """The last plan that could be drawn."""

    # -- what the form asks

    def asked(self, data: Mapping[str, Any]) -> Sequence[Asked]:
        """Return the lines of the board."""
        del data
        fields, heading = [], ""
        for row in self.board.rows():
            if row.kind == "head":
                heading = row.label
                continue
            kind = WRITE if row.kind == WRITE else "choice" if row.choices or row.kind == "step" else "text"
            why = f"{row.meaning} ({row.example})" if row.meaning and row.example else row.meaning or row.example
            fields.append(BoardLine(row.path, row.label, why, kind, row.choices, heading, row.needed, row=row))
            heading = ""
        return fields

    def judge(self, text: str) -> FormJudgement:
        """Return what `layup check` says of it, and what Stack would."""
        document = parse_toml(text, "")
        if isinstance(document, Problem):
            return FormJudgement(text, (document,))
        problems = tuple(shape_asked(each, document.data) for each in self.board.problems_of(text))
        try:
            plan = self.board.plan_of(text)
            if plan is None or not document.data.get("steps") or plan.resin_id not in self.board.resins:
                lacks = {each.message.removesuffix(MISSING) for each in problems}
                wants = ", ".join(name for key, name in ASKED.items() if key in lacks)
                wrong = next((f": {each.message}" for each in problems if not each.warning), "")
                needs = f", it needs: {wants}" if wants else wrong
                return FormJudgement(text, problems, _Answer(f"No verdict yet{needs}"))
            wet = sum(getattr(step, "layers", 1) for step in plan.steps if step.kind in ("fabric", "bond"))
            if wet < LEAST_WET and (wet or not any(step.kind == "cast" for step in plan.steps)):
                why = "add plies" if wet else "nothing to wet"
                return FormJudgement(text, problems, _Answer(f"No verdict yet: {why}"))
            planner, figures = judged(self.board, plan, self._lessons(), self._shop_K())
            words = verdict_words(figures, planner.fit(figures))
        except LayupError as error:
            return FormJudgement(text, problems, _Answer(error.not_known))
        return FormJudgement(
            text, problems, _Answer(f"{words} · at {temperature(figures.shop.temperature_K)}", figures)
        )

    def _lessons(self) -> Lessons:
        return self.app.planner.lessons if isinstance(self.app, Host) else NOTHING_LEARNT

    def _shop_K(self) -> float:
        settings = self.app.planner.settings if isinstance(self.app, Host) else None
        return USUAL_SHOP_K if settings is None else settings.temperature_K

    def place(self) -> Path:
        """Return where the plan is to be written."""
        return self.board.place()

    def saved(self) -> str:
        """Write the plan; return its name."""
        return self.board.save()

    # -- keys

    @property
    def row(self) -> FormRow | None:
        """The line that is being filled in."""
        here = self.here
        return here.row if isinstance(here, BoardLine) else None

    def offers(self) -> list[Offer]:
        """Return what may be picked on this line, by what is typed on it; nothing where its value stands."""
        row = self.row
        if row is None or row.kind in ("step", WRITE) or row.at_once or (row.value and not self._typed_new):
            return []
        return self.board.offers(row, self.entry.value)

    @property
    def marked(self) -> int | None:
        """Which of the offers Enter takes: where the arrows went, else the first for what is typed, or the only one."""
        if self.picking >= 0:
            return self.picking
        if self._typed_new:
            offers = self.offers()
            return 0 if self.entry.value.strip() and offers and offers[0].sure else None
        return 0 if self.row is not None and self.row.needed and len(self.offers()) == 1 else None

    @property
    def _typed_new(self) -> bool:
        row = self.row
        if row is None or row.kind in ("step", WRITE) or row.at_once:
            return False
        return self.entry.value.strip() != self._taken.strip()

    def took(self, event: events.Key) -> bool:
        """Take a key that moves a step, or that goes through what is offered."""
        row = self.row
        if row is not None and row.kind == "step" and self._step_key(row, event):
            return True
        after = self.board.add_after
        if after is not None and row is not None and row.path == ("steps",) and not self.entry.value:
            by = {"<": -1, ">": 1, "shift+up": -1, "shift+down": 1}.get(event.character or event.key, 0)
            if by:
                self.board.add_after = max(BEFORE_ALL, min(after + by, len(self.data.get("steps", [])) - 1))
                self._go_to(("steps",))
                return True
        offers = self.offers() if event.key in ("up", "down") else []
        if offers:
            by = 1 if event.key == "down" else -1
            if (by < 0 and not self.marked) or (by > 0 and self.marked == len(offers) - 1):
                self._leave(by)
                return True
            self.picking = 0 if self.marked is None else self.marked + by
            self.draw()
            return True
        return super().took(event)

    def _acts(self) -> dict[str, Callable[[], None]]:
        """Return what each key does; on a line that names a resin one more opens its datasheet."""
        return super()._acts() | ({"ctrl+o": self._open_resin} if self.row and self.row.path[-1:] == ("resin",) else {})

    def _open_resin(self) -> None:
        """Open the datasheet of the resin on this line, or a new one, and take the one that was written."""
        row, stem = self.row, str(found(self.data, self.row.path)) if self.row else ""

        def back(name: str | None) -> None:
            self.board.read_resins()
            if row is not None and name is not None and stem not in self.board.resin_ids:
                self.board.draft.change(self.board.typed(row, name))
            self.judged = FormJudgement("")
            self._go_to(row.path if row is not None else ())

        try:
            self.app.push_screen(
                ResinForm(self.board.workshop.root, stem if stem in self.board.resin_ids else None), back
            )
        except LayupError as error:
            self.say(str(error))

    def _leave(self, by: int) -> None:
        """Leave the line out of its list, up or down; what is typed on it and cannot be taken goes."""
        self.picking = self.picking if self._typed_new else -1
        if self._typed_new and not self._commit():
            self.entry.value = self.row.value if self.row is not None else ""
        self._move(by)

    def _step_key(self, row: FormRow, event: events.Key) -> bool:
        """Take a key of the list of steps."""
        number = int(row.path[1])
        key = event.character or "" if event.is_printable else event.key
        if key in ("<", ">", "shift+up", "shift+down"):
            row = self.board.move(row, -1 if key in ("<", "shift+up") else 1)
            self._go_to(row.path)
        elif key == "=":
            self.board.copy(row)
            self._go_to(("steps", number + 1))
        elif key in ("backspace", "delete"):
            self.board.remove(row)
            self._go_to(("steps", number))
        elif event.is_printable or key == "insert":
            self.board.add_after = number if event.is_printable else number - 1
            self._go_to(("steps",))
            self.entry.value = key if event.is_printable else ""
            self.entry.cursor_position = len(self.entry.value)
        elif key not in ("left", "right"):
            return False
        return True

    def _go_to(self, path: KeyPath) -> None:
        """Read the lines anew, and go to the one of a key."""
        self._read()
        self._typing_at = None
        self.go(next((at for at, each in enumerate(self.fields) if each.path == path), self.at))

    def _undo(self) -> None:
        """Clear what is typed and not taken yet; else take the last change back."""
        if not self._typed_new:
            super()._undo()
            return
        self.entry.value, self.picking = self._taken, -1
        self.say("typing cleared   ^Z again undoes the last change")

    def entered(self, text: str) -> None:
        """Open a step, take what is typed or picked on a line, or go on to the next one."""
        row = self.row
        if row is not None and row.kind == "step":
            number = int(row.path[1])
            self.board.opened = None if self.board.opened == number else number
            self._go_to(row.path)
            return
        if row is not None and row.kind == "add":
            if text.strip():
                if self._commit() and self.board.opened is not None:
                    wanted = lacking(self.data["steps"][self.board.opened])
                    self._go_to(("steps", self.board.opened, wanted[0]) if wanted else row.path)
            elif self.board.add_after is not None and row.path == ("steps",):
                after, self.board.add_after = self.board.add_after, None
                self._go_to(("steps", max(after, 0)))
            else:
                super().entered(text)
            return
        gone = row is not None and row.kind == "item" and not text.strip()
        if (self._typed_new or self.marked is None or self._commit()) and not (gone and self._commit()):
            super().entered(text)

    def settled(self, text: str) -> str:
        """Return a text whose outline closes by itself."""
        return settled(text)

    def go(self, at: int) -> None:
        """Leave the line, once what is typed on it was taken."""
        new = self._typed_new or self.picking >= 0
        if new and self.row is not None and self.row.kind != "add" and not self._commit():
            return
        self.picking = -1
        super().go(at)

    def _commit(self) -> bool:
        """Take what is typed or picked on this line; say what is wrong with it and stay, where something is."""
        row, text, offers, marked = self.row, self.entry.value, self.offers(), self.marked
        assert row is not None
        trouble = self.board.take(row, text, offers[marked] if offers and marked is not None else None)
        if trouble:
            self.entry.select_all()
            self.say(trouble)
            return False
        self.picking, self.said = -1, ""
        self._touched = row.path
        self._read()
        self._show_entry()
        self.draw()
        self._judge_soon()
        return True

    def on_input_changed(self) -> None:
        """Show what may be picked by what is typed so far."""
        super().on_input_changed()
        row = self.row
        if row is not None and not row.at_once:
            self.picking = -1
            self.said = self.said if self.entry.value == row.value else ""
            self.draw()

    def _take(self) -> bool:
        row = self.row
        return super()._take() if row is not None and row.at_once else False

    def _text_with(self, here: Asked, typed: str) -> str:
        """Return the file's text with what is typed on a line."""
        assert isinstance(here, BoardLine)
        return self.board.typed(here.row, typed)

    def _show_entry(self) -> None:
        super()._show_entry()
        row = self.row
        if row is not None and row.kind == "step":
            self.entry.cursor_position = 0

    # -- drawing

    def draw(self) -> None:
        """Draw the form; a step's line begins with its number and its texture."""
        super().draw()
        if self.row is not None and self.row.kind == "step":
            label = self.query_one("#form-label", Static)
            label.update(Text(f"▸{self._numbered(int(self.row.path[1]))}", style="bold"))
            label.styles.width = OF_NUMBER
            with self.entry.prevent(Input.Changed):
                self.entry.value = self._taken = shortened(self.row.value, self.columns - OF_NUMBER)

    def _numbered(self, number: int) -> str:
        texture = TEXTURES.get(str(self.data["steps"][number].get("kind")), "?")
        return f"{number + 1:>2} {texture * 2} "

    def _title(self) -> str:
        """Return the name of the board, what it still needs, and the verdict."""
        answer = self.judged.figures
        stands = isinstance(answer, _Answer) and answer.figures is not None and self.judged.text == self.draft.text
        verdict = answer.words.partition(" · at")[0] if stands and isinstance(answer, _Answer) else ""
        return verdict if verdict and self.size.width < BESIDE else super()._title()

    def _note(self, problem: Problem | None, width: int) -> Text:
        """Return why the line matters, what is wrong with it, and what may be picked on it."""
        if self.here is None:
            where = self.place().relative_to(self.board.workshop.root)
            return Text(f"  {where}", style="dim")
        note, offers = super()._note(problem, width), self.offers()
        if not offers:
            return note
        room = 3 if self.size.height < 20 else 6
        marked = self.marked
        first = max(0, min((marked or 0) - room // 2, len(offers) - room))
        for at, offer in enumerate(offers[first : first + room], first):
            here = at == marked
            told = fill(offer.words, width - 3, subsequent_indent="    ") if here else shortened(offer.words, width - 3)
            note.append(f"\n{'▸' if here else ' '} {told}", style="bold" if here else "")
            if here and offer.source:
                note.append(f"\n    {shortened(offer.source, width - 5)}", style="dim")
        if len(offers) > first + room:
            note.append(f"\n    {len(offers) - first - room} more, type on", style="dim")
        return note

    def _lines(self, at: int, problem: Problem | None, width: int) -> Iterator[Text]:
        """Yield the lines of a field; a step is drawn over the whole width, its texture first."""
        one = self.fields[at] if at < len(self.fields) else None
        if isinstance(one, BoardLine) and one.row.kind == "add":
            yield from self._head(at)
            hint = shortened(one.row.example, max(width - OF_LABEL, 8))
            yield Text(f" {one.label:<{OF_LABEL - 1}}{hint}", style=Style(dim=True, meta={"field": at}), no_wrap=True)
            return
        if not isinstance(one, BoardLine) or one.row.kind != "step":
            yield from super()._lines(at, problem, width)
            return
        yield from self._head(at)
        words = f" {self._numbered(int(one.path[1]))}{shortened(one.row.value, max(width - OF_NUMBER, 8))}"
        yield Text(words, style=Style(bold=True, meta={"field": at}), no_wrap=True)
        if problem is not None:
            yield Text(shortened(f"  ✗ {problem.message}", width), style=Style(meta={"field": at}))

    def ways(self) -> str:
        """Return the keys of this line."""
        row = self.row
        if row is not None and row.kind == "step":
            return OF_STEP
        if row is not None and row.path == ("steps",) and self.board.add_after is not None and not self.entry.value:
            return OF_PLACE
        ways = OF_LIST if self.offers() else WAYS
        return ways.replace("   ", OF_RESIN, 1) if row is not None and row.path[-1:] == ("resin",) else ways

    def beside(self, judged: FormJudgement, width: int, rows: int) -> Text:
        """Draw the verdict, the section with its grams, and the outline from above."""
        answer = judged.figures if isinstance(judged.figures, _Answer) else _Answer("")
        now = judged.text == self.draft.text
        text = Text(no_wrap=True)
        width = max(width - 1, 20)
        for line in in_pieces((answer.words if now else "working it out ...").split(" · "), width):
            text.append(f"{fill(line, width)}\n", style="bold")
        plan = self.board.plan()
        if plan is None and self.data.get("outline"):
            plan = self._stood  # what is wrong by now is said at its line
        self._stood = plan
        if plan is None:
            return text.append("The section is drawn here\nonce outline and stack stand.", style="dim")
        used = len(text.plain.splitlines())
        if self.data.get("steps"):
            drawn = self._section(plan, answer.figures if now else None, width)
            text.append("\n").append(drawn)
            used += 1 + len(drawn.plain.splitlines())
        room = min(rows - used - 4, WIDEST_SKETCH)
        if room > 1:
            lines = [*outline_picture(plan.outline, width=width, rows=room), fill(ends_words(self.data), width)]
            text.append("\n\n" + "\n".join(filter(None, lines)), style="not dim")
        return text

    def _section(self, plan: Plan, figures: PlanResult | None, width: int) -> Text:
        """Return the section and what it takes in all: of the resin where there is one, else of mix alone."""
        try:
            lines = step_lines(plan)
        except LayupError as error:
            return Text(error.not_known)
        lost_g = figures.budget.losses_g if figures is not None and plan.lays else None
        text = section(plan, lines, width=width, lost_g=lost_g)
        if figures is None:
            return text.append(f"TOTAL {mass(sum(line.mix_g for line in lines))} without cups", style="bold")
        budget = figures.budget
        parts = f"{mass.digits(budget.resin_g)} + {mass.digits(budget.hardener_g)}"
        count = len(figures.split.batches)
        batches = f"{count} batch{'' if count == 1 else 'es'}"
        return text.append(
            "\n".join(in_pieces((f"TOTAL {mass(budget.mix_g)} = {parts}", batches), width)), style="bold"
        )
