"""The resin form: a datasheet typed as a builder would, with its problems at their fields and its curve beside them."""

import re
import tomllib
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest
from app_driver import press, running, workshop
from app_driver import words as words_of
from gallery import text_in
from textual import events
from textual.pilot import Pilot
from textual.widgets import Static

from layup.app.app import LayupApp
from layup.app.board_form import BoardForm
from layup.app.form import Form
from layup.app.form_fields import Asked, placed
from layup.app.prompts import Choose
from layup.app.resin_form import ResinForm
from layup.bench.typed import told
from layup.chemistry.calibration import calibrate
from layup.chemistry.life_band import predict_band
from layup.chemistry.prediction import Vessel
from layup.chemistry.uncertainty import Band
from layup.commands.check import keys_of
from layup.errors import Problem
from layup.files.drafts import Draft
from layup.files.resin_file import ResinFile, load_resin
from layup.files.workshop import Workshop, demo_root
from layup.report.pictures import LifeCurves, curves_picture, life_curves

SHEET = Workshop(demo_root()).resin("slow-laminating")


def of(form: Form, label: str, nth: int = 0) -> str:
    """Return what a field shows."""
    return [each.shown(form.data) for each in form.fields if each.label == label][nth]


def type_blind(app: LayupApp, *answers: str) -> None:
    """Type answers with Enter behind each, all of it before the screen is looked at; < takes a letter back."""
    for words in answers:
        for letter in words:
            app.post_message(events.Key("backspace", None) if letter == "<" else events.Key(letter, letter))
        app.post_message(events.Key("enter", None))


@asynccontextmanager
async def new_form(folder: Path) -> AsyncIterator[tuple[LayupApp, Pilot[None], ResinForm]]:
    """Open the form of a new resin in a workshop of its own."""
    root = workshop(folder)
    async with running(root) as (app, pilot):
        form = ResinForm(root)
        await app.push_screen(form)
        await press(app, pilot)
        yield app, pilot, form


@pytest.mark.parametrize(
    ("kind", "typed", "value"),
    [
        *(("time", typed, "45 min") for typed in ("45 min", "45min", "0:45", "45")),
        *(
            ("time", typed, value)
            for typed, value in (("1:30", "1 h 30 min"), ("1h50", "1 h 50 min"), ("2 h 5", "2 h 5 min"))
        ),
        ("time", "2,5h", "2.5 h"),
        *(
            ("temperature", typed, value)
            for typed, value in (("25C", "25 degC"), ("77F", "77 degF"), ("25", "25 degC"))
        ),
        *(("viscosity", typed, "700 mPa*s") for typed in ("700", "700 cP", "700mPas")),
        *(("number", typed, value) for typed, value in (("100", 100), ("2,5", 2.5), ("many", "many"))),
        ("list", "gloves; goggles ;", ["gloves", "goggles"]),
        ("time", "soon", "soon"),
        ("time", "", None),
    ],
)
def test_what_is_typed_stands_in_the_file_as_a_person_writes_it(kind: str, typed: str, value: object) -> None:
    assert Asked(("x",), "", "", kind).changes(typed) == {("x",): value}


@pytest.mark.parametrize(("typed", "value"), [("24", "24 h"), ("7,5", "7.5 h"), ("90 min", "90 min"), ("soon", "soon")])
def test_a_bare_number_of_a_cure_is_in_hours(tmp_path: Path, typed: str, value: str) -> None:
    cures = [each for each in ResinForm(tmp_path).asked({}) if each.path[0] == "cure" and each.kind == "time"]
    assert [each.label for each in cures] == ["Out after", "Out after", "Post-cure"]
    for each in cures:
        assert each.changes(typed) == {each.path: value}
        assert each.example == "24 h"


@pytest.mark.parametrize("typed", ["100:30", "100/30", "100 30", " 100 to 30 "])
def test_a_ratio_is_typed_as_a_datasheet_has_it(tmp_path: Path, typed: str) -> None:
    ratio = next(each for each in ResinForm(tmp_path).asked({}) if each.label == "Ratio")
    assert ratio.changes(typed) == {("ratio", "resin"): 100, ("ratio", "hardener"): 30}


