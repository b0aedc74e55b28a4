"""The mix under the press: until when it wets cloth and leaves, how much leaves, and what is done once it is closed."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import exp, inf, sqrt

from layup.chemistry.caul import Clamping
from layup.chemistry.closing import AGAIN_s, clamp_order
from layup.chemistry.kinetics import Kinetics, conversion_after, reduced_time
from layup.chemistry.laminate import CURED_DENSITY_G_CM3
from layup.chemistry.life_band import FilmFlow, film_flow
from layup.chemistry.uncertainty import EIGHTY_PERCENT, Band
from layup.chemistry.viscosity import (
    LEAVES_SHARE,
    PERMEABILITY_LOG,
    WETS_OUT_PA_S,
    Squeeze,
    conversion_leaving,
    conversion_thicker,
    known_Pa_s,
    share_that_leaves,
    viscosity_growth,
)
from layup.dimensions import STANDARD_GRAVITY_m_s2
from layup.errors import LayupError
from layup.planning.outline import shape
from layup.planning.plan import Plan
from layup.planning.planner import TOO_THICK_PA_S, PlanResult, thicker_below_K
from layup.planning.pressing import Pressing, clamp_row, pressing
from layup.units import force, in_minutes, length, load, mass, pressure, temperature

RICH_SHARE = 0.5
"""A part from which less than this share of what should leave does leave is called resin-rich (our own judgement)."""


@dataclass(frozen=True, slots=True)
class Flowing:
    """Until when one batch flows, from the start of the first weighing; None where it starts too thick for it."""

    number: int
    wets_until: Band | None
    squeezes_until: Band | None


def flowing(result: PlanResult) -> tuple[Flowing, ...]:
    """Return until when each batch wets cloth and leaves under the press, with the 80 % bands.

    One a batch; none where the viscosity on the part is not known.

    Each edge of a batch's open life is cut, or goes on, by as much as the same edge of a film's.
    """
    film = _film(result)
    if film is None:
        return ()
    found = []
    for batch in result.split.batches:
        open_s = result.clocks.spread(batch.mass_g).open_band_s(batch.held_s)
        limits = [
            until and _in_batch(until, film.flow, batch.contact_s, open_s)
            for until in (film.flow.wets, film.flow.leaves)
        ]
        found.append(Flowing(batch.number, *limits))
    return tuple(found)


def stops_flowing(result: PlanResult) -> Iterator[tuple[str, str]]:
    """Yield what no longer flows by the time it has to, as a plan's reasons to be tight, each also in three words.

    Judged at the low edge: the dose to a limit is used up evenly until then, and so is the open life's where a mix is
    too thick from the start.
    """
    yield from _stiff_on_the_part(result)
    film = _film(result)
    batches = result.split.batches
    if film is None or any(batch.part_margin_s < 0.0 or batch.open_low_s <= 0.0 for batch in batches):
        return
    law = result.calibration.kinetics
    laid_g = sum(batch.laid_g for batch in batches)
    out_g = sum(line.squeezed_g for line in result.budget.lines)
    stays_g, least, close_by_s = 0.0, 1.0, inf
    for batch in batches:
        wets_s, leaves_s = (
            batch.open_low_s * (_shares(until, film.flow)[0] if until else 0.0)
            for until in (film.flow.wets, film.flow.leaves)
        )
        laid_s, closed_s = batch.done_s - batch.contact_s, batch.open_low_s - batch.part_margin_s
        if 0.0 < wets_s < laid_s:
            wets = conversion_thicker(WETS_OUT_PA_S / film.fresh_Pa_s, law.conversion_gel)
            laid = min(conversion_after(law, reduced_time(law, wets) * laid_s / wets_s), law.conversion_film)
            thick_Pa_s = film.fresh_Pa_s * viscosity_growth(laid, law.conversion_gel)
            words = f"Batch {batch.number}: the last of it no longer wets cloth, {thick_Pa_s:.0f} Pa·s thick by then: "
            todo = f"lay it by {in_minutes(batch.contact_s + wets_s)}, or in smaller batches."
            yield words + todo, "late to wet"
        closing = _at_closing(law, film, 0, batch.open_low_s, closed_s)
        leaves = share_that_leaves(film.squeeze, law, film.fresh_Pa_s, film.part_K, closing)
        stays_g += (1.0 - leaves) * out_g * batch.laid_g / laid_g
        least, close_by_s = min(least, leaves), min(close_by_s, batch.contact_s + leaves_s)
    if least < LEAVES_SHARE:
        stays = f"{mass(stays_g)} of the {mass(out_g)}" if out_g else f"up to {100 * (1.0 - least):.0f} % of the mix"
        todo = f"close by {in_minutes(60.0 * (close_by_s // 60.0))}" if film.flow.leaves else "warm the part"
        yield f"Closed then, {stays} that should leave stay, resin-rich (a rough estimate): {todo}.", "resin-rich"


@dataclass(frozen=True, slots=True)
class SqueezedOut:
    """What leaves one press day's cloth by the time its mix no longer flows, and the laminate that is left."""

    share: Band
    """Of what would run out of a mix that never sets, 0..1."""
    out_g: Band
    """Of all pieces: what is to be wiped."""
    fraction: Band
    """Fibre by volume of the pressed cloth."""
    laminate_m: Band
    """All plies of one piece: its low edge goes with the high edge of the fraction."""
    planned_g: float | None
    planned_fraction: float

    @property
    def as_planned(self) -> bool:
        """Return whether what the plan counts on lies in the band."""
        return self.out_g.low <= (self.planned_g or 0.0) <= self.out_g.high

    @property
    def rich(self) -> bool:
        return self.share.likely < RICH_SHARE


