"""Until when a plan's mix flows, against each batch integrated by scipy in its cup and then on the part."""

import itertools
from dataclasses import replace

import pytest
from plan_examples import PLAN, SLOW
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq

from layup.chemistry.calibration import calibrate
from layup.chemistry.datasheet import ViscosityPoint
from layup.chemistry.film import skin_share
from layup.chemistry.prediction import Vessel, heat_loss_of
from layup.planning.budget import thickest_skin
from layup.planning.fit import fit_of, flowing, squeezed_out, squeezed_words
from layup.planning.plan import Shop
from layup.planning.planner import PlanResult
from layup.planning.pressing import pressing

HERE_K = 293.15
SHEET = replace(SLOW, viscosities=(ViscosityPoint(0.8, HERE_K),))
CASE = PlanResult(PLAN, SHEET, calibrate(SHEET), Shop(HERE_K))


def limits(law):
    """Conversion at 2 Pa s, and where Terzaghi's factor 0.848 is all that the rest of the way to the gel is worth."""

    def thicker(a):
        return (law.conversion_gel / (law.conversion_gel - a)) ** (2.5 + 4.0 * a)

    def flows(closing):
        per_s = law.rate_constant_per_s(HERE_K)
        rest = quad(lambda a: 1.0 / (law.shape(a) * thicker(a)), closing, law.conversion_gel)[0]
        length_m, area_m2 = 1.6, quad_area()
        return 5e-11 * 100_000.0 / (0.07 * (0.5 * area_m2 / length_m) ** 2) * rest / (0.8 * per_s)

    wets = brentq(lambda a: 0.8 * thicker(a) - 2.0, 1e-6, 0.5)
    return wets, brentq(lambda a: flows(a) - 0.848, 0.01, law.conversion_gel - 1e-6)


def quad_area():
    """The outline's area by hand, trapezium by trapezium."""
    stations = PLAN.outline.stations
    return sum((b - a) * (u + v) / 2 for (a, u), (b, v) in itertools.pairwise(stations))


def reached_s(law, batch, conversion):
    """When the mix that is laid last reaches a conversion: cup, then the part, which warms itself."""
    loss = heat_loss_of(law, Vessel.cup(), batch.mass_g)

    def in_the_cup(_, state):
        a, kelvin = state
        rate, excess = law.rate_constant_per_s(kelvin) * law.shape(a), kelvin - HERE_K
        cooling = excess * (1.0 + loss.growth_per_K * abs(excess)) / loss.tau_s
        return rate, law.adiabatic_rise_K * rate - cooling

    cup = solve_ivp(in_the_cup, (0.0, batch.held_s), (0.0, HERE_K), method="LSODA", rtol=1e-8, atol=1e-8)
    laid = cup.y[0, -1]
    slower = skin_share(law, thickest_skin(PLAN), HERE_K) / law.rate_constant_per_s(HERE_K)
    return batch.contact_s + batch.held_s + slower * quad(lambda a: 1.0 / law.shape(a), laid, conversion)[0]


def test_each_batch_flows_as_long_as_one_that_is_integrated_through_cup_and_part():
    law = CASE.calibration.kinetics
    wets, leaves = limits(law)
    for batch, found in zip(CASE.split.batches, flowing(CASE), strict=True):
        assert found.wets_until.likely == pytest.approx(reached_s(law, batch, wets), rel=0.03)
        assert found.squeezes_until.likely == pytest.approx(reached_s(law, batch, leaves), rel=0.02)
        for until in (found.wets_until, found.squeezes_until):
            assert until.low < until.likely < until.high


