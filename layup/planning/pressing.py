"""One piece in its press: pressure, force, the row of clamps, the fibre fraction to expect, and what is done there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil
from typing import Literal

from layup.chemistry.caul import (
    CAULS,
    LONG_LOAD,
    UNEVEN,
    Bed,
    Clamping,
    FoamLoad,
    bed_of_caul,
    clamping,
    edge_share,
    foam_load,
    row_of_clamps,
)
from layup.chemistry.closing import (
    AGAIN_s,
    Fraction,
    HIGHEST_Pa,
    LOWEST_Pa,
    bag_pressure_Pa,
    bed_give_m,
    clamp_order,
    fibre_fraction_under_pressure,
    press_force_N,
)
from layup.chemistry.laminate import CURED_DENSITY_G_CM3
from layup.chemistry.numerics import require_between, require_positive
from layup.dimensions import STANDARD_GRAVITY_m_s2
from layup.errors import InputError, LayupError
from layup.planning.budget import mean_fibre_fractions, step_lines
from layup.planning.cuts import fabrics_of
from layup.planning.outline import area_m2, edges, needed_length_m, shape
from layup.planning.plan import Board, Plan
from layup.units import force, length, load, mass, pressure

USUAL_PRESSURE_PA = 100_000.0
"""Pressure where the plan states none: one atmosphere (common practice, no source)."""
USUAL_LEFT_PA = 10_000.0
"""What a shop's pump leaves in a bag (common practice, no source)."""
USUAL_CAUL = Board("birch plywood", 0.030)
"""The caul where the plan states none (common practice, no source)."""
STRAIGHT_m = 0.05
"""The shortest straight caul, as `bed_of_caul` takes one."""
USUAL_CLOTH = "stitched"


@dataclass(frozen=True, slots=True)
class Pressing:
    """One piece under its pressure."""

    method: str
    area_m2: float
    pressure_Pa: float
    wanted_Pa: float | None
    """The plan's target, which a bag may miss."""
    cloth: str
    laminate_m: float
    """All plies of one piece, as planned."""
    planned_fraction: float | None
    """Mean fibre fraction by volume that the plan's cloth aims at; None without cloth."""
    fibre_cm3: float
    """The fibre of all cloth as cut, of all pieces."""
    laid_g: float
    """The mix that is laid in that cloth."""
    planned_out_g: float | None
    """What the plan counts on the press driving out of it; None where its losses do not say."""
    flat_share: float = 1.0
    """Share of the area that a straight caul presses, its curved ends left out."""

    @property
    def force_N(self) -> float:
        """Return the force on one piece [N]."""
        return press_force_N(self.pressure_Pa, self.area_m2)

    @property
    def row_N(self) -> float:
        """Return the force of the row of clamps or bolts over its straight part [N]."""
        return self.force_N * self.flat_share

    @property
    def curved_end_N(self) -> float:
        """Return the force on each of its curved ends; 0 without [N]."""
        return 0.5 * self.force_N * (1.0 - self.flat_share)

    @property
    def fraction(self) -> Fraction:
        """Return the fibre fraction by volume to expect."""
        return fibre_fraction_under_pressure(self.cloth, self.pressure_Pa)

    @property
    def pressed_out_g(self) -> Fraction:
        """Return how much of `laid_g` runs out if the press packs the cloth to `fraction` [g]."""
        low, high = (self.laid_g - self.fibre_cm3 * (1.0 / f - 1.0) * CURED_DENSITY_G_CM3 for f in self.fraction)
        return Fraction(max(low, 0.0), max(high, 0.0))

    @property
    def packs(self) -> bool:
        """Return whether there is cloth, under a pressure for which its packing is known."""
        return self.planned_fraction is not None and LOWEST_Pa <= self.pressure_Pa <= HIGHEST_Pa

    @property
    def in_a_row(self) -> bool:
        """Return whether clamps or bolts stand in a row over it."""
        return self.method in ("clamps", "bolts")


