"""Resins and shops as they may truly be, drawn in physical values: what a datasheet and a thermometer leave open.

Independent of the bands: each draw is calibrated anew to its own true time, and asked of the single prediction.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import exp

import numpy as np
from potlife_cases import calibrate_point
from scipy.stats.qmc import MultivariateNormalQMC

from layup.chemistry.datasheet import FilmPoint, PotLifePoint
from layup.chemistry.film import film_life_s
from layup.chemistry.kinetics import Kinetics, conversion_after
from layup.chemistry.prediction import Vessel, predict

SHARED_LOG, OWN_LOG = 0.11, 0.10
ENERGY_J_MOL, ENERGY_SD_J_MOL = 56000.0, 11000.0
GEL = 3**-0.5


@dataclass(frozen=True)
class Truth:
    """One resin in one shop: its law, its film's true open time at the stated temperature, its cup as mixed."""

    law: Kinetics
    mass_factor: float
    warmer_K: float

    def thickens_s(self, mass_g: float, kelvin: float) -> float:
        """Return when a cup said to hold so much, and to be so warm, thickens."""
        mass_g, start_K = mass_g * self.mass_factor, kelvin + self.warmer_K
        return predict(self.law, Vessel.cup(), mass_g=mass_g, start_K=start_K, ambient=kelvin).working_s

    def film_s(self, kelvin: float) -> float:
        """Return how long a film stays open."""
        return film_life_s(self.law, kelvin)

    def film_gel_s(self, kelvin: float) -> float:
        """Return when a film gels."""
        return film_life_s(self.law, kelvin, conversion_end=self.law.conversion_gel)


def truths(stated: PotLifePoint, film: FilmPoint, count: int, *, seed: int) -> Iterator[tuple[Truth, Truth]]:
    """Yield resins that fit a stated pot life as well as datasheets do, each without and with a film time stated.

    Drawn evenly, by a scrambled Sobol sequence: 256 tell a share as sharply as 500 that are drawn at random.
    """
    for z in MultivariateNormalQMC(np.zeros(14), seed=seed).random(count):
        working = max(0.35 + 0.05 * z[0], 0.05)
        law = Kinetics(
            1.0,
            activation_energy_J_mol=ENERGY_J_MOL + ENERGY_SD_J_MOL * z[1],
            film_coefficient_W_m2_K=11.0 * exp(0.35 * z[2]),
            heat_J_g=430.0 * exp(0.10 * z[3]),
            specific_heat_J_g_K=1.9 * exp(0.08 * z[4]),
            a0=min(0.05 * exp(0.40 * z[5]), 1.0),
            conversion_working=working,
            conversion_gel=max(GEL + 0.04 * z[6], working),
            conversion_open=min(max(0.52 + 0.07 * z[7], 0.05), 0.9),
        )
        test_K = 0.7 * z[8]
        shared_log, cup_log, film_log = SHARED_LOG * z[9], OWN_LOG * z[10], OWN_LOG * z[11]
        law = calibrate_point(
            stated.time_s * exp(shared_log + cup_log),
            stated.mass_g,
            stated.temperature_K + test_K,
            endpoint=stated.endpoint,
            kinetics=law,
        )
        reached = law.rate_constant_per_s(film.temperature_K + test_K) * film.time_s * exp(shared_log + film_log)
        closing = replace(law, conversion_open=min(conversion_after(law, reached), 0.99))
        cup = exp(0.05 * z[12]), 1.5 * z[13]
        yield Truth(law, *cup), Truth(closing, *cup)