@pytest.mark.parametrize("fresh_Pa_s", [0.5, 0.8])
def test_a_plan_turns_tight_as_it_closes_past_the_low_edge_of_what_squeezes_out(fresh_Pa_s):
    sheet = replace(SLOW, viscosities=(ViscosityPoint(fresh_Pa_s, HERE_K),))
    words = []
    for bench_s in (6300.0, 6900.0, 7500.0, 8100.0, 8700.0):
        plan = replace(PLAN, closing=replace(PLAN.closing, bench_s=bench_s))
        result = replace(CASE, plan=plan, datasheet=sheet, calibration=calibrate(sheet))
        late = result.split.closed_s > min(batch.squeezes_until.low for batch in flowing(result))
        assert any("should leave stay" in said for said in fit_of(result).tight) == late
        words.append(late)
    assert len(set(words)) == 2, words


def test_where_the_viscosity_on_the_part_is_not_known_nothing_is_said_of_flow():
    far = replace(CASE, shop=Shop(HERE_K, part_K=275.15))
    assert flowing(far) == ()
    assert flowing(replace(CASE, datasheet=SLOW)) == ()


def test_mix_that_starts_too_thick_has_no_time_to_wet_out():
    sheet = replace(SLOW, viscosities=(ViscosityPoint(2.4, HERE_K),))
    assert all(batch.wets_until is None for batch in flowing(replace(CASE, datasheet=sheet)))


def late(bench_s, fresh_Pa_s=0.8):
    """The plan with a press that takes so long to close."""
    sheet = replace(SLOW, viscosities=(ViscosityPoint(fresh_Pa_s, HERE_K),))
    closing = replace(PLAN.closing, bench_s=bench_s, target_pressure_Pa=20_000.0)
    plan = replace(PLAN, closing=closing, losses=replace(PLAN.losses, squeeze_out=0.1))
    return replace(CASE, plan=plan, datasheet=sheet, calibration=calibrate(sheet))


def test_what_leaves_in_time_is_what_the_packed_cloth_has_no_room_for():
    """By hand: fibre over fibre and the resin that is left, of 1.15 g/cm^3; in good time all of it leaves."""
    found, press = squeezed_out(late(600.0)), pressing(late(600.0).plan)
    assert found.share.likely == pytest.approx(1.0, abs=1e-3)
    assert (found.out_g.low, found.out_g.high) == pytest.approx(press.pressed_out_g, rel=0.01)
    for out_g, fraction in zip(found.out_g, found.fraction, strict=True):
        assert fraction == pytest.approx(press.fibre_cm3 / (press.fibre_cm3 + (press.laid_g - out_g) / 1.15))
    assert found.laminate_m.likely * found.fraction.likely == pytest.approx(press.laminate_m * press.planned_fraction)
    assert found.laminate_m.low < found.laminate_m.likely < found.laminate_m.high


def test_the_later_it_closes_the_more_stays_until_it_is_resin_rich_and_says_so():
    shares, words = [], []
    for bench_s in (600.0, 9300.0, 13_000.0, 16_000.0):
        found = squeezed_out(late(bench_s))
        assert 0.0 <= found.share.low <= found.share.likely <= found.share.high <= 1.0
        assert 0.0 <= found.out_g.low <= found.out_g.likely <= found.out_g.high
        shares.append(found.share.likely)
        words.append(squeezed_words(found))
    assert shares == sorted(shares, reverse=True)
    assert shares[-1] < 0.5 < shares[0]
    assert "will stay resin-rich" in words[-1]
    assert "resin-rich" not in words[0]


def test_thin_mix_leaves_for_longer_than_thick_and_a_plan_that_counts_on_it_is_not_contradicted():
    thick, thin = (squeezed_out(late(8100.0, fresh_Pa_s)) for fresh_Pa_s in (0.8, 0.1))
    assert thick.share.likely < thin.share.likely
    found = squeezed_out(late(600.0))
    more = replace(found, planned_g=1.1 * found.out_g.high)
    assert found.as_planned
    assert "Not as planned" not in squeezed_words(found)
    assert not more.as_planned
    assert "Not as planned" in squeezed_words(more)
    assert squeezed_out(replace(CASE, datasheet=SLOW)) is None
