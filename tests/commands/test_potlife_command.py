"""`layup potlife`: the model's answer in minutes, its band, its words, and what it refuses."""

import chemicals
import pytest
from command_line import HOTTER_AND_LONGER, ask_in, assert_no_wider
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from layup.chemistry.calibration import calibrate
from layup.chemistry.film import film_life_s
from layup.chemistry.life_band import SMOKE_K, predict_band
from layup.chemistry.prediction import Vessel
from layup.chemistry.viscosity import viscosity_growth
from layup.files.workshop import Workshop, demo_root

CUP = ("slow-laminating", "--mass", "250 g", "--temp", "20 degC")
FILM = ("slow-laminating", "--temp", "20 degC", "--vessel", "film")
SIX_HUNDRED = ("slow-laminating", "--mass", "600 g", "--temp", "21 degC")
AS_STATED = ("slow-laminating", "--mass", "150 g", "--temp", "21 degC")
RESIN = "resins/slow-laminating.toml"


def test_a_cup_gets_the_models_own_answer(say, workshop):
    data = say("potlife", *CUP, "--json").data
    calibration = calibrate(Workshop(workshop).resin("slow-laminating"))
    band = predict_band(calibration, Vessel.cup(), mass_g=250.0, start_K=293.15, ambient=293.15)
    assert data["pot_life_min"] == pytest.approx(band.life.working_s / 60)
    assert (data["low"], data["high"]) == pytest.approx((band.working_s.low / 60, band.working_s.high / 60))
    assert data["gel_min"] == pytest.approx(band.life.gel_s / 60)
    assert data["thick_to_gel_min"] == pytest.approx(data["gel_min"] - data["pot_life_min"])
    assert (data["heat_class"], data["vessel"], data["mass_g"]) == ("runaway", "cup", 250.0)
    assert data["film_open_min"] == pytest.approx(film_life_s(calibration.kinetics, 293.15) / 60)
    assert data["viscosity_Pa_s"] == pytest.approx(1.0, rel=0.02)  # the file's own point at 20 degC
    assert any("an estimate from the datasheet" in words for words in data["assumptions"])


def test_the_cup_that_the_datasheet_states_lasts_what_it_states(say):
    data = say("potlife", "slow-laminating", "--mass", "150 g", "--temp", "25 degC", "--json").data
    assert data["pot_life_min"] == pytest.approx(45.0, rel=1e-3)


def test_a_cup_has_to_be_empty_when_the_plan_that_mixes_it_says_so(say):
    for batch in say("plan", "touring-skis", "--no-lessons", "--json").data["batches"]:
        mass = f"{batch['mass_g']:.3f} g"
        data = say("potlife", "slow-laminating", "--mass", mass, "--temp", "20 degC", "--json").data
        held_min = batch["emptied_min"] - batch["contact_min"]
        assert data["empty_by_min"] == pytest.approx(held_min + batch["cup_margin_min"], rel=5e-3)
        assert data["empty_by_min"] < data["low"]
    assert say("potlife", *FILM, "--json").data["empty_by_min"] is None


@settings(max_examples=40, deadline=None)
@given(
    st.sampled_from(["slow-laminating", "fast-laminating", "dgeba-teta", "dgeba-ipda", "casting-urethane"]),
    st.sampled_from([("--vessel", "film"), ("--depth", "8 mm", "--mass", "400 g"), ("--mass", "90 g")]),
    st.integers(8, 38),
    st.integers(8, 38),
)
def test_every_answer_has_an_ordered_band(resin, vessel, start_C, shop_C):
    words = ("potlife", resin, *vessel, "--temp", f"{start_C} degC", "--shop-temp", f"{shop_C} degC", "--json")
    answer = ask_in(demo_root(), *words)
    data = answer.data
    assert answer.code == 0
    assert 0.0 < data["low"] <= data["pot_life_min"] <= data["high"]
    assert 0.0 < data["gel_low_min"] <= data["gel_min"] <= data["gel_high_min"]
    assert data["pot_life_min"] <= data["gel_min"]


