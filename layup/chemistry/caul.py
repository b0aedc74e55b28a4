"""The caul: the stiff board that spreads the force of a row of clamps over the part, and how even that is.

A beam with free ends on an elastic bed under point forces, in closed form; the modulus of what cauls are made of; what
a mould of foam or board bears: the press through a night, and heat.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import cos, exp, sin
from typing import Literal

from layup.chemistry.numerics import monotone_curve, require_between, require_positive
from layup.errors import RangeError
from layup.units import length

# -- caul materials --------------------------------------------------------------------------------------------------

PLY_ACROSS = 0.05
"""Modulus of a veneer across its grain over that along it (Wood Handbook, elastic ratios; from memory)."""


@dataclass(frozen=True, slots=True)
class Caul:
    """What a caul is made of, with its modulus along its length."""

    name: str
    modulus_Pa: float
    source: str
    across: float = PLY_ACROSS
    """Modulus across its length over that along it."""


def plywood_modulus_Pa(veneer_Pa: float, plies: int) -> float:
    """Find the bending modulus of plywood along the grain of its faces.

    E = E_L (s + (1 - s) across), of an odd number of plies; s the share of the section's second moment in those along:
    s = (n^3 - (n-2)^3 + (n-4)^3 - ...)/n^3

    >>> round(plywood_modulus_Pa(13.9e9, 13) / 1e9, 2)
    8.82
    """
    cubes = [(plies - 2 * i) ** 3 for i in range((plies + 1) // 2)]
    along = (sum(cubes[0::2]) - sum(cubes[1::2])) / plies**3
    return veneer_Pa * (along + (1.0 - along) * PLY_ACROSS)


CAULS = {
    caul.name: caul
    for caul in (
        Caul(
            "birch plywood",
            plywood_modulus_Pa(13.9e9, 13),
            "computed for 13 plies of yellow birch, 13.9 GPa (Wood Handbook, FPL-GTR-282, table 5-3a)",
            0.65,
        ),
        Caul(
            "softwood plywood",
            plywood_modulus_Pa(13.4e9, 7),
            "computed for 7 plies of Douglas-fir, 13.4 GPa (Wood Handbook, FPL-GTR-282, table 5-3a)",
            0.45,
        ),
        Caul("white ash", 12.0e9, "Wood Handbook, FPL-GTR-282, table 5-3a, at 12 % moisture"),
        Caul("Douglas-fir", 13.4e9, "Wood Handbook, FPL-GTR-282, table 5-3a, at 12 % moisture"),
        Caul("MDF", 3.0e9, "from memory; 2.5 to 3.5 GPa", 1.0),
        Caul("aluminium", 69.0e9, "from memory", 1.0),
        Caul("steel", 200.0e9, "from memory", 1.0),
    )
}
"""Material -> modulus along the caul; wood clear, dry and with the grain along the part."""


# -- elastic bed -----------------------------------------------------------------------------------------------------


def pressure_under_forces(length: float, forces_at: Sequence[float]) -> Callable[[float], float]:
    """Find the pressure along a beam on an elastic bed under unit forces that stand symmetrically on it.

    The endless beam under the forces, with a force and a moment just beyond each end that take the bending moment and
    the shear force there away. A = e^-x (cos x + sin x), B = e^-x sin x, C = e^-x (cos x - sin x), D = e^-x cos x.
    Source: M. Hetenyi, Beams on Elastic Foundation, 1946.

    >>> pressure = pressure_under_forces(2.0, [0.5, 1.5])
    >>> round(pressure(0.0), 4), round(pressure(1.0), 4)
    (0.9454, 1.0195)
    """
    bending = sum(_c(at) for at in forces_at) / 4.0
    shear = sum(_d(at) for at in forces_at) / 2.0
    # force P and moment M at each end: P (1+C)/4 + M (1+D)/2 = -bending ; P (1-D)/2 + M (1-A)/2 = shear
    a11, a12 = (1.0 + _c(length)) / 4.0, (1.0 + _d(length)) / 2.0
    a21, a22 = (1.0 - _d(length)) / 2.0, (1.0 - _a(length)) / 2.0
    determinant = a11 * a22 - a12 * a21
    force = (-bending * a22 - shear * a12) / determinant
    moment = (a11 * shear + a21 * bending) / determinant

    def pressure(at: float) -> float:
        ends = force / 2.0 * (_a(at) + _a(length - at)) + moment * (_b(at) + _b(length - at))
        return ends + sum(_a(abs(at - other)) for other in forces_at) / 2.0

    return pressure


def _a(x: float) -> float:
    return exp(-x) * (cos(x) + sin(x))


def _b(x: float) -> float:
    return exp(-x) * sin(x)


def _c(x: float) -> float:
    return exp(-x) * (cos(x) - sin(x))


def _d(x: float) -> float:
    return exp(-x) * cos(x)


# -- caul ------------------------------------------------------------------------------------------------------------

UNEVEN = 0.2
"""Share of the mean pressure that may be missing at the worst place (common practice, no source)."""
END_SHARES = (0.25, 0.30, 0.35, 0.40, 0.45, 0.50)
"""Distances of the outermost clamps from the caul's ends to choose from, as shares of the spacing."""
PLACES_PER_SPAN = 8
MOST_CLAMPS = 200
BOARDS_m = (0.001, 0.5)
"""The thinnest and the thickest caul or backing."""
LIFTING_SPANS = 4.73
"""Spacing, in units of the spread, from which a long caul lifts off between its clamps: tan u = -tanh u, s = 2 u."""

