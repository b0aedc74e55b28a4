"""Follow the cure on the part: conversion, glass transition, earliest demoulding, and heat for a cold shop.

Read what a mould went through, or will: stages in words, or a logger's file.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite
from pathlib import Path

from layup.chemistry.calibration import Calibration
from layup.chemistry.cure import HEATING_CAUTIONS, MOULDS_K, HeatingPlan, heating_plans, post_cure_ramp
from layup.chemistry.cure_course import CureCourse, CureMoment, Setting, set_on_part
from layup.chemistry.datasheet import Datasheet, least_warmth
from layup.chemistry.demould import HORIZON_S, Demould, demould, setting_of
from layup.chemistry.temperature import History
from layup.commands.command import answer, band_min, facts, law_of, panel_lines, quantity, takes
from layup.errors import InputError
from layup.files.attachments import rows_of_log
from layup.files.workshop import Workshop
from layup.report.bars import table_lines
from layup.units import in_hours, parse, temperature, with_unit

# -- mould temperatures ----------------------------------------------------------------------------------------------

STAGES_EXAMPLE = '"20 degC:12 h, 45 degC:6 h", "18 degC to 6 degC:8 h" for a slow change, or a CSV file'
CHANGE_S = 60.0
"""From one stage to the next the mould takes a minute, unless the stage itself is shorter."""
UNIT_IN_HEADING = re.compile(r".*[\[(_]\s*([^\])_]+?)\s*[\])]?\s*\Z")
DIMENSIONS = ("time", "temperature")


def read_history(text: str, assumed: list[str]) -> tuple[History, float]:
    """Return the mould's temperatures as points, and the time [s] at which what is known of them ends."""
    if text.lower().endswith(".csv"):
        history = tuple(_rows(Path(text), assumed))
        if len(history) < 2:
            raise InputError(text, "holds fewer than two readings", allowed="a time and a temperature on each line")
        start_s = history[0][0]
        points = tuple((time_s - start_s, temperature_K) for time_s, temperature_K in history)
    else:
        points = tuple(_stages(text, assumed))
    return points, points[-1][0]


def _stages(text: str, assumed: list[str]) -> Iterator[tuple[float, float]]:
    """Yield the corners of stages written one after the other."""
    start_s = 0.0
    for i, stage in enumerate(text.split(",")):
        warmth, colon, time = stage.partition(":")
        if not colon:
            raise InputError(
                "--temps",
                "has a stage without its time",
                value=stage.strip() or text,
                allowed=f"write {STAGES_EXAMPLE}",
            )
        lasts_s = quantity(time.strip(), "time", assumed, where="time of a stage")
        if lasts_s <= 0.0:
            raise InputError("--temps", "has a stage without length", value=stage.strip(), allowed="above 0")
        first, slow, last = warmth.partition(" to ")
        first_K = quantity(first.strip(), "temperature", assumed, where="temperature of a stage")
        last_K = quantity(last.strip(), "temperature", assumed, where="temperature of a stage") if slow else first_K
        yield (start_s if i == 0 else start_s + min(CHANGE_S, 0.5 * lasts_s)), first_K
        start_s += lasts_s
        yield start_s, last_K
    if "," in text:
        assumed.append("from one stage to the next the mould takes a minute; write A to B:time for a slow change")


def _rows(path: Path, assumed: list[str]) -> Iterator[tuple[float, float]]:
    """Yield (time_s, temperature_K) from a file of two columns, with units in the cells or in the heading."""
    units = ["", ""]
    for number, cells in rows_of_log(path):
        if number == 1 and not any(cell.strip()[:1].isdigit() or cell.strip()[:1] in "+-" for cell in cells[:2]):
            units = [_heading_unit(cell, dimension) for cell, dimension in zip(cells, DIMENSIONS, strict=False)]
            continue
        where = f"{path}:{number}"
        time, warmth = (with_unit(cell, unit) for cell, unit in zip(cells[:2], units, strict=True))
        noted: list[str] = []
        yield (
            quantity(time, "time", noted, where=f"{where}: time"),
            quantity(warmth, "temperature", noted, where=f"{where}: temperature"),
        )
        if noted and not any("minutes" in line for line in assumed):
            told = f"times are in minutes and temperatures in {temperature.sign} where no unit is given"
            assumed.append(f"{path.name}: {told}")


def _heading_unit(cell: str, dimension: str) -> str:
    """Return the unit that "time [h]" or "temperature_degC" names, or nothing."""
    match = UNIT_IN_HEADING.match(cell)
    try:
        parse(f"1 {match[1]}" if match else "", dimension)
    except InputError:
        return ""
    return match[1] if match else ""


