"""Plan the closing of the press: pressure, force, clamps and their spacing, and the fibre fraction to expect."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace

from layup.bench.planner import Planner
from layup.chemistry.caul import CAULS, LONG_LOAD, MOST_CLAMPS, RIGID, Clamping, FoamLoad, pressure_along
from layup.chemistry.closing import CAUTIONS, CLOTHS, bolt_force_N, bolt_torque_Nm, clamp_order
from layup.chemistry.uncertainty import Band
from layup.commands.command import answer, facts, on_stack, panel_lines, quantity, takes, whole_number
from layup.dimensions import STANDARD_GRAVITY_m_s2
from layup.errors import InputError, RangeError
from layup.planning.plan import Board, Plan
from layup.planning.pressing import (
    USUAL_CAUL,
    Pressing,
    caul_bed,
    clamp_row,
    edges_share,
    foam_words,
    mould_load,
    overloaded_words,
    press_acts,
    pressed_out_words,
    pressing,
    pull_words,
    weak_bag_words,
)
from layup.report.bars import column, curve, table_lines
from layup.units import area, force, in_minutes, length, load, parse, pressure, torque

SHARES = ("200 %", "", "100 %", "0 %")
PLACES = 64
"""Columns of the picture of the pressure along a caul."""
EXAMPLE = 'layup close touring-skis --method clamps --pressure "100 kPa" --caul "birch plywood" --thickness "30 mm"'


@dataclass(frozen=True, slots=True)
class ClampRow:
    """The row of clamps or bolts over one piece."""

    clamping: Clamping
    caul: Board
    rating_N: float | None
    force_each_N: float
    torque_Nm: float | None
    bolt: Band | None
    along: tuple[float, ...]
    """Pressure along the caul from end to end, as a share of the mean."""
    edges: float | None
    """Share that reaches the long edges without a cross bearer; None where the width is not known."""
    uneven: float
    """Share of the pressure that may be missing at the worst place."""


WORDS = f"""
PLAN
--method {"|".join(CAUTIONS)}  how the press is closed (default: as the plan says)
--pressure PRESSURE  on the part: "100 kPa" or "15 psi" (default: the plan's)
--thickness LENGTH  how thick the caul is (default: the plan's, or 30 mm)
--uneven SHARE  share of the pressure that may be missing at the worst place (default 20 %%)
--clamps N  how many clamps there are (default: as many as it takes)
--rating FORCE  the most that one clamp may give: "3 kN" (default: the plan's)
--bolt DIAMETER  of the thread, "8 mm" for M8: adds the torque (default: no torque)
--altitude LENGTH  of the shop above the sea, for a bag (default 0 m)
--left PRESSURE  air that the pump leaves in a bag (default 10 kPa)
--cloth {"|".join(CLOTHS)}  kind of cloth (default stitched)
--no-lessons
--no-dials
--workshop DIR
--json
"""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup close`."""
    caul = f"the board that spreads the clamps' force: {', '.join(CAULS)} (default: the plan's, or birch plywood)"
    parser.add_argument("--caul", choices=tuple(CAULS), metavar="MATERIAL", help=caul)
    friction = "of the thread: 0.1 oiled to 0.3 gritty (default 0.2)"
    parser.add_argument("--nut-factor", metavar="K", type=float, default=0.2, help=friction)
    takes(WORDS)(parser)


def run(args: argparse.Namespace) -> int:
    """Answer with pressure, force, the row of clamps where there is one, and the fibre fraction."""
    assumed: list[str] = []
    planner = Planner(args.workshop, plan=args.plan)
    plan = planner.asked(on_stack(args, planner, assumed)).plan
    assumed += planner.lessons.loss_words(planner.plan or plan)
    press = _press(args, plan, assumed)
    row = _row(args, plan, press, assumed) if press.in_a_row else None
    load = mould_load(plan, press)
    warnings = [*_warnings(plan, press, row), *filter(None, [foam_words(load)])]
    data = _data(press, row, warnings, load)

    def text(_width: int) -> Iterator[str]:
        head, *lines = _lines(plan, press, row, warnings, load)
        yield from (head, *filter(None, [planner.as_set]), *lines)

    return answer(args.json, data, text, assumptions=assumed, code=1 if warnings else 0)


def _press(args: argparse.Namespace, plan: Plan, assumed: list[str]) -> Pressing:
    press = pressing(
        plan,
        method=args.method,
        wanted_Pa=quantity(args.pressure, "pressure", assumed, where="pressure") if args.pressure else None,
        altitude_m=parse(args.altitude, "length", where="altitude"),
        left_Pa=quantity(args.left, "pressure", assumed, where="pressure left"),
        cloth=args.cloth,
    )
    if press.method == "bag":
        assumed.append("standard atmosphere: the weather moves a bag's pressure by about 3 %")
    elif press.wanted_Pa is None:
        assumed.append("pressure 100 kPa, as the plan states none (common practice, no source)")
    extra = [f"--{name}" for name in ("clamps", "rating", "bolt") if getattr(args, name) is not None]
    if extra and not press.in_a_row:
        raise InputError(
            "layup close",
            f"a {press.method} takes no {' and no '.join(extra)}",
            todo=f"leave {'it' if len(extra) == 1 else 'them'} out, or choose --method clamps or bolts",
        )
    assumed.append("the fibre fraction holds where resin is thin at closing, has a way out and time to take it")
    return press


def _row(args: argparse.Namespace, plan: Plan, press: Pressing, assumed: list[str]) -> ClampRow:
    """Return the row of clamps: as many as evenness and rating ask, or as many as there are."""
    caul = _caul(args, plan, assumed)
    rating_N = quantity(args.rating, "force", assumed, where="rating") if args.rating else plan.closing.clamp_rating_N
    uneven = quantity(args.uneven, "fraction", assumed, where="unevenness")
    found = clamp_row(
        plan,
        press,
        caul=caul,
        uneven=uneven,
        clamps=None if args.clamps is None else whole_number(args.clamps, where="clamps", high=MOST_CLAMPS),
        rating_N=rating_N,
    )
    boards = {"caul": caul} if plan.closing.backing is None else {"caul": caul, "backing": plan.closing.backing}
    for name, board in boards.items():
        kind = CAULS[board.material]
        assumed.append(f"{name} {board}, {kind.modulus_Pa / 1e9:.1f} GPa: {kind.source}")
    assumed.append("between caul and mould only the cloth gives: core, rubber and pads make it more even than this")
    if plan.closing.backing is None:
        assumed.append(RIGID)
    if rating_N is None:
        assumed.append(f"rating of the {press.method} not given: not checked (--rating, or clamp_rating in [closing])")
    each_N = press.row_N / found.count
    torque_Nm, bolt = None, None
    if args.bolt:
        diameter_m = quantity(args.bolt, "length", assumed, where="bolt")
        torque_Nm = bolt_torque_Nm(each_N, diameter_m, args.nut_factor)
        bolt = bolt_force_N(torque_Nm, diameter_m, args.nut_factor)
        assumed.append(f"nut factor {args.nut_factor:g}: 0.10 oiled to 0.30 gritty; a torque wrench scatters by 30 %")
    along = pressure_along(caul_bed(plan, press, caul), found, PLACES)
    edges = edges_share(plan, press, caul)
    return ClampRow(found, caul, rating_N, each_N, torque_Nm, bolt, along, edges, uneven)


def _caul(args: argparse.Namespace, plan: Plan, assumed: list[str]) -> Board:
    """Return the caul as asked for, as the plan states it, or as is usual, and say which of it was not given."""
    stated = plan.closing.caul or USUAL_CAUL
    taken = {"material": stated.material, "thickness": f"{length(stated.thickness_m)}"}
    missing = [name for name, given in zip(taken, (args.caul, args.thickness), strict=True) if given is None]
    if missing and plan.closing.caul is None:
        values = ", ".join(taken[name] for name in missing)
        assumed.append(f"{' and '.join(missing)} of the caul not given: {values} taken (caul in the plan's [closing])")
    thickness_m = stated.thickness_m
    if args.thickness:
        thickness_m = quantity(args.thickness, "length", assumed, where="thickness of the caul")
    return Board(args.caul or stated.material, thickness_m)


def _warnings(plan: Plan, press: Pressing, row: ClampRow | None) -> list[str]:
    """Return what does not fit."""
    warnings = [*filter(None, [weak_bag_words(press)])]
    if row is None:
        return warnings
    if row.clamping.lowest_share < 1.0 - row.uneven:
        words = (
            "the caul lifts off"
            if row.clamping.lowest_share <= 0.0
            else f"{100 * row.clamping.lowest_share:.0f} % is left"
        )
        warnings.append(
            f"{row.clamping.count} clamps are too few for this caul: at the worst place {words}, "
            f"{100 * (1.0 - row.uneven):.0f} % is wanted. {_enough(plan, press, row)}"
        )
    if row.edges is not None and row.edges < 1.0 - row.uneven:
        share = "lift off" if row.edges <= 0.0 else f"get {100 * row.edges:.0f} %"
        warnings.append(f"Without a cross bearer under each clamp the edges {share}: lay a stiff bar across.")
    return [*warnings, *filter(None, [overloaded_words(press, row.clamping.count, row.rating_N)])]


def _enough(plan: Plan, press: Pressing, row: ClampRow) -> str:
    """Return how many clamps would do."""
    free = replace(plan, closing=replace(plan.closing, clamps=None))
    try:
        count = clamp_row(free, press, caul=row.caul, uneven=row.uneven).count
    except RangeError:
        return "Take a thicker caul."
    return f"Take {count} clamps, or a thicker caul."


def _data(press: Pressing, row: ClampRow | None, warnings: list[str], foam: FoamLoad | None) -> dict[str, object]:
    low, high = press.fraction
    data: dict[str, object] = {
        **facts(press, "method area_m2 pressure_Pa"),
        "target_pressure_Pa": press.wanted_Pa,
        "force_N": press.force_N,
        "fibre_volume_fraction_low": low,
        "fibre_volume_fraction_high": high,
        "planned_fibre_volume_fraction": press.planned_fraction,
        "pressed_out": pressed_out_data(press),
        **facts(press, "laminate_m curved_end_N"),
        "foam": None
        if foam is None
        else {
            "strength_Pa": foam.strength_Pa,
            "bears_Pa": LONG_LOAD * foam.strength_Pa,
            **facts(foam, "strain squeezed_m"),
            "verdict": foam.word,
        },
        "warnings": warnings,
        "cautions": CAUTIONS[press.method],
    }
    acts = press_acts(press, row.clamping if row else None)
    data["acts"] = [facts(act, "words number after_s") for act in acts]
    if row is not None:
        data["clamps"] = {
            **asdict(row.clamping),
            **facts(row, "force_each_N rating_N"),
            "caul": asdict(row.caul),
            "order": clamp_order(row.clamping.count),
            "along_shares": row.along,
            "edges_share": row.edges,
            "torque_N_m": row.torque_Nm,
            "bolt_force_low_N": row.bolt.low if row.bolt else None,
            "bolt_force_high_N": row.bolt.high if row.bolt else None,
        }
    return data


def pressed_out_data(press: Pressing) -> dict[str, float | None] | None:
    """Return what runs out of the cloth under the press, as planned and as expected; None where that is not known."""
    if not press.packs:
        return None
    low_g, high_g = press.pressed_out_g
    return {"planned_g": press.planned_out_g, "low": low_g, "high": high_g, "laid_g": press.laid_g}


def _lines(plan: Plan, press: Pressing, row: ClampRow | None, warnings: list[str], foam: FoamLoad | None) -> list[str]:
    low, high = press.fraction
    lines = [f"{plan.title}: closed with {f'{row.clamping.count} ' if row else ''}{press.method}, one piece"]
    carried = f"which the press has to carry, the weight of {load(1000.0 * press.force_N / STANDARD_GRAVITY_m_s2)}"
    rows = [
        ("pressure", pressure(press.pressure_Pa), f"on {area(press.area_m2, '.3f')}"),
        ("force", force(press.force_N, ".1f"), carried),
    ]
    if row is not None:
        clamps = row.clamping
        apart = f"{length(clamps.spacing_m)} apart, the first {length(clamps.end_m)} from the end"
        rows += [
            ("clamps", str(clamps.count), apart),
            (f"a {press.method[:-1]}", force(row.force_each_N, ".2f"), pull_words(row.force_each_N).partition(", ")[2]),
            ("evenness", f"{100 * clamps.lowest_share:.0f} %", f"at worst, {100 * clamps.highest_share:.0f} % at best"),
            ("order", "", " ".join(map(str, clamp_order(clamps.count)))),
        ]
        if row.torque_Nm is not None and row.bolt is not None:
            gives = f"gives {force.digits(row.bolt.low, '.1f')} to {force(row.bolt.high, '.1f')}"
            rows.append(("torque", torque(row.torque_Nm, ".1f"), gives))
    if press.curved_end_N:
        rows.append(("ends", force(press.curved_end_N, ".1f"), "on each curved end: a block and clamps of its own"))
    if foam is not None:
        squeezed = f"the foam {foam.word}: {length(foam.squeezed_m, '.1f')} at once, as much again overnight"
        rows.append(("mould", pressure(foam.strength_Pa), squeezed))
    for act in press_acts(press, row.clamping if row else None):
        rows.append((f"+{in_minutes(act.after_s)}" if act.after_s else "closed", act.number, act.words.lower()))
    rows.append(("fibre", f"{100 * low:.0f} %", f"to {100 * high:.0f} % by volume, {press.cloth} cloth"))
    if press.planned_fraction is not None:
        rows.append(("planned", f"{100 * press.planned_fraction:.0f} %", "by volume"))
    lines += table_lines(("", "", ""), rows, left="lrl", indent=2)
    lines += _picture(row) if row else []
    lines += [f"! {words}" for words in (pressed_out_words(press),) if words]
    return [*lines, *(f"! {warning}" for warning in warnings), "", *panel_lines(CAUTIONS[press.method])]


def _picture(row: ClampRow) -> list[str]:
    """Return the clamps over the pressure along the caul, as a curve from nothing to twice the mean."""
    clamps, whole_m = row.clamping, 2.0 * row.clamping.end_m + (row.clamping.count - 1) * row.clamping.spacing_m
    marks = [" "] * PLACES
    for number in range(clamps.count):
        marks[column(clamps.end_m + number * clamps.spacing_m, 0.0, whole_m, PLACES)] = "▼"
    drawn = curve(row.along, PLACES, len(SHARES), low=0.0, high=2.0)
    lines = (f"{share:>5} {line.rstrip()}" for share, line in zip(SHARES, drawn, strict=True))
    return ["", f"      {''.join(marks).rstrip()}", *lines, "      pressure along the caul, end to end"]