def squeezed_out(result: PlanResult) -> SqueezedOut | None:
    """Find how much mix leaves under the press by the time it no longer flows.

    None where the viscosity on the part or the packing of its cloth is not known, or a batch is laid too late.

    What the cloth has no room for at its pressure, times Terzaghi's degree of consolidation from the closing to the
    gel. Low, likely and high take the low end, the middle and the high end of packing, permeability and open life.
    Source: T. G. Gutowski, Z. Cai et al., J. Compos. Mater. 21 (1987) 650; K. Terzaghi, Theoretical Soil Mechanics,
    1943, chapter 13 (both from memory).
    """
    film, press, day = _film(result), pressing(result.plan), result.timeline
    if film is None or day is None or not press.packs or press.planned_fraction is None:
        return None
    if any(batch.open_low_s <= 0.0 for batch in result.split.batches):
        return None
    share = Band(*(_share_out(result, film, edge, day.closed_s) for edge in range(3)))
    low_g, high_g = press.pressed_out_g
    runs_g = Band(low_g, 0.5 * (low_g + high_g), high_g)
    out_g = Band(*(grams * part for grams, part in zip(runs_g, share, strict=True)))
    left_cm3 = [(press.laid_g - grams) / CURED_DENSITY_G_CM3 for grams in out_g]
    fraction = Band(*(press.fibre_cm3 / (press.fibre_cm3 + volume) for volume in left_cm3))
    thick_m = [press.laminate_m * press.planned_fraction / part for part in reversed(tuple(fraction))]
    return SqueezedOut(share, out_g, fraction, Band(*thick_m), press.planned_out_g, press.planned_fraction)


def squeezed_words(found: SqueezedOut) -> str:
    """Say how much leaves under the press beside what the plan counts on, and what laminate that makes.

    One sentence, or two where they disagree.
    """
    low_g, likely_g, high_g = found.out_g
    low, likely, high = (100 * part for part in found.fraction)
    planned = "none planned" if found.planned_g is None else f"planned {mass(found.planned_g)}"
    words = (
        f"Squeezed out ≈ {mass(likely_g)} ({mass.digits(low_g)}-{mass.digits(high_g)}; {planned}): "
        f"{likely:.0f} % fibre by volume ({low:.0f}-{high:.0f}), {length(found.laminate_m.likely, '.1f')}."
    )
    if found.rich:
        return f"{words} It closes too late: the part will stay resin-rich."
    return words if found.as_planned else f"{words} Not as planned: weigh what you wipe off."