@pytest.mark.parametrize(
    "typed",
    ["100 : 32 by weight, 100 : 38 by volume", "100:38 by volume; 100:32 by weight", "100:32 w and 100:38 v"],
)
def test_a_ratio_told_both_ways_is_that_by_weight(tmp_path: Path, typed: str) -> None:
    ratio = next(each for each in ResinForm(tmp_path).asked({}) if each.label == "Ratio")
    assert ratio.changes(typed) == {("ratio", "by"): "weight", ("ratio", "resin"): 100, ("ratio", "hardener"): 32}


@pytest.mark.parametrize(("parts", "fits"), [(38, True), (39, True), (32, False), (45, False)])
def test_a_ratio_by_volume_is_checked_against_the_one_by_weight_and_the_densities(
    tmp_path: Path, parts: int, fits: bool
) -> None:
    form = ResinForm(tmp_path)
    ratio, *others = [each for each in form.asked({}) if each.label in ("Ratio", "Name", "Time")][1:3]
    for field, typed in (
        (ratio, f"100 : 32 by weight, 100 : {parts} by volume"),
        (others[0], "42 min (150 g at 23 °C, to 50 °C in the cup)"),
    ):
        form.draft.change(form.settled(form._text_with(field, typed)))
    named = form.draft.text.replace("chemistry =", 'title = "N 40"\nchemistry =')
    early = form.judge(form.settled(named))
    assert "once both densities stand" in early.figures[1]
    text = form.settled(named).replace("[resin]", '[resin]\ndensity = "1.14 g/cm^3"')
    judged = form.judge(text.replace("[hardener]", '[hardener]\ndensity = "0.96 g/cm^3"'))
    # 100/1.14 ml of resin to 32/0.96 ml of hardener is 100:38 by volume: arithmetic.
    odd = [each.message for each in judged.problems]
    assert odd == ([] if fits else [f"100:{parts} by volume? weight and densities give 100:38"])
    assert (f"100:{parts} by volume fits" in judged.figures[1]) is fits


@pytest.mark.parametrize(
    ("typed", "time", "temperature"),
    [
        ("1 h 50 at 25 °C", "1 h 50 min", "25 degC"),
        ("1h50, 25C", "1 h 50 min", "25 degC"),
        ("1 h 30 min 25 °C", "1 h 30 min", "25 degC"),
        ("2 h 25 °C", "2 h", "25 degC"),
        ("2 h, 25C", "2 h", "25 degC"),
        ("45 min at 25 °C", "45 min", "25 degC"),
    ],
)
def test_hours_and_minutes_of_a_line_are_one_time(typed: str, time: str, temperature: str) -> None:
    assert told(typed) == {"time": time, "temperature": temperature}


def test_each_field_says_in_eight_words_at_most_why_it_matters(tmp_path: Path) -> None:
    for each in ResinForm(tmp_path).asked({}):
        assert 2 <= len(each.why.split()) <= 8, each


LEFT_TO_AN_EDITOR = [
    *("blends_with", "hardener.functionality", "id", "pot_life.depth", "pot_life.diameter", "pot_life.vessel"),
    *("resin.functionality", "source.demo", "source.note"),
]


def test_every_key_of_a_resin_file_has_a_line_in_the_form_or_is_left_to_an_editor(tmp_path: Path) -> None:
    """So that a key that is added is asked for, or put in the list by somebody who thought of it."""
    by_heat = {"pot_life": [{"endpoint": "temperature"}]}
    asked = {re.sub(r"\[\d+\]", "", name) for each in ResinForm(tmp_path).asked(by_heat) for name in each.keys} - {"id"}
    keys = [key.path for key in keys_of(ResinFile)]
    single = [path for path in keys if not any(other.startswith(f"{path}.") for other in keys)]
    assert sorted(path for path in single if path not in asked) == LEFT_TO_AN_EDITOR


def test_the_film_s_end_is_needed_once_its_time_is_known_and_says_what_to_take(tmp_path: Path) -> None:
    form = ResinForm(tmp_path)
    for data, needed in (({}, False), ({"film": [{"time": "45 min"}]}, True)):
        rows = [each for each in form.asked(data) if each.path[0] == "film" and each.label != "Time"]
        assert [each.needed for each in rows] == [needed, needed]
        assert "Take open: it no longer bonds" in rows[1].why


