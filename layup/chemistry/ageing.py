"""How the mix of many cups ages until it thickens, and how long each portion then stays open on the part, on lanes.

Rows are cases, what the resin and its use may turn out to be; columns are cells, a batch in a shop.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layup.chemistry.calibration import Calibration
from layup.chemistry.kinetics import Kinetics, reduced_time, stretch
from layup.chemistry.lanes import LaneNodes, Lanes, check_thickness, lanes_of, marched, rate_per_s
from layup.chemistry.temperature import COLDEST_K, HOTTEST_K
from layup.chemistry.uncertainty import AS_SAID, Use
from layup.chemistry.vessel import HeatLoss, Vessel, semenov_number

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

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
class CupLanes:
    """The courses of all cases in all cells, and the rate at which what is taken from them goes on."""

    laws: tuple[Kinetics, ...]
    """One a case."""
    lanes: Lanes
    nodes: LaneNodes
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
        gone = self.lanes.reduced(self._y_at(held)).reshape(shape)
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


def ageing(cases: Sequence[Case], vessel: Vessel, *, mass_g: Array, start_K: Array, ambient_K: Array) -> CupLanes:
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
    lanes = lanes_of(laws, vessel, masses_g, ambient_K)
    starts_K = np.clip(start_K + warmer_K, COLDEST_K, HOTTEST_K).ravel()
    ends = np.repeat([stretch(law.conversion_working, law.a0) for law in laws], mass_g.size)
    check_thickness(lanes, starts_K, ends)
    nodes = marched(lanes, starts_K, np.zeros(starts_K.size), ends)

    hot_K = np.maximum(start_K, ambient_K) + warmer_K
    fastest = np.array([[law.shape(law.fastest_conversion())] for law in laws])
    over_R_K, rise_K, loss = (
        lanes.mix.over_R_K.reshape(hot_K.shape),
        lanes.mix.rise_K.reshape(hot_K.shape),
        HeatLoss(*(values.reshape(hot_K.shape) for values in lanes.mix.loss)),
    )
    psi = semenov_number(rise_K, loss, fastest * rate_per_s(laws, hot_K), over_R_K / hot_K**2)
    return CupLanes(laws, lanes, nodes, psi)
