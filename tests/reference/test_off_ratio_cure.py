"""A mix off ratio: its gel against the Miller-Macosko recursion, its softening against DiBenedetto by hand."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from layup.chemistry.cure import off_ratio_cure
from layup.chemistry.datasheet import Component, Datasheet, PotLifePoint

SHEET = Datasheet(
    id="made-up",
    title="Made up",
    chemistry="epoxy-amine",
    resin=Component("resin", 1.15, 190.0),
    hardener=Component("hardener", 0.95, 42.574),  # IPDA
    ratio=(100.0, 100.0 * 42.574 / 190.0),
    ratio_by="weight",
    pot_lives=(PotLifePoint(1800.0, 100.0, 298.15),),
    glass_transition_K=363.15,
)


def gel_by_recursion(f: int, g: int, balance: float, *, short_of_epoxide: bool) -> float | None:
    """Bisect the conversion of the scarcer groups at which a chain out of a group is no longer surely finite.

    D. R. Macosko and C. W. Miller, Macromolecules 9 (1976) 199 (from memory): F_out = p F_in + 1 - p, F_in = F_out of
    the other kind to the number of its other groups. The smallest root is reached from 0 by iteration.
    """

    def infinite(conversion: float) -> bool:
        resin, hardener = (conversion, balance * conversion) if short_of_epoxide else (balance * conversion, conversion)
        finite = 0.0
        for _ in range(20_000):
            into_hardener = (hardener * finite ** (f - 1) + 1.0 - hardener) ** (g - 1)
            finite = resin * into_hardener + 1.0 - resin
        return finite < 1.0 - 1e-3

    if not infinite(1.0):
        return None
    low, high = 0.0, 1.0
    for _ in range(12):
        middle = 0.5 * (low + high)
        low, high = (low, middle) if infinite(middle) else (middle, high)
    return 0.5 * (low + high)


@pytest.mark.parametrize("off", [-0.8, -0.6, -0.3, -0.1, 0.0, 0.1, 0.5, 1.5, 2.5])
def test_a_mix_off_ratio_gels_where_its_branches_go_on_for_ever(off):
    found = off_ratio_cure(SHEET, off)
    expected = gel_by_recursion(2, 4, found.balance, short_of_epoxide=off > 0.0)
    if expected is None:
        assert found.gel_conversion is None
    else:
        assert found.gel_conversion == pytest.approx(expected, abs=2e-3)


@pytest.mark.parametrize(
    ("off", "gel", "softens_C"),
    [
        # r = 0.9 either way; Tg = -30 + 120 * 0.4 r / (1 - 0.6 r), computed by hand from DiBenedetto's equation
        (-0.1, 0.608581, 63.9130),
        (1.0 / 0.9 - 1.0, 0.608581, 63.9130),
        (-0.5, 0.816497, 4.2857),
        (0.0, 0.577350, 90.0),
    ],
)
def test_gel_and_softening_of_a_resin_known_by_its_equivalents(off, gel, softens_C):
    found = off_ratio_cure(SHEET, off)
    assert found.gel_conversion == pytest.approx(gel, abs=1e-6)
    assert found.glass_transition_K - 273.15 == pytest.approx(softens_C, abs=1e-3)


@pytest.mark.parametrize("off", [-1.0, -0.7, 2.1, 1e7])
def test_a_diepoxide_beyond_three_to_one_never_gels(off):
    # Flory 1953, chapter 9: no gel where r (f-1)(g-1) < 1, for f 2 and g 4 below one third.
    assert off_ratio_cure(SHEET, off).gel_conversion is None


@given(st.floats(-0.95, 5.0), st.floats(0.01, 0.5))
def test_further_off_ratio_never_gels_sooner_nor_softens_hotter(off, further):
    away = off + further if off >= 0.0 else max(-1.0, off - further)
    near, far = off_ratio_cure(SHEET, off), off_ratio_cure(SHEET, away)
    assert far.glass_transition_K <= near.glass_transition_K + 1e-9
    assert (far.gel_conversion or 1.0) >= (near.gel_conversion or 1.0) - 1e-12


def test_the_softening_that_is_stated_belongs_to_the_ratio_that_is_stated():
    # stated 10 % short of hardener: the stated glass transition is that mix's, and 10 % more loses none of it
    lean = replace(SHEET, ratio=(100.0, 0.9 * SHEET.ratio[1]))
    assert off_ratio_cure(lean, 0.0).glass_transition_K == pytest.approx(363.15)
    assert off_ratio_cure(lean, 0.1).glass_transition_K == pytest.approx(363.15)
    assert off_ratio_cure(lean, -0.1).glass_transition_K < 345.0
    assert off_ratio_cure(lean, 0.0).gel_conversion == pytest.approx(0.608581, abs=1e-6)


def test_without_equivalents_the_stated_ratio_counts_as_balanced():
    plain = replace(SHEET, resin=Component("resin"), hardener=Component("hardener"), ratio=(100.0, 45.0))
    found = off_ratio_cure(plain, 0.0)
    assert found.balance == 1.0
    assert "balanced" in found.assumptions[0]