def test_equivalent_weights_and_a_swapped_ratio_are_said_in_plain_words(tmp_path: Path) -> None:
    why = {each.label: each.why for each in ResinForm(tmp_path).asked({})}
    assert why["EEW"] == "Epoxide equivalent weight: grams per epoxy group"
    assert why["AHEW"] == "Amine hydrogen equivalent: grams per active hydrogen"
    assert "swapped" in why["Ratio"]
    assert "swapped" not in why["Ratio by"].lower()


def test_a_problem_stands_at_its_field_or_at_the_first_below_it() -> None:
    fields = [Asked(("film", 0, "time"), "", ""), Asked(("hazards", "cautions"), "", "")]
    for key, at in (("film", 0), ("film[1].time", 0), ("hazards.cautions[2]", 1), ("odd", -1)):
        assert list(placed([Problem("f", 1, key, "is odd")], fields)) == [at], key
    assert list(placed([Problem("f", 1, "film[1]", "time is missing")], fields)) == [0]
    both = [Problem("f", 1, "ratio", "hardener is missing"), Problem("f", 1, "ratio.resin", "is not a number")]
    ratio = next(each for each in ResinForm(Path("nowhere")).asked({}) if each.label == "Ratio")
    assert placed(both, [ratio])[0].message == "is not a number", "what is wrong is marked, not hidden behind the rest"
    fields = [Asked(("pot_life", at, "time"), "", "") for at in (0, 1)]
    assert list(placed([Problem("f", 1, "pot_life", "grows with the mass")], fields, ("pot_life", 1, "time"))) == [1]


def test_the_curves_are_the_lives_that_the_pot_life_command_gives() -> None:
    found = life_curves(calibrate(SHEET), 150.0, 298.15)
    for mass_g, kelvin, shown in (
        (150.0, 293.15, dict(found.by_temperature)[293.15]),
        (600.0, 298.15, dict(found.by_mass)[600.0]),
    ):
        life = predict_band(calibrate(SHEET), Vessel.cup(), mass_g=mass_g, start_K=kelvin, ambient=kelvin)
        assert shown == pytest.approx(life.working_s, rel=0.02)
    lives = [(at, Band(*(12.0 * each for each in band))) for at, band in found.by_temperature]
    slow = replace(found, by_temperature=tuple(lives))
    for curves, size in product((found, slow), ((20, 10), (33, 20), (100, 44))):
        lines = curves_picture(curves, width=size[0], rows=size[1])
        assert len(lines) <= size[1]
        assert "estimate" in lines[0]
        assert all(len(line) <= size[0] for line in lines)


async def test_a_datasheet_is_typed_blind_and_becomes_a_file_that_is_read_back(tmp_path: Path) -> None:
    root = workshop(tmp_path)
    answers: list[str | None] = []
    async with running(root) as (app, pilot):
        form = ResinForm(root)
        await app.push_screen(form, answers.append)
        await press(app, pilot)
        assert "7 needed" in form._title()
        assert "ready" not in form._title()
        for words in ("W 24", "100/30", "w", "4x<0", "100", "25", "g"):
            type_blind(app, words)
        await press(app, pilot)
        assert isinstance(form.judged.figures[0], LifeCurves)
        assert form._title().endswith("ready: ^S writes it")
        assert form.here.label == "WRITE IT", "what can wait stands below"
        await press(app, pilot, "down")
        type_blind(app, "", "", "90", "300")
        await press(app, pilot)
        assert of(form, "Temperature", 1) == "25 degC", "what a second point has in common with the first is filled in"
        assert any("pot_life" in each.key for each in form.judged.problems), "larger lasts longer: a silly curve"
        await press(app, pilot, "pagedown")
        marked = [form.fields[at].path for at, each in form._placed().items() if each.key == "pot_life"]
        assert {path[1] for path in marked} == {0, 1}, "both of the two that disagree"
        await press(app, pilot, "ctrl+z", "ctrl+z")
        assert of(form, "Time", 1) == ""
        await press(app, pilot, "ctrl+s")
    assert answers == ["w-24"]
    path = root / "resins" / "w-24.toml"
    sheet, problems = load_resin(path)
    assert not problems
    assert sheet is not None
    assert (sheet.ratio, sheet.ratio_by, sheet.title) == ((100, 30), "weight", "W 24")
    assert (sheet.pot_lives[0].time_s, sheet.pot_lives[0].endpoint) == (2400.0, "gel")
    assert list(tomllib.loads(path.read_text(encoding="utf-8")))[:3] == ["id", "title", "chemistry"]
    assert not (root / ".drafts").exists()


