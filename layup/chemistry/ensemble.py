"""Many pot lives at once, in numpy: the same equations on fixed grids of the stretched variable.

Lanes (one pot life each) are sorted into bins by the number of steps each needs: cold, thin and slow ones would be
wrong by up to 90 %, in silence, on the grid that a cup does well with.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from layup.chemistry.calibration import Calibration
from layup.chemistry.ensemble_kernel import Block, Laws
from layup.chemistry.kinetics import FULLY_CURED, GAS_CONSTANT_J_MOL_K, REFERENCE_K, Kinetics, reduced_time
from layup.chemistry.ranges import require_between
from layup.chemistry.temperature import COLDEST_K, HOTTEST_K
from layup.chemistry.uncertainty import moved
from layup.chemistry.vessel import Vessel, heat_loss

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

Until = Literal["working", "gel", "peak"]

BLOCK = 65_536
"""Lanes set up together."""
_LOSS_FIELDS = (
    "density_g_cm3",
    "specific_heat_J_g_K",
    "film_coefficient_W_m2_K",
    "film_growth_per_K",
    "conductivity_W_m_K",
    "bottom_loss",
    "depth_share",
)


@dataclass(frozen=True, slots=True)
class Lives:
    """Times [s] and peaks [K] of many lives; what lies beyond the asked limit is None.

    The shape is that of the masses and temperatures together, after one axis of the kinetics where several are given.
    """

    working_s: Array
    gel_s: Array | None
    peak_K: Array | None


def ensemble(
    kinetics: Kinetics | Sequence[Kinetics],
    vessel: Vessel,
    *,
    mass_g: float | Array,
    start_K: float | Array,
    ambient_K: float | Array,
    conversion_start: float = 0.0,
    until: Until = "working",
) -> Lives:
    """Predict many lives at once, to 0.1 % in times and 0.1 K in peaks.

    Parameters
    ----------
    kinetics : Kinetics | Sequence[Kinetics]
        One calibrated resin, or several, each of which gets an axis of the answer before the others [-].
    vessel : Vessel
        Cup, tray or film [-].
    mass_g : float | Array
        Masses of mix in the vessel, above 0 [g].
    start_K : float | Array
        Temperatures of the mix at the start, 233 to 523 [K].
    ambient_K : float | Array
        Temperatures of the shop, 233 to 523 [K].
    conversion_start : float
        Conversion at the start, 0 for a fresh mix, below 0.999 [-].
    until : Until
        How far to look: "working", "gel" or "peak" [-].

    Returns
    -------
    Lives
        Times and peaks [s, K].

    Raises
    ------
    RangeError
        If a value is out of range, or a mix is too thin to be anything but a film.

    Notes
    -----
    Classic fourth-order Runge-Kutta in y with e^y carried along by multiplication. A lane's steps are a power of two,
    at least 8, and enough that the cooling time is resolved: finer where the start is far from the surroundings.

    Examples
    --------
    >>> lives = ensemble(Kinetics(4.80015e-4), Vessel.cup(), mass_g=[100.0, 300.0], start_K=298.15, ambient_K=298.15)
    >>> (lives.working_s / 60).round(1).tolist()
    [29.6, 28.3]
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
    cells = [np.ravel(values) for values in (mass, start, ambient)]
    solved = np.empty((3, len(laws), mass.size))

    for rows, columns in _blocks(len(laws), mass.size):
        masses_g, starts_K, shops_K = (values[np.newaxis, columns] for values in cells)
        with np.errstate(over="ignore", invalid="ignore"):  # of lanes past their peak, which are no longer looked at
            solved[:, rows, columns] = _solve(laws[rows], vessel, masses_g, starts_K, shops_K, conversion_start, until)
    working, gel, peak = solved.reshape(3, *(() if isinstance(kinetics, Kinetics) else (len(laws),)), *mass.shape)
    return Lives(working, None if until == "working" else gel, peak if until == "peak" else None)