# -- cure ------------------------------------------------------------------------------------------------------------

EXAMPLE = (
    'layup cure slow-laminating --temps "20 degC:12 h, 45 degC:6 h"     '
    'layup cure slow-laminating --temps "18 degC to 6 degC:8 h" --by "2 d"'
)
ESTIMATE = "an estimate, not a promise: knock on the flash and try a nail in it before you open"
ROWS = 12
MOMENT = "time_s temperature_K conversion glass_transition_K"
"""What is told of a moment of a course."""


@dataclass(frozen=True, slots=True)
class CureQuestion:
    """What is asked: a resin on a mould with these temperatures, known until `end_s`."""

    sheet: Datasheet
    calibration: Calibration
    taught: tuple[str, ...]
    setting: Setting
    words: tuple[str, ...]
    mould: History
    end_s: float
    by_s: float | None
    post_cure_K: float | None
    hold_s: float


add_arguments = takes(f"""
RESIN
--temps TEMPS!  of the mould: {STAGES_EXAMPLE}
--by TIME  when the part has to leave the mould, "2 d": adds the heating that makes it (default: no matter)
--post-cure TEMPERATURE  adds the ramp of a post-cure that ends there: "60 degC" (default: none)
--hold TIME  how long the post-cure holds (default 8 h)
--no-lessons
--workshop DIR
--json
""")


def run(args: argparse.Namespace) -> int:
    """Answer with the course, the earliest demoulding and, where asked, the heating and the post-cure."""
    assumed: list[str] = []
    case = _case(args, assumed)
    course = set_on_part(case.setting, case.mould, until_s=max(case.end_s, 1.0))
    ready = demould(case.setting, case.calibration, case.mould)
    late = case.by_s is not None and ready.out_s.likely > case.by_s
    plans = heating_plans(case.setting, case.mould, by_s=case.by_s) if late and case.by_s is not None else ()
    ramp = _post_cure(case, course)
    data = _data(case, course, ready, plans, ramp)

    assumed.append("the resin starts on the part with no conversion, at the first temperature")
    assumed.append("after the last temperature given, the mould stays at it")
    code = 1 if late or not isfinite(ready.out_s.likely) else 0
    said = [*assumed, *case.words, *case.calibration.assumptions, ESTIMATE]
    return answer(
        args.json,
        data,
        lambda _: [*_lines(case, course, ready), *_plan_lines(case, ready, plans, ramp)],
        assumptions=said,
        telling={*assumed, *case.taught, ESTIMATE},
        code=code,
    )


def _case(args: argparse.Namespace, assumed: list[str]) -> CureQuestion:
    workshop = Workshop(args.workshop)
    sheet = workshop.resin(args.resin)
    calibration, taught = law_of(args, workshop, sheet)
    setting, words = setting_of(sheet, calibration.kinetics)
    mould, end_s = read_history(args.temps, assumed)
    if end_s > HORIZON_S:
        raise InputError("--temps", "goes on too long", value=f"{end_s / 86400.0:.1f} d", allowed="at most 14 d")
    post_cure_K = quantity(args.post_cure, "temperature", assumed, where="post-cure") if args.post_cure else None
    return CureQuestion(
        sheet=sheet,
        calibration=calibration,
        taught=taught,
        setting=setting,
        words=words,
        mould=mould,
        end_s=end_s,
        by_s=quantity(args.by, "time", assumed, where="--by") if args.by else None,
        post_cure_K=post_cure_K,
        hold_s=quantity(args.hold, "time", assumed, where="--hold"),
    )


def _post_cure(case: CureQuestion, course: CureCourse) -> History:
    """Return the ramp of the post-cure that follows the given temperatures, or nothing."""
    if case.post_cure_K is None:
        return ()
    end = course.end
    return post_cure_ramp(
        case.setting,
        conversion_start=end.conversion,
        start_K=end.temperature_K,
        target_K=case.post_cure_K,
        hold_s=case.hold_s,
    )


def _data(
    case: CureQuestion, course: CureCourse, ready: Demould, plans: tuple[HeatingPlan, ...], ramp: History
) -> dict[str, object]:
    end = course.end
    data: dict[str, object] = {
        "resin": case.sheet.id,
        **facts(end, MOMENT),
        "gelled": end.conversion >= case.calibration.kinetics.conversion_gel,
        **band_min("demould_min", ready.out_s),
        "stated_min": ready.stated_s / 60.0 if case.sheet.demould else None,
        **facts(ready, "glass_s gel_s softens_K"),
        "full_cure_min": course.fully_cured_s() / 60.0,
        "course": [facts(moment, MOMENT) for moment in _moments(course)],
        "warnings": _warnings(case, ready),
    }
    if case.by_s is not None:
        data |= facts(case, "by_s")
        data["verdict"] = ready.verdict(case.by_s)
        data["heating_plans"] = [heating_data(plan) for plan in plans]
    if ramp:
        data["post_cure"] = [
            {"time_min": time_s / 60.0, "temperature_K": temperature_K} for time_s, temperature_K in ramp
        ]
    return data


