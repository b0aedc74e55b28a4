"""Split a job into batches: the fewest that all leave their cup and reach the press in time, with the most to spare.

The odds of closing in time, drawn from what is unsure about the resin and from how the crew's pace varies.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import accumulate
from math import inf
from typing import TYPE_CHECKING, Literal, NamedTuple

from layup.chemistry.numerics import Array, require_between
from layup.chemistry.uncertainty import Covariance
from layup.errors import RangeError
from layup.planning.clocks import LifeTable, Spread
from layup.planning.crew import Job
from layup.planning.plan import BATCH_PACE, DAY_PACE
from layup.planning.schedule import Split, follow, kept_up, nothing_fits

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


# -- batches ---------------------------------------------------------------------------------------------------------

MOST_BATCHES = 30
"""More than one bench can keep apart."""


_Segment = tuple[int, float, float, float]
"""One possible batch: the portion after its last, the margin of its cup, how long after its first laying the press may
close, and how long hands wait for it [s]. There are hundreds for each shop that is tried, so they have no names."""


class _Ways(NamedTuple):
    """Every batch of an allowed mass, in rows from each portion on; none of it depends on the resin or the shop."""

    starts: tuple[float, ...]
    """The work before each portion, and all of it at the end [s of one pair of hands]."""
    rows: tuple[tuple[tuple[int, float], ...], ...]
    """Where it ends, and how long hands wait for it [s]."""
    masses_g: tuple[float, ...]
    """Of all rows in turn, as the times in the cup."""
    held_s: tuple[float, ...]


class _Tail(NamedTuple):
    """One way to split the work from some portion on: hands wait `wait_s` in all, the smallest margin is `margin_s`."""

    wait_s: float
    margin_s: float
    end: int
    next: _Tail | None


def split_batches(job: Job, clocks: LifeTable) -> Split:
    """Split a job into the fewest batches that fit, and among those give the worst of them the most time to spare.

    The batches with their times and margins; if nothing fits, the split that misses by least, and why.

    A batch is a run of portions in bench order. It fits if its cup is empty in time, if all of its mix is still open
    when the press is closed (both `LifeTable.limits_s`), and if it weighs no less than the scale can weigh within 2 %
    and no more than the largest cup. Exact, by dynamic programming from the last portion back over the batches left:
    what is kept for each portion are the tails of which none is better in both the waiting it adds and its smallest
    margin. Only if no split keeps within these masses may a batch be mixed larger than it is laid, so that the
    scale can weigh it. Batches that fit, and that nobody could keep up with mixing, are not proposed. Times count from
    the start of the first weighing.
    """
    if not job.work.portions:
        return follow(job, clocks, ())
    for tried in (job, replace(job, padded=True)):
        best = _best(tried, clocks)
        if best is not None:
            split = follow(tried, clocks, _ends(best))
            return kept_up(split, tried) if split.fits else split
    return nothing_fits(job, MOST_BATCHES)


def _best(job: Job, clocks: LifeTable) -> _Tail | None:
    """Return the best way to split the whole work; None if there is none of allowed masses."""
    portions = job.work.portions
    ways = _ways(job)
    starts = ways.starts
    inner, final = _segments(ways, clocks, job.pace.stirring_s)
    fastest = [(starts[-1] - start + job.closing_s) / job.pace.full for start in starts]
    rooms = [room for _, _, room, _ in (*inner[0], *final[0])]
    best: tuple[float, _Tail] | None = None
    tails: list[list[_Tail]] = [*([] for _ in portions), [_Tail(0.0, inf, len(portions), None)]]
    for batches in range(1, min(MOST_BATCHES, len(portions)) + 1):
        mixing = (batches - 1) * job.pace.batch_cost_s
        segments = final if batches == 1 else inner
        if best is not None and max(rooms) - fastest[0] - mixing <= best[0]:
            break
        least = -inf if best is None else best[0]
        whole = _front(segments[0], tails, fastest[0] + mixing, least)
        for tail in whole:
            margin = min(tail.margin_s, job.close_by_s - job.ready_s - fastest[0] - mixing - tail.wait_s)
            if best is None or margin > best[0]:
                best = (margin, tail)
        if best is not None and best[0] >= 0.0:
            break
        least = -inf if best is None else best[0]
        later = [_front(segments[i], tails, fastest[i] + mixing, least) for i in range(1, len(portions))]
        if not any(later):
            break
        tails = [[], *later, []]
    return best[1] if best is not None else None


def _ends(tail: _Tail) -> tuple[int, ...]:
    ends = [tail.end]
    while tail.next is not None and tail.next.next is not None:
        tail = tail.next
        ends.append(tail.end)
    return tuple(ends)


@lru_cache(maxsize=8)
def _ways(job: Job) -> _Ways:
    """Return every batch of an allowed mass; kept while resin and shop are varied."""
    pace, portions = job.pace, job.work.portions
    after = [portion.after_s for portion in portions]
    starts = [0.0, *accumulate(portion.work_s + dry_s for portion, dry_s in zip(portions, after, strict=True))]
    rows, masses_g, held_s = [], [], []
    for begin in range(len(portions)):
        laid, row = 0.0, []
        for end in range(begin + 1, len(portions) + 1):
            laid += portions[end - 1].laid_g
            mass = job.mass_g(laid)
            if mass is None:
                continue
            last = end == len(portions)
            work = starts[end] - starts[begin]
            row.append((end, 0.0 if last else pace.wait_s(work)))
            masses_g.append(mass)
            held_s.append(pace.stirring_s + pace.elapsed_s(work - after[end - 1], work, last=last))
        rows.append(tuple(row))
    return _Ways(tuple(starts), tuple(rows), tuple(masses_g), tuple(held_s))


def _segments(ways: _Ways, clocks: LifeTable, stirring_s: float) -> tuple[list[list[_Segment]], list[list[_Segment]]]:
    """Return every allowed batch from each portion on: those with another after them, and the last ones."""
    count = len(ways.rows)
    inner: list[list[_Segment]] = []
    final: list[list[_Segment]] = []
    limits = zip(clocks.limits_s(ways.masses_g, ways.held_s), ways.held_s, strict=True)
    for row in ways.rows:
        timed = [
            (end, empty_by - held, open_low - stirring_s, wait)
            for (end, wait), ((empty_by, open_low), held) in zip(row, limits, strict=False)
        ]
        ends = bool(timed) and timed[-1][0] == count
        inner.append(timed[:-1] if ends else timed)
        final.append(timed[-1:] if ends else [])
    return inner, final


def _front(
    segments: Sequence[_Segment], tails: Sequence[Sequence[_Tail]], to_closing_s: float, least_s: float
) -> list[_Tail]:
    """Return the best tails that begin with one of `segments`, those with a margin above `least_s`.

    `to_closing_s` is the time to the closing but waits. A margin only shrinks with what comes before: a tail without
    more than a whole split has already is of no use.
    """
    found: list[_Tail] = []
    for end, cup_margin, room, wait in segments:
        if cup_margin <= least_s or room - to_closing_s <= least_s:
            continue
        for tail in tails[end]:
            waits = wait + tail.wait_s
            margin = min(cup_margin, room - to_closing_s - waits, tail.margin_s)
            if margin <= least_s:
                continue
            if not found or (waits == 0.0 and found[0].wait_s == 0.0 and len(found) == 1):
                if not found or margin > found[0].margin_s:
                    found = [_Tail(waits, margin, end, tail)]
            elif not any(one.wait_s <= waits and one.margin_s >= margin for one in found):
                found = [one for one in found if one.wait_s < waits or one.margin_s > margin]
                found.append(_Tail(waits, margin, end, tail))
    return found


# -- odds ------------------------------------------------------------------------------------------------------------

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
        assumptions=(
            f"The crew's pace varies by {100 * day_pace:.0f} % from day to day and "
            f"{100 * batch_pace:.0f} % from batch to batch (common practice, no source).",
            f"{draws} days drawn; the resin's own uncertainty is the one behind its 80 % band.",
            "The chance counts time alone: each cup empty by its time, the press closed while all is open.",
        ),
    )


@lru_cache(maxsize=4)
def _normals(unsure: int, paces: int, draws: int, seed: int) -> tuple[Array, Array, Array]:
    """Return the standard normals behind the days drawn: of the unsure things, of the day, of each batch's pace."""
    import numpy as np

    random = np.random.default_rng(seed)
    found = random.standard_normal((unsure, draws)), random.standard_normal(draws)
    return *found, random.standard_normal((paces, draws))


