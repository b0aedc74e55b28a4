"""How long a batch lasts in its cup and then on the part, and the one rule by which both are judged.

Whoever asks how a cup does, for a plan, a card, an alarm, a page or a review, asks here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import accumulate
from math import ceil, exp, floor, inf, log, log2
from typing import Any, Literal, TypeVar, get_args

from layup.chemistry.calibration import Calibration
from layup.chemistry.ensemble import CupEnsemble, ageing, cases_of, peaks_K, sd_of
from layup.chemistry.film import skin_share
from layup.chemistry.numerics import Array, Curve, cubic, monotone_curve
from layup.chemistry.prediction import HOT_K, SEMENOV_RUNAWAY, HeatClass, Vessel, heat_class
from layup.chemistry.uncertainty import EIGHTY_PERCENT, Band, Covariance, log_sd
from layup.errors import RangeError
from layup.planning.plan import Shop

EMPTY_BY: dict[HeatClass, float] = {"warm": 1.0, "hot": 0.9, "runaway": 0.8}
"""Share of a cup's life, low edge, in which it must be emptied. Nearly every cup of mix would run away if it were left
standing: what keeps it safe is to empty it well before it thickens (common practice, no source for the shares).
A cup past it is late for all who ask: card, act, plan, replan and odds."""
SOON_S, SOON_SHARE = 600.0, 0.2
"""How long before it must be dealt with a batch is first spoken of: 10 min, or a fifth of its life where that is less
(common practice, no source)."""
CLOSING_SPARE_S = 300.0
"""Time beyond that of closing the press itself at which everything else has to stop (common practice, no source)."""

LifeStage = Literal["fresh", "soon", "now", "may be over", "past"]
"""How a batch does, the calm first: soon to be dealt with, now, beyond the early end of its life, beyond the late."""
STAGES: tuple[LifeStage, ...] = get_args(LifeStage)
CUP_WORDS: dict[LifeStage, str] = dict(
    zip(STAGES, ("fresh", "empty soon", "empty now", "may be thick", "past its time"), strict=True)
)
PART_WORDS: dict[LifeStage, str] = dict(
    zip(STAGES, ("open", "close soon", "close now", "may be shut", "past its time"), strict=True)
)


@dataclass(frozen=True, slots=True)
class HotCup:
    """From which measured temperature on a cup is how far gone, whatever its clock says."""

    from_K: float
    stage: LifeStage
    word: str


HOT_CUPS = (HotCup(HOT_K, "past", "outside now"), HotCup(318.15, "now", CUP_WORDS["now"]))
"""A cup measured at 60 C is carried outside, one at 45 C emptied, the hottest first (common practice, no source)."""
HOT_FOR_S = 900.0
"""How long a hot reading counts if nobody reads again (common practice, no source)."""


def hot_cup(measured_K: float) -> HotCup | None:
    """Return what a cup's measured temperature alone says. None where it says nothing.

    >>> hot_cup(317.15), hot_cup(318.15).word, hot_cup(333.15).word
    (None, 'empty now', 'outside now')

    Parameters
    ----------
    measured_K : Temperature of the mix in its cup [K]
    """
    return next((row for row in HOT_CUPS if measured_K >= row.from_K), None)


def worse(one: LifeStage, other: LifeStage) -> LifeStage:
    """Return the worse of two stages, the later in `STAGES`."""
    return max(one, other, key=STAGES.index)


def empty_by_s(low_s: float, heat: HeatClass) -> float:
    """Return the time from first contact by which a cup must be empty.

    The only deadline of a cup that anybody is shown.

    >>> [empty_by_s(3000.0, heat) for heat in ("warm", "hot", "runaway")]
    [3000.0, 2700.0, 2400.0]

    Parameters
    ----------
    low_s : Low edge of its life [s]
    """
    return low_s * EMPTY_BY[heat]


@dataclass(frozen=True, slots=True)
class Due:
    """When one batch has to be dealt with: the times at which its stage changes, on one clock."""

    soon_s: float
    by_s: float
    low_s: float
    high_s: float

    def stage(self, at_s: float) -> LifeStage:
        return STAGES[sum(at_s >= edge_s for edge_s in (self.soon_s, self.by_s, self.low_s, self.high_s))]


def cup_due(contact_s: float, low_s: float, high_s: float, heat: HeatClass) -> Due:
    """Return when a cup has to be emptied.

    >>> due = cup_due(0.0, 3000.0, 4000.0, "runaway")
    >>> [due.stage(at_s) for at_s in (1799.0, 1800.0, 2400.0, 3000.0, 4000.0)]
    ['fresh', 'soon', 'now', 'may be over', 'past']

    Parameters
    ----------
    contact_s : First contact of resin and hardener [s]
    low_s : When it may be thick: low edge of the 80 % band, on the same clock [s]
    high_s : High edge [s]
    """
    return _due(contact_s, contact_s + empty_by_s(low_s - contact_s, heat), low_s, high_s)


def part_due(contact_s: float, low_s: float, high_s: float, closing_s: float) -> Due:
    """Return when everything but the closing of the press has to stop for a batch on the part.

    >>> due = part_due(0.0, 6000.0, 9000.0, 360.0)
    >>> due.by_s, due.stage(5000.0), due.stage(6000.0)
    (5340.0, 'soon', 'may be over')

    Parameters
    ----------
    contact_s : First contact of resin and hardener [s]
    low_s : When the press must be closed: low edge of its open life, on the same clock [s]
    high_s : High edge [s]
    closing_s : How long closing the press takes [s]
    """
    return _due(contact_s, low_s - closing_s - CLOSING_SPARE_S, low_s, high_s)


def _due(contact_s: float, by_s: float, low_s: float, high_s: float) -> Due:
    return Due(by_s - min(SOON_S, SOON_SHARE * (low_s - contact_s)), by_s, low_s, high_s)


@dataclass(frozen=True, slots=True)
class CupLife:
    """How long a batch stays usable in its cup, from first contact to thickening."""

    life_s: Band
    heat_class: HeatClass
    """At the dangerous edge of the band: in one case out of ten it is worse still."""

    @property
    def empty_by_s(self) -> float:
        """Return the time from first contact by which the cup must be empty [s]."""
        return empty_by_s(self.life_s.low, self.heat_class)


@dataclass(frozen=True, slots=True)
class Ageing:
    """One rate law's batch: its life in the cup, and how long mix still stays open that is laid on the way.

    `left_s` counts from when it is laid, one value for each of the spread's `shares` of this law's own cup life.
    """

    cup_s: float
    left_s: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Spread:
    """How the lives of one batch mass move with what is unsure about the resin."""

    shares: tuple[float, ...]
    """Of the cup's life, 0 to 1: the ages at which `Ageing.left_s` is known."""
    mid: Ageing
    sides: tuple[tuple[Ageing, Ageing], ...]
    """For each unsure thing, half a standard deviation to each side."""
    covariance: Covariance
    """Of the unsure things, in units of their own standard deviations."""

    @property
    def cup_slopes(self) -> tuple[float, ...]:
        """Return the change of the logarithm of the cup's life for one standard deviation of each unsure thing [-]."""
        return tuple(log(above.cup_s / below.cup_s) for below, above in self.sides)

    @property
    def cup_band_s(self) -> Band:
        """Return the cup's life [s]."""
        return Band.around(self.mid.cup_s, log_sd(self.cup_slopes, self.covariance))

    def open_band_s(self, held_s: float) -> Band:
        """Return how long all mix laid from first contact to `held_s` stays open [s].

        As in `LifeTable.limits_s`: what is laid first counts where it closes before what is laid last, and held beyond
        the cup's life counts as its end.
        """
        first, last = self.laid_bands_s((0.0, held_s))
        return Band(*map(min, first, last))

    def laid_bands_s(self, held_s: Sequence[float]) -> tuple[Band, ...]:
        """Return the open life of mix laid at each of `held_s`, from contact [s]."""
        mid = self._open(self.mid)
        sides = [(self._open(below), self._open(above)) for below, above in self.sides]
        ages = [min(held, self.cup_band_s.low) for held in held_s]
        return tuple(
            open_band_s(mid(age), log_sd([above(age) - below(age) for below, above in sides], self.covariance))
            for age in ages
        )

    def _open(self, law: Ageing) -> Callable[[float], float]:
        """Return the open life of a law, from first contact, against the age at which its mix is laid [s]."""
        left = monotone_curve(self.shares, law.left_s)
        return lambda held_s: held_s + left(min(held_s / law.cup_s, 1.0))


