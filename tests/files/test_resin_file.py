"""A resin file: everything a datasheet states arrives, and everything wrong is told at once, with its line."""

import pytest

from layup.chemistry.calibration import calibrate
from layup.files.resin_file import check_resin, load_resin
from layup.files.workshop import demo_root

GOOD = """\
id = "r"
title = "Test resin"
chemistry = "epoxy-amine"
price_per_kg = 21.5
[resin]
name = "A"
density = "1.15 g/cm^3"
equivalent_weight = "178 g/eq"
[hardener]
name = "B"
density = "0.97 g/cm^3"
equivalent_weight = 53
[ratio]
by = "weight"
resin = 100
hardener = 30
[[pot_life]]
time = "45 min"
mass = "150 g"
temperature = "25 degC"
endpoint = "gel"
vessel = "tray"
depth = "10 mm"
[[film]]
time = "2.5 h"
temperature = "77 degF"
endpoint = "open"
[[viscosity]]
value = "700 mPa*s"
temperature = "25 degC"
[cure]
minimum_temperature = "15 degC"
demould = [{ time = "24 h", temperature = "23 degC" }]
post_cure = [{ time = "8 h", temperature = "60 degC" }]
glass_transition = "82 degC"
[hazards]
signal_word = "Warning"
cautions = ["Gloves."]
[source]
document = "Sheet"
revision = "3"
date = 2024-03-01
note = "Invented."
"""


@pytest.fixture
def told(tmp_path):
    """Return a function that makes one change to the good file and returns the problems, without the path."""

    def load(old="", new="", name="r.toml", text=GOOD):
        assert old in text
        path = tmp_path / name
        path.write_text(text.replace(old, new, 1), encoding="utf-8")
        return [str(problem).removeprefix(f"{path}:") for problem in check_resin(path)]

    return load


def test_everything_that_the_file_states_arrives(tmp_path):
    path = tmp_path / "r.toml"
    path.write_text(GOOD, encoding="utf-8")
    sheet, problems = load_resin(path)
    assert problems == []
    assert (sheet.id, sheet.title, sheet.chemistry, sheet.price_per_kg) == ("r", "Test resin", "epoxy-amine", 21.5)
    assert (sheet.resin.density_g_cm3, sheet.resin.equivalent_weight_g_eq) == (1.15, 178.0)
    assert (sheet.hardener.name, sheet.hardener.equivalent_weight_g_eq) == ("B", 53.0)
    assert (sheet.ratio, sheet.ratio_by) == ((100.0, 30.0), "weight")
    [point] = sheet.pot_lives
    assert (point.time_s, point.mass_g, point.temperature_K) == (2700.0, 150.0, 298.15)
    assert (point.endpoint, point.depth_m) == ("gel", 0.01)
    [film] = sheet.films
    assert (film.time_s, film.endpoint) == (9000.0, "open")
    assert film.temperature_K == pytest.approx(298.15)
    [viscosity] = sheet.viscosities
    assert (viscosity.viscosity_Pa_s, viscosity.temperature_K) == (0.7, 298.15)
    assert (sheet.minimum_temperature_K, sheet.glass_transition_K) == (288.15, pytest.approx(355.15))
    assert [(each.time_s, each.temperature_K) for each in (*sheet.demould, *sheet.post_cure)] == [
        (86400.0, 296.15),
        (28800.0, 333.15),
    ]
    assert (sheet.signal_word, sheet.cautions) == ("Warning", ("Gloves.",))
    assert sheet.source == "Sheet, revision 3, 2024-03-01. Invented."


@pytest.mark.parametrize("path", sorted((demo_root() / "resins").glob("*.toml")), ids=lambda path: path.stem)
def test_the_resins_that_come_with_the_program_have_no_problem_and_show_their_cautions(path):
    sheet, problems = load_resin(path)
    assert problems == check_resin(path) == []
    assert sheet.signal_word in ("Warning", "Danger")
    assert any("safety data sheet comes first" in caution for caution in sheet.cautions)
    assert any(word in sheet.source for word in ("Invented", "from memory"))


