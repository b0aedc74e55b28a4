"""Wet cloth: fibre fractions by mass and by volume, the resin it holds, its thickness and its voids."""

from __future__ import annotations

from math import pi, sqrt

from layup.chemistry.numerics import require_between, require_positive
from layup.errors import RangeError

SQUARE_PACKING = pi / 4
"""Round fibres that touch in a square array fill 0.7854 of the space."""
HEXAGONAL_PACKING = pi / (2 * sqrt(3))
"""Round fibres packed as closely as round fibres can be fill 0.9069 of the space."""

CURED_DENSITY_G_CM3 = 1.15
"""The cured matrix of every volume fraction and ply thickness: epoxy that cured at room temperature (from memory: 1.10
to 1.20). Fractions by volume count the cured matrix (ASTM D3171, ISO 1172 burn-off), which is a few per cent denser
than the liquid, for it shrinks as it cures; the liquid's density is for what is poured by volume."""

_LEAST_FIBRE = 1e-6
"""Below this there is no cloth to speak of (the lightest mats hold 0.15 or more)."""
_ROUNDING = 1e-12
"""What float arithmetic may put a fraction over its limit on the way there and back."""


def require_target_fraction(fibre_volume_fraction: float) -> float:
    """Return a fibre fraction that a builder may aim at [-], or raise.

    Raises RangeError for a target that leaves round fibres no room for resin between them. Two ceilings: a *measured or
    computed* fraction is possible up to hexagonal packing (0.9069), so the conversions of this module accept it; a
    *target* above square packing (0.7854) is refused, for no press gets there. Bagged or pressed unidirectional cloth
    ends at 0.60 to 0.70.

    >>> require_target_fraction(0.55)
    0.55

    Parameters
    ----------
    fibre_volume_fraction : Fibre volume aimed at, above 0, at most 0.7854 [-]
    """
    return require_between(
        "target fibre volume fraction",
        fibre_volume_fraction,
        0.0,
        SQUARE_PACKING * (1 + _ROUNDING),
        source="round fibres touching in a square array, pi/4",
        todo="0.40 to 0.55 is usual for woven cloth, up to 0.70 for unidirectional; is this a fraction by weight?",
        open_low=True,
    )


def fibre_volume_fraction(fibre_mass_fraction: float, fibre_density_g_cm3: float, matrix_density_g_cm3: float) -> float:
    """Convert a fibre fraction by mass to fibre volume over laminate volume, at most 0.9069 [-].

    Raises RangeError for a value outside its range, or fibres packed closer than round fibres can be.

    Vf = (Wf/rf) / (Wf/rf + (1 - Wf)/rm), a laminate without voids. The ceiling is hexagonal packing, pi/(2 sqrt 3);
    between square packing (pi/4) and it a number is possible but not a target: see `require_target_fraction`. Source:
    ASTM D3171, Constituent Content of Composite Materials; ISO 1172, glass content by calcination.

    >>> round(fibre_volume_fraction(0.6791, 2.54, 1.20), 3)
    0.5

    Parameters
    ----------
    fibre_mass_fraction : Fibre mass over laminate mass, 0 to 1 and within the packing ceiling [-]
    fibre_density_g_cm3 : Density of the fibre itself, 0.5 to 10 [g/cm^3]
    matrix_density_g_cm3 : Density of the cured resin, 0.3 to 5 [g/cm^3]
    """
    _require_mass_fraction(fibre_mass_fraction)
    _require_densities(fibre_density_g_cm3, matrix_density_g_cm3)
    fibre = fibre_mass_fraction / fibre_density_g_cm3
    matrix = (1.0 - fibre_mass_fraction) / matrix_density_g_cm3
    return _require_packable(fibre / (fibre + matrix))


