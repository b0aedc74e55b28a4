"""`layup mix`: the sheet adds up, its readings can be poured by, and a bad batch or file is refused."""

import pytest
from command_line import ask_in, assert_no_wider
from hypothesis import given, settings
from hypothesis import strategies as st

from layup.files.workshop import demo_root

RESIN = "resins/slow-laminating.toml"
RESINS = sorted(path.stem for path in (demo_root() / "resins").glob("*.toml"))
MASSES = st.floats(50.0, 4000.0).map(lambda mass: round(mass, 1))


def test_the_parts_sum_to_the_batch_and_follow_the_ratio(say):
    data = say("mix", "slow-laminating", "250 g", "--json").data
    assert data["parts"] == {"resin_g": data["resin_g"], "hardener_g": data["hardener_g"]}
    assert sum(data["parts"].values()) == pytest.approx(250.0, abs=1e-9)
    assert data["hardener_g"] / data["resin_g"] == pytest.approx(0.30)
    assert [reading["component"] for reading in data["readings"]] == ["resin", "hardener"]
    assert [reading["shows_g"] for reading in data["readings"]] == [192.0, 250.0]
    assert [reading["shows_g"] for reading in data["separate_readings"]] == [192.0, 58.0]


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(RESINS), MASSES, st.sampled_from(["1 g", "0.1 g", "0.01 g"]))
def test_any_batch_of_any_resin_adds_up(resin, mass_g, digit):
    answer = ask_in(demo_root(), "mix", resin, f"{mass_g} g", "--readability", digit, "--json")
    data, digit_g = answer.data, float(digit.split()[0])
    assert answer.code == 0
    assert sum(data["parts"].values()) == pytest.approx(mass_g, abs=1e-9)
    assert data["readings"][-1]["shows_g"] == pytest.approx(mass_g, abs=digit_g)
    assert data["separate_worst_case_off_ratio"] < data["worst_case_off_ratio"]
    for reading in (*data["readings"], *data["separate_readings"]):
        low_g, high_g = reading["within_g"] or (0.0, 0.0)
        assert low_g <= high_g
    if mass_g >= data["smallest_batch_g"]:
        assert data["worst_case_off_ratio"] <= 0.02 + 1e-9


def test_the_sheet_names_a_batch_that_its_scale_keeps_on_ratio(say):
    data = say("mix", "slow-laminating", "250 g", "--json").data
    better = say("mix", "slow-laminating", "260 g", "--json").data
    assert any("mix 260 g" in words for words in data["warnings"])
    assert data["total_off_ratio"] > 0.02 >= better["total_off_ratio"]
    assert not any("off ratio" in words for words in better["warnings"])


def test_a_batch_may_be_typed_without_quotes_or_without_its_unit(say):
    quoted, apart, bare = (
        say("mix", "slow-laminating", *words, "--json").data for words in (("260 g",), ("260", "g"), ("260",))
    )
    assert quoted == apart
    assert bare["assumptions"][0] == "batch mass 260 is in g, since no unit was given"
    assert {**bare, "assumptions": None} == {**quoted, "assumptions": None}


def test_a_resin_can_be_named_by_its_file(say, workshop):
    by_id, by_file = (say("mix", name, "260 g", "--json").data for name in ("slow-laminating", str(workshop / RESIN)))
    assert by_id == by_file


def test_measures_stand_at_whole_marks(say):
    volume = say("mix", "slow-laminating", "500 g", "--measure", "5 ml", "--json").data["volume"]
    for measure in volume["measures"]:
        assert measure["shows_ml"] == measure["steps"] * 5.0
    resin, hardener = volume["measures"]
    # 100:30 by mass at 1.15 and 0.97 g/cm^3 is 100:35.57 by volume (computed).
    assert hardener["shows_ml"] / resin["shows_ml"] == pytest.approx(0.3557, rel=0.02)
    text = say("mix", "slow-laminating", "500 g", "--measure", "5 ml").words
    assert f"resin {resin['shows_ml']:g} ml ({resin['steps']} marks or strokes)" in text


def test_an_over_pour_gets_its_correction_before_anything_else(say):
    data = say("mix", "slow-laminating", "250 g", "--poured", "192 g", "61 g", "--cup", "200 g", "--json").data
    verdict = data["verdict"]
    assert verdict["word"] == "off ratio"
    assert verdict["off_ratio"] == pytest.approx(61 / 192 / 0.3 - 1)
    assert (192 + verdict["add_resin_g"]) * 0.3 == pytest.approx(61 + verdict["add_hardener_g"])
    assert verdict["batch_g"] == pytest.approx(253 + verdict["add_resin_g"])
    assert verdict["fits"] is False
    text = say("mix", "slow-laminating", "250 g", "--poured", "192 g", "61 g", "--cup", "200 g").out
    assert text.startswith("Poured: OFF RATIO (+5.9 % hardener)\n- That makes 264 g and the cup takes 200 g")