def test_a_film_stays_open_whatever_its_mass(say):
    bare, heavy = say("potlife", *FILM, "--json").data, say("potlife", *FILM, "--mass", "2 kg", "--json").data
    assert bare["mass_g"] is None
    assert bare["pot_life_min"] == pytest.approx(heavy["pot_life_min"]) == pytest.approx(bare["film_open_min"])
    assert "stays open for" in say("potlife", *FILM).words


def test_a_shallow_tray_outlasts_a_cup(say):
    tray = say("potlife", *CUP, "--depth", "10 mm", "--json").data
    assert (tray["vessel"], tray["depth_m"]) == ("tray", 0.01)
    assert tray["pot_life_min"] > say("potlife", *CUP, "--json").data["pot_life_min"]
    assert "250 g in a tray, 10 mm deep, 20 °C" in say("potlife", *CUP, "--depth", "10 mm").words


def test_the_words_say_by_when_a_cup_must_be_out_how_hot_it_gets_and_what_happens_if_not(say):
    text = say("potlife", *CUP).words
    for words in (
        "thickens after 66 min (80 %: 51 to 86)",
        "have it empty by 41 min (its mix is then near",
        "no stringy stage in here: thick turns solid within a minute; go by the clock",
        "if left standing: near 239 °C (259 °C at most, hotter inside): foams, cracks, may smoke; spread it out",
        "As a film at 20 °C the heat escapes: poured out fresh, it stays open 221 min.",
        "1000 mPa·s, wets out",
        "believe the stick before the clock",
    ):
        assert words in text


def test_another_mass_than_the_datasheets_is_shown_beside_it(say):
    other, stated = say("potlife", *SIX_HUNDRED).words, say("potlife", *AS_STATED).words
    own = next(line for line in other.splitlines() if "sheet's 150 g" in line)
    assert "63 min (80 %: 49 to 82), here; left standing, 237 °C" in " ".join(own.split())
    assert "thickens after 63 min (80 %: 49 to 82)" in " ".join(stated.split()), "the same cup asked for by itself"
    assert "sheet's" not in stated
    assert "never compared with a real resin" in " ".join(other.split())
    assert "never compared with a real resin" not in " ".join(stated.split())
    assert "sheet's" not in say("potlife", *FILM).words
    assert "sheet's" not in say("potlife", *SIX_HUNDRED, "--depth", "10 mm").words, "a tray is no cup"


def test_mix_that_its_own_heat_does_not_hurry_is_not_said_to_be(say):
    tray = ("slow-laminating", "--mass", "100 g", "--temp", "10 degC", "--depth", "3 mm")
    text, data = say("potlife", *tray).words, say("potlife", *tray, "--json").data
    assert (data["heat_class"], data["heat_class_high"]) == ("warm", "warm")
    assert "if left standing: likely stays below 60 °C" in text
    assert "at most" not in text, "a bound far above what warms a little would say nothing"


def test_mix_near_the_edge_of_running_away_is_told_in_the_words_of_the_edge(say):
    tray = ("slow-laminating", "--mass", "500 g", "--temp", "15 degC", "--depth", "5 mm")
    text, data = say("potlife", *tray).words, say("potlife", *tray, "--json").data
    assert (data["heat_class"], data["heat_class_high"]) == ("warm", "runaway")
    assert "likely stays below 60 °C, but one in ten gets too hot to hold (254 °C at most, hotter inside)" in text
    assert data["warnings"][0].startswith("if left standing: likely stays below 60 °C, but one in ten")


