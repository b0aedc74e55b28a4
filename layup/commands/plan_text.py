"""A plan as lines of text: grams, batches, the day as a picture, the window, the odds and what would help."""

from __future__ import annotations

from layup.commands.plan_ready import pouring_lines, ready_lines
from layup.planning.budget import Budget
from layup.planning.cutting import Cut, cut_list
from layup.planning.mixsheet import cautions
from layup.planning.odds import Odds
from layup.planning.pouring import Pouring
from layup.planning.pressing import pressed_out_words, pressing
from layup.planning.readiness import Readiness
from layup.planning.remedies import Remedy
from layup.planning.schedule import LEAST_LEFT_OVER_g
from layup.planning.whatif import WhatIf
from layup.planning.window import cast_sheets
from layup.report.stack_pictures import batch_lines, gantt, window_picture
from layup.screens.beginning import hanging, ready_rows


def plan_lines(
    what: WhatIf,
    chances: Odds | None,
    changes: tuple[Remedy, ...],
    ready: Readiness,
    pours: tuple[Pouring, ...],
    *,
    width: int,
) -> list[str]:
    """Return the whole plan, the verdict first."""
    plan, day = what.case.plan, what.timeline
    sheets = (what.case.datasheet,) if plan.lays else cast_sheets(what.case)
    lines = [
        f"{plan.title}: {_count(plan.pieces, 'piece')}, {' and '.join(sheet.title for sheet in sheets)}, "
        f"{what.case.shop.temperature_K - 273.15:.0f} °C, {plan.crew.people} at the bench",
        ready.fit.word.upper(),
        *(words for words in what.reasons if words not in {row for _, row in ready_rows(ready)}),
    ]
    if day is not None:
        lines.append(
            f"Press by {day.press_by_s / 60:.0f} min after the first weighing (likely {day.press_by_mid_s / 60:.0f}); "
            f"closed after {day.closed_s / 60:.0f} min."
        )
    if chances is not None and ready.fit.works:
        lines.append(f"Chance of closing in time, by time alone: {chances.words}" + _where_lost(chances))
    lines += [f"{_helps(change)}: {change.words}" for change in changes]
    lines += [
        "",
        *ready_lines(ready, width=width),
        "",
        *(budget_lines(what.settled.budget, what.settled.split.left_over_g) if plan.lays else ()),
    ]
    for words in filter(None, (pressed_out_words(pressing(plan)),)):
        lines += hanging("! ", words, width)
    if what.settled.split.batches:
        lines += ["", *batch_lines(what.settled)]
    if day is not None:
        lines += ["", *gantt(day, width=width - 2)]
    cuts = cut_list(plan)
    if cuts:
        lines += ["", *cut_lines(cuts)]
    for pouring in pours:
        lines += ["", *pouring_lines(pouring, width=width)]
    if not plan.lays:
        return lines
    lines += ["", *window_picture(what.window, width=width - 4), "", "BEFORE YOU MIX"]
    for words in cautions(what.case.datasheet):
        lines += hanging("- ", words, width)
    return lines


def cut_lines(cuts: tuple[Cut, ...]) -> list[str]:
    """Return what to cut from the roll, one line a step."""
    lines = ["cut list                          pieces     long      wide    roll  unused"]
    for cut in cuts:
        roll = "too narrow" if cut.across == 0 else "" if cut.roll_m is None else f"{cut.roll_m:.2f} m"
        unused = "" if cut.waste is None else f"{100 * cut.waste:.0f} %"
        size = f"{1000 * cut.length_m:>6.0f} mm {1000 * cut.width_m:>6.0f} mm"
        lines.append(f"{cut.step + 1:>2} {cut.name[:30]:<30} {cut.count:>5} {size} {roll:>7} {unused:>7}")
    for cut in cuts:
        if cut.beside and cut.step < min(cut.beside):
            others = ", ".join(str(step + 1) for step in cut.beside)
            lines.append(f"{cut.step + 1} side by side with {others}: 'roll' and 'unused' are the share of each")
    if any(cut.waste is not None for cut in cuts):
        lines.append("unused: share of that length of roll that does not end on this part; what stays wide can be used")
    return lines


def _helps(change: Remedy) -> str:
    if not change.fits:
        return "What would help"
    return "What makes it fit" if change.verdict == "fits" else "What makes it fit, but tight"


def _where_lost(chances: Odds) -> str:
    worst = chances.lost[0] if chances.lost else None
    return f"; most often lost by batch {worst.batch} {_WHERE[worst.where]}" if worst and chances.chance < 0.99 else ""


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


_WHERE = {"cup": "in its cup", "part": "on the part"}


def budget_lines(budget: Budget, left_over_g: float) -> list[str]:
    """Return the grams, one line a step; mix that no step needs, left over in the cups, has a line of its own."""
    lines = [f"{'':>2} {'step':<30} {'fibre':>8} {'mix':>8} {'low-high':>12}"]
    for number, line in enumerate(budget.lines, 1):
        fibre = f"{line.glass_g:.0f} g" if line.glass_g else ""
        mix = f"{line.mix_g:.0f} g" if line.mix_g else ""
        spread = f"{line.low_g:.0f}-{line.high_g:.0f}" if line.mix_g else ""
        lines.append(f"{number:>2} {line.name[:30]:<30} {fibre:>8} {mix:>8} {spread:>12}".rstrip())
    lines.append(f"{'':>2} {'cups, brushes and rollers':<30} {'':>8} {budget.losses_g - left_over_g:>6.0f} g")
    if left_over_g >= LEAST_LEFT_OVER_g:
        lines.append(f"{'':>2} {'left over in the cups':<30} {'':>8} {left_over_g:>6.0f} g")
    lines.append(f"{'':>2} {'ALL':<30} {'':>8} {budget.mix_g:>6.0f} g {f'{budget.low_g:.0f}-{budget.high_g:.0f}':>12}")
    lines.append(
        f"resin {budget.resin_g:.0f} g + hardener {budget.hardener_g:.0f} g; have ready {budget.buy_resin_g:.0f} g + "
        f"{budget.buy_hardener_g:.0f} g ({100 * budget.margin:.0f} % more)"
    )
    if budget.cost.total is not None:
        without = f", without {', '.join(budget.cost.unpriced)}" if budget.cost.unpriced else ""
        lines.append(f"cost {budget.cost.total:.2f} in the prices of your files{without}")
    for casting in budget.castings:
        lines.append(f"{casting.name}: {casting.mix_g:.0f} g of {casting.resin_id} in {_count(casting.pours, 'pour')}")
    lines.append(
        f"plies {budget.thickness_m * 1000:.2f} mm and {budget.mass_g:.0f} g of fibre and resin stay on the part"
        + (f"; fibre {100 * budget.fibre_mass_fraction:.0f} % by weight" if budget.fibre_mass_fraction else "")
        + (f", {100 * budget.fibre_volume_fraction:.0f} % by volume" if budget.fibre_volume_fraction else "")
    )
    return lines
