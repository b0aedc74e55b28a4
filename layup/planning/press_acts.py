"""What is done at the press once it is closed: rounds to full force or pressure, and what comes again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from layup.chemistry.caul import Clamping
from layup.chemistry.closing import AGAIN_s, clamp_order
from layup.dimensions import STANDARD_GRAVITY_m_s2
from layup.errors import LayupError
from layup.planning.plan import Plan
from layup.planning.pressing import Pressing, clamp_row, pressing
from layup.units import force, load, pressure, system

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

    Parameters
    ----------
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
