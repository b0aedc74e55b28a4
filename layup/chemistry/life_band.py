"""How sure a pot life is: the 80 % band, from half a standard deviation to each side of everything unsure.

The same of how long a film flows, and what a mix does that is left standing."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import exp, hypot, log
from typing import NamedTuple

from layup.chemistry.calibration import Calibration
from layup.chemistry.film import film_life_s, film_time_s
from layup.chemistry.kinetics import Kinetics, stretch
from layup.chemistry.looks import word_conversion
from layup.chemistry.prediction import (
    HOT_K,
    HeatClass,
    Life,
    Vessel,
    heat_class,
    heated_course,
    middle_runs_away,
    predict,
    semenov,
    warmest_K,
)
from layup.chemistry.stages import Stage, follow_band
from layup.chemistry.statements import COLDEST_USE_K, HOTTEST_USE_K
from layup.chemistry.temperature import History, corners, temperature_at_K
from layup.chemistry.uncertainty import AS_SAID, EIGHTY_PERCENT, SHORTEST_S, Band, Use, log_sd, sensitivities
from layup.chemistry.viscosity import PERMEABILITY_LOG, Squeeze, squeezes_out_until_s, wets_out_until_s
from layup.units import mass, temperature

# -- life ------------------------------------------------------------------------------------------------------------

FARTHEST_MASS = 10.0


@dataclass(frozen=True, slots=True)
class LifeBand:
    """A life with the bands of its times."""

    life: Life
    working_s: Band
    gel_s: Band
    open_s: Band | None
    """A film's own limit; None in a cup or tray."""
    psi_high: float
    """Semenov's number at the dangerous edge of its own 80 % band; 0 for a film."""
    heat_class_high: HeatClass
    """The class that number makes of it: near the edge of running away, `life.heat_class` alone says too little."""
    warnings: tuple[str, ...]


def predict_band(
    calibration: Calibration,
    vessel: Vessel,
    *,
    mass_g: float,
    start_K: float,
    ambient: float | History,
) -> LifeBand:
    """Predict how long a mix lives, with the 80 % band.

    Raises RangeError if a value is out of range, or the mix is too thin to be anything but a film.

    ln t is normal with variance sum(S_i^2), S_i the change of ln t over one standard deviation of the i-th unsure
    thing, of the resin or of the mix in hand, by central differences, each side calibrated anew. The band is
    t exp(+-1.2816 sqrt(sum(S_i^2))). Whatever the resin turns out to be, it gels after it thickens, so neither edge of
    the gel comes before thickening's: near the edge of running away, where the linear band of the gel is too wide, that
    keeps it honest.

    Parameters
    ----------
    mass_g : Mass of mix in the vessel, above 0; a film's does not matter [g]
    start_K : Temperature of the mix at the start; a film takes the part's instead, 233 to 523 [K]
    ambient : The shop's temperature (a film: the part's), one or (time_s, temperature_K) points, 233 to 523 [K]
    """
    band = follow_band(calibration, (Stage(vessel, 0.0, ambient),), mass_g=mass_g, start_K=start_K)
    heated = band.course.runs[0].heated
    life = predict(calibration.kinetics, vessel, mass_g=mass_g, start_K=start_K, ambient=ambient, heated=heated)
    psi_high = 0.0
    if vessel.kind != "film":
        around_K = warmest_K(start_K, ambient, until_s=life.peak_s)
        psi_high = psi_at_the_edge(calibration, vessel, mass_g, around_K)
    return LifeBand(
        life=life,
        working_s=band.working_s,
        gel_s=band.gel_s,
        open_s=band.open_s,
        psi_high=psi_high,
        heat_class_high="warm" if vessel.kind == "film" else heat_class(psi_high, life.peak_K),
        warnings=use_warnings(calibration, vessel, mass_g, start_K, ambient, life),
    )


def psi_at_the_edge(calibration: Calibration, vessel: Vessel, mass_g: float, temperature_K: float) -> float:
    """Return Semenov's number that is exceeded in one case out of ten.

    psi exp(1.2816 sqrt(sum(S_i^2))), S_i as for the times [-].

    Parameters
    ----------
    mass_g : Mass of mix, above 0 [g]
    temperature_K : Temperature of the surroundings, above 0 [K]
    """
    law = calibration.kinetics

    def log_psi(kinetics: Kinetics, use: Use = AS_SAID) -> float:
        around_K = temperature_K + use.warmer_K
        return log(semenov(kinetics, vessel, use.mass_g(mass_g), around_K))

    slopes = [log_psi(high) - log_psi(low) for low, high in calibration.variants]
    slopes += [log_psi(law, high) - log_psi(law, low) for low, high in calibration.uses]
    return exp(log_psi(law) + EIGHTY_PERCENT * log_sd(slopes, calibration.covariance_in_use))


