"""The dials of Stack: what can be changed of a plan without touching a file, and how it stands in words."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from layup.bench.planner import Planner
from layup.chemistry.datasheet import offered
from layup.planning.choosing import choosable
from layup.planning.crew import MOST_PEOPLE
from layup.planning.planner import Settings
from layup.planning.remedies import CUP_STEP_G
from layup.units import mass, temperature

TEMPERATURE_STEP_K = 1.0
HUMIDITY_STEP = 0.05
FRACTION_STEP = 0.01
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


def _cup(now: Settings, _planner: Planner, by: int) -> Settings:
    return replace(now, cup_g=max((now.cup_g or USUAL_CUP_G) + by * CUP_STEP_G, CUP_STEP_G))


def _humidity(now: Settings, _planner: Planner, by: int) -> Settings:
    if now.relative_humidity is None:
        return replace(now, relative_humidity=USUAL_HUMIDITY)
    moved = round(now.relative_humidity + by * HUMIDITY_STEP, 2)
    return replace(now, relative_humidity=moved if 0 < moved <= 1 else None)


def _people(now: Settings, _planner: Planner, by: int) -> Settings:
    return replace(now, people=min(max(now.people + by, 1), MOST_PEOPLE))


def _temperature(now: Settings, _planner: Planner, by: int) -> Settings:
    return replace(now, temperature_K=now.temperature_K + by * TEMPERATURE_STEP_K)


def _cans(now: Settings, _planner: Planner, by: int) -> Settings:
    """Warm or cool the cans; back at the shop's temperature they follow it again."""
    cans_K = (now.cans_K or now.temperature_K) + by * TEMPERATURE_STEP_K
    return replace(now, cans_K=None if abs(cans_K - now.temperature_K) < TEMPERATURE_STEP_K / 2 else cans_K)


def _fraction(now: Settings, _planner: Planner, by: int) -> Settings:
    return replace(now, fraction=round(now.fraction + by * FRACTION_STEP, 3))


def _shows_humidity(now: Settings, _planner: Planner) -> str:
    return "?" if now.relative_humidity is None else f"{100 * now.relative_humidity:.0f} %"


def _shows_fraction(now: Settings, planner: Planner) -> str:
    by_volume = planner.plan is not None and planner.plan.target.by == "volume"
    return f"{100 * now.fraction:.0f} % {'vol' if by_volume else 'wt'}"


def _shows_resin(now: Settings, planner: Planner) -> str:
    sheet = planner.resins.get(now.resin_id)
    return sheet.title if sheet else now.resin_id


def _shows_lessons(now: Settings, planner: Planner) -> str:
    sessions = planner.lessons.sessions
    return "none" if not sessions else f"{sessions}" if now.lessons else "off"


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


def otherwise(planner: Planner, one: Settings, other: Settings) -> Iterator[str]:
    """Yield in words how those dials stand in one of two settings that stand elsewhere in the other."""
    for dial in DIALS:
        if (shown := dial.shows(one, planner)) != dial.shows(other, planner):
            yield f"{dial.name} {shown.partition(' (')[0]}".removeprefix("Resin ")


def set_on_stack(planner: Planner, settings: Settings, stated: Settings) -> str:
    """Return in words which settings stand as they were kept on Stack, and not as the plan's file has `stated`."""
    kept = {*otherwise(planner, planner.turned(stated), stated)}
    words = ", ".join(each for each in otherwise(planner, settings, stated) if each in kept)
    return f"as set on Stack: {words}" if words else ""
