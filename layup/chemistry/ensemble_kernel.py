"""The kernel of the ensemble: many lives that march side by side through the stretched variable, in numpy.

The state of a lane is its temperature above the surroundings and its age in cooling times. e^y is carried along by
multiplication, so the one exponential left is the rate constant's.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from layup.chemistry.kinetics import GAUSS, GAUSS_PANEL
from layup.errors import RangeError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]
    Indices = tuple[NDArray[np.intp], ...]

CHUNK = 8192
"""Lanes marched together: their arrays stay in a core's cache."""
FEWEST_STEPS = 8
LONGEST_STEP = 0.4
"""In y: what self-heating alone needs."""
COOLING_PER_STEP = 1.2
"""Longest step, in cooling times, for 0.1 % of a pot life; the method itself is stable to 2.78."""
MOST_STEPS = 2.0**15
"""More than this and the mix is so thin that it has no temperature of its own."""
TRACK_NODES = 16
"""Even stretches of y whose ends a track keeps; it marches in at least as many steps, and in twice those a time needs,
so that it is good to 0.01 %."""
CLIMB_STEPS = 32
"""From gel to full cure, for the lanes that still warm up there."""
JUMP_COST = 4.0
"""How much shorter each unit of ln k between the start and the surroundings makes the steps."""


@dataclass(frozen=True, slots=True)
class Laws:
    """What does not change along a lane; arrays that fit each other, one entry a lane or one for all of them."""

    ambient_K: Array
    over_R_K: Array
    """Ea/R."""
    rest: Array
    """1/(tau k) at an infinite temperature: what exp(Ea/(R T)) is multiplied with."""
    growth_per_K: Array
    """Of the loss with the excess."""
    rise_K: Array
    a0: Array
    m: Array
    n: Array
    default_order: bool

    def pick(self, which: Indices, shape: tuple[int, int]) -> Laws:
        """Return the laws of some lanes of a block, by row and column."""
        return Laws(
            ambient_K=_pick(self.ambient_K, which, shape),
            over_R_K=_pick(self.over_R_K, which, shape),
            rest=_pick(self.rest, which, shape),
            growth_per_K=_pick(self.growth_per_K, which, shape),
            rise_K=_pick(self.rise_K, which, shape),
            a0=_pick(self.a0, which, shape),
            m=_pick(self.m, which, shape),
            n=_pick(self.n, which, shape),
            default_order=self.default_order,
        )

    def node(self, growth: Array) -> tuple[Array, Array]:
        """Return what the slopes need at one e^y: (dG/dy)/(tau k) without its exponential, and the heating."""
        grown = self.a0 * growth
        below = 1.0 + grown
        per_y = (1.0 + self.a0) * grown / (below * below)
        if self.default_order:
            return self.rest / (1.0 + self.a0) ** 2 * below, self.rise_K * per_y
        shape = (self.a0 + ((grown - self.a0) / below) ** self.m) * ((1.0 + self.a0) / below) ** self.n
        return self.rest * per_y / shape, self.rise_K * per_y

    def reduced(self, y: Array) -> Array:
        """Return G up to values of y, as `reduced_time`: `y` has the lanes on its last two axes."""
        import numpy as np

        if self.default_order:
            return (y + self.a0 * np.expm1(y)) / (1.0 + self.a0) ** 2
        panels = max(1, int(np.max(y) / GAUSS_PANEL) + 1)
        half = y / (2 * panels)
        slopes = (weight * self.node(np.exp((2 * i + 1 + x) * half))[0] for i in range(panels) for x, weight in GAUSS)
        return sum(slopes, start=np.zeros(1)) * half / self.rest


def _pick(values: Array, which: Indices, shape: tuple[int, int]) -> Array:
    """Return the values of some lanes of a block, by row and column; one value for all stays one."""
    import numpy as np

    return values.reshape(1) if values.size == 1 else np.broadcast_to(values, shape)[which]


def _steps_needed(laws: Laws, y_from: Array, y_to: Array, excess_K: Array, *, fresh: bool) -> Array:
    """Return how many steps each lane needs, a power of two; `fresh` where the start may be far from the shop."""
    import numpy as np

    stretch = y_to - y_from
    start_K = laws.ambient_K + excess_K
    at_start = laws.node(np.exp(y_from))[0] * np.exp(laws.over_R_K / start_K)
    at_end = laws.node(np.exp(y_to))[0] * np.exp(laws.over_R_K / laws.ambient_K)
    jump = laws.over_R_K * np.abs(excess_K) / (start_K * laws.ambient_K) if fresh else 0.0
    steeper = 1.0 + 2.0 * laws.growth_per_K * np.abs(excess_K) if fresh else 1.0
    cooling = stretch * np.maximum(at_start, at_end) * steeper * (1.0 + JUMP_COST * jump) / COOLING_PER_STEP
    fewest = np.maximum(FEWEST_STEPS, np.maximum(stretch / LONGEST_STEP, cooling))
    return np.exp2(np.ceil(np.log2(fewest)))