async def test_lines_of_a_datasheet_fill_all_that_they_say_and_what_they_do_not_stays_asked(tmp_path: Path) -> None:
    async with new_form(tmp_path) as (app, pilot, form):
        for words in ("N 40", "100 : 32 by weight", "42 min (150 g at 23 °C, to 50 °C in the cup)"):
            type_blind(app, words)
        await press(app, pilot)
        assert form.here.label == "WRITE IT"
        assert form._title().endswith("ready: ^S writes it")
        said = " ".join(words_of(app, "#form-beside").split())
        assert said.startswith("sheet: 42 min to 50 °C; curve: "), "the curve ends elsewhere than the sheet's pot life"
        await press(app, pilot, "down")
        for words in ("1.14", "0.96", "70 min 150 g 18 °C", "", "", "", "", "", "850 mPa s at 25 °C", "", "", "15 °C"):
            type_blind(app, words)
        for words in ("24 h at 20 °C", "", "", "", "", "78 °C after 15 h at 60 °C"):
            type_blind(app, words)
        await press(app, pilot)
    data = form.data
    assert data["pot_life"][0] == {
        "time": "42 min",
        "mass": "150 g",
        "temperature": "23 degC",
        "endpoint": "temperature",
        "reaches": "50 degC",
    }
    assert data["pot_life"][1] == data["pot_life"][0] | {"time": "70 min", "temperature": "18 degC"}
    assert data["viscosity"] == [{"value": "850 mPa*s", "temperature": "25 degC"}]
    assert data["cure"]["demould"] == [{"time": "24 h", "temperature": "20 degC"}]
    assert data["cure"]["post_cure"] == [{"time": "15 h", "temperature": "60 degC"}]
    assert data["cure"]["glass_transition"] == "78 degC"


async def test_a_pot_life_of_a_few_minutes_is_asked_about_and_no_toml_is_quoted(tmp_path: Path) -> None:
    async with new_form(tmp_path) as (app, pilot, form):
        for words in ("N 40", "100:32 w", "4", "150 g (cup)", "23", "tt"):
            type_blind(app, words)
        await press(app, pilot)
        assert form.here.label == "Mix reached"
        assert "reaches =" not in text_in(app, form.region)
        type_blind(app, "50")
        await press(app, pilot)
        assert "4 min? unusual of 150 g" in " ".join(text_in(app, form.region).split())


async def test_another_end_of_a_pot_life_drops_the_heat_that_ended_it_and_undo_brings_it_back(tmp_path: Path) -> None:
    async with new_form(tmp_path) as (app, pilot, form):
        type_blind(app, "N 40", "100:32 w", "42 min (150 g at 23 degC, to 50 degC)")
        await press(app, pilot, "up", "up")
        assert form.here is not None
        assert form.here.label == "Ended by"
        await press(app, pilot, "g")
        assert "reaches" not in form.data["pot_life"][0]
        await press(app, pilot, "down")
        assert "estimate" in words_of(app, "#form-beside"), "it stands as a life to gel"
        await press(app, pilot, "up", "ctrl+z")
        assert form.data["pot_life"][0]["reaches"] == "50 degC"
        await press(app, pilot, "up", "up", "up")
        type_blind(app, "42 min (150 g at 23 degC, to gel)")
        await press(app, pilot)
        assert "reaches" not in form.data["pot_life"][0], "a line of a datasheet says it as well"


def test_a_further_pot_life_takes_the_heat_of_the_first_only_where_heat_ends_it(tmp_path: Path) -> None:
    form, first = ResinForm(tmp_path), 'time = "42 min"\nmass = "150 g"\ntemperature = "23 degC"\n'
    for end, reaches in (("gel", None), ("temperature", "50 degC")):
        text = f'[[pot_life]]\n{first}endpoint = "temperature"\nreaches = "50 degC"\n\n[[pot_life]]\ntime = "70 min"\n'
        more = tomllib.loads(form.settled(f'{text}endpoint = "{end}"\n'))["pot_life"][1]
        assert more.get("reaches") == reaches
        assert more["mass"] == "150 g"


