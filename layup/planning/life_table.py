"""The lives of one resin in one shop, tabulated over the batch mass so that a plan may ask thousands of times.

The lives themselves are the pot-life engine's. Between the masses of the table, twice apart, the cup's life is a
monotone curve in log-log, and the open life linear in log mass at the same share of the cup's life. All is within
0.5 % of asking the engine itself from 5 to 35 C, within 1 % where resin and shop differ by 15 K.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate
from math import ceil, exp, floor, inf, log, log2
from typing import TYPE_CHECKING

from layup.chemistry.ageing import CupLanes, ageing, cases_of, sd_of
from layup.chemistry.calibration import Calibration
from layup.chemistry.film import skin_share
from layup.chemistry.lanes import ensemble
from layup.chemistry.numerics import Curve, cubic, monotone_curve, require_between, require_positive
from layup.chemistry.uncertainty import EIGHTY_PERCENT, Band
from layup.chemistry.vessel import SEMENOV_RUNAWAY, HeatClass, Vessel, heat_class
from layup.errors import RangeError
from layup.planning.clocks import EMPTY_BY, Ageing, CupLife, Spread, open_band_s
from layup.planning.plan import Shop

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

AGES = (0.0, 0.2, 0.4, 0.6, 0.75, 0.88, 1.0)
"""Ages at which mix may be laid, as shares of the cup's life at its low edge; a cup ages fastest near its end."""
SHARES = (0.0, 0.2, 0.4, 0.55, 0.67, 0.77, 0.85, 0.91, 0.96, 1.0)
"""The same, as shares of the whole life that one rate law gives the cup."""
CUP = Vessel.cup()
MOST_KNOWN = 4096
"""Batches of one resin that are kept tabulated."""


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
        return CupLife(Band(low, mid, high), self.heat[ceil(at - self.first)])

    def limits_s(self, masses_g: Sequence[float], held_s: Sequence[float]) -> list[tuple[float, float]]:
        """Return of each batch by when its cup must be empty, and the low edge of how long all it lays stays open [s].

        Both from first contact; all of it is laid by `held_s`.
        """
        import numpy as np

        at = np.log2(masses_g) - self.first
        if at.size and not 0.0 <= at.min() <= at.max() <= len(self.heat) - 1:
            raise RangeError("life table", "is read outside its points", value=f"{min(masses_g):g} g")
        below = np.minimum(at.astype(int), len(self.heat) - 2)
        share = at - below
        y, slopes = np.array(self.low.y), np.array(self.low.slopes)
        low_s = np.exp(cubic(share, np.ones(1), y[below], y[below + 1], slopes[below], slopes[below + 1]))
        ages, edges = np.array(AGES), np.array([curve.y for curve in self.open_low])
        falls = np.array([curve.slopes for curve in self.open_low])
        age = np.minimum(held_s / low_s, 1.0)
        i = np.minimum(np.searchsorted(ages, age, side="right"), len(AGES) - 1) - 1
        width = ages[i + 1] - ages[i]
        lighter, heavier = (
            cubic((age - ages[i]) / width, width, edges[k, i], edges[k, i + 1], falls[k, i], falls[k, i + 1])
            for k in (below, below + 1)
        )
        laid_last = (1.0 - share) * lighter + share * heavier
        shares = np.array([EMPTY_BY[heat] for heat in self.heat])[np.ceil(at).astype(int)]
        return list(zip((low_s * shares).tolist(), np.minimum(edges[below, 0], laid_last).tolist(), strict=True))

    def spread(self, mass_g: float) -> Spread:
        """Return how both lives move with what is unsure; asked of the engine, not of the table."""
        return spreads([self.resin], [mass_g])[0]


