"""What Press & cure shows of a part under press, as plain data: worked out beside the screen, then put in words.

What Press & cure shows before the press is closed: checks, pressure, clamps and their order, and what to mind.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import timedelta
from math import isfinite

from layup.bench.cure import SHAPES, Cure
from layup.bench.day import PressDay
from layup.bench.planner import hanging
from layup.chemistry.closing import CAUTIONS, clamp_order
from layup.chemistry.cure_course import CureMoment
from layup.chemistry.demould import WARM_ROOM_K
from layup.chemistry.heating import HEATING_CAUTIONS, post_cure_ramp
from layup.chemistry.temperature import History, temperature_at_K
from layup.dimensions import STANDARD_GRAVITY_m_s2
from layup.errors import LayupError, RangeError
from layup.planning.checklist import closing_items
from layup.planning.night import MOULDS_K
from layup.planning.plan import Plan
from layup.planning.pressing import USUAL_CAUL, Pressing, clamp_row, overloaded_words, pressing
from layup.report.bars import Span, bars, line_plot
from layup.units import area, force, in_hours, length, pressure, temperature

# -- cure view -------------------------------------------------------------------------------------------------------

STALE_S = 2 * 3600.0
"""A mould not read for so long may be anywhere (common practice, no source)."""
TICKS_H = (1, 2, 3, 4, 6, 12, 24, 48)
LEGEND = "░ liquid  ▒ soft  ▓ hard   out: ▒ perhaps  █ likely   ┃ now"
RELEASE = "Presses, bladders and clamps store force: let it off slowly, and stand clear."


def now_lines(day: PressDay, cure: Cure, since_s: float) -> list[str]:
    """Return how far the resin is, beside the big clock."""
    moment = cure.at(since_s)
    state = cure.state(since_s)
    mould = f"mould {temperature(moment.temperature_K)}"
    softens = f"softens {temperature(moment.glass_transition_K)}"
    lines = [
        f"{SHAPES[state]} {state.upper()} (an estimate)",
        f"conversion {100 * moment.conversion:.0f} % {_bar(moment.conversion, 16)}",
        f"LIQUID still, {mould}" if since_s < cure.gel_s else f"{softens}, {mould}: {_hardness(moment)}",
    ]
    if day.sheet.demould:
        spent = "is up" if moment.age >= 1.0 else f"{100 * moment.age:.0f} % gone"
        waits = ": wait for it" if state != "may come out" and _waits_for_maker(cure) else ""
        lines.append(f"maker's time {spent}{waits}")
    return [*lines, _last_read(day)]


def _hardness(moment: CureMoment) -> str:
    """Say whether the part is hard, and whether it is so only for as long as it stays cold."""
    if moment.lead_K <= 0.0:
        return "SOFT"
    return "hard" if moment.glass_transition_K >= WARM_ROOM_K else "hard while cold"


def _waits_for_maker(cure: Cure) -> bool:
    ready = cure.night.ready
    return ready.stated_s >= ready.time_s - 60.0


def _last_read(day: PressDay) -> str:
    readings = day.state.mould or day.state.air
    if not readings:
        return "◆ no temperature logged: press t"
    what = "mould" if day.state.mould else "only the shop"
    at_s = readings[-1][0]
    old = day.now_s() - at_s > STALE_S or not day.state.mould
    return f"{'◆ ' if old else ''}{what} read {day.clock_time(at_s)}{': press t' if old else ''}"


def _bar(share: float, cells: int) -> str:
    filled = round(share * cells)
    return "█" * filled + "·" * (cells - filled)


def ready_line(day: PressDay, cure: Cure) -> str:
    """Return when the part may leave the mould, on the wall's clock."""
    ready, closed_s = cure.night.ready, day.state.closed_s or 0.0
    if not isfinite(ready.time_s):
        return "EARLIEST DEMOULDING not within two weeks at this temperature"
    early, likely, late = (day.clock_time(closed_s + at_s) for at_s in (ready.low_s, ready.time_s, ready.high_s))
    return f"EARLIEST DEMOULDING {likely} (80 %: {early} to {late}) · Tg {temperature(ready.softens_K)}"


def night_lines(day: PressDay, cure: Cure, *, width: int) -> list[str]:
    """Return whether the night makes it."""
    night, closed_s = cure.night, day.state.closed_s or 0.0
    now_K, end_K = temperature_at_K(night.mould, cure.part.now_s), night.mould[-1][1]
    goes = "falling to" if end_K < now_K - 0.5 else "rising to" if end_K > now_K + 0.5 else "staying at"
    ask = "" if day.state.night else " (t for tonight)"
    by = day.clock_time(closed_s + night.out_by_s)
    lines = hanging("", f"Mould {goes} {temperature(end_K)}{ask}: {night.verdict.upper()} by {by}.", width)
    minimum_K = cure.part.minimum_K
    if night.stalls_s is not None and minimum_K is not None:
        when = "now" if night.stalls_s <= cure.part.now_s else f"from {day.clock_time(closed_s + night.stalls_s)} on"
        lines += hanging("▲ ", f"Below {temperature(minimum_K)} {when}, and not hard enough: the cure may stop.", width)
    return lines


