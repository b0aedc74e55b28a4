"""The odds of closing in time, drawn from what is unsure about the resin and from how the crew's pace varies."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal

from layup.chemistry.numerics import require_between
from layup.chemistry.uncertainty import Covariance
from layup.errors import RangeError
from layup.planning.clocks import LifeTable, Spread
from layup.planning.crew import Job
from layup.planning.plan import BATCH_PACE, DAY_PACE
from layup.planning.schedule import Split

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

DRAWS = 10_000
LITTLE_WORK = 500_000
"""Products of a matrix that one thread works out by itself."""


@dataclass(frozen=True, slots=True)
class Lost:
    """Where days are lost: the share (0..1) of all draws in which this was the first thing to go wrong."""

    batch: int
    where: Literal["cup", "part"]
    share: float


@dataclass(frozen=True, slots=True)
class Odds:
    """The chance (0..1) of closing in time, and where it is lost, the most frequent first."""

    chance: float
    lost: tuple[Lost, ...]
    draws: int
    assumptions: tuple[str, ...]

    @property
    def words(self) -> str:
        """Return the chance as people read it: no number of drawn days makes one certain [-]."""
        if self.chance > 0.99:
            return ">99 %"
        return "<1 %" if self.chance < 0.01 else f"{100 * self.chance:.0f} %"


def odds(
    job: Job,
    split: Split,
    clocks: LifeTable,
    *,
    draws: int = DRAWS,
    seed: int = 1,
    day_pace: float = DAY_PACE,
    batch_pace: float = BATCH_PACE,
) -> Odds:
    """Draw many press days and count those that close in time.

    Raises RangeError for no batches to draw, or a number out of range.

    One draw is one day: the unsure things about the resin are normal, z_i with their covariance, and all batches share
    them. A cup lives t exp(sum S_i z_i), mix once it is laid L + sum s_i z_i, both read at the share of this draw's own
    cup life at which it is laid, first or last, whichever sets earlier; none sets before it is laid. Times of mixing,
    laying and closing are stretched by exp(day_pace z + batch_pace z_b). A day is lost if a cup is past `empty by`, the
    one deadline of a cup, or thickens before it is empty, or if mix sets before the press is closed; it is booked on
    what happens first. Within 0.04 of integrating each draw in full.

    Parameters
    ----------
    draws : Days to draw, 100 to 1 000 000 [-]
    seed : Start of the random numbers: the same seed gives the same odds [-]
    day_pace : Spread of the crew's pace from day to day, as a logarithm, 0 to 1 [-]
    batch_pace : Spread of the pace from batch to batch within a day, as a logarithm, 0 to 1 [-]
    """
    if not split.batches:
        raise RangeError("odds", "have no batches to draw", todo="make the plan fit first")
    require_between("draws", draws, 100, 1_000_000)
    require_between("day pace", day_pace, 0.0, 1.0)
    require_between("batch pace", batch_pace, 0.0, 1.0)
    import numpy as np

    spreads = [clocks.spread(batch.mass_g) for batch in split.batches]
    covariance = spreads[0].covariance
    z = _moves(covariance, draws, seed)
    paces = _paces(day_pace, batch_pace, len(covariance), len(split.batches) + 1, draws, seed)
    contacts, empties, closed = _drawn_times(job, split, paces)
    first = np.full(draws, np.inf)
    culprit = np.full(draws, -1)
    cups = zip(split.batches, spreads, contacts, empties, strict=True)
    for i, (batch, spread, contact, empty) in enumerate(cups):
        held = empty - contact
        rows = _moved(_slopes(spread), z)
        lives = spread.mid.cup_s * np.exp(rows[0])
        late = contact + np.minimum(lives, batch.cup.empty_by_s)
        last = held + np.maximum(_read(rows[1:], spread.shares, held / lives), 0.0)
        sets = contact + np.minimum(rows[1], last)
        for code, ends, needed in ((2 * i, late, empty), (2 * i + 1, sets, closed)):
            if not (earlier := (ends < needed) & (ends < first)).any():
                continue
            first, culprit = np.where(earlier, ends, first), np.where(earlier, code, culprit)
    return Odds(
        chance=float(np.mean(culprit < 0)),
        lost=_lost(culprit, len(spreads)),
        draws=draws,
        assumptions=(
            f"The crew's pace varies by {100 * day_pace:.0f} % from day to day and "
            f"{100 * batch_pace:.0f} % from batch to batch (common practice, no source).",
            f"{draws} days drawn; the resin's own uncertainty is the one behind its 80 % band.",
            "The chance counts time alone: each cup empty by its time, the press closed while all is open.",
        ),
    )


@lru_cache(maxsize=4)
def _normals(
    unsure: int, paces: int, draws: int, seed: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """Return the standard normals behind the days drawn: of the unsure things, of the day, of each batch's pace."""
    import numpy as np

    random = np.random.default_rng(seed)
    found = random.standard_normal((unsure, draws)), random.standard_normal(draws)
    return *found, random.standard_normal((paces, draws))


