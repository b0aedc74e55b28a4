"""The smallest textual app: what a key to screen, a first frame and an idle second cost whatever the app does."""

import sys
from pathlib import Path

SMALLEST = """
from textual.app import App
from textual.widgets import Static


class Smallest(App):
    BINDINGS = [("d", "say", "say")]
    said = seconds = 0

    def compose(self):
        yield Static("Stack", id="said")
        if {ticks}:
            yield Static("", id="clock")
            self.set_interval(1.0, self.tick)

    def action_say(self):
        self.said += 1
        self.query_one("#said").update(f"done: {{self.said}}")

    def tick(self):
        self.seconds += 1
        self.query_one("#clock").update(str(self.seconds))


Smallest().run()
"""


def smallest_app(folder: Path, *, ticks: bool = False) -> list[str]:
    """Write the app to a folder; return the command that runs it. It shows "Stack", and "done: N" for each d."""
    file = folder / f"smallest_{'with_a_clock' if ticks else 'app'}.py"
    file.write_text(SMALLEST.format(ticks=ticks), encoding="utf-8")
    return [sys.executable, str(file)]