def open_band_s(mid_s: float, sd_s: float) -> Band:
    """Return the band of an open life.

    Log-normal, mid exp(+-1.2816 sd/mid), but for the high edge where sd is beyond mid: that one is mid + 1.2816 sd,
    for a life that is all but over does not last for ever in one case out of ten.

    >>> [round(edge) for edge in open_band_s(9000.0, 1350.0)], [round(edge) for edge in open_band_s(60.0, 600.0)]
    ([7426, 9000, 10908], [0, 60, 829])
    """
    if mid_s <= 0.0:
        return Band(mid_s, mid_s, mid_s)
    high_s = mid_s * exp(EIGHTY_PERCENT * sd_s / mid_s) if sd_s < mid_s else mid_s + EIGHTY_PERCENT * sd_s
    return Band(mid_s * exp(-EIGHTY_PERCENT * sd_s / mid_s), mid_s, high_s)


# -- the table -------------------------------------------------------------------------------------------------------

AGES = (0.0, 0.2, 0.4, 0.6, 0.75, 0.88, 1.0)
"""Ages at which mix may be laid, as shares of the cup's life at its low edge; a cup ages fastest near its end."""
SHARES = (0.0, 0.2, 0.4, 0.55, 0.67, 0.77, 0.85, 0.91, 0.96, 1.0)
"""The same, as shares of the whole life that one rate law gives the cup."""
CUP = Vessel.cup()
Cell = tuple[Shop, float]
"""A batch of a mass [g] in its shop."""
_Node = tuple[CupLife, Curve]
"""The cup of one cell, and the low edge of the open life of mix laid at `AGES`."""
Found = TypeVar("Found")
MOST_KNOWN = 4096
"""Batches of one resin that are kept tabulated."""


