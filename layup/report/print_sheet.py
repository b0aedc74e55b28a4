"""What hangs on the wall on press day: the order of the day, the list "before you start", one mix sheet a batch.

The wall sheet as one HTML file that needs nothing else, and prints on A4 and on letter: one page a batch.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from itertools import groupby

from layup.bench.acts import NOTED
from layup.bench.planner import note_items
from layup.errors import InputError
from layup.planning.castings import SEAL, numbered, pourings
from layup.planning.checklist import Item, Stock, checklist
from layup.planning.cuts import Cut, cut_list
from layup.planning.mix_sheet import MixSheet, mix_sheet
from layup.planning.outline import Outline, shape
from layup.planning.plan import PlaceStep
from layup.planning.planner import PlanResult, cast_sheets
from layup.planning.readiness import Readiness
from layup.planning.schedule import Batch, Timeline
from layup.report.charts import day_strip
from layup.report.render import cuts_html, page, table_html, template_html
from layup.review.carried import NextTime, at_no_step
from layup.units import countdown, in_minutes, mass, temperature

# -- wall ------------------------------------------------------------------------------------------------------------

STIR = "Stir 3 minutes, scrape the sides and the bottom, change the stick, stir again."
"""Common practice, no source."""
ESTIMATE = "Every time here is an estimate, at the early end of its 80 % band: believe the stick before the clock."
TARE = "Tare the empty cup once: the second number is the sum of both."
TARE_EACH = "Tare the empty cup, and again before the hardener."
LOOKED = "looked ______"
HANDS, PAIR = "A weighs and mixes: ______________  ", "B lays on meanwhile: ______________"
OTHERS = "the others lay on meanwhile"
START = "first weighing began ____:____"


@dataclass(frozen=True, slots=True)
class SheetPour:
    """One pour: what the scale shows when it is in, the readings to accept, and what is poured where that is less."""

    component: str
    shows_g: float
    within_g: tuple[float, float] | None
    """None where no reading of this scale is within 2 %."""
    adds_g: float
    """What is poured of it, by the scale's own numbers."""
    tare: str
    """What to do with the scale before it, in capitals; empty where the words above the pours say it."""

    @property
    def shows(self) -> str:
        """Return the number to pour to, with its unit."""
        return mass(self.shows_g, "g")

    @property
    def within(self) -> str:
        """Return the readings to accept, in words."""
        if self.within_g is None:
            return "no reading is within 2 %"
        low, high = (mass.digits(end_g, "g") for end_g in self.within_g)
        return f"{'' if low == high else f'{low} to '}{mass(self.within_g[1], 'g')} is good"

    @property
    def adds(self) -> str:
        """Return what is poured, where the scale shows a sum; else nothing."""
        return f"+{mass(self.adds_g, 'g')} {self.component}" if self.adds_g < self.shows_g else ""


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
    pencil: str
    """What is written in by hand: when the hardener went in, and by when the cup is to be empty."""
    cautions: tuple[str, ...]

    @property
    def title(self) -> str:
        return f"{self.what} {self.batch} of {self.batches}: {mass(self.mass_g)}"


@dataclass(frozen=True, slots=True)
class DayLine:
    """One line of the day's order: what begins when, who does it, and what it takes."""

    begin_s: float
    """From the first weighing; dry work before it has a time below zero."""
    end_s: float
    what: str
    detail: str
    who: str
    """Empty where one is alone."""
    batch: int | None
    """The batch that is weighed; None for what is laid, placed or closed."""
    note: str = ""
    """What an earlier session carried forward to this step."""