@pytest.mark.parametrize(("hardener", "word"), [("57.6 g", "ON RATIO"), ("59.5 g", "USABLE"), ("52 g", "OFF RATIO")])
def test_the_verdict_is_a_word(say, hardener, word):
    assert say("mix", "slow-laminating", "250 g", "--poured", "192 g", hardener).out.startswith(f"Poured: {word} (")


def test_the_sheet_shows_what_to_pour_to_and_the_cautions(say):
    answer = say("mix", "slow-laminating", "260 g")
    for words in (
        "slow-laminating: 260 g = 200.0 g resin + 60.0 g hardener (100 : 30 by weight)",
        "resin to 200 g",
        "hardener to 260 g",
        "at worst 1.9 % off ratio",
        "leaves within 2 %: 250 g",
        "half to two-thirds full",
        "- The supplier's safety data sheet comes first.",
        "goggles",
        "gloves",
    ):
        assert words in answer.words
    for caution in say("mix", "slow-laminating", "260 g", "--json").data["cautions"]:
        assert f"- {caution}" in answer.words


@pytest.mark.parametrize("columns", [24, 40, 60, 80, 120])
@pytest.mark.parametrize("mass", ["20 g", "250 g", "6000 g"])
def test_the_sheet_is_no_wider_than_the_console(say, monkeypatch, columns, mass):
    monkeypatch.setenv("COLUMNS", str(columns))
    answer = say("mix", "dgeba-teta", mass, "--measure", "5 ml", "--poured", "100 g", "15 g")
    assert_no_wider(answer.out, columns)
    assert "Each on its own tare" in answer.words


def test_the_two_ways_to_weigh_stand_side_by_side_only_where_there_is_room(say, monkeypatch):
    heads = ["One cup, tared once", "Each on its own tare"]
    lines = [line for line in say("mix", "slow-laminating", "20 g").out.splitlines() if heads[1] in line]
    assert [line.split("   ")[0] for line in lines] == heads[:1]
    monkeypatch.setenv("COLUMNS", "60")
    assert set(heads) <= set(say("mix", "slow-laminating", "20 g").out.splitlines())


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("slow-laminating", "0 g"), "batch mass: is out of range (0 g)"),
        (("slow-laminating", "-5 g"), "batch mass: is out of range (-5 g)"),
        (("slow-laminating", "250 ml"), "batch mass: is a volume, not a mass (250 ml) - write a mass such as"),
        (("slow-laminating", ""), "batch mass: is empty - write a mass such as"),
        (("slow-laminating", "nan"), "batch mass: does not start with a number (nan)"),
        (("slow-laminating", "0.6 g"), "resin reading: is lost in the scale's last digit"),
        (("slow-laminatin", "250 g"), "resin: is not in resins (slow-laminatin) - did you mean slow-laminating?"),
        (("ketchup", "250 g"), "resin: is not in resins (ketchup) - known are casting-urethane, dgeba-ipda"),
        (("slow-laminating", "250 g", "--readability", "0 g"), "scale readability: is out of range (0 g)"),
        (("slow-laminating", "250 g", "--capacity", "-1 g"), "scale capacity: is out of range (-1 g)"),
        (("slow-laminating", "250 g", "--cup", "0 g"), "largest cup: is out of range (0 g) - must be above 0 g"),
        (("slow-laminating", "250 g", "--measure", "0 ml"), "measure step: is out of range (0 ml)"),
        (("slow-laminating", "250 g", "--measure", "1 fl oz"), "measure: does not say whose measure (1 fl oz)"),
        (("slow-laminating", "250 g", "--poured", "0", "5"), "resin poured: is out of range (0 g) - must be above"),
        (("slow-laminating", "250 g", "--poured", "9", "-5"), "poured mass: is out of range (-5 g)"),
        (("slow-laminating", "250 g", "--poured", "9"), "argument --poured: expected 2 arguments"),
        (("slow-laminating",), "the following arguments are required: MASS - see 'layup mix --help'"),
    ],
)
def test_a_batch_that_cannot_be_is_refused_in_words(say, words, complaint):
    answer = say("mix", *words)
    assert answer.code == 2
    assert complaint in answer.complaint


