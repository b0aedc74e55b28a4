"""`layup fabric`: areal weights from a label, a coupon or a weave, and what it refuses."""

import pytest
from command_line import ask_in
from hypothesis import given, settings
from hypothesis import strategies as st

MAT_G_M2, CLOTH_G_M2 = 305.151727, 33.905747
"""An ounce per square foot and per square yard: exact inch and pound (international agreement of 1959)."""


def test_six_ounce_cloth_weighs_203_grams(say):
    data = say("fabric", "6 oz/yd^2", "--json").data
    assert data["areal_weight_g_m2"] == pytest.approx(203.434, abs=5e-4)
    assert data["areal_weight_oz_yd2"] == pytest.approx(6.0)
    assert data["areal_weight_oz_ft2"] == pytest.approx(6.0 * CLOTH_G_M2 / MAT_G_M2, rel=1e-6)
    assert data["method"] == "label"
    assert data["assumptions"] == []


def test_the_text_shows_three_units(say):
    answer = say("fabric", "6 oz/yd^2")
    assert (answer.code, answer.out) == (0, "203.4 g/m²   6.00 oz/yd²   0.667 oz/ft²\n")


@pytest.mark.parametrize(
    "words",
    [("6", "oz/yd^2"), ("6 oz/yd2",), ("6 oz / yd^2",), ("--json", "6", "oz/yd^2"), ("0.2034345 kg/m^2",)],
)
def test_a_label_is_read_as_people_type_it(say, words):
    assert say("fabric", *words, *(["--json"] if "--json" not in words else [])).data[
        "areal_weight_g_m2"
    ] == pytest.approx(203.434, abs=1e-3)


def test_ounces_alone_are_refused_with_both_readings(say):
    answer = say("fabric", "1.5 oz")
    assert answer.code == 2
    for words in ("areal weight: does not say ounces per what (1.5 oz)", "1.5 oz/yd^2 for cloth (50.86 g/m^2)"):
        assert words in answer.complaint
    assert "1.5 oz/ft^2 for mat (457.7 g/m^2)" in answer.complaint


def test_a_coupon_is_its_mass_over_its_area_as_in_iso_3374(say):
    data = say("fabric", "--coupon", "2.03 g", "100 cm^2", "--json").data
    assert data["areal_weight_g_m2"] == pytest.approx(203.0)
    assert data["method"] == "coupon"


def test_a_bare_number_is_taken_in_the_usual_unit_and_that_is_said(say):
    data = say("fabric", "--coupon", "2.03", "100 cm^2", "--json").data
    assert data["areal_weight_g_m2"] == pytest.approx(203.0)
    assert data["assumptions"] == ["coupon mass 2.03 is in g, since no unit was given"]
    assert "assumed: - coupon mass 2.03 is in g" in say("fabric", "--coupon", "2.03", "100 cm^2").words


# Weight of the bare yarns, computed from the yields of ASTM D578 (from memory); IPC-4412 (from memory) states 0 to 5 %
# more, for crimp and size.
@pytest.mark.parametrize(
    ("weave", "g_m2"),
    [
        (("56/in", "56/in", "--yarn", "D900"), 24.3),
        (("60/in", "56/in", "--yarn", "E225", "D450"), 76.4),
        (("52/in", "52/in", "--yarn", "G150"), 135.4),
        (("52/in", "52/in", "--yarn", "15000 yd/lb"), 135.4),
        (("52/in", "52/in", "--yarn", "33.07 tex"), 135.4),
        (("52/in", "52/in", "--yarn", "ECG150 1/0"), 135.4),
        (("52/in", "52/in", "--yarn", "ECG 150-1/2", "ecg75"), 270.8),
        (("52/in", "52/in", "--yarn", "EC9 68", "EC9 34x2"), 278.4),
    ],
)
def test_a_weave_weighs_what_its_yarns_weigh(say, weave, g_m2):
    data = say("fabric", "--weave", *weave, "--json").data
    assert data["areal_weight_g_m2"] == pytest.approx(g_m2, rel=3e-3)
    assert any("up to 5 % heavier" in words for words in data["assumptions"])


