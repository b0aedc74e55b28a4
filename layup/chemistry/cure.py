"""How far a resin has set on the part, and when it may leave the mould.

The home of the names that others call: the glass is in `glass`, the course in `film_course` and `setting`, the
criterion in `demould`, its band in `cure_band`, heat for a cold shop in `heating`.

What becomes of a mix that is off ratio: when it gels, if at all, and where it softens once it has cured.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from layup.chemistry.cure_course import CureCourse, CureMoment, Setting, conversion_on_part, set_on_part
from layup.chemistry.datasheet import Datasheet
from layup.chemistry.demould import Demould, Verdict, demould, demould_time_s, setting_of
from layup.chemistry.glass import Glass, MakersClock, glass_of, glass_transition_K
from layup.chemistry.heating import HEATING_CAUTIONS, HeatingPlan, heated_mould, heating_plans, post_cure_ramp
from layup.chemistry.kinetics import gel_conversion
from layup.chemistry.mixing import network_words, stated_network
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


# -- imbalance -------------------------------------------------------------------------------------------------------


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
    stated, f, g = stated_network(datasheet)
    balance, at_best = _scarcer(stated * (1.0 + off)), _scarcer(stated)
    glass, glass_said = glass_of(datasheet)
    return OffRatioCure(
        balance=balance,
        gel_conversion=_gel(f, g, balance),
        on_ratio_gel_conversion=gel_conversion(f, g, at_best),
        glass_transition_K=glass.transition_K(min(1.0, balance / at_best)),
        on_ratio_glass_transition_K=glass.cured_K,
        assumptions=(*network_words(datasheet), glass_said[0]),
    )


def _scarcer(balance: float) -> float:
    """Return the scarcer groups over the others."""
    return balance if balance <= 1.0 else 1.0 / balance


def _gel(f: float, g: float, balance: float) -> float | None:
    """Return the gel conversion, or None where the mix never gels."""
    if balance <= 0.0:
        return None
    try:
        return gel_conversion(f, g, balance)
    except RangeError:
        return None
