"""How far a resin has set on the part, and when it may leave the mould.

The home of the names that others call: the glass is in `glass`, the course in `film_course` and `setting`, the
criterion in `demould`, its band in `cure_band`, heat for a cold shop in `heating`.

What becomes of a mix that is off ratio: when it gels, if at all, and where it softens once it has cured.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf, sqrt

from layup.chemistry.cure_course import CureCourse, CureMoment, Setting, conversion_on_part, set_on_part
from layup.chemistry.datasheet import Chemistry, Datasheet
from layup.chemistry.demould import Demould, Verdict, demould, demould_time_s, setting_of
from layup.chemistry.glass import Glass, MakersClock, glass_of, glass_transition_K
from layup.chemistry.heating import HEATING_CAUTIONS, HeatingPlan, heated_mould, heating_plans, post_cure_ramp
from layup.chemistry.mixing import parts_by_mass
from layup.chemistry.ranges import require_between
from layup.errors import RangeError

# -- cure ------------------------------------------------------------------------------------------------------------

__all__ = [
    "HEATING_CAUTIONS",
    "CureCourse",
    "CureMoment",
    "Demould",
    "Glass",
    "HeatingPlan",
    "MakersClock",
    "Setting",
    "Verdict",
    "conversion_on_part",
    "demould",
    "demould_time_s",
    "gel_conversion",
    "glass_of",
    "glass_transition_K",
    "heated_mould",
    "heating_plans",
    "post_cure_ramp",
    "set_on_part",
    "setting_of",
]


def gel_conversion(f: int, g: int, r: float = 1.0) -> float:
    """Find the conversion at which a step-growth mix turns from a liquid into a network.

    Parameters
    ----------
    f : int
        Reactive groups a molecule of one kind carries, 2 to 100 (2 for a diepoxide) [-]
    g : int
        Reactive groups a molecule of the other kind carries, 2 to 100 (4 for a diamine's hydrogens) [-]
    r : float
        Groups of the scarcer kind over those of the other, above 0 to 1 [-]

    Returns
    -------
    conversion : float
        Conversion of the scarcer groups at the gel point, at most 1 [-]

    Raises
    ------
    RangeError
        For a value outside its range, or a mix so far off ratio, or so little branched, that it never gels.

    Notes
    -----
    a_gel = 1/sqrt(r (f-1)(g-1)), with all groups of a kind equally reactive and no rings. Real mixes gel later, at
    0.55 to 0.65 for a diepoxide and a diamine.

    References
    ----------
    P. J. Flory, Principles of Polymer Chemistry, 1953, chapter 9.

    Examples
    --------
    >>> round(gel_conversion(2, 4), 5)
    0.57735
    >>> round(gel_conversion(2, 5), 5)
    0.5
    """
    for where, groups in (("groups a molecule (f)", f), ("groups a molecule (g)", g)):
        require_between(where, groups, 2, 100)
    require_between("ratio of groups (r)", r, 0.0, 1.0, open_low=True, todo="scarcer groups over the others")
    branching = r * (f - 1) * (g - 1)
    if branching < 1.0:
        raise RangeError(
            "ratio of groups (r)",
            f"is too far off for groups of {f} and {g}: the mix never gels",
            value=f"{r:g}",
            allowed=f"needs r (f-1)(g-1) of 1 or more, here {branching:.3g}",
            todo="check the mix ratio",
        )
    return 1.0 / sqrt(branching)


# -- imbalance -------------------------------------------------------------------------------------------------------

GROUPS: dict[Chemistry, tuple[int, int]] = {"epoxy-amine": (2, 4), "urethane": (2, 3), "other": (2, 4)}
"""Reactive groups of a molecule of each kind: a diepoxide and a diamine, a diisocyanate and a triol (typical)."""


@dataclass(frozen=True, slots=True)
class OffRatioCure:
    """What a mix that is off ratio can become at best, its scarcer groups all used up."""

    balance: float
    """Groups of the scarcer kind over those of the other, 0 to 1."""
    gel_conversion: float | None
    """Of the scarcer groups; None where the mix never gels."""
    on_ratio_gel_conversion: float
    glass_transition_K: float
    on_ratio_glass_transition_K: float
    assumptions: tuple[str, ...]


def off_ratio_cure(datasheet: Datasheet, off: float) -> OffRatioCure:
    """Find how far off ratio a mix still gels, and where it softens however long it cures.

    Parameters
    ----------
    datasheet : Datasheet
        What the maker states [-]
    off : float
        Deviation from the stated ratio, -1 (no hardener) or more, 0.1 for 10 % too much hardener [-]

    Returns
    -------
    cure : OffRatioCure
        Gel conversion and final glass transition, beside those of the stated ratio [-]

    Raises
    ------
    RangeError
        For a deviation outside its range.

    Notes
    -----
    s = (h/E_h)/(w/E_w), r = min(s, 1/s), with the stated ratio taken as balanced where equivalents are missing. Gel as
    `gel_conversion` with r. The group in excess ends at conversion r; DiBenedetto takes it over the one that the stated
    ratio reaches, at which the stated glass transition was measured.

    References
    ----------
    P. J. Flory, Principles of Polymer Chemistry, 1953, chapter 9; W. H. Stockmayer, J. Polym. Sci. 9 (1952) 69.
    """
    require_between("deviation from the ratio", off, -1.0, inf)
    stated, said = _stated_balance(datasheet)
    f, g = GROUPS[datasheet.chemistry]
    balance, at_best = _scarcer(stated * (1.0 + off)), _scarcer(stated)
    glass, glass_said = glass_of(datasheet)
    return OffRatioCure(
        balance=balance,
        gel_conversion=_gel(f, g, balance),
        on_ratio_gel_conversion=gel_conversion(f, g, at_best),
        glass_transition_K=glass.transition_K(min(1.0, balance / at_best)),
        on_ratio_glass_transition_K=glass.cured_K,
        assumptions=(said, f"molecules of {f} and {g} groups (typical): real mixes gel a little later", glass_said[0]),
    )


def _stated_balance(datasheet: Datasheet) -> tuple[float, str]:
    """Return the hardener's groups over the resin's at the stated ratio."""
    resin_g_eq, hardener_g_eq = datasheet.resin.equivalent_weight_g_eq, datasheet.hardener.equivalent_weight_g_eq
    if resin_g_eq is not None and hardener_g_eq is not None:
        resin, hardener = parts_by_mass(datasheet)
        stated = (hardener / hardener_g_eq) / (resin / resin_g_eq)
        # beyond this the equivalents are not those of these two cans
        if 0.5 <= stated <= 2.0:
            return stated, f"the datasheet's ratio has {stated:.2f} groups of hardener to one of resin"
    return 1.0, "the datasheet's ratio counts as balanced, group for group"


def _scarcer(balance: float) -> float:
    """Return the scarcer groups over the others."""
    return balance if balance <= 1.0 else 1.0 / balance


def _gel(f: int, g: int, balance: float) -> float | None:
    """Return the gel conversion, or None where the mix never gels."""
    if balance <= 0.0:
        return None
    try:
        return gel_conversion(f, g, balance)
    except RangeError:
        return None