def fibre_mass_fraction(fibre_volume_fraction: float, fibre_density_g_cm3: float, matrix_density_g_cm3: float) -> float:
    """Convert a fibre fraction by volume to fibre mass over laminate mass [-].

    Raises RangeError for a value outside its range, or fibres packed closer than round fibres can be.

    Wf = Vf rf / (Vf rf + (1 - Vf) rm), a laminate without voids. Source: ASTM D3171, Constituent Content of Composite
    Materials.

    >>> round(fibre_mass_fraction(0.50, 2.54, 1.20), 4)
    0.6791

    Parameters
    ----------
    fibre_volume_fraction : Fibre volume over laminate volume, 0 to 0.9069 [-]
    fibre_density_g_cm3 : Density of the fibre itself, 0.5 to 10 [g/cm^3]
    matrix_density_g_cm3 : Density of the cured resin, 0.3 to 5 [g/cm^3]
    """
    _require_packable(fibre_volume_fraction)
    _require_densities(fibre_density_g_cm3, matrix_density_g_cm3)
    fibre = fibre_volume_fraction * fibre_density_g_cm3
    matrix = (1.0 - fibre_volume_fraction) * matrix_density_g_cm3
    return fibre / (fibre + matrix)


def resin_areal_weight_g_m2(areal_weight_g_m2: float, fibre_mass_fraction: float) -> float:
    """Find the mixed resin that one square metre of cloth holds at a fibre fraction [g/m^2].

    w_r = w (1 - Wf) / Wf: what stays in the cloth, without bond lines, losses and squeeze-out.

    >>> resin_areal_weight_g_m2(200.0, 0.5)
    200.0

    Parameters
    ----------
    areal_weight_g_m2 : Mass of the dry cloth per unit area, above 0 [g/m^2]
    fibre_mass_fraction : Fibre mass over laminate mass, 0.000001 to below 1 [-]
    """
    require_positive("areal weight", areal_weight_g_m2, unit="g/m^2")
    _require_mass_fraction(fibre_mass_fraction, cloth=True)
    return areal_weight_g_m2 * (1.0 - fibre_mass_fraction) / fibre_mass_fraction


def ply_thickness_m(
    areal_weight_g_m2: float, fibre_mass_fraction: float, fibre_density_g_cm3: float, matrix_density_g_cm3: float
) -> float:
    """Find the cured thickness of one ply without voids [m].

    Raises RangeError for a value outside its range, or fibres packed closer than round fibres can be.

    t = w (1/rf + (1 - Wf)/(Wf rm)); 1 g/m^2 of a material of 1 g/cm^3 is one micrometre. With 2.56 and 1.20 g/cm^3
    this is the glass rule t[mm] = w/3.072 (2.56/Wf - 1.36), w in kg/m^2. Source: ISO 12215-5 annex C (the glass rule).

    >>> round(1000 * ply_thickness_m(1000.0, 0.45, 2.56, 1.20), 4)
    1.4091

    Parameters
    ----------
    areal_weight_g_m2 : Mass of the dry cloth per unit area, above 0 [g/m^2]
    fibre_mass_fraction : Fibre mass over laminate mass, 0.000001 to below 1 and within the packing ceiling [-]
    fibre_density_g_cm3 : Density of the fibre itself, 0.5 to 10 [g/cm^3]
    matrix_density_g_cm3 : Density of the cured resin, 0.3 to 5 [g/cm^3]
    """
    resin_g_m2 = resin_areal_weight_g_m2(areal_weight_g_m2, fibre_mass_fraction)
    fibre_volume_fraction(fibre_mass_fraction, fibre_density_g_cm3, matrix_density_g_cm3)
    return 1e-6 * (areal_weight_g_m2 / fibre_density_g_cm3 + resin_g_m2 / matrix_density_g_cm3)


