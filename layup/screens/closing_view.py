"""What Press & cure shows before the press is closed: checks, pressure, clamps and their order, and what to mind."""

from __future__ import annotations

from collections.abc import Collection

from layup.chemistry.closing import CAUTIONS, clamp_order
from layup.dimensions import STANDARD_GRAVITY_m_s2
from layup.errors import LayupError
from layup.planning.checklist import closing_items
from layup.planning.pressing import USUAL_CAUL, Pressing, clamp_row, overloaded_words, pressing
from layup.planning.stack import Plan
from layup.screens.beginning import hanging


def closing_lines(plan: Plan, ticked: Collection[str], *, width: int) -> list[str]:
    """Return the closing of one piece as lines."""
    press = pressing(plan)
    lines = [
        f"CLOSE THE PRESS   {press.method}, {press.pressure_Pa / 1000:.0f} kPa on each piece   c when it is closed",
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
        f"over {press.area_m2:.3f} m²{stated}."
    )


def _row_lines(plan: Plan, press: Pressing, width: int) -> list[str]:
    try:
        row = clamp_row(plan, press)
    except LayupError as error:
        return hanging("! ", str(error), width)
    each_kN = press.force_N / row.count / 1000.0
    lines = hanging(
        "",
        f"{row.count} {press.method}, {row.spacing_m * 1000:.0f} mm apart, the first {row.end_m * 1000:.0f} mm from "
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
    rating = f"{closing.clamp_rating_N / 1000.0:g} kN" if closing.clamp_rating_N is not None else "not given"
    return f"Caul {caul}{taken}; {under}; rating of the {closing.method} {rating}."