RIGID = "what the part lies on is not given: taken as flat and rigid, and one that bends is worse"


@dataclass(frozen=True, slots=True)
class Clamping:
    """A row of clamps with equal force, and the pressure under it as a share of the mean."""

    count: int
    spacing_m: float
    end_m: float
    """From the caul's end to the outermost clamp."""
    lowest_share: float
    """At the worst place; at or below 0 the caul lifts off there, and how far is not told."""
    highest_share: float


@dataclass(frozen=True, slots=True)
class Bed:
    """A caul on its stack: how long it is, and over what length it spreads a force."""

    length_m: float
    spread_m: float
    """1/lambda of a beam on an elastic bed."""


def bed_of_caul(
    length_m: float,
    thickness_m: float,
    modulus_Pa: float,
    pressure_Pa: float,
    give_m: float,
    *,
    backing_m: float | None = None,
    backing_Pa: float | None = None,
) -> Bed:
    """Find over what length a caul spreads the force of a clamp.

    1/lambda = (4 E I/k)^(1/4), with I = t^3/12 and k = p/give for each metre of width. Bending only: a caul with
    spans below four times its thickness is less stiff than this.

    A backing under the same clamps bends the other way under the same forces: 1/EI of both add, since u = w1 + w2
    follows u'''' = (q - k u)(1/EI1 + 1/EI2). Source: M. Hetenyi, Beams on Elastic Foundation, 1946.

    Parameters
    ----------
    length_m : Length of the caul, 0.05 to 10 [m]
    thickness_m : Thickness of the caul [m]
    modulus_Pa : Its modulus along its length, above 0 [Pa]
    pressure_Pa : Mean pressure on the part, above 0 [Pa]
    give_m : How far the stack under it gives per relative change of pressure, above 0 [m]
    backing_m : Thickness of what the part lies on, 0.001 to 0.5; None takes it as rigid [m]
    backing_Pa : Its modulus along its length, above 0; None takes it as rigid [Pa]
    """
    require_between("length of the caul", length_m, 0.05, 10.0, unit="m")
    require_positive("pressure", pressure_Pa, unit="Pa")
    stiffness = modulus_Pa * thickness_m**3 / 12.0
    if backing_m is not None and backing_Pa is not None:
        stiffness = 1.0 / (1.0 / stiffness + 12.0 / (backing_Pa * backing_m**3))
    return Bed(length_m, float((4.0 * stiffness * give_m / pressure_Pa) ** 0.25))


def clamping(bed: Bed, uneven: float = UNEVEN, at_least: int = 2) -> Clamping:
    """Find the fewest clamps that keep the pressure even.

    Raises RangeError for a caul so limp that 200 clamps are too few.

    >>> row = clamping(bed_of_caul(1.7, 0.018, 8.8e9, 80_000.0, 80e-6))
    >>> row.count, round(row.spacing_m, 3)
    (11, 0.157)

    Parameters
    ----------
    uneven : Share of the mean pressure that may be missing at the worst place, 0.01 to 0.9 [-]
    at_least : Fewest clamps to take, as their rating asks; 1 to 200 [-]
    """
    require_between("unevenness", uneven, 0.01, 0.9, todo="a share, 0.2 for 20 %")
    require_between("number of clamps", at_least, 1, MOST_CLAMPS)
    fewest = max(at_least, int(bed.length_m / (LIFTING_SPANS * bed.spread_m)))
    for count in range(fewest, MOST_CLAMPS + 1):
        row = row_of_clamps(bed, count)
        if row.lowest_share >= 1.0 - uneven:
            return row
    raise RangeError(
        "caul",
        f"is so limp that {MOST_CLAMPS} clamps do not press evenly",
        value=f"a force spreads over {length(bed.spread_m, '.1f')}",
        todo="take a thicker or stiffer caul",
    )


def pressure_along(bed: Bed, row: Clamping, places: int) -> tuple[float, ...]:
    """Find the pressure along a caul as a share of its mean [-], in the middle of each piece; below 0 it lifts off.

    Parameters
    ----------
    places : Equal pieces from end to end, 1 or more [-]
    """
    length = bed.length_m / bed.spread_m
    forces_at = [(row.end_m + i * row.spacing_m) / bed.spread_m for i in range(row.count)]
    pressure = pressure_under_forces(length, forces_at)
    return tuple(pressure((i + 0.5) * length / places) * length / row.count for i in range(places))


