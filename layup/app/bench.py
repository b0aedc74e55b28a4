"""Bench: the press day at a glance, big enough for two metres away."""

from __future__ import annotations

from rich.text import Text
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widgets import Static

from layup.app.place import Place
from layup.app.shell import BigDigits
from layup.bench.acts import Act
from layup.bench.alarms import Board
from layup.bench.cards import BenchView, Card, bench_view
from layup.bench.day import PressDay
from layup.bench.forecast import log_lines, step_lines

TALL_CARD_WIDTH = 40
"""Columns that a card takes with digits of ten rows."""
LOG_LINES = 40
STEPS_WIDTH = 54
"""Columns of the day's table, as the stylesheet has them."""
CARD_WIDTH = 26
"""Columns that a card takes at least, as the stylesheet has it."""
_ANY_DIGIT = str.maketrans("123456789", "0" * 9)


class CardBox(Vertical):
    """One batch with big digits."""

    DEFAULT_CLASSES = "card"

    def __init__(self) -> None:
        super().__init__()
        self.wanted: Card | None = None

    def compose(self) -> ComposeResult:
        yield Static(classes="card-title")
        yield BigDigits("")
        yield Static(classes="card-word")
        yield Static(classes="card-foot")

    def on_mount(self) -> None:
        """Draw what was to be shown before there was anything to draw on."""
        if self.wanted is not None:
            self._draw(self.wanted, None)

    def show(self, card: Card) -> None:
        """Redraw what changed."""
        before, self.wanted = self.wanted, card
        if self.is_mounted:
            self._draw(card, before)

    def _draw(self, card: Card, before: Card | None) -> None:
        if before is None or before.title != card.title:
            self.query_one(".card-title", Static).update(Text(card.title), layout=False)
        if before is None or before.digits != card.digits:
            self.query_one(BigDigits).say(card.digits)
        if before is None or (before.word, before.urgency) != (card.word, card.urgency):
            self.query_one(".card-word", Static).update(Text(f"{card.shape} {card.word.upper()}"), layout=False)
            self.set_class(card.urgency > 0, "soon")
            self.set_class(card.urgency > 1, "over")
        if before is None or before.foot != card.foot:
            self.query_one(".card-foot", Static).update(Text(card.foot), layout=False)


class BenchPlace(Place):
    """Cards for the batches that live, the step on the bench, the forecast and the log."""

    def __init__(self) -> None:
        super().__init__(id="bench")
        self.shown: BenchView | None = None
        self.waiting = ""
        self.logged = -1
        self.more = ""
        self.steps: tuple[str, ...] = ()

    def compose(self) -> ComposeResult:
        yield Static(id="bench-empty")
        with Horizontal(id="cards"):
            pass
        yield Static(id="bench-more")
        yield Static(id="bench-now")
        yield Static(id="bench-next")
        yield Static(id="bench-forecast")
        yield Static(id="bench-waiting")
        with Horizontal(id="bench-columns"):
            yield Static(id="bench-log")
            yield Static(id="bench-steps")

    def show(self) -> None:
        """Redraw everything."""
        self.shown = None
        self.logged = -1
        self.tick()

    def tick(self) -> None:
        """Redraw what changed since the last time."""
        day = self.layup.day
        empty = self.query_one("#bench-empty", Static)
        if day is None:
            empty.update("No press day is running. Press s for the plan, then g to begin it.")
            return
        view = bench_view(day)
        if empty.display == bool(view.cards) or self.shown is None:
            empty.update("" if view.cards else "No batch is mixed. Press w to weigh the first.")
            empty.display = not view.cards
        self._show_cards(view)
        before = self.shown
        self.shown = view
        self._line("#bench-now", view.now, before.now if before else None)
        self._line("#bench-next", view.after, before.after if before else None)
        self._line("#bench-forecast", view.forecast, before.forecast if before else None)
        waiting = "TO MIX  " + ("\n        ".join(view.waiting) or "nothing more")
        self._line("#bench-waiting", waiting, self.waiting)
        self.waiting = waiting
        self._show_steps(day)
        if day.state.seq != self.logged:
            self.logged = day.state.seq
            self.query_one("#bench-log", Static).update(Text("\n".join(log_lines(day, LOG_LINES))))

    def _show_steps(self, day: PressDay) -> None:
        """Show the whole day as a table where there is room beside the log."""
        table = self.query_one("#bench-steps", Static)
        table.display = self.screen.has_class("-wide")
        room = self.query_one("#bench-columns").size.height
        steps = step_lines(day, day.now_s(), width=STEPS_WIDTH, rows=room) if table.display else ()
        if steps != self.steps:
            self.steps = steps
            table.update(Text("\n".join(steps), no_wrap=True))

    def _line(self, name: str, words: str, before: str | None) -> None:
        """Show words that changed; everything is laid out anew only where more than digits did."""
        if words != before:
            as_tall = before is not None and words.translate(_ANY_DIGIT) == before.translate(_ANY_DIGIT)
            self.query_one(name, Static).update(Text(words), layout=not as_tall)

    def _show_cards(self, view: BenchView) -> None:
        """Show as many cards as fit side by side, the tightest first; the rest in one line each."""
        room = max((self.size.width - 2) // CARD_WIDTH, 1)
        big, small = view.cards[:room], view.cards[room:]
        row = self.query_one("#cards", Horizontal)
        boxes = list(row.query(CardBox))
        for _ in range(len(boxes), len(big)):
            row.mount(CardBox())
        boxes = list(row.query(CardBox))
        for index, box in enumerate(boxes):
            box.display = index < len(big)
        for box, card in zip(boxes, big, strict=False):
            box.show(card)
        row.display = bool(big)
        row.set_class(len(big) * TALL_CARD_WIDTH > self.size.width, "many")
        more = "\n".join(f"{c.shape} {c.title}  {c.digits}  {c.word.upper()}  {c.foot}" for c in small)
        self.query_one("#bench-more").display = bool(small)
        self._line("#bench-more", more, self.more)
        self.more = more


class AlarmLine(Static):
    """The loudest alarm that nobody has seen, right under the top line; no line at all while there is none."""

    def on_mount(self) -> None:
        """Take no room before the first alarm."""
        self.display = False

    def show(self, board: Board) -> None:
        """Redraw it, if it is another."""
        alarm = board.loudest
        others = sum(not other.seen for other in board.alarms) - 1
        words = alarm_words(alarm, others) if alarm else ""
        if words != str(self.content):
            self.update(Text(words))
        self.display = bool(words)
        self.set_class(alarm is not None and alarm.rank == "now", "now")


def alarm_words(alarm: Act, others: int) -> str:
    """Return an alarm as it is read from afar: how urgent, what is wrong, what to do."""
    more = f"   ({others} more)" if others > 0 else ""
    space = "answer" if alarm.kind == "answer clock" else "seen"
    why = f" - {alarm.why}" if alarm.why else ""
    return f"{alarm.rank.upper()}: {alarm.words}{why}{more}   Space: {space}"
