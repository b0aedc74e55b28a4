"""Small questions over the screen: a number (a bare one has the usual unit), a choice, a line of text. Esc leaves."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from textwrap import wrap
from typing import TYPE_CHECKING, TypeVar

from rich.style import Style
from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.await_complete import AwaitComplete
from textual.containers import Vertical, VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from layup.chemistry.numerics import require_between
from layup.errors import InputError, LayupError, RangeError
from layup.units import mass, parse, temperature, temperature_hint, usual_unit, with_unit

if TYPE_CHECKING:
    from textual.app import App


PAGE_WIDTH = 100
"""Columns of a page of text at most, as the stylesheet has them."""
WIDEST, FRAME_COLUMNS = 72, 4
"""Columns of a question, as the style sheet has it, and those that its frame takes of them."""
FRAME_ROWS = 3
"""Rows that the frame of a question and the line below its answers take."""
Check = Callable[[str], str | None]
"""Return what is wrong with the typed text, or None where it can be taken."""

WOOD_HINT = "%, water over dry mass"
"""How the moisture of wood is typed."""
Answer = TypeVar("Answer")


def nothing_written(text: str) -> str | None:
    """Say that a line is empty; None where it is not."""
    return None if text.strip() else "nothing is written yet"


class Dialog(ModalScreen[Answer]):
    """A screen over the others that is answered once: a second key, pressed in a hurry, falls on what is left."""

    answered = False

    def dismiss(self, result: Answer | None = None) -> AwaitComplete:
        """Take the answer and leave; nothing where it was left already."""
        if self.answered:
            return AwaitComplete()
        self.answered = True
        return super().dismiss(result)


class Ask(Dialog[str | None]):
    """Ask for a number with its unit or a line of text; `check` says what is wrong before it is taken."""

    BINDINGS = [("escape", "dismiss(None)", "leave")]

    def __init__(self, title: str, hint: str, *, check: Check, value: str = "", max_length: int = 2000) -> None:
        super().__init__()
        self.title_text = title
        self.hint = hint
        self.check = check
        self.first_value = value
        self.max_length = max_length

    def compose(self) -> ComposeResult:
        with Vertical(classes="prompt"):
            yield Static(Text(self.title_text), classes="prompt-title")
            yield Input(value=self.first_value, max_length=self.max_length, select_on_focus=bool(self.first_value))
            yield Static(Text(self.hint), id="hint")
            yield Static("Enter · Esc", classes="dim")

    def on_input_submitted(self, event: Input.Submitted) -> None:
        wrong = self.check(event.value)
        if wrong:
            self.query_one("#hint", Static).update(Text(f"! {wrong}"))
            return
        self.dismiss(event.value)

    def on_key(self, event: events.Key) -> None:
        """Type what came before the line had the keyboard."""
        if event.is_printable:
            event.stop()
            self.query_one(Input).post_message(events.Key(event.key, event.character))


class Choose(Dialog[str | None]):
    """Ask for one of a few choices, each taken with one key, with the arrow keys or with a tap."""

    def __init__(
        self, title: str, choices: Sequence[tuple[str, str, str]], *, at: int = 0, more: str = "", digit: str = ""
    ) -> None:
        """`choices` are (key, answer, words); Enter alone takes the one at `at`; `more` stands behind `?`; a digit
        takes the answer `digit`, where there is one, and begins what that asks for."""
        super().__init__()
        self.digit = digit
        self.title_text = title
        self.choices = choices
        self.at = at
        self.more = more

    def compose(self) -> ComposeResult:
        with Vertical(classes="prompt"):
            with VerticalScroll(classes="prompt-text", can_focus=False):
                yield Static(Text(self.title_text), classes="prompt-title")
            yield Static(self._list(), id="choices")
            yield Static(f"↑↓ Enter{' · ? figures' if self.more else ''} · Esc", classes="dim")

    def on_mount(self) -> None:
        """Make room for the answers, however long the question is."""
        self.on_resize()

    def on_resize(self) -> None:
        """Leave the question what the answers and the frame do not take."""
        answers = self._list()
        self.query_one("#choices", Static).update(answers)
        room = int(0.96 * self.app.size.height) - len(answers.plain.splitlines()) - FRAME_ROWS
        self.query_one(".prompt-text").styles.max_height = max(room, 1)

    def _list(self) -> Text:
        text, width = Text(), min(WIDEST, int(0.96 * self.app.size.width)) - FRAME_COLUMNS
        for index, (key, answer, words) in enumerate(self.choices):
            mark = "▸" if index == self.at else " "
            style = Style(reverse=index == self.at, meta={"answer": answer})
            shown = wrap(words, max(width, 10), initial_indent=f"{mark} {key}  ", subsequent_indent=" " * 5)
            text.append("\n".join(shown) + "\n", style=style)
        text.right_crop(1)
        return text

    def on_click(self, event: events.Click) -> None:
        """Take the answer that is tapped."""
        if answer := event.style.meta.get("answer"):
            self.dismiss(answer)

    def on_key(self, event: events.Key) -> None:
        if self.answered:
            self.app.call_next(hand_on, self.app, event)
        elif event.key in ("up", "down"):
            self.at = (self.at + (1 if event.key == "down" else -1)) % len(self.choices)
            self.query_one("#choices", Static).update(self._list())
        elif event.key == "enter":
            self.dismiss(self.choices[self.at][1])
        elif event.key == "escape":
            self.dismiss(None)
        elif event.key == "question_mark" and self.more:
            self.app.push_screen(Page(self.title_text.partition("\n")[0], Text(self.more)))
        elif event.key in ("pageup", "pagedown"):
            scroll = self.query_one(VerticalScroll)
            scroll.scroll_relative(y=scroll.size.height * (1 if event.key == "pagedown" else -1), animate=False)
        else:
            taken = [answer for key, answer, _ in self.choices if (event.character or "").lower() == key]
            if taken:
                self.dismiss(taken[0])
            elif self.digit and (event.character or "").isdecimal():
                self.dismiss(self.digit)
                self.app.call_next(hand_on, self.app, event)
            else:
                self.app.bell()  # the key does nothing while a question stands
        event.stop()


def hand_on(app: App[None], event: events.Key) -> None:
    """Give what was typed before a question stood there to that question, if there is one; no key that confirms."""
    if event.is_printable and isinstance(app.screen, (Ask, Choose)):
        event.stop().prevent_default()
        app.screen.post_message(events.Key(event.key, event.character))


def sure(title: str, yes: str, no: str = "no", *, likely: bool = False) -> Choose:
    """Return a question that y answers with "yes"; Enter alone means no, unless yes is what is `likely` meant."""
    return Choose(title, [("y", "yes", yes), ("n", "no", no)], at=0 if likely else 1)


def if_yes(then: Callable[[], None]) -> Callable[[str], None]:
    """Return what to do with an answer: `then` for a yes."""
    return lambda answer: then() if answer == "yes" else None


class Page(Dialog[None]):
    """A page of text over the screen, closed by any of Esc, Enter, q or ?; Enter may lead on."""

    BINDINGS = [("escape,q,question_mark", "dismiss(None)", "close"), ("enter", "go_on", "go on")]
    foot = "↑↓ · Esc"

    def __init__(self, title: str, body: Text, then: Callable[[], None] | None = None) -> None:
        super().__init__()
        self.title_text = title
        self.body = body
        self.then = then

    def action_go_on(self) -> None:
        """Leave the page, for where Enter leads."""
        self.dismiss(None)
        if self.then is not None:
            self.then()

    def compose(self) -> ComposeResult:
        with Vertical(classes="page"):
            yield Static(Text(self.title_text), classes="prompt-title")
            with VerticalScroll(can_focus=True):
                yield Static(self.body)
            yield Static(self.foot, classes="dim")


# -- quantities ------------------------------------------------------------------------------------------------------

COLDEST_K, HOTTEST_K = 233.15, 523.15
SOONEST_H, LATEST_H = 1.0, 14 * 24.0

Taken = Callable[[float], None]


def kelvin_of(text: str) -> float:
    """Read a temperature; a bare number is in the unit people see."""
    kelvin = parse(with_unit(text, usual_unit("temperature")), "temperature", where="temperature")
    return require_between("temperature", kelvin, COLDEST_K, HOTTEST_K, unit="K")


def share_of(text: str) -> float:
    """Read a share; a bare number is in per cent."""
    share = parse(with_unit(text, "%"), "fraction", where="share")
    return require_between("share", share, 0.0, 1.0, todo="0 to 100 %")


def seconds_of(text: str) -> float:
    """Read a time; a bare number is in hours."""
    seconds = parse(with_unit(text, "h"), "time", where="time")
    todo = "from an hour to two weeks"
    return require_between("time", seconds, SOONEST_H * 3600.0, LATEST_H * 3600.0, unit="s", todo=todo)


def part_of_g(text: str, whole_g: float) -> float:
    """Read how much of some grams: grams, which a bare number is, or a share of them in per cent."""
    if text.strip().endswith("%"):
        return whole_g * share_of(text)
    mass_g = parse(with_unit(text, usual_unit("mass")), "mass", where="mass")
    return require_between("mass", mass_g, 0.0, whole_g, unit="g", todo="grams, or a share such as 50 %")


def ask_part_of(app: App[None], title: str, whole_g: float, usual_g: float, then: Taken) -> None:
    """Ask how much of some grams; the usual answer stands there in whole grams, and left as it is means it exactly."""
    hint = f"0 to {mass(whole_g)}, or 50 %; now: by steps done"
    value = mass.digits(usual_g)
    _ask(app, title, hint, lambda text: usual_g if text == value else part_of_g(text, whole_g), then, value=value)


def ask_temperature(
    app: App[None], title: str, then: Taken, *, low_K: float = COLDEST_K, high_K: float = HOTTEST_K
) -> None:
    """Ask for a temperature between two that make sense there."""

    def read(text: str) -> float:
        kelvin = kelvin_of(text)
        if not low_K <= kelvin <= high_K:
            raise InputError(
                "temperature",
                "cannot be right here",
                value=f"{temperature(kelvin, '.1f')}",
                allowed=f"between {temperature.digits(low_K)} and {temperature(high_K)}",
                todo="read the thermometer again",
            )
        return kelvin

    _ask(app, title, temperature_hint(), read, then)


def ask_share(app: App[None], title: str, hint: str, then: Taken) -> None:
    _ask(app, title, hint, share_of, then)


def ask_out_by(app: App[None], usual_s: float, then: Taken) -> None:
    """Ask how long after closing the part is wanted; the usual time stands there already."""
    _ask(app, "Want it out how long after closing?", "hours, or 2 d", seconds_of, then, value=f"{usual_s / 3600.0:g}")


def _ask(app: App[None], title: str, hint: str, read: Callable[[str], float], then: Taken, *, value: str = "") -> None:
    def check(text: str) -> str | None:
        try:
            read(text)
        except LayupError as error:
            return error.allows if isinstance(error, RangeError) else error.words
        return None

    def answered(text: str | None) -> None:
        if text is not None:
            then(read(text))

    screen: ModalScreen[str | None] = Ask(title, hint, check=check, value=value)
    app.push_screen(screen, answered)
