"""How things follow the shop: textbook eigenvalues, and an independent march of the heat equation by scipy."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.optimize import brentq
from scipy.special import j0, j1

from layup.chemistry.climate import (
    AIR_J_m3_K,
    Room,
    WOOD_DIFFUSIVITY_m2_s,
    heater_W,
    held_K,
    warms_in_s,
    wood_follows_s,
    wood_moisture,
)
from layup.chemistry.film import SolidLayer
from layup.chemistry.kinetics import EPOXY_J_g_K
from layup.chemistry.soak import (
    Body,
    EPOXY_W_m_K,
    bath_time_s,
    follow_time_s,
    left_at_the_slowest,
    wood_conductivity_W_m_K,
)
from layup.errors import RangeError

WALL = {0.01: (0.0998, 1.0017), 0.1: (0.3111, 1.0161), 1.0: (0.8603, 1.1191), 10.0: (1.4289, 1.2620)}
CYLINDER = {0.01: (0.1412, 1.0025), 0.1: (0.4417, 1.0246), 1.0: (1.2558, 1.2071), 10.0: (2.1795, 1.5677)}
"""First eigenvalue and weight by Biot number: Incropera & DeWitt, table 5.1 (from memory)."""
UNIT = SolidLayer(1.0, 1e-6, 1.0, 1.0)
"""A metre of something with k = 1 W/(m K) and rho cp = 1 J/(m3 K): time is the Fourier number."""
WOOD = SolidLayer(0.12, 0.5, 1.6, 0.018)
FOAM = SolidLayer(0.035, 0.03, 1.45, 0.05)


@pytest.mark.parametrize(("biot", "first"), WALL.items())
def test_a_wall_has_the_first_term_of_the_textbook(biot, first):
    eigenvalue, weight = first
    conducts = 1.0 if biot >= 0.1 else 10.0  # a coefficient that small belongs to a better conductor
    body = Body("wall", "half slab", (SolidLayer(conducts, 1e-6, conducts, 1.0),), h_W_m2_K=biot * conducts)
    fourier = 2.0 / max(eigenvalue**2, 1.0)
    expected = weight * np.exp(-(eigenvalue**2) * fourier)
    assert body.biot == pytest.approx(biot)
    assert left_at_the_slowest(body, fourier) == pytest.approx(expected, rel=5e-4)


@pytest.mark.parametrize(("biot", "first"), CYLINDER.items())
def test_a_long_cylinder_has_the_first_term_of_the_textbook(biot, first):
    eigenvalue, weight = first
    conducts = 1.0 if biot >= 0.1 else 10.0
    body = Body("rod", "cylinder", (SolidLayer(conducts, 1e-6, conducts, 1.0),), h_W_m2_K=biot * conducts, radius_m=1.0)
    fourier = 2.0 / max(eigenvalue**2, 1.0)
    assert left_at_the_slowest(body, fourier) == pytest.approx(weight * np.exp(-(eigenvalue**2) * fourier), rel=5e-4)


@settings(max_examples=15)
@given(biot=st.floats(0.2, 200.0), fourier=st.floats(0.05, 2.0))
def test_the_series_are_those_of_scipys_bessel_functions(biot, fourier):
    body = Body("rod", "cylinder", (UNIT,), h_W_m2_K=biot, radius_m=1.0)
    ends = [2.404825557695773, *(np.arange(2, 30) * np.pi - np.pi / 4 + 0.05)]
    starts = [0.0, *(np.arange(2, 30) * np.pi - 3 * np.pi / 4 - 0.1)]
    total = 0.0
    for low, high in zip(starts, ends, strict=True):
        z = brentq(lambda z: z * j1(z) - biot * j0(z), low + 1e-12, high)
        total += 2 * j1(z) / (z * (j0(z) ** 2 + j1(z) ** 2)) * np.exp(-z * z * fourier)
    assert left_at_the_slowest(body, fourier) == pytest.approx(total, abs=2e-6)


def marched(layers, h, both, time_s, *, cells=140):
    """March a wall from one to zero by the method of lines; return the slowest cell."""
    whole = sum(layer.thickness_m for layer in layers)
    size, heat, k = [], [], []
    for layer in layers:
        count = round(cells * layer.thickness_m / whole)
        size += [layer.thickness_m / count] * count
        heat += [1e6 * layer.density_g_cm3 * layer.specific_heat_J_g_K * layer.thickness_m / count] * count
        k += [layer.conductivity_W_m_K] * count
    size, heat, k = map(np.array, (size, heat, k))
    between = 1.0 / (0.5 * size[1:] / k[1:] + 0.5 * size[:-1] / k[:-1])
    face = [1.0 / (1.0 / h + 0.5 * size[end] / k[end]) for end in (0, -1)]

    def slope(_, share):
        flow = between * np.diff(share)
        gain = np.concatenate([flow, [0.0]]) - np.concatenate([[0.0], flow])
        gain[0] -= face[0] * share[0]
        gain[-1] -= face[1] * share[-1] if both else 0.0
        return gain / heat

    found = solve_ivp(slope, (0.0, time_s), np.ones(len(size)), method="BDF", rtol=1e-7, atol=1e-9)
    return found.y[:, -1].max()


@pytest.mark.parametrize("both", [True, False])
@pytest.mark.parametrize("minutes", [10, 60, 180])
def test_layers_follow_as_a_march_of_the_heat_equation_says(both, minutes):
    body = Body("mould", "layers", (WOOD, FOAM), both_faces=both)
    expected = marched((WOOD, FOAM), body.h_W_m2_K, both, 60.0 * minutes)
    assert left_at_the_slowest(body, 60.0 * minutes) == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize(("shape", "both"), [("half slab", False), ("slab", True)])
def test_layers_of_one_material_are_the_wall_of_the_series(shape, both):
    half = SolidLayer(0.12, 0.5, 1.6, 0.009)
    layered = Body("mould", "layers", (half, half), both_faces=both)
    series = Body("mould", shape, (WOOD,))
    times = [follow_time_s(body, from_K=276.15, to_K=291.15) for body in (layered, series)]
    assert times[0] == pytest.approx(times[1], rel=0.002)


def can(litres: float, h: float = 8.0) -> Body:
    radius_m = (litres / 1000.0 / (2.4 * np.pi)) ** (1 / 3)
    return Body(
        "can",
        "can",
        (SolidLayer(EPOXY_W_m_K, 1.15, EPOXY_J_g_K, radius_m),),
        h,
        radius_m=radius_m,
        height_m=2.4 * radius_m,
    )


def marched_can(body: Body, h: float, time_s: float, *, cells: int = 20) -> tuple[float, float]:
    """March a can from one to zero in radius and height by the method of lines; return its middle and its mean."""
    radius, half = body.radius_m, 0.5 * body.height_m
    k, heat = EPOXY_W_m_K, 1.15e6 * EPOXY_J_g_K
    dr, dz = radius / cells, half / cells
    edges = np.arange(cells + 1) * dr
    ring = np.pi * np.diff(edges**2)
    around = 2.0 * np.pi * edges * dz

    def slope(_, flat):
        share = flat.reshape(cells, cells)
        gain = np.zeros_like(share)
        flow = k * np.diff(share, axis=0) / dr * around[1:-1, None]
        gain[:-1] += flow
        gain[1:] -= flow
        gain[-1] -= around[-1] * share[-1] / (1.0 / h + 0.5 * dr / k)
        up = k * np.diff(share, axis=1) / dz * ring[:, None]
        gain[:, :-1] += up
        gain[:, 1:] -= up
        gain[:, -1] -= ring * share[:, -1] / (1.0 / h + 0.5 * dz / k)
        return (gain / (heat * ring[:, None] * dz)).ravel()

    found = solve_ivp(slope, (0.0, time_s), np.ones(cells * cells), method="BDF", rtol=1e-4, atol=1e-6)
    share = found.y[:, -1].reshape(cells, cells)
    return share[0, 0], float((share.mean(axis=1) * ring).sum() / ring.sum())


def test_a_can_is_the_product_of_cylinder_and_wall_as_a_march_in_two_directions_says():
    body = can(1.0)
    time_s = follow_time_s(body, from_K=276.15, to_K=291.15)
    middle, _ = marched_can(body, body.h_W_m2_K, time_s)
    assert middle == pytest.approx(2.0 / 15.0, abs=0.002)


def test_a_can_in_a_warmer_bath_has_the_mean_that_is_wanted_as_a_march_says():
    body = can(1.0, 300.0)
    time_s = bath_time_s(body, from_K=276.15, bath_K=308.15, to_K=291.15)
    _, mean = marched_can(body, 300.0, time_s)
    assert mean == pytest.approx(17.0 / 32.0, abs=0.01)


@given(
    thickness=st.floats(0.003, 0.1),
    h=st.floats(2.0, 50.0),
    cold=st.floats(265.0, 288.0),
    thicker=st.floats(1.05, 3.0),
)
def test_a_thicker_wall_and_stiller_air_take_longer_and_one_face_longer_than_two(thickness, h, cold, thicker):
    def time_s(shape, times, coefficient):
        body = Body("core", shape, (SolidLayer(0.12, 0.5, 1.6, times * thickness),), coefficient)
        return follow_time_s(body, from_K=cold, to_K=293.15)

    both = time_s("slab", 1.0, h)
    assert both < time_s("slab", thicker, h)
    assert both < time_s("slab", 1.0, h / thicker)
    assert both < time_s("half slab", 1.0, h)


@given(time_s=st.floats(1.0, 1e5), later=st.floats(1.01, 3.0))
def test_what_is_left_only_falls_and_stays_a_share(time_s, later):
    for body in (Body("core", "slab", (WOOD,)), can(1.0), Body("mould", "layers", (WOOD, FOAM))):
        before, after = left_at_the_slowest(body, time_s), left_at_the_slowest(body, later * time_s)
        assert 0.0 <= after <= before + 1e-9 <= 1.0 + 1e-9


def test_what_is_near_enough_takes_no_time_and_cooling_is_as_quick_as_warming():
    core = Body("core", "slab", (WOOD,))
    assert follow_time_s(core, from_K=290.15, to_K=291.15) == 0.0
    warming = follow_time_s(core, from_K=276.15, to_K=291.15)
    assert follow_time_s(core, from_K=291.15, to_K=276.15) == pytest.approx(warming)


def test_a_bath_that_is_no_warmer_than_wanted_is_refused():
    with pytest.raises(RangeError, match="bath"):
        bath_time_s(can(1.0), from_K=276.15, bath_K=290.15, to_K=291.15)


@pytest.mark.parametrize(("gravity", "table"), [(0.60, 0.17), (0.48, 0.14), (0.42, 0.13)])
def test_wood_conducts_as_the_handbooks_table_says(gravity, table):
    """White ash, Douglas-fir, yellow-poplar at 12 %: Wood Handbook, table 4-7 (from memory, to 0.01 or 0.02)."""
    assert wood_conductivity_W_m_K(gravity, 0.12) == pytest.approx(table, abs=0.015)


@pytest.mark.parametrize(
    ("humidity", "percent", "within"),
    [(0.25, 5.3, 0.2), (0.60, 11.1, 0.2), (0.84, 17.6, 0.2), (0.87, 19.0, 0.2), (0.97, 25.0, 0.7)],
)
def test_wood_in_air_comes_to_the_handbooks_moisture(humidity, percent, within):
    """Worked examples of the Forest Products Laboratory's equation at 21 degC."""
    assert 100.0 * wood_moisture(294.15, humidity) == pytest.approx(percent, abs=within)