def _moments(course: CureCourse) -> Iterator[CureMoment]:
    """Yield a course from begin to end, evenly."""
    yield from (course.at(course.end.time_s * i / ROWS) for i in range(ROWS + 1))


def heating_data(plan: HeatingPlan) -> dict[str, float]:
    """Return one way to heat a mould for a program."""
    return facts(plan, "mould_K hold_s heater_s demould_s")


def _warnings(case: CureQuestion, ready: Demould) -> list[str]:
    least_K, what = least_warmth(case.sheet)
    coldest_K = min(temperature_K for _, temperature_K in case.mould)
    if coldest_K >= least_K:
        return [*ready.cautions]
    stated = case.sheet.minimum_temperature_K is not None
    asks = (
        f"the datasheet asks for {temperature(least_K)} or more"
        if stated
        else f"below {temperature(278.15)} this resin {what}"
    )
    return [
        f"The mould gets down to {temperature(coldest_K)}; {asks}: there the cure may stall for good, and these "
        "times are a guess.",
        *ready.cautions,
    ]


def _hours(time_s: float) -> str:
    return f"{in_hours(time_s, '.1f')}" if isfinite(time_s) else "not within two weeks"


def _lines(case: CureQuestion, course: CureCourse, ready: Demould) -> list[str]:
    rows = []
    for moment in _moments(course):
        state = "glass" if moment.lead_K > 0.0 else "soft"
        if moment.conversion < case.calibration.kinetics.conversion_gel:
            state = "liquid"
        seen = temperature(moment.temperature_K), f"{100 * moment.conversion:.0f} %"
        rows.append((in_hours(moment.time_s, ".1f"), *seen, temperature(moment.glass_transition_K), state))
    heads = ("after", "mould", "conversion", "glass transition", "")
    lines = [f"{case.sheet.title} on the mould", "", *table_lines(heads, rows, left="rrrrl", indent=2)]
    band = f"   (80 %: {_hours(ready.out_s.low)} to {_hours(ready.out_s.high)})" if isfinite(ready.out_s.likely) else ""
    lines += ["", f"Earliest demoulding  {_hours(ready.out_s.likely)}{band}"]
    if isfinite(ready.out_s.likely):
        lines.append(f"  a part out then {ready.softens_words} in use")
    waits = [("the resin is past its gel", _hours(ready.gel_s)), ("the resin is glass enough", _hours(ready.glass_s))]
    if case.sheet.demould:
        waits.insert(0, ("the maker's time is up", _hours(ready.stated_s)))
    lines += table_lines(("", ""), waits, left="ll", indent=2)
    full_s = course.fully_cured_s()
    lines.append(
        f"Fully cured after {_hours(full_s)}"
        if isfinite(full_s)
        else "Not fully cured by the end: a post-cure would do it"
    )
    return [*lines, *(f"! {warning}" for warning in _warnings(case, ready))]


def _plan_lines(case: CureQuestion, ready: Demould, plans: tuple[HeatingPlan, ...], ramp: History) -> list[str]:
    lines: list[str] = []
    if case.by_s is not None:
        lines += ["", f"Out of the mould by {_hours(case.by_s)}: {ready.verdict(case.by_s).upper()}"]
        if ready.out_s.likely > case.by_s:
            lines.append(
                "Heating that makes it, warming and cooling 20 K an hour:"
                if plans
                else f"No heating up to {temperature(MOULDS_K[-1])} makes it."
            )
        lines += [
            f"  mould at {temperature(plan.mould_K)}, held {_hours(plan.hold_s)}: heater on {_hours(plan.heater_s)}"
            f", demould at {_hours(plan.demould_s)}"
            for plan in plans
        ]
    if ramp:
        lines += ["", "Post-cure, the part always 5 K or more below its glass transition:"]
        rows = [(in_hours(time_s, ".1f"), temperature(temperature_K)) for time_s, temperature_K in ramp]
        lines += table_lines(("", ""), rows, indent=2)
    if plans or ramp:
        lines += ["", *panel_lines(HEATING_CAUTIONS)]
    return lines
