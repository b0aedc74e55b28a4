"""What Press & cure shows of a part under press, as plain data: worked out beside the screen, then put in words.

What Press & cure shows before the press is closed: checks, pressure, clamps and their order, and what to mind.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import timedelta
from math import isfinite

from layup.bench.day import PressDay
from layup.bench.forecast import SHAPES, Cure, out_of
from layup.bench.planner import hanging
from layup.chemistry.caul import UNEVEN
from layup.chemistry.closing import CAUTIONS, TRAPPED, clamp_order
from layup.chemistry.cure import HEATING_CAUTIONS, post_cure_ramp
from layup.chemistry.demould import WARM_ROOM_K
from layup.chemistry.temperature import History
from layup.errors import LayupError, RangeError
from layup.planning.checklist import closing_items
from layup.planning.plan import Plan
from layup.planning.pressing import USUAL_CAUL, Pressing, clamp_row, overloaded_words, pressing
from layup.report.bars import Span, bar, curve, fan, labels, line_plot, strip
from layup.units import area, axis_time, force, in_hours, length, mass, pressure, temperature

# -- cure view -------------------------------------------------------------------------------------------------------

STALE_S = 2 * 3600.0
"""A mould not read for so long may be anywhere (common practice, no source)."""
TICKS_H = (1, 2, 3, 4, 6, 12, 24, 48)
LABEL = 7
"""Columns before a picture."""
MOULD = "╌"
"""The mould in a plot; the resin's own line is of dots."""
PLOT_ROWS = (3, 24)
RAMP_COLUMNS = 3
RELEASE = "Stored force: let it off slowly, stand clear."


def title_words(day: PressDay, cure: Cure | None, since_s: float) -> str:
    """Return the one act, and what the resin is; the line on top says since when the press is shut."""
    out_s = day.state.demoulded_s
    if out_s is not None:
        return (
            f"● {'PLANED' if day.state.is_casting else 'OUT'} {day.clock_time(out_s)}, after {in_hours(since_s, '.1f')}"
        )
    leave, take = ("LEAVE IT LEVEL", "PLANE IT") if day.state.is_casting else ("LEAVE IT CLOSED", "TAKE IT OUT")
    unsure = "▲ CLOCK UNSURE, at least: " if day.at_least else ""
    if cure is None:
        return f"{unsure}■ {leave}"
    state = cure.state(since_s)
    act = take if state == "may come out" else leave
    return f"{unsure}{SHAPES[state]} {act} · {resin_word(cure, since_s)}"


def resin_word(cure: Cure, since_s: float) -> str:
    """Say what the resin is now, and whether a hard part is so only for as long as it stays cold."""
    moment = cure.at(since_s)
    if since_s < cure.gel_s:
        return "LIQUID"
    if moment.lead_K <= 0.0:
        return "SOFT"
    return "hard" if moment.glass_transition_K >= WARM_ROOM_K else "hard while cold"


def out_words(day: PressDay, cure: Cure) -> tuple[str, str]:
    """Return when the part may come out: with its day, and the time of day alone for the big digits."""
    what = "PLANE" if day.state.is_casting else "OUT"
    likely_s = out_of(cure, day.state.closed_s or 0.0)[1]
    if not isfinite(likely_s):
        return f"{what} ≈ not within two weeks: warm it", ""
    on, _, clock = day.clock_time(likely_s).rpartition(" ")
    return f"{what} ≈ {on or 'today'} {clock} (estimate)", clock