def test_the_strong_word_is_kept_for_a_cup_that_smokes(say):
    # Isophorone diamine boils at 247 °C (`chemicals` library): what is still free in a mix that hot drives off.
    assert chemicals.Tb("2855-13-2") == pytest.approx(SMOKE_K, abs=1.0)
    for resin, mass, smokes in (
        ("slow-laminating", "150 g", False),
        ("slow-laminating", "1 kg", True),
        ("fast-laminating", "150 g", True),
        ("dgeba-ipda", "100 g", False),
    ):
        words = ("potlife", resin, "--mass", mass, "--temp", "25 degC")
        data = say(*words, "--json").data
        assert data["smokes"] == smokes == (data["peak_K"] >= SMOKE_K)
        assert ("RUNAWAY" in say(*words).out) == smokes


@pytest.mark.parametrize(("mass", "temp"), [("100 g", "20 degC"), ("30 g", "18 degC"), ("1 kg", "25 degC")])
def test_a_cup_emptied_in_time_is_still_cool_enough_to_hold(say, mass, temp):
    data = say("potlife", "slow-laminating", "--mass", mass, "--temp", temp, "--json").data
    assert data["temperature_K"] <= data["empty_by_K"] < data["temperature_K"] + 20.0
    assert data["empty_by_K"] < data["peak_K"] < data["peak_bound_K"]


def test_stringy_has_its_time_between_thick_and_gel_or_is_said_to_have_none(say):
    tray = ("potlife", "slow-laminating", "--mass", "500 g", "--temp", "15 degC", "--depth", "5 mm")
    slow, hot = say(*tray, "--json").data, say("potlife", *CUP, "--json").data
    assert slow["pot_life_min"] < slow["stringy_min"] < slow["gel_min"] - 1.0
    assert f"stringy from {slow['stringy_min']:.0f} min" in say(*tray).words
    assert hot["stringy_min"] is None
    film = say("potlife", *FILM, "--json").data
    assert film["stringy_min"] < film["gel_min"]


def test_cold_cans_in_a_hot_shop_do_not_make_a_film_last(say):
    words = ("potlife", "casting-urethane", "--mass", "250 g", "--temp", "5 degC", "--shop-temp", "30 degC")
    data = say(*words, "--json").data
    assert data["film_open_min"] < data["pot_life_min"]
    assert "it takes the part's temperature at once" in say(*words).words


def test_a_time_too_short_for_minutes_is_told_in_seconds(say):
    text = say("potlife", "casting-urethane", "--mass", "250 g", "--temp", "60 degC").out
    seconds = 60 * say("potlife", "casting-urethane", "--mass", "250 g", "--temp", "60 degC", "--json").data["high"]
    assert 0 < seconds < 180
    assert f"to {seconds:.0f})" in text
    assert " s " in text.splitlines()[1]


def test_cold_resin_is_too_thick_to_wet_out(say):
    assert "too thick to wet out well: warm it" in say("potlife", *CUP[:3], "--temp", "8 degC").words


def test_resin_colder_than_its_datasheet_reaches_is_told_to_be_thicker_still(say):
    text = say("potlife", *CUP[:3], "--temp", "0 degC").words
    assert "viscosity at 0 °C: not stated, above the 1500 mPa·s of 15 °C, too thick to wet out well: warm it" in text


def test_no_viscosity_is_told_where_the_datasheet_does_not_reach(say):
    assert say("potlife", *CUP[:3], "--temp", "60 degC", "--json").data["viscosity_Pa_s"] is None


def test_the_table_goes_around_the_question(say):
    table = say("potlife", *CUP, "--table", "--json").data["table"]
    assert table["masses_g"] == [62.5, 125.0, 250.0, 500.0, 1000.0]
    assert table["temperatures_K"] == pytest.approx([283.15, 288.15, 293.15, 298.15, 303.15])
    rows = table["pot_life_min"]
    assert rows[2][2] == pytest.approx(say("potlife", *CUP, "--json").data["pot_life_min"])
    for warmer, colder in zip(rows[1:], rows, strict=False):
        assert all(hot < cold for hot, cold in zip(warmer, colder, strict=True))
    assert all(row == sorted(row, reverse=True) for row in rows)
    text = say("potlife", *CUP, "--table").out
    head = next(line for line in text.splitlines() if line.startswith("minutes to thickening"))
    assert head.split()[3:] == ["62.5", "g", "125", "g", "250", "g", "500", "g", "1000", "g"]
    row = next(line for line in text.splitlines() if line.lstrip().startswith("20 °C "))
    assert row.split()[2:] == [f"{minutes:.0f}" for minutes in rows[2]]