ONE_CHANGE = [
    # an unknown key, and its nearest known one
    ("hardener = 30", "hardner = 30", "16: ratio.hardner: is not a known key - did you mean hardener?"),
    ("[cure]", "[cures]", "31: cures: is not a known key - did you mean cure?"),
    ('name = "A"', 'name = "A"\nlot = "7"', "7: resin.lot: is not a known key - known are density, equivalent_weight"),
    # a missing key, at the table it should be in
    ('mass = "150 g"\n', "", '17: pot_life[1]: mass is missing - write mass = "150 g"'),
    ('id = "r"\n', "", '1: id is missing - write id = "slow-laminating"'),
    ("[ratio]", "[ratios]", "1: ratio is missing - write a [ratio] table"),
    # a wrong dimension
    ('mass = "150 g"', 'mass = "150 ml"', "19: pot_life[1].mass: is a volume, not a mass (150 ml) - write a mass"),
    ('density = "0.97 g/cm^3"', 'density = "970 g"', "11: hardener.density: is a mass, not a density (970 g)"),
    ('value = "700 mPa*s"', 'value = "700 kPa"', "29: viscosity[1].value: is a pressure, not a viscosity (700 kPa)"),
    # no unit at all
    ('time = "45 min"', "time = 45", "18: pot_life[1].time: has no unit (45) - write a time such as 45 min or 2.5 h"),
    ('time = "2.5 h"', 'time = "2.5"', "25: film[1].time: has no unit (2.5) - write a time such as 45 min"),
    # zero, negative, out of range
    ('mass = "150 g"', 'mass = "0 g"', "19: pot_life[1].mass: is out of range (0 g) - must be above 0 g"),
    ('time = "45 min"', 'time = "-45 min"', "18: pot_life[1].time: is out of range (-45 min) - must be above 0 s"),
    ("hardener = 30", "hardener = 0", "16: ratio.hardener: is out of range (0) - must be above 0"),
    ("resin = 100", "resin = -1", "15: ratio.resin: is out of range (-1) - must be above 0"),
    ("resin = 100", "resin = inf", "15: ratio.resin: is out of range (inf) - must be above 0"),
    ("resin = 100", "resin = nan", "15: ratio.resin: is out of range (nan) - must be above 0"),
    ('density = "1.15 g/cm^3"', 'density = "1150 g/cm^3"', "7: resin.density: is out of range (1150 g/cm^3) - must be"),
    (
        'temperature = "25 degC"',
        'temperature = "250 degC"',
        "20: pot_life[1].temperature: is out of range (250 degC) - must be between -20 °C and 120 °C",
    ),
    # a wrong kind of value
    ("resin = 100", 'resin = "100"', "15: ratio.resin: is not a number (100) - write it plain, without quotes or unit"),
    ("resin = 100", "resin = true", "15: ratio.resin: is not a number (True)"),
    ('title = "Test resin"', "title = 7", "2: title: is not a text (7) - write it in quotes"),
    ('title = "Test resin"', 'title = " "', "2: title: is empty - write a name"),
    ('title = "Test resin"', f'title = "{"x" * 121}"', "2: title: is too long (121 characters) - at most 120"),
    ('title = "Test resin"', 'title = "a\\u001b[2J"', r"2: title: holds control characters (a\x1b[2J)"),
    (
        'density = "1.15 g/cm^3"',
        "density = []",
        "7: resin.density: is not a quantity (a list) - write a text with a unit",
    ),
    ("date = 2024-03-01", "date = 2024", "42: source.date: is not a date (2024) - write it as 2024-05-31"),
    ("[hazards]", "[[hazards]]", "36: hazards: is not a table - write it as [hazards] with its keys below"),
    ("[[film]]", "[film]", "24: film: is not a list - write it in square brackets, or each as [[film]]"),
    # a word that is no choice
    ('by = "weight"', 'by = "wieght"', "14: ratio.by: is not one of the choices (wieght) - did you mean weight?"),
    ('endpoint = "gel"', 'endpoint = "hard"', "21: pot_life[1].endpoint: is not one of the choices (hard) - known are"),
    ('"epoxy-amine"', '"epoxy"', "3: chemistry: is not one of the choices (epoxy) - did you mean epoxy-amine?"),
    # what sets by radicals has no law here
    ('"epoxy-amine"', '"polyester"', "3: chemistry: is a resin that sets by radicals, not by its mixing ratio: an"),
    ('"epoxy-amine"', '"vinyl-ester"', "3: chemistry: is a resin that sets by radicals, not by its mixing ratio: an"),
    ("Test resin", "Epoxy vinyl ester 20", "2: title: says vinyl ester: a resin that sets by radicals, not by its"),
    ('name = "A"', 'name = "Unsaturated polyester"', "6: resin.name: says polyester: a resin that sets by radicals"),
    ('name = "B"', 'name = "MEKP"', "10: hardener.name: says mekp: a resin that sets by radicals, not by its mixing"),
    # well formed, and still impossible
    ('id = "r"', 'id = "q"', '1: id: differs from the file\'s name (q) - rename the file or write id = "r"'),
    ('depth = "10 mm"\n', "", '22: pot_life[1].vessel: is a tray without its depth - write depth = "10 mm"'),
    ('vessel = "tray"\n', "", '22: pot_life[1].depth: is for a tray - write vessel = "tray", or leave the depth out'),
    (
        'depth = "10 mm"\n',
        'depth = "10 mm"\ndiameter = "80 mm"\n',
        '24: pot_life[1].diameter: is a cup\'s - write vessel = "cup", or leave the diameter out',
    ),
    (
        'endpoint = "gel"',
        'endpoint = "temperature"',
        '17: pot_life[1]: reaches is missing - write reaches = "50 degC", what ends it',
    ),
    (
        'endpoint = "gel"',
        'endpoint = "gel"\nreaches = "50 degC"',
        '22: pot_life[1].reaches: is only for an end by temperature - leave it out, or write endpoint = "temperature"',
    ),
    # what only the pot-life model can see
    (
        'time = "2.5 h"',
        'time = "5 min"',
        "24: film: film time is shorter than the cup's pot life at the same temperature (5 min",
    ),
    # odd, but usable
    (
        "hardener = 30",
        "hardener = 40",
        "13: warning: ratio: The stated ratio has 34 % more hardener than AHEW and EEW call",
    ),
    # numbers that no datasheet has (the limits are common practice, no source)
    (
        'temperature = "25 degC"\nendpoint',
        'temperature = "23 degF"\nendpoint',
        "20: warning: pot_life[1].temperature: is -5 °C, and datasheets state this at 5 °C to 60 °C - check the number",
    ),
    (
        '"77 degF"',
        '"77 degC"',
        "26: warning: film[1].temperature: is 77 °C, and datasheets state this at 5",
    ),
    (
        "[cure]",
        '[[viscosity]]\nvalue = "9000 mPa*s"\ntemperature = "20 degC"\n[cure]',
        "29: warning: viscosity[1].value: is 12.9 times thinner than 5 °C colder: no mix thins so fast as it warms",
    ),
    (
        "[cure]",
        '[[viscosity]]\nvalue = "600 mPa*s"\ntemperature = "20 degC"\n[cure]',
        "28: viscosity: does not fall as the mix warms (700 mPa·s at 25 °C) - must be below the 600 mPa·s at 20 °C",
    ),
    (
        '"15 degC"\ndemould',
        '"30 degC"\ndemould',
        "32: warning: cure.minimum_temperature: is 30 °C, and a demoulding time is stated at 23 °C, which is colder",
    ),
    ('"60 degC"', '"55 degF"', "34: warning: cure.post_cure: is at 13 °C at most, colder than any demoulding time"),
    (
        'demould = [{ time = "24 h", temperature = "23 degC" }]',
        'demould = "24 h"',
        "33: cure.demould: is not a list - write it in square brackets, or each as [[cure.demould]]",
    ),
    ('endpoint = "open"', 'endpoint = "tack-free"', "24: warning: film: film time to tack-free is not an open time"),
]


