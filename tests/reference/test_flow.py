"""Until when mix wets cloth and leaves under the press, against published consolidation and scipy."""

from math import exp, sqrt

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq
from scipy.sparse import diags_array

from layup.chemistry.kinetics import Kinetics, conversion_after
from layup.chemistry.viscosity import (
    LEAVES_SHARE,
    PACKING_EXPONENT,
    PERMEABILITY_m2,
    Squeeze,
    conversion_leaving,
    share_that_leaves,
    squeezes_out_until_s,
    wets_out_until_s,
)

LAW = Kinetics(3.2e-4)
GEL = 1.0 / sqrt(3.0)
HERE_K = 293.15
SKI = Squeeze(100_000.0, 0.045)


def viscosity(conversion, fresh_Pa_s):
    """The law's two exponents are ours: see the rheometer test of the growth."""
    return fresh_Pa_s * (GEL / (GEL - conversion)) ** (2.5 + 4.0 * conversion)


def rate(conversion, kelvin=HERE_K):
    k = 3.2e-4 * exp(-LAW.activation_energy_J_mol / 8.314462618 * (1 / kelvin - 1 / 298.15))
    return k * (0.05 + conversion) * (1.0 - conversion) ** 2


@pytest.mark.parametrize(("time_factor", "share"), [(0.197, 0.50), (0.403, 0.70), (0.848, 0.90)])
def test_consolidation_is_terzaghis(time_factor, share):
    """Terzaghi's table, in every textbook of soil mechanics (from memory): Tv 0.197, 0.403, 0.848 for 50, 70, 90 %."""
    fluid = quad(lambda a: 1.0 / (rate(a) * viscosity(a, 1.0)), 0.0, GEL)[0]
    path_m = sqrt(PERMEABILITY_m2 * 1e5 / PACKING_EXPONENT * fluid / time_factor)
    found = share_that_leaves(Squeeze(1e5, path_m), LAW, 1.0, HERE_K, 0.0)
    assert found == pytest.approx(share, abs=0.002)


@pytest.mark.parametrize("closing", [0.2, 0.4, 0.5, 0.55])
def test_what_leaves_is_that_of_a_bed_of_finite_slices(closing):
    """Independent: du/dt = c(t) u'' between drained edges, 200 slices, by scipy's Radau along the course of cure."""
    slices, fresh_Pa_s = 200, 1.0
    stiff = PERMEABILITY_m2 * SKI.pressure_Pa / PACKING_EXPONENT / (2.0 * SKI.path_m / slices) ** 2

    ends = np.full(slices, -2.0)
    ends[[0, -1]] = -3.0
    bed = diags_array([np.ones(slices - 1), ends, np.ones(slices - 1)], offsets=[-1, 0, 1], format="csc")

    def slopes_of(a):
        return stiff / viscosity(a, fresh_Pa_s) / rate(a) * bed

    span, even = (closing, GEL * (1.0 - 1e-6)), np.ones(slices)
    run = solve_ivp(
        lambda a, u: slopes_of(a) @ u, span, even, method="Radau", jac=lambda a, _: slopes_of(a), rtol=1e-6, atol=1e-8
    )
    expected = 1.0 - run.y[:, -1].mean()
    assert share_that_leaves(SKI, LAW, fresh_Pa_s, HERE_K, closing) == pytest.approx(expected, abs=0.005)


def test_what_wets_until_two_pascal_seconds_is_warmed_where_it_starts_thicker():
    """2 Pa s: common practice, no source. Independent: scipy quad to the conversion reached."""
    until_s = wets_out_until_s(LAW, 0.7, HERE_K)
    reached = conversion_after(LAW, LAW.rate_constant_per_s(HERE_K) * until_s)
    assert viscosity(reached, 0.7) == pytest.approx(2.0, rel=1e-6)
    assert until_s == pytest.approx(quad(lambda a: 1.0 / rate(a), 0.0, reached)[0], rel=1e-6)
    assert wets_out_until_s(LAW, 2.4, HERE_K) is None


def test_it_leaves_for_longer_than_it_wets_and_not_after_the_gel():
    until_s = squeezes_out_until_s(SKI, LAW, 0.7, HERE_K)
    gel_s = quad(lambda a: 1.0 / rate(a), 0.0, GEL)[0]
    assert wets_out_until_s(LAW, 0.7, HERE_K) < until_s < gel_s
    reached = conversion_after(LAW, LAW.rate_constant_per_s(HERE_K) * until_s)
    assert share_that_leaves(SKI, LAW, 0.7, HERE_K, reached) == pytest.approx(LEAVES_SHARE, abs=1e-6)
    assert share_that_leaves(SKI, LAW, 0.7, HERE_K, GEL) == 0.0
    assert squeezes_out_until_s(Squeeze(5e3, 1.0), LAW, 0.7, HERE_K) is None


@pytest.mark.parametrize("law", [LAW, Kinetics(2e-4, a0=0.02, m=1.3, n=1.6, conversion_gel=0.6)])
@pytest.mark.parametrize("path_m", [1e-4, 0.01, 0.045, 0.2])
def test_the_last_conversion_at_which_enough_leaves_is_that_of_a_root_of_a_quadrature(law, path_m):
    """Independent: scipy's brentq over scipy's quad of how much may still flow; 0.848085 is Terzaghi's 90 %."""
    squeeze, gel = Squeeze(100_000.0, path_m), law.conversion_gel
    per_fluid = squeeze.per_fluidity / (0.7 * law.rate_constant_per_s(HERE_K))

    def fluid(a):
        return 1.0 / ((law.a0 + a**law.m) * (1.0 - a) ** law.n * (gel / (gel - a)) ** (2.5 + 4.0 * a))

    def spare(left_log):
        closed = gel * (1.0 - exp(left_log))
        return per_fluid * quad(fluid, closed, gel, epsabs=0.0, epsrel=1e-10)[0] / 0.848085 - 1.0

    found = conversion_leaving(squeeze, law, 0.7, HERE_K)
    if spare(0.0) < 0.0:
        assert found is None
        return
    assert 1.0 - found / gel == pytest.approx(exp(brentq(spare, -12.0, 0.0, xtol=1e-12)), rel=2e-5)