def test_the_table_of_a_film_has_one_column_that_agrees_with_the_answer(say):
    data = say("potlife", *FILM, "--table", "--json").data
    assert data["table"]["masses_g"] == []
    assert [len(row) for row in data["table"]["pot_life_min"]] == [1] * 5
    assert data["table"]["pot_life_min"][2] == pytest.approx([data["pot_life_min"]])
    assert "minutes it stays open" in say("potlife", *FILM, "--table").out


@pytest.mark.parametrize("columns", [16, 30, 50, 80, 160])
@pytest.mark.parametrize("words", [CUP, FILM, (*CUP, "--depth", "5 mm")])
def test_text_table_and_plot_are_no_wider_than_the_console(say, monkeypatch, columns, words):
    monkeypatch.setenv("COLUMNS", str(columns))
    answer = say("potlife", *words, "--table", "--plot")
    assert answer.code == 0
    assert_no_wider(answer.out, columns)
    lines = answer.out.splitlines()
    plot = lines.index("temperature of the mix") if columns >= 30 else 0
    if plot:
        assert all(line[11] == "|" for line in lines[plot + 1 : plot + 9])
        assert lines[plot + 9] == f"{'+':>12}" + "-" * (min(columns, 72) - 12)


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("slow-laminating", "--mass", "250 g"), "arguments are required: --temp - see 'layup potlife --help'"),
        (("slow-laminating", "--temp", "20 degC"), 'a cup needs the mass in it - add --mass "250 g"'),
        ((*FILM, "--depth", "5 mm"), "a film takes no depth - leave --depth out, or add --vessel tray"),
        ((*CUP, "--vessel", "cup", "--depth", "5 mm"), "a cup takes no depth"),
        ((*CUP, "--vessel", "tray"), 'a tray needs the depth of the mix in it - add --depth "10 mm"'),
        ((*CUP, "--vessel", "bucket"), "invalid choice: 'bucket' (choose from"),
        ((*CUP, "--depth", "0 mm"), "tray depth: is out of range (0 m) - must be above 0"),
        ((*CUP, "--depth", ""), "depth: is empty"),
        ((*CUP, "--mass", "0 g"), "mass of mix: is out of range (0 g) - must be above 0 g"),
        ((*CUP, "--mass", "-1 g"), "mass of mix: is out of range (-1 g)"),
        ((*CUP, "--mass", "250 ml"), "mass: is a volume, not a mass (250 ml)"),
        ((*CUP, "--mass", ""), "mass: is empty"),
        ((*CUP, "--temp", "20 g"), "temperature: is a mass, not a temperature (20 g)"),
        ((*CUP, "--temp", "121 degC"), "temperature: is out of range (121 degC) - must be between -20 and 120 °C"),
        ((*CUP, "--temp", "-21"), "temperature: is out of range (-21) - must be between -20 and 120 °C"),
        ((*CUP, "--shop-temp", "300 degF"), "is out of range (300 degF) - must be between -4 and 248 °F"),
        ((*CUP, "--shop-temp", "400 K"), "shop temperature: is out of range (400 K) - must be between 253.15 and 393"),
        ((*CUP, "--shop-temp", ""), "shop temperature: is empty"),
        (("slowlaminating", *CUP[1:]), "resin: is not in resins (slowlaminating) - did you mean slow-laminating?"),
    ],
)
def test_what_has_no_pot_life_is_refused_in_words(say, words, complaint):
    answer = say("potlife", *words)
    assert answer.code == 2
    assert complaint in answer.complaint