def laminate_density_g_cm3(
    fibre_mass_fraction: float, fibre_density_g_cm3: float, matrix_density_g_cm3: float
) -> float:
    """Find the density of a laminate without voids.

    Raises RangeError for fibres packed closer than round fibres can be.

    r = 1 / (Wf/rf + (1 - Wf)/rm). Source: ASTM D2734, Void Content of Reinforced Plastics (its theoretical density).

    >>> round(laminate_density_g_cm3(0.8294, 2.5, 1.2), 2)
    2.11

    Parameters
    ----------
    fibre_mass_fraction : Fibre mass over laminate mass, 0 to 1 and within the packing ceiling [-]
    fibre_density_g_cm3 : Density of the fibre itself, 0.5 to 10 [g/cm^3]
    matrix_density_g_cm3 : Density of the cured resin, 0.3 to 5 [g/cm^3]
    """
    fibre_volume_fraction(fibre_mass_fraction, fibre_density_g_cm3, matrix_density_g_cm3)
    return 1.0 / (fibre_mass_fraction / fibre_density_g_cm3 + (1.0 - fibre_mass_fraction) / matrix_density_g_cm3)


def void_fraction(
    measured_density_g_cm3: float, fibre_mass_fraction: float, fibre_density_g_cm3: float, matrix_density_g_cm3: float
) -> float:
    """Find void volume over laminate volume, 0 to 1 [-], from the measured density of a laminate.

    Raises RangeError for a value outside its range, or a piece denser than one without any void.

    Vv = 1 - r_measured / r, with r the density without voids. A result below 0 is not rounded up to 0: a piece cannot
    be denser than its parts, so one of the four numbers is wrong. Source: ASTM D2734 and ASTM D3171, void content.

    >>> round(void_fraction(1.80, 0.6791, 2.54, 1.20), 4)
    0.0374

    Parameters
    ----------
    measured_density_g_cm3 : Density of the cured piece, weighed in air and in water, above 0 [g/cm^3]
    fibre_mass_fraction : Fibre mass over laminate mass, 0 to 1 and within the packing ceiling [-]
    fibre_density_g_cm3 : Density of the fibre itself, 0.5 to 10 [g/cm^3]
    matrix_density_g_cm3 : Density of the cured resin, 0.3 to 5 [g/cm^3]
    """
    require_positive("measured density", measured_density_g_cm3, unit="g/cm^3")
    solid_g_cm3 = laminate_density_g_cm3(fibre_mass_fraction, fibre_density_g_cm3, matrix_density_g_cm3)
    voids = 1.0 - measured_density_g_cm3 / solid_g_cm3
    if voids < -_ROUNDING:
        raise RangeError(
            "void fraction",
            "is below 0: the piece is denser than its fibre and resin together",
            value=f"{voids:.4f}",
            allowed=f"the measured density may be at most {solid_g_cm3:.4f} g/cm^3 here",
            todo="weigh it again, dry and without core, and check the fibre fraction and the cured resin's density",
        )
    return max(voids, 0.0)


def _require_mass_fraction(value: float, *, cloth: bool = False) -> None:
    """Check a fibre mass fraction; wet `cloth` holds some fibre and some resin."""
    low = _LEAST_FIBRE if cloth else 0.0
    require_between("fibre mass fraction", value, low, 1.0, todo="give a share, 0.6 for 60 %", open_high=cloth)


def _require_packable(value: float) -> float:
    """Check a fibre volume fraction against the closest packing of round fibres."""
    return require_between(
        "fibre volume fraction",
        value,
        0.0,
        HEXAGONAL_PACKING * (1 + _ROUNDING),
        source="closest packing of round fibres, hexagonal, pi/(2 sqrt 3)",
        todo="give a share, 0.5 for 50 %, and leave resin between the fibres",
    )


def _require_densities(fibre_density_g_cm3: float, matrix_density_g_cm3: float) -> None:
    """Check both densities; a value in kg/m^3 is far outside."""
    hint = "2540 kg/m^3 is 2.54 g/cm^3"
    require_between("fibre density", fibre_density_g_cm3, 0.5, 10.0, unit="g/cm^3", todo=hint)
    require_between("matrix density", matrix_density_g_cm3, 0.3, 5.0, unit="g/cm^3", todo=hint)
