"""What a mix does that is left standing: its signs before it sets, how warm it is by then, and whether it smokes."""

from __future__ import annotations

from dataclasses import dataclass

from layup.chemistry.film import film_time_s
from layup.chemistry.kinetics import Kinetics, stretch
from layup.chemistry.life_band import LifeBand
from layup.chemistry.observation import word_conversion
from layup.chemistry.prediction import heated_course
from layup.chemistry.temperature import History, temperature_at_K
from layup.chemistry.vessel import HOT_K, HeatClass, Vessel

SMOKE_K = 520.0
"""Isophorone diamine, a common hardener, boils at 247 °C (CRC Handbook, as in the `chemicals` library): a mix that gets
there drives off what has not reacted."""
NOTICE_S = 60.0
"""Shorter than this a stringy mix gives nobody time to act (common practice, no source)."""


LEFT_STANDING = (
    (SMOKE_K, "smokes and can burn"),
    (HOT_K, "foams, cracks, may smoke"),
)
"""What a mix does that is left standing, by how hot it gets, the hottest first."""
AT_WORST = "gets too hot to hold"
"""What it does where only one case in ten gets so warm."""


def left_words(peak_K: float, heat_class_high: HeatClass) -> str:
    """Say what a mix does that is left standing.

    Parameters
    ----------
    peak_K : float
        How hot it likely gets [K]
    heat_class_high : HeatClass
        The class that one case in ten exceeds [-]

    Returns
    -------
    words : str
        A predicate; empty of one that stays warm [-]

    Examples
    --------
    >>> left_words(525.0, "runaway"), left_words(300.0, "warm")
    ('smokes and can burn', '')
    """
    found = next((words for from_K, words in LEFT_STANDING if peak_K >= from_K), "")
    return found or ("" if heat_class_high == "warm" else AT_WORST)


@dataclass(frozen=True, slots=True)
class Standing:
    """What is to be seen of a mix before it sets, and what becomes of it after."""

    stringy_s: float | None
    """From when it pulls threads; None where it sets before anybody could act on them."""
    deadline_K: float
    """The mix at the time asked for."""
    peak_K: float
    bound_K: float
    """What only a hot spot inside can exceed."""
    smokes: bool


def left_standing(
    kinetics: Kinetics,
    vessel: Vessel,
    band: LifeBand,
    *,
    mass_g: float,
    start_K: float,
    ambient: float | History,
    deadline_s: float,
) -> Standing:
    """Follow a mix that is left where it is.

    Parameters
    ----------
    kinetics : Kinetics
        The calibrated resin [-]
    vessel : Vessel
        Cup, tray or film [-]
    band : LifeBand
        Its predicted life, from a fresh mix [-]
    mass_g : float
        Mass of mix in the vessel, above 0; a film's does not matter [g]
    start_K : float
        Temperature of the mix at the start, 233 to 523 [K]
    ambient : float or History
        The shop's temperature (a film: the part's), one or (time_s, temperature_K) points, 233 to 523 [K]
    deadline_s : float
        When it is to be out, at most its gel [s]

    Returns
    -------
    standing : Standing
        Its signs, its temperature at the deadline and at its hottest [-]

    Raises
    ------
    RangeError
        For a value outside its range.
    """
    life, stringy = band.life, word_conversion(kinetics, "stringy")
    if vessel.kind == "film":
        stringy_s, deadline_K = film_time_s(kinetics, ambient, stringy), temperature_at_K(ambient, deadline_s)
    else:
        course = heated_course(kinetics, vessel, mass_g=mass_g, start_K=start_K, ambient=ambient)
        stringy_s = course.at_y(stretch(stringy, kinetics.a0)).time_s
        deadline_K = course.at_time(deadline_s).temperature_K
    return Standing(
        stringy_s=stringy_s if life.gel_s - stringy_s >= NOTICE_S else None,
        deadline_K=deadline_K,
        peak_K=life.peak_K,
        bound_K=life.bound_K,
        smokes=life.peak_K >= SMOKE_K,
    )