def _share_out(result: PlanResult, film: _Film, edge: int, closed_s: float) -> float:
    """Return the share that leaves all batches after the closing, by one edge of what is unsure."""
    law, batches = result.calibration.kinetics, result.split.batches
    scatter = exp((edge - 1) * EIGHTY_PERCENT * PERMEABILITY_LOG)
    squeeze = replace(film.squeeze, permeability_m2=film.squeeze.permeability_m2 * scatter)
    total = 0.0
    for batch in batches:
        open_s = result.clocks.spread(batch.mass_g).open_band_s(batch.held_s)[edge]
        closing = _at_closing(law, film, edge, open_s, closed_s - batch.contact_s)
        total += batch.laid_g * share_that_leaves(squeeze, law, film.fresh_Pa_s, film.part_K, closing)
    return total / sum(batch.laid_g for batch in batches)


def _at_closing(law: Kinetics, film: _Film, edge: int, open_s: float, closed_s: float) -> float:
    """Return a batch's conversion when the press closes: its dose is used up evenly until the limit that is known."""
    enough = conversion_leaving(film.squeeze, law, film.fresh_Pa_s, film.part_K)
    if enough is None or film.flow.leaves is None:
        ends, ends_s = law.conversion_film, open_s
    else:
        ends, ends_s = enough, open_s * _shares(film.flow.leaves, film.flow)[edge]
    return conversion_after(law, reduced_time(law, ends) * closed_s / ends_s) if ends_s > 0.0 else 1.0


def _in_batch(until: Band, film: FilmFlow, contact_s: float, open_s: Sequence[float]) -> Band:
    """Return a film's limit for a batch with that open life, on the plan's clock."""
    return Band(*(contact_s + edge_s * share for edge_s, share in zip(open_s, _shares(until, film), strict=True)))


def _shares(until: Band, film: FilmFlow) -> tuple[float, ...]:
    """Return a limit over the open life, edge by edge."""
    return tuple(edge_s / open_s for edge_s, open_s in zip(until, film.open, strict=True))


def _stiff_on_the_part(result: PlanResult) -> Iterator[tuple[str, str]]:
    """Yield a mix from warm cans that is too thick to flow once it has the temperature of a cold part."""
    part_K = result.shop.surface_K
    thick_K = thicker_below_K(result.datasheet.viscosities, TOO_THICK_PA_S) if result.plan.lays else None
    if thick_K is not None and part_K < thick_K <= result.shop.cans_K:
        words = f"On the part, at {temperature(part_K)}, the mix no longer flows when the press closes: "
        todo = f"warm mould and core to {temperature(thick_K)} (common practice, no source)."
        yield words + todo, "stiff on part"


@dataclass(frozen=True, slots=True)
class _Film:
    """The mix as a film on the part, and the press on it."""

    fresh_Pa_s: float
    part_K: float
    squeeze: Squeeze
    flow: FilmFlow


def _film(result: PlanResult) -> _Film | None:
    """Return the mix as a film on the part; None where its viscosity there is not known."""
    plan, part_K = result.plan, result.shop.surface_K
    fresh_Pa_s = known_Pa_s(result.datasheet.viscosities, part_K) if plan.lays else None
    if fresh_Pa_s is None:
        return None
    press = pressing(plan)
    length_m = shape(plan.outline).length_m
    width_m = press.area_m2 / length_m if length_m else sqrt(press.area_m2)  # where only an area is known, a square's
    squeeze = Squeeze(press.pressure_Pa, 0.5 * width_m)
    return _Film(fresh_Pa_s, part_K, squeeze, film_flow(result.calibration, squeeze, fresh_Pa_s, part_K))


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