@lru_cache(maxsize=16)
def pressing(
    plan: Plan,
    *,
    method: str | None = None,
    wanted_Pa: float | None = None,
    altitude_m: float = 0.0,
    left_Pa: float = USUAL_LEFT_PA,
    cloth: str = USUAL_CLOTH,
) -> Pressing:
    """Find the pressure on one piece of a plan.

    Parameters
    ----------
    method : "clamps", "bolts", "bladder" or "bag"; None takes the plan's [-]
    wanted_Pa : Pressure wanted; None takes the plan's, and 100 kPa where it states none [Pa]
    altitude_m : Of the shop, for a bag [m]
    left_Pa : What the pump leaves in a bag [Pa]
    cloth : Kind of cloth: "mat", "woven", "stitched" or "unidirectional" [-]
    """
    method = method or plan.closing.method
    wanted_Pa = plan.closing.target_pressure_Pa if wanted_Pa is None else wanted_Pa
    pressure_Pa = USUAL_PRESSURE_PA if wanted_Pa is None else wanted_Pa
    lines = step_lines(plan)
    cloth_lines = [line for line in lines if line.kind == "fabric"]
    return Pressing(
        method=method,
        area_m2=plan.closing.area_m2 or area_m2(plan.outline),
        pressure_Pa=bag_pressure_Pa(altitude_m, left_Pa) if method == "bag" else pressure_Pa,
        wanted_Pa=wanted_Pa,
        cloth=cloth,
        laminate_m=sum(line.thickness_m for line in cloth_lines),
        planned_fraction=mean_fibre_fractions(plan, lines)[1],
        fibre_cm3=sum(lines[n].glass_g / step.fibre_density_g_cm3 for n, step in fabrics_of(plan).items()),
        laid_g=sum(line.mix_g for line in cloth_lines),
        planned_out_g=None if plan.losses.squeeze_out is None else sum(line.squeezed_g for line in cloth_lines),
        flat_share=_flat_share(plan),
    )


def clamp_row(
    plan: Plan,
    press: Pressing,
    *,
    caul: Board | None = None,
    uneven: float = UNEVEN,
    clamps: int | None = None,
    rating_N: float | None = None,
) -> Clamping:
    """Find the row of clamps or bolts over one piece.

    Raises InputError for a plan that lays no cloth, or whose outline has no length.

    Parameters
    ----------
    caul : The caul; None takes the plan's, and 30 mm of birch plywood where it states none [-]
    uneven : Share of the pressure that may be missing at the worst place [-]
    clamps : How many there are; None takes the plan's, and as many as evenness and rating ask where it states none [-]
    rating_N : The most that one clamp may give; None takes the plan's, and no limit where it states none [N]
    """
    if press.laminate_m == 0.0:
        todo = "clamps cannot be spaced for it"
        raise InputError(plan.title, "lays no cloth, so nothing gives under the caul", todo=todo)
    bed = caul_bed(plan, press, caul)
    count = plan.closing.clamps if clamps is None else clamps
    if count is not None:
        return row_of_clamps(bed, count)
    rating_N = plan.closing.clamp_rating_N if rating_N is None else rating_N
    at_least = 2 if rating_N is None else ceil(press.row_N / require_positive("rating", rating_N, unit="N"))
    return clamping(bed, uneven, max(2, at_least))


def caul_bed(plan: Plan, press: Pressing, caul: Board | None = None) -> Bed:
    """Find over what length the caul of a plan spreads the force of a clamp."""
    caul, backing = caul or plan.closing.caul or USUAL_CAUL, plan.closing.backing
    return bed_of_caul(
        needed_length_m(plan.outline, "a caul") - 2.0 * plan.closing.curved_ends_m,
        caul.thickness_m,
        CAULS[caul.material].modulus_Pa,
        press.pressure_Pa,
        _give_m(plan, press),
        backing_m=backing.thickness_m if backing else None,
        backing_Pa=CAULS[backing.material].modulus_Pa if backing else None,
    )


def _give_m(plan: Plan, press: Pressing) -> float:
    """Return how far cloth and foam give per relative change of pressure."""
    load = mould_load(plan, press)
    return bed_give_m(press.cloth, press.laminate_m) + (load.squeezed_m if load else 0.0)


def mould_load(plan: Plan, press: Pressing) -> FoamLoad | None:
    """Find what the foam of a plan's mould does under the press. None without foam."""
    foam = plan.closing.foam
    if foam is None:
        return None
    return foam_load(foam.thickness_m, foam.density_g_cm3, press.pressure_Pa, foam.strength_Pa)


def _flat_share(plan: Plan) -> float:
    """Return the share of a piece's area between its curved ends: by its widths, by its length where it has none."""
    curved_m, sides = plan.closing.curved_ends_m, edges(plan.outline)
    if curved_m == 0.0:
        return 1.0
    length_m = needed_length_m(plan.outline, "a caul")
    todo = f"what stays between them has to be longer than {length(STRAIGHT_m)}"
    require_between("curved ends", curved_m, 0.0, 0.5 * (length_m - STRAIGHT_m), unit="m", todo=todo)
    if sides is None:
        return 1.0 - 2.0 * curved_m / length_m
    left, right = sides
    pieces = [(i + 0.5) * length_m / 200 for i in range(200)]
    widths_m = [left(left.x[0] + at) + right(right.x[0] + at) for at in pieces]
    flat_m = [width_m for at, width_m in zip(pieces, widths_m, strict=True) if curved_m <= at <= length_m - curved_m]
    return sum(flat_m) / sum(widths_m)


