"""What hangs on the wall on press day: the list "before you start", and one mix sheet a batch. Plain data.

The wall sheet as one HTML file that needs nothing else, and prints on A4 and on letter: one page a batch.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from itertools import groupby

from layup.errors import InputError
from layup.planning.castings import pourings
from layup.planning.checklist import Item, checklist
from layup.planning.mix_sheet import MixSheet, mix_sheet
from layup.planning.planner import PlanResult, cast_sheets
from layup.planning.readiness import Readiness
from layup.planning.schedule import Batch
from layup.report.render import page
from layup.units import in_minutes, mass, temperature

# -- wall ------------------------------------------------------------------------------------------------------------

STIR = "Stir 3 minutes, scrape the sides and the bottom, change the stick, stir again."
"""Common practice, no source."""
ESTIMATE = "Every time here is an estimate, at the early end of its 80 % band: believe the stick before the clock."
TARE = "Tare the empty cup to 0. Each number is the sum so far: it is what the scale shows when that is in."
TARE_EACH = "Tare the empty cup to 0, and tare again before the hardener: each number is what the scale shows of that."
PENCIL = "hardener in ____:____   cup empty ____:____   looked ____________"


@dataclass(frozen=True, slots=True)
class SheetPour:
    """One pour: what the scale shows when it is in, on one tare, and the readings to accept."""

    component: str
    shows_g: float
    within_g: tuple[float, float] | None
    """None where no reading of this scale is within 2 %."""

    @property
    def shows(self) -> str:
        """Return the number to pour to, with its unit."""
        return f"{mass(self.shows_g, 'g')}"

    @property
    def within(self) -> str:
        """Return the readings to accept, in words."""
        return (
            "no reading is within 2 %"
            if self.within_g is None
            else f"{mass.digits(self.within_g[0], 'g')} to {mass(self.within_g[1], 'g')}"
        )


@dataclass(frozen=True, slots=True)
class BatchSheet:
    """The mix sheet of one batch."""

    batch: int
    batches: int
    what: str
    """ "Batch" of a press day, or "Pour" of a casting."""
    under: str
    """What it holds for: the part, the resin, the shop's temperature."""
    mass_g: float
    serves: tuple[str, ...]
    tare: str
    pours: tuple[SheetPour, ...]
    facts: tuple[str, ...]
    cautions: tuple[str, ...]

    @property
    def title(self) -> str:
        """Return its heading."""
        return f"{self.what} {self.batch} of {self.batches}: {mass(self.mass_g)}"


@dataclass(frozen=True, slots=True)
class PrintSheet:
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


def print_sheet(result: PlanResult, ready: Readiness, *, batch: int | None = None) -> PrintSheet:
    """Return the list and all mix sheets, or the mix sheet of one batch alone; of a casting plan those of its pours."""
    plan = result.plan
    batches = result.split.batches
    found = [_batch_sheet(result, each, len(batches)) for each in batches] if plan.lays else list(_pour_sheets(result))
    chosen = [each for each in found if batch in (None, each.batch)]
    if not chosen:
        raise InputError(
            "batch",
            "is not in this plan" if found else "cannot be mixed: this plan has none",
            value=batch,
            allowed=f"1 to {len(found)}" if found else "",
            todo="see 'layup plan'",
        )
    people = f"{plan.crew.people} at the bench"
    return PrintSheet(
        title=plan.title,
        under=f"{_resin_and_shop(result)}, {people}",
        answer=f"Begin: {ready.answer.upper()}",
        reasons=tuple(
            f"{each.answer.upper()}: {each.words} {each.todo}".strip() for each in ready.reasons if each.answer != "go"
        ),
        items=checklist(result, ready) if batch is None else (),
        batches=tuple(chosen),
    )


def _resin_and_shop(result: PlanResult) -> str:
    sheets = [result.datasheet] if result.plan.lays else cast_sheets(result)
    title = " and ".join(sheet.title for sheet in sheets) or result.datasheet.title
    return f"{title}, shop at {temperature(result.shop.temperature_K)}"


def _batch_sheet(result: PlanResult, batch: Batch, of: int) -> BatchSheet:
    plan = result.plan
    sheet = mix_sheet(result.datasheet, batch.mass_g, plan.scale, cup_g=plan.largest_cup_g)
    serves = tuple(plan.steps[share.step].name for share in batch.shares)
    return _sheet(result, sheet, ("Batch", batch.number, of), batch.mass_g, serves, _facts(sheet, batch))


def _pour_sheets(result: PlanResult) -> Iterator[BatchSheet]:
    """Yield the sheet of each pour of a casting plan, numbered through."""
    plan, number = result.plan, 0
    castings = pourings(result, result.timeline)
    of = sum(len(casting.pours) for casting in castings)
    for casting in castings:
        for pour in casting.pours:
            number += 1
            resin = result.casting_resins[casting.resin_id]
            sheet = mix_sheet(resin, pour.mass_g, plan.scale, cup_g=plan.largest_cup_g)
            facts = [
                _grams(sheet),
                *(
                    f"Pigment: {mass(mass_g, '.1f')} {name}, stirred into the resin first."
                    for name, mass_g in pour.pigments_g
                ),
                f"Mix it {in_minutes(pour.mix_s, '.1f')} after the first pour was mixed."
                if pour.mix_s
                else "Mix it first.",
                f"Out of the cup {in_minutes(pour.due_s, '.1f')} after the first pour was mixed at the latest; "
                f"planned {in_minutes(pour.poured_s, '.1f')}.",
                *_cup(sheet),
                *(f"! {words}" for words in casting.warnings),
                ESTIMATE,
            ]
            yield _sheet(result, sheet, ("Pour", number, of), pour.mass_g, (casting.name,), facts)


