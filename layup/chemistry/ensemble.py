"""Many pot lives at once, in numpy: the same slopes and the same steps as one, a member each.

How the mix of many cups ages until it thickens, and how long each portion then stays open on the part. Rows are cases,
what the resin and its use may turn out to be; columns are cells, a batch in a shop.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from layup.chemistry.calibration import Calibration
from layup.chemistry.kinetics import (
    FULLY_CURED,
    GAS_CONSTANT_J_MOL_K,
    GAUSS_PANEL,
    REFERENCE_K,
    Kinetics,
    reduced_time,
    stretch,
)
from layup.chemistry.numerics import GAUSS, Array
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
from layup.chemistry.prediction import LOSS_FIELDS, HeatLoss, SelfHeating, Vessel, heat_loss, semenov_number, slopes_of
from layup.chemistry.temperature import COLDEST_K, HOTTEST_K
from layup.chemistry.uncertainty import AS_SAID, Use

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray


ENSEMBLE_TOLERANCE = 3e-5
"""Error allowed in one step, as `ode.TOLERANCE`: for 0.01 % of a pot life."""
LONGEST_READ_STEP = 0.4
"""So that a cubic between two nodes is good to 0.1 %."""
FEWEST_GOING = 0.7
"""Share of the members marched together that must not have ended; with fewer, the others are left behind."""
_RATE_FIELDS = ("activation_energy_J_mol", "k_ref_per_s", "adiabatic_rise_K", "a0", "m", "n")


# -- march -----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Ensemble:
    """What does not change along many courses: arrays with one entry a member."""

    mix: SelfHeating[Array]
    ambient_K: Array
    default_order: bool

    def pick(self, which: NDArray[np.intp]) -> Ensemble:
        rates, (tau_s, growth_per_K) = self.mix[:-1], self.mix.loss
        k_ref_per_s, over_R_K, rise_K, a0, m, n = (values[which] for values in rates)
        mix = SelfHeating(k_ref_per_s, over_R_K, rise_K, a0, m, n, HeatLoss(tau_s[which], growth_per_K[which]))
        return Ensemble(mix, self.ambient_K[which], self.default_order)

    def reduced(self, y: Array) -> Array:
        """Return G up to values of y, as `reduced_time`: `y` has the members on its last axis."""
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


def ensemble_of(laws: Sequence[Kinetics], vessel: Vessel, mass_g: Array, ambient_K: Array) -> Ensemble:
    """Return the members of some laws (rows) and cells (columns), row after row."""
    import numpy as np

    shape = np.broadcast_shapes((len(laws), 1), mass_g.shape, ambient_K.shape)

    def flat(values: Array) -> Array:
        return np.broadcast_to(values, shape).ravel()

    tau_s, growth_per_K = heat_loss(vessel, mass_g, *(column(laws, name) for name in LOSS_FIELDS))
    energy_J_mol, *rest = (flat(column(laws, name)) for name in _RATE_FIELDS)
    k_ref_per_s, rise_K, a0, m, n = rest
    loss = HeatLoss(flat(tau_s), flat(growth_per_K))
    mix = SelfHeating(k_ref_per_s, energy_J_mol / GAS_CONSTANT_J_MOL_K, rise_K, a0, m, n, loss)
    return Ensemble(mix, flat(ambient_K), all(law.is_default_order for law in laws))


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
    """One step of the members still on their way: which they are, where each was before it, and where it is now."""

    which: NDArray[np.intp]
    before: Node[Array]
    now: Node[Array]


def strides(
    ensemble: Ensemble,
    start_K: Array,
    end: Array,
    done: Callable[[Stride], NDArray[np.bool_]] | None = None,
    longest_step: float = LONGEST_STEP,
) -> Iterator[Stride]:
    """March all members from fresh mix to y at their end, or until they are `done`; yield each step.

    Each member has a length of step of its own; one that is there, or whose step was too long, stays where it is.
    """
    import numpy as np

    which, zero = np.arange(start_K.size), np.zeros(start_K.size)
    slopes, cooling_per_s, h = _slopes(ensemble), _cooling_per_s(ensemble, start_K), np.full(start_K.size, FIRST_STEP)
    now = Node(zero, zero, start_K, *slopes(zero, zero, start_K))
    ended = end <= 0.0
    for _ in range(STEP_CAP):
        going = np.flatnonzero(~ended)
        if not going.size:
            return
        if going.size < FEWEST_GOING * which.size:
            which, ensemble, now, end = (
                which[going],
                ensemble.pick(going),
                Node(*(each[going] for each in now)),
                end[going],
            )
            h, cooling_per_s, ended = h[going], cooling_per_s[going], ended[going]
            slopes = _slopes(ensemble)
        with np.errstate(all="ignore"):  # of members that have ended, and of steps far too long
            left = np.where(ended, 0.0, end - now.y)
            longest = np.minimum(longest_step, STABLE / (cooling_per_s * now.time_slope))
            reach = np.minimum(np.minimum(h, left), longest)
            (y, *state), off_s, off_K = step(slopes, now, reach)
            strain = np.maximum(np.abs(off_s / state[0]), np.abs(off_K) * 0.01) / ENSEMBLE_TOLERANCE
            strain = np.fmin(strain, WORST_STRAIN)
            ahead = (np.where(reach < left, y, end), *state)
            good = (strain <= 1.0) & ~ended
            before, now = now, Node(*(np.where(good, after, here) for after, here in zip(ahead, now, strict=True)))
            grown = resized(reach, strain)
            h = np.where(good & (reach == left), np.maximum(h, grown), grown)
            stride = Stride(which, before, now)
            ended = ended | (now.y >= end)
            if done is not None:
                ended |= done(stride)
        yield stride
    raise too_thin()


class EnsembleNodes(NamedTuple):
    """The nodes of many courses: steps, then members."""

    y: Array
    time_s: Array
    time_slope: Array


def marched(ensemble: Ensemble, start_K: Array, end: Array) -> EnsembleNodes:
    """March all members from fresh mix to y at their end; return their nodes."""
    import numpy as np

    zero = np.zeros(start_K.size)
    steps = strides(ensemble, start_K, end, longest_step=LONGEST_READ_STEP)
    found = [(each.which, (each.now.y, each.now.time_s, each.now.time_slope)) for each in steps]
    way = EnsembleNodes(*(np.empty((len(found) + 1, start_K.size)) for _ in EnsembleNodes._fields))
    first = zero, zero, _slopes(ensemble)(zero, zero, start_K)[0]
    for column, values in enumerate(way):
        values[0] = first[column]
        for row, (which, now) in enumerate(found, 1):
            values[row] = values[row - 1]
            values[row, which] = now[column]
    return way


def _slopes(ensemble: Ensemble) -> Slopes[Array]:
    import numpy as np

    return slopes_of(ensemble.mix, ensemble.ambient_K, default_order=ensemble.default_order, exp=np.exp)


def _cooling_per_s(ensemble: Ensemble, start_K: Array) -> Array:
    """Return how steeply members may answer to their excess: one that grows with it, twice as steeply as it grows."""
    import numpy as np

    loss = ensemble.mix.loss
    return (1.0 + 2.0 * loss.growth_per_K * np.abs(start_K - ensemble.ambient_K)) / loss.tau_s


def check_thickness(ensemble: Ensemble, start_K: Array, y_end: Array) -> None:
    """Refuse members that would need too many steps: their mix has no temperature of its own."""
    import numpy as np

    coldest_K = np.minimum(start_K, ensemble.ambient_K)
    per_s = ensemble.mix.k_ref_per_s * np.exp(ensemble.mix.over_R_K * (1.0 / REFERENCE_K - 1.0 / coldest_K))
    steps = ensemble.reduced(y_end) / per_s * _cooling_per_s(ensemble, start_K) / STABLE
    if steps.size and not steps.max() <= STEP_CAP:
        raise too_thin()


# -- peaks -----------------------------------------------------------------------------------------------------------


def peaks_K(law: Kinetics, vessel: Vessel, *, mass_g: Array, start_K: Array, ambient_K: Array) -> Array:
    """Return how hot fresh mix gets in each cell, to 0.1 K.

    Raises RangeError if a mix is too thin to be anything but a film.

    >>> import numpy as np
    >>> here_K = np.array([278.15, 298.15])
    >>> masses_g = np.array([8.0, 100.0])
    >>> peaks_K(Kinetics(4.80015e-4), Vessel.cup(), mass_g=masses_g, start_K=here_K, ambient_K=here_K).round()
    array([283., 509.])

    Parameters
    ----------
    mass_g : Mass of mix of each cell, above 0 [g]
    start_K : Temperature of the mix of each cell at the start, 233 to 523 [K]
    ambient_K : Temperature of the shop of each cell, 233 to 523 [K]
    """
    import numpy as np

    ensemble, peak_K = ensemble_of((law,), vessel, mass_g, ambient_K), start_K.copy()
    gel, past, end = (
        np.full(start_K.size, stretch(conversion, law.a0))
        for conversion in (law.conversion_gel, max(law.conversion_gel, law.fastest_conversion()), FULLY_CURED)
    )
    check_thickness(ensemble, start_K, gel)

    def falling_for_good(stride: Stride) -> NDArray[np.bool_]:
        falls: NDArray[np.bool_] = (stride.now.y >= past[stride.which]) & (stride.now.temperature_slope < 0.0)
        return falls

    for stride in strides(ensemble, start_K, end, falling_for_good):
        which, before, now = stride.which, stride.before, stride.now
        peak_K[which] = np.maximum(peak_K[which], now.temperature_K)
        turns = np.flatnonzero((before.temperature_slope > 0.0) & (now.temperature_slope < 0.0))
        if turns.size:
            peak_K[which[turns]] = np.maximum(peak_K[which[turns]], _tops_K(ensemble.pick(which[turns]), stride, turns))
    return peak_K


def _tops_K(ensemble: Ensemble, stride: Stride, turns: NDArray[np.intp]) -> Array:
    """Return the hottest of members that turn down within a step: a step to where the cubic through its ends does."""
    import numpy as np

    left, right = (Node(*(values[turns] for values in node)) for node in (stride.before, stride.now))
    low, high, width = left.temperature_slope, right.temperature_slope, right.y - left.y
    mean = (right.temperature_K - left.temperature_K) / width
    bend, skew = 6.0 * mean - 4.0 * low - 2.0 * high, 3.0 * (low + high - 2.0 * mean)
    share = 2.0 * low / (np.sqrt(np.maximum(bend * bend - 4.0 * skew * low, 0.0)) - bend)
    top, _, _ = step(_slopes(ensemble), left, np.clip(share, 0.0, 1.0) * width)
    return top[2]


# -- ageing of cups --------------------------------------------------------------------------------------------------

Case = tuple[Kinetics, Use]
NEWTON_STEPS = 3
"""From a secant between two nodes to 1e-8 of a life; of thousands at once, for which no search by brackets is made."""


def cases_of(calibration: Calibration) -> tuple[Case, ...]:
    """Return the likely case, then half a standard deviation down and up of each thing unsure of law and use."""
    law = calibration.kinetics
    laws = [(side, AS_SAID) for pair in calibration.variants for side in pair]
    return (law, AS_SAID), *laws, *((law, side) for pair in calibration.uses for side in pair)


def sd_of(values: Array, calibration: Calibration) -> Array:
    """Return the standard deviation of what was found for each of `cases_of`.

    Without the axis of the cases, in the unit of the values [-].

    sqrt(g^T C g) of the central differences g, as `log_sd`.

    Parameters
    ----------
    values : In the cases' order on the last axis but one [-]
    """
    import numpy as np

    change, covariance = values[..., 2::2, :] - values[..., 1::2, :], np.asarray(calibration.covariance_in_use)
    variance: Array = (change * np.einsum("ij,...jk->...ik", covariance, change)).sum(axis=-2)
    return np.sqrt(np.maximum(0.0, variance))


@dataclass(frozen=True, slots=True)
class CupEnsemble:
    """The courses of all cases in all cells, and the rate at which what is taken from them goes on."""

    laws: tuple[Kinetics, ...]
    """One a case."""
    ensemble: Ensemble
    nodes: EnsembleNodes
    psi: Array
    """Semenov's number of each case in the warmer of shop and start."""

    @property
    def working_s(self) -> Array:
        """Return when each cup thickens [s]."""
        last_s: Array = self.nodes.time_s[-1].reshape(self.psi.shape)
        return last_s

    def left_s(self, held_s: Array, part_K: Array) -> Array:
        """Return how long mix stays open on the part once it is laid, `held_s` after first contact [s].

        `held_s` has cases and cells on its last two axes, or fits them; held beyond thickening counts as its end.
        """
        import numpy as np

        closes = np.array([[reduced_time(law, law.conversion_film)] for law in self.laws])
        shape = (*np.shape(held_s)[:-2], *self.psi.shape)
        held = np.broadcast_to(held_s, shape).reshape(*shape[:-2], -1)
        gone = self.ensemble.reduced(self._y_at(held)).reshape(shape)
        left_s: Array = (closes - gone) / rate_per_s(self.laws, part_K)
        return left_s

    def _y_at(self, held_s: Array) -> Array:
        """Return y at given ages: the cubic of the nodes around them is solved for it."""
        import numpy as np

        times_s, last_s = self.nodes.time_s, self.nodes.time_s[-1]
        held = np.minimum(held_s, last_s)
        before = np.zeros(held.shape, dtype=np.intp)
        for time_s in times_s[1:]:
            before += (held >= time_s) & (time_s < last_s)

        def of(values: Array, index: NDArray[np.intp]) -> Array:
            found: Array = np.take_along_axis(values, index.reshape(-1, index.shape[-1]), axis=0).reshape(held.shape)
            return found

        after = before + 1
        y0, t0, t1 = of(self.nodes.y, before), of(times_s, before), of(times_s, after)
        h = of(self.nodes.y, after) - y0
        rise, at = t1 - t0, held - t0
        near, far = h * of(self.nodes.time_slope, before) - rise, rise - h * of(self.nodes.time_slope, after)
        u = at / rise
        for _ in range(NEWTON_STEPS):
            rest = 1.0 - u
            miss = u * rise + u * rest * (near * rest + far * u) - at
            u = u - miss / (rise + (rest - u) * (near * rest + far * u) + u * rest * (far - near))
        y: Array = y0 + u * h
        return y