def edges_share(plan: Plan, press: Pressing, caul: Board | None = None) -> float | None:
    """Find how much of the pressure reaches the long edges under a caul that is clamped along its middle.

    As a share of the mean across the board [-], below 0 where the caul lifts; None where the width is not known.
    """
    widest_m = shape(plan.outline).widest_m
    if widest_m is None:
        return None
    caul = caul or plan.closing.caul or USUAL_CAUL
    kind, give_m = CAULS[caul.material], _give_m(plan, press)
    stiff_Pa = kind.modulus_Pa * kind.across
    return edge_share(bed_of_caul(max(widest_m, STRAIGHT_m), caul.thickness_m, stiff_Pa, press.pressure_Pa, give_m))


def overloaded_words(press: Pressing, count: int, rating_N: float | None) -> str:
    """Say that each clamp of a row would have to give more than it may; nothing where they hold, or are not rated.

    Parameters
    ----------
    count : Its clamps or bolts [-]
    rating_N : The most that one of them may give; None where it is not given [N]
    """
    each_N = press.row_N / count
    if rating_N is None or each_N <= rating_N:
        return ""
    return (
        f"Each of the {count} {press.method} would have to give {force(each_N, '.1f')}, and is rated for "
        f"{force(rating_N, '.1f')}: take more of them or stronger ones."
    )


def weak_bag_words(press: Pressing) -> str:
    """Say that a bag gives less than is wanted; nothing of one that gives enough, and of any other press."""
    if press.wanted_Pa is None or press.pressure_Pa >= press.wanted_Pa:
        return ""
    return (
        f"The bag gives {pressure(press.pressure_Pa)}, and {pressure(press.wanted_Pa)} are wanted: "
        "a pump cannot do more; take clamps or a bladder."
    )


def foam_words(foam: FoamLoad | None) -> str:
    """Say what a mould's foam does not bear through a night. A sentence; empty where it bears it, or without foam."""
    if foam is None or foam.word == "carries it":
        return ""
    bears = pressure(LONG_LOAD * foam.strength_Pa)
    return f"The mould's foam {foam.word} under {pressure(foam.pressure_Pa)}: for a night it bears {bears}."


@dataclass(frozen=True, slots=True)
class PressLimit:
    """One thing of the press that does not bear what is asked of it: whether it forbids the day, and why."""

    answer: Literal["wait", "no"]
    words: str
    short: str
    """In three words at most."""


def press_limits(plan: Plan) -> tuple[PressLimit, ...]:
    """Find what of a plan's press does not bear what the plan asks of it."""
    closing = plan.closing
    rated = closing.clamps is not None and closing.clamp_rating_N is not None
    if not plan.lays or not (rated or closing.foam or closing.method == "bag"):
        return ()
    try:
        press = pressing(plan)
    except LayupError:  # what is wrong with the press is said where it is asked for
        return ()
    found, foam = [], mould_load(plan, press)
    if press.in_a_row and closing.clamps is not None:
        words = overloaded_words(press, closing.clamps, closing.clamp_rating_N)
        found.append(PressLimit("no", words, f"{press.method} overloaded"))
    if foam is not None:
        found.append(PressLimit("no" if foam.word == "crushes" else "wait", foam_words(foam), f"foam {foam.word}"))
    if press.method == "bag":
        found.append(PressLimit("wait", weak_bag_words(press), "bag too weak"))
    return tuple(limit for limit in found if limit.words)


def pressed_out_words(press: Pressing) -> str:
    """Say how much resin runs out of the cloth if the press packs it as expected, beside what the plan counts on.

    Two sentences at most; empty without cloth, or under a pressure for which its packing is not known.
    """
    if press.planned_fraction is None or not press.packs:
        return ""
    (low, high), (low_g, high_g) = press.fraction, press.pressed_out_g
    planned = "not given, so none is counted on"
    if press.planned_out_g is not None:
        planned = f"{mass(press.planned_out_g)} ({100 * press.planned_out_g / press.laid_g:.0f} %)"
    words = (
        f"Pressed to {100 * low:.0f} to {100 * high:.0f} % fibre by volume, {mass.digits(low_g)} to {mass(high_g)} "
        f"of the {mass(press.laid_g)} in the cloth run out ({100 * low_g / press.laid_g:.0f} to "
        f"{100 * high_g / press.laid_g:.0f} %); planned: {planned}, for {100 * press.planned_fraction:.0f} %."
    )
    if low_g <= (press.planned_out_g or 0.0) <= high_g:
        return words
    return f"{words} One of them is wrong: weigh what runs out."


