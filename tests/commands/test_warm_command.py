"""`layup warm`: every time can be checked with the textbook's series from the answer alone."""

import re

import numpy as np
import pytest
from scipy.optimize import brentq
from scipy.special import j0, j1

from layup.units import minutes

COLD = ("warm", "touring-skis", "--from", "3 degC", "--to", "18 degC")
SHED = (*COLD, "--room", "4 m x 3 m x 2.4 m", "--insulation", "50 mm", "--outside", "-5 degC")
FOAM = 'method = "bladder"\nfoam = { thickness = "50 mm", density = "30 kg/m^3" }'


def wall(biot, fourier):
    """Carslaw & Jaeger: the middle of a wall, with scipy's roots."""
    roots = [brentq(lambda z: z * np.sin(z) - biot * np.cos(z), n * np.pi, (n + 0.5) * np.pi) for n in range(30)]
    roots = np.array([z for z in roots if z > 0.0])
    return float((4 * np.sin(roots) / (2 * roots + np.sin(2 * roots)) * np.exp(-(roots**2) * fourier)).sum())


def cylinder(biot, fourier):
    ends = [2.404825557695773, 5.520078110286311, 8.653727912911013, 11.79153443901428]
    starts = [1e-9, 3.8317059702075125, 7.015586669815619, 10.173468135062722]
    pairs = zip(starts, ends, strict=True)
    roots = np.array([brentq(lambda z: z * j1(z) - biot * j0(z), low, high) for low, high in pairs])
    weights = 2 * j1(roots) / (roots * (j0(roots) ** 2 + j1(roots) ** 2))
    return float((weights * np.exp(-(roots**2) * fourier)).sum())


def left(body):
    """Work out the share that is left at the slowest point when the answer says that it is 2 K short."""
    time_s = 60.0 * body["time_min"]
    if body["shape"] in ("slab", "half slab"):
        return wall(body["biot"], body["diffusivity_m2_s"] * time_s / body["half_thickness_m"] ** 2)
    around = cylinder(body["biot"], body["diffusivity_m2_s"] * time_s / body["radius_m"] ** 2)
    if body["shape"] == "cylinder":
        return around
    half_m = body["half_height_m"]
    biot = body["h_W_m2K"] * half_m / body["conductivity_W_mK"]
    return around * wall(biot, body["diffusivity_m2_s"] * time_s / half_m**2)


def test_every_time_is_that_of_the_textbooks_series(say):
    found = say(*COLD, "--json").data
    assert {body["shape"] for body in found["bodies"]} == {"can", "half slab", "slab", "cylinder"}
    for body in found["bodies"]:
        assert left(body) == pytest.approx(2.0 / 15.0, abs=5e-4), body["name"]
        way_m = body["half_thickness_m"] or body["radius_m"]
        assert body["biot"] == pytest.approx(body["h_W_m2K"] * way_m / body["conductivity_W_mK"])
        assert body["fan_min"] < body["time_min"]
    assert found["warm_after_min"] == max(body["time_min"] for body in found["bodies"])


def test_a_mould_of_foam_is_layers_or_a_wall_and_takes_its_own_time(say, edit):
    plywood = {body["name"]: body for body in say(*COLD, "--json").data["bodies"]}["mould"]
    edit("sessions/touring-skis/plan.toml", 'method = "bladder"', FOAM)
    foam = {body["name"]: body for body in say(*COLD, "--json").data["bodies"]}["mould"]
    assert (foam["shape"], foam["half_thickness_m"]) == ("half slab", 0.05)
    assert foam["time_min"] < plywood["time_min"]
    board = 'backing = { material = "birch plywood", thickness = "9 mm" }\n'
    edit("sessions/touring-skis/plan.toml", 'foam = { thickness = "50 mm"', f'{board}foam = {{ thickness = "50 mm"')
    both = {body["name"]: body for body in say(*COLD, "--json").data["bodies"]}["mould"]
    assert (both["shape"], len(both["layers"])) == ("layers", 2)
    assert both["time_min"] > foam["time_min"]


def test_a_bath_shortens_the_cans_alone_and_what_was_measured_replaces_the_sum(say):
    found = say(*COLD, "--cans", "17 degC", "--core", "10 degC", "--json").data
    bodies = {body["name"]: body for body in found["bodies"]}
    assert bodies["resin can"]["time_min"] == bodies["hardener can"]["time_min"] == 0.0
    assert bodies["core"]["from_K"] == pytest.approx(283.15)
    cold = {body["name"]: body for body in say(*COLD, "--json").data["bodies"]}
    assert bodies["core"]["time_min"] < cold["core"]["time_min"]
    assert 0.0 < cold["resin can"]["bath_min"] < 0.2 * cold["resin can"]["time_min"]
    assert cold["mould"]["bath_min"] is None
    assert cold["resin can"]["time_min"] < say(*COLD, "--can", "5 kg", "--json").data["bodies"][0]["time_min"]


def test_people_read_the_slowest_first_by_when_to_begin_and_the_cautions_once(say):
    words = say(*COLD).words
    assert words.index("resin can") < words.index("hardener can") < words.index("core")
    assert "Begin warming 4 h" in words
    assert "before the first batch: resin can." in words
    assert words.count("never on a flame") == 1
    assert "isocyanate stay closed and dry" in words


