"""Whether to begin, and the castings' pours, as `layup plan` answers them."""

from __future__ import annotations

import argparse
from dataclasses import asdict

from layup.chemistry.heating import HEATING_CAUTIONS, HeatingPlan
from layup.commands.reading import quantity, temperature_K
from layup.planning.overnight import OUT_BY_S, Night, Outlook
from layup.planning.pouring import Pouring, planed_words
from layup.planning.readiness import Readiness
from layup.screens.beginning import hanging, ready_rows, summary
from layup.units import parse

NIGHT_C = (-40.0, 60.0)


def add_outlook_arguments(parser: argparse.ArgumentParser) -> None:
    """Add what is known of the night and the wood."""
    parser.add_argument("--night", metavar="TEMPERATURE", help='coldest shop tonight: "6 degC" (default: as now)')
    parser.add_argument(
        "--out-by", metavar="TIME", help="when, after closing, the part has to leave the mould (default 48 h)"
    )
    parser.add_argument(
        "--moisture", metavar="SHARE", help='of the wood, water over dry mass: "9 %%" (default: not known)'
    )


def outlook_of(args: argparse.Namespace, assumed: list[str]) -> Outlook:
    """Return what the words say of the night and the wood."""
    low_C, high_C = NIGHT_C
    night_K = None
    if args.night is not None:
        night_K = temperature_K(args.night, assumed, where="tonight's temperature", low_C=low_C, high_C=high_C)
    return Outlook(
        night_K=night_K,
        out_by_s=OUT_BY_S if args.out_by is None else quantity(args.out_by, "time", assumed, where="time to demould"),
        wood_moisture=None if args.moisture is None else parse(args.moisture, "fraction", where="moisture of the wood"),
    )


def ready_data(ready: Readiness) -> dict[str, object]:
    """Return the answer whether to begin."""
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
            "moulds": [_heating(plan) for plan in heating.moulds],
            "night": _night(heating.night),
        },
    }


def _night(night: Night) -> dict[str, object]:
    return {
        "demould_min": night.ready.time_s / 60.0,
        "low": night.ready.low_s / 60.0,
        "high": night.ready.high_s / 60.0,
        "out_by_min": night.out_by_s / 60.0,
        "verdict": night.verdict,
        "stalls_min": None if night.stalls_s is None else night.stalls_s / 60.0,
    }


def _heating(plan: HeatingPlan) -> dict[str, float]:
    return {
        "mould_K": plan.mould_K,
        "hold_min": plan.hold_s / 60.0,
        "heater_min": plan.heater_s / 60.0,
        "demould_min": plan.demould_s / 60.0,
    }


def ready_lines(ready: Readiness, *, width: int) -> list[str]:
    """Return the answer whether to begin, with its reasons and the heat that passes, worst first."""
    lines = hanging("", f"BEGIN: {ready.answer.upper()}   {summary(ready)}", width)
    for head, words in ready_rows(ready):
        lines += hanging(f"  {head:<6}", words, width)
    for words in HEATING_CAUTIONS[:3] if ready.heating is not None else ():
        lines += hanging("  -     ", words, width)
    return lines


def pouring_data(pouring: Pouring) -> dict[str, object]:
    """Return the pours of one casting, to stand in the budget's entry of it."""
    return {
        "fits": pouring.fits,
        "poured_g": pouring.mass_g,
        "starts_min": None if pouring.starts_s is None else pouring.starts_s / 60.0,
        "pours": [
            {
                "pour": pour.number,
                "mass_g": pour.mass_g,
                "resin_g": pour.parts_g[0],
                "hardener_g": pour.parts_g[1],
                "pigments": [{"name": name, "mass_g": mass_g} for name, mass_g in pour.pigments_g],
                "mix_min": pour.mix_s / 60.0,
                "poured_min": pour.poured_s / 60.0,
                "due_min": pour.due_s / 60.0,
            }
            for pour in pouring.pours
        ],
        "planed_min": pouring.planable.time_s / 60.0,
        "low": pouring.planable.low_s / 60.0,
        "high": pouring.planable.high_s / 60.0,
        "isocyanate_index": pouring.index,
        "warnings": pouring.warnings,
        "cautions": pouring.cautions,
    }


def pouring_lines(pouring: Pouring, *, width: int) -> list[str]:
    """Return the pours of one casting as a table, with what to mind."""
    when = "before press day" if pouring.starts_s is None else f"{pouring.starts_s / 60.0:.0f} min into the day"
    index = "" if pouring.index is None else f", isocyanate index {pouring.index:.2f}"
    lines = hanging("", f"{pouring.name}: {pouring.resin_id}{index}, {when}; {planed_words(pouring)}", width)
    if pouring.pours:
        lines.append("pour    mix   resin hardener  mixed at  out of the cup by   pigment")
    for pour in pouring.pours:
        pigments = " + ".join(f"{mass_g:.1f} g {name}" for name, mass_g in pour.pigments_g)
        lines.append(
            f"{pour.number:>4} {pour.mass_g:>4.0f} g {pour.parts_g[0]:>5.0f} g {pour.parts_g[1]:>6.0f} g "
            f"{_clock(pour.mix_s):>9} {_clock(pour.due_s):>18}   {pigments}".rstrip()
        )
    for words in pouring.warnings:
        lines += hanging("! ", words, width)
    for words in pouring.cautions:
        lines += hanging("- ", words, width)
    return lines


def _clock(time_s: float) -> str:
    return f"{int(time_s) // 60}:{int(time_s) % 60:02d} min"
