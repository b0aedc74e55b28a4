"""The dials of Stack: what can be changed of a plan without touching a file, each turned with the arrow keys."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from rich.style import Style
from rich.text import Text

from layup.bench.planner import (
    FRACTION_STEP,
    HUMIDITY_STEP,
    TEMPERATURE_STEP_K,
    VERDICT_SHAPES,
    Planner,
    first_settings,
)
from layup.chemistry.datasheet import offered
from layup.planning.choosing import choosable
from layup.planning.crew import MOST_PEOPLE
from layup.planning.planner import Settings
from layup.planning.remedies import CUP_STEP_G, Remedy
from layup.session.text import shortened
from layup.units import mass, spare_of, temperature

USUAL_HUMIDITY, USUAL_CUP_G = 0.5, 400.0
"""Where a dial begins that nothing was said of (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Dial:
    """One setting that the arrow keys change."""

    name: str
    shows: Callable[[Settings, Planner], str]
    turned: Callable[[Settings, Planner, int], Settings]


def _next_resin(now: Settings, planner: Planner, by: int) -> Settings:
    plan, own = planner.plan, planner.resins.get(now.resin_id)
    names = list(offered(planner.resins))
    if plan is not None and own is not None:
        names = sorted(sheet.id for sheet in choosable(plan, planner.resins, own))
    at = names.index(now.resin_id) if now.resin_id in names else 0
    return replace(now, resin_id=names[(at + by) % len(names)]) if names else now


def _cup(now: Settings, planner: Planner, by: int) -> Settings:
    del planner
    cup_g = (now.cup_g or USUAL_CUP_G) + by * CUP_STEP_G
    return replace(now, cup_g=max(cup_g, CUP_STEP_G))


def _humidity(now: Settings, planner: Planner, by: int) -> Settings:
    del planner
    if now.relative_humidity is None:
        return replace(now, relative_humidity=USUAL_HUMIDITY)
    moved = round(now.relative_humidity + by * HUMIDITY_STEP, 2)
    return replace(now, relative_humidity=moved if 0 < moved <= 1 else None)


def _people(now: Settings, planner: Planner, by: int) -> Settings:
    del planner
    return replace(now, people=min(max(now.people + by, 1), MOST_PEOPLE))


def _temperature(now: Settings, planner: Planner, by: int) -> Settings:
    del planner
    return replace(now, temperature_K=now.temperature_K + by * TEMPERATURE_STEP_K)


def _cans(now: Settings, planner: Planner, by: int) -> Settings:
    """Warm or cool the cans; back at the shop's temperature they follow it again."""
    del planner
    cans_K = (now.cans_K or now.temperature_K) + by * TEMPERATURE_STEP_K
    return replace(now, cans_K=None if abs(cans_K - now.temperature_K) < TEMPERATURE_STEP_K / 2 else cans_K)


def _fraction(now: Settings, planner: Planner, by: int) -> Settings:
    del planner
    return replace(now, fraction=round(now.fraction + by * FRACTION_STEP, 3))


def _shows_humidity(now: Settings, planner: Planner) -> str:
    del planner
    return "?" if now.relative_humidity is None else f"{100 * now.relative_humidity:.0f} %"


def _shows_fraction(now: Settings, planner: Planner) -> str:
    by_volume = planner.plan is not None and planner.plan.target.by == "volume"
    return f"{100 * now.fraction:.0f} % {'vol' if by_volume else 'wt'}"


def _shows_resin(now: Settings, planner: Planner) -> str:
    sheet = planner.resins.get(now.resin_id)
    return sheet.title if sheet else now.resin_id


def _shows_lessons(now: Settings, planner: Planner) -> str:
    sessions = planner.lessons.sessions
    if not sessions:
        return "none"
    return f"{sessions}" if now.lessons else "off"


DIALS = (
    Dial("Shop", lambda now, _: temperature(now.temperature_K), _temperature),
    Dial("People", lambda now, _: f"{now.people}", _people),
    Dial("Cup max", lambda now, _: "any" if now.cup_g is None else f"{mass(now.cup_g)}", _cup),
    Dial("Resin", _shows_resin, _next_resin),
    Dial("Cans", lambda now, _: "= shop" if now.cans_K is None else temperature(now.cans_K), _cans),
    Dial("Humidity", _shows_humidity, _humidity),
    Dial("Fibre", _shows_fraction, _fraction),
    Dial("Lessons", _shows_lessons, lambda now, _, __: replace(now, lessons=not now.lessons)),
)
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


def turn_cup(planner: Planner, cup_g: float, resin_id: str, *, back: bool = False) -> bool:
    """Turn the largest cup down to what a note for next time asks for, or back to the plan's; whether it was."""
    now, plan = planner.settings, planner.plan
    if now is None or plan is None or resin_id not in ("", now.resin_id):
        return False
    if now.cup_g != cup_g if back else now.cup_g is not None and now.cup_g <= cup_g:
        return False
    planner.settings = replace(now, cup_g=plan.largest_cup_g if back else cup_g)
    return True


def otherwise(planner: Planner, one: Settings, other: Settings) -> Iterator[str]:
    """Yield in words how those dials stand in one of two settings that stand elsewhere in the other."""
    for dial in DIALS:
        if (shown := dial.shows(one, planner)) != dial.shows(other, planner):
            yield f"{dial.name} {shown.partition(' (')[0]}".removeprefix("Resin ")


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