@dataclass(frozen=True, slots=True)
class LifeTable:
    """The clocks of a resin in a shop, read from a table of batch masses; build it with `life_tables`.

    The lives themselves are the pot-life engine's. Between the masses of the table, twice apart, the cup's life is a
    monotone curve in log-log, and the open life linear in log mass at the same share of the cup's life. All is within
    0.5 % of asking the engine itself from 5 to 35 C, within 1 % where resin and shop differ by 15 K.
    """

    calibration: Calibration
    shop: Shop
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
        return spreads(self.calibration, [(self.shop, mass_g)])[0]


def life_tables(
    calibration: Calibration, shops: Sequence[Shop], lightest_g: float, heaviest_g: float
) -> tuple[LifeTable, ...]:
    """Tabulate the lives of one calibrated resin in many shops over a range of batch masses: its cups march together.

    Low edges are those of the 80 % band: the cup's as in `predict_band`; the open life's L exp(-1.2816 sd/L), its sd
    from half a standard deviation to each side of everything unsure, as the band's. The whole batch is taken to stay
    in the cup until its last gram is laid, which errs on the side of shorter lives. In a cup warmer than the part the
    mix laid last is the first to close; in a colder one the mix laid first.
    """
    first = floor(log2(lightest_g) + 1e-9)
    last = max(ceil(log2(heaviest_g) - 1e-9), first + 1)
    powers = [float(power) for power in range(first, last + 1)]
    nodes = _worked_out(_nodes, calibration, [(shop, 2.0**power) for shop in shops for power in powers])
    return tuple(
        _table(calibration, shop, powers, nodes[at : at + len(powers)])
        for shop, at in zip(shops, range(0, len(nodes), len(powers)), strict=True)
    )


def spreads(calibration: Calibration, cells: Sequence[Cell]) -> list[Spread]:
    """Return how the lives of batches of one resin move, each in its shop."""
    return _worked_out(_spreads, calibration, cells)


@lru_cache(maxsize=16)
def _known(_work: object, _calibration: Calibration) -> dict[Cell, Any]:
    return {}


def _worked_out(
    work: Callable[[Calibration, Sequence[Cell]], list[Found]], calibration: Calibration, cells: Sequence[Cell]
) -> list[Found]:
    """Return what some work makes of each cell: those not known yet march together."""
    known = _known(work, calibration)
    if missing := [cell for cell in dict.fromkeys(cells) if cell not in known]:
        if len(known) > MOST_KNOWN:
            known.clear()
            missing = list(dict.fromkeys(cells))
        known.update(zip(missing, work(calibration, missing), strict=True))
    return [known[cell] for cell in cells]


