"""Plan a part: grams by step, batches, the day, the temperature window, the odds, and what would make it fit."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import asdict, replace
from math import isfinite

from layup.bench.planner import VERDICT_SHAPES, Planner, shop_stated_K
from layup.chemistry.blending import with_blends
from layup.commands.close import pressed_out_data
from layup.commands.command import (
    PLAN_HELP,
    answer,
    band_min,
    counted,
    facts,
    forecast_of,
    on_stack,
    quantity,
    takes,
    temperature_K,
    whole_number,
)
from layup.commands.plan_text import (
    DAYS_WORDS,
    OUTLOOK_WORDS,
    casting_data,
    days_data,
    days_lines,
    days_of,
    outlook_of,
    plan_lines,
    pouring_data,
    ready_data,
)
from layup.commands.potlife import until_data
from layup.planning.batches import Odds
from layup.planning.budget import NO_SQUEEZE_OUT, Budget
from layup.planning.castings import Pouring, as_poured, pourings
from layup.planning.checklist import stock_rows, with_stock
from layup.planning.choosing import Hour, best_hour, hours_of
from layup.planning.crew import MOST_PEOPLE
from layup.planning.cuts import cut_list
from layup.planning.fit import LOW_EDGE, Flowing, assumptions_of, flowing, squeezed_out, why
from layup.planning.mix_sheet import cautions
from layup.planning.planner import PlanResult, Settings, Window
from layup.planning.pressing import pressing
from layup.planning.readiness import Readiness, readiness
from layup.planning.remedies import Remedy
from layup.planning.schedule import Split
from layup.report.bars import table_lines
from layup.review.carried import note_data
from layup.session.clock import SystemClock
from layup.units import day_clock as clock
from layup.units import in_hours, minutes, parse, temperature

SHOP_C = (-10.0, 60.0)
"""The shops that can be planned in."""
FIRST_S, LAST_S = 6 * 3600.0, 20 * 3600.0
"""The hours at which a day may begin."""
BESIDE = 42
"""Columns that the hours take beside their reason."""
EXAMPLE = 'layup plan touring-skis --temp "20 degC" --people 2'


SHOP_WORDS = f"""
PLAN  {PLAN_HELP}
--temp TEMPERATURE  of the shop, cans and part: "20 degC" (default: as on Stack, else the plan's, else 20 degC)
--humidity RH  relative humidity of the air: "60 %%" (default: not known)
--people N  how many work at the bench (default: as on Stack, else the plan's)
--cup MASS  the most mix that a cup may hold: "400 g" (default: as on Stack, else the plan's)
{OUTLOOK_WORDS}
--no-lessons
--no-dials
--workshop DIR
"""
"""Which plan, and all of the shop but the resin."""
PLAN_WORDS = f"""{SHOP_WORDS}
--resin RESIN  plan with this one, by its name or its file (default: as on Stack, else the plan's)
--casting  its casting day, and not its press day
{DAYS_WORDS}
"""
"""Which plan, in which shop, for which day."""


add_arguments = takes(f"{PLAN_WORDS}--json")


def run(args: argparse.Namespace) -> int:
    """Answer with the plan; 1 where it does not fit."""
    assumed: list[str] = []
    planner, result = planned(args, assumed)
    chances = result.odds
    outlook = outlook_of(args, assumed)
    stock, planner.beginning.outlook = planner.beginning.stock, outlook
    ready = with_stock(readiness(result, outlook, chance=result.chance), stock, result)
    changes = () if ready.fit.word == "fits" else planner.remedies(result)
    pours = pourings(result, result.timeline, wood_moisture=outlook.wood_moisture)
    notes = planner.notes_of(result)
    days = days_of(args, result, pours, ready, assumed)
    hours = _hours(planner, result)
    data = _data(result, chances, changes, ready, pours)
    data |= {"stock": [asdict(row) for row in stock_rows(stock, result)]}
    data |= {"next_time": [note_data(note) for note in notes], "calendar": days_data(days), "today": hours_data(hours)}

    def text(width: int) -> Iterator[str]:
        width = min(width, 100)
        head, *lines = plan_lines(result, chances, changes, ready, pours, notes=notes, width=width)
        yield from (head, *filter(None, [planner.as_set]), *lines)
        yield from (*hours_lines(hours, width=width), *days_lines(days, width=width))

    said = [*assumed, *assumptions_of(result), *(chances.assumptions if chances else ()), *ready.assumptions]
    minutes_from = f"minutes from {result.plan.crew.minutes_from}"
    if not any(words.startswith(minutes_from) for words in said):
        said.append(minutes_from)
    telling = {*assumed, LOW_EDGE, NO_SQUEEZE_OUT, *result.taught, minutes_from}
    return answer(args.json, data, text, assumptions=said, telling=telling, code=0 if ready.fit.works else 1)


def _hours(planner: Planner, result: PlanResult) -> tuple[Hour, ...]:
    """Return the day by its hours, where the shop's course is known."""
    settings, course = result.settings, result.plan.forecast
    if not course or settings is None:
        return ()
    with counted("hours of the day", every=1) as progress:
        return hours_of(
            lambda kelvin: planner.work_out(replace(settings, temperature_K=kelvin)),
            course,
            from_s=FIRST_S,
            to_s=LAST_S,
            progress=lambda done, of: progress("", done, of),
        )


def hours_data(hours: tuple[Hour, ...]) -> dict[str, object]:
    best = best_hour(hours)
    return {
        "hours": [
            {
                "begin": clock(hour.begin_s),
                **facts(hour, "low_K high_K verdict slack_s"),
                "demould_min": hour.out_s / 60.0,
                "reason": hour.why,
            }
            for hour in hours
        ],
        "best_begin": clock(best.begin_s) if best else None,
    }


def hours_lines(hours: tuple[Hour, ...], *, width: int) -> list[str]:
    """Return a day by its hours: the best first, then each with its temperatures, its spare time and the way out."""
    if not hours:
        return []
    best, late = best_hour(hours), [hour for hour in hours if hour.too_cold]
    lines = ["", f"TODAY BY HOUR  {f'begin at {clock(best.begin_s)}' if best else 'it fits at none'}"]
    warm = [hour for hour in hours if not hour.too_cold]
    if warm and late and late[-1].begin_s > warm[-1].begin_s:
        lines[-1] += f", too cold from {clock(next(each.begin_s for each in late if each.begin_s > warm[-1].begin_s))}"
    rows = []
    for hour in hours:
        spare = "" if hour.slack_s is None or hour.verdict == "does not fit" else minutes(hour.slack_s)
        out = f"+{in_hours(hour.out_s)}" if isfinite(hour.out_s) else "" if hour.why else "> 4 d"
        mark = "▶" if hour is best else " "
        low, high = temperature.digits(hour.low_K), temperature(hour.high_K)
        shop = high if high.startswith(f"{low} ") else f"{low} to {high}"
        why = hour.why if len(hour.why) <= width - BESIDE else f"{hour.why[: width - BESIDE - 1].rstrip()}…"
        rows.append((f"{mark} {clock(hour.begin_s)} {VERDICT_SHAPES[hour.verdict]}", shop, spare, out, why))
    heads = ("", "shop", "spare", "out", "")
    return [*lines, *table_lines(heads, rows, left="lrrrl", width=width)]


def planned(args: argparse.Namespace, assumed: list[str]) -> tuple[Planner, PlanResult]:
    """Return the desk with the plan on it, and what the plan comes to in the shop of the words."""
    planner = Planner(args.workshop, plan=args.plan, casting=args.casting, forecast=forecast_of(args))
    planner.today = SystemClock().utc().astimezone().date()
    planner.cast_resin = args.resin or ""
    settings = settings_of(args, planner, assumed)
    planner.take_notes()
    return planner, planner.work_out(settings)


def settings_of(args: argparse.Namespace, planner: Planner, assumed: list[str]) -> Settings:
    """Read the plan, and what sessions taught; return its settings as on Stack, with those of the words over them."""
    return on_stack(args, planner, assumed, lambda settings: _with_words(args, planner, settings, assumed))


def _with_words(args: argparse.Namespace, planner: Planner, settings: Settings, assumed: list[str]) -> Settings:
    """Return settings with those of the words over them."""
    if args.temp is None:
        shop_K, cans_K = settings.temperature_K, settings.cans_K
        stated = planner.plan is not None and shop_stated_K(planner.plan) == shop_K
        why = "as the plan states" if stated else "since no --temp was given"
        cans = "the shop, the cans and the part are" if cans_K is None else "the shop and the part are"
        also = "" if cans_K is None else f" and the cans at {temperature(cans_K)}"
        assumed.append(f"{cans} at {temperature(shop_K)}{also}, {why}")
    else:
        shop_K = temperature_K(args.temp, assumed, where="shop temperature", within_C=SHOP_C)
        settings = replace(settings, temperature_K=shop_K, cans_K=None)
    if args.humidity is not None:
        settings = replace(settings, relative_humidity=parse(args.humidity, "fraction", where="humidity"))
    if args.people is not None:
        settings = replace(settings, people=whole_number(args.people, where="people", high=MOST_PEOPLE))
    if args.cup is not None:
        settings = replace(settings, cup_g=quantity(args.cup, "mass", assumed, where="cup"))
    resin: str | None = getattr(args, "resin", None)  # `layup choose` asks for none
    if resin is None:
        return settings
    sheet = with_blends(planner.resins).get(resin) or planner.workshop.resin(resin)
    planner.resins[sheet.id] = sheet  # it may come from a file outside the workshop
    return replace(settings, resin_id=sheet.id)


def _data(
    result: PlanResult, chances: Odds | None, changes: tuple[Remedy, ...], ready: Readiness, pours: tuple[Pouring, ...]
) -> dict[str, object]:
    day, split, flow = result.timeline, result.split, flowing(result)
    squeezes = min((each.squeezes_until for each in flow if each.squeezes_until), default=None)
    return {
        "title": result.plan.title,
        "resin": result.datasheet.id,
        **facts(result.shop, "temperature_K cans_K relative_humidity"),
        "people": result.plan.crew.people,
        "verdict": ready.fit.word,
        "fits": ready.fit.works,
        "reasons": [*dict.fromkeys((*ready.fit.against, *ready.fit.tight, *why(result)))],
        "readiness": ready_data(ready),
        "budget": _budget(as_poured(result, pours), split.left_over_g, pours),
        "pressed_out": pressed_out_data(pressing(result.plan)),
        "squeezed_out": _squeezed(result),
        "cut_list": [
            {**asdict(cut), "step": cut.step + 1, "beside": [step + 1 for step in cut.beside]}
            for cut in cut_list(result.plan)
        ],
        "batches": _batches(split, flow),
        "closed_min": day.closed_s / 60 if day else None,
        "press_by_min": day.press_by_s.low / 60 if day else None,
        "low": day.press_by_s.low / 60 if day else None,
        "likely": day.press_by_s.likely / 60 if day else None,
        "high": day.press_by_s.high / 60 if day else None,
        **until_data("squeezes_out_until", squeezes),
        **facts(split, "slack_s"),
        "window": _window(result.window),
        **({} if result.plan.lays else casting_data(result, pours)),
        "cautions": cautions(result.datasheet),
        "chance": chances.chance if chances and ready.fit.works else None,
        "lost": [asdict(lost) for lost in chances.lost] if chances else [],
        "changes": [facts(change, "kind words verdict fits slack_s") for change in changes],
    }


def _squeezed(result: PlanResult) -> dict[str, object] | None:
    """Return what leaves under the press by the time the mix no longer flows; None where that is not known."""
    found = squeezed_out(result)
    if found is None:
        return None
    return {
        "planned_g": found.planned_g,
        "low": found.out_g.low,
        "likely": found.out_g.likely,
        "high": found.out_g.high,
        "share": found.share.likely,
        "fibre_volume_fraction": found.fraction.likely,
        "fibre_volume_fraction_low": found.fraction.low,
        "fibre_volume_fraction_high": found.fraction.high,
        "laminate_m": found.laminate_m.likely,
        "laminate_low_m": found.laminate_m.low,
        "laminate_high_m": found.laminate_m.high,
        "resin_rich": found.rich,
    }


def _batches(split: Split, flow: tuple[Flowing, ...]) -> list[dict[str, object]]:
    """Return the batches with their times and margins."""
    flows = {each.number: each for each in flow}
    return [
        {
            "batch": batch.number,
            "mass_g": batch.mass_g,
            "resin_g": batch.parts_g[0],
            "hardener_g": batch.parts_g[1],
            "steps": [_counted(asdict(share)) for share in batch.shares],
            **facts(batch, "weigh_s contact_s lay_s emptied_s done_s"),
            **band_min("pot_life_min", batch.cup.life_s),
            "heat_class": batch.cup.heat_class,
            **facts(batch, "cup_margin_s part_margin_s"),
            **until_data("wets_out_until", flows[batch.number].wets_until if flow else None),
            **until_data("squeezes_out_until", flows[batch.number].squeezes_until if flow else None),
        }
        for batch in split.batches
    ]


def _counted(facts: dict[str, object]) -> dict[str, object]:
    """Return facts about a step with the steps counted from 1, as the budget and people do."""
    step = facts["step"]
    assert isinstance(step, int)
    return {**facts, "step": step + 1}


def _window(window: Window) -> dict[str, object]:
    return {
        **facts(window, "low_K high_K today_K"),
        "cold_limits": [asdict(limit) for limit in window.cold_limits],
        "samples": [facts(sample, "temperature_K slack_s batches works") for sample in window.samples],
    }


def _budget(budget: Budget, left_over_g: float, pours: tuple[Pouring, ...]) -> dict[str, object]:
    """Return the budget; its steps, the losses among them, sum to its total."""
    poured = {pouring.step: pouring_data(pouring) for pouring in pours}
    whole_g = budget.mix_g or 1.0
    steps = [{**_counted(asdict(line)), **_parts(line.mix_g / whole_g, budget)} for line in budget.lines]
    losses = {"step": None, "name": "cups, brushes and rollers", "kind": "losses", "mix_g": budget.losses_g}
    steps.append({**losses, **_parts(budget.losses_g / whole_g, budget)})
    return {
        "steps": steps,
        "mix_g": budget.mix_g,
        "total_g": budget.mix_g,
        "low": budget.low_g,
        "high": budget.high_g,
        **facts(budget, "resin_g hardener_g losses_g"),
        "left_over_g": left_over_g,
        **facts(budget, "buy_resin_g buy_hardener_g"),
        "glass_g": sum(line.glass_g for line in budget.lines),
        **facts(budget, "thickness_m mass_g fibre_mass_fraction fibre_volume_fraction"),
        "castings": [
            {**_counted(asdict(casting)), "pours_planned": casting.pours, **poured.get(casting.step, {"pours": []})}
            for casting in budget.castings
        ],
        "cost": asdict(budget.cost),
    }


def _parts(share: float, budget: Budget) -> dict[str, float]:
    return {"resin_g": share * budget.resin_g, "hardener_g": share * budget.hardener_g}
