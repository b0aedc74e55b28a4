"""A plan as lines of text: grams, batches, the day as a picture, the window, the odds and what would help.

Whether to begin, and the castings' pours, as `layup plan` answers them.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from dataclasses import asdict
from datetime import timedelta

from layup.bench.planner import hanging
from layup.chemistry.cure import HEATING_CAUTIONS
from layup.commands.command import band_min, facts, forecast_words, quantity, temperature_K
from layup.commands.cure import heating_data
from layup.files.attachments import wanted_day
from layup.planning.batches import Odds
from layup.planning.budget import Budget
from layup.planning.castings import Pouring, as_poured, casting_troubles, casting_window_K, join_words, planed_words
from layup.planning.cuts import Cut, cut_list
from layup.planning.fit import squeezed_out, squeezed_words, why
from layup.planning.mix_sheet import cautions
from layup.planning.night import OUT_BY_S, Night, NightOutlook
from layup.planning.plan import PlaceStep
from layup.planning.planner import PlanResult, cast_sheets, cold_limits
from layup.planning.pressing import pressed_out_words, pressing
from layup.planning.readiness import Readiness, ready_rows, summary
from layup.planning.remedies import Remedy
from layup.planning.schedule import LEAST_LEFT_OVER_g
from layup.planning.warming import USUAL_HOURS_s, critical, warm_up_s
from layup.report.bars import table_lines
from layup.report.day_axis import Days, calendar_lines, days_of_plan
from layup.report.pictures import batch_lines, day_strips, window_picture, window_words
from layup.review.carried import NextTime
from layup.units import cloth_length, countdown, in_minutes, length, mass, parse, temperature

NIGHT_C = (-40.0, 60.0)


OUTLOOK_WORDS = """
--night TEMPERATURE  coldest shop tonight: "6 degC" (default: as now)
--out-by TIME  when, after closing, the part has to leave the mould (default: 48 h)
--moisture SHARE  of the wood, water over dry mass: "9 %%" (default: not known)
"""
"""What is known of the night and the wood."""


def outlook_of(args: argparse.Namespace, assumed: list[str]) -> NightOutlook:
    """Return what the words say of the night and the wood."""
    night = "tonight's temperature"
    return NightOutlook(
        night_K=None if args.night is None else temperature_K(args.night, assumed, where=night, within_C=NIGHT_C),
        out_by_s=OUT_BY_S if args.out_by is None else quantity(args.out_by, "time", assumed, where="time to demould"),
        wood_moisture=None if args.moisture is None else parse(args.moisture, "fraction", where="moisture of the wood"),
    )


def each_hanging(head: str, sentences: Iterable[str], width: int) -> list[str]:
    """Return sentences in lines, each with its head."""
    return [line for words in sentences for line in hanging(head, words, width)]


def ready_data(ready: Readiness) -> dict[str, object]:
    heating = ready.heating
    return {
        "answer": ready.answer,
        "reasons": [asdict(reason) for reason in ready.reasons],
        "unknown": ready.unknown,
        "night": _night(ready.night),
        "heating": None
        if heating is None
        else {
            "shop_K": heating.shop_K,
            "moulds": [heating_data(plan) for plan in heating.moulds],
            "night": _night(heating.night),
        },
    }


def _night(night: Night) -> dict[str, object]:
    return {**band_min("demould_min", night.ready.out_s), **facts(night, "out_by_s verdict stalls_s")}


def ready_lines(ready: Readiness, *, width: int) -> list[str]:
    """Return the answer whether to begin, with its reasons and the heat that passes, worst first."""
    lines = hanging("", f"BEGIN: {ready.answer.upper()}   {summary(ready)}", width)
    for head, words in ready_rows(ready):
        lines += hanging(f"  {head:<6}", words, width)
    cautions = HEATING_CAUTIONS[:3] if ready.heating is not None else ()
    return [*lines, *each_hanging("  -     ", cautions, width)]


def pours_data(pouring: Pouring) -> list[dict[str, object]]:
    """Return the pours of one casting, their times from its first weighing."""
    return [
        {
            "pour": pour.number,
            "mass_g": pour.mass_g,
            "resin_g": pour.parts_g[0],
            "hardener_g": pour.parts_g[1],
            "pigments": [{"name": name, "mass_g": mass_g} for name, mass_g in pour.pigments_g],
            **facts(pour, "weigh_s mix_s pour_s poured_s due_s"),
            "joins_from_min": None if pour.number == 1 else pour.opens_s / 60.0,
            "joins_until_min": None if pour.number == 1 else pour.closes_s / 60.0,
        }
        for pour in pouring.pours
    ]


def pouring_data(pouring: Pouring) -> dict[str, object]:
    """Return the pours of one casting, to stand in the budget's entry of it."""
    join = pouring.join
    return {
        **facts(pouring, "fits trouble helps"),
        "poured_g": pouring.mass_g,
        **facts(pouring, "starts_s"),
        "pours": pours_data(pouring),
        "join": None
        if join is None
        else {"from_min": join.begin_s / 60.0, "until_min": join.end_s / 60.0, "stated": join.stated},
        **band_min("planed_min", pouring.planable.out_s),
        "isocyanate_index": pouring.index,
        **facts(pouring, "warnings cautions"),
    }