def ageing(cases: Sequence[Case], vessel: Vessel, *, mass_g: Array, start_K: Array, ambient_K: Array) -> CupEnsemble:
    """Follow all cases in all cells from fresh mix until it thickens, to 0.01 % in that time and 0.1 % on the way.

    Raises RangeError if a mix is too thin to be anything but a film.

    Parameters
    ----------
    mass_g : Mass of mix of each cell [g]
    start_K : Temperature of the mix of each cell at first contact [K]
    ambient_K : Temperature of the shop of each cell [K]
    """
    import numpy as np

    laws, uses = tuple(law for law, _ in cases), [use for _, use in cases]
    masses_g = mass_g * np.array([[use.mass_factor] for use in uses])
    warmer_K = np.array([[use.warmer_K] for use in uses])
    ensemble = ensemble_of(laws, vessel, masses_g, ambient_K)
    starts_K = np.clip(start_K + warmer_K, COLDEST_K, HOTTEST_K).ravel()
    ends = np.repeat([stretch(law.conversion_working, law.a0) for law in laws], mass_g.size)
    check_thickness(ensemble, starts_K, ends)
    nodes = marched(ensemble, starts_K, ends)

    hot_K = np.maximum(start_K, ambient_K) + warmer_K
    fastest = np.array([[law.shape(law.fastest_conversion())] for law in laws])
    over_R_K, rise_K, loss = (
        ensemble.mix.over_R_K.reshape(hot_K.shape),
        ensemble.mix.rise_K.reshape(hot_K.shape),
        HeatLoss(*(values.reshape(hot_K.shape) for values in ensemble.mix.loss)),
    )
    psi = semenov_number(rise_K, loss, fastest * rate_per_s(laws, hot_K), over_R_K / hot_K**2)
    return CupEnsemble(laws, ensemble, nodes, psi)
