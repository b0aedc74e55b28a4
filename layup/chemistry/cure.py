"""How far a resin has set on the part, and when it may leave the mould.

The home of the names that others call: the glass is in `glass`, the course in `film_course` and `setting`, the
criterion in `demould`, its band in `cure_band`, heat for a cold shop in `heating`.
"""

from __future__ import annotations

from math import sqrt

from layup.chemistry.cure_course import CureCourse, CureMoment, Setting, conversion_on_part, set_on_part
from layup.chemistry.demould import Demould, Verdict, demould, demould_time_s, setting_of
from layup.chemistry.glass import Glass, glass_of, glass_transition_K
from layup.chemistry.heating import HEATING_CAUTIONS, HeatingPlan, heated_mould, heating_plans, post_cure_ramp
from layup.chemistry.maker import MakersClock
from layup.chemistry.ranges import require_between
from layup.errors import RangeError

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