def heat_lines(day: PressDay, cure: Cure, *, width: int) -> list[str]:
    """Return the heatings that make it where the night does not."""
    if cure.night.makes_it:
        return []
    closed_s = day.state.closed_s or 0.0
    if not cure.heatings:
        return [f"No heating up to {temperature(MOULDS_K[-1])} makes it by then: give it longer."]
    lines = []
    for plan in cure.heatings:
        off = day.clock_time(closed_s + cure.part.now_s + plan.heater_s)
        out = day.clock_time(closed_s + plan.demould_s)
        lines.append(f"HEAT the mould to {temperature(plan.mould_K)}: on now, off {off}, out {out}")
    return [*lines, *hanging("- ", HEATING_CAUTIONS[0], width)]


def picture(day: PressDay, cure: Cure, since_s: float, *, width: int) -> list[str]:
    """Draw the course from closing on: what the resin is, the maker's time, when the part is out, against the clock."""
    end_s, ready = cure.course.end.time_s, cure.night.ready
    glass_s, out_s = min(cure.glass_s, end_s), min(ready.time_s, end_s)
    gel_s = min(cure.gel_s, glass_s)
    resin = [Span(0.0, gel_s, "░"), Span(gel_s, glass_s, "▒"), Span(glass_s, end_s, "▓")]
    out = [Span(min(ready.low_s, end_s), out_s, "▒"), Span(out_s, end_s, "█")]
    rows = [("resin", [span for span in resin if span.end > span.begin])]
    if day.sheet.demould:
        rows.append(("maker's time", [Span(0.0, min(ready.stated_s, end_s), "·")]))
    rows.append(("out", [span for span in out if span.end > span.begin]))
    label = max(len(name) for name, _ in rows) + 1
    cells = max(width - label, 10)
    mark = min(since_s, end_s)
    return [
        *bars(rows, end=end_s, width=width, mark=mark),
        f"{f'mould {temperature.sign}':<{label}}" + _temperatures(cure.night.mould, end_s, cells),
        " " * label + clock_axis(day, end_s, cells),
        LEGEND,
    ]


def _temperatures(mould: History, end_s: float, cells: int) -> str:
    """Return the mould's temperature every few cells."""
    every = 8
    line = ""
    for at in range(0, cells - 3, every):
        line += f"{temperature.digits(temperature_at_K(mould, end_s * at / cells)):<{every}}"
    return line[:cells].rstrip()


def clock_axis(day: PressDay, end_s: float, cells: int) -> str:
    """Return the wall clock under a picture from closing to `end_s` after it."""
    closed_s = day.state.closed_s or 0.0
    begin = day.moment(closed_s)
    step_h = next((hours for hours in TICKS_H if end_s / 3600.0 / hours <= cells / 10.0), TICKS_H[-1])
    midnight = begin.replace(hour=0, minute=0, second=0, microsecond=0)
    line = [" "] * (cells + 8)
    tick, free = midnight, 0
    while tick <= begin + timedelta(seconds=end_s):
        column = int((tick - begin).total_seconds() / end_s * cells)
        words = f"{tick:%a}" if tick.hour == 0 else f"{tick:%H}"
        if tick >= begin and free <= column <= cells - len(words):
            line[column : column + len(words)] = words
            free = column + len(words) + 1
        tick += timedelta(hours=step_h)
    return "".join(line).rstrip() + " h"


def glass_plot(cure: Cure, *, width: int, height: int) -> list[str]:
    """Draw the glass transition as it rises past the mould's temperature."""
    end_s = cure.course.end.time_s
    moments = [cure.at(end_s * i / 120.0) for i in range(121)]
    low = temperature.number(min(min(m.glass_transition_K, m.temperature_K) for m in moments))
    high = temperature.number(max(max(m.glass_transition_K, m.temperature_K) for m in moments))
    series = [
        [(m.time_s, temperature.number(m.glass_transition_K)) for m in moments],
        [(m.time_s, temperature.number(m.temperature_K)) for m in moments],
    ]
    label = 13
    drawn = line_plot(
        series, x_range=(0.0, end_s), y_range=(low - 2.0, high + 2.0), width=max(width - label, 10), height=height
    )
    names = {0: f"{high:.0f} {temperature.sign}", height - 1: f"{low:.0f} {temperature.sign}"}
    head = "where the resin softens, rising past the mould's temperature"
    return [head, *(f"{names.get(row, ''):>{label - 1}} {line}" for row, line in enumerate(drawn))]


