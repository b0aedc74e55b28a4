"""Mix: one batch on the scale, as one number that the scale must show, read from where the cup stands."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil

from rich.text import Text
from textual import events
from textual.containers import Horizontal, Vertical
from textual.widget import AwaitMount
from textual.widgets import Input, Static

from layup.app.bench_lines import ESTIMATE, day_strips, fan_lines, step_lines
from layup.app.place import Place, whole_lines
from layup.app.prompts import if_yes, sure
from layup.app.shell import BigDigits
from layup.bench.day import PressDay
from layup.bench.scale_readings import SCALE_TO, ScaleReadings, grams
from layup.errors import InputError, LayupError
from layup.planning.mix_sheet import MixSheet, mix_sheet
from layup.report.bars import bar, fan
from layup.session.state_parts import BatchState
from layup.session.text import number_runs
from layup.units import countdown, mass, volume

SAFE = "SDS: gloves · goggles · fresh air"
NO_DAY = "No press day runs.   ▶ G  BEGIN IT"
NUMBER_KEYS = frozenset("0123456789.,")
SECONDS_BELOW_S = 600.0
"""Above it a countdown is in whole minutes."""
VAST = (110, 40)
"""Columns and rows from which on the digits are three times as tall, and the day stands below the scale."""
SHOWS_BEYOND = 1.15
"""A fan goes on past the late end of its band by so much of its length."""


class ReadingField(Input):
    """A field for a number: letters go to the keys of the app."""

    def __init__(self) -> None:
        super().__init__(placeholder=mass.sign, id="mix-entry", max_length=8)

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
        self.facts: list[str] = []

    def fill(self) -> Iterator[AwaitMount]:
        body, panel = Vertical(id="mix-body"), Vertical(id="mix-panel")
        head, row, entry = (Horizontal(id=f"mix-{name}") for name in ("headline", "row", "entry-row"))
        yield self.mount(Static(id="mix-title", classes="heading"), body)
        yield body.mount(Static(id="mix-steps"), panel, Static(id="mix-clock"), Static(id="mix-facts"))
        yield panel.mount(head, row, entry)
        yield head.mount(Static(id="mix-head"), Static(id="mix-tare"))
        yield row.mount(BigDigits(id="mix-digits"), Static(id="mix-side"))
        yield entry.mount(Static("scale", id="mix-scale"), ReadingField(), Static(id="mix-bar"))

    def batch_number(self) -> int | None:
        """Return the batch on the scale: the one chosen, the one being mixed, or the next."""
        day = self.layup.day
        if day is None:
            return None
        if self.number is not None and day.state.batch(self.number) is not None:
            return self.number
        unread = [batch for batch in day.in_cup() if len(day.readings(batch.number).poured_g) < 2]
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
        return self.query_one(ReadingField).value

    def accept(self) -> None:
        """Do the act of the batch on the scale."""
        self.take(self.typed)

    def act_words(self) -> str:
        """Return the act of the batch on the scale."""
        day, number = self.layup.day, self.batch_number()
        return "" if day is None or number is None else _act(day.readings(number), self.typed)

    def able(self) -> frozenset[str]:
        """Do the act of the batch on the scale, and go to another batch where there is one."""
        day, number = self.layup.day, self.batch_number()
        if day is None or number is None:
            return frozenset()
        return frozenset({"accept", "choose"} if len(day.state.batches) > 1 else {"accept"})

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
        self.take(event.value)

    def on_input_changed(self) -> None:
        """Show how far the pour is, and what Enter does now."""
        self.layup.redraw()

    def take(self, text: str, *, certain: bool = False) -> None:
        """Do the act that is shown: take a reading, start the clock, or go to the bench.

        A reading far from what is expected is asked about unless it is `certain`.
        """
        day, number = self.layup.day, self.batch_number()
        if day is None or number is None:
            self.layup.say(nothing_to_mix(day))
            return
        readings = day.readings(number)
        if readings.stage == "done":
            self.query_one(ReadingField).clear()
            self.layup.action_go("bench")
            return
        if readings.stage == "hardener" and not readings.clock_runs and not text.strip():
            self.layup.heard(day.hardener_in(number))
            return
        try:
            if not certain and (below := readings.restarted(text)):
                self._ask_restarted(day, number, below, text)
                return
            if not certain and (odd := readings.odd(text)):
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

    def _ask_restarted(self, day: PressDay, number: int, below: str, text: str) -> None:
        """Ask whether the scale switched off; it then counts on from what is in the cup."""

        def zeroed() -> None:
            from layup.bench.changes import zero_scale

            said = zero_scale(day, number)
            if said.done and grams(text) > 0.0:
                self.take(text)
            else:
                self.query_one(ReadingField).clear()
                self.layup.heard(said)

        note = "If more was poured before that: tare an empty cup like it, put this one back, type the reading."
        question = sure(f"{below}\n{note}", "yes: 0 with this cup on it", "no, type it again")
        self.layup.ask(question, if_yes(zeroed))

    def details(self) -> list[str]:
        """Return what is mixed, how exact the scale is at worst, and the names of the steps that it is for."""
        day, number = self.layup.day, self.batch_number()
        batch = day.state.batch(number) if day is not None and number is not None else None
        if day is None or batch is None:
            return []
        sheet, trouble = _sheet(day, batch)
        names = ", ".join(step.plan.name for step in day.state.steps if step.number in batch.steps)
        told = (
            [trouble]
            if sheet is None
            else [
                f"{day.sheet.title}: {_ratio(sheet)} by weight",
                f"scale error up to {100 * sheet.weighing.accuracy.total_off_ratio:.1f} % off ratio",
            ]
        )
        return [*told, f"batch {batch.number} is for {names}", "the clock starts as hardener touches resin"]

    def show(self) -> None:
        day, number = self.layup.day, self.batch_number()
        batch = day.state.batch(number) if day is not None and number is not None else None
        self.query_one("#mix-body").display = batch is not None
        title = self.query_one("#mix-title", Static)
        if day is None or batch is None:
            title.update(Text(nothing_to_mix(day)))
            return
        sheet, trouble = _sheet(day, batch)
        title.update(Text(_title(day, batch, sheet)))
        self.facts = _facts(batch, sheet, trouble)
        self.tick()

    def tick(self) -> None:
        """Redraw what the reading and the clock change."""
        day, number = self.layup.day, self.batch_number()
        batch = day.state.batch(number) if day is not None and number is not None else None
        if day is None or batch is None or not self.size.width:
            return
        readings, now_s = day.readings(batch.number), day.now_s()
        stir_s = None if batch.mixed_s is None else now_s - max(batch.mixed_s, batch.weighed_s or 0.0)
        rows = self._room(done=readings.stage == "done")
        panel, tare = self.query_one("#mix-panel"), f" {readings.tare_words} " if readings.tare_words else ""
        panel.set_class(readings.verdict is not None and readings.verdict.word == "off ratio", "off")
        self.query_one("#mix-entry-row").display = readings.stage != "done"
        self._put("#mix-steps", _steps(readings, stir_s))
        self._put("#mix-tare", tare)
        self._put("#mix-head", _head(readings, stir_s, width=panel.content_size.width - len(tare)))
        digits, unit = self._digits(day, readings, stir_s)
        self.query_one("#mix-digits", BigDigits).say(digits)
        side = [words for words in (unit, *_side(readings, stir_s)) if words]
        if self.has_class("flat"):
            side = whole_lines([" · ".join(side[:count]) for count in (2, 1)], width=self.size.width - 10, rows=1)
        self._put("#mix-side", "\n".join(side))
        self._put("#mix-bar", self._bar(readings))
        lines = self._clock(day, batch, now_s)[: max(rows, 0)]
        self.query_one("#mix-clock").display = bool(lines)
        self._put("#mix-clock", "\n".join(lines))
        below = whole_lines([*readings.minds(), *self.facts], width=self.size.width, rows=rows - len(lines))
        self._put("#mix-facts", "\n".join([*below, *self._day(day, rows - len(lines) - len(below))]))

    def _room(self, *, done: bool) -> int:
        """Return the rows below the panel, with flat digits where there are too few for tall ones."""
        border = 0 if self.screen.has_class("-tiny") else 2
        used = 4 + border - done
        vast = self.size.height >= VAST[1] and self.size.width >= VAST[0]
        if vast is not self.has_class("vast"):
            self.set_class(vast, "vast")
            self.call_after_refresh(self.tick)  # the bar has another width then
        row = 15 if vast else 10 if self.screen.has_class("-tall") else 5
        self.set_class(self.size.height < used + row, "flat")
        return self.size.height - used - (1 if self.has_class("flat") else row)

    def _digits(self, day: PressDay, readings: ScaleReadings, stir_s: float | None) -> tuple[str, str]:
        """Return the big number: what the scale must show, then how long to stir, then how long the cup lasts."""
        if readings.stage != "done":
            return mass.digits(readings.next_g, "g"), ""
        left_s = readings.stir_s - (stir_s or 0.0)
        life = day.alive.get(readings.batch)
        if left_s > 0 or life is None or life.where != "in the cup":
            return countdown(left_s) if left_s > 0 else "", ""
        left_s = life.empty_by_s - day.now_s()
        return (countdown(left_s), "") if left_s < SECONDS_BELOW_S else (f"{left_s / 60:.0f}", "min")

    def _bar(self, readings: ScaleReadings) -> str:
        """Return how far the pour is by what is typed."""
        try:
            shown_g = grams(self.typed) if self.typed else None
        except InputError:
            shown_g = None
        width = max(self.query_one("#mix-bar").content_size.width, 10)
        longest = 13 if width > 30 else 6
        room = width - longest - 2
        if shown_g is None:
            return f"▕{bar(0.0, room)}▏"
        over_g = round(shown_g - readings.next_g, 6)
        share = (shown_g - readings.now_g) / readings.pour_g if readings.pour_g else 1.0
        amount = mass(abs(over_g), ".4g")
        if longest == 6:
            words = f"{'+' if over_g > 0 else '-'}{amount}" if over_g else "✓"
        else:
            words = f"{amount} {'over' if over_g > 0 else 'to go'}" if over_g else "on target"
        return f"▕{bar(share, room)}▏{words:>{longest}}"

    def _clock(self, day: PressDay, batch: BatchState, now_s: float) -> list[str]:
        """Return the age of the cup, its deadline and its fan."""
        if batch.mixed_s is None:
            return ["clock: starts with hardener"] if day.readings(batch.number).stage == "hardener" else []
        age = f"CUP {batch.number}  {day.at_least}{countdown(now_s - batch.mixed_s).lstrip('+')} old"
        if batch.status != "in the cup":
            return [f"batch {batch.number}: {batch.status}"]
        life = day.alive.get(batch.number)
        if life is None:
            return [age, f"how long it lasts is {day.unknown.get(batch.number, 'not known')}"]
        word = life.word(now_s, day.closing_s)
        end_s = life.mixed_s + SHOWS_BEYOND * (life.over_s.high - life.mixed_s)
        width = max(self.size.width - 4, 20)
        drawn = fan(
            life.mixed_s, now_s, life.empty_by_s, life.over_s.low, life.over_s.high, end_s, width, word="thick?"
        )
        said = "" if word == "fresh" else f"  {word.upper()}"
        by = f" · empty by {day.clock_time(life.empty_by_s)} · {ESTIMATE}{said}"
        age = age if len(age) + len(by) <= self.size.width else f"CUP {batch.number}"
        view = self.layup.view
        cup = next((one for one in view.cups if one.batch == batch.number), None) if view is not None else None
        if self.has_class("vast") and cup is not None:
            return ["", f"{age}{by}", *fan_lines(day, cup, now_s, width)]
        return [f"{age}{by}", f"▕{drawn}▏"]

    def _day(self, day: PressDay, rows: int) -> list[str]:
        """Return the day on its axis and its steps, where there is much room."""
        view = self.layup.view
        if view is None or not self.has_class("vast"):
            return []
        strips = ["", *day_strips(day, view, self.size.width - 1, view.now_s, clocks=True, tabled=True)]
        steps = step_lines(day, view, width=self.size.width - 1, rows=rows - len(strips))
        return [*strips, *steps] if len(strips) + len(steps) <= rows else []

    def _put(self, name: str, words: str) -> None:
        """Show words where they are not shown already."""
        target = self.query_one(name, Static)
        if str(target.content) != words:
            target.update(Text(words))


def _sheet(day: PressDay, batch: BatchState) -> tuple[MixSheet | None, str]:
    """Return the mix sheet of a batch, or why there is none."""
    try:
        mass_g = max(batch.plan.mass_g, sum(day.readings(batch.number).aims_g))
        return mix_sheet(day.sheet, mass_g, day.scale, cup_g=day.cup_g), ""
    except LayupError as error:
        return None, f"Scale error and cup {error.not_known}"


def nothing_to_mix(day: PressDay | None) -> str:
    """Return the one next act where no batch can be on the scale."""
    return NO_DAY if day is None else "No batch to mix.   ▶ B  TO THE BENCH"


def _title(day: PressDay, batch: BatchState, sheet: MixSheet | None) -> str:
    """Return which batch, how much, and which cup."""
    cup = f" · cup ≥ {volume(1e-5 * ceil(sheet.cup_ml[0] / 10))}" if sheet and sheet.cup_ml else ""
    return f"BATCH {batch.number}/{len(day.state.batches)} · {mass(batch.mass_g)}{cup}"


def _facts(batch: BatchState, sheet: MixSheet | None, trouble: str) -> list[str]:
    """Return what to mind before the pour, how exact the scale is, and the steps that the batch is for."""
    safe = [SAFE] if batch.mixed_s is None else []
    if sheet is None:
        return [trouble, *safe]
    error = f"scale ±{100 * sheet.weighing.accuracy.total_off_ratio:.1f} %"
    steps = f" · steps {number_runs(batch.steps)}" if batch.steps else ""
    return [*safe, f"{_ratio(sheet)} · {error}{steps}"]


def _ratio(sheet: MixSheet) -> str:
    return f"100 : {100 * sheet.parts[1] / sheet.parts[0]:.4g}"


def _steps(readings: ScaleReadings, stir_s: float | None) -> str:
    """Return the three steps of a mix: done with what is in, now, to come."""
    rows = []
    for place, name in enumerate(("RESIN", "HARDENER")):
        if place == 0 and readings.resin_assumed:
            rows.append("? RESIN unread")
        elif place < len(readings.poured_g):
            rows.append(f"✓ {name} {mass(readings.poured_g[place], '.4g')}")
        else:
            rows.append(f"{'▸' if place == len(readings.poured_g) else '·'} {name}")
    stirred = readings.stage == "done" and stir_s is not None and stir_s >= readings.stir_s
    rows.append(f"{'✓' if stirred else '▸' if readings.stage == 'done' else '·'} STIR")
    return "  ".join(rows)


def _head(readings: ScaleReadings, stir_s: float | None, *, width: int) -> str:
    """Return what the big number is."""
    judged = readings.verdict
    if judged is None:
        return f"{SCALE_TO}, {mass.sign}"
    if readings.adding is not None:
        words = f"{'✗' if judged.word == 'off ratio' else '◆'} {readings.add_words()}"
        return words if len(words) <= width else words.partition(" →")[0]
    stirred = stir_s is not None and stir_s >= readings.stir_s
    return f"✓ ON RATIO {100 * judged.off_ratio:+.1f} % · {'EMPTY CUP IN' if stirred else 'STIR'}"


def _side(readings: ScaleReadings, stir_s: float | None) -> list[str]:
    """Return what stands beside the big number."""
    judged = readings.verdict
    if readings.stage == "done":
        if stir_s is not None and stir_s >= readings.stir_s:
            return []
        return ["scrape sides", "and bottom"] if (stir_s or 0.0) < readings.stir_s / 2 else ["change stick,", "stir on"]
    if not readings.poured_g:
        return ["= resin", *filter(None, [readings.room_words])]
    lines = [f"= +{mass(readings.pour_g, '.4g')} {readings.pouring}"]
    if readings.good_g is not None:
        lines.append("-".join(dict.fromkeys(mass.digits(end_g, "g") for end_g in readings.good_g)) + " is good")
    lines += filter(None, [readings.room_words])
    if judged is not None:
        lines.append(f"{100 * judged.off_ratio:+.1f} % hardener")
        if judged.word == "usable":
            lines.append("usable if maker allows 5 %")
    return lines


def _act(readings: ScaleReadings, typed: str) -> str:
    """Return what Enter does."""
    if readings.stage == "done":
        return "TO THE BENCH"
    if typed:
        return f"TAKE {readings.pouring.upper()} READING"
    if readings.stage == "hardener" and not readings.clock_runs:
        return "HARDENER GOES IN"
    if readings.stage == "addition":
        return f"{mass(readings.pour_g, '.4g')} {readings.pouring.upper()} ADDED"
    return f"{readings.pouring.upper()} ON TARGET"