def _sheet(
    result: PlanResult,
    sheet: MixSheet,
    numbered: tuple[str, int, int],
    mass_g: float,
    serves: tuple[str, ...],
    facts: list[str],
) -> BatchSheet:
    name, number, of = numbered
    return BatchSheet(
        batch=number,
        batches=of,
        what=name,
        under=f"{result.plan.title}: {_resin_and_shop(result)}",
        mass_g=mass_g,
        serves=serves,
        tare=TARE_EACH if sheet.tare_each else TARE,
        pours=tuple(
            SheetPour(reading.component, reading.shows_g, reading.within_g) for reading in sheet.weighing.readings
        ),
        facts=tuple(facts),
        cautions=sheet.cautions,
    )


def _grams(sheet: MixSheet) -> str:
    resin_g, hardener_g = sheet.masses_g
    return f"In the cup then: {mass(resin_g, '.1f')} resin + {mass(hardener_g, '.1f')} hardener."


def _cup(sheet: MixSheet) -> Iterator[str]:
    """Yield the size of the cup, where it is known, and what to mind."""
    if sheet.cup_ml:
        yield f"Cup of {sheet.cup_words}: half to two-thirds full."
    yield from (f"! {warning}" for warning in sheet.warnings)


def _facts(sheet: MixSheet, batch: Batch) -> list[str]:
    return [
        _grams(sheet),
        STIR,
        f"Out of the cup {in_minutes(batch.cup.empty_by_s)} after the hardener went in at the latest; "
        f"planned {in_minutes(batch.held_s)}.",
        f"Weigh it {in_minutes(batch.weigh_s)} after the first weighing began." if batch.weigh_s else "Weigh it first.",
        *_cup(sheet),
        ESTIMATE,
    ]


# -- wall html -------------------------------------------------------------------------------------------------------

STYLE = """
:root { color-scheme: light; }
*, *::before { box-sizing: border-box; }
body { font: 12pt/1.35 system-ui, sans-serif; color: #000; background: #fff; max-width: 186mm; margin: 1em auto;
  padding: 0 1em; overflow-wrap: anywhere; }
h1 { font-size: 1.7em; margin: 0; }
h2 { font-size: 1.1em; margin: .9em 0 .2em; border-bottom: 2px solid #000; break-after: avoid; }
p, ul { margin: .3em 0; }
ul { list-style: none; padding: 0; }
li { break-inside: avoid; padding-left: 1.7em; text-indent: -1.7em; margin: .18em 0; }
li.box::before { content: ""; display: inline-block; width: .9em; height: .9em; border: 2px solid #000;
  margin-right: .8em; vertical-align: -.1em; }
li.point { padding-left: 1em; text-indent: -1em; }
li.point::before { content: "\\2022"; margin-right: .6em; }
section.batch { break-before: page; break-inside: avoid; }
.pour { border: 3px solid #000; padding: .2em .5em; margin: .5em 0; }
.pour .name { font-size: 1.6em; font-weight: bold; text-transform: uppercase; }
.pour .shows { font-size: 4.6em; font-weight: bold; line-height: 1.05; font-variant-numeric: tabular-nums; }
.pencil { white-space: pre-wrap; margin-top: 1em; }
@page { margin: 12mm; }
@media print { body { max-width: none; margin: 0; padding: 0; font-size: 11pt; } }
"""


def wall_html(sheet: PrintSheet) -> str:
    """Return the wall sheet as a page."""
    parts = [f"<h1>{escape(sheet.title)}</h1>", f"<p>{escape(sheet.under)}<br>{escape(sheet.answer)}</p>"]
    parts += [f"<p>{escape(words)}</p>" for words in sheet.reasons]
    for name, items in sheet.groups:
        parts.append(f"<h2>{escape(name.capitalize())}</h2><ul>")
        parts += [f'<li class="box">{escape(item.words)}</li>' for item in items]
        parts.append("</ul>")
    parts += [_batch(batch) for batch in sheet.batches]
    return page(sheet.title, STYLE, "\n".join(parts))


def _batch(batch: BatchSheet) -> str:
    pours = "".join(
        f'<div class="pour"><span class="name">{place} {escape(pour.component)} to</span>'
        f'<div class="shows">{escape(pour.shows)}</div>{escape(pour.within)}</div>'
        for place, pour in enumerate(batch.pours, 1)
    )
    facts, cautions = (
        "<ul>" + "".join(f'<li class="point">{escape(line)}</li>' for line in lines) + "</ul>"
        for lines in (batch.facts, batch.cautions)
    )
    return (
        f'<section class="batch"><h1>{escape(batch.title)}</h1>'
        f"<p>{escape(batch.under)}<br>for {escape('; '.join(batch.serves))}</p>\n"
        f"<p>{escape(batch.tare)}</p>\n{pours}\n"
        f'{facts}\n<p class="pencil">{escape(PENCIL)}</p>\n{cautions}</section>'
    )
