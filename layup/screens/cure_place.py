"""Press & cure: after closing, how far the resin on the part has cured by the temperatures logged."""

from __future__ import annotations

from rich.text import Text
from textual.app import ComposeResult
from textual.widgets import Static

from layup.screens.bench_view import countdown
from layup.screens.big_digits import BigDigits
from layup.screens.day import PressDay
from layup.screens.place import Place


class CurePlace(Place):
    """The time since closing, the conversion of each batch on the part, and what the datasheet asks for."""

    def __init__(self) -> None:
        super().__init__(id="cure")

    def compose(self) -> ComposeResult:
        yield Static(id="cure-title", classes="heading")
        yield BigDigits("", id="cure-clock")
        yield Static(id="cure-batches")
        yield Static(id="cure-datasheet")

    def show(self) -> None:
        """Redraw everything."""
        self.tick()

    def tick(self) -> None:
        """Redraw what changes with time."""
        day = self.layup.day
        title, clock = self.query_one("#cure-title", Static), self.query_one("#cure-clock", BigDigits)
        if day is None or day.state.closed_s is None:
            title.update("The press is not closed yet: press c on the Bench when it is.")
            clock.say("")
            return
        now_s = day.now_s()
        title.update(Text(f"press closed at {day.clock_time(day.state.closed_s)}; under press for"))
        clock.say(countdown(now_s - day.state.closed_s))
        self.query_one("#cure-batches", Static).update(Text(_batch_words(day, now_s)))
        self.query_one("#cure-datasheet", Static).update(Text(_datasheet_words(day)))


def _batch_words(day: PressDay, now_s: float) -> str:
    lines = ["", "conversion, estimated from the temperatures logged (log the mould's with t):"]
    for life in day.alive.values():
        conversion, kelvin = life.state_at(now_s)
        state = "gelled" if now_s >= life.gel_s else "not yet gelled"
        filled = round(conversion * 30)
        bar = "█" * filled + "·" * (30 - filled)
        lines.append(f"  batch {life.batch}  {bar}  {conversion:4.0%}  {state}, {kelvin - 273.15:.0f} °C")
    return "\n".join(lines)


def _datasheet_words(day: PressDay) -> str:
    lines = ["", "demould, as the datasheet states:"]
    lines += [f"  {point.time_s / 3600:g} h at {point.temperature_K - 273.15:.0f} °C" for point in day.sheet.demould]
    if not day.sheet.demould:
        lines.append("  it states none: at least a day at 20 °C is usual (common practice, no source)")
    return "\n".join([*lines, "", "Presses, bladders and clamps store force: release them slowly, and stand clear."])