def test_crimp_adds_its_share_and_ends_the_assumption(say):
    flat, waved = (
        say("fabric", "--weave", "52/in", "52/in", "--yarn", "G150", *crimp, "--json").data
        for crimp in ((), ("--crimp", "3 %"))
    )
    assert waved["areal_weight_g_m2"] == pytest.approx(1.03 * flat["areal_weight_g_m2"])
    assert waved["assumptions"] == []


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        ((), "layup fabric: needs one of a label, --coupon or --weave - a label is"),
        (("200 g/m^2", "--coupon", "2 g", "100 cm^2"), "needs one of a label, --coupon or --weave"),
        (("200 g/m^2", "--yarn", "D900"), "--yarn and --crimp describe a weave - add --weave ENDS PICKS"),
        (("200 g/m^2", "--crimp", "0.1"), "--yarn and --crimp describe a weave"),
        (("200",), "areal weight: has no unit (200) - write an areal weight such as 200 g/m^2 or 6 oz/yd^2"),
        (("200 g",), "areal weight: is a mass, not an areal weight (200 g) - write an areal weight such as"),
        (("200 g/m^3",), "areal weight: is a density, not an areal weight (200 g/m^3)"),
        (("0 g/m^2",), "is out of range (0) - must be above 0"),
        (("-5 g/m^2",), "is out of range (-5) - must be above 0"),
        (("nan g/m^2",), "does not start with a number (nan g/m^2)"),
        (("1e300 g/m^2",), "is out of range"),
        (("6 wibbles/yd^2",), "has an unknown unit: wibbles/yd^2"),
        (("--coupon", "2 g", "0 m^2"), "is out of range (0 m^2) - must be above 0"),
        (("--coupon", "0 g", "1 m^2"), "is out of range (0 g) - must be above 0"),
        (("--coupon", "2 m", "1 m^2"), "coupon mass: is a length, not a mass (2 m) - write a mass such as"),
        (("--coupon", "2 g", "1"), "coupon area: has no unit (1) - write an area such as"),
        (("--weave", "56/in", "56/in"), '--weave needs --yarn WARP [WEFT] - for instance --yarn "68 tex"'),
        (("--weave", "56/in", "56/in", "--yarn", "a", "b", "c"), "--weave needs --yarn WARP [WEFT]"),
        (("--weave", "56", "56/in", "--yarn", "D900"), "ends: has no unit (56) - write a thread count such as"),
        (("--weave", "56/in", "9999/in", "--yarn", "D900"), "picks: is out of range (393661"),
        (("--weave", "56/in", "56/in", "--yarn", "D0"), "yarn yield: is out of range (0 yd/lb)"),
        (("--weave", "56/in", "56/in", "--yarn", "thick"), "yarn: is no yarn code (thick) - such as G75, ECG 150 1/2"),
        (("--weave", "56/in", "56/in", "--yarn", "ECG150-0/2"), "strands of the yarn: is out of range (0)"),
        (("--weave", "56/in", "56/in", "--yarn", "ECG"), "yarn: is no yarn code (ECG)"),
        (("--weave", "56/in", "56/in", "--yarn", "EC150 yd/lb"), "yarn: is no yarn code (EC150 yd/lb)"),
        (("--weave", "5/in", "5/in", "--yarn", "D900", "--crimp", "3"), "crimp: is not between 0 and 1 and has no %"),
        (("--weave", "5/in", "5/in", "--yarn", "D900", "--crimp", "60 %"), "crimp: is out of range (0.6) - must be"),
        (("--weave", "56/in", "--yarn", "D900"), "argument --weave: expected 2 arguments - see 'layup fabric --help'"),
    ],
)
def test_what_is_no_fabric_is_refused_in_words(say, words, complaint):
    answer = say("fabric", *words)
    assert answer.code == 2
    assert complaint in answer.complaint
    assert answer.complaint.count("\n") == 1


@settings(max_examples=60, deadline=None)
@given(st.floats(0.01, 2900), st.sampled_from(["g/m^2", "oz/yd^2"]))
def test_a_label_in_either_system_gives_both(tmp_path_factory, value, unit):
    data = ask_in(tmp_path_factory.getbasetemp(), "fabric", f"{value:.4f} {unit}", "--json").data
    assert data["areal_weight_oz_yd2"] * CLOTH_G_M2 == pytest.approx(data["areal_weight_g_m2"], rel=1e-6)
    assert data["areal_weight_oz_ft2"] * MAT_G_M2 == pytest.approx(data["areal_weight_g_m2"], rel=1e-6)
    own = data["areal_weight_g_m2"] if unit == "g/m^2" else data["areal_weight_oz_yd2"]
    assert own == pytest.approx(float(f"{value:.4f}"))


def test_the_tables_are_listed_and_searched_each_row_with_its_source(say):
    answer = say("fabric", "--list", "tri", "75")
    assert (answer.code, answer.out.splitlines()[1].split()) == (
        0,
        ["glass", "triaxial", "750", "750", "E-glass", "[1]"],
    )
    assert "[1] a usual trade weight; common practice, no source" in answer.out
    maple = say("fabric", "--list", "maple", "--json").data
    assert maple["fabrics"] == []
    assert all(row["source"].startswith("by density: common practice") for row in maple["faces"])
    assert {row["name"] for row in maple["faces"]} == {"hard maple core face", "soft maple core face"}


def test_a_list_without_words_shows_both_tables_and_one_of_nonsense_says_so(say):
    whole = say("fabric", "--list").out
    assert "glass style 7628" in whole
    assert "poplar core face" in whole
    assert max(map(len, whole.splitlines())) <= 140
    assert say("fabric", "--list", "zzqx").complaint.startswith("layup fabric: is in no table (zzqx) - ")
    assert say("fabric", "--list", "--yarn", "G75").code == 2