def test_a_heater_that_is_too_weak_is_a_plain_no(say):
    found = say(*SHED, "--heater", "500 W", "--json")
    heater = found.data["heater"]
    assert found.code == 1
    assert heater["holds_K"] == pytest.approx(268.15 + 500.0 / heater["loss_W_K"])
    assert heater["power_W"] == pytest.approx(23.0 * heater["loss_W_K"])
    assert "✗ yours, 500 W, holds 7 °C at most" in say(*SHED, "--heater", "500 W").words


def test_a_heater_that_is_strong_enough_says_when_it_is_warm_and_what_happens_if_it_trips(say):
    heater = say(*SHED, "--heater", "2 kW", "--for", "12 h", "--json").data["heater"]
    assert heater["warm_after_min"] > 0.0
    assert heater["energy_kWh"] == pytest.approx(12.0 * heater["power_W"] / 1000.0, rel=0.05)
    kelvins = [row["part_K"] for row in heater["trips"]]
    assert kelvins == sorted(kelvins, reverse=True)
    assert 268.15 <= kelvins[-1] < kelvins[0] < 291.15
    assert 0.0 < heater["too_cold_after_min"] < 60.0
    words = say(*SHED, "--heater", "2 kW").words
    assert "● yours, 2000 W, holds it" in words
    assert "if it trips: 1 h" in words


def test_the_air_says_what_a_stored_core_comes_to(say):
    found = say(*COLD, "--humidity", "85 %", "--json").data["wood"]
    assert found["moisture"] == pytest.approx(0.18, abs=0.005)
    assert "too wet to bond well, and it foams urethane" in say(*COLD, "--humidity", "85 %").words
    assert "it foams urethane" in say(*COLD, "--humidity", "62 %").words
    assert "fine for epoxy and urethane" in say(*COLD, "--humidity", "45 %").words


@pytest.mark.parametrize(
    ("words", "error"),
    [
        (("--bath", "60 degC"), "--bath: is out of range"),
        (("--room", "4 m"), "--room: is no size of a room (4 m)"),
        (("--room", "4 m x 3 m x 0 m"), "room: height: is out of range"),
        (("--core-thickness", "3 m"), "thickness of the core: is out of range"),
        (("--humidity", "100 %"), "relative humidity: is out of range"),
        (("--can", "0 g"), "can of resin: is out of range (0 g)"),
    ],
)
def test_what_cannot_be_is_refused_with_what_is_allowed(say, words, error):
    found = say(*COLD, *words)
    assert found.code == 2
    assert error in found.err
    assert "Traceback" not in found.err


def test_a_core_is_as_thick_as_the_plan_puts_it_in_place(say, edit):
    edit("sessions/touring-skis/plan.toml", 'kind = "place"', 'kind = "place"\nthickness = "24 mm"')
    for words, thick_m in (((), 0.024), (("--core-thickness", "9 mm"), 0.009)):
        found = say(*COLD, *words, "--json")
        core = next(body for body in found.data["bodies"] if body["name"] == "core")
        assert core["half_thickness_m"] == thick_m / 2.0
        assert left(core) == pytest.approx(2.0 / 15.0, abs=5e-4), "the series of the textbook for that wall"
    assert "core 24 mm thick" in say(*COLD).out


def test_a_shop_that_is_warm_already_asks_for_nothing(say):
    found = say("warm", "touring-skis", "--from", "18 degC", "--to", "18 degC")
    assert found.code == 0
    assert "All of it is warm enough now." in found.words


def test_the_heat_before_the_first_batch_says_how_long_each_thing_follows_as_warm_does(say):
    plan = say("plan", "touring-skis", "--temp", "3 degC", "--no-lessons").words
    told = re.search(r"They follow the shop after: (.*?)\.  ?HEAT", plan)[1]
    shop_K = re.search(r"shop, mould, core and cans at (\d+) °C", plan)[1]
    found = say("warm", "touring-skis", "--from", "3 degC", "--to", f"{shop_K} degC", "--no-lessons", "--json").data
    for body in found["bodies"]:
        if body["shape"] == "can":  # the plan counts what each of its batches leaves in its cup
            continue
        assert f"{body['name']} {minutes(60.0 * body['time_min'])}" in told
    assert told.count("in 35 °C water") == 2
    assert "They follow the shop after" not in say("plan", "touring-skis", "--temp", "20 degC").words


def test_a_mould_of_foam_is_told_to_follow_sooner_than_one_of_plywood(say, edit):
    edit("sessions/touring-skis/plan.toml", 'method = "bladder"', FOAM)
    asked = ("plan", "touring-skis", "--temp", "3 degC")
    told = re.search(r"They follow the shop after: (.*?)\.  ?HEAT", say(*asked).words)[1]
    assert re.search(r"mould (\d+) min", told), "50 mm of foam is warm before 18 mm of plywood"


def test_a_shop_that_is_warmed_too_little_for_the_plan_is_told_what_it_wants(say):
    """The page before the day asks for the same temperature."""
    wants_K = say(*COLD, "--json").data["wants_K"]
    assert wants_K > 291.15
    assert f"The plan wants {wants_K - 273.15:.0f} °C: warm to that." in say(*COLD).out
    assert "The plan wants" not in say(*COLD[:-1], f"{wants_K} K").out
