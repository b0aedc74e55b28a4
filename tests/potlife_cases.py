"""Invented datasheets for the tests of the pot-life engine."""

from layup.chemistry.datasheet import Component, Datasheet, PotLifePoint

WARM = PotLifePoint(1800.0, 100.0, 298.15)
"""30 min to thickening, 100 g in a cup at 25 C."""


def sheet(*points, films=(), chemistry="epoxy-amine", eew=None, ratio=(100.0, 30.0), ratio_by="weight", densities=None):
    resin_g_cm3, hardener_g_cm3 = densities or (None, None)
    return Datasheet(
        id="invented",
        title="Invented",
        chemistry=chemistry,
        resin=Component("resin", resin_g_cm3, eew),
        hardener=Component("hardener", hardener_g_cm3),
        ratio=ratio,
        ratio_by=ratio_by,
        pot_lives=points,
        films=films,
    )
