"""The dials on Stack, each turned with the arrow keys, and the changes of them that make a plan fit."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from rich.style import Style
from rich.text import Text

from layup.bench.dials import DIALS, otherwise
from layup.bench.planner import VERDICT_SHAPES, Planner, first_settings
from layup.planning.planner import Settings
from layup.planning.remedies import Remedy
from layup.review.carried import cup_in
from layup.session.text import shortened
from layup.units import mass, spare_of

if TYPE_CHECKING:
    from layup.app.place import Host

ALWAYS, ROWS = 4, ((0, 2), (1,), (3,), (4, 6), (5, 7))
"""How many of the dials always stand there, the others once one of them is chosen or turned; how they stand."""
OF_DIAL = 18
"""Columns of a dial; two stand side by side with one between them."""
OF_NAME = 8
TURNED = "*"
"""Stands at a dial that is not as the plan's file has it."""


def dials_text(planner: Planner, settings: Settings, at: int, room: int, *, whole: bool) -> Text:
    """Return the dials, the one at `at` chosen, in `room` columns, the `whole` of them or those that are wanted.

    Some stand there always, the others where one of them is chosen or turned.
    """
    text, first = Text(no_wrap=True), settings if planner.plan is None else first_settings(planner.plan)
    turned = {index for index, dial in enumerate(DIALS) if dial.shows(settings, planner) != dial.shows(first, planner)}
    for row in ROWS:
        if not (whole or min(row) < ALWAYS or at >= ALWAYS or turned & {*row}):
            continue
        for side, index in enumerate(row):
            dial, here = DIALS[index], index == at
            value, mark = dial.shows(settings, planner), TURNED if index in turned else ""
            if len(value) > (fits := room - OF_NAME - 3 - len(mark)):  # what stands in brackets matters least
                value = shortened(value.partition(" (")[0], fits)
            head, shown = f"{'▸' if here else ' '}{dial.name:<{OF_NAME}}", f"◂{value}▸" if here else f" {value} "
            text.append(head, style=Style(meta={"dial": index, "more": ""}))
            bold = Style(bold=True, reverse=here, meta={"dial": index, "more": "more"})
            text.append(shown[0], style=Style(bold=True, reverse=here, meta={"dial": index, "more": ""}))
            text.append(shown[1:], style=bold).append(mark)
            if side < len(row) - 1:
                text.append(" " * (OF_DIAL + 1 - len(head) - len(shown) - len(mark)))
        text.append("\n")
    text.rstrip()
    return text


def turned_cup(app: Host, text: str, resin_id: str, *, back: bool = False) -> str:
    """Turn the largest cup down to what a note for next time asks for, or back to the plan's; say what it is then.

    Empty where the note is about no cup, about another resin, or the dial stands there already.
    """
    now, plan, cup_g = app.planner.settings, app.planner.plan, cup_in(text)
    if cup_g is None or app.watch_only or now is None or plan is None or resin_id not in ("", now.resin_id):
        return ""
    if now.cup_g != cup_g if back else now.cup_g is not None and now.cup_g <= cup_g:
        return ""
    most_g = plan.largest_cup_g if back else cup_g
    app.planner.settings = replace(now, cup_g=most_g)
    app.plan_again()
    return "; Stack: cups of any size" if most_g is None else f"; Stack: cups of {mass(most_g)}"


# -- ways to make a plan fit -----------------------------------------------------------------------------------------

MOST_WAYS = 3


@dataclass(frozen=True, slots=True)
class Way:
    """One change that makes a plan fit, or helps: what to do and what there is to spare then.

    `settings` are None where it is a matter of the plan's file.
    """

    words: str
    spare: str
    settings: Settings | None


def ways(planner: Planner, settings: Settings, changes: tuple[Remedy, ...]) -> list[Way]:
    """Return the least changes that make a plan fit, as dials that stand elsewhere where there are such."""
    found = []
    for change in changes[:MOST_WAYS]:
        plan, shop = change.result.plan, change.result.shop
        then = replace(
            settings,
            resin_id=change.result.datasheet.id,
            temperature_K=shop.temperature_K,
            cans_K=shop.resin_K,
            people=plan.crew.people,
            cup_g=plan.largest_cup_g,
        )
        turned = [*otherwise(planner, then, settings)]
        if planner.plan is not None and plan.scale != planner.plan.scale:  # no dial tares: it takes the words
            turned = []
        slack_s = change.slack_s
        left = "" if slack_s is None else f" {spare_of(slack_s, 'short')}"
        words = ", ".join(turned) or change.words.partition(":")[0].rstrip(".")
        found.append(Way(words, f"{VERDICT_SHAPES[change.verdict]}{left}", then if turned else None))
    return found