def casting_data(result: PlanResult, pours: tuple[Pouring, ...]) -> dict[str, object]:
    """Return what a plan of castings has for itself: all its pours in order, and what it works between."""
    low_K, high_K = casting_window_K(result)
    cold = cold_limits(result)
    return {
        "pours": [
            {"name": each.name, "starts_min": (each.starts_s or 0.0) / 60.0, **pour}
            for each in pours
            for pour in pours_data(each)
        ],
        "minimum_temperature_K": max((limit.temperature_K for limit in cold), default=None),
        "works_from_K": low_K,
        "works_to_K": high_K,
        **facts(result.plan.casting, "core_K core_moisture"),
        "ready_min": sum(step.bench_s for step in result.plan.steps if isinstance(step, PlaceStep)) / 60.0,
        **facts(result.plan.casting, "seal_wait_s"),
    }


def casting_lines(result: PlanResult, pours: tuple[Pouring, ...], *, width: int) -> list[str]:
    """Return what a casting day asks for before its first pour: warmth, dry wood, and the cautions, each once."""
    low_K, high_K = casting_window_K(result)
    core = result.plan.casting
    warm = max((limit.temperature_K for limit in cold_limits(result)), default=None)
    said = [] if warm is None else [f"least {temperature(warm)}"]
    if low_K is not None and high_K is not None:
        said.append(f"pours in time from {temperature(low_K)} to {temperature(high_K)} (estimate)")
    core_K = max(core.core_K or 0.0, warm or 0.0)
    wait = "" if core.seal_wait_s is None else f", sealer dry after {in_minutes(core.seal_wait_s)}"
    lines = hanging("WARMTH  ", ", ".join(said), width) if said else []
    lines += hanging("CORE    ", f"{temperature(core_K)}, {100 * core.core_moisture:.0f} % water or less{wait}", width)
    lines += each_hanging("! ", dict.fromkeys(words for each in pours for words in each.warnings), width)
    return [*lines, *each_hanging("- ", dict.fromkeys(words for each in pours for words in each.cautions), width)]


def pouring_lines(pouring: Pouring, *, width: int, warned: bool = True) -> list[str]:
    """Return the pours of one casting as a table, with what to mind."""
    when = ", before press day" if pouring.starts_s is None else ""
    when = f", {in_minutes(pouring.starts_s)} into the day" if pouring.starts_s else when
    index = "" if pouring.index is None else f", isocyanate index {pouring.index:.2f}"
    lines = hanging("", f"{pouring.name}: {pouring.resin_id}{index}{when}; {planed_words(pouring)}", width)
    if pouring.pours:
        starts_s = pouring.starts_s or 0.0
        lines += table_lines(
            ("pour", "mix", "resin", "hardener", "weigh", "mix at", "pour", "empty by", "pigment"),
            [
                (
                    str(pour.number),
                    *map(mass, (pour.mass_g, *pour.parts_g)),
                    *(countdown(starts_s + at_s) for at_s in (pour.weigh_s, pour.mix_s, pour.pour_s, pour.due_s)),
                    " + ".join(f"{mass(mass_g, '.1f')} {name}" for name, mass_g in pour.pigments_g),
                )
                for pour in pouring.pours
            ],
            left="rrrrrrrrl",
            width=width,
        )
    places = "; ".join(f"pour {pour.number} into {pour.place}" for pour in pouring.pours if pour.place)
    said = filter(None, (f"{places[:1].upper()}{places[1:]}." if places else "", join_words(pouring)))
    lines += [*each_hanging("", said, width), *each_hanging("> ", pouring.helps, width)]
    if warned:
        lines += [*each_hanging("! ", pouring.warnings, width), *each_hanging("- ", pouring.cautions, width)]
    return lines


