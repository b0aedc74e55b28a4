"""A plan file: every key arrives in the core's units, and everything wrong is told at once, with its line."""

import pytest

from layup.chemistry.laminate import CURED_DENSITY_G_CM3, fibre_mass_fraction
from layup.files.plan_file import load_plan
from layup.files.plan_tables import OVERFILL
from layup.files.workshop import demo_root
from layup.planning.channel import Channel
from layup.planning.outline import area_m2
from layup.planning.plan import Board, BondStep, CastStep, PlaceStep

GOOD = """\
title = "Test board"
resin = "slow"
pieces = 2
people = 3
target_fibre_fraction = { by = "weight", value = 0.62 }
[outline]
length = "1.2 m"
stations = [
  { at = "0 mm", width = "100 mm" },
  { at = "1200 mm", width = "200 mm" },
]
overhang = "20 mm"
roll_width = "50 in"
[[steps]]
name = "Base"
kind = "bond"
surface = "base sheet"
coverage = 0.5
minutes = 3
[[steps]]
name = "Glass"
kind = "fabric"
areal_weight = "6 oz/yd^2"
fibre = "E-glass"
layers = 2
width = "3 in"
overhang = "0 mm"
target_fibre_fraction = { by = "volume", value = 0.5 }
price_per_m2 = 4
minutes = 10
[[steps]]
name = "Core"
kind = "place"
minutes = 2.5
[[steps]]
name = "Sides"
kind = "cast"
resin = "urethane"
volume = "60 ml"
pours = 2
before_press_day = false
pigment = "black"
minutes = 8
[losses]
per_batch = "25 g"
squeeze_out = "10 %"
[closing]
method = "bolts"
minutes = 12
area = "0.2 m^2"
target_pressure = "12 psi"
clamps = 14
clamp_rating = "2.5 kN"
caul = { material = "birch plywood", thickness = "18 mm" }
backing = { material = "steel", thickness = "0.5 in" }
[scale]
readability = "0.1 g"
capacity = "2 kg"
[cups]
largest = "400 g"
[crew]
mixing = "5 min"
second_pair = 0.4
stirring = "2 min"
"""
RESINS = ("slow", "urethane")
WALL = """channel = { width = "8 mm", depth = "0.5 in", bottom = "6 mm", offset = "2 mm", begin = "10 cm", end = "1 m" }
pigments = ["black", "red", "white"]
loading = "3 %"
loss = "5 g"
overfill = "15 %"
join = { when = "firm", earliest = "4 min", latest = "0.5 h" }
"""
CASTING = """[casting]
core_temperature = "77 degF"
core_moisture = "8 %"
warm = "20 min"
seal = "5 min"
seal_wait = "1.5 h"
tape = "10 min"
[losses]
"""


@pytest.fixture
def plan_of(tmp_path):
    """Return a function that loads the good file with one change: the plan, and the problems without the path."""

    def load(old="", new="", text=GOOD):
        assert old in text
        path = tmp_path / "plan.toml"
        path.write_text(text.replace(old, new, 1), encoding="utf-8")
        plan, problems = load_plan(path, resin_ids=RESINS)
        return plan, [str(problem).removeprefix(f"{path}:") for problem in problems]

    return load


def test_a_channel_its_pours_and_the_core_arrive_in_the_units_of_the_core(plan_of):
    walls = GOOD.replace("[losses]\n", CASTING).replace('pigment = "black"\n', "")
    plan, problems = plan_of('volume = "60 ml"\n', WALL, walls)
    assert problems == []
    walls = plan.steps[-1]
    assert walls.channel == Channel(0.008, 0.5 * 0.0254, 0.002, "both", 0.006, 0.1, 1.0)
    assert (walls.pigments, walls.fade, walls.loading) == (("black", "red", "white"), False, 0.03)
    assert (walls.loss_g, walls.overfill, walls.stated_pours) == (5.0, 0.15, 3)
    assert (walls.join, walls.join_s) == ("firm", (240.0, 1800.0))
    work = plan.casting
    assert work.core_K == pytest.approx(298.15)
    assert (work.core_moisture, work.warm_s, work.seal_s, work.tape_s, work.seal_wait_s) == (0.08, 1200, 300, 600, 5400)
    plan, _ = plan_of('volume = "60 ml"\n', 'channel = { width = "8 mm", depth = "12 mm" }\n')
    assert plan.steps[-1].overfill == OVERFILL