@given(air=st.floats(255.0, 340.0), humidity=st.floats(0.0, 0.96), damper=st.floats(0.001, 0.02))
def test_wood_holds_more_water_in_damper_air(air, humidity, damper):
    assert 0.0 <= wood_moisture(air, humidity) < wood_moisture(air, humidity + damper) < 0.32


def test_a_board_takes_nine_tenths_of_a_change_as_cranks_series_says():
    quick_s, slow_s = wood_follows_s(0.012)
    for diffusivity, time_s in zip(reversed(WOOD_DIFFUSIVITY_m2_s), (quick_s, slow_s), strict=True):
        fourier = diffusivity * time_s / 0.006**2
        odd = np.arange(1, 200, 2)
        left = (8.0 / (odd * np.pi) ** 2 * np.exp(-((odd * np.pi / 2.0) ** 2) * fourier)).sum()
        assert left == pytest.approx(0.1, abs=1e-4)


SHED = Room(4.0, 3.0, 2.4, 0.05 / 0.035, 1.0)


def test_a_room_loses_heat_by_its_faces_and_its_air():
    """EN ISO 6946: U = 1/(Rsi + R + Rse), by hand; air 0.335 W h/(m3 K)."""
    walls, flat, volume = 2 * 7.0 * 2.4, 12.0, 28.8
    r = 0.05 / 0.035
    by_hand = walls / (0.13 + r + 0.04) + flat / (0.10 + r + 0.04) + flat / (0.17 + r + 0.04) + 0.335 * volume
    assert SHED.loss_W_K == pytest.approx(by_hand, rel=1e-3)
    assert heater_W(SHED, inside_K=291.15, outside_K=268.15) == pytest.approx(23.0 * by_hand, rel=1e-3)
    assert heater_W(SHED, inside_K=291.15, outside_K=295.15) == 0.0
    assert held_K(SHED, power_W=23.0 * SHED.loss_W_K, outside_K=268.15) == pytest.approx(291.15)


