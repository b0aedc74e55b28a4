"""How long a batch lasts in its cup and then on the part, and the one rule by which both are judged.

Whoever asks how a cup does, for a plan, a card, an alarm, a page or a review, asks here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import exp, log
from typing import Literal, Protocol, get_args

from layup.chemistry.numerics import monotone_curve
from layup.chemistry.uncertainty import EIGHTY_PERCENT, Band, Covariance, log_sd
from layup.chemistry.vessel import HOT_K, HeatClass

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
        """Return how the batch does at a time [s]."""
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

        As in `Clocks.limits_s`: what is laid first counts where it closes before what is laid last, and held beyond
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


class Clocks(Protocol):
    """The lives of one resin in one shop, for a batch of any mass. All times count from first contact."""

    def cup(self, mass_g: float) -> CupLife:
        """Return the life in the cup."""

    def limits_s(self, masses_g: Sequence[float], held_s: Sequence[float]) -> Sequence[tuple[float, float]]:
        """Return two limits of each batch: `cup(mass_g).empty_by_s`, and how long its mix stays open on the part.

        That is the low edge for all mix laid from first contact to `held_s`. Held beyond the cup's life counts as its
        end: the cup's own limit says the rest.
        """

    def spread(self, mass_g: float) -> Spread:
        """Return how both lives move with what is unsure."""