@dataclass(frozen=True, slots=True)
class PrintSheet:
    """Everything that hangs on the wall; all but `batches` is empty where only one batch was asked for."""

    title: str
    under: str
    hands: str
    """Who is meant by "A" and "B" in the order, with room for the names; empty where one is alone."""
    answer: str
    reasons: tuple[str, ...]
    """What speaks against beginning, the worst first; empty for a GO."""
    order: tuple[DayLine, ...]
    day: Timeline | None
    cuts: tuple[Cut, ...]
    items: tuple[Item, ...]
    batches: tuple[BatchSheet, ...]
    cautions: tuple[str, ...]
    """Of everything that is mixed, said once."""
    days: tuple[str, ...] = ()
    """The days before as lines; empty where the part is wanted on no day."""
    outline: Outline | None = None
    """Of one piece, for its template; None for the sheet of one batch, and where it has no length."""

    @property
    def groups(self) -> tuple[tuple[str, tuple[Item, ...]], ...]:
        return tuple((name, tuple(found)) for name, found in groupby(self.items, key=lambda item: item.group))


def print_sheet(
    result: PlanResult,
    ready: Readiness,
    *,
    batch: int | None = None,
    notes: tuple[NextTime, ...] = (),
    stock: Stock | None = None,
    as_set: str = "",
) -> PrintSheet:
    """Return the list and all mix sheets, or one alone, of a casting plan of its pours; the head says `as_set`."""
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
    order = _order(result, notes) if batch is None else ()
    elsewhere = at_no_step(notes, [step.name for step in plan.steps] if order else ())
    return PrintSheet(
        title=plan.title,
        under=f"{_resin_and_shop(result)}, {plan.crew.people} at the bench{f'; {as_set}' if as_set else ''}",
        hands=HANDS + (PAIR if plan.crew.people == 2 else OTHERS) if any(line.who for line in order) else "",
        answer=f"Begin: {ready.answer.upper()}",
        reasons=tuple(
            f"{each.answer.upper()}: {each.words} {each.todo}".strip() for each in ready.reasons if each.answer != "go"
        ),
        order=order,
        day=result.timeline if batch is None else None,
        cuts=cut_list(plan) if batch is None and plan.lays else (),
        items=(*note_items(elsewhere), *checklist(result, ready, stock)) if batch is None else (),
        batches=tuple(chosen),
        cautions=tuple(dict.fromkeys(words for each in chosen for words in each.cautions)),
        outline=plan.outline if batch is None and plan.lays and shape(plan.outline).length_m is not None else None,
    )


def _order(result: PlanResult, notes: tuple[NextTime, ...]) -> tuple[DayLine, ...]:
    """Return the day in order: each weighing, each step, the closing; with two at the bench, who does it."""
    day, plan = result.timeline, result.plan
    if not plan.lays:
        return _pour_order(result)
    if day is None:
        return ()
    mixer, others = ("A", "A + B" if plan.crew.people == 2 else "all") if plan.crew.people > 1 else ("", "")
    lines = [
        DayLine(each.weigh_s, each.lay_s, f"WEIGH BATCH {each.number}", mass(each.mass_g), mixer, each.number)
        for each in result.split.batches
    ]
    for row in day.steps:
        serves = [each for each in result.split.batches if row.step in {share.step for share in each.shares}]
        laid_g = sum(share.laid_g for each in serves for share in each.shares if share.step == row.step)
        detail = f"{mass(laid_g)} of batch {' + '.join(str(each.number) for each in serves)}" if serves else ""
        number = f"{row.step + 1} " if row.step is not None else ""
        name = plan.steps[row.step].name if row.step is not None else ""
        note = "; ".join(note.text for note in notes if note.is_at(name))
        times = row.spans[0].begin_s, row.spans[-1].end_s
        lines.append(DayLine(*times, f"{number}{row.label}", detail, others, None, note))
    lines += [DayLine(each.begin_s, each.end_s, "CLOSE THE PRESS", "", others, None) for each in day.closing.spans]
    return tuple(sorted(lines, key=lambda line: (line.begin_s, line.end_s)))