@pytest.mark.parametrize(("old", "new", "words"), ONE_CHANGE, ids=lambda each: each[:40])
def test_each_thing_wrong_is_told_with_its_line_and_the_remedy(told, old, new, words):
    assert any(each.startswith(words) for each in told(old, new)), told(old, new)


@pytest.mark.parametrize(("old", "new"), [row[:2] for row in ONE_CHANGE], ids=lambda each: each[:40])
def test_one_change_makes_one_problem_or_two_where_one_follows_from_the_other(told, old, new):
    misnamed = new in ("hardner = 30", "[ratios]")
    far_off = "23 degF" in new or "77 degC" in new
    assert len(told(old, new)) == (2 if misnamed or far_off else 1)


def test_a_polyester_is_no_resin_whatever_its_chemistry_is_said_to_be_but_a_urethane_may_hold_a_polyester_polyol(told):
    """From memory, any textbook: unsaturated polyesters and vinyl esters set by a chain reaction of radicals."""
    other = GOOD.replace('"epoxy-amine"', '"other"')
    assert told('name = "A"', 'name = "Polyester, styrene"', text=other)
    urethane = GOOD.replace('"epoxy-amine"', '"urethane"')
    assert not any("radicals" in each for each in told('name = "A"', 'name = "Polyester polyol"', text=urethane))