def _table(calibration: Calibration, shop: Shop, powers: Sequence[float], nodes: Sequence[_Node]) -> LifeTable:
    low, mid, high = (
        monotone_curve(powers, list(map(log, edges))) for edges in zip(*(cup.life_s for cup, _ in nodes), strict=True)
    )
    heat, open_low = tuple(cup.heat_class for cup, _ in nodes), tuple(curve for _, curve in nodes)
    return LifeTable(calibration, shop, round(powers[0]), low, mid, high, heat, open_low)


def _nodes(calibration: Calibration, cells: Sequence[Cell]) -> list[_Node]:
    import numpy as np

    ensemble, masses_g, around_K, start_K, part_K = _ensemble(calibration, cells)
    mid_s = ensemble.working_s[0]
    band = np.exp(EIGHTY_PERCENT * sd_of(np.log(ensemble.working_s), calibration))
    held_s = np.array(AGES)[:, None] * (mid_s / band)
    left_s = _left_s(calibration, ensemble, held_s[:, None], part_K)
    open_s, sd_s = held_s + left_s[:, 0], sd_of(left_s, calibration)
    psi = ensemble.psi[0] * np.exp(EIGHTY_PERCENT * sd_of(np.log(ensemble.psi), calibration))
    # of those that run away, however warm they get, no peak is asked
    tame, warmest_K = np.flatnonzero(psi <= SEMENOV_RUNAWAY), np.full(len(cells), inf)
    if tame.size:
        at = {"mass_g": masses_g[tame], "start_K": start_K[tame], "ambient_K": around_K[tame]}
        warmest_K[tame] = peaks_K(calibration.kinetics, CUP, **at)
    heat = map(heat_class, psi.tolist(), warmest_K.tolist())
    bands = map(Band, (mid_s / band).tolist(), mid_s.tolist(), (mid_s * band).tolist())
    curves = map(_open_curve, open_s.T.tolist(), sd_s.T.tolist())
    return list(zip(map(CupLife, bands, heat), curves, strict=True))


def _ensemble(calibration: Calibration, cells: Sequence[Cell]) -> tuple[CupEnsemble, Array, Array, Array, Array]:
    """Return all cases of the resin in the cells; their masses [g], and temperatures of shop, cans and part [K]."""
    import numpy as np

    rows = [(mass_g, shop.temperature_K, shop.cans_K, shop.surface_K) for shop, mass_g in cells]
    masses_g, around_K, start_K, part_K = np.array(rows).reshape(-1, 4).T
    ensemble = ageing(cases_of(calibration), CUP, mass_g=masses_g, start_K=start_K, ambient_K=around_K)
    return ensemble, masses_g, around_K, start_K, part_K


def _left_s(calibration: Calibration, ensemble: CupEnsemble, held_s: Array, part_K: Array) -> Array:
    """Return how long mix stays open once it is laid: less than a thin film, as thick cloth warms itself."""
    import numpy as np

    shares = np.array([skin_share(calibration.kinetics, calibration.skin, kelvin) for kelvin in part_K.tolist()])
    warmed: Array = ensemble.left_s(held_s, part_K) * shares
    return warmed


def _open_curve(open_s: Sequence[float], sd_s: Sequence[float]) -> Curve:
    """Return the low edge of the open life of mix laid at `AGES`: once it falls it does not rise."""
    edges = [open_band_s(*edge).low for edge in zip(open_s, sd_s, strict=True)]
    longest = edges.index(max(edges))
    return monotone_curve(AGES, [*edges[:longest], *accumulate(edges[longest:], min)])


def _spreads(calibration: Calibration, cells: Sequence[Cell]) -> list[Spread]:
    import numpy as np

    ensemble, *_, part_K = _ensemble(calibration, cells)
    held_s = np.array(SHARES)[:, None, None] * ensemble.working_s
    left_s = _left_s(calibration, ensemble, held_s, part_K).transpose(2, 1, 0).tolist()
    found = []
    for cups_s, left in zip(ensemble.working_s.T.tolist(), left_s, strict=True):
        lives = [Ageing(cup_s, tuple(each)) for cup_s, each in zip(cups_s, left, strict=True)]
        sides = tuple(zip(lives[1::2], lives[2::2], strict=True))
        found.append(Spread(SHARES, lives[0], sides, calibration.covariance_in_use))
    return found