EARLY_S = 60.0
"""Whoever goes round again so much too early need not once more (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class PressAct:
    """One act at the press once it is closed: what to do, how hard, in which order, and when."""

    words: str
    number: str
    """The force of each clamp, or the pressure; empty where there is none to go to."""
    order: tuple[int, ...]
    """Clamps or bolts by their numbers from one end; empty where none stand in a row."""
    after_s: float
    """From the closing."""
    why: str
    count: int = 0
    """How many clamps or bolts there are; 0 where none stand in a row."""


def press_acts(press: Pressing, row: Clamping | None, *, pieces: int = 1) -> tuple[PressAct, ...]:
    """Find what is done at the press once it is closed, in order.

    First the rounds to full force or pressure, due at once, then those that come again. Half the force on all of them
    first, then all of it, from the middle outwards; again after 5 and 15 minutes, as resin flows out and the force
    falls. A bladder is raised in two steps with a look for leaks between them. All of it common practice, no source.

    Parameters
    ----------
    pieces : How many such pieces are closed, each with a row of its own [-]
    """
    again_s = AGAIN_s[press.method]
    if press.in_a_row:
        order = () if row is None else clamp_order(row.count)
        each_N = 0.0 if row is None else press.row_N / row.count
        half, full = (pull_words(each_N * share) if each_N else "" for share in (0.5, 1.0))
        count, name = len(order) * pieces, press.method.upper()
        them = f"{count} {name}" if count else f"ALL {name}"
        return (
            PressAct(f"TIGHTEN {them} HALF", half, order, 0.0, "from the middle outwards", count),
            PressAct(f"TIGHTEN {them} FULLY", full, order, 0.0, "from the middle outwards", count),
            *(
                PressAct(f"RETIGHTEN {name}", full, order, at_s, "resin flows out, force falls", count)
                for at_s in again_s
            ),
        )
    if press.method == "bladder":
        half, full = (pressure(press.pressure_Pa * share) for share in (0.5, 1.0))
        return (
            PressAct("RAISE TO HALF PRESSURE", half, (), 0.0, "listen for leaks"),
            PressAct("RAISE TO FULL PRESSURE", full, (), 0.0, "stand beside the press"),
            *(PressAct("READ THE GAUGE", full, (), at_s, "a leak lets the part spring") for at_s in again_s),
        )
    full = pressure(press.pressure_Pa)
    return (
        PressAct("PUMP OFF, WATCH THE GAUGE", full, (), 0.0, "a leak draws air through"),
        *(PressAct("READ THE GAUGE, PUMP ON", full, (), at_s, "a leak draws air through") for at_s in again_s),
    )


def acts_of_plan(plan: Plan) -> tuple[PressAct, ...]:
    """Find what is done at a plan's press once it is closed, with as many clamps as it has or needs.

    As `press_acts` has them; without forces and order where the clamps cannot be counted.
    """
    press = pressing(plan)
    try:
        row = clamp_row(plan, press) if press.in_a_row else None
    except LayupError:
        row = None
    return press_acts(press, row, pieces=plan.pieces)


def pull_words(each_N: float) -> str:
    """Say how hard one clamp pulls, with the weight that pulls as hard, which people can picture.

    "2.8 kN, about 290 kg"; in pounds of force alone, which are the weight of as many pounds.

    Parameters
    ----------
    each_N : Force of one clamp or bolt, above 0 [N]
    """
    if force.unit == "lbf":
        return force(each_N, ".1f")
    weight_g = 1000.0 * each_N / STANDARD_GRAVITY_m_s2
    return f"{force(each_N, '.1f')}, about {load(float(f'{weight_g:.2g}'))}"


def next_press_act(
    acts: Sequence[PressAct], since_s: float, tightened: int, again_s: Sequence[float], gel_s: float
) -> PressAct | None:
    """Find the next act at a closed press.

    Maybe not due yet; None where nothing is left to do. A round that was not logged is over once the first of those
    that come again is due, and one of these with the next.

    Parameters
    ----------
    since_s : Since the closing [s]
    tightened : Rounds that are done [-]
    again_s : When it was gone round again, from the closing [s]
    gel_s : From the closing until the first resin on the part may gel: after that nothing is tightened any more [s]
    """
    rounds = [act for act in acts if act.after_s == 0.0]
    last_s = max(again_s, default=0.0) + EARLY_S
    again = [act for act in acts if act.after_s > max(last_s, 0.0) and act.after_s < gel_s]
    if since_s >= gel_s:
        return None
    if tightened < len(rounds) and not again_s and since_s < min((act.after_s for act in again), default=gel_s):
        return rounds[tightened]
    late = [act for act in again if act.after_s <= since_s]
    return next(iter([*late[-1:], *again]), None)