def edge_share(bed: Bed) -> float:
    """Find the edges' share of the mean pressure under a board pressed along its middle [-]; below 0 it lifts there."""
    length = bed.length_m / bed.spread_m
    return pressure_under_forces(length, [0.5 * length])(0.0) * length


def row_of_clamps(bed: Bed, count: int) -> Clamping:
    """Find how evenly a given number of clamps presses, spaced as well as that number can be.

    A beam with free ends on an elastic bed under equal forces: the solution for an endless beam, with a force and a
    moment added at each end that take the bending and shear there away. Source: M. Hetenyi, Beams on Elastic
    Foundation, 1946.

    Parameters
    ----------
    count : Number of clamps, 1 to 200 [-]
    """
    require_between("number of clamps", count, 1, MOST_CLAMPS)
    rows = (_row(bed, count, end_share) for end_share in (END_SHARES if count > 1 else (0.5,)))
    return max(rows, key=lambda row: row.lowest_share)


def _row(bed: Bed, count: int, end_share: float) -> Clamping:
    spacing_m = bed.length_m / (count - 1 + 2.0 * end_share)
    length, spacing = bed.length_m / bed.spread_m, spacing_m / bed.spread_m
    forces_at = [(end_share + i) * spacing for i in range(count)]
    pressure = pressure_under_forces(length, forces_at)
    half = length / 2.0  # the row is the same seen from its other end
    places = [half * i / (PLACES_PER_SPAN * count) for i in range(PLACES_PER_SPAN * count + 1)]
    shares = [pressure(at) * length / count for at in (*places, *(at for at in forces_at if at <= half))]
    return Clamping(count, spacing_m, end_share * spacing_m, min(shares), max(shares))


WEAKEST_kg_m3, WEAKEST_kPa_m3_kg = (11.2, 24.0, 38.4), (3.57, 4.58, 6.0)
"""Density, and the least compressive strength at 10 % strain over it."""
STIFF = 37.0
"""Modulus over strength at 10 % strain: 0.36 to 0.375 of that at 1 % strain in every type of ASTM D6817, table 1."""
LONG_LOAD = 0.3
"""Share of that strength that a foam carries through a night without creeping on: within its strength at 1 % strain,
which blocks under a lasting load are kept to (ASTM D6817)."""
FOAM_WARM_K = 313.15
"""40 degC: no foam under load is warmed beyond it unless its maker says so (common practice, no source)."""
BOARD_WARM_K = 333.15
"""60 degC, beyond which plywood and board dry out and warp (common practice, no source)."""


def strength_by_density_Pa(density_g_cm3: float) -> float:
    """Return the least compressive strength at 10 % strain that a foam of a density is sold with.

    Over its density it rises from moulded polystyrene of 11 kg/m3 over rigid urethane of 24 to that of 38 kg/m3:
    the weakest kind of each density (ASTM D6817, table 1; HH-I-530). Others bear more.

    >>> [round(strength_by_density_Pa(density) / 1000.0) for density in (0.0112, 0.024, 0.048)]
    [40, 110, 288]
    """
    density_kg_m3 = 1000.0 * density_g_cm3
    known = min(max(density_kg_m3, WEAKEST_kg_m3[0]), WEAKEST_kg_m3[-1])
    return 1000.0 * density_kg_m3 * monotone_curve(WEAKEST_kg_m3, WEAKEST_kPa_m3_kg)(known)


@dataclass(frozen=True, slots=True)
class FoamLoad:
    """A mould's foam under the press."""

    pressure_Pa: float
    strength_Pa: float
    """At 10 % strain, stated or by its density."""
    strain: float
    """At once; the night's creep adds about as much again (from memory)."""
    squeezed_m: float

    @property
    def word(self) -> Literal["carries it", "creeps", "crushes"]:
        """Return what the foam does through a night: at twice what it carries it crushes (our own judgement)."""
        if self.pressure_Pa > 2.0 * LONG_LOAD * self.strength_Pa:
            return "crushes"
        return "creeps" if self.pressure_Pa > LONG_LOAD * self.strength_Pa else "carries it"


def foam_load(thickness_m: float, density_g_cm3: float, pressure_Pa: float, strength_Pa: float | None) -> FoamLoad:
    """Find what a foam does under the pressure of the press. The strength is that of ASTM D1621 or EN 826.

    Parameters
    ----------
    thickness_m : How thick it is, above 0 [m]
    density_g_cm3 : Its density, above 0 [g/cm3]
    pressure_Pa : Mean pressure on it, above 0 [Pa]
    strength_Pa : Its compressive strength at 10 % strain, above 0; None takes one by its density [Pa]
    """
    require_positive("pressure", pressure_Pa, unit="Pa")
    strength_Pa = strength_by_density_Pa(density_g_cm3) if strength_Pa is None else strength_Pa
    strain = pressure_Pa / (STIFF * strength_Pa)
    return FoamLoad(pressure_Pa, strength_Pa, strain, strain * thickness_m)