@lru_cache(maxsize=8)
def _paces(
    day_pace: float, batch_pace: float, unsure: int, paces: int, draws: int, seed: int
) -> list[NDArray[np.float64]]:
    """Return how much slower than planned the crew is with each batch and the closing, on each day drawn."""
    import numpy as np

    _, day, batch_by_batch = _normals(unsure, paces, draws, seed)
    return [np.exp(day_pace * day + batch_pace * one) for one in batch_by_batch]


@lru_cache(maxsize=4)
def _moves(covariance: Covariance, draws: int, seed: int) -> NDArray[np.float64]:
    """Return how far each unsure thing is off on each day drawn, in its own standard deviations; then a row of ones."""
    import numpy as np

    values, vectors = np.linalg.eigh(np.asarray(covariance))
    moves = _moved(vectors * np.sqrt(np.maximum(values, 0.0)), _normals(len(values), 1, draws, seed)[0])
    return np.concatenate([moves, np.ones((1, draws))])


def _moved(slopes: NDArray[np.float64], z: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return slopes @ z, in pieces too small to be shared out to threads: they wait for each other longer than that."""
    import numpy as np

    found, piece = np.empty((len(slopes), z.shape[1])), max(LITTLE_WORK // slopes.size, 1)
    for i in range(0, z.shape[1], piece):
        np.matmul(slopes, z[:, i : i + piece], out=found[:, i : i + piece])
    return found


def _slopes(spread: Spread) -> NDArray[np.float64]:
    """Return how a cup's life, as a logarithm, and what stays open at each share of it move with `_moves`."""
    import numpy as np

    below, above = (np.array([side.left_s for side in sides]) for sides in zip(*spread.sides, strict=True))
    return np.concatenate([[[*spread.cup_slopes, 0.0]], np.concatenate([above - below, [spread.mid.left_s]]).T])


def _read(rows: NDArray[np.float64], places: Sequence[float], at: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return each column at a place of its own, straight between rows.

    Beyond the last a cup is lost already, and its mix counts as laid at the end.
    """
    import numpy as np

    edges, passed = np.array(places), np.zeros(at.size, dtype=np.uint8)
    for edge in places[1:-1]:
        passed += at >= edge
    before = passed.astype(np.intp)
    share = np.minimum((at - edges.take(before)) / np.diff(edges).take(before), 1.0)
    low = before * at.size + np.arange(at.size)
    here, there = rows.take(low), rows.take(low + at.size)
    read: NDArray[np.float64] = here + share * (there - here)
    return read


def _drawn_times(
    job: Job, split: Split, paces: Sequence[NDArray[np.float64]]
) -> tuple[list[NDArray[np.float64]], list[NDArray[np.float64]], NDArray[np.float64]]:
    """Return first contact and emptying of each batch, and the closing, in every draw."""
    stirring, contacts, empties = job.pace.stirring_s, [], []
    lay = job.ready_s * paces[0]
    for i, batch in enumerate(split.batches):
        contacts.append(lay - stirring * paces[i])
        empties.append(lay + (batch.emptied_s - batch.lay_s) * paces[i])
        after = split.batches[i + 1].lay_s if i + 1 < len(split.batches) else batch.done_s
        lay = lay + (after - batch.lay_s) * paces[i]
    return contacts, empties, lay + job.closing_s / job.pace.full * paces[-1]


def _lost(culprit: NDArray[np.int_], batches: int) -> tuple[Lost, ...]:
    """Count what went wrong first."""
    import numpy as np

    counts = np.bincount(culprit[culprit >= 0], minlength=2 * batches).tolist()
    found = [
        Lost(code // 2 + 1, "part" if code % 2 else "cup", count / culprit.size)
        for code, count in enumerate(counts)
        if count
    ]
    return tuple(sorted(found, key=lambda lost: -lost.share))
