"""Go, wait or no: the page over Stack that stands between a plan and its first batch."""

from __future__ import annotations

from collections.abc import Container, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import TYPE_CHECKING, cast

from rich.text import Text
from textual import events, work
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widgets import Static

from layup.app.checklist import ChecklistPage
from layup.app.place import in_pieces
from layup.app.prompts import WOOD_HINT, Ask, Dialog, Page, ask_out_by, ask_share, ask_temperature, if_yes, sure
from layup.app.shell import big_lines, tapped
from layup.bench.planner import DONE, OPEN, Beginning, hanging, titled, verdict_words
from layup.errors import LayupError
from layup.planning.checklist import Item
from layup.planning.planner import PlanResult
from layup.planning.readiness import Readiness, ready_rows, summary
from layup.review.carried import carriers
from layup.session.day_events import Note
from layup.session.text import NOTE_LIMIT, clean
from layup.units import temperature

if TYPE_CHECKING:
    from layup.app.place import Host


LINES_OF_CAUTION = 3
LOW, NARROW = 20, 60
"""Rows and columns below which the answer stands in a word of usual size."""
KEYS = {
    "i": "I list", "w": "W wood", "t": "T tonight", "d": "D out by",
    "question_mark": "? cautions", "escape": "Esc back"
}  # fmt: skip
OVER_A_WAIT = {"o": "O begin anyway"}
"""The one key that begins against a WAIT: it asks first, and says what waits."""
BEGIN, ANYWAY = "begin", "anyway"
SHAPES = {"go": "●", "wait": "◆", "no": "■"}
"""One shape for each answer; each always stands beside its word."""


