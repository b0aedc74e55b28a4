"""The parts of README.md that the program itself writes: commands, keys and the picture.

`python tests/readme_parts.py` writes them anew; a test fails while they are not current.
"""

import asyncio
import re
import tempfile
from pathlib import Path

from app_driver import begin_day, press, running, workshop

from layup.cli import COMMANDS
from layup.records.clock import ManualClock
from layup.screens.actions import key_table_markdown

README = Path(__file__).resolve().parent.parent / "README.md"


def commands_markdown() -> str:
    """Return the table of commands."""
    rows = [f"| `layup {name}` | {what} |" for name, what in COMMANDS.items()]
    return "\n".join(["| command | does |", "|---|---|", "| `layup` | the app, in this workshop |", *rows])


def picture_markdown() -> str:
    """Return the Bench of the demo, forty minutes into the press day, as it stands on an 80x24 screen."""
    return "```text\n" + asyncio.run(_bench()) + "\n```"


async def _bench() -> str:
    clock = ManualClock()
    with tempfile.TemporaryDirectory() as folder:
        async with running(workshop(Path(folder)), clock=clock) as (app, pilot):
            await begin_day(app, pilot)
            await press(app, pilot, "enter", "h", "enter", "b")
            for minutes in (4, 4, 10):
                clock.advance(minutes * 60)
                await press(app, pilot, "d")
            await press(app, pilot, "w", "enter", "h", "enter", "b", "o", "enter")
            clock.advance(75)
            app.tick()
            await pilot.pause()
            lines = ["".join(segment.text for segment in strip) for strip in app.screen._compositor.render_strips()]
    return "\n".join(line.rstrip() for line in lines if line.strip())


def written(text: str) -> str:
    """Return README's text with its own parts current."""
    for name, part in (
        ("picture", picture_markdown()),
        ("commands", commands_markdown()),
        ("keys", key_table_markdown()),
    ):
        pattern = rf"(<!-- {name} -->\n).*?(<!-- end -->)"
        text = re.sub(pattern, lambda match, part=part: f"{match[1]}{part}\n{match[2]}", text, count=1, flags=re.S)
    return text


if __name__ == "__main__":
    README.write_text(written(README.read_text(encoding="utf-8")), encoding="utf-8")