@pytest.mark.parametrize(
    ("new", "words"),
    [
        ('volume = "60 ml"\n' + WALL, "channel: is given beside volume"),
        (WALL + 'pigment_to = "blue"\n', "pigments: is given beside pigment"),
        (WALL.replace("8 mm", "900 mm"), "channel: does not fit in the outline"),
        (WALL.replace(', latest = "0.5 h"', ""), "join: needs both ends"),
        (WALL.replace("0.5 h", "2 min"), "join ends before it begins"),
        (WALL.replace("10 cm", "2 m"), "channel: begins where it ends"),
    ],
)
def test_a_casting_that_cannot_be_is_told_with_the_remedy(plan_of, new, words):
    plan, problems = plan_of('volume = "60 ml"\n', new, GOOD.replace('pigment = "black"\n', ""))
    assert plan is None
    assert any(words in each for each in problems), problems


def test_every_key_arrives_in_the_units_of_the_core(plan_of):
    plan, problems = plan_of()
    assert problems == []
    assert (plan.title, plan.resin_id, plan.pieces) == ("Test board", "slow", 2)
    assert (plan.target.by, plan.target.value) == ("weight", 0.62)
    assert plan.outline.stations == ((0.0, 0.1), (1.2, 0.2))
    assert (plan.outline.length_m, plan.outline.overhang_m, plan.outline.roll_width_m) == (1.2, 0.02, 1.27)
    base, glass, core, sides = plan.steps
    assert base == BondStep("Base", 180.0, "base sheet", 60.0, 0.5, None, 40.0, 90.0)
    by_mass = fibre_mass_fraction(0.5, 2.54, CURED_DENSITY_G_CM3)
    assert (glass.name, glass.bench_s, glass.layers, glass.price_per_m2) == ("Glass", 600.0, 2, 4.0)
    assert glass.areal_weight_g_m2 == pytest.approx(203.434485)
    assert (glass.fibre, glass.fibre_density_g_cm3, glass.fibre_mass_fraction) == ("E-glass", 2.54, by_mass)
    assert (glass.width_m, glass.overhang_m) == (pytest.approx(0.0762), 0.0)
    assert core == PlaceStep("Core", 150.0)
    assert sides == CastStep("Sides", 480.0, "urethane", 60e-6, 2, False, ("black",))
    assert (plan.losses.per_batch_g, plan.losses.squeeze_out) == (25.0, 0.1)
    assert (plan.closing.method, plan.closing.bench_s, plan.closing.area_m2) == ("bolts", 720.0, 0.2)
    assert (plan.closing.target_pressure_Pa, plan.closing.clamps) == (pytest.approx(82737.0875), 14)
    assert plan.closing.clamp_rating_N == 2500.0
    assert (plan.closing.caul, plan.closing.backing) == (Board("birch plywood", 0.018), Board("steel", 0.0127))
    assert plan.wanted == ""
    assert (plan.scale.readability_g, plan.scale.capacity_g, plan.largest_cup_g) == (0.1, 2000.0, 400.0)
    assert (plan.crew.people, plan.crew.mixing_s, plan.crew.second_pair, plan.crew.stirring_s) == (3, 300.0, 0.4, 120.0)


def test_a_scale_that_is_tared_again_may_weigh_smaller_batches(plan_of):
    plan, problems = plan_of('readability = "0.1 g"', 'readability = "0.1 g"\ntare_each = true')
    assert problems == []
    assert plan.scale.tare_each