async def test_a_file_with_a_heat_beside_another_end_shows_that_row_and_what_to_do(tmp_path: Path) -> None:
    root = workshop(tmp_path)
    path = root / "resins" / "slow-laminating.toml"
    path.write_text(
        path.read_text(encoding="utf-8").replace('endpoint = "', 'reaches = "50 degC"\nendpoint = "', 1),
        encoding="utf-8",
    )
    async with running(root) as (app, pilot):
        form = ResinForm(root, "slow-laminating")
        await app.push_screen(form)
        await press(app, pilot)
        form.go([each.label for each in form.fields].index("Mix reached"))
        await press(app, pilot)
        note = " ".join(words_of(app, "#form-note").split())
        assert note == "✗ is only for an end by temperature - leave it out, or write temperature"
        await press(app, pilot, "backspace", "down")
        assert "Mix reached" not in [each.label for each in form.fields]
        assert "wrong" not in form._title()


async def test_no_curve_stays_of_a_number_that_was_corrected(tmp_path: Path) -> None:
    async with new_form(tmp_path) as (app, pilot, form):
        type_blind(app, "N 40", "100:32 w", "4 min (150 g at 23 degC, to gel)")
        await press(app, pilot)
        assert "4 min to gel" in words_of(app, "#form-beside")
        await press(app, pilot, *["up"] * 4)
        type_blind(app, "42", "", "", "tt")
        await press(app, pilot)
        assert form.here is not None
        assert form.here.label == "Mix reached"
        assert "4 min to gel" not in words_of(app, "#form-beside"), "it is of another time than stands there"
        type_blind(app, "50")
        await press(app, pilot)
        assert "42 min to 50" in words_of(app, "#form-beside")


@pytest.mark.parametrize(
    ("at", "reached", "field"),
    [("150", None, "Temperature"), ("60", "50", "Mix reached"), ("25", "250", "Mix reached")],
)
async def test_a_temperature_of_a_pot_life_is_wrong_at_its_own_field_and_beside_by_its_name(
    tmp_path: Path, at: str, reached: str | None, field: str
) -> None:
    async with new_form(tmp_path) as (app, pilot, form):
        type_blind(
            app, "W 24", "100/30", "w", "40", "150", at, "g" if reached is None else "tt", *filter(None, [reached])
        )
        await press(app, pilot, "down")
        type_blind(app, "1.1")
        await press(app, pilot)
        assert [form.fields[place].label for place in form._placed()] == [field]
        beside = " ".join(words_of(app, "#form-beside").split())
        assert beside.startswith(f"No curve: {field} is out of range ({reached or at} ")


async def test_a_group_that_is_half_typed_is_not_called_wrong_before_its_end(tmp_path: Path) -> None:
    async with new_form(tmp_path) as (app, pilot, form):
        for words in ("W 24", "100/30", "w", "40", "100", "25", "g"):
            type_blind(app, words)
        await press(app, pilot, "down")
        type_blind(app, "", "", "39")
        await press(app, pilot)
        assert form.here is not None
        assert form.here.label == "Mass"
        assert any("pot_life" in each.key for each in form.judged.problems), "the same cup, another time"
        assert "wrong" not in form._title()
        assert "odd" not in form._title()
        assert "✗" not in text_in(app, form.region)
        assert "estimate" in words_of(app, "#form-beside"), "the curve of the first one stands"
        await press(app, pilot, "pagedown")
        assert "wrong" in form._title() or "odd" in form._title(), "it was left: now it is"


async def test_a_second_pot_life_beyond_the_model_is_doubted_at_its_line_and_beside_the_curve(tmp_path: Path) -> None:
    async with new_form(tmp_path) as (app, pilot, form):
        for words in ("W 24", "100/30", "w", "40", "150", "25", "g"):
            type_blind(app, words)
        await press(app, pilot, "down")
        type_blind(app, "", "", "24", "500", "25", "g")
        await press(app, pilot, "up", "up", "up", "up")
        assert form.here is not None
        assert (form.here.label, form.here.path[1]) == ("Time", 1)
        note, beside = (" ".join(words_of(app, f"#form-{part}").split()) for part in ("note", "beside"))
        assert note.startswith("! 24 min of 500 g is beyond this model (3")
        assert note.endswith("trust the one nearest to your own mass")
        assert note.removeprefix("! ").replace(" - ", "; ") in beside
        assert "1 odd" in form._title()