class BeginPage(Dialog[str | None]):
    """Whether to begin, why, and keys for what is not known yet. It answers BEGIN, ANYWAY or None."""

    BINDINGS = [("escape", "dismiss(None)", "not yet")]

    def __init__(self, figures: PlanResult, beginning: Beginning) -> None:
        super().__init__()
        self.figures = figures
        self.beginning = beginning
        self.trouble = ""
        self.eager = False
        """Whether it was to begin before the answer was known."""

    def compose(self) -> ComposeResult:
        with Vertical(classes="page"):
            with Horizontal(id="begin-head"):
                yield Static(id="begin-word")
                yield Static(id="begin-what")
            with VerticalScroll(id="begin-scroll", can_focus=True):
                yield Static(id="begin-body")
            yield Static(id="begin-next")
            yield Static(id="begin-keys", classes="dim")

    def on_mount(self) -> None:
        """Show the answer, or work it out; read what earlier sessions carried forward, which may be news."""
        self.show()
        self._read_notes()

    @work(thread=True, group="notes")
    def _read_notes(self) -> None:
        planner = cast("Host", self.app).planner
        with suppress(LayupError):
            found = carriers(planner.workshop)
            if found != planner.carriers:
                self.app.call_from_thread(planner.take_notes, found)
                self.app.call_from_thread(self._worked_out)

    def on_resize(self) -> None:
        """Break the lines anew."""
        self.show()

    def on_screen_resume(self) -> None:
        """Show what a page over this one has changed, as a tick of the list."""
        if self.is_mounted:
            self.show()
            self.query_one("#begin-scroll").scroll_home(animate=False)

    @property
    def ready(self) -> Readiness | None:
        """The answer, once it is worked out."""
        return self.beginning.answer(self.figures)

    def show(self) -> None:
        """Redraw everything; start to work the answer out where it is not known."""
        ready, plan = self.ready, self.figures.plan
        small = self.app.size.height < LOW or self.app.size.width < NARROW
        head = self.query_one("#begin-head")
        head.set_class(small, "small")
        word = ready.answer.upper() if ready else ""
        self.query_one("#begin-word", Static).update(Text(word if small else "\n".join(big_lines(word))))
        if ready:
            verdict = [verdict_words(self.figures, ready.fit), summary(ready)]
        else:
            verdict = [self.trouble or "working it out ..."]
        people = "1 person" if plan.crew.people == 1 else f"{plan.crew.people} people"
        what = f"{temperature(self.figures.shop.temperature_K)} · {people}"
        room = self.query_one("#begin-what").size.width or NARROW // 2
        said = [line for words in (titled(plan), what, *verdict) for line in in_pieces(words.split(" · "), room)]
        self.query_one("#begin-what", Static).update(Text("\n".join(said)))
        width = max(self.query_one("#begin-scroll").size.width - 1, 30)
        notes = from_last_time(self.beginning.items(self.figures), self.beginning.ticked, width)
        reasons = readiness_lines(ready, width=width) if ready else []
        lines = [*reasons, *notes] if small else [*notes, *reasons]  # where there are few rows, why comes first
        cautions = self.figures.datasheet.cautions[:LINES_OF_CAUTION]
        for words in (*map(to_do, cautions), "Times are estimates. SDS first."):
            lines += hanging("- ", words, width)
        self.query_one("#begin-body", Static).update(Text("\n".join(lines)))
        self.query_one("#begin-next", Static).update(self._next(ready))
        shown = OVER_A_WAIT | KEYS if ready and ready.answer == "wait" else KEYS
        keys = Text("\n".join(in_pieces(shown.values(), self.query_one("#begin-keys").size.width or width, "   ")))
        for key, words in shown.items():
            keys.stylize(tapped(key), keys.plain.index(words), keys.plain.index(words) + len(words))
        self.query_one("#begin-keys", Static).update(keys)
        if ready is None and not self.trouble:
            self._work_out()

    def _ticked(self) -> tuple[int, int]:
        """Return how many items of the list before the day are ticked, and how many there are."""
        items = self.beginning.items(self.figures)
        return sum(item.key in self.beginning.ticked for item in items), len(items)

    def _next(self, ready: Readiness | None) -> Text:
        """Say what to press next, and how far the list is ticked."""
        ticked, of = self._ticked()
        key, does = ("enter", "checklist" if of and not ticked else "begin")
        if does == "begin" and ready is not None and ready.answer == "no":
            key, does = "o", "begin anyway"
        text = Text(f"▶ {key.upper()} {does}", style=tapped(key, bold=True))
        return text.append(f"   {of - ticked} left" if ticked < of else "", style="not bold")

    def on_click(self, event: events.Click) -> None:
        """Press the key that is tapped."""
        if key := event.style.meta.get("key"):
            self.app.simulate_key(key)

    def _enter(self) -> None:
        """Do what the line says: the list first, then begin."""
        ticked, of = self._ticked()
        if of and not ticked:
            self._list()
        elif self.ready is not None and self.ready.answer == "wait":
            self._anyway()
        else:
            self._begin()

    @work(thread=True, exclusive=True)
    def _work_out(self) -> None:
        try:
            self.beginning.judge(self.figures)
        except LayupError as error:
            self.trouble = str(error)
        self.app.call_from_thread(self._worked_out)

    def _worked_out(self) -> None:
        if not self.is_attached:  # it may have been left meanwhile
            return
        self.show()
        if self.eager and self.ready is not None and self.ready.answer == "go" and self.is_current:
            self.dismiss(BEGIN)

    def on_key(self, event: events.Key) -> None:
        """Take one of the keys; others do nothing here."""
        taken = {
            "enter": self._enter,
            "o": self._anyway,
            "n": lambda: self.dismiss(None),
            "w": self._wood,
            "t": self._tonight,
            "d": self._out_by,
            "i": self._list,
            "question_mark": self._whole,
        }
        if event.key in taken:
            event.stop()
            taken[event.key]()

    def _whole(self) -> None:
        """Show every reason, and every caution of the resin, in full."""
        rows = ready_rows(self.ready) if self.ready else []
        lines = [line for head, words in rows for line in hanging(f"{head:<5} ", words, self.app.size.width - 12)]
        self.app.push_screen(Page("Begin", Text("\n".join([*lines, "", *self.figures.datasheet.cautions]))))

    def _begin(self) -> None:
        if self.ready is None:
            self.eager = True
            self._say("working it out: begins if GO ...")
            return
        if self.ready.answer == "no":
            self._say("NO: change something first, or press o to begin anyway.")
            return
        self.dismiss(BEGIN)

    def _anyway(self) -> None:
        """Begin against the answer: over a NO by saying why, over a WAIT by a yes to what waits."""
        if self.ready is not None and self.ready.answer == "no":
            self.dismiss(ANYWAY)
        elif self.ready is not None and self.ready.answer == "wait":
            waits = [f"◆ {reason.words}" for reason in self.ready.reasons if reason.answer == "wait"]
            title = "\n".join([*waits, "", "Begin anyway?"])
            cast("Host", self.app).ask(sure(title, "yes, begin"), if_yes(self._begin))

    def _say(self, words: str) -> None:
        self.query_one("#begin-what", Static).update(Text(words))

    def _learnt(self, **known: float) -> None:
        self.beginning.outlook = replace(self.beginning.outlook, **known)
        self.trouble = ""
        self.show()

    def _wood(self) -> None:
        ask_share(self.app, "Moisture of the wood", WOOD_HINT, lambda m: self._learnt(wood_moisture=m))

    def _tonight(self) -> None:
        ask_temperature(self.app, "Coldest shop tonight", lambda night_K: self._learnt(night_K=night_K))

    def _out_by(self) -> None:
        ask_out_by(self.app, self.beginning.outlook.out_by_s, lambda out_by_s: self._learnt(out_by_s=out_by_s))

    def _list(self) -> None:
        self.app.push_screen(ChecklistPage(self.beginning.items(self.figures), cast("Host", self.app)))