# -- the days before ------------------------------------------------------------------------------------------------


DAYS_WORDS = f"""
--wanted DATE  when it is to be out of the mould: "2026-12-05 18:00" (default: none)
{forecast_words()}
--stored TEMPERATURE  of cans, core and mould before: "3 degC" (default: as the shop)
"""
"""The day on which the part is wanted."""


def days_of(
    args: argparse.Namespace, result: PlanResult, pours: tuple[Pouring, ...], ready: Readiness, assumed: list[str]
) -> Days | None:
    """Return the days before a part that is wanted on a day, by the words or the plan; None where neither names one."""
    text = result.plan.wanted if args.wanted is None else args.wanted
    if not text and args.wanted is None:
        return None
    wanted = wanted_day(text, where="--wanted")
    opens_s, shuts_s = USUAL_HOURS_s
    assumed.append(f"hands work from {opens_s / 3600:.0f} to {shuts_s / 3600:.0f} o'clock; waits take their late edge")
    return days_of_plan(wanted, result, pours, ready.night, warm_up_s=_warm_up_s(args, result, assumed))


def _warm_up_s(args: argparse.Namespace, result: PlanResult, assumed: list[str]) -> float:
    """Return how long cans, core and mould need from where they are stored."""
    if args.stored is None:
        return 0.0
    return warm_up_s(result, temperature_K(args.stored, assumed, where="--stored", within_C=NIGHT_C))


def days_lines(days: Days | None, *, width: int) -> list[str]:
    """Return the days before as lines, after an empty one; none where the part is wanted on no day."""
    if days is None:
        return []
    lines = ["", *calendar_lines(days.placed, days.midnight, width=width)]
    return lines if days.stated else [*lines, "Glue-ups and other work before: [[before]] in the plan's file."]


def days_data(days: Days | None) -> dict[str, object] | None:
    if days is None:
        return None
    return {
        "start": _iso(days, days.placed[0].latest_s) if days.placed else None,
        "critical": [each.task.name for each in critical(days.placed)],
        "tasks": [
            {
                **facts(each.task, "name takes_s after hands"),
                "latest_start": _iso(days, each.latest_s),
                **facts(each, "slack_s"),
            }
            for each in days.placed
        ],
    }


def _iso(days: Days, at_s: float) -> str:
    return (days.midnight + timedelta(seconds=at_s)).isoformat(timespec="minutes")


# -- plan text -------------------------------------------------------------------------------------------------------


def plan_lines(
    result: PlanResult,
    chances: Odds | None,
    changes: tuple[Remedy, ...],
    ready: Readiness,
    pours: tuple[Pouring, ...],
    *,
    notes: tuple[NextTime, ...],
    width: int,
) -> list[str]:
    """Return the whole plan, the verdict first."""
    plan, day, source = result.plan, result.timeline, f"from {result.plan.crew.minutes_from}"
    sheets = (() if plan.lays else cast_sheets(result)) or (result.datasheet,)
    lines = [
        f"{plan.title}: {_count(plan.pieces, 'piece')}, {' and '.join(sheet.title for sheet in sheets)}, "
        f"{temperature(result.shop.temperature_K)}, {plan.crew.people} at the bench",
        " · ".join((ready.fit.word.upper(), *filter(None, (", ".join(ready.fit.beside),)), source)),
        *casting_troubles(plan, pours),
        *(words for words in why(result) if words not in {row for _, row in ready_rows(ready)}),
    ]
    if day is not None:
        lines.append(
            f"Press by {in_minutes(day.press_by_s.low)} after the first weighing "
            f"(likely {day.press_by_s.likely / 60:.0f}); "
            f"closed after {in_minutes(day.closed_s)}."
        )
    if chances is not None and ready.fit.works:
        lines.append(f"Chance of closing in time, by time alone: {chances.words}" + _where_lost(chances))
    lines += [f"{_helps(change)}: {change.told}" for change in changes]
    lines += each_hanging("FROM LAST TIME  ", (note.words for note in notes), width)
    lines += casting_lines(result, pours, width=width) if pours and not plan.lays else []
    lines += [
        "",
        *ready_lines(ready, width=width),
        "",
        *(budget_lines(as_poured(result), result.split.left_over_g, width=width) if plan.lays else ()),
    ]
    squeezed = squeezed_out(result)
    if squeezed is not None:
        lines += hanging("" if squeezed.as_planned and not squeezed.rich else "! ", squeezed_words(squeezed), width)
    elif words := pressed_out_words(pressing(plan)):
        lines += hanging("! ", words, width)
    if result.split.batches:
        lines += ["", *batch_lines(result.split)]
    if day is not None:
        lines += ["", *day_strips(day, result.split, width=width - 2)]
    cuts = cut_list(plan)
    if cuts:
        lines += ["", *cut_lines(cuts, width=width)]
    for pouring in pours:
        lines += ["", *pouring_lines(pouring, width=width, warned=plan.lays)]
    if not plan.lays:
        return lines
    lines += ["", window_words(result.window), *window_picture(result.window, width=width - 4)]
    return [*lines, "", "BEFORE YOU MIX", *each_hanging("- ", cautions(result.datasheet), width)]