@lru_cache(maxsize=8)
def _paces(day_pace: float, batch_pace: float, unsure: int, paces: int, draws: int, seed: int) -> list[Array]:
    """Return how much slower than planned the crew is with each batch and the closing, on each day drawn."""
    import numpy as np

    _, day, batch_by_batch = _normals(unsure, paces, draws, seed)
    return [np.exp(day_pace * day + batch_pace * one) for one in batch_by_batch]


@lru_cache(maxsize=4)
def _moves(covariance: Covariance, draws: int, seed: int) -> Array:
    """Return how far each unsure thing is off on each day drawn, in its own standard deviations; then a row of ones."""
    import numpy as np

    values, vectors = np.linalg.eigh(np.asarray(covariance))
    moves = _moved(vectors * np.sqrt(np.maximum(values, 0.0)), _normals(len(values), 1, draws, seed)[0])
    return np.concatenate([moves, np.ones((1, draws))])


def _moved(slopes: Array, z: Array) -> Array:
    """Return slopes @ z, in pieces too small to be shared out to threads: they wait for each other longer than that."""
    import numpy as np

    found, piece = np.empty((len(slopes), z.shape[1])), max(LITTLE_WORK // slopes.size, 1)
    for i in range(0, z.shape[1], piece):
        np.matmul(slopes, z[:, i : i + piece], out=found[:, i : i + piece])
    return found


def _slopes(spread: Spread) -> Array:
    """Return how a cup's life, as a logarithm, and what stays open at each share of it move with `_moves`."""
    import numpy as np

    below, above = (np.array([side.left_s for side in sides]) for sides in zip(*spread.sides, strict=True))
    return np.concatenate([[[*spread.cup_slopes, 0.0]], np.concatenate([above - below, [spread.mid.left_s]]).T])


def _read(rows: Array, places: Sequence[float], at: Array) -> Array:
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
    read: Array = here + share * (there - here)
    return read


def _drawn_times(job: Job, split: Split, paces: Sequence[Array]) -> tuple[list[Array], list[Array], Array]:
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
    import numpy as np

    counts = enumerate(np.bincount(culprit[culprit >= 0], minlength=2 * batches).tolist())
    found = (Lost(code // 2 + 1, "part" if code % 2 else "cup", each / culprit.size) for code, each in counts if each)
    return tuple(sorted(found, key=lambda lost: -lost.share))