def life_tables(resins: Sequence[VesselResin], lightest_g: float, heaviest_g: float) -> tuple[LifeTable, ...]:
    """Tabulate the lives of one calibrated resin in many shops over a range of batch masses: its cups march together.

    Low edges are those of the 80 % band: the cup's as in `predict_band`; the open life's L exp(-1.2816 sd/L), its sd
    from half a standard deviation to each side of everything unsure, as the band's. The whole batch is taken to stay
    in the cup until its last gram is laid, which errs on the side of shorter lives. In a cup warmer than the part the
    mix laid last is the first to close; in a colder one the mix laid first.
    """
    require_positive("lightest batch", lightest_g, unit="g")
    require_between("heaviest batch", heaviest_g, lightest_g, 1e6, unit="g")
    first = floor(log2(lightest_g) + 1e-9)
    last = max(ceil(log2(heaviest_g) - 1e-9), first + 1)
    powers = range(first, last + 1)
    known = _known(resins[0].calibration, resins[0].vessel)
    cells = [(resin.shop, power) for resin in resins for power in powers]
    missing = [cell for cell in dict.fromkeys(cells) if cell not in known]
    if missing:
        if len(known) > MOST_KNOWN:
            known.clear()
            missing = list(dict.fromkeys(cells))
        known.update(zip(missing, _nodes(resins[0], missing), strict=True))
    return tuple(_table(resin, first, [known[resin.shop, power] for power in powers]) for resin in resins)


def _table(resin: VesselResin, first: int, nodes: Sequence[_Node]) -> LifeTable:
    powers = [float(first + i) for i in range(len(nodes))]
    return LifeTable(
        resin,
        first,
        monotone_curve(powers, [log(node.cup.life_s.low) for node in nodes]),
        monotone_curve(powers, [log(node.cup.life_s.likely) for node in nodes]),
        monotone_curve(powers, [log(node.cup.life_s.high) for node in nodes]),
        tuple(node.cup.heat_class for node in nodes),
        tuple(node.open_low for node in nodes),
    )


@dataclass(frozen=True, slots=True)
class _Node:
    cup: CupLife
    open_low: Curve


@lru_cache(maxsize=8)
def _known(_calibration: Calibration, _vessel: Vessel) -> dict[tuple[Shop, int], _Node]:
    """Return what is tabulated of a resin by now: by the shop, and the power of two of the mass."""
    return {}


def _nodes(resin: VesselResin, cells: Sequence[tuple[Shop, int]]) -> list[_Node]:
    """Return the lives of batches of 2**power g in their shops."""
    import numpy as np

    calibration = resin.calibration
    masses_g = np.array([2.0**power for _, power in cells])
    lanes, part_K = _lanes(resin, [shop for shop, _ in cells], masses_g)
    mid_s = lanes.working_s[0]
    band = np.exp(EIGHTY_PERCENT * sd_of(np.log(lanes.working_s), calibration))
    held_s = np.array(AGES)[:, None] * (mid_s / band)
    left_s = _left_s(resin, lanes, held_s[:, None], part_K)
    open_s, sd_s = held_s + left_s[:, 0], sd_of(left_s, calibration)
    psi = lanes.psi[0] * np.exp(EIGHTY_PERCENT * sd_of(np.log(lanes.psi), calibration))
    heat = _heat_classes(resin, [shop for shop, _ in cells], masses_g, psi)
    bands = map(Band, (mid_s / band).tolist(), mid_s.tolist(), (mid_s * band).tolist())
    lives = map(CupLife, bands, heat)
    edges = zip(open_s.T.tolist(), sd_s.T.tolist(), strict=True)
    return [_Node(life, _open_curve(*edge)) for life, edge in zip(lives, edges, strict=True)]


def _lanes(resin: VesselResin, shops: Sequence[Shop], masses_g: Array) -> tuple[CupLanes, Array]:
    """Return all cases of the resin in batches and their shops, and the temperature of the part in each [K]."""
    import numpy as np

    temperatures_K = [(shop.temperature_K, shop.cans_K, shop.surface_K) for shop in shops]
    around_K, start_K, part_K = np.array(temperatures_K).reshape(-1, 3).T
    cases = cases_of(resin.calibration)
    return ageing(cases, resin.vessel, mass_g=masses_g, start_K=start_K, ambient_K=around_K), part_K


