"""What becomes of a mix that is off ratio: when it gels, if at all, and where it softens once it has cured."""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from layup.chemistry.cure import gel_conversion
from layup.chemistry.datasheet import Chemistry, Datasheet
from layup.chemistry.glass import glass_of
from layup.chemistry.mixing import parts_by_mass
from layup.chemistry.ranges import require_between
from layup.errors import RangeError

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