def milestones(day: PressDay, cure: Cure, since_s: float, *, width: int) -> list[str]:
    """Return the band of the big time, and how far the resin is."""
    moment, state = cure.at(since_s), cure.state(since_s)
    low, _, high = (day.clock_time(at_s) for at_s in out_of(cure, day.state.closed_s or 0.0))
    on, _, clock = high.rpartition(" ")
    band = f"{low} - {clock if on == low.rpartition(' ')[0] else high}"
    lines = [band] if len(band) <= width else [f"early {low}", f"late {high}"]
    reacted = f"{100 * moment.conversion:.0f} % reacted"
    room = min(width - len(reacted) - 3, 20)
    lines.append(reacted + (f" ▕{bar(moment.conversion, room)}▏" if room >= 6 else ""))
    body = "core" if day.state.is_casting else "mould"
    warm = [f"Tg {temperature(moment.glass_transition_K)}", f"{body} {temperature(moment.temperature_K)}"]
    lines += [" · ".join(warm)] if len(" · ".join(warm)) <= width else warm
    ready = cure.night.ready
    if day.sheet.demould and state != "may come out" and ready.stated_s >= ready.out_s.likely - 60.0:
        lines.append(f"datasheet time {100 * min(moment.age, 1.0):.0f} % ← waits")
    return [*lines, *_last_read(day)]


def _last_read(day: PressDay) -> list[str]:
    """Return that the mould should be read again, where that is long ago."""
    readings = day.state.mould or day.state.air
    body = "core" if day.state.is_casting else "mould"
    if not readings:
        return [f"◆ T  log the {body}"]
    what = body if day.state.mould else "only shop"
    at_s = readings[-1][0]
    old = day.now_s() - at_s > STALE_S or not day.state.mould
    return [f"◆ T  {what} read {day.clock_time(at_s)}"] if old else []


def night_lines(day: PressDay, cure: Cure, *, width: int) -> list[str]:
    """Return whether the night makes it, and the heatings that do where it does not."""
    night, closed_s = cure.night, day.state.closed_s or 0.0
    ask = "" if day.state.night else " (forecast)" if day.state.forecast else " (T  tonight)"
    by = day.clock_time(closed_s + night.out_by_s)
    if day.state.is_casting:
        plane_s = out_of(cure, closed_s)[1]
        return hanging("", f"plane from {day.clock_time(plane_s)}", width) if isfinite(plane_s) else []
    lines = hanging(
        "", f"mould → {temperature(night.coldest_K(cure.part.now_s))}{ask}: {night.verdict.upper()} by {by}", width
    )
    minimum_K = cure.part.minimum_K
    if night.stalls_s is not None and minimum_K is not None:
        when = "now" if night.stalls_s <= cure.part.now_s else f"from {day.clock_time(closed_s + night.stalls_s)}"
        lines += hanging("▲ ", f"below {temperature(minimum_K)} {when}: cure may stop", width)
    if night.makes_it:
        return lines
    if not cure.heatings:
        moulds_K = cure.part.moulds_K
        heat = f"no heat to {temperature(moulds_K[-1])} makes it" if moulds_K else "the mould bears no heat"
        return [*lines, *hanging("", f"{heat}: give it longer", width)]
    for place, plan in enumerate(cure.heatings):
        head = f"{'' if place else 'HEAT':<5}{temperature(plan.mould_K):>6}{in_hours(plan.heater_s):>8}"
        lines += hanging("", f"{head}  → {day.clock_time(closed_s + plan.demould_s)}", width)
    return [*lines, *hanging("- ", HEATING_CAUTIONS[0], width)]


def picture(day: PressDay, cure: Cure, since_s: float, *, width: int) -> list[str]:
    """Draw the course from closing on against the clock: full up to now, when the part may be out, the resin."""
    end_s, ready, cells = cure.course.end.time_s, cure.night.ready, max(width - LABEL, 10)
    glass_s = min(cure.glass_s, end_s)
    gel_s = min(cure.gel_s, glass_s)
    resin = (Span(0.0, gel_s, "░", "liquid "), Span(gel_s, glass_s, "▒", "soft "), Span(glass_s, end_s, "▓", "hard "))
    shown = [span for span in resin if span.end > span.begin]
    drawn = fan(0.0, min(since_s, end_s), ready.out_s.likely, ready.out_s.low, ready.out_s.high, end_s, cells)
    return [
        f"{'plane' if day.state.is_casting else 'out':<{LABEL}}{drawn}",
        f"{'resin':<{LABEL}}{strip(shown, 0.0, end_s, cells)}",
        " " * LABEL + clock_axis(day, end_s, cells),
    ]


