"""Many pot lives at once, in numpy: the same slopes and the same steps as one, a lane each."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from layup.chemistry.kinetics import FULLY_CURED, GAS_CONSTANT_J_MOL_K, GAUSS_PANEL, REFERENCE_K, Kinetics, stretch
from layup.chemistry.numerics import GAUSS, require_between
from layup.chemistry.ode import (
    FIRST_STEP,
    LONGEST_STEP,
    STABLE,
    STEP_CAP,
    WORST_STRAIN,
    Node,
    Slopes,
    resized,
    step,
    too_thin,
)
from layup.chemistry.prediction import SelfHeating, slopes_of
from layup.chemistry.temperature import COLDEST_K, HOTTEST_K
from layup.chemistry.vessel import LOSS_FIELDS, HeatLoss, Vessel, heat_loss

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]


LANE_TOLERANCE = 3e-5
"""Error allowed in one step, as `ode.TOLERANCE`: for 0.01 % of a pot life."""
LONGEST_READ_STEP = 0.4
"""So that a cubic between two nodes is good to 0.1 %."""
FEWEST_GOING = 0.7
"""Share of the lanes marched together that must not have ended; with fewer, the others are left behind."""
CHUNK = 8192
"""Lanes marched together: their arrays stay in a core's cache."""
_RATE_FIELDS = ("activation_energy_J_mol", "k_ref_per_s", "adiabatic_rise_K", "a0", "m", "n")


# -- march -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Lanes:
    """What does not change along many courses: arrays with one entry a lane."""

    mix: SelfHeating[Array]
    ambient_K: Array
    default_order: bool

    def pick(self, which: NDArray[np.intp]) -> Lanes:
        """Return some of the lanes."""
        rates, (tau_s, growth_per_K) = self.mix[:-1], self.mix.loss
        k_ref_per_s, over_R_K, rise_K, a0, m, n = (values[which] for values in rates)
        mix = SelfHeating(k_ref_per_s, over_R_K, rise_K, a0, m, n, HeatLoss(tau_s[which], growth_per_K[which]))
        return Lanes(mix, self.ambient_K[which], self.default_order)

    def reduced(self, y: Array) -> Array:
        """Return G up to values of y, as `reduced_time`: `y` has the lanes on its last axis."""
        import numpy as np

        a0, m, n = self.mix.a0, self.mix.m, self.mix.n
        if self.default_order:
            return (y + a0 * np.expm1(y)) / (1.0 + a0) ** 2
        panels = max(1, int(np.max(y) / GAUSS_PANEL) + 1)
        half, total = y / (2 * panels), np.zeros_like(y)
        for i in range(panels):
            for x, weight in GAUSS:
                below = 1.0 + a0 * np.exp((2 * i + 1 + x) * half)
                conversion = 1.0 - (1.0 + a0) / below
                total += weight * (a0 + conversion) / (a0 + conversion**m) * below ** (n - 1.0) / (1.0 + a0) ** n
        return total * half


def lanes_of(laws: Sequence[Kinetics], vessel: Vessel, mass_g: Array, ambient_K: Array) -> Lanes:
    """Return the lanes of some laws (rows) and cells (columns), row after row."""
    import numpy as np

    shape = np.broadcast_shapes((len(laws), 1), mass_g.shape, ambient_K.shape)

    def flat(values: Array) -> Array:
        return np.broadcast_to(values, shape).ravel()

    tau_s, growth_per_K = heat_loss(vessel, mass_g, *(column(laws, name) for name in LOSS_FIELDS))
    energy_J_mol, *rest = (flat(column(laws, name)) for name in _RATE_FIELDS)
    k_ref_per_s, rise_K, a0, m, n = rest
    loss = HeatLoss(flat(tau_s), flat(growth_per_K))
    mix = SelfHeating(k_ref_per_s, energy_J_mol / GAS_CONSTANT_J_MOL_K, rise_K, a0, m, n, loss)
    return Lanes(mix, flat(ambient_K), all(law.is_default_order for law in laws))


def column(laws: Sequence[Kinetics], name: str) -> Array:
    """Return one field of some laws, as a column."""
    import numpy as np

    return np.array([[float(getattr(law, name))] for law in laws])


def rate_per_s(laws: Sequence[Kinetics], temperature_K: Array) -> Array:
    """Return k(T) of some laws, as rows [1/s]."""
    import numpy as np

    over_R_K = column(laws, "activation_energy_J_mol") / GAS_CONSTANT_J_MOL_K
    rates: Array = column(laws, "k_ref_per_s") * np.exp(over_R_K * (1.0 / REFERENCE_K - 1.0 / temperature_K))
    return rates


@dataclass(frozen=True, slots=True)
class Stride:
    """One step of the lanes still on their way: which they are, where each was before it, and where it is now."""

    which: NDArray[np.intp]
    before: Node[Array]
    now: Node[Array]


