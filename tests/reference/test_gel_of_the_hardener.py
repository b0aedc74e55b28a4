"""The gel by the groups of the two molecules, wherever it is decided: published values, and nowhere else a change."""

from math import sqrt
from pathlib import Path

import pytest
from scipy.integrate import quad

from layup.chemistry.calibration import calibrate
from layup.chemistry.cure import gel_conversion
from layup.chemistry.datasheet import Component, Datasheet, PotLifePoint
from layup.chemistry.demould import demould, setting_of
from layup.chemistry.prediction import Vessel, predict
from layup.errors import RangeError
from layup.files.workshop import Workshop

HERE_K = 298.15


def sheet(groups, *, share=1.0, endpoint="gel", films=()):
    """A diepoxide of 190 g/eq with a hardener of 40 g/eq, `share` of its equivalents poured."""
    return Datasheet(
        id="made-up",
        title="Made up",
        chemistry="epoxy-amine",
        resin=Component("resin", 1.15, 190.0, 2),
        hardener=Component("hardener", 0.95, 40.0, groups),
        ratio=(100.0, share * 100.0 * 40.0 / 190.0),
        ratio_by="weight",
        pot_lives=(PotLifePoint(3600.0, 100.0, HERE_K, endpoint),),
        films=films,
    )


@pytest.mark.parametrize(
    ("groups", "share", "gel"),
    [(4, 1.0, 0.57735), (5, 1.0, 0.5), (6, 1.0, 0.44721), (4, 0.8, 1 / sqrt(0.8 * 3)), (4, 1.25, 1 / sqrt(0.8 * 3))],
)
def test_a_calibrated_resin_gels_where_flory_and_stockmayer_say(groups, share, gel):
    """f = 2, g = 4, 5, 6: 0.57735, 0.5, 0.44721 (Flory 1953, chapter 9); 1/sqrt(r (f-1)(g-1)) off balance."""
    found = calibrate(sheet(groups, share=share))
    assert found.kinetics.conversion_gel == pytest.approx(gel, abs=1e-5)
    assert any(f"gels at conversion {gel:.2f}" in words for words in found.assumptions)


def test_where_the_groups_are_not_stated_it_gels_as_a_diepoxide_with_a_diamine():
    assert calibrate(sheet(None, share=0.8)).kinetics.conversion_gel == pytest.approx(0.57735, abs=1e-5)


@pytest.mark.parametrize("groups", [3, 4, 6, 8, 10])
def test_the_stated_time_to_the_gel_ends_at_that_gel(groups):
    found = calibrate(sheet(groups)).kinetics
    life = predict(found, Vessel.cup(), mass_g=100.0, start_K=HERE_K, ambient=HERE_K)
    assert life.gel_s == pytest.approx(3600.0, rel=1e-3)
    assert life.working_s < life.gel_s


@pytest.mark.parametrize(("groups", "last"), [(3, 0.52), (4, 0.52), (6, 0.41721)])
def test_a_film_closes_before_that_gel(groups, last):
    """0.52 where no film time is stated, and never later than 0.03 before the gel."""
    assert calibrate(sheet(groups)).kinetics.conversion_film == pytest.approx(last, abs=1e-4)


@pytest.mark.parametrize("groups", [3, 4, 6])
def test_a_part_counts_as_gelled_on_the_mould_only_past_that_gel(groups):
    """Independent: the closed time of the rate law at one temperature, by scipy, to the gel and 0.03 more."""
    resin = sheet(groups)
    found = calibrate(resin)
    ready = demould(setting_of(resin, found.kinetics)[0], found, HERE_K)
    law, past = found.kinetics, gel_conversion(2, groups) + 0.03
    alone_s = quad(lambda a: 1.0 / law.shape(a), 0.0, past)[0] / law.k_ref_per_s
    # within what one step of the course may be off
    assert alone_s * (1.0 - 1e-7) <= ready.gel_s < 1.3 * alone_s, "later than that only as a glass slows it"
    assert ready.out_s.likely >= ready.gel_s


def test_the_two_generic_resins_say_how_many_groups_their_hardeners_have():
    """IPDA has four amine hydrogens, TETA six: their formulas (molar masses over 4 and 6 are their AHEW)."""
    workshop = Workshop(Path(__file__).parents[2])
    gels = [calibrate(workshop.resin(name)).kinetics.conversion_gel for name in ("dgeba-ipda", "dgeba-teta")]
    assert gels == pytest.approx([0.577, 0.447], abs=0.005)


def test_too_few_groups_never_gel_and_are_refused():
    with pytest.raises(RangeError, match="the mix never gels"):
        calibrate(sheet(2, share=0.9))
