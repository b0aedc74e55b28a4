"""One piece in its press: pressure, force, the row of clamps over it, and the fibre fraction to expect."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from layup.chemistry.caul import CAULS, UNEVEN, Clamping, bed_of_caul, clamping, row_of_clamps
from layup.chemistry.closing import AGAIN_s, bag_pressure_Pa, clamp_order, press_force_N
from layup.chemistry.compaction import Fraction, HIGHEST_Pa, LOWEST_Pa, bed_give_m, fibre_fraction_under_pressure
from layup.chemistry.laminate import CURED_DENSITY_G_CM3
from layup.chemistry.ranges import require_positive
from layup.dimensions import STANDARD_GRAVITY_m_s2
from layup.errors import InputError, LayupError
from layup.planning.budget import Line, mean_fibre_fractions, step_lines
from layup.planning.outline import area_m2, needed_length_m
from layup.planning.plan import Board, FabricStep, Plan, Step
from layup.units import force, load, mass, pressure, system

USUAL_PRESSURE_PA = 100_000.0
"""Pressure where the plan states none: one atmosphere (common practice, no source)."""
USUAL_LEFT_PA = 10_000.0
"""What a shop's pump leaves in a bag (common practice, no source)."""
USUAL_CAUL = Board("birch plywood", 0.030)
"""The caul where the plan states none (common practice, no source)."""
USUAL_CLOTH = "stitched"
EARLY_S = 60.0
"""Whoever goes round again so much too early need not once more (common practice, no source)."""


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

    @property
    def force_N(self) -> float:
        """Return the force on one piece [N]."""
        return press_force_N(self.pressure_Pa, self.area_m2)

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
    plan : Plan
        The part and how it is closed [-]
    method : str or None
        "clamps", "bolts", "bladder" or "bag"; None takes the plan's [-]
    wanted_Pa : float or None
        Pressure wanted; None takes the plan's, and 100 kPa where it states none [Pa]
    altitude_m : float
        Of the shop, for a bag [m]
    left_Pa : float
        What the pump leaves in a bag [Pa]
    cloth : str
        Kind of cloth: "mat", "woven", "stitched" or "unidirectional" [-]

    Returns
    -------
    Pressing
        Area, pressure, and what the plan aims at [m^2, Pa]

    Raises
    ------
    RangeError
        For a value outside its range.
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
        fibre_cm3=sum(map(_fibre_cm3, plan.steps, lines)),
        laid_g=sum(line.mix_g for line in cloth_lines),
        planned_out_g=None if plan.losses.squeeze_out is None else sum(line.squeezed_g for line in cloth_lines),
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

    Parameters
    ----------
    plan : Plan
        The part [-]
    press : Pressing
        Its pressure [-]
    caul : Board or None
        The caul; None takes the plan's, and 30 mm of birch plywood where it states none [-]
    uneven : float
        Share of the pressure that may be missing at the worst place [-]
    clamps : int or None
        How many there are; None takes the plan's, and as many as evenness and rating ask where it states none [-]
    rating_N : float or None
        The most that one clamp may give; None takes the plan's, and no limit where it states none [N]

    Returns
    -------
    Clamping
        Number, spacing and evenness [m]

    Raises
    ------
    InputError
        For a plan that lays no cloth, or whose outline has no length.
    RangeError
        For a value outside its range.
    """
    if press.laminate_m == 0.0:
        todo = "clamps cannot be spaced for it"
        raise InputError(plan.title, "lays no cloth, so nothing gives under the caul", todo=todo)
    caul, backing = caul or plan.closing.caul or USUAL_CAUL, plan.closing.backing
    bed = bed_of_caul(
        needed_length_m(plan.outline, "a caul"),
        caul.thickness_m,
        CAULS[caul.material].modulus_Pa,
        press.pressure_Pa,
        bed_give_m(press.cloth, press.laminate_m),
        backing_m=backing.thickness_m if backing else None,
        backing_Pa=CAULS[backing.material].modulus_Pa if backing else None,
    )
    count = plan.closing.clamps if clamps is None else clamps
    if count is not None:
        return row_of_clamps(bed, count)
    rating_N = plan.closing.clamp_rating_N if rating_N is None else rating_N
    at_least = 2 if rating_N is None else ceil(press.force_N / require_positive("rating", rating_N, unit="N"))
    return clamping(bed, uneven, max(2, at_least))


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

    Parameters
    ----------
    press : Pressing
        One piece under its pressure [-]
    row : Clamping or None
        Its clamps or bolts; None where there is no row, or its count is not known [-]
    pieces : int
        How many such pieces are closed, each with a row of its own [-]

    Returns
    -------
    acts : tuple[PressAct, ...]
        First the rounds to full force or pressure, due at once, then those that come again [s]

    Notes
    -----
    Half the force on all of them first, then all of it, from the middle outwards; again after 5 and 15 minutes, as
    resin flows out and the force falls. A bladder is raised in two steps with a look for leaks between them. All of it
    common practice, no source.
    """
    again_s = AGAIN_s[press.method]
    if press.in_a_row:
        order = () if row is None else clamp_order(row.count)
        each_N = 0.0 if row is None else press.force_N / row.count
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

    Parameters
    ----------
    plan : Plan
        The part and how it is closed [-]

    Returns
    -------
    acts : tuple[PressAct, ...]
        As `press_acts` has them; without forces and order where the clamps cannot be counted [-]
    """
    press = pressing(plan)
    try:
        row = clamp_row(plan, press) if press.in_a_row else None
    except LayupError:
        row = None
    return press_acts(press, row, pieces=plan.pieces)


def pull_words(each_N: float) -> str:
    """Say how hard one clamp pulls, with the weight that pulls as hard, which people can picture.

    Parameters
    ----------
    each_N : float
        Force of one clamp or bolt, above 0 [N]

    Returns
    -------
    str
        "2.8 kN, about 290 kg"; in pounds of force alone, which are the weight of as many pounds [-]
    """
    if system() == "us":
        return force(each_N, ".1f")
    weight_g = 1000.0 * each_N / STANDARD_GRAVITY_m_s2
    return f"{force(each_N, '.1f')}, about {load(float(f'{weight_g:.2g}'))}"


def next_press_act(
    acts: Sequence[PressAct], since_s: float, tightened: int, again_s: Sequence[float], gel_s: float
) -> PressAct | None:
    """Find the next act at a closed press.

    Parameters
    ----------
    acts : Sequence[PressAct]
        All of them, as `press_acts` has them [-]
    since_s : float
        Since the closing [s]
    tightened : int
        Rounds that are done [-]
    again_s : Sequence[float]
        When it was gone round again, from the closing [s]
    gel_s : float
        From the closing until the first resin on the part may gel: after that nothing is tightened any more [s]

    Returns
    -------
    PressAct or None
        Maybe not due yet; None where nothing is left to do. A round that was not logged is over once the first of those
        that come again is due, and one of these with the next [-]
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