def test_a_urethanes_isocyanate_belongs_to_the_hardener(told):
    urethane = GOOD.replace('"epoxy-amine"', '"urethane"').replace("equivalent_weight = 53", "equivalent_weight = 55")
    assert not any("isocyanate" in each for each in told(text=urethane))
    assert told('name = "A"', 'name = "Isocyanate, MDI type"', text=urethane)[0].startswith(
        "6: resin.name: is an isocyanate - write the isocyanate as [hardener] and the polyol as [resin]"
    )


def test_a_resin_that_sets_by_radicals_gives_no_datasheet(tmp_path):
    path = tmp_path / "r.toml"
    path.write_text(GOOD.replace("Test resin", "Laminating polyester"), encoding="utf-8")
    assert load_resin(path)[0] is None


def test_a_ratio_by_volume_needs_both_densities(told):
    text = GOOD.replace('by = "weight"', 'by = "volume"').replace('density = "1.15 g/cm^3"\n', "")
    assert told('density = "0.97 g/cm^3"\n', "", text=text) == [
        '5: resin: has no density, but the ratio is by volume - write density = "1.1 g/cm^3" in [resin]',
        '8: hardener: has no density, but the ratio is by volume - write density = "1.1 g/cm^3" in [hardener]',
    ]


def test_a_file_without_any_pot_life_is_refused(told):
    text = GOOD[: GOOD.index("[[pot_life]]")] + GOOD[GOOD.index("[[film]]") :]
    assert told(text=text) == ["1: pot_life is missing - write [[pot_life]] tables"]
    assert told('id = "r"', 'id = "r"\npot_life = []', text=text) == ["2: pot_life: is empty - at least one is needed"]


def test_a_sessions_copy_keeps_the_id_of_its_resin(told):
    assert told(name="resin.toml") == []


def test_all_problems_are_told_at_once_in_the_order_of_the_lines(told):
    text = GOOD.replace('"150 g"', '"0 g"').replace('by = "weight"', 'by = "mass"').replace("title", "titel", 1)
    lines = [each.split(":")[0] for each in told(text=text)]
    assert lines == ["1", "2", "14", "19"]


def test_a_usable_file_with_a_warning_still_gives_its_datasheet(tmp_path):
    path = tmp_path / "r.toml"
    path.write_text(GOOD.replace("hardener = 30", "hardener = 40"), encoding="utf-8")
    sheet, problems = load_resin(path)
    assert sheet is not None
    assert [problem.warning for problem in problems] == [True]


@pytest.mark.parametrize(
    ("stated", "odd"),
    [
        (("1500", "15", "1000", "20"), False),
        (("2000", "20", "1000", "25"), False),
        (("3300", "20", "1000", "25"), True),
    ],
)
def test_only_a_fall_that_no_mix_has_is_called_odd(told, stated, odd):
    """Laminating mixes halve each 5 to 10 K (common practice, no source)."""
    tables = "".join(
        f'[[viscosity]]\nvalue = "{value} mPa*s"\ntemperature = "{celsius} degC"\n'
        for value, celsius in zip(stated[::2], stated[1::2], strict=True)
    )
    text = GOOD.replace('[[viscosity]]\nvalue = "700 mPa*s"\ntemperature = "25 degC"\n', tables)
    assert bool(told(text=text)) is odd


@pytest.mark.parametrize("celsius", ["5", "60"])
def test_a_temperature_at_the_edge_of_the_usual_is_not_called_odd(told, celsius):
    assert told('value = "700 mPa*s"\ntemperature = "25', f'value = "700 mPa*s"\ntemperature = "{celsius}') == []