def test_what_is_left_out_takes_the_cores_defaults(plan_of):
    plan, problems = plan_of(text=GOOD[: GOOD.index("[losses]")])
    assert problems == []
    assert (plan.losses.per_batch_g, plan.losses.squeeze_out) == (20.0, None)
    assert (plan.closing.method, plan.closing.bench_s) == ("clamps", 600.0)
    assert (plan.closing.caul, plan.closing.backing, plan.closing.clamp_rating_N) == (None, None, None)
    assert (plan.scale.readability_g, plan.scale.capacity_g, plan.largest_cup_g) == (1.0, 5000.0, None)
    assert (plan.crew.people, plan.crew.mixing_s, plan.crew.second_pair) == (3, 240.0, 0.5)


def test_a_fabric_of_the_table_brings_its_weight_and_fibre(plan_of):
    plan, problems = plan_of('areal_weight = "6 oz/yd^2"\nfibre = "E-glass"', 'fabric = "carbon twill 200"')
    assert problems == []
    assert (plan.steps[1].areal_weight_g_m2, plan.steps[1].fibre) == (200.0, "carbon")
    assert plan.steps[1].fibre_density_g_cm3 == 1.76


def test_a_fibre_of_ones_own_needs_its_density(plan_of):
    plan, problems = plan_of('fibre = "E-glass"', 'fibre = "bamboo"\nfibre_density = "0.9 g/cm^3"')
    assert problems == []
    assert (plan.steps[1].fibre, plan.steps[1].fibre_density_g_cm3) == ("bamboo", 0.9)


def test_a_step_without_its_own_target_takes_the_plans(plan_of):
    plan, _ = plan_of('target_fibre_fraction = { by = "volume", value = 0.5 }\n', "")
    assert plan.steps[1].fibre_mass_fraction == 0.62


def test_an_uptake_of_ones_own_needs_no_entry_in_the_table(plan_of):
    plan, problems = plan_of('surface = "base sheet"', 'surface = "my foil"\nuptake = "90 g/m^2"')
    assert problems == []
    assert plan.steps[0] == BondStep("Base", 180.0, "my foil", 90.0, 0.5)


def test_a_sealed_face_drinks_less_with_a_narrower_band(plan_of):
    plan, problems = plan_of('surface = "base sheet"', 'surface = "ash core face"\npresealed = true')
    assert problems == []
    assert plan.steps[0] == BondStep("Base", 180.0, "ash core face", 50.0, 0.5, None, 40.0, 65.0)


def test_an_area_can_stand_for_the_outline(plan_of):
    start, end = GOOD.index("stations"), GOOD.index("overhang")
    plan, problems = plan_of(text=GOOD[:start] + 'area = "0.18 m^2"\n' + GOOD[end:])
    assert problems == []
    assert area_m2(plan.outline) == 0.18


def test_a_drawing_beside_the_plan_can_be_the_outline(plan_of, tmp_path):
    (tmp_path / "board.csv").write_text("0,0\n1200,0\n1200,100\n0,100\n", encoding="utf-8")
    start, end = GOOD.index("length"), GOOD.index("overhang")
    plan, problems = plan_of(text=GOOD[:start] + 'file = "board.csv"\nunit = "mm"\n' + GOOD[end:])
    assert problems == []
    assert area_m2(plan.outline) == pytest.approx(0.12)


@pytest.mark.parametrize(
    "path", sorted((demo_root() / "sessions").glob("*/plan.toml")), ids=lambda path: path.parent.name
)
def test_the_plans_that_come_with_the_program_have_no_problem(path):
    resins = [each.stem for each in (demo_root() / "resins").glob("*.toml")]
    plan, problems = load_plan(path, resin_ids=resins)
    assert problems == []
    assert plan.steps


