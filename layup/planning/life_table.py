"""The lives of one resin in one shop, tabulated over the batch mass so that a plan may ask thousands of times.

The lives themselves are the pot-life engine's. Between the masses of the table, twice apart, the cup's life is a
monotone curve in log-log, and the open life linear in log mass at the same share of the cup's life. All is within
0.5 % of asking the engine itself from 5 to 35 C, within 1 % where resin and shop differ by 15 K.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import accumulate
from math import ceil, exp, floor, log, log2

from layup.chemistry.band import psi_at_the_edge
from layup.chemistry.calibration import Calibration
from layup.chemistry.kinetics import FULLY_CURED, Kinetics, reduced_time, unstretch
from layup.chemistry.prediction import heated_course, predict
from layup.chemistry.ranges import require_between, require_positive
from layup.chemistry.uncertainty import AS_SAID, EIGHTY_PERCENT, Use, log_sd
from layup.chemistry.vessel import SEMENOV_RUNAWAY, HeatClass, Vessel, heat_class
from layup.planning.clocks import Ageing, CupLife, Spread, empty_by_s, open_band_s
from layup.planning.monotone import Curve, monotone_curve
from layup.planning.plan import Shop

AGES = (0.0, 0.2, 0.4, 0.6, 0.75, 0.88, 1.0)
"""Ages at which mix may be laid, as shares of the cup's life at its low edge; a cup ages fastest near its end."""
SHARES = (0.0, 0.2, 0.4, 0.55, 0.67, 0.77, 0.85, 0.91, 0.96, 1.0)
"""The same, as shares of the whole life that one rate law gives the cup."""
CUP = Vessel.cup()
COARSE = 1e-4
"""Error of one integration step: good to 0.01 % in the times."""


@dataclass(frozen=True, slots=True)
class VesselResin:
    """A calibrated resin in one kind of vessel in one shop."""

    calibration: Calibration
    shop: Shop
    vessel: Vessel = CUP


@dataclass(frozen=True, slots=True)
class LifeTable:
    """The clocks of a resin, read from a table of batch masses; build it with `lives`."""

    resin: VesselResin
    first: int
    low: Curve
    mid: Curve
    high: Curve
    heat: tuple[HeatClass, ...]
    open_low: tuple[Curve, ...]
    """For each mass, the low edge of the open life of mix laid at a share of the cup's life."""

    def cup(self, mass_g: float) -> CupLife:
        """Return the life in the cup; between two masses of the table the heat class is the heavier one's."""
        at = log2(mass_g)
        low, mid, high = exp(self.low(at)), exp(self.mid(at)), exp(self.high(at))
        return CupLife(low, mid, high, self.heat[ceil(at - self.first)])

    def empty_by_s(self, mass_g: float) -> float:
        """Return the time from first contact by which the cup must be empty [s]."""
        at = log2(mass_g)
        return empty_by_s(exp(self.low(at)), self.heat[ceil(at - self.first)])

    def open_low_s(self, mass_g: float, held_s: float) -> float:
        """Return the low edge of how long all mix laid from first contact to `held_s` stays open on the part [s]."""
        at = log2(mass_g)
        age = min(held_s / exp(self.low(at)), 1.0)
        below = min(int(at - self.first), len(self.open_low) - 2)
        share = at - self.first - below
        laid_last = (1.0 - share) * self.open_low[below](age) + share * self.open_low[below + 1](age)
        return min(self.open_low[below].y[0], laid_last)

    def spread(self, mass_g: float) -> Spread:
        """Return how both lives move with what is unsure; asked of the engine, not of the table."""
        return _spread(self.resin, mass_g)


def life_table(resin: VesselResin, lightest_g: float, heaviest_g: float) -> LifeTable:
    """Tabulate the lives of a resin over a range of batch masses.

    Notes
    -----
    Low edges are those of the 80 % band: the cup's as in `predict_band`; the open life's L exp(-1.2816 sd/L), its sd
    from half a standard deviation to each side of everything unsure, as the band's. The whole batch is taken to stay
    in the cup until its last gram is laid, which errs on the side of shorter lives. In a cup warmer than the part the
    mix laid last is the first to close; in a colder one the mix laid first.
    """
    require_positive("lightest batch", lightest_g, unit="g")
    require_between("heaviest batch", heaviest_g, lightest_g, 1e6, unit="g")
    first = floor(log2(lightest_g) + 1e-9)
    last = max(ceil(log2(heaviest_g) - 1e-9), first + 1)
    nodes = [_node(resin, power) for power in range(first, last + 1)]
    powers = [float(power) for power in range(first, last + 1)]
    return LifeTable(
        resin,
        first,
        monotone_curve(powers, [log(node.cup.low_s) for node in nodes]),
        monotone_curve(powers, [log(node.cup.mid_s) for node in nodes]),
        monotone_curve(powers, [log(node.cup.high_s) for node in nodes]),
        tuple(node.cup.heat_class for node in nodes),
        tuple(node.open_low for node in nodes),
    )