def open_begin_page(app: Host, figures: PlanResult, *, list_first: bool = False) -> None:
    """Ask whether to begin, and begin; show the list before that, if it was not opened and is to come first."""
    beginning = app.planner.beginning
    if list_first and not beginning.ticked:
        page_of_items = ChecklistPage(beginning.items(figures), app)
        app.push_screen(page_of_items, lambda _: open_begin_page(app, figures))
        return
    page = BeginPage(figures, beginning)

    def answered(answer: str) -> None:
        ready = page.ready
        if answer == BEGIN:
            _begin(app, figures, "")
        if answer == BEGIN or ready is None:
            return
        reasons = against(ready)
        ask = Ask(f"NO: {reasons}\n\nWhy begin anyway?", "kept in the log", check=_some_words)
        app.ask(ask, lambda why: _begin(app, figures, f"{why} - against: {reasons}"))

    app.ask(page, answered)


def against(ready: Readiness) -> str:
    """Return the reasons against beginning in one line, for the note of a day begun anyway."""
    return " ".join(reason.words for reason in ready.reasons if reason.answer == "no")


def _some_words(text: str) -> str | None:
    return None if len(text.strip()) > 2 else "say why, in a few words"


def _begin(app: Host, figures: PlanResult, override: str) -> None:
    from layup.bench.opening import begin

    try:
        day = begin(app.planner, figures, app.clock)
    except LayupError as error:
        app.say(str(error))
        return
    app.day = day
    if override:
        day.log(Note(text=clean(f"begun against the answer NO: {override}", NOTE_LIMIT)), "")
    app.action_go("mix" if figures.plan.lays else "bench")
    app.say(day.greeting)


def readiness_lines(ready: Readiness, *, width: int) -> list[str]:
    """Return the answer whether to begin as lines of at most `width`, what is no trouble and not known in short."""
    lines = []
    spare = {one.words for one in ready.reasons if one.kind == "batches" and one.answer == "go"}  # the verdict says it
    for head, words in ready_rows(ready):
        if words in spare or head == "?":
            continue
        words = words.partition(";")[0].rstrip(".") if head == "GO" else words
        lines += hanging(f"{SHAPES.get(head.lower(), ' ')} {head:<5}", words, width)
    unknown = " · ".join(words.partition(":")[0] for words in ready.unknown)
    return [*lines, *hanging("? ".rjust(5).ljust(7), unknown, width)]


def from_last_time(items: Sequence[Item], done: Container[str], width: int) -> list[str]:
    """Return what earlier sessions carried forward, each with its box; it is ticked on the list."""
    notes = [item for item in items if item.group == "from last time"]
    lines = ["FROM LAST TIME"] if notes else []
    for item in notes:
        lines += hanging(f"{DONE if item.key in done else OPEN} ", item.words, width)
    return lines


def to_do(caution: str) -> str:
    """Return what a caution asks for, without why: all of it stands on the page behind `?` and on the wall sheet."""
    act = caution.partition(": ")[2] or caution.partition("; ")[0]
    return f"{act[:1].upper()}{act[1:].rstrip('.')}."
