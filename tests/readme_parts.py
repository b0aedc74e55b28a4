"""What the program itself writes: the tables of DEVELOPERS.md, and the pictures of README.md.

`python tests/readme_parts.py` writes them anew; a test fails while they are not current.
"""

import asyncio
import re
from pathlib import Path

from app_driver import begin_day, press, running
from measured import table_markdown
from screen_svg import screen_svg

from layup.app.keys import key_table_markdown
from layup.cli import COMMANDS
from layup.files.workshop import throwaway_workshop
from layup.session.clock import ManualClock

README = Path(__file__).resolve().parent.parent / "README.md"
DEVELOPERS = README.with_name("DEVELOPERS.md")
PICTURES = Path(__file__).resolve().parent / "pictures"


def commands_markdown() -> str:
    """Return the table of commands."""
    rows = [f"| `layup {name}` | {what} |" for name, what in COMMANDS.items()]
    return "\n".join(["| command | does |", "|---|---|", "| `layup` | the app, in this workshop |", *rows])


def pictures() -> dict[str, str]:
    """Return the pictures of README, by file name: Stack, and the Bench of the demo half an hour into the day."""
    return asyncio.run(_pictures())


async def _pictures() -> dict[str, str]:
    clock = ManualClock()
    drawn = {}
    with throwaway_workshop() as root:
        async with running(root, clock=clock, size=(120, 32)) as (app, pilot):
            drawn["stack.svg"] = screen_svg(app, "Stack: the plan's grams, batches and temperature window")
            await begin_day(app, pilot)
            await press(app, pilot, "enter", "h", "enter", "b")
            for minutes in (3, 3, 13, 3, 3, 3):
                clock.advance(minutes * 60)
                await press(app, pilot, "d")
            await press(app, pilot, "w", "enter", "h", "enter", "b")
            clock.advance(3 * 60)
            await press(app, pilot, "d")
            clock.advance(2 * 60)
            await press(app, pilot, "o", "1")
            clock.advance(25)
            app.tick()
            await pilot.pause()
            drawn["bench.svg"] = screen_svg(app, "Bench: two batches with their countdowns")
    return drawn


def written(text: str) -> str:
    """Return the text of DEVELOPERS.md with its tables current."""
    for name, part in (
        ("commands", commands_markdown()),
        ("keys", key_table_markdown()),
        ("measured", table_markdown()),
    ):
        pattern = rf"(<!-- {name} -->\n).*?(<!-- end -->)"
        text = re.sub(pattern, lambda match, part=part: f"{match[1]}{part}\n{match[2]}", text, count=1, flags=re.S)
    return text


if __name__ == "__main__":
    for name, svg in pictures().items():
        (PICTURES / name).write_text(svg, encoding="utf-8")
    DEVELOPERS.write_text(written(DEVELOPERS.read_text(encoding="utf-8")), encoding="utf-8")