@dataclass(slots=True)
class _Summit:
    """The highest excess that lanes have had so far, kept while they march."""

    top_K: Array
    rising: NDArray[np.bool_] | None
    """Lanes still on their way up, where each is left alone once it has turned; None to watch them all."""

    def see(self, before_K: Array, after_K: Array, slope: Array, next_slope: Array, step: Array) -> bool:
        """Take in one step, and say whether any lane can still climb.

        Where the slope turns down within the step, the top is that of the cubic through both ends.
        """
        import numpy as np

        turns = (slope > 0.0) & (next_slope < 0.0)
        if self.rising is None:
            best = np.maximum(self.top_K, after_K)
        else:
            best = np.where(self.rising & (after_K > self.top_K), after_K, self.top_K)
            turns &= self.rising
        if turns.any():
            low, high = slope[turns], next_slope[turns]
            width = np.broadcast_to(step, before_K.shape)[turns]
            mean = (after_K[turns] - before_K[turns]) / width
            bend, skew = 6.0 * mean - 4.0 * low - 2.0 * high, 3.0 * (low + high - 2.0 * mean)
            at = 2.0 * low / (np.sqrt(bend * bend - 4.0 * skew * low) - bend)
            rise = width * at * (low + at * (bend / 2.0 + at * skew / 3.0))
            best[turns] = np.maximum(best[turns], before_K[turns] + rise)
        self.top_K = best
        if self.rising is None:
            return True
        self.rising = self.rising & ~(next_slope < 0.0)
        return bool(self.rising.any())


@dataclass(slots=True)
class _Track:
    """The age of lanes, and its slope in y, at `TRACK_NODES` even stretches of their way, in cooling times."""

    every: int
    age: list[Array] = field(default_factory=list)
    slope: list[Array] = field(default_factory=list)

    def see(self, done: int, age: Array, slope: Array) -> None:
        """Keep the state after `done` steps where a stretch ends there."""
        if done % self.every == 0:
            self.age.append(age.copy())
            self.slope.append(slope.copy())


def _slopes(laws: Laws, x: Array, at: tuple[Array, Array], d: Array, k: Array) -> None:
    """Write dt/dy of lanes at an excess into `d` and dT/dy into `k`; `at` is what `Laws.node` says there."""
    import numpy as np

    slope, heating = at
    np.add(x, laws.ambient_K, out=k)
    np.divide(laws.over_R_K, k, out=k)
    np.exp(k, out=k)
    np.multiply(slope, k, out=d)
    np.abs(x, out=k)
    np.multiply(k, laws.growth_per_K, out=k)
    np.add(k, 1.0, out=k)
    np.multiply(k, x, out=k)
    np.multiply(k, d, out=k)
    np.subtract(heating, k, out=k)


def _march(
    laws: Laws,
    y_from: Array,
    y_to: Array,
    steps: int,
    excess_K: Array,
    summit: _Summit | None = None,
    track: _Track | None = None,
) -> tuple[Array, Array]:
    """March all lanes in `steps` steps; return the time taken, in cooling times, and the excess [K].

    With a `summit` to watch, stop where it says that nothing can climb any more.
    """
    import numpy as np

    half = (y_to - y_from) / (2 * steps)
    grow, growth = np.exp(half), np.exp(y_from)
    step, sixth = 2.0 * half, half / 3.0
    x, age = excess_K.copy(), np.zeros_like(excess_K)
    d1, d2, d3, d4, k1, k2, k3, k4, at = (np.empty_like(x) for _ in range(9))

    def ahead(k: Array, by: Array) -> Array:
        """Return the state further on by a slope."""
        np.multiply(k, by, out=at)
        return np.add(at, x, out=at)

    def mean(first: Array, second: Array, third: Array, fourth: Array) -> Array:
        """Return the step times its mean slope, in the place of the second."""
        np.add(second, third, out=second)
        np.add(second, second, out=second)
        np.add(second, first, out=second)
        np.add(second, fourth, out=second)
        return np.multiply(second, sixth, out=second)

    near = laws.node(growth)
    before, k0 = np.empty_like(x), np.empty_like(x)
    for done in range(steps):
        growth = growth * grow
        middle = laws.node(growth)
        growth = growth * grow
        far = laws.node(growth)
        _slopes(laws, x, near, d1, k1)
        if track is not None:
            track.see(done, age, d1)
        if summit is not None and done and not summit.see(before, x, k0, k1, step):
            return age, x
        _slopes(laws, ahead(k1, half), middle, d2, k2)
        _slopes(laws, ahead(k2, half), middle, d3, k3)
        _slopes(laws, ahead(k3, step), far, d4, k4)
        age += mean(d1, d2, d3, d4)
        np.copyto(before, x)
        x += mean(k1, k2, k3, k4)
        k0, k1, near = k1, k0, far
    if track is None and summit is None:
        return age, x
    _slopes(laws, x, near, d1, k1)
    if track is not None:
        track.see(steps, age, d1)
    if summit is not None:
        summit.see(before, x, k0, k1, step)
    return age, x