def clock_axis(day: PressDay, end_s: float, cells: int) -> str:
    """Return the wall clock under a picture from closing to `end_s` after it."""
    begin = day.moment(day.state.closed_s or 0.0)
    step_h = next((hours for hours in TICKS_H if end_s / 3600.0 / hours <= cells / 10.0), TICKS_H[-1])
    midnight = begin.replace(hour=0, minute=0, second=0, microsecond=0)
    line = [" "] * (cells + 8)
    tick, free = midnight, 0
    while tick <= begin + timedelta(seconds=end_s):
        column = int((tick - begin).total_seconds() / end_s * cells)
        words = axis_time(tick)
        if tick >= begin and free <= column <= cells - len(words) - 2:
            line[column : column + len(words)] = words
            free = column + len(words) + 1
        tick += timedelta(hours=step_h)
    return "".join(line).rstrip() + " h"


def glass_plot(cure: Cure, *, width: int, height: int) -> list[str]:
    """Draw where the resin softens, in dots, as it rises past the mould, in dashes."""
    cells, end_s = max(width - LABEL, 10), cure.course.end.time_s
    moments = [cure.at(end_s * place / (2 * cells - 1)) for place in range(2 * cells)]
    glass, mould = [m.glass_transition_K for m in moments], [m.temperature_K for m in moments]
    low_K, high_K = min(*glass, *mould) - 2.0, max(*glass, *mould) + 2.0
    rows = [list(row) for row in curve(glass, cells, height, low=low_K, high=high_K)]
    lines = [height - 1 - min(int((kelvin - low_K) / (high_K - low_K) * height), height - 1) for kelvin in mould[::2]]
    for cell, line in enumerate(lines):
        rows[line][cell] = MOULD if rows[line][cell] == " " else rows[line][cell]
    names = {lines[0]: temperature(mould[0]), 0: temperature(high_K), height - 1: temperature(low_K)}
    head = f"{'':<{LABEL}}⠒⠒ Tg   {MOULD * 2} mould"
    return [head, *(f"{names.get(at, ''):<{LABEL}}{''.join(row)}" for at, row in enumerate(rows))]


def out_figure(day: PressDay, cure: Cure) -> tuple[str, list[str]]:
    """Return where a part that is out of its mould softens, as digits, and what stands beside them."""
    moment = cure.at((day.state.demoulded_s or 0.0) - (day.state.closed_s or 0.0))
    digits, _, unit = temperature(moment.glass_transition_K).partition(" ")
    return digits, [f"{unit} Tg", "KEEP IT COOLER, flat", f"{100 * moment.conversion:.0f} % reacted", "estimate"]


