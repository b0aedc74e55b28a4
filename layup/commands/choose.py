"""Choose a resin: a plan with each of the workshop's, by shop temperature and people: fits, tight or not, the odds."""

from __future__ import annotations

import argparse
from functools import cache
from math import nan

from layup.bench.planner import Planner
from layup.chemistry.blending import with_blends
from layup.chemistry.uncertainty import Band
from layup.commands.command import answer, band_min, counted, facts, takes
from layup.commands.plan import SHOP_WORDS, settings_of
from layup.commands.plan_text import outlook_of
from layup.errors import InputError
from layup.planning.choosing import Choice, resin_table
from layup.planning.fit import LOW_EDGE
from layup.report.advice import choice_lines, past_day_lines, past_sentence, sentence
from layup.review.review import review
from layup.review.worked_day import ResinOnDay, ResinsOnDay, each_resin
from layup.session.archive import stored_session
from layup.units import in_hours

EXAMPLE = 'layup choose touring-skis --temp "18 degC" --people 2'


add_arguments = takes(f"--as SESSION  on a past day, as it was logged (default: by temperature)\n{SHOP_WORDS}--json")


def run(args: argparse.Namespace) -> int:
    """Answer with the resins by temperature and people; 1 where none fits tonight."""
    assumed: list[str] = []
    planner = Planner(args.workshop, plan=args.plan)
    settings, outlook = settings_of(args, planner, assumed), outlook_of(args, assumed)
    assert planner.plan is not None
    if (past := vars(args)["as"]) is not None:
        return _on_a_past_day(args, planner, past)
    with counted("judging resins", every=1) as told:
        table = resin_table(
            planner.asked,
            planner.plan,
            with_blends(planner.resins),
            settings,
            outlook,
            lambda done, of: told("", done, of),
            cache(planner.workshop.odd_words),
        )
    best = next(iter(table.tonight), None)
    data = {
        "temperature_K": table.tonight_K,
        "people": table.people,
        "resin": best.result.datasheet.id if best is not None and best.fit.works else None,
        "words": sentence(table),
        "rows": [_row(row) for row in table.rows],
        "left_out": list(table.left_out),
    }

    said = [*assumed, LOW_EDGE, f"the part is wanted {in_hours(outlook.out_by_s)} after closing"]
    said += [words for row in table.tonight for words in row.result.taught]
    return answer(
        args.json,
        data,
        lambda width: choice_lines(table, width=min(width, 100)),
        assumptions=said,
        code=0 if best is not None and best.fit.works else 1,
    )


def _on_a_past_day(args: argparse.Namespace, planner: Planner, past: str) -> int:
    """Answer with each resin on a past day; 1 where the one that was used did not fit."""
    given = [name for name in ("temp", "people", "humidity", "night", "cup") if getattr(args, name) is not None]
    if given:
        raise InputError("--as", "has its own shop and crew", value=f"--{given[0]}", todo=f"leave out --{given[0]}")
    stored = stored_session(planner.workshop.session_path(past))
    day = each_resin(stored, review(stored).track, planner.resins)
    if day is None:
        raise InputError("--as", "is no day to play again", value=past, allowed="a press day, logged and closed")
    data = {
        "session": stored.name,
        "words": past_sentence(day, stored.name),
        "rows": [_past(row, day) for row in day.rows],
    }

    said = ["cups keep their grams and steps their times", "other resins are taken as their datasheets state them"]
    return answer(
        args.json,
        data,
        lambda width: past_day_lines(day, stored.name, width=min(width, 100)),
        assumptions=said,
        code=0 if day.own.fit.works else 1,
    )


def _past(row: ResinOnDay, day: ResinsOnDay) -> dict[str, object]:
    """Return one resin on a past day, with the keys of the others; its odds are not drawn, for the day is known."""
    out_s = Band(nan, nan, nan) if row.ready is None else row.ready.out_s
    return {
        "resin": row.sheet.id,
        "used": row is day.own,
        "temperature_K": day.shop_K[1],
        "temperature_low_K": day.shop_K[0],
        "people": day.people,
        "verdict": row.fit.word,
        "chance": None,
        "slack_min": row.spare_s / 60.0,
        "tightest": row.tightest,
        **band_min("demould_min", out_s),
        "reasons": [*row.fit.against, *row.fit.tight],
    }


def _row(row: Choice) -> dict[str, object]:
    """Return one resin, one shop, one crew; `low` and `high` are those of the demoulding time."""
    ready = row.night.ready
    return {
        "resin": row.result.datasheet.id,
        **facts(row, "temperature_K people verdict chance"),
        **facts(row.result.split, "slack_s"),
        **band_min("demould_min", ready.out_s),
        "batches": len(row.result.split.batches),
        **facts(row.result.budget, "mix_g resin_g hardener_g"),
        "price": row.price,
        "viscosity_Pa_s": row.viscosity_Pa_s,
        "glass_transition_K": ready.softens_K,
        "odd": row.odd,
        "reasons": [*row.fit.against, *row.fit.tight],
    }