def cut_lines(cuts: tuple[Cut, ...], *, width: int) -> list[str]:
    """Return what to cut from the roll, one line a step."""
    rows = []
    for cut in cuts:
        roll = "too narrow" if cut.across == 0 else "" if cut.roll_m is None else cloth_length(cut.roll_m, ".2f")
        unused = "" if cut.waste is None else f"{100 * cut.waste:.0f} %"
        size = length(cut.length_m), length(cut.width_m)
        rows.append((str(cut.step + 1), cut.name, str(cut.count), *size, roll, unused))
    lines = table_lines(("", "cut list", "pieces", "long", "wide", "roll", "unused"), rows, left="rl", width=width)
    for cut in cuts:
        if cut.beside and cut.step < min(cut.beside):
            others = ", ".join(str(step + 1) for step in cut.beside)
            lines.append(f"{cut.step + 1} side by side with {others}: 'roll' and 'unused' are the share of each")
    if any(cut.waste is not None for cut in cuts):
        lines.append("unused: share of that length of roll that does not end on this part; what stays wide can be used")
    return lines


def _helps(change: Remedy) -> str:
    if not change.fits:
        return "Would help, not enough alone"
    return "What makes it fit" if change.verdict == "fits" else "What makes it fit, but tight"


def _where_lost(chances: Odds) -> str:
    worst = chances.lost[0] if chances.lost else None
    return f"; most often lost by batch {worst.batch} {_WHERE[worst.where]}" if worst and chances.chance < 0.99 else ""


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _spread(low_g: float, high_g: float) -> str:
    return f"{mass.digits(low_g)}-{mass.digits(high_g)}"


_WHERE = {"cup": "in its cup", "part": "on the part"}


def budget_lines(budget: Budget, left_over_g: float, *, width: int) -> list[str]:
    """Return the grams, one line a step; mix that no step needs, left over in the cups, has a line of its own."""
    rows = []
    for number, line in enumerate(budget.lines, 1):
        fibre = mass(line.glass_g) if line.glass_g else ""
        mix = (mass(line.mix_g), _spread(line.low_g, line.high_g)) if line.mix_g else ("", "")
        rows.append((str(number), line.name, fibre, *mix))
    rows.append(("", "cups, brushes and rollers", "", mass(budget.losses_g - left_over_g), ""))
    if left_over_g >= LEAST_LEFT_OVER_g:
        rows.append(("", "left over in the cups", "", mass(left_over_g), ""))
    rows.append(("", "ALL", "", mass(budget.mix_g), _spread(budget.low_g, budget.high_g)))
    lines = table_lines(("", "step", "fibre", "mix", "low-high"), rows, left="rl", width=width)
    lines.append(
        f"resin {mass(budget.resin_g)} + hardener {mass(budget.hardener_g)}; have ready {mass(budget.buy_resin_g)} + "
        f"{mass(budget.buy_hardener_g)} ({100 * budget.margin:.0f} % more)"
    )
    if budget.cost.total is not None:
        without = f", without {', '.join(budget.cost.unpriced)}" if budget.cost.unpriced else ""
        lines.append(f"cost {budget.cost.total:.2f} in the prices of your files{without}")
    for casting in budget.castings:
        lines.append(f"{casting.name}: {mass(casting.mix_g)} of {casting.resin_id} in {_count(casting.pours, 'pour')}")
    lines.append(
        f"plies {length(budget.thickness_m, '.2f')} and {mass(budget.mass_g)} of fibre and resin stay on the part"
        + (f"; fibre {100 * budget.fibre_mass_fraction:.0f} % by weight" if budget.fibre_mass_fraction else "")
        + (f", {100 * budget.fibre_volume_fraction:.0f} % by volume" if budget.fibre_volume_fraction else "")
    )
    return lines