def draw_kinetics(calibration: Calibration, count: int, *, seed: int) -> tuple[Kinetics, ...]:
    """Draw rate laws from what is unsure about a calibration.

    Notes
    -----
    Normal along each direction of the calibration's variants, with its covariance.
    """
    import numpy as np

    covariance = np.array(calibration.covariance)
    values, vectors = np.linalg.eigh(covariance)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    amounts = np.random.default_rng(seed).standard_normal((count, len(covariance))) @ root.T
    return tuple(moved(calibration.kinetics, calibration.variants, row) for row in amounts.tolist())


def _blocks(laws: int, cells: int) -> Iterator[tuple[slice, slice]]:
    """Yield the rows and columns that are set up at a time."""
    rows = max(1, BLOCK // max(1, cells))
    for row in range(0, laws, rows):
        for column in range(0, cells, BLOCK):
            yield slice(row, min(row + rows, laws)), slice(column, min(column + BLOCK, cells))


def _solve(
    laws: tuple[Kinetics, ...],
    vessel: Vessel,
    mass_g: Array,
    start_K: Array,
    ambient_K: Array,
    conversion_start: float,
    until: Until,
) -> tuple[Array, Array, Array]:
    """Return working and gel times [s] and peaks [K] of some laws (rows) and cells (columns)."""
    import numpy as np

    if vessel.kind == "film":
        per_s = rate_per_s(laws, ambient_K)
        ages = [[_ages(law, conversion_start)] for law in laws]
        working, gel = np.moveaxis(np.array(ages), -1, 0)
        return working / per_s, gel / per_s, ambient_K + 0.0 * per_s
    march_laws, tau_s = heated_lanes(laws, vessel, mass_g, ambient_K)
    a0 = march_laws.a0
    y_start, y_working, y_gel, y_end = (
        stretched(a0, limit)
        for limit in (conversion_start, column(laws, "conversion_working"), column(laws, "conversion_gel"), FULLY_CURED)
    )
    excess_K = start_K - ambient_K + np.zeros(tau_s.shape)
    block = Block(march_laws, tau_s.shape, excess_K, excess_K.copy() if until == "peak" else None)
    working = block.march(y_start, np.maximum(y_working, y_start), fresh=True)
    if until == "working":
        return working * tau_s, working, excess_K
    gel = working + block.march(np.maximum(y_working, y_start), np.maximum(y_gel, y_start))
    if block.top_K is None:
        return working * tau_s, gel * tau_s, excess_K
    block.climb(np.maximum(y_gel, y_start), y_end)
    return working * tau_s, gel * tau_s, block.top_K + ambient_K


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


def stretched(a0: Array, conversion: float | Array) -> Array:
    """Return the integration variable, as `stretch`; 0 where rounding makes it less."""
    import numpy as np

    return np.maximum(np.log((a0 + conversion) / (a0 * (1.0 - conversion))), 0.0)


def heated_lanes(laws: Sequence[Kinetics], vessel: Vessel, mass_g: Array, ambient_K: Array) -> tuple[Laws, Array]:
    """Return what does not change along lanes that heat themselves, and their cooling times [s]."""
    import numpy as np

    over_R_K = column(laws, "activation_energy_J_mol") / GAS_CONSTANT_J_MOL_K
    tau_s, growth_per_K = heat_loss(vessel, mass_g, *(column(laws, name) for name in _LOSS_FIELDS))
    return Laws(
        ambient_K=ambient_K,
        over_R_K=over_R_K,
        rest=1.0 / (tau_s * column(laws, "k_ref_per_s") * np.exp(over_R_K / REFERENCE_K)),
        growth_per_K=growth_per_K,
        rise_K=column(laws, "heat_J_g") / column(laws, "specific_heat_J_g_K"),
        a0=column(laws, "a0"),
        m=column(laws, "m"),
        n=column(laws, "n"),
        default_order=all(law.is_default_order for law in laws),
    ), tau_s


def _ages(law: Kinetics, conversion_start: float) -> tuple[float, float]:
    """Return the reduced times from the start to thickening and to gel."""
    begun = reduced_time(law, conversion_start)
    working, gel = (reduced_time(law, limit) - begun for limit in (law.conversion_working, law.conversion_gel))
    return max(0.0, working), max(0.0, gel)