def overloaded_words(press: Pressing, row: Clamping, rating_N: float | None) -> str:
    """Say that each clamp of a row would have to give more than it may.

    Parameters
    ----------
    press : Pressing
        One piece under its pressure [-]
    row : Clamping
        Its clamps or bolts [-]
    rating_N : float or None
        The most that one of them may give; None where it is not given [N]

    Returns
    -------
    str
        A sentence; empty where they hold, or where the rating is not given [-]
    """
    each_N = press.force_N / row.count
    if rating_N is None or each_N <= rating_N:
        return ""
    return (
        f"Each of the {row.count} {press.method} would have to give {force(each_N, '.1f')}, and is rated for "
        f"{force(rating_N, '.1f')}: take more of them or stronger ones."
    )


def pressed_out_words(press: Pressing) -> str:
    """Say how much resin runs out of the cloth if the press packs it as expected, beside what the plan counts on.

    Parameters
    ----------
    press : Pressing
        One piece under its pressure, with the cloth of all [-]

    Returns
    -------
    str
        Two sentences at most; empty without cloth, or under a pressure for which its packing is not known [-]
    """
    if press.planned_fraction is None or not press.packs:
        return ""
    (low, high), (low_g, high_g) = press.fraction, press.pressed_out_g
    planned = "not given, so none is counted on"
    if press.planned_out_g is not None:
        planned = f"{mass(press.planned_out_g)} ({100 * press.planned_out_g / press.laid_g:.0f} %)"
    words = (
        f"Pressed to {100 * low:.0f} to {100 * high:.0f} % fibre by volume, {mass.digits(low_g)} to {mass(high_g)} "
        "of the "
        f"{mass(press.laid_g)} in the cloth run out ({100 * low_g / press.laid_g:.0f} to "
        f"{100 * high_g / press.laid_g:.0f} %); planned: {planned}, for {100 * press.planned_fraction:.0f} %."
    )
    if low_g <= (press.planned_out_g or 0.0) <= high_g:
        return words
    return f"{words} One of them is wrong: weigh what runs out."


def _fibre_cm3(step: Step, line: Line) -> float:
    return line.glass_g / step.fibre_density_g_cm3 if isinstance(step, FabricStep) else 0.0