def test_a_station_with_two_edges_may_stand_beside_one_with_a_width(tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text(GOOD.replace('width = "200 mm"', 'left = "120 mm", right = "-5 mm"'), encoding="utf-8")
    plan, problems = load_plan(path)
    assert problems == []
    assert plan.outline.stations == ()
    assert plan.outline.edges_m == ((0.0, 0.05, 0.05), (1.2, 0.12, -0.005))
    assert area_m2(plan.outline) == pytest.approx((0.05 + 0.12) / 2 * 1.2 + (0.05 - 0.005) / 2 * 1.2)


STATIONS = 'stations = [\n  { at = "0 mm", width = "100 mm" },\n  { at = "1200 mm", width = "200 mm" },\n]\n'
ONE_CHANGE = [
    # unknown keys
    (
        "pieces = 2",
        "pieces = 2\nbords = 1",
        "4: bords: is not a known key - known are before, casting, closing, crew, ",
    ),
    ("layers = 2", "layer = 2", "25: steps[2].layer: is not a known key - did you mean layers?"),
    ('{ at = "1200 mm",', '{ att = "3 mm", at = "1200 mm",', "10: outline.stations[2].att: is not a known key"),
    ("coverage = 0.5", "layers = 2", "18: steps[1].layers: is not a known key - known are area, coverage, kind"),
    # missing keys
    ("people = 3\n", "", "1: people is missing - write people = 2"),
    ("minutes = 10\n", "", "20: steps[2]: minutes is missing - write minutes = 10"),
    ('kind = "place"\n', "", "31: steps[3]: kind is missing - write kind = one of bond, cast, fabric, place"),
    ('volume = "60 ml"\n', "", '37: steps[4].kind: needs a volume or a channel (cast) - write volume = "60 ml"'),
    ('fibre = "E-glass"\n', "", "22: steps[2].kind: needs fibre (fabric) - write areal_weight ="),
    ('areal_weight = "6 oz/yd^2"\n', "", "22: steps[2].kind: needs areal_weight (fabric) - write areal_weight ="),
    ('width = "100 mm"', 'left = "40 mm"', "9: outline.stations[1].at: needs a width - write width"),
    (
        'width = "100 mm"',
        'width = "100 mm", left = "40 mm"',
        "9: outline.stations[1].width: is given beside left or right - keep one of them",
    ),
    (
        'width = "200 mm"',
        'left = "40 mm", right = "-50 mm"',
        "6: outline: width at 1.2 m is out of range (-0.01 m) - must be between 0 and 10 m - measure each edge from",
    ),
    (STATIONS, "", "6: outline: gives no shape - give one of stations, area, file"),
    # wrong dimensions, no unit, ounces per what
    ('"6 oz/yd^2"', '"200 g"', "23: steps[2].areal_weight: is a mass, not an areal weight (200 g) - write an areal"),
    ('"6 oz/yd^2"', '"6 oz"', "23: steps[2].areal_weight: does not say ounces per what (6 oz) - write 6 oz/yd^2 for"),
    ('"6 oz/yd^2"', "203", "23: steps[2].areal_weight: has no unit (203) - write an areal weight such as 200 g/m^2"),
    ('"1200 mm"', '"1200 g"', "10: outline.stations[2].at: is a mass, not a length (1200 g) - write a length such as"),
    ("minutes = 10", 'minutes = "10 min"', "30: steps[2].minutes: is not a number (10 min) - write it plain, without"),
    ("squeeze_out = ", 'squeeze_out = "12" #', "46: losses.squeeze_out: is not between 0 and 1 and has no % sign (12)"),
    # zero, negative, out of range
    ("pieces = 2", "pieces = 0", "3: pieces: is out of range (0) - must be between 1 and 100"),
    ("pieces = 2", "pieces = 1.5", "3: pieces: is not a whole number (1.5)"),
    ("minutes = 10", "minutes = -1", "30: steps[2].minutes: is out of range (-1) - must be between 0 and 1440"),
    ('"6 oz/yd^2"', '"0 g/m^2"', "23: steps[2].areal_weight: is out of range (0 g/m^2) - must be between 0 g/m² and"),
    ("coverage = 0.5", "coverage = 1.5", "18: steps[1].coverage: is not between 0 and 1 and has no % sign (1.5)"),
    ("coverage = 0.5", "coverage = 0", "14: steps[1]: step 'Base': coverage is out of range (0) - must be between 0"),
    ("layers = 2", "layers = 0", "25: steps[2].layers: is out of range (0) - must be between 1 and 100"),
    ("second_pair = 0.4", "second_pair = 2", "63: crew.second_pair: is not between 0 and 1 and has no % sign (2)"),
    ('readability = "0.1 g"', 'readability = "3 kg"', "56: scale: scale capacity is out of range (2000 g) - must be"),
    ('stirring = "2 min"', 'stirring = "6 min"', "61: crew: stirring time is out of range (6 min) - must be between"),
    ("squeeze_out = ", "squeeze_out = 0.7 #", "44: losses: squeeze-out is out of range (0.7) - must be between 0 and"),
    # a fibre fraction that no press reaches: square packing, pi/4
    ("value = 0.62", "value = 1.2", "5: target_fibre_fraction.value: is out of range (1.2) - must be between 0 and 1"),
    (
        "value = 0.5 ",
        "value = 0.8 ",
        "28: steps[2].target_fibre_fraction: target fibre volume fraction is out of range (0.8) - must be between "
        "0 and 0.785398, 0 excluded (round fibres touching in a square array, pi/4)",
    ),
    (
        '{ by = "volume", value = 0.5 }',
        '{ by = "weight", value = 0.9 }',
        "28: steps[2].target_fibre_fraction: target fibre volume fraction is out of range (0.802948)",
    ),
    # words that are no choice or not in a table
    ('kind = "place"', 'kind = "plase"', "33: steps[3].kind: is not one of the choices (plase) - did you mean place?"),
    ('kind = "place"', "kind = 3", "33: steps[3].kind: is not one of the choices (3) - known are bond, cast, fabric, "),
    (
        '"birch plywood"',
        '"birch ply"',
        "54: closing.caul.material: is not in the table (birch ply) - did you mean birch",
    ),
    ('"steel"', '"rubber"', "55: closing.backing.material: is not in the table (rubber) - known are Douglas-fir, MDF"),
    (
        'thickness = "18 mm"',
        'thickness = "18 m"',
        "54: closing.caul.thickness: is out of range (18 m) - must be between",
    ),
    (', thickness = "18 mm"', "", '54: closing.caul: thickness is missing - write thickness = "18 mm"'),
    ('"2.5 kN"', '"2.5 kg"', "53: closing.clamp_rating: is a mass, not a force (2.5 kg) - write a force such as"),
    ('"2.5 kN"', '"0 kN"', "53: closing.clamp_rating: is out of range (0 kN) - must be above"),
    (
        'method = "bolts"',
        'method = "bolt"',
        "48: closing.method: is not one of the choices (bolt) - did you mean bolts?",
    ),
    (
        '"E-glass"',
        '"e-glas"',
        "24: steps[2].fibre: is not in the table (e-glas) - did you mean E-glass? - or write its",
    ),
    (
        '"E-glass"',
        '"glass"',
        "24: steps[2].fibre: is not in the table (glass) - did you mean E-glass or S-glass? - or write its",
    ),
    ('"base sheet"', '"base shet"', "17: steps[1].surface: is not in the table (base shet) - did you mean base sheet?"),
    (
        'areal_weight = "6 oz/yd^2"\nfibre = "E-glass"',
        'fabric = "glass style 7682"',
        "23: steps[2].fabric: is not in the table (glass style 7682) - did you mean glass style 7628?",
    ),
    ('resin = "slow"', 'resin = "slwo"', "2: resin: is not in resins/ (slwo) - did you mean slow?"),
    (
        'resin = "urethane"',
        'resin = "uretane"',
        "38: steps[4].resin: is not in resins/ (uretane) - did you mean urethane?",
    ),
    # keys that contradict each other
    ('fibre = "E-glass"', 'fabric = "glass style 7628"', "24: steps[2].fabric: has its weight and fibre in the table"),
    ("coverage = 0.5", 'coverage = 0.5\narea = "1 m^2"', "19: steps[1].area: is given beside coverage - keep one of"),
    ("coverage = 0.5", "presealed = true", "18: steps[1].presealed: is no use here (base sheet) - leave it out"),
    ("coverage = 0.5", 'presealed = true\nuptake = "9 gsm"', "18: steps[1].presealed: is given beside an uptake"),
    ("coverage = 0.5", "presealed = 1", "18: steps[1].presealed: is not true or false (1) - write true or false"),
    (
        "overhang",
        'area = "0.1 m^2"\noverhang',
        "6: outline: gives stations and area - give one of stations, area, file",
    ),
    ("overhang", 'unit = "mm"\noverhang', "12: outline.unit: is for a drawing only - leave it out"),
    # an outline that no board has, or that the cloth cannot be cut for
    (
        '"0 mm", width',
        '"1300 mm", width',
        "8: outline.stations: do not run from one end to the other (1.3 m then 1.2 m)",
    ),
    (
        '  { at = "0 mm", width = "100 mm" },\n',
        "",
        "8: outline.stations: are too few (1) - two or more, from end to end",
    ),
    (
        'length = "1.2 m"',
        'length = "1.2 cm"',
        "7: outline.length: is far off its stations (0.012 m?) - they run over 1.2 m - check its number and its unit",
    ),
    ('length = "1.2 m"', 'length = "1.5 m"', "8: outline.stations: do not cover the stated length (1.2 m) - 1.5 m"),
    (
        'width = "3 in"',
        'width = "30 in"',
        "26: steps[2].width: is a strip wider than the piece (0.762 m) - at most 0.2 m",
    ),
    (f'length = "1.2 m"\n{STATIONS}', 'area = "0.1 m^2"\n', "6: outline: has an area but no length, so a strip cannot"),
    (
        STATIONS,
        'file = "board.png"\n',
        "8: outline.file: is no drawing that can be read (board.png) - .csv, .dxf, .svg",
    ),
    (STATIONS, 'file = "board.csv"\n', "8: outline.file: cannot be read ("),
    ("pieces = 2", 'pieces = 2\nwanted = "soon"', "4: wanted: is no date (soon) - a date, with or without a time"),
    # wrong kinds of value
    (
        '{ material = "birch plywood", thickness = "18 mm" }',
        '"plywood"',
        '54: closing.caul: is not a table (plywood) - { material = "birch plywood", thickness = "18 mm" } - did you '
        "mean birch plywood or softwood plywood?",
    ),
    ("[outline]", "[[outline]]", "6: outline: is not a table - write it as [outline] with its keys below"),
    ("layers = 2", "layers = []", "25: steps[2].layers: is not a whole number (a list)"),
    (
        STATIONS,
        "stations = 3\n",
        "8: outline.stations: is not a list - write it in square brackets, or each as [[outline.stations]]",
    ),
    (
        STATIONS,
        "stations = [3]\n",
        "8: outline.stations[1]: is not a table - write it as [[outline.stations]]",
    ),
]


@pytest.mark.parametrize(("old", "new", "words"), ONE_CHANGE, ids=lambda each: each[:40])
def test_each_thing_wrong_is_told_with_its_line_and_the_remedy(plan_of, old, new, words):
    plan, problems = plan_of(old, new)
    assert plan is None
    assert any(each.startswith(words) for each in problems), problems


@pytest.mark.parametrize(("old", "new"), [row[:2] for row in ONE_CHANGE], ids=lambda each: each[:40])
def test_one_change_makes_one_problem(plan_of, old, new):
    assert len(plan_of(old, new)[1]) == 1


def test_a_target_that_is_wrong_for_the_whole_plan_is_told_once(plan_of):
    text = GOOD.replace('target_fibre_fraction = { by = "volume", value = 0.5 }\n', "")
    text = text.replace(
        '[[steps]]\nname = "Core"',
        text[text.index('[[steps]]\nname = "Glass') : text.index('[[steps]]\nname = "Core')]
        + '[[steps]]\nname = "Core"',
    )
    _, problems = plan_of("value = 0.62", "value = 0.95", text=text)
    assert [each.split(":")[0] for each in problems] == ["5"]


def test_what_cannot_be_made_of_a_well_formed_file_is_told_at_once_too(plan_of):
    start, end = GOOD.index('[[steps]]\nname = "Glass"'), GOOD.index('[[steps]]\nname = "Core"')
    wide = GOOD[start:end].replace('"3 in"', '"30 in"').replace("target_fibre", "#")
    text = GOOD[:end] + wide + GOOD[end:]
    text = text.replace("value = 0.5 ", "value = 0.8 ").replace('resin = "slow"', 'resin = "slwo"')
    assert [each[:40] for each in plan_of(text=text)[1]] == [
        "2: resin: is not in resins/ (slwo) - did",
        "28: steps[2].target_fibre_fraction: targ",
        "37: steps[3].width: is a strip wider tha",
    ]


def test_a_drawing_that_crosses_itself_is_told_once(plan_of, tmp_path):
    (tmp_path / "board.csv").write_text("0,0\n1200,100\n1200,0\n0,50\n", encoding="utf-8")
    _, problems = plan_of(STATIONS, 'file = "board.csv"\nunit = "mm"\n')
    assert len(problems) == 1
    assert problems[0].startswith("6: outline: outline drawing crosses itself")


def test_more_fibre_than_such_cloth_usually_holds_is_a_warning(plan_of):
    mat = 'fabric = "glass mat 1 oz"'
    plan, problems = plan_of('areal_weight = "6 oz/yd^2"\nfibre = "E-glass"', mat)
    assert plan is not None
    assert problems == [
        "27: warning: steps[2].target_fibre_fraction: is more fibre than glass mat 1 oz usually holds, 0.15 to 0.25 by "
        "volume - as mat cloth goes; check whether it is by weight or by volume"
    ]
    assert plan_of('areal_weight = "6 oz/yd^2"\nfibre = "E-glass"', mat.replace("mat 1 oz", "twill 280"))[1] == []


def test_hardly_any_fibre_or_pressure_is_asked_about(plan_of):
    plan, problems = plan_of('{ by = "volume", value = 0.5 }', '{ by = "volume", value = 0.2 }')
    assert plan is not None
    assert problems == [
        "28: warning: steps[2].target_fibre_fraction: is 0.2 by volume, little fibre - cloth laid by hand holds "
        "0.25 and more"
    ]
    assert plan_of("12 psi", "12 kPa")[1] == [
        "51: warning: closing.target_pressure: is little for a press - check its unit"
    ]


def test_a_plan_without_steps_is_refused(plan_of):
    text = GOOD[: GOOD.index("[[steps]]")]
    assert plan_of(text=text)[1] == ["1: steps is missing - write [[steps]] tables"]
    assert plan_of("pieces = 2", "pieces = 2\nsteps = []", text=text)[1] == [
        "4: steps: is empty - at least one is needed"
    ]


def test_all_problems_are_told_at_once_in_the_order_of_the_lines(plan_of):
    text = GOOD.replace("people", "peple", 1).replace("layers = 2", "layers = 0").replace('"400 g"', '"400 ml"')
    text = text.replace('surface = "base sheet"', 'surface = "base"').replace("squeeze_out = ", "squeeze_out = 0.7 #")
    plan, problems = plan_of(text=text)
    assert plan is None
    assert [each.split(":")[0] for each in problems] == ["1", "4", "17", "25", "44", "60"]


TARGET = 'target_fibre_fraction = { by = "weight", value = 0.62 }\n'


def test_a_plan_without_cloth_needs_no_fibre_fraction(plan_of):
    head, rest = GOOD.index('[[steps]]\nname = "Glass"'), GOOD.index('[[steps]]\nname = "Core"')
    plan, problems = plan_of(TARGET, "", text=GOOD[:head] + GOOD[rest:])
    assert problems == []
    assert not any(step.kind == "fabric" for step in plan.steps)


def test_a_plan_whose_cloth_has_its_own_fibre_fraction_needs_none(plan_of):
    plan, problems = plan_of(TARGET, "")
    assert problems == []
    assert (plan.target.by, plan.target.value) == ("volume", 0.5)


def test_cloth_without_any_fibre_fraction_is_refused_with_its_line(plan_of):
    text = GOOD.replace('target_fibre_fraction = { by = "volume", value = 0.5 }\n', "")
    plan, problems = plan_of(TARGET, "", text=text)
    assert plan is None
    (problem,) = problems
    assert "has no fibre fraction to aim at - write target_fibre_fraction = {" in problem