def _pour_order(result: PlanResult) -> tuple[DayLine, ...]:
    """Return a casting day in order: the core made ready before the first weighing, then each pour by its clock."""
    ready = [step for step in result.plan.steps if isinstance(step, PlaceStep)]
    wait_s = result.plan.casting.seal_wait_s or 0.0
    at_s = -sum(step.bench_s for step in ready) - wait_s
    lines = []
    for step in ready:
        detail = f"then {in_minutes(wait_s)} to dry" if step.name == SEAL and wait_s else ""
        lines.append(DayLine(at_s, at_s + step.bench_s, step.name, detail, "", None))
        at_s += step.bench_s + (wait_s if step.name == SEAL else 0.0)
    for number, casting, pour in numbered(pourings(result, None)):
        starts_s, colours = casting.starts_s or 0.0, "-".join(name for name, _ in pour.pigments_g)
        clock = f"mix at {countdown(starts_s + pour.mix_s)}, empty by {countdown(starts_s + pour.due_s)} min"
        times, what = (starts_s + pour.weigh_s, starts_s + pour.poured_s), f"POUR {number} {colours}".rstrip()
        lines.append(DayLine(*times, what, f"{mass(pour.mass_g)}, {clock}", "", number))
    return tuple(lines)


def _resin_and_shop(result: PlanResult) -> str:
    sheets = [result.datasheet] if result.plan.lays else cast_sheets(result)
    title = " and ".join(sheet.title for sheet in sheets) or result.datasheet.title
    cans_K = result.shop.resin_K
    cans = "" if cans_K is None else f", cans at {temperature(cans_K)}"
    return f"{title}, shop at {temperature(result.shop.temperature_K)}{cans}"


def _batch_sheet(result: PlanResult, batch: Batch, of: int) -> BatchSheet:
    plan = result.plan
    sheet = mix_sheet(result.datasheet, batch.mass_g, plan.scale, cup_g=plan.largest_cup_g)
    serves = tuple(plan.steps[share.step].name for share in batch.shares)
    facts = [
        STIR,
        _when(in_minutes(batch.weigh_s) if batch.weigh_s else ""),
        f"Planned to be empty {in_minutes(batch.held_s)} after the hardener went in.",
    ]
    pencil = _pencil("empty by", batch.cup.empty_by_s, ".0f")
    return _sheet(result, sheet, ("Batch", batch.number, of), batch.mass_g, serves, facts, pencil)


def _when(after: str) -> str:
    return f"Weigh it {after} after the first weighing began." if after else "Weigh it first."


def _pencil(by: str, left_s: float, form: str) -> str:
    return f"hardener in ____:____ + {in_minutes(left_s, form)} (estimate) = {by} ____:____  {LOOKED}"


def _pour_sheets(result: PlanResult) -> Iterator[BatchSheet]:
    """Yield the sheet of each pour of a casting plan, numbered through."""
    plan, castings = result.plan, pourings(result, result.timeline)
    of = sum(len(casting.pours) for casting in castings)
    for number, casting, pour in numbered(castings):
        resin, starts_s = result.casting_resins[casting.resin_id], casting.starts_s or 0.0
        sheet = mix_sheet(resin, pour.mass_g, plan.scale, cup_g=plan.largest_cup_g)
        weigh_s = starts_s + pour.weigh_s
        facts = [
            *([f"Into {pour.place}."] if pour.place else []),
            *(
                f"Pigment first: {mass(mass_g, '.1f')} {name} into the cup, then tare to 0."
                for name, mass_g in pour.pigments_g
            ),
            _when(countdown(weigh_s) if weigh_s else ""),
            f"Hardener in at {countdown(starts_s + pour.mix_s)}, pour at {countdown(starts_s + pour.pour_s)}, "
            f"cup empty by {countdown(starts_s + pour.due_s)} (min:s).",
            *([f"Pour it onto the last until {countdown(starts_s + pour.closes_s)}."] if pour.number > 1 else []),
        ]
        pencil = _pencil("out of the cup by", pour.due_s - pour.mix_s, ".1f")
        yield _sheet(result, sheet, ("Pour", number, of), pour.mass_g, (casting.name,), facts, pencil)