@pytest.mark.parametrize(
    ("old", "new", "complaint"),
    [
        ("hardener = 30", "hardener = 0", "ratio.hardener: is out of range (0) - must be above 0"),
        ("hardener = 30", "hardener = -30", "ratio.hardener: is out of range (-30) - must be above 0"),
        ("hardener = 30", 'hardener = "30"', "ratio.hardener: is not a number (30)"),
        ('density = "1.15 g/cm^3"', 'density = "1.15 g"', "resin.density: is a mass, not a density (1.15 g)"),
        ('density = "1.15 g/cm^3"', "densitty = 1", "resin.densitty: is not a known key - did you mean density?"),
        ('time = "45 min"', 'time = "0 min"', "pot_life[1].time: is out of range (0 min) - must be above"),
        ('title = "Slow', 'title = "\\u001b[31mSlow', "title: holds control characters (\\x1b[31mSlow"),
        ("[ratio]", "[ratio", "is not valid TOML"),
    ],
)
def test_a_bad_resin_file_is_refused_with_its_line(say, edit, old, new, complaint):
    line = edit(RESIN, old, new)
    answer = say("mix", "slow-laminating", "250 g")
    assert answer.code == 2
    assert f"{RESIN}:{line}: " in answer.complaint
    assert complaint in answer.complaint


def test_a_ratio_by_volume_needs_densities(say, edit):
    edit(RESIN, 'density = "0.97 g/cm^3"\n', "")
    edit(RESIN, 'by = "weight"', 'by = "volume"')
    assert "hardener: has no density, but the ratio is by volume" in say("mix", "slow-laminating", "250 g").complaint


@pytest.mark.parametrize("name", ["nowhere/slow.toml", "slow.toml"])
def test_a_missing_file_is_a_matter_of_files(say, name):
    answer = say("mix", name, "250 g")
    assert answer.code == 3
    assert answer.complaint == f"resin: is not there ({name}) - check the path\n"


def test_a_workshop_without_resins_says_what_a_workshop_is(say, workshop):
    answer = say("mix", "slow-laminating", "250 g", "--workshop", str(workshop / "sessions"))
    assert answer.code == 3
    assert "resins: cannot be read (No such file or directory) - go to a folder with resins" in answer.complaint


def test_a_file_in_place_of_the_resins_is_no_workshop(say, workshop):
    (workshop / "resins").rename(workshop / "away")
    (workshop / "resins").write_text("")
    answer = say("mix", "slow-laminating", "250 g")
    assert answer.code == 3
    assert "resins: cannot be read (Not a directory)" in answer.complaint


@pytest.mark.parametrize(("hardener", "code"), [("57.6 g", 0), ("59.5 g", 0), ("52 g", 1), ("70 g", 1)])
def test_a_batch_poured_off_ratio_is_told_by_the_exit_code_too(say, hardener, code):
    words = "mix", "slow-laminating", "250 g", "--poured", "192 g", hardener
    assert say(*words).code == code
    answer = say(*words, "--json")
    assert answer.code == code
    assert answer.data["fits"] is True, "scale and cup have room for the sheet's own batch"


def test_the_help_says_that_an_off_ratio_batch_exits_with_1(say):
    assert "off ratio exits 1" in " ".join(say("mix", "--help").out.split())


def test_a_poured_batch_says_where_it_gels_and_softens_if_it_is_left_so(say):
    good, lean = (
        say("mix", "slow-laminating", "260 g", "--poured", "200 g", f"{grams} g", "--json").data["verdict"]
        for grams in (60, 45)
    )
    assert good["gel_conversion"] == pytest.approx(0.579, abs=1e-3)
    assert good["glass_transition_K"] == pytest.approx(355.15)
    assert lean["gel_conversion"] > 0.65
    assert lean["glass_transition_K"] < 330.0
    words = " ".join(say("mix", "slow-laminating", "260 g", "--poured", "200 g", "45 g").out.split())
    assert "Left like this it gels at 66 % reacted, not 58 %, and softens near" in words
    on_ratio = " ".join(say("mix", "slow-laminating", "260 g", "--poured", "200 g", "60 g").out.split())
    assert "Left like this" not in on_ratio


def test_a_batch_far_off_ratio_is_said_not_to_gel(say):
    answer = say("mix", "slow-laminating", "260 g", "--poured", "200 g", "15 g")
    assert answer.code == 1
    assert "Left like this it will not gel: it stays sticky for good." in " ".join(answer.out.split())
    data = say("mix", "slow-laminating", "260 g", "--poured", "200 g", "15 g", "--json").data
    assert data["verdict"]["gel_conversion"] is None