@dataclass(slots=True)
class Block:
    """Lanes as rows (laws) and columns (masses and temperatures), and how far they have come."""

    laws: Laws
    shape: tuple[int, int]
    excess_K: Array
    """Temperature above the surroundings."""
    top_K: Array | None
    """The most it has been, where that is asked for."""

    def march(self, y_from: Array, y_to: Array, *, fresh: bool = False) -> Array:
        """March every lane on its own grid, bin by bin; return the time taken, in cooling times."""
        import numpy as np

        steps = self._steps(y_from, y_to, fresh=fresh)
        age = np.zeros(self.shape)
        for count in np.unique(steps):
            self._march_bin(np.nonzero(steps == count), int(count), (y_from, y_to), age)
        return age

    def track(self, y_from: Array, y_to: Array) -> tuple[Array, Array]:
        """March every lane from a fresh start; return its age and the age's slope, in cooling times, on the way.

        Both at the ends of `TRACK_NODES` even stretches of y, which are the first axis.
        """
        import numpy as np

        steps = np.maximum(2.0 * self._steps(y_from, y_to, fresh=True), TRACK_NODES)
        ages, slopes = np.empty((2, TRACK_NODES + 1, *self.shape))
        for count in np.unique(steps):
            which = np.nonzero(steps == count)
            for first in range(0, which[0].size, CHUNK):
                some = which[0][first : first + CHUNK], which[1][first : first + CHUNK]
                begin, end, excess_K = (_pick(values, some, self.shape) for values in (y_from, y_to, self.excess_K))
                track = _Track(int(count) // TRACK_NODES)
                _march(self.laws.pick(some, self.shape), begin, end, int(count), excess_K, track=track)
                ages[:, some[0], some[1]], slopes[:, some[0], some[1]] = track.age, track.slope
        return ages, slopes

    def _steps(self, y_from: Array, y_to: Array, *, fresh: bool) -> Array:
        """Return how many steps each lane needs; refuse lanes that would need too many."""
        import numpy as np

        steps = np.broadcast_to(_steps_needed(self.laws, y_from, y_to, self.excess_K, fresh=fresh), self.shape)
        if steps.size and not steps.max() <= MOST_STEPS:
            raise RangeError(
                "mix",
                "is too thin to have a temperature of its own",
                value=f"needs {steps.max():.3g} steps",
                todo="treat it as a film on the part",
            )
        return steps

    def climb(self, y_from: Array, y_to: Array) -> None:
        """March the lanes that still warm up at `y_from` to their peaks."""
        import numpy as np

        start_K = self.laws.ambient_K + self.excess_K
        slope, heating = self.laws.node(np.exp(y_from))
        lost_K = self.excess_K * (1.0 + self.laws.growth_per_K * np.abs(self.excess_K))
        rising = heating > lost_K * slope * np.exp(self.laws.over_R_K / start_K)
        self._march_bin(np.nonzero(rising), CLIMB_STEPS, (y_from, y_to), None)

    def _march_bin(self, which: Indices, steps: int, y: tuple[Array, Array], age: Array | None) -> None:
        """March the lanes of one bin, a chunk at a time; without an `age` to add to, only as far as they climb."""
        import numpy as np

        for first in range(0, which[0].size, CHUNK):
            some = which[0][first : first + CHUNK], which[1][first : first + CHUNK]
            y_from, y_to, excess_K = (_pick(values, some, self.shape) for values in (*y, self.excess_K))
            summit = None
            if self.top_K is not None:
                summit = _Summit(self.top_K[some], None if age is not None else np.full(some[0].shape, True))
            taken, self.excess_K[some] = _march(self.laws.pick(some, self.shape), y_from, y_to, steps, excess_K, summit)
            if age is not None:
                age[some] = taken
            if self.top_K is not None and summit is not None:
                self.top_K[some] = summit.top_K
