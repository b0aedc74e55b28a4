"""Mix: one batch on the scale, in large readings that can be read from where the cup stands."""

from __future__ import annotations

from rich.text import Text
from textual import events
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widgets import Input, Static

from layup.app.place import Place
from layup.app.prompts import if_yes, sure
from layup.app.shell import BigDigits
from layup.bench.scale_readings import STIR_S, ScaleReadings
from layup.errors import InputError, LayupError
from layup.planning.mix_sheet import mix_sheet
from layup.planning.scale import COMPONENTS
from layup.units import countdown, in_minutes, mass

SAFE = "gloves, goggles, fresh air; the safety data sheet comes first"
NUMBER_KEYS = frozenset("0123456789.,")


class ReadingField(Input):
    """A field for a number: letters go to the keys of the app."""

    def __init__(self) -> None:
        super().__init__(placeholder="type what the scale shows", id="mix-entry", max_length=8)

    def check_consume_key(self, key: str, character: str | None) -> bool:
        """Take digits and separators only."""
        del key
        return character is not None and character in NUMBER_KEYS

    async def _on_key(self, event: events.Key) -> None:
        """Let letters through to the keys of the app."""
        if event.is_printable and event.character not in NUMBER_KEYS:
            event.prevent_default()


class MixPlace(Place):
    """The mix station for one batch; the arrow keys go to another batch."""

    def __init__(self) -> None:
        super().__init__(id="mix")
        self.number: int | None = None
        """The batch chosen by hand; None follows the day."""

    def compose(self) -> ComposeResult:
        yield Static(id="mix-title", classes="heading")
        with Horizontal(id="mix-columns"):
            for name in COMPONENTS:
                with Vertical(classes="scale", id=f"mix-{name}"):
                    yield Static(id=f"mix-{name}-what")
                    yield BigDigits("0", id=f"mix-{name}-g")
                    yield Static("", id=f"mix-{name}-is")
            with Vertical(id="mix-clock-box"):
                yield Static(id="mix-clock-words")
                yield BigDigits("", id="mix-clock")
        with Vertical(id="mix-below"):
            yield Static(id="mix-now")
            yield ReadingField()
            yield Static(id="mix-verdict")
            yield Static(id="mix-facts")

    def batch_number(self) -> int | None:
        """Return the batch on the scale: the one chosen, the one being mixed, or the next."""
        day = self.layup.day
        if day is None:
            return None
        if self.number is not None and day.state.batch(self.number) is not None:
            return self.number
        unread = [batch for batch in day.in_cup() if len(day.station(batch.number).poured_g) < 2]
        if unread:
            return unread[0].number
        following = day.next_to_mix()
        cups = day.in_cup()
        if following is None:
            return cups[-1].number if cups else (day.state.batches[-1].number if day.state.batches else None)
        return following.number

    def enter(self) -> None:
        """Let the next digits go to the reading."""
        self.query_one(ReadingField).focus()

    def follow_day(self) -> None:
        """Show the batch whose turn it is."""
        self.number = None

    @property
    def typed(self) -> str:
        """What is typed in the field."""
        return self.query_one(ReadingField).value

    def able(self) -> frozenset[str]:
        """Take a reading while the batch wants one, and go to another batch where there is one."""
        day, number = self.layup.day, self.batch_number()
        if day is None or number is None:
            return frozenset()
        names = {"choose"} if len(day.state.batches) > 1 else set()
        return frozenset(names | ({"accept"} if day.station(number).stage != "done" else set()))

    def unable(self) -> frozenset[str]:
        """Start no clock that runs: the key is that of the batch on the scale."""
        day, number = self.layup.day, self.batch_number()
        batch = day.state.batch(number) if day is not None and number is not None else None
        return frozenset() if batch is not None and batch.mixed_s is None else frozenset({"hardener_in"})

    def arrow(self, right: int, down: int) -> None:
        """Go to another batch."""
        day, number = self.layup.day, self.batch_number()
        if day is None or number is None:
            return
        numbers = [batch.number for batch in day.state.batches]
        self.number = numbers[(numbers.index(number) + right + down) % len(numbers)]
        self.query_one(ReadingField).clear()
        self.show()

    def on_input_submitted(self, event: Input.Submitted) -> None:
        """Take a reading; an empty field means the scale shows what it should."""
        self.take(event.value)

    def take(self, text: str, *, certain: bool = False) -> None:
        """Log one reading of the scale; one far from what is expected is asked about unless it is `certain`."""
        day, number = self.layup.day, self.batch_number()
        if day is None or number is None:
            self.layup.say("not now: begin the press day first, with g on Stack")
            return
        if day.station(number).stage == "done":
            self.layup.say("on ratio already: nothing more to read for this batch")
            return
        try:
            if not certain and (odd := day.station(number).odd(text)):
                self.layup.ask(
                    sure(odd, "yes, the scale shows that", "no, type it again"),
                    if_yes(lambda: self.take(text, certain=True)),
                )
                return
            said = day.read_scale(number, text)
        except InputError as error:
            self.layup.say(str(error))
            return
        if said.done:
            self.number = number
            self.query_one(ReadingField).clear()
        self.layup.heard(said)

    def show(self) -> None:
        """Redraw everything."""
        day, number = self.layup.day, self.batch_number()
        for part in ("#mix-columns", "#mix-below"):
            self.query_one(part).display = number is not None
        title = self.query_one("#mix-title", Static)
        if day is None or number is None:
            title.update("No press day is running. Press s for the plan, then g to begin it.")
            return
        batch, station = day.state.batch(number), day.station(number)
        if batch is None:
            return
        steps = [step.plan.name for step in day.state.steps if step.number in batch.plan.steps]
        of = len(day.state.batches)
        words = f"BATCH {number} of {of}   {mass(batch.mass_g)}   {batch.status}   for: {', '.join(steps)}"
        title.update(Text(words))
        self._show_scale(station)
        self.query_one("#mix-facts", Static).update(self._facts(batch.plan.mass_g))
        self.tick()

    def _show_scale(self, station: ScaleReadings) -> None:
        resin_g, sum_g = station.targets_g
        if station.stage == "addition":
            resin_g, sum_g = (station.next_g, sum_g) if station.adding == 0 else (resin_g, station.next_g)
        shown = station.shown_g
        for place, (name, wanted_g) in enumerate(zip(COMPONENTS, (resin_g, sum_g), strict=True)):
            current = station.stage == name or (station.stage == "addition" and station.adding == place)
            read = place < len(shown)
            digits_g = shown[place] if read and not current else wanted_g
            assumed = place == 0 and station.resin_assumed
            what = f"{place + 1} {name.upper()} " + (
                "as planned" if assumed else "read" if read and not current else "to"
            )
            said = (
                "not yet read" if not read else f"scale showed {mass(shown[place], 'g')}" if current else "in the cup"
            )
            said = "not read: taken as planned" if assumed else said
            self.query_one(f"#mix-{name}-what", Static).update(what)
            self.query_one(f"#mix-{name}-g", BigDigits).say(f"{digits_g:g}")
            self.query_one(f"#mix-{name}-is", Static).update(said)
            self.query_one(f"#mix-{name}").set_class(current, "current")
        self.query_one("#mix-now", Static).update(Text(station.next_words(), style="bold"))
        self.query_one("#mix-verdict", Static).update(Text(_verdict_words(station)))

    def _facts(self, mass_g: float) -> Text:
        """Return what the mix sheet says of accuracy and safety."""
        day = self.layup.day
        if day is None:
            return Text()
        try:
            sheet = mix_sheet(day.sheet, mass_g, day.scale, cup_g=day.cup_g)
        except LayupError as error:
            return Text(f"accuracy and cup {error.not_known}\n{SAFE}")
        ratio = f"100 : {100 * sheet.parts[1] / sheet.parts[0]:.4g} by weight"
        lines = [
            f"{day.sheet.title}, {ratio}",
            f"at worst {100 * sheet.weighing.accuracy.total_off_ratio:.1f} % off ratio on this scale",
            "cup " + (f"{sheet.cup_ml[0]:.0f}-{sheet.cup_ml[1]:.0f} ml" if sheet.cup_ml else "half to two-thirds full"),
            SAFE,
        ]
        return Text("\n".join(lines))

    def tick(self) -> None:
        """Redraw the clock of the batch."""
        day, number = self.layup.day, self.batch_number()
        words, clock = self.query_one("#mix-clock-words", Static), self.query_one("#mix-clock", BigDigits)
        life = day.alive.get(number) if day is not None and number is not None else None
        why = day.unknown.get(number) if day is not None and number is not None else None
        batch = day.state.batch(number) if day is not None and number is not None else None
        if day is not None and why is not None and batch is not None and batch.status == "in the cup":
            words.update(f"in the cup for so long; how long it lasts is {why}")
            clock.say(countdown((batch.mixed_s or 0.0) - day.now_s()))
            return
        if day is None or life is None or life.where != "in the cup":
            words.update("clock not started: press h when the hardener goes in")
            clock.say("")
            return
        age_s = day.now_s() - life.mixed_s
        left_s = max(STIR_S - age_s, 0.0)
        if left_s > 0:
            words.update(
                "stir, scrape sides and bottom" if left_s > STIR_S / 2 else "scrape, change the stick, stir on"
            )
            clock.say(f"{int(left_s) // 60}:{int(left_s) % 60:02d}")
        else:
            old = f", {day.at_least}{in_minutes(age_s)} old" if day.at_least else ""
            words.update(f"in the cup: empty by {day.clock_time(life.empty_by_s)} (estimate){old}")
            clock.say(countdown(life.empty_by_s - day.now_s()))


def _verdict_words(station: ScaleReadings) -> str:
    judged = station.verdict
    if judged is None:
        return "Enter alone takes the number that the scale should show."
    poured_g = sum(station.poured_g)
    off = f"{100 * judged.off_ratio:+.1f} % hardener for the resin"
    head = f"{judged.word.upper()}  {off}, {mass(poured_g, 'g')} in the cup"
    return "\n".join([head, *judged.advice])