def out_lines(day: PressDay, cure: Cure, *, width: int, height: int) -> list[str]:
    """Return the post-cure that its maker names, for a part that is out of its mould, drawn where there is room."""
    moment = cure.at((day.state.demoulded_s or 0.0) - (day.state.closed_s or 0.0))
    if not day.sheet.post_cure:
        return []
    stated = day.sheet.post_cure[-1]
    head = f"POST-CURE {in_hours(stated.time_s, 'g')} at {temperature(stated.temperature_K)}, out of the mould"
    lines = hanging("", head, width)
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
    lines.append("always 5 K below Tg:")
    cells = [f"{in_hours(time_s, '.1f'):>8}  {temperature(kelvin):<8}" for time_s, kelvin in ramp]
    rows = -(-len(cells) // max(min(width // len(cells[0]), RAMP_COLUMNS), 1))
    lines += ["".join(cells[row::rows]).rstrip() for row in range(rows)]
    left = min(height - len(lines) - 2, PLOT_ROWS[1])
    return [*lines, "", *_ramp_plot(ramp, width=width, height=left)] if left > 2 * PLOT_ROWS[0] else lines


def _ramp_plot(ramp: History, *, width: int, height: int) -> list[str]:
    """Draw a post-cure, the hours below it."""
    (begin_s, low_K), (end_s, high_K) = ramp[0], ramp[-1]
    cells = max(width - LABEL, 10)
    shape = [(time_s, kelvin) for time_s, kelvin in ramp]
    rows = line_plot([shape], x_range=(begin_s, end_s), y_range=(low_K - 1.0, high_K + 1.0), width=cells, height=height)
    names = {0: temperature(high_K), height - 1: temperature(low_K)}
    ends = [(end_s, in_hours(end_s, ".1f")), (begin_s, "0")]
    return [
        *(f"{names.get(at, ''):<{LABEL}}{row}" for at, row in enumerate(rows)),
        " " * LABEL + labels(ends, begin_s, end_s, cells),
    ]


# -- closing view ----------------------------------------------------------------------------------------------------


def closing_figure(plan: Plan) -> tuple[str, list[str]]:
    """Return the pressure as digits, and what stands beside them: its unit, what holds it, what that carries."""
    press = pressing(plan)
    digits, _, unit = pressure(press.pressure_Pa).partition(" ")
    return digits, [f"{unit} {press.method}", *_force_words(plan, press)]


def closing_lines(plan: Plan, ticked: Collection[str], *, width: int) -> list[str]:
    """Return the closing of one piece as lines: what has to be ready, its clamps, what to mind."""
    press, lines = pressing(plan), list[str]()
    for item in closing_items(plan):
        lines += hanging(f"[{'x' if item.key in ticked else ' '}] ", item.short, width)
    if press.in_a_row:
        lines += _row_lines(plan, press, width)
    try:
        words = _run_out(press)
    except LayupError as error:
        words = str(error)
    lines += hanging("! ", words, width) if words else []
    lines.append("")
    for words in CAUTIONS[press.method]:
        if words != TRAPPED:  # which is ticked above
            lines += hanging("- ", words, width)
    return lines


def _force_words(plan: Plan, press: Pressing) -> list[str]:
    """Return what the press carries, and over what area."""
    over = "a piece," if plan.pieces > 1 else "on"
    stated = "" if press.wanted_Pa is not None else "pressure not given: usual"
    return [f"{force(press.force_N, '.1f')} {over} {area(press.area_m2, '.2f')}", *filter(None, [stated])]


def _run_out(press: Pressing) -> str:
    """Return what runs out, where the plan counts on something else; LayupError where nobody knows."""
    if press.planned_fraction is None:
        return ""
    (low_g, high_g), planned_g = press.pressed_out_g, press.planned_out_g or 0.0
    if low_g <= planned_g <= high_g:
        return ""
    return f"{mass.digits(low_g)}-{mass(high_g)} run out, planned {mass(planned_g)}: weigh it"


def _row_lines(plan: Plan, press: Pressing, width: int) -> list[str]:
    try:
        row = clamp_row(plan, press)
    except LayupError as error:
        return hanging("! ", str(error), width)
    each, worst = force(press.force_N / row.count, ".1f"), f"{100 * row.lowest_share:.0f} %"
    over = f"{press.method} over each piece" if plan.pieces > 1 else press.method
    words = f"{row.count} {over}, {length(row.spacing_m)} apart, first {length(row.end_m)} from the end, {each}"
    enough = "enough" if row.lowest_share >= 1.0 - UNEVEN else "too little: more clamps, a stiffer caul"
    lines = hanging("", f"{words} a {press.method[:-1]}; {worst} of the pressure at the worst place, {enough}", width)
    lines += hanging("", _board_words(plan), width)
    if words := overloaded_words(press, row.count, plan.closing.clamp_rating_N):
        lines += hanging("! ", words, width)
    return [*lines, *hanging("order ", " ".join(map(str, clamp_order(row.count))), width)]


def _board_words(plan: Plan) -> str:
    """Return what was counted on above and below the part, and of each clamp, and what of it is not given."""
    closing = plan.closing
    caul = closing.caul or USUAL_CAUL
    taken = "" if closing.caul else " taken"
    under = f"a board {closing.backing} below" if closing.backing else "below not given"
    rating = f"{force(closing.clamp_rating_N, 'g')}" if closing.clamp_rating_N is not None else "not given"
    return f"caul {caul}{taken}; {under}; rating {rating}"
