"""The lay-up in section, as Stack and the board form draw it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rich.text import Text

from layup.planning.budget import Line
from layup.planning.plan import Plan
from layup.session.text import shortened
from layup.units import mass

OF_TEXTURE = 20
"""Columns of a step's texture where there is room."""
OF_NUMBERS = 18
"""Columns of the lay-up beside the names of its steps."""
TEXTURES = {"fabric": "█", "bond": "░", "place": "▒", "cast": "·"}
"""Each kind of step in the section: cloth, a face that drinks resin, something dry, a casting."""


def section(
    plan: Plan, lines: Sequence[Line], *, width: int, cast_g: Mapping[int, float] | None = None, deep: bool = False
) -> Text:
    """Return the lay-up in section, the top first: each step's texture, its fibre and its mix.

    A `deep` one has two rows a step, and more of its texture.
    """
    thick = OF_TEXTURE if deep else 2
    wide = max(width - OF_NUMBERS - thick + 2, 8)
    text = Text(f"{mass.sign:>{wide + thick + 3}} {'fibre':>5} {'mix':>5}\n", style="dim", no_wrap=True)
    for number, line in reversed([*enumerate(lines, 1)]):
        fibre, mix = (
            mass.digits(grams) if grams else "" for grams in (line.glass_g, (cast_g or {}).get(line.step, line.mix_g))
        )
        name = shortened(line.name, wide)
        texture = TEXTURES[plan.steps[number - 1].kind]
        text.append(f"{number:>2} {texture * thick} {name:<{wide}}{fibre:>6}{mix:>6}\n", style="not dim")
        text.append(f"   {texture * thick}\n" if deep else "", style="not dim")
    return text