def strides(
    lanes: Lanes,
    start_K: Array,
    stops: Sequence[Array],
    done: Callable[[Stride], NDArray[np.bool_]] | None = None,
    longest_step: float = LONGEST_STEP,
) -> Iterator[Stride]:
    """March all lanes from y at the first of their stops to the last, or until they are `done`; yield each step.

    None crosses a stop. Each lane has a length of step of its own; one that is there, or whose step was too long,
    stays where it is.
    """
    import numpy as np

    which, at = np.arange(start_K.size), np.array(stops)
    slopes, cooling_per_s, h = _slopes(lanes), _cooling_per_s(lanes, start_K), np.full(start_K.size, FIRST_STEP)
    start_s = np.zeros(start_K.size)
    now = Node(at[0], start_s, start_K, *slopes(at[0], start_s, start_K))
    ended = now.y >= at[-1]
    for _ in range(STEP_CAP):
        going = np.flatnonzero(~ended)
        if not going.size:
            return
        if going.size < FEWEST_GOING * which.size:
            which, lanes, now, at = which[going], lanes.pick(going), Node(*(each[going] for each in now)), at[:, going]
            h, cooling_per_s, ended = h[going], cooling_per_s[going], ended[going]
            slopes = _slopes(lanes)
        with np.errstate(all="ignore"):  # of lanes that have ended, and of steps far too long
            stop = at[-1]
            for earlier in at[-2:0:-1]:
                stop = np.where(now.y < earlier, earlier, stop)
            left = np.where(ended, 0.0, stop - now.y)
            longest = np.minimum(longest_step, STABLE / (cooling_per_s * now.time_slope))
            reach = np.minimum(np.minimum(h, left), longest)
            (y, *state), off_s, off_K = step(slopes, now, reach)
            strain = np.maximum(np.abs(off_s / state[0]), np.abs(off_K) * 0.01) / LANE_TOLERANCE
            strain = np.fmin(strain, WORST_STRAIN)
            ahead = (np.where(reach < left, y, stop), *state)
            good = (strain <= 1.0) & ~ended
            before, now = now, Node(*(np.where(good, after, here) for after, here in zip(ahead, now, strict=True)))
            grown = resized(reach, strain)
            h = np.where(good & (reach == left), np.maximum(h, grown), grown)
            stride = Stride(which, before, now)
            ended = ended | (now.y >= at[-1])
            if done is not None:
                ended |= done(stride)
        yield stride
    raise too_thin()


class LaneNodes(NamedTuple):
    """The nodes of many courses: steps, then lanes."""

    y: Array
    time_s: Array
    time_slope: Array


def marched(lanes: Lanes, start_K: Array, y_start: Array, y_end: Array) -> LaneNodes:
    """March all lanes from one y to another; return their nodes."""
    import numpy as np

    start_s = np.zeros(start_K.size)
    steps = strides(lanes, start_K, (y_start, y_end), longest_step=LONGEST_READ_STEP)
    found = [(each.which, (each.now.y, each.now.time_s, each.now.time_slope)) for each in steps]
    way = LaneNodes(*(np.empty((len(found) + 1, start_K.size)) for _ in LaneNodes._fields))
    first = y_start, start_s, _slopes(lanes)(y_start, start_s, start_K)[0]
    for column, values in enumerate(way):
        values[0] = first[column]
        for row, (which, now) in enumerate(found, 1):
            values[row] = values[row - 1]
            values[row, which] = now[column]
    return way


def _slopes(lanes: Lanes) -> Slopes[Array]:
    import numpy as np

    return slopes_of(lanes.mix, lanes.ambient_K, default_order=lanes.default_order, exp=np.exp)


def _cooling_per_s(lanes: Lanes, start_K: Array) -> Array:
    """Return how steeply lanes may answer to their excess: one that grows with it, twice as steeply as it grows."""
    import numpy as np

    loss = lanes.mix.loss
    return (1.0 + 2.0 * loss.growth_per_K * np.abs(start_K - lanes.ambient_K)) / loss.tau_s


def check_thickness(lanes: Lanes, start_K: Array, y_end: Array) -> None:
    """Refuse lanes that would need too many steps: their mix has no temperature of its own."""
    import numpy as np

    coldest_K = np.minimum(start_K, lanes.ambient_K)
    per_s = lanes.mix.k_ref_per_s * np.exp(lanes.mix.over_R_K * (1.0 / REFERENCE_K - 1.0 / coldest_K))
    steps = lanes.reduced(y_end) / per_s * _cooling_per_s(lanes, start_K) / STABLE
    if steps.size and not steps.max() <= STEP_CAP:
        raise too_thin()


# -- ensemble --------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Lives:
    """Times [s] and peaks [K] of many lives.

    The shape is that of the masses and temperatures together, after one axis of the kinetics where several are given.
    """

    working_s: Array
    gel_s: Array
    peak_K: Array


