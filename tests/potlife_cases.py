"""Invented datasheets for the tests of the pot-life engine."""

from layup.chemistry.datasheet import Component, Datasheet, PotLifePoint
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.prediction import Vessel
from layup.chemistry.statements import DEFAULTS, calibrated

WARM = PotLifePoint(1800.0, 100.0, 298.15)
"""30 min to thickening, 100 g in a cup at 25 C."""

PLAIN = Kinetics(
    1.0,
    activation_energy_J_mol=55000.0,
    film_coefficient_W_m2_K=10.0,
    film_growth_per_K=0.0,
    conversion_open=0.35,
)
"""The law of the model's worked numbers: a heat loss that does not grow, and a film that closes as a cup thickens."""


def calibrate_point(time_s, mass_g, temperature_K, *, vessel=None, endpoint="thickening", kinetics=DEFAULTS):
    """Return the law that gives one stated pot life, in a cup where no vessel is named."""
    return calibrated(PotLifePoint(time_s, mass_g, temperature_K, endpoint), vessel or Vessel.cup(), kinetics)


def sheet(
    *points,
    films=(),
    chemistry="epoxy-amine",
    eew=None,
    ahew=None,
    ratio=(100.0, 30.0),
    ratio_by="weight",
    densities=None,
):
    resin_g_cm3, hardener_g_cm3 = densities or (None, None)
    return Datasheet(
        id="invented",
        title="Invented",
        chemistry=chemistry,
        resin=Component("resin", resin_g_cm3, eew),
        hardener=Component("hardener", hardener_g_cm3, ahew),
        ratio=ratio,
        ratio_by=ratio_by,
        pot_lives=points,
        films=films,
    )