def _sheet(
    result: PlanResult,
    sheet: MixSheet,
    place: tuple[str, int, int],
    mass_g: float,
    serves: tuple[str, ...],
    facts: list[str],
    pencil: str,
) -> BatchSheet:
    name, number, of = place
    resin_g, hardener_g = sheet.masses_g
    size = [f"Cup of {sheet.cup_words}: half to two-thirds full."] if sheet.cup_ml else []
    return BatchSheet(
        batch=number,
        batches=of,
        what=name,
        under=f"{result.plan.title}: {_resin_and_shop(result)}",
        mass_g=mass_g,
        serves=serves,
        tare=TARE_EACH if sheet.tare_each else TARE,
        pours=tuple(_pours(sheet)),
        facts=(
            f"In the cup then: {mass(resin_g, '.1f')} resin + {mass(hardener_g, '.1f')} hardener.",
            *facts,
            *size,
            *(f"! {warning}" for warning in sheet.warnings),
        ),
        pencil=pencil,
        cautions=sheet.cautions,
    )


def _pours(sheet: MixSheet) -> Iterator[SheetPour]:
    before_g = 0.0
    for place, reading in enumerate(sheet.weighing.readings):
        again = "TARE TO 0" if sheet.tare_each else "DO NOT TARE"
        yield SheetPour(
            reading.component, reading.shows_g, reading.within_g, reading.shows_g - before_g, again if place else ""
        )
        before_g = 0.0 if sheet.tare_each else reading.shows_g


# -- wall html -------------------------------------------------------------------------------------------------------

STYLE = """
:root { color-scheme: light; }
*, *::before { box-sizing: border-box; }
body { font: 12pt/1.3 system-ui, sans-serif; color: #000; background: #fff; max-width: 186mm; margin: 1em auto;
  padding: 0 1em; overflow-wrap: anywhere; }
h1 { font-size: 1.7em; margin: 0; }
h2 { font-size: 1.1em; margin: .8em 0 .2em; border-bottom: 2px solid #000; break-after: avoid; }
p, ul { margin: .3em 0; }
ul { list-style: none; padding: 0; }
li { break-inside: avoid; padding-left: 1.7em; text-indent: -1.7em; margin: .18em 0; }
li.box::before { content: ""; display: inline-block; width: .9em; height: .9em; border: 2px solid #000;
  margin-right: .8em; vertical-align: -.1em; }
li.point { padding-left: 1em; text-indent: -1em; }
li.point::before { content: "\\2022"; margin-right: .6em; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: left; padding: .2em .5em .2em 0; border-bottom: 1px solid #999; vertical-align: top; }
th { font-weight: normal; font-size: .85em; }
th.number, td.number { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
tr { break-inside: avoid; }
tr.weigh td { font-weight: bold; background: #ddd; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
td.real { min-width: 5em; }
pre.days { font-size: .78em; line-height: 1.15; overflow-wrap: normal; break-inside: avoid; }
figure { margin: .4em 0; break-inside: avoid; }
figure svg { width: 100%; height: auto; }
figure.drawn svg { width: auto; }
section { break-before: page; }
section.batch { break-inside: avoid; }
.under { display: flex; justify-content: space-between; gap: 1em; flex-wrap: wrap; }
.pour { border: 4px solid #000; padding: .1em .5em .3em; margin: .5em 0; }
.pour .name { font-size: 2em; font-weight: bold; text-transform: uppercase; display: flex;
  justify-content: space-between; gap: .5em; flex-wrap: wrap; }
.pour .tare { background: #000; color: #fff; padding: 0 .3em; white-space: nowrap; print-color-adjust: exact;
  -webkit-print-color-adjust: exact; }
.pour .shows { font-size: 9.2em; font-weight: bold; line-height: 1; font-variant-numeric: tabular-nums;
  white-space: nowrap; }
.pour .good { font-size: 1.5em; display: flex; justify-content: space-between; gap: .5em; flex-wrap: wrap; }
.facts { font-size: 1.25em; }
section.list { font-size: .88em; }
.cautions { columns: 2; font-size: .85em; break-inside: avoid; }
.pencil { white-space: pre-wrap; margin-top: 1em; font-size: 1.25em; }
@media (max-width: 170mm) { .pour .shows { font-size: 4.6em; } }
@page { margin: 12mm; }
@media print { body { max-width: none; margin: 0; padding: 0; font-size: 11pt; } .pour .shows { font-size: 9.2em; } }
"""