def use_warnings(
    calibration: Calibration,
    vessel: Vessel,
    mass_g: float,
    start_K: float,
    ambient: float | History,
    life: Life,
) -> tuple[str, ...]:
    """Return in words what makes one prediction less sure; how hot it gets, its heat class says."""
    words = []
    temperatures_K = [start_K, *(shop_K for _, shop_K in corners(ambient, from_s=0.0, until_s=life.gel_s))]
    least_g, most_g = calibration.masses_g
    if vessel.kind == "cup" and not least_g / FARTHEST_MASS <= mass_g <= most_g * FARTHEST_MASS:
        words.append(
            f"{mass(mass_g, 'g')} is more than ten times away from the {mass(least_g, 'g')} the pot life is stated for"
        )
    if vessel.kind != "film" and middle_runs_away(calibration.kinetics, vessel, mass_g, max(temperatures_K)) > 1.0:
        words.append("the middle of this much mix gets hotter than the one temperature given here")
    if not COLDEST_USE_K <= min(temperatures_K) <= max(temperatures_K) <= HOTTEST_USE_K:
        words.append(
            f"outside {temperature.digits(278.15)} to {temperature(313.15)}, where the model is meant to be used"
        )
    return tuple(words)


# -- film that flows --------------------------------------------------------------------------------------------------


class FilmFlow(NamedTuple):
    """Until when a film wets cloth and leaves under a press, each None where it starts too thick; and stays open."""

    wets: Band | None
    leaves: Band | None
    open: Band


@lru_cache(maxsize=64)
def film_flow(calibration: Calibration, squeeze: Squeeze, fresh_Pa_s: float, temperature_K: float) -> FilmFlow:
    """Return until when a film flows, with the 80 % bands.

    Parameters
    ----------
    fresh_Pa_s : Viscosity of the fresh mix at the part's temperature, above 0 [Pa s]
    temperature_K : Temperature of the part [K]
    """

    def leaves_s(kinetics: Kinetics, permeable: float = 1.0) -> float | None:
        # a bed twice as open is as good as a mix half as thick
        return squeezes_out_until_s(squeeze, kinetics, fresh_Pa_s / permeable, temperature_K)

    def times_s(kinetics: Kinetics) -> tuple[float, ...]:
        wets_s = wets_out_until_s(kinetics, fresh_Pa_s, temperature_K)
        return wets_s or SHORTEST_S, leaves_s(kinetics) or SHORTEST_S, film_life_s(kinetics, temperature_K)

    laws = sensitivities(calibration.variants, times_s)  # a film has the part's temperature, whatever is mixed
    wets_log, leaves_log, open_log = (log_sd(law, calibration.covariance) for law in laws)
    law = calibration.kinetics
    open_s, tight_s = (leaves_s(law, exp(half * PERMEABILITY_LOG)) or SHORTEST_S for half in (0.5, -0.5))
    open_until = _until(film_life_s(law, temperature_K), open_log)
    assert open_until is not None
    return FilmFlow(
        _until(wets_out_until_s(law, fresh_Pa_s, temperature_K), wets_log),
        _until(leaves_s(law), hypot(leaves_log, log(open_s / tight_s))),
        open_until,
    )


def _until(likely_s: float | None, log_sd: float) -> Band | None:
    return None if likely_s is None else Band.around(likely_s, log_sd)


# -- left standing ---------------------------------------------------------------------------------------------------

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
    """Say what a mix does that is left standing. A predicate; empty of one that stays warm.

    >>> left_words(525.0, "runaway"), left_words(300.0, "warm")
    ('smokes and can burn', '')

    Parameters
    ----------
    peak_K : How hot it likely gets [K]
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
    mass_g : Mass of mix in the vessel, above 0; a film's does not matter [g]
    start_K : Temperature of the mix at the start, 233 to 523 [K]
    ambient : The shop's temperature (a film: the part's), one or (time_s, temperature_K) points, 233 to 523 [K]
    deadline_s : When it is to be out, at most its gel [s]
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