def test_a_blend_must_be_with_another_hardener_of_the_same_resin_beside_it(tmp_path):
    good, other = tmp_path / "r.toml", tmp_path / "fast.toml"
    good.write_text(GOOD.replace("price_per_kg", 'blends_with = ["fast", "gone"]\nprice_per_kg'), encoding="utf-8")
    other.write_text(GOOD.replace('id = "r"', 'id = "fast"').replace('name = "B"', 'name = "C"'), encoding="utf-8")
    assert load_resin(good)[0].blends_with == ("fast", "gone")
    (problem,) = check_resin(good)
    assert (problem.line, problem.message) == (4, "is no resin file beside this one (gone)")
    other.write_text(other.read_text(encoding="utf-8").replace('name = "A"', 'name = "Z"'), encoding="utf-8")
    assert [problem.message for problem in check_resin(good)] == [
        "has another resin (Z) (fast)",
        "is no resin file beside this one (gone)",
    ]
    other.write_text("nothing = 1", encoding="utf-8")
    assert len(check_resin(good)) == 1, "a file that cannot be used has problems of its own"


UNUSUAL = [
    (
        "resin = 100\nhardener = 30",
        "resin = 1\nhardener = 2",
        "16: warning: ratio.hardener: unusual, 100:200: epoxies mix from 100:10 to 100:110 by weight (common practice",
    ),
    ("hardener = 30", "hardener = 5", "16: warning: ratio.hardener: unusual, 100:5: epoxies mix from 100:10"),
    (
        'by = "weight"\nresin = 100\nhardener = 30',
        'by = "volume"\nresin = 1\nhardener = 2',
        "16: warning: ratio.hardener: unusual, 100:169: epoxies mix from 100:10 to 100:110 by weight (common practice",
    ),
    (
        'minimum_temperature = "15 degC"',
        'minimum_temperature = "15 degF"',
        "32: warning: cure.minimum_temperature: unusual, -9 °C: resins need 0 °C to 40 °C at least (common practice",
    ),
    (
        'time = "45 min"',
        'time = "25 h"',
        "18: warning: pot_life[1].time: 25 h? unusual of 150 g: pot lives are 8 ",
    ),
    ('time = "45 min"', 'time = "45 s"', "18: warning: pot_life[1].time: 0.75 min? unusual of 150 g: pot lives are 8 "),
]


@pytest.mark.parametrize(("old", "new", "words"), UNUSUAL, ids=lambda each: each[:40])
def test_what_is_unusual_of_a_mix_is_a_warning_at_its_own_line(told, old, new, words):
    assert any(each.startswith(words) for each in told(old, new)), told(old, new)


def test_a_pot_life_of_another_mass_beyond_the_model_is_a_warning_in_the_model_s_own_words(tmp_path):
    cup = GOOD.replace('vessel = "tray"\ndepth = "10 mm"\n', "")
    more = '[[pot_life]]\ntime = "24 min"\nmass = "500 g"\ntemperature = "25 degC"\nendpoint = "gel"\n'
    path = tmp_path / "r.toml"
    path.write_text(cup.replace("[[film]]", f"{more}[[film]]"), encoding="utf-8")
    (problem,) = check_resin(path)
    assert (problem.key, problem.warning) == ("pot_life[2]", True)
    assert problem.message.startswith("24 min of 500 g is beyond this model (4")
    (said,) = [each for each in calibrate(load_resin(path)[0]).warnings if "beyond" in each]
    assert said == f"{problem.message}; {problem.hint}"
    path.write_text(cup.replace("[[film]]", f"{more.replace('24', '43')}[[film]]"), encoding="utf-8")
    assert check_resin(path) == []


def test_an_unusual_ratio_is_told_beside_what_is_wrong_or_missing_too(told):
    problems = told(
        'resin = 100\nhardener = 30\n[[pot_life]]\ntime = "45 min"', "resin = 27\nhardener = 100\n[[pot_life]]"
    )
    assert [each.split(" ")[1] for each in problems] == ["warning:", "pot_life[1]:"], problems
    assert "ratio.hardener: unusual, 100:370: epoxies mix" in problems[0]


@pytest.mark.parametrize(("old", "new"), [("hardener = 30", "hardener = 10"), ("hardener = 30", "hardener = 110")])
def test_a_usual_ratio_is_no_oddity(told, old, new):
    assert not any("unusual" in each for each in told(old, new))