@dataclass(frozen=True, slots=True)
class _Node:
    cup: CupLife
    open_low: Curve


@lru_cache(maxsize=2048)
def _node(resin: VesselResin, power: int) -> _Node:
    """Return the lives of a batch of 2**`power` g."""
    mass_g = 2.0**power
    mid, sides = _courses(resin, mass_g)
    covariance = resin.calibration.covariance_in_use
    band = exp(EIGHTY_PERCENT * log_sd([log(up.working_s / down.working_s) for down, up in sides], covariance))
    cup = CupLife(mid.working_s / band, mid.working_s, mid.working_s * band, _heat_class(resin, mass_g))
    edges = []
    for age in (share * cup.low_s for share in AGES):
        sd_s = log_sd([up.left_s(age) - down.left_s(age) for down, up in sides], covariance)
        edges.append(open_band_s(age + mid.left_s(age), sd_s)[0])
    longest = edges.index(max(edges))
    return _Node(cup, monotone_curve(AGES, [*edges[:longest], *accumulate(edges[longest:], min)]))


def _heat_class(resin: VesselResin, mass_g: float) -> HeatClass:
    """Return the class at the dangerous edge of the band, as `Band.heat_class_high`."""
    around = resin.shop.temperature_K
    start = resin.shop.resin_K or around
    psi = psi_at_the_edge(resin.calibration, resin.vessel, mass_g, max(start, around))
    if psi > SEMENOV_RUNAWAY:
        return "runaway"
    life = predict(resin.calibration.kinetics, resin.vessel, mass_g=mass_g, start_K=start, ambient=around)
    return heat_class(psi, life.peak_K)


def _spread(resin: VesselResin, mass_g: float) -> Spread:
    mid, sides = _courses(resin, mass_g)
    ageing = tuple((down.ageing(), up.ageing()) for down, up in sides)
    return Spread(SHARES, mid.ageing(), ageing, resin.calibration.covariance_in_use)


def _courses(resin: VesselResin, mass_g: float) -> tuple[_Course, list[tuple[_Course, _Course]]]:
    """Return the course of the likely law, and of half a standard deviation to each side of everything unsure."""
    law = resin.calibration.kinetics
    laws = [[_Course(resin, side, mass_g, AS_SAID) for side in pair] for pair in resin.calibration.variants]
    uses = [[_Course(resin, law, mass_g, side) for side in pair] for pair in resin.calibration.uses]
    return _Course(resin, law, mass_g, AS_SAID), [(below, above) for below, above in (*laws, *uses)]


@lru_cache(maxsize=256)
def _cup_curves(vessel: Vessel, shop: Shop, kinetics: Kinetics, mass_g: float, use: Use) -> tuple[Curve, Curve, float]:
    """Return time against y and y against time in the vessel, and when it thickens [s]."""
    nodes = (
        heated_course(
            kinetics,
            vessel,
            mass_g=use.mass_g(mass_g),
            start_K=use.start_K(shop.resin_K or shop.temperature_K),
            ambient=shop.temperature_K,
            conversion_end=kinetics.conversion_working,
            tolerance=COARSE,
        )
        .pieces[0]
        .nodes
    )
    times, ys = tuple(node.time_s for node in nodes), tuple(node.y for node in nodes)
    return (
        Curve(ys, times, tuple(node.time_slope for node in nodes)),
        Curve(times, ys, tuple(1.0 / node.time_slope for node in nodes)),
        times[-1],
    )


class _Course:
    """One rate law's course in the vessel, and how long mix taken from it stays open on the part."""

    __slots__ = ("a0", "closes", "kinetics", "rate_per_s", "time_of_y", "working_s", "y_of_time")

    def __init__(self, resin: VesselResin, kinetics: Kinetics, mass_g: float, use: Use) -> None:
        # what a film closes at, and the gel, change nothing in the cup
        in_cup = replace(kinetics, conversion_gel=FULLY_CURED - 1e-3, conversion_open=kinetics.conversion_working)
        self.time_of_y, self.y_of_time, self.working_s = _cup_curves(resin.vessel, resin.shop, in_cup, mass_g, use)
        shop = resin.shop
        self.kinetics = kinetics
        self.closes = reduced_time(kinetics, kinetics.conversion_film)
        self.rate_per_s = kinetics.rate_constant_per_s(shop.part_K or shop.temperature_K)

    def ageing(self) -> Ageing:
        """Return the life in the cup, and what is left of the open life of mix laid on the way."""
        return Ageing(self.working_s, tuple(self.left_s(share * self.working_s) for share in SHARES))

    def left_s(self, held_s: float) -> float:
        """Return how long mix stays open once it is laid, `held_s` after first contact."""
        y = self.y_of_time(held_s)
        y -= (self.time_of_y(y) - held_s) / self.time_of_y.slope(y)
        aged = reduced_time(self.kinetics, unstretch(y, self.kinetics.a0))
        return (self.closes - aged) / self.rate_per_s