async def test_a_swapped_ratio_is_doubted_at_its_field_as_soon_as_it_is_typed_and_stays_so(tmp_path: Path) -> None:
    async with new_form(tmp_path) as (app, pilot, form):
        type_blind(app, "New", "27:100")
        await press(app, pilot)
        for answers in ((), ("w",), ("40",), ("150",), ("25",), ("g",)):
            type_blind(app, *answers)
            await press(app, pilot)
            doubted = [
                form.fields[at].label for at, each in form._placed().items() if "unusual, 100:370" in each.message
            ]
            assert doubted == ["Ratio"]
            assert "1 odd" in form._title()


async def test_typing_takes_the_place_of_a_value_also_from_its_start_until_the_cursor_moves(tmp_path: Path) -> None:
    async with new_form(tmp_path) as (app, pilot, form):
        type_blind(app, "N", "27:100")
        await press(app, pilot, "up", "home", *"100:27")
        assert of(form, "Ratio") == "100:27"
        await press(app, pilot, "home", "2")
        assert of(form, "Ratio") == "2100:27", "the cursor was elsewhere: it goes to the start"
        await press(app, pilot, "down", "up", "end", "5")
        assert of(form, "Ratio") == "2100:275"


async def test_a_form_that_is_left_goes_on_where_it_was(tmp_path: Path) -> None:
    root = workshop(tmp_path)
    path = root / "resins" / "slow-laminating.toml"
    before = path.read_text(encoding="utf-8")
    (root / "resins" / "zz.toml").write_text("not toml", encoding="utf-8")
    async with running(root, size=(40, 16)) as (app, pilot):
        await press(app, pilot, "7")
        assert isinstance(app.screen, Choose)
        assert app.screen.choices[-2:-1] == [("6", "zz", "zz (to mend)")], "what cannot be used can be mended"
        await press(app, pilot, "5", *["enter"] * 3, "x", "escape")
        assert path.read_text(encoding="utf-8") == before
        form = ResinForm(root, "slow-laminating")
        assert form.draft.resumed
        await app.push_screen(form)
        await press(app, pilot, "ctrl+s")
        assert isinstance(app.screen, ResinForm), "a wrong value keeps it from being written"
        assert "to mend" in form.said
        assert form.here is not None
        assert form.here.path == ("pot_life", 0, "time")
        await press(app, pilot, "5", "0", "ctrl+s")
        assert not isinstance(app.screen, ResinForm)
    assert path.read_text(encoding="utf-8") == before.replace('"45 min"', '"50 min"')


@pytest.mark.parametrize("form", [ResinForm, BoardForm])
async def test_the_way_back_from_the_curve_is_open_on_a_narrow_screen(tmp_path: Path, form: type[Form]) -> None:
    root = workshop(tmp_path)
    async with running(root, size=(40, 16)) as (app, pilot):
        await app.push_screen(form(root))
        column = app.screen.query_one("#form-column")
        for back in ("ctrl+l", "escape", "pageup"):
            await press(app, pilot, "ctrl+l")
            assert not column.display
            assert "^L fields" in str(app.screen.query_one("#form-ways", Static).content)
            await press(app, pilot, back, "home", "x")
            assert column.display, back
            assert app.screen.entry.value.startswith("x"), "what is typed lands in the field again"
        await press(app, pilot, "ctrl+l")
        await pilot.resize_terminal(100, 30)
        await press(app, pilot, "home", "y")
        assert app.screen.entry.value.startswith("y"), "more room shows both again"
        await press(app, pilot, "escape")
        assert app.screen is app.base


async def test_a_draft_that_was_set_aside_is_named_and_taken_up_again(tmp_path: Path) -> None:
    root = workshop(tmp_path)
    path = root / "resins" / "slow-laminating.toml"
    draft = Draft(root, "resin", path)
    draft.change(draft.text.replace("demo = true", "demo = false"))
    draft.keep()
    path.write_text("# mine\n" + path.read_text(encoding="utf-8"), encoding="utf-8")
    async with running(root) as (app, pilot):
        form = ResinForm(root, "slow-laminating")
        await app.push_screen(form)
        await press(app, pilot)
        assert "an older draft is kept   ^R takes it up" in words_of(app, "#form-said")
        await press(app, pilot, "ctrl+r")
        assert "demo = false" in form.draft.text
        assert "^Z drops it" in form.said
        await press(app, pilot, "ctrl+z")
        assert form.draft.text.startswith("# mine")
