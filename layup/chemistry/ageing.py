"""How the mix of many cups ages until it thickens, and how long each portion then stays open on the part, on lanes.

Rows are cases, what the resin and its use may turn out to be; columns are cells, a batch in a shop.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from layup.chemistry.calibration import Calibration
from layup.chemistry.ensemble import column, heated_lanes, rate_per_s, stretched
from layup.chemistry.ensemble_kernel import Block, Laws
from layup.chemistry.kinetics import Kinetics, reduced_time
from layup.chemistry.temperature import COLDEST_K, HOTTEST_K
from layup.chemistry.uncertainty import AS_SAID, Use
from layup.chemistry.vessel import HeatLoss, Vessel, semenov_number

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

Case = tuple[Kinetics, Use]
NEWTON_STEPS = 5
"""From a secant of the track, until a time is met to rounding."""


def cases_of(calibration: Calibration) -> tuple[Case, ...]:
    """Return the likely case, then half a standard deviation down and up of each thing unsure of law and use.

    Parameters
    ----------
    calibration : Calibration
        The calibrated resin [-]

    Returns
    -------
    tuple[Case, ...]
        An odd number of them [-]
    """
    law = calibration.kinetics
    laws = [(side, AS_SAID) for pair in calibration.variants for side in pair]
    return (law, AS_SAID), *laws, *((law, side) for pair in calibration.uses for side in pair)


def sd_of(values: Array, calibration: Calibration) -> Array:
    """Return the standard deviation of what was found for each of `cases_of`.

    Parameters
    ----------
    values : Array
        In the cases' order on the last axis but one [-]
    calibration : Calibration
        Of the cases [-]

    Returns
    -------
    Array
        Without that axis, in the unit of the values [-]

    Notes
    -----
    sqrt(g^T C g) of the central differences g, as `log_sd`.
    """
    import numpy as np

    change, covariance = values[..., 2::2, :] - values[..., 1::2, :], np.asarray(calibration.covariance_in_use)
    variance: Array = np.einsum("...ik,ij,...jk->...k", change, covariance, change)
    return np.sqrt(np.maximum(0.0, variance))


@dataclass(frozen=True, slots=True)
class CupLanes:
    """The courses of all cases in all cells, and the rate at which what is taken from them goes on."""

    laws: tuple[Kinetics, ...]
    """One a case."""
    lanes: Laws
    y: Array
    """Where the track is known: stretches, cases, cells."""
    age_s: Array
    slope_s: Array
    """Of the age, in y."""
    psi: Array
    """Semenov's number of each case in the warmer of shop and start."""

    @property
    def working_s(self) -> Array:
        """Return when each cup thickens [s]."""
        last: Array = self.age_s[-1]
        return last

    def left_s(self, held_s: Array, part_K: Array) -> Array:
        """Return how long mix stays open on the part once it is laid, `held_s` after first contact [s].

        `held_s` has cases and cells on its last two axes, or fits them; held beyond thickening counts as its end.
        """
        import numpy as np

        closes = np.array([[reduced_time(law, law.conversion_film)] for law in self.laws])
        return (closes - self.lanes.reduced(self._y_at(held_s))) / rate_per_s(self.laws, part_K)

    def _y_at(self, held_s: Array) -> Array:
        """Return y at given ages: the cubic of the track's stretch is solved for them."""
        import numpy as np

        held = np.broadcast_to(np.minimum(held_s, self.working_s), (*np.shape(held_s)[:-2], *self.working_s.shape))
        before = np.zeros(held.shape, dtype=np.intp)
        for age_s in self.age_s[1:-1]:
            before += held >= age_s

        def of(track: Array, index: NDArray[np.intp]) -> Array:
            return np.take_along_axis(track, index.reshape(-1, *track.shape[1:]), axis=0).reshape(held.shape)

        y0, t0, t1 = of(self.y, before), of(self.age_s, before), of(self.age_s, before + 1)
        h = of(self.y, before + 1) - y0
        rise, at = t1 - t0, held - t0
        near, far = h * of(self.slope_s, before) - rise, rise - h * of(self.slope_s, before + 1)
        u = at / rise
        for _ in range(NEWTON_STEPS):
            rest = 1.0 - u
            miss = u * rise + u * rest * (near * rest + far * u) - at
            u = u - miss / (rise + (rest - u) * (near * rest + far * u) + u * rest * (far - near))
        return y0 + u * h


def ageing(cases: Sequence[Case], vessel: Vessel, *, mass_g: Array, start_K: Array, ambient_K: Array) -> CupLanes:
    """Follow all cases in all cells from fresh mix until it thickens, to 0.01 % in that time and 0.1 % on the way.

    Parameters
    ----------
    cases : Sequence[Case]
        Rate law, and how mass and start differ from what is said [-]
    vessel : Vessel
        Cup or tray [-]
    mass_g : Array
        Mass of mix of each cell [g]
    start_K : Array
        Temperature of the mix of each cell at first contact [K]
    ambient_K : Array
        Temperature of the shop of each cell [K]

    Returns
    -------
    CupLanes
        Their courses [s]

    Raises
    ------
    RangeError
        If a mix is too thin to be anything but a film.
    """
    import numpy as np

    laws, uses = tuple(law for law, _ in cases), [use for _, use in cases]
    masses_g = mass_g * np.array([[use.mass_factor] for use in uses])
    warmer_K = np.array([[use.warmer_K] for use in uses])
    starts_K = np.clip(start_K + warmer_K, COLDEST_K, HOTTEST_K)
    lanes, tau_s = heated_lanes(laws, vessel, masses_g, ambient_K[np.newaxis])
    excess_K = starts_K - ambient_K
    y_end = stretched(lanes.a0, column(laws, "conversion_working"))
    age, slope = Block(lanes, tau_s.shape, excess_K, None).track(np.zeros(y_end.shape), y_end)
    y = np.linspace(0.0, 1.0, len(age))[:, None, None] * np.broadcast_to(y_end, tau_s.shape)

    hot_K = np.maximum(start_K, ambient_K) + warmer_K
    fastest = np.array([[law.shape(law.fastest_conversion())] for law in laws])
    loss = HeatLoss(tau_s, lanes.growth_per_K)
    psi = semenov_number(lanes.rise_K, loss, fastest * rate_per_s(laws, hot_K), lanes.over_R_K / hot_K**2)
    return CupLanes(laws, lanes, y, age * tau_s, slope * tau_s, psi)