@pytest.mark.parametrize("edge", ["-20 degC", "120 degC"])
def test_the_ends_of_the_range_are_answered_with_a_warning(say, edge):
    answer = say("potlife", *CUP[:3], "--temp", edge)
    assert answer.code == 0
    assert "! outside 5 to 40 °C, where the model is meant to be used" in answer.words


def test_contradicting_pot_lives_are_refused_with_their_line(say, edit):
    line = edit(RESIN, "[[film]]", HOTTER_AND_LONGER)
    answer = say("potlife", *CUP)
    assert answer.code == 2
    assert "pot_life: pot life grows with temperature (45 min at 25 °C, 90 min at 35 °C)" in answer.complaint
    assert answer.complaint.startswith(f"{RESIN}:{line - 7}: ")  # where the table of pot lives begins


def test_a_missing_file_is_a_matter_of_files(say):
    answer = say("potlife", "nowhere.toml", *CUP[1:])
    assert (answer.code, answer.complaint) == (3, "resin: is not there (nowhere.toml) - check the path\n")


def test_it_says_until_when_the_mix_wets_cloth_on_the_part(say, workshop):
    """By quad of scipy over the rate law up to the conversion at which the stated 1 Pa s have become 2 Pa s."""
    data = say("potlife", *CUP, "--json").data
    law = calibrate(Workshop(workshop).resin("slow-laminating")).kinetics
    thick = brentq(lambda conversion: viscosity_growth(conversion, law.conversion_gel) - 2.0, 1e-6, 0.5)
    rate = law.rate_constant_per_s(293.15)
    until_s, _ = quad(lambda a: 1.0 / (rate * (law.a0 + a**law.m) * (1.0 - a) ** law.n), 0.0, thick)
    assert data["wets_out_until_min"] == pytest.approx(until_s / 60, rel=1e-3)
    assert data["wets_out_until_min"] < data["film_open_min"]
    assert "wets cloth on the part at 20 °C until 106 min" in say("potlife", *CUP).out


def test_it_says_until_when_a_film_still_squeezes_out_where_that_ends_before_it_closes(say, workshop):
    """What may still flow, by quad of scipy; nine tenths leave at Terzaghi's time factor 0.848 (any textbook)."""
    data = say("potlife", "fast-laminating", *CUP[1:], "--json").data
    sheet = Workshop(workshop).resin("fast-laminating")
    law, fresh_Pa_s = calibrate(sheet).kinetics, 1.25  # as the datasheet states it at 20 °C
    per_s = law.rate_constant_per_s(293.15)

    def rate(a):
        return per_s * (law.a0 + a) * (1.0 - a) ** 2

    def flows(closing):
        gel = law.conversion_gel
        return quad(lambda a: 1.0 / (rate(a) * fresh_Pa_s * viscosity_growth(a, gel)), closing, gel)[0]

    factor = 5e-11 * 100_000.0 / (0.07 * 0.05**2)
    last = brentq(lambda a: factor * flows(a) - 0.848, 0.01, law.conversion_gel - 1e-6)
    until_s = quad(lambda a: 1.0 / rate(a), 0.0, last)[0]
    assert data["squeezes_out_until_min"] == pytest.approx(until_s / 60, rel=1e-3)
    assert data["wets_out_until_min"] < data["squeezes_out_until_low_min"] < data["squeezes_out_until_min"]
    assert data["squeezes_out_until_min"] < data["film_open_min"]
    assert f"squeezes out       {until_s / 60:.0f} min" in say("potlife", "fast-laminating", *CUP[1:]).out


def test_a_mix_that_starts_too_thick_is_to_be_warmed_and_not_late(say):
    cold = "potlife", "slow-laminating", "--mass", "250 g", "--temp", "5 degC"
    assert say(*cold, "--json").data["wets_out_until_min"] == 0.0
    out = say(*cold).out
    assert "warm it" in out
    assert "wets cloth on the part" not in out