def wall_html(sheet: PrintSheet) -> str:
    first = f"{escape(sheet.under)}<br><strong>{escape(sheet.answer)}</strong>"
    parts = [f"<h1>{escape(sheet.title)}</h1>", f'<p class="under"><span>{first}</span><span>{START}</span></p>']
    parts += [f"<p>{escape(words)}</p>" for words in sheet.reasons]
    if sheet.days:
        parts.append(f'<pre class="days">{escape(chr(10).join(sheet.days))}</pre>')
    if sheet.order:
        parts += [f"<p>{sheet.hands}</p>"] if sheet.hands else []
        parts += [_order_html(sheet.order), f"<p>{ESTIMATE}</p>"]
    if sheet.day is not None:
        parts.append(f"<figure>{day_strip(sheet.day)}</figure>")
    if sheet.cuts:
        parts.append(cuts_html(sheet.cuts))
    if sheet.items:
        parts.append('<section class="list">')
    for name, items in sheet.groups:
        parts.append(f"<h2>{escape(name.capitalize())}</h2><ul>")
        parts += [f'<li class="box">{escape(item.words)}</li>' for item in items]
        parts.append("</ul>")
    cautions = f'<h2>Cautions</h2><div class="cautions">{_points(sheet.cautions)}</div>'
    if sheet.items:
        parts += [cautions, "</section>"]
    parts += [_batch(batch) for batch in sheet.batches]
    if not sheet.items:
        parts.append(cautions)
    if sheet.outline is not None:
        parts.append(template_html(sheet.title, sheet.outline))
    return page(sheet.title, STYLE, "\n".join(parts))


def _order_html(order: tuple[DayLine, ...]) -> str:
    hands = [("", "who")] if any(line.who for line in order) else []
    heads = [("number", "from"), ("number", "to, min"), ("", "what"), ("", "mix"), *hands, ("real", "real time")]
    rows = []
    for line in order:
        times = [f"{round(at_s / 60.0) + 0}" for at_s in (line.begin_s, line.end_s)]
        note = f"<br><b>{NOTED}</b> {escape(line.note)}" if line.note else ""
        who = [escape(line.who)] if hands else []
        real = "" if line.batch else "____:____"
        rows.append([*times, f"{escape(line.what)}{note}", escape(line.detail), *who, real])
    return table_html(heads, rows, ["weigh" if line.batch else "lay" for line in order])


def _points(lines: tuple[str, ...]) -> str:
    return "<ul>" + "".join(f'<li class="point">{escape(line)}</li>' for line in lines) + "</ul>"


def _batch(batch: BatchSheet) -> str:
    pours = "".join(
        f'<div class="pour"><div class="name"><span>{place} {escape(pour.component)} to</span>'
        + (f'<span class="tare">{pour.tare}</span>' if pour.tare else "")
        + f'</div><div class="shows">{escape(pour.shows)}</div>'
        f'<div class="good"><span>{escape(pour.adds)}</span><span>{escape(pour.within)}</span></div></div>'
        for place, pour in enumerate(batch.pours, 1)
    )
    return (
        f'<section class="batch"><h1>{escape(batch.title)}</h1>'
        f"<p>{escape(batch.under)}<br>for {escape('; '.join(batch.serves))}<br>{escape(batch.tare)}</p>\n{pours}\n"
        f'<div class="facts">{_points(batch.facts)}</div>\n<p class="pencil">{escape(batch.pencil)}</p></section>'
    )