def out_lines(day: PressDay, cure: Cure, *, width: int) -> list[str]:
    """Return what stands of a part that is out of its mould, and the post-cure that its maker names."""
    closed_s, out_s = day.state.closed_s or 0.0, day.state.demoulded_s or 0.0
    moment = cure.at(out_s - closed_s)
    lines = [
        f"conversion {100 * moment.conversion:.0f} %, softens at {temperature(moment.glass_transition_K)} (estimates): "
        "keep it cooler than that, flat and supported",
    ]
    if not day.sheet.post_cure:
        return lines
    stated = day.sheet.post_cure[-1]
    lines += [
        "",
        f"Post-cure as the maker states: {in_hours(stated.time_s, 'g')} at {temperature(stated.temperature_K)}",
    ]
    try:
        ramp = post_cure_ramp(
            cure.part.setting,
            conversion_start=moment.conversion,
            start_K=moment.temperature_K,
            target_K=stated.temperature_K,
            hold_s=stated.time_s,
        )
    except RangeError as error:
        return [*lines, *hanging("! ", str(error), width)]
    lines.append("free of the mould, always 5 K or more below where it softens:")
    lines += [f"  {in_hours(time_s, '.1f'):>8}  {temperature(kelvin)}" for time_s, kelvin in ramp]
    return lines


# -- closing view ----------------------------------------------------------------------------------------------------


def closing_lines(plan: Plan, ticked: Collection[str], *, width: int) -> list[str]:
    """Return the closing of one piece as lines."""
    press = pressing(plan)
    lines = [
        f"CLOSE THE PRESS   {press.method}, {pressure(press.pressure_Pa)} on each piece   c when it is closed",
        "",
    ]
    lines += hanging("", _force_words(plan, press), width)
    if press.in_a_row:
        lines += _row_lines(plan, press, width)
    try:
        low, high = press.fraction
    except LayupError as error:
        lines += hanging("! ", str(error), width)
    else:
        planned = "" if press.planned_fraction is None else f", planned {100 * press.planned_fraction:.0f} %"
        lines.append(f"fibre {100 * low:.0f} % to {100 * high:.0f} % by volume to expect under that{planned}")
    lines.append("")
    for item in closing_items(plan):
        lines += hanging(f"[{'x' if item.key in ticked else ' '}] ", item.words, width)
    lines.append("")
    for words in CAUTIONS[press.method]:
        lines += hanging("- ", words, width)
    return lines


def _force_words(plan: Plan, press: Pressing) -> str:
    force_kN = press.force_N / 1000.0
    stated = "" if press.wanted_Pa is not None else " (100 kPa taken, as the plan states none)"
    pieces = f" a piece, {plan.pieces} pieces" if plan.pieces > 1 else ""
    return (
        f"The press carries {force_kN:.1f} kN{pieces}, the weight of {press.force_N / STANDARD_GRAVITY_m_s2:.0f} kg, "
        f"over {area(press.area_m2, '.3f')}{stated}."
    )


def _row_lines(plan: Plan, press: Pressing, width: int) -> list[str]:
    try:
        row = clamp_row(plan, press)
    except LayupError as error:
        return hanging("! ", str(error), width)
    each_kN = press.force_N / row.count / 1000.0
    lines = hanging(
        "",
        f"{row.count} {press.method}, {length(row.spacing_m)} apart, the first {length(row.end_m)} from "
        f"the end, {each_kN:.1f} kN each; {100 * row.lowest_share:.0f} % of the pressure at the worst place.",
        width,
    )
    lines += hanging("", _board_words(plan), width)
    if words := overloaded_words(press, row, plan.closing.clamp_rating_N):
        lines += hanging("! ", words, width)
    return [*lines, *hanging("order ", " ".join(map(str, clamp_order(row.count))), width)]


def _board_words(plan: Plan) -> str:
    """Return what was counted on above and below the part, and of each clamp, and what of it is not given."""
    closing = plan.closing
    caul = closing.caul or USUAL_CAUL
    taken = "" if closing.caul else " taken, as none is given"
    under = f"a board {closing.backing} under the part" if closing.backing else "what is under the part not given"
    rating = f"{force(closing.clamp_rating_N, 'g')}" if closing.clamp_rating_N is not None else "not given"
    return f"Caul {caul}{taken}; {under}; rating of the {closing.method} {rating}."