def ensemble(
    kinetics: Kinetics | Sequence[Kinetics],
    vessel: Vessel,
    *,
    mass_g: float | Array,
    start_K: float | Array,
    ambient_K: float | Array,
    conversion_start: float = 0.0,
) -> Lives:
    """Predict many lives at once, to 0.1 % in times and 0.1 K in peaks.

    Raises RangeError if a value is out of range, or a mix is too thin to be anything but a film.

    >>> lives = ensemble(Kinetics(4.80015e-4), Vessel.cup(), mass_g=[100.0, 300.0], start_K=298.15, ambient_K=298.15)
    >>> (lives.working_s / 60).round(1).tolist()
    [29.6, 28.3]

    Parameters
    ----------
    kinetics : One calibrated resin, or several, each of which gets an axis of the answer before the others [-]
    mass_g : Masses of mix in the vessel, above 0 [g]
    start_K : Temperatures of the mix at the start, 233 to 523 [K]
    ambient_K : Temperatures of the shop, 233 to 523 [K]
    conversion_start : Conversion at the start, 0 for a fresh mix, below 0.999 [-]
    """
    import numpy as np

    laws = (kinetics,) if isinstance(kinetics, Kinetics) else tuple(kinetics)
    require_between("conversion at the start", conversion_start, 0.0, FULLY_CURED, open_high=True)
    mass, start, ambient = np.broadcast_arrays(*(np.asarray(values, float) for values in (mass_g, start_K, ambient_K)))
    for where, values, low, high, unit in (
        ("mass of mix", mass, 0.0, float("inf"), "g"),
        ("start temperature", start, COLDEST_K, HOTTEST_K, "K"),
        ("temperature", ambient, COLDEST_K, HOTTEST_K, "K"),
    ):
        for end in (values.min(), values.max()) if values.size else ():
            require_between(where, float(end), low, high, unit=unit, open_low=low == 0.0)
    lanes = lanes_of(laws, vessel, mass.ravel(), ambient.ravel())
    starts_K = np.broadcast_to(start.ravel(), (len(laws), mass.size)).ravel()
    ys = np.repeat([_limits(law, conversion_start) for law in laws], mass.size, axis=0).T
    found = np.empty((3, starts_K.size))
    for first in range(0, starts_K.size, CHUNK):
        some = np.arange(first, min(first + CHUNK, starts_K.size))
        found[:, some] = _lives(lanes.pick(some), starts_K[some], ys[:, some])
    return Lives(*found.reshape(3, *(() if isinstance(kinetics, Kinetics) else (len(laws),)), *mass.shape))


def _limits(law: Kinetics, conversion_start: float) -> list[float]:
    """Return y at the start, thickening, gel, where it can only cool, and full cure: none is before the start."""
    past = max(law.conversion_gel, law.fastest_conversion())
    limits = (law.conversion_working, law.conversion_gel, past, FULLY_CURED)
    return [stretch(max(limit, conversion_start), law.a0) for limit in (conversion_start, *limits)]


def _lives(lanes: Lanes, start_K: Array, ys: Array) -> tuple[Array, Array, Array]:
    """Return working and gel times [s] and peaks [K] of some lanes."""
    import numpy as np

    _, working, gel, past, _ = ys
    check_thickness(lanes, start_K, gel)
    working_s, gel_s, peak_K = np.zeros(start_K.size), np.zeros(start_K.size), start_K.copy()

    def falling_for_good(stride: Stride) -> NDArray[np.bool_]:
        falls: NDArray[np.bool_] = (stride.now.y >= past[stride.which]) & (stride.now.temperature_slope < 0.0)
        return falls

    for stride in strides(lanes, start_K, tuple(ys), falling_for_good):
        which, before, now = stride.which, stride.before, stride.now
        for limit, times_s in ((working, working_s), (gel, gel_s)):
            times_s[which] = np.where(before.y < limit[which], now.time_s, times_s[which])
        peak_K[which] = np.maximum(peak_K[which], now.temperature_K)
        turns = np.flatnonzero((before.temperature_slope > 0.0) & (now.temperature_slope < 0.0))
        if turns.size:
            peak_K[which[turns]] = np.maximum(peak_K[which[turns]], _tops_K(lanes.pick(which[turns]), stride, turns))
    return working_s, gel_s, peak_K


def _tops_K(lanes: Lanes, stride: Stride, turns: NDArray[np.intp]) -> Array:
    """Return the hottest of lanes that turn down within a step: a step to where the cubic through its ends does."""
    import numpy as np

    left, right = (Node(*(values[turns] for values in node)) for node in (stride.before, stride.now))
    low, high, width = left.temperature_slope, right.temperature_slope, right.y - left.y
    mean = (right.temperature_K - left.temperature_K) / width
    bend, skew = 6.0 * mean - 4.0 * low - 2.0 * high, 3.0 * (low + high - 2.0 * mean)
    share = 2.0 * low / (np.sqrt(np.maximum(bend * bend - 4.0 * skew * low, 0.0)) - bend)
    top, _, _ = step(_slopes(lanes), left, np.clip(share, 0.0, 1.0) * width)
    return top[2]