def _left_s(resin: VesselResin, lanes: CupLanes, held_s: Array, part_K: Array) -> Array:
    """Return how long mix stays open once it is laid: less than a thin film, as thick cloth warms itself."""
    import numpy as np

    calibration = resin.calibration
    shares = np.array([skin_share(calibration.kinetics, calibration.skin, kelvin) for kelvin in part_K.tolist()])
    warmed: Array = lanes.left_s(held_s, part_K) * shares
    return warmed


def _open_curve(open_s: Sequence[float], sd_s: Sequence[float]) -> Curve:
    """Return the low edge of the open life of mix laid at `AGES`: once it falls it does not rise."""
    edges = [open_band_s(*edge).low for edge in zip(open_s, sd_s, strict=True)]
    longest = edges.index(max(edges))
    return monotone_curve(AGES, [*edges[:longest], *accumulate(edges[longest:], min)])


def _heat_classes(resin: VesselResin, shops: Sequence[Shop], masses_g: Array, psi: Array) -> list[HeatClass]:
    """Return the class of each batch at the dangerous edge of the band, as `LifeBand.heat_class_high`."""
    import numpy as np

    tame = [i for i, number in enumerate(psi.tolist()) if number <= SEMENOV_RUNAWAY]
    peaks_K = np.full(len(shops), inf)  # of those that run away, however warm they get
    if tame:
        around_K = np.array([shops[i].temperature_K for i in tame])
        start_K = np.array([shops[i].cans_K for i in tame])
        law, masses_g = resin.calibration.kinetics, masses_g[tame]
        lives = ensemble(law, resin.vessel, mass_g=masses_g, start_K=start_K, ambient_K=around_K)
        peaks_K[tame] = lives.peak_K
    return [heat_class(*each) for each in zip(psi.tolist(), peaks_K.tolist(), strict=True)]


@lru_cache(maxsize=8)
def _known_spreads(_calibration: Calibration, _vessel: Vessel) -> dict[tuple[Shop, float], Spread]:
    """Return the spreads of a resin that are worked out by now: by the shop and the mass."""
    return {}


def spreads(resins: Sequence[VesselResin], masses_g: Sequence[float]) -> list[Spread]:
    """Return how the lives of batches of one resin move, each in its shop: those not known yet march together."""
    known = _known_spreads(resins[0].calibration, resins[0].vessel)
    cells = [(resin.shop, mass_g) for resin, mass_g in zip(resins, masses_g, strict=True)]
    if missing := [cell for cell in dict.fromkeys(cells) if cell not in known]:
        if len(known) > MOST_KNOWN:
            known.clear()
            missing = list(dict.fromkeys(cells))
        known.update(zip(missing, _spreads(resins[0], missing), strict=True))
    return [known[cell] for cell in cells]


def _spreads(resin: VesselResin, cells: Sequence[tuple[Shop, float]]) -> list[Spread]:
    import numpy as np

    lanes, part_K = _lanes(resin, [shop for shop, _ in cells], np.array([mass_g for _, mass_g in cells]))
    held_s = np.array(SHARES)[:, None, None] * lanes.working_s
    left_s = _left_s(resin, lanes, held_s, part_K).transpose(2, 1, 0).tolist()
    found = []
    for cups_s, left in zip(lanes.working_s.T.tolist(), left_s, strict=True):
        lives = [Ageing(cup_s, tuple(each)) for cup_s, each in zip(cups_s, left, strict=True)]
        sides = tuple(zip(lives[1::2], lives[2::2], strict=True))
        found.append(Spread(SHARES, lives[0], sides, resin.calibration.covariance_in_use))
    return found
