"""`layup plan` says whether to begin, and gives the castings' pours."""

from functools import cache, partial

import pytest
from command_line import ask_in, assert_no_wider

from layup.files.workshop import demo_root

DEMO = ("plan", "touring-skis")
AT_9, AT_20 = (*DEMO, "--temp", "9 degC"), (*DEMO, "--temp", "20 degC")


@pytest.fixture(scope="module")
def demo():
    """Return a function that runs a command where the demo's files are, once for the same words."""
    return cache(partial(ask_in, demo_root()))


def test_the_demo_day_in_a_cold_shop_is_stopped_with_the_reason_and_a_heater_plan_that_passes(demo):
    answer = demo(*AT_9, "--json")
    ready = answer.data["readiness"]
    assert answer.code == 1
    assert ready["answer"] == "no"
    assert {"thick", "minimum"} <= {reason["kind"] for reason in ready["reasons"] if reason["answer"] == "no"}
    shop_K = ready["heating"]["shop_K"]
    warmed = demo(*DEMO, "--temp", f"{shop_K - 273.15:g} degC", "--night", "9 degC", "--json")
    assert warmed.code == 0
    assert warmed.data["readiness"]["answer"] == "wait"
    assert warmed.data["readiness"]["heating"]["moulds"] == ready["heating"]["moulds"]
    assert ready["heating"]["moulds"]
    assert all(mould["demould_min"] < ready["night"]["out_by_min"] for mould in ready["heating"]["moulds"])


def test_a_cold_shop_held_warm_by_its_own_heater_plan_passes_cure(demo):
    """The same heating, written out for `layup cure`: warm 20 K an hour, hold, fall back to the shop."""
    ready = demo(*AT_9, "--json").data["readiness"]
    shop_C, mould = ready["heating"]["shop_K"] - 273.15, ready["heating"]["moulds"][1]
    mould_C = mould["mould_K"] - 273.15
    rise, fall = (mould_C - shop_C) / 20, (mould_C - 9) / 20
    stages = (
        f"{shop_C:g} degC to {mould_C:g} degC:{rise:.4f} h, {mould_C:g} degC:{mould['hold_min']:g} min, "
        f"{mould_C:g} degC to 9 degC:{fall:.4f} h"
    )
    data = demo("cure", "slow-laminating", "--temps", stages, "--by", "48 h", "--json").data
    assert data["verdict"] == "makes it"
    assert data["demould_min"] == pytest.approx(mould["demould_min"], rel=0.03)


def test_the_same_plan_at_twenty_degrees_is_allowed(demo):
    answer = demo(*AT_20, "--json")
    ready = answer.data["readiness"]
    assert (answer.code, ready["answer"], ready["heating"]) == (0, "go", None)
    night = ready["night"]
    assert night["low"] < night["demould_min"] < night["high"] < night["out_by_min"]
    assert len(ready["unknown"]) == 3


def test_what_is_known_of_night_wood_and_air_is_judged(demo):
    known = ("--night", "18 degC", "--moisture", "9 %", "--humidity", "50 %", "--out-by", "3 d")
    ready = demo(*AT_20, *known, "--json").data["readiness"]
    assert (ready["answer"], ready["unknown"]) == ("go", [])
    assert ready["night"]["out_by_min"] == 3 * 1440
    assert demo(*AT_20, "--moisture", "20 %", "--json").data["readiness"]["answer"] == "no"


def test_people_read_the_verdict_and_the_heat(demo, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    text = demo(*AT_9)
    assert "BEGIN: NO" in text.out
    assert "\nDOES NOT FIT · mix too thick, does not cure · from press days\n" in text.out
    assert "HEAT Before the first batch: shop, mould, core and cans at 20 °C" in text.words
    assert "Never leave a heater alone" in text.words
    assert_no_wider(text.out, 80)
    assert "BEGIN: GO No known problem, 3 unknown." in demo(*AT_20).words
    known = ("--night", "18 degC", "--moisture", "9 %")
    assert "No known problem, 1 unknown." in demo(*AT_20, *known).words
    assert "No known problem. " in demo(*AT_20, *known, "--humidity", "50 %").words


def test_castings_have_their_pours_with_grams_and_times(demo):
    (casting,) = demo(*AT_20, "--json").data["budget"]["castings"]
    pours = casting["pours"]
    assert len(pours) >= casting["pours_planned"]
    assert casting["fits"]
    assert sum(pour["mass_g"] for pour in pours) == pytest.approx(casting["poured_g"])
    for pour in pours:
        assert pour["resin_g"] + pour["hardener_g"] == pytest.approx(pour["mass_g"])
        assert pour["mix_min"] < pour["poured_min"] <= pour["due_min"]
    assert casting["low"] < casting["planed_min"] < casting["high"]
    assert casting["isocyanate_index"] == pytest.approx(1.05, abs=0.005)
    assert casting["cautions"]
    text = demo(*AT_20)
    assert "Isocyanates can make you allergic for life" in text.words
    assert f"{pours[0]['resin_g']:.0f} g" in text.out


def test_a_plan_may_fade_its_casting_from_one_pigment_to_another(workshop, edit):
    edit(
        "sessions/touring-skis/plan.toml",
        'pigment = "black paste, 2 %"',
        'pigment = "black paste"\npigment_to = "white paste"\nloading = "3 %"',
    )
    (casting,) = ask_in(workshop, *AT_20, "--json").data["budget"]["castings"]
    first, last = casting["pours"][0]["pigments"], casting["pours"][-1]["pigments"]
    assert [[pigment["name"] for pigment in each] for each in (first, last)] == [["black paste"], ["white paste"]]
    assert first[0]["mass_g"] == pytest.approx(0.03 * casting["pours"][0]["mass_g"])


def test_too_much_pigment_is_refused_with_the_line_of_its_step(workshop, edit):
    plan = "sessions/touring-skis/plan.toml"
    edit(plan, 'pigment = "black paste, 2 %"', 'pigment = "black"\nloading = "9 %"')
    line = edit(plan, '[[steps]]\nname = "Sidewalls', '[[steps]]\nname = "Sidewalls')
    answer = ask_in(workshop, *AT_20)
    assert answer.code == 2
    assert f"plan.toml:{line}: " in answer.complaint
    assert "pigment loading is out of range (0.09) - must be between 0 and 0.05" in answer.complaint