def test_a_box_in_the_shop_loses_less_than_one_in_the_wind():
    sizes = {"length_m": 2.0, "width_m": 0.5, "height_m": 0.4, "resistance_m2_K_W": 0.0, "air_changes_per_h": 1.0}
    assert Room(**sizes, indoors=True).loss_W_K < 0.7 * Room(**sizes).loss_W_K


def test_a_heater_warms_a_room_as_a_march_says():
    stored_J_K = AIR_J_m3_K * 28.8 + 60_000.0
    time_s = warms_in_s(SHED, power_W=2000.0, from_K=276.15, to_K=291.15, outside_K=268.15, stored_J_K=stored_J_K)
    found = solve_ivp(
        lambda _, t: (2000.0 - SHED.loss_W_K * (t - 268.15)) / stored_J_K, (0.0, time_s), [276.15], rtol=1e-9, atol=1e-9
    )
    assert found.y[0, -1] == pytest.approx(291.15, abs=1e-4)


def test_a_heater_too_weak_never_gets_there_and_a_warm_room_is_there_at_once():
    ways = {"outside_K": 268.15, "stored_J_K": 1e5}
    assert warms_in_s(SHED, power_W=100.0, from_K=276.15, to_K=291.15, **ways) == float("inf")
    assert warms_in_s(SHED, power_W=100.0, from_K=291.15, to_K=288.15, **ways) == 0.0
