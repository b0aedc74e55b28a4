"""What hangs on the wall on press day: the list "before you start", and one mix sheet a batch. Plain data."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

from layup.dimensions import ZERO_CELSIUS_K
from layup.errors import InputError
from layup.planning.checklist import Item, checklist
from layup.planning.mixsheet import MixSheet, mix_sheet
from layup.planning.readiness import Readiness
from layup.planning.schedule import Batch
from layup.planning.whatif import WhatIf

STIR = "Stir 3 minutes, scrape the sides and the bottom, change the stick, stir again."
"""Common practice, no source."""
ESTIMATE = "Every time here is an estimate, at the early end of its 80 % band: believe the stick before the clock."
TARE = "Tare the empty cup to 0. Each number is the sum so far: it is what the scale shows when that is in."
TARE_EACH = "Tare the empty cup to 0, and tare again before the hardener: each number is what the scale shows of that."
PENCIL = "hardener in ____:____   cup empty ____:____   looked ____________"


@dataclass(frozen=True, slots=True)
class Pour:
    """One pour: what the scale shows when it is in, on one tare, and the readings to accept."""

    component: str
    shows_g: float
    within_g: tuple[float, float] | None
    """None where no reading of this scale is within 2 %."""

    @property
    def shows(self) -> str:
        """Return the number to pour to, with its unit."""
        return f"{self.shows_g:g} g"

    @property
    def within(self) -> str:
        """Return the readings to accept, in words."""
        return (
            "no reading is within 2 %" if self.within_g is None else f"{self.within_g[0]:g} to {self.within_g[1]:g} g"
        )


@dataclass(frozen=True, slots=True)
class BatchSheet:
    """The mix sheet of one batch."""

    batch: int
    batches: int
    under: str
    """What it holds for: the part, the resin, the shop's temperature."""
    mass_g: float
    serves: tuple[str, ...]
    tare: str
    pours: tuple[Pour, ...]
    facts: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def title(self) -> str:
        """Return its heading."""
        return f"Batch {self.batch} of {self.batches}: {self.mass_g:.0f} g"


@dataclass(frozen=True, slots=True)
class WallSheet:
    """Everything that hangs on the wall; `items` is empty where only batches were asked for."""

    title: str
    under: str
    answer: str
    reasons: tuple[str, ...]
    """What speaks against beginning, the worst first; empty for a GO."""
    items: tuple[Item, ...]
    batches: tuple[BatchSheet, ...]

    @property
    def groups(self) -> tuple[tuple[str, tuple[Item, ...]], ...]:
        """Return the items by group, in order."""
        return tuple((name, tuple(found)) for name, found in groupby(self.items, key=lambda item: item.group))


def wall_sheet(what: WhatIf, ready: Readiness, *, batch: int | None = None) -> WallSheet:
    """Return the list and all mix sheets, or the mix sheet of one batch alone."""
    plan, found = what.case.plan, what.settled.split.batches
    chosen = [each for each in found if batch in (None, each.number)]
    if not chosen:
        raise InputError(
            "batch",
            "is not in this plan" if found else "cannot be mixed: this plan has none",
            value=batch,
            allowed=f"1 to {len(found)}" if found else "",
            todo="see 'layup plan'",
        )
    people = f"{plan.crew.people} at the bench"
    return WallSheet(
        title=plan.title,
        under=f"{_resin_and_shop(what)}, {people}",
        answer=f"Begin: {ready.answer.upper()}",
        reasons=tuple(
            f"{each.answer.upper()}: {each.words} {each.todo}".strip() for each in ready.reasons if each.answer != "go"
        ),
        items=checklist(what.case, what.settled, ready) if batch is None else (),
        batches=tuple(_batch_sheet(what, each, len(found)) for each in chosen),
    )


def _resin_and_shop(what: WhatIf) -> str:
    return f"{what.case.datasheet.title}, shop at {what.case.shop.temperature_K - ZERO_CELSIUS_K:.0f} °C"


def _batch_sheet(what: WhatIf, batch: Batch, of: int) -> BatchSheet:
    plan = what.case.plan
    sheet = mix_sheet(what.case.datasheet, batch.mass_g, plan.scale, cup_g=plan.largest_cup_g)
    return BatchSheet(
        batch=batch.number,
        batches=of,
        under=f"{plan.title}: {_resin_and_shop(what)}",
        mass_g=batch.mass_g,
        serves=tuple(plan.steps[share.step].name for share in batch.shares),
        tare=TARE_EACH if sheet.tare_each else TARE,
        pours=tuple(Pour(reading.component, reading.shows_g, reading.within_g) for reading in sheet.weighing.readings),
        facts=tuple(_facts(sheet, batch)),
        cautions=sheet.cautions,
    )


def _facts(sheet: MixSheet, batch: Batch) -> list[str]:
    resin_g, hardener_g = sheet.masses_g
    facts = [
        f"In the cup then: {resin_g:.1f} g resin + {hardener_g:.1f} g hardener.",
        STIR,
        f"Out of the cup {batch.cup.empty_by_s / 60:.0f} min after the hardener went in at the latest; "
        f"planned {batch.held_s / 60:.0f} min.",
        f"Weigh it {batch.weigh_s / 60:.0f} min after the first weighing began."
        if batch.weigh_s
        else "Weigh it first.",
    ]
    if sheet.cup_ml:
        facts.append(f"Cup of {sheet.cup_ml[0]:.0f} to {sheet.cup_ml[1]:.0f} ml: half to two-thirds full.")
    return [*facts, *(f"! {warning}" for warning in sheet.warnings), ESTIMATE]
