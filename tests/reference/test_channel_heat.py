"""Heat of a pour in its channel, against scipy's integration of the pour with the wood around it in 40 layers."""

import numpy as np
import pytest
from scipy.integrate import quad, solve_ivp

from layup.chemistry.calibration import calibrate
from layup.chemistry.film import CORE_WOOD, Skin, open_life_share
from layup.chemistry.kinetics import Kinetics
from layup.files.workshop import Workshop, demo_root

GAS = 8.314462618
CASTING = calibrate(Workshop(demo_root()).resin("casting-urethane")).kinetics
SLOW = calibrate(Workshop(demo_root()).resin("slow-laminating")).kinetics


def rate(law: Kinetics, kelvin: float, a: float) -> float:
    arrhenius = np.exp(-law.activation_energy_J_mol / GAS * (1.0 / kelvin - 1.0 / 298.15))
    return law.k_ref_per_s * arrhenius * (law.a0 + a**law.m) * (1.0 - a) ** law.n


def film_s(law: Kinetics, part_K: float) -> float:
    return quad(lambda a: 1.0 / rate(law, part_K, a), 0.0, law.conversion_gel)[0]


def channel_s(law: Kinetics, width_m: float, depth_m: float, part_K: float) -> float:
    """Return when a pour gels: one temperature in the mix, Fourier's law in the wood, still air on top; a metre."""
    wood, layers, wood_m = CORE_WOOD, 40, 2.0 * depth_m + width_m
    mix_g = 1e6 * law.density_g_cm3 * width_m * depth_m
    size_m = wood.thickness_m / layers
    stores = 1e6 * wood.density_g_cm3 * wood.specific_heat_J_g_K * size_m
    passes = wood.conductivity_W_m_K / size_m

    def slopes(_: float, state: np.ndarray) -> np.ndarray:
        a, kelvin, inside = state[0], state[1], state[2:]
        excess = kelvin - part_K
        air_W = law.film_coefficient_W_m2_K * (1.0 + law.film_growth_per_K * (excess - 20.0)) * excess * width_m
        flows = passes * np.diff(inside, prepend=0.0, append=inside[-1]) * -1.0
        flows[0] = 2.0 * passes * (kelvin - inside[0])
        reacts = rate(law, kelvin, a)
        made_W = mix_g * law.heat_J_g * reacts
        warms = (made_W - flows[0] * wood_m - air_W) / (mix_g * law.specific_heat_J_g_K)
        return np.concatenate(([reacts, warms], (flows[:-1] - flows[1:]) / stores))

    def gelled(_: float, state: np.ndarray) -> float:
        return state[0] - law.conversion_gel

    gelled.terminal = True
    start = np.concatenate(([0.0, part_K], np.full(layers, part_K)))
    end_s = 2.0 * film_s(law, part_K)
    found = solve_ivp(slopes, (0.0, end_s), start, method="BDF", events=gelled, rtol=1e-6, atol=1e-8)
    return float(found.t_events[0][0])


def ours(law: Kinetics, width_m: float, depth_m: float, part_K: float) -> float:
    skin = Skin.channel(width_m * depth_m, depth_m, width_m, width_m, law.density_g_cm3)
    return open_life_share(law, skin, part_K, 0.0, law.conversion_gel)


@pytest.mark.parametrize("law", [CASTING, SLOW], ids=["casting", "slow"])
@pytest.mark.parametrize(("width_m", "depth_m"), [(0.004, 0.006), (0.008, 0.012), (0.012, 0.020)])
@pytest.mark.parametrize("part_K", [291.15, 298.15])
def test_a_pour_gels_in_its_channel_when_the_integrated_heat_flow_says(law, width_m, depth_m, part_K):
    share = ours(law, width_m, depth_m, part_K)
    exact = channel_s(law, width_m, depth_m, part_K) / film_s(law, part_K)
    print(f"{width_m:g} x {depth_m:g} m, {part_K:.0f} K: {share:.3f}, integrated {exact:.3f}")
    assert share == pytest.approx(exact, abs=0.01)


def test_a_channel_so_thin_that_wood_takes_all_heat_is_a_film():
    assert ours(CASTING, 0.0001, 0.0001, 291.15) == pytest.approx(1.0, abs=0.03)


def test_a_channel_so_wide_that_no_heat_leaves_is_adiabatic():
    rise_K = CASTING.heat_J_g / CASTING.specific_heat_J_g_K
    closed_s = quad(lambda a: 1.0 / rate(CASTING, 291.15 + rise_K * a, a), 0.0, CASTING.conversion_gel)[0]
    assert ours(CASTING, 1.0, 1.0, 291.15) == pytest.approx(closed_s / film_s(CASTING, 291.15), rel=0.02)
