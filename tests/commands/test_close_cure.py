"""`layup close` and `layup cure`: answers, exit codes, and what they refuse."""

import argparse
import json
import shutil
from math import ceil

import pytest
from command_line import HOTTER_AND_LONGER

from layup.chemistry.calibration import calibrate
from layup.chemistry.closing import bolt_torque_Nm, standard_atmosphere_Pa
from layup.chemistry.cure import demould_time_s
from layup.chemistry.cure_course import set_on_part
from layup.chemistry.demould import setting_of
from layup.commands import close, cure
from layup.errors import FileError, InputError, RangeError, StorageError
from layup.files.workshop import Workshop, demo_root

RESIN = """
id = "invented"
title = "Invented epoxy"
chemistry = "epoxy-amine"
[resin]
name = "A"
density = "1.15 g/cm^3"
equivalent_weight = "178 g/eq"
[hardener]
name = "B"
density = "0.97 g/cm^3"
equivalent_weight = "53 g/eq"
[ratio]
by = "weight"
resin = 100
hardener = 30
[[pot_life]]
time = "45 min"
mass = "150 g"
temperature = "25 degC"
endpoint = "thickening"
[cure]
minimum_temperature = "15 degC"
demould = [{ time = "24 h", temperature = "23 degC" }]
glass_transition = "82 degC"
[source]
document = "Invented for a test"
"""

PLAN = """
title = "A board"
resin = "invented"
pieces = 1
people = 1
target_fibre_fraction = { by = "weight", value = 0.6 }
[outline]
length = "1.7 m"
stations = [{ at = "0 mm", width = "100 mm" }, { at = "1700 mm", width = "100 mm" }]
[[steps]]
name = "Glass"
kind = "fabric"
areal_weight = "750 g/m^2"
fibre = "E-glass"
layers = 2
minutes = 10
[closing]
method = "clamps"
target_pressure = "100 kPa"
"""


@pytest.fixture
def shop(tmp_path):
    for name, text in (("resins/invented.toml", RESIN), ("sessions/board/plan.toml", PLAN)):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return tmp_path


@pytest.fixture
def ask(shop, capsys):
    """Return a function that runs one command here and gives its exit code with its JSON, or its text."""

    def run(module, *words, as_json=True):
        parser = argparse.ArgumentParser()
        module.add_arguments(parser)
        more = ["--workshop", str(shop), *(["--json"] if as_json else [])]
        code = module.run(parser.parse_args([*words, *more]))
        said = capsys.readouterr().out
        return code, json.loads(said) if as_json else said

    return run


def test_cure_answers_with_conversion_glass_and_the_earliest_demoulding(ask, shop):
    code, data = ask(cure, "invented", "--temps", "20 degC:12 h, 45 degC:6 h")
    sheet = Workshop(shop).resin("invented")
    setting, _ = setting_of(sheet, calibrate(sheet).kinetics)
    mould = ((0.0, 293.15), (43200.0, 293.15), (43260.0, 318.15), (64800.0, 318.15))
    end = set_on_part(setting, mould, until_s=64800.0).end
    assert code == 0
    assert data["conversion"] == pytest.approx(end.conversion)
    assert data["glass_transition_K"] == pytest.approx(end.glass_transition_K)
    assert data["demould_min"] == pytest.approx(demould_time_s(setting, mould) / 60.0)
    assert data["low"] < data["demould_min"] < data["high"]
    assert data["demould_min"] == pytest.approx(max(data["stated_min"], data["glass_min"]))
    assert data["gelled"] is True
    assert data["course"][-1]["conversion"] == pytest.approx(end.conversion)
    assert any("mould's temperature" in words for words in data["assumptions"])


def test_cure_reads_a_loggers_file_as_it_reads_stages(ask, shop):
    log = shop / "mould.csv"
    log.write_text("time [h],temperature [degC]\n0,18\n8,6\n20,16\n", encoding="utf-8")
    _, from_file = ask(cure, "invented", "--temps", str(log))
    _, from_words = ask(cure, "invented", "--temps", "18 degC to 6 degC:8 h, 6 degC to 16 degC:12 h")
    assert from_file["conversion"] == pytest.approx(from_words["conversion"], rel=1e-3)
    assert from_file["time_min"] == from_words["time_min"] == 1200.0


@pytest.mark.parametrize(
    "text", ["0 min,18 degC\n60 min,20 degC\n", "minutes,warmth\n0,18\n60,20\n", "time_h,mould (C)\n0,18\n1,20\n"]
)
def test_cure_takes_units_from_cells_from_the_heading_or_the_usual_ones(ask, shop, text):
    (shop / "log.csv").write_text(text, encoding="utf-8")
    _, data = ask(cure, "invented", "--temps", str(shop / "log.csv"))
    assert data["time_min"] == 60.0
    assert data["temperature_K"] == pytest.approx(293.15)


def test_a_cold_night_does_not_make_it_and_heating_does(ask):
    code, data = ask(cure, "invented", "--temps", "18 degC to 6 degC:8 h", "--by", "16 h")
    assert code == 1
    assert data["verdict"] == "does not make it"
    assert data["heating_plans"]
    assert all(plan["demould_min"] <= 16 * 60 for plan in data["heating_plans"])
    assert any("15 °C or more" in words for words in data["warnings"])


def test_a_part_from_a_cold_mould_is_said_to_be_hard_and_not_cured(ask):
    _, cold = ask(cure, "invented", "--temps", "8 degC:96 h")
    _, text = ask(cure, "invented", "--temps", "8 degC:96 h", as_json=False)
    _, warm = ask(cure, "invented", "--temps", "23 degC:96 h")
    assert any(words.startswith("Hard is not cured") for words in cold["warnings"])
    assert "! Hard is not cured" in text
    assert warm["warnings"] == []


@pytest.mark.parametrize("celsius", [8, 12])
def test_a_cold_part_of_a_resin_that_needs_heat_never_leaves_below_its_gel(ask, shop, celsius):
    """Two weeks at 12 °C: a glass, its maker's time up, and not past 0.577 by 0.03 (Flory)."""
    shutil.copy(demo_root() / "resins" / "dgeba-ipda.toml", shop / "resins")
    _, data = ask(cure, "dgeba-ipda", "--temps", f"{celsius} degC:14 d")
    assert data["demould_min"] is None, "it never does"
    assert data["glass_min"] < 14 * 1440.0
    assert data["conversion"] < 0.61


def test_a_warm_day_makes_it(ask):
    code, data = ask(cure, "invented", "--temps", "25 degC:24 h", "--by", "48 h")
    assert (code, data["verdict"], data["heating_plans"]) == (0, "makes it", [])


def test_a_post_cure_starts_where_the_mould_is_and_holds_at_its_end(ask):
    _, data = ask(cure, "invented", "--temps", "20 degC:36 h", "--post-cure", "60 degC", "--hold", "6 h")
    ramp = data["post_cure"]
    assert ramp[0]["temperature_K"] == pytest.approx(293.15)
    assert ramp[-1]["temperature_K"] == pytest.approx(333.15)
    assert ramp[-1]["time_min"] - ramp[-2]["time_min"] == pytest.approx(360.0)


def test_cure_says_in_text_what_people_need(ask):
    _, text = ask(cure, "invented", "--temps", "18 degC to 6 degC:8 h", "--by", "16 h", as_json=False)
    for words in ("Earliest demoulding", "DOES NOT MAKE IT", "heater on", "Never leave a heater alone", "an estimate"):
        assert words in " ".join(text.split())


@pytest.mark.parametrize(
    ("temps", "words"),
    [
        ("20 degC", "has a stage without its time"),
        ("20 degC:0 h", "has a stage without length"),
        ("20 g:5 h", "temperature of a stage"),
        ("20 degC:20 d", "goes on too long"),
        ("", "has a stage without its time"),
    ],
)
def test_cure_refuses_stages_that_say_too_little(ask, temps, words):
    with pytest.raises(InputError, match=words):
        ask(cure, "invented", "--temps", temps)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0,18\n", "fewer than two readings"),
        ("0,18\n5\n", "log.csv:2: has one column"),
        ("0,18\nx,19\n", "log.csv:2: time"),
    ],
)
def test_cure_names_the_line_of_a_bad_log(ask, shop, text, words):
    (shop / "log.csv").write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=words):
        ask(cure, "invented", "--temps", str(shop / "log.csv"))


def test_cure_refuses_a_log_that_runs_backwards(ask, shop):
    (shop / "log.csv").write_text("0,18\n60,20\n30,22\n", encoding="utf-8")
    with pytest.raises(RangeError, match="does not run forward"):
        ask(cure, "invented", "--temps", str(shop / "log.csv"))


def test_cure_says_when_a_log_cannot_be_read(ask, shop):
    with pytest.raises(StorageError, match="cannot be read"):
        ask(cure, "invented", "--temps", str(shop / "missing.csv"))
    (shop / "log.csv").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputError, match="is no text file"):
        ask(cure, "invented", "--temps", str(shop / "log.csv"))


def test_close_answers_with_force_and_a_row_of_clamps(ask):
    code, data = ask(close, "board", "--thickness", "40 mm")
    clamps = data["clamps"]
    assert code == 0
    assert data["force_N"] == pytest.approx(100_000.0 * 0.17)
    assert clamps["count"] * clamps["force_each_N"] == pytest.approx(data["force_N"])
    assert clamps["lowest_share"] >= 0.8
    assert (clamps["count"] - 1) * clamps["spacing_m"] + 2 * clamps["end_m"] == pytest.approx(1.7)
    assert sorted(clamps["order"]) == list(range(1, clamps["count"] + 1))
    assert [act["after_min"] for act in data["acts"]] == [0.0, 0.0, 5.0, 15.0]
    assert data["acts"][1]["number"].startswith(f"{clamps['force_each_N'] / 1000:.1f} kN, about ")
    assert data["acts"][1]["words"] == f"TIGHTEN {clamps['count']} CLAMPS FULLY"
    assert data["fibre_volume_fraction_low"] < data["fibre_volume_fraction_high"]
    assert any("what the part lies on is not given: taken as flat and rigid" in words for words in data["assumptions"])


def test_close_takes_enough_clamps_for_their_rating_and_tells_the_torque(ask):
    _, data = ask(close, "board", "--thickness", "60 mm", "--rating", "1 kN", "--bolt", "8 mm")
    clamps = data["clamps"]
    assert clamps["count"] >= ceil(data["force_N"] / 1000.0)
    assert clamps["torque_N_m"] == pytest.approx(bolt_torque_Nm(clamps["force_each_N"], 0.008))
    assert clamps["bolt_force_low_N"] < clamps["force_each_N"] < clamps["bolt_force_high_N"]


def test_close_says_when_the_clamps_at_hand_are_too_few(ask):
    code, data = ask(close, "board", "--clamps", "3", "--rating", "2 kN")
    assert code == 1
    assert any("too few for this caul" in words for words in data["warnings"])
    assert any("kN, and is rated for 2.0 kN" in words for words in data["warnings"])


def test_close_goes_by_what_the_plan_says_of_caul_backing_and_rating(ask, shop):
    def said(data, words):
        return any(words in each for each in data["assumptions"])

    _, usual = ask(close, "board")
    assert usual["clamps"]["caul"] == {"material": "birch plywood", "thickness_m": 0.03}
    assert said(usual, "material and thickness of the caul not given: birch plywood, 30 mm taken")
    assert said(usual, "rating of the clamps not given: not checked")
    _, half = ask(close, "board", "--caul", "MDF")
    assert said(half, "thickness of the caul not given: 30 mm taken")
    path = shop / "sessions" / "board" / "plan.toml"
    lines = """[closing]
clamp_rating = "1 kN"
caul = { material = "MDF", thickness = "45 mm" }
backing = { material = "steel", thickness = "10 mm" }
"""
    path.write_text(path.read_text(encoding="utf-8").replace("[closing]\n", lines), encoding="utf-8")
    _, own = ask(close, "board")
    assert own["clamps"]["caul"] == {"material": "MDF", "thickness_m": 0.045}
    assert own["clamps"]["rating_N"] == 1000.0
    assert own["clamps"]["force_each_N"] <= 1000.0
    assert not said(own, "not given")
    assert said(own, "caul of 45 mm MDF, 3.0 GPa")
    assert said(own, "backing of 10 mm steel, 200.0 GPa")
    _, other = ask(close, "board", "--caul", "steel", "--thickness", "20 mm")
    assert other["clamps"]["caul"] == {"material": "steel", "thickness_m": 0.02}
    assert not said(other, "of the caul not given")


def test_a_bladder_has_no_use_for_what_is_told_of_clamps(ask):
    with pytest.raises(InputError, match="a bladder takes no --clamps and no --bolt - leave them out, or choose"):
        ask(close, "board", "--method", "bladder", "--clamps", "3", "--bolt", "8 mm")


def test_a_bag_presses_with_the_local_air_and_may_not_be_enough(ask):
    code, data = ask(close, "board", "--method", "bag", "--altitude", "1500 m", "--left", "5 kPa")
    assert code == 1
    assert data["pressure_Pa"] == pytest.approx(standard_atmosphere_Pa(1500.0) - 5000.0)
    assert "a pump cannot do more" in data["warnings"][0]
    assert "clamps" not in data


def test_close_shows_the_cautions_of_a_bladder(ask):
    code, text = ask(close, "board", "--method", "bladder", "--pressure", "2 bar", as_json=False)
    assert code == 0
    assert "pressure vessel" in text
    assert "34.0 kN" in text
    assert "closed    200 kPa  raise to full pressure" in text
    assert "+5 min    200 kPa  read the gauge" in text


def test_close_shows_clamps_in_text(ask):
    _, text = ask(close, "board", "--bolt", "10 mm", as_json=False)
    for words in ("mm apart", "order", "N·m", "by volume", " kN  about ", " clamps, one piece"):
        assert words in text


def test_a_plan_without_cloth_gives_no_row_of_clamps(ask, shop):
    plan = PLAN.replace('kind = "fabric"', 'kind = "place"')
    plan = "\n".join(
        line for line in plan.splitlines() if line.split(" ")[0] not in ("areal_weight", "fibre", "layers")
    )
    (shop / "sessions/board/plan.toml").write_text(plan, encoding="utf-8")
    with pytest.raises(InputError, match="lays no cloth"):
        ask(close, "board")


def test_close_assumes_one_atmosphere_where_the_plan_states_no_pressure(ask, shop):
    plan = PLAN.replace('target_pressure = "100 kPa"\n', "")
    (shop / "sessions/board/plan.toml").write_text(plan, encoding="utf-8")
    _, data = ask(close, "board")
    assert data["pressure_Pa"] == 100_000.0
    assert any("as the plan states none" in words for words in data["assumptions"])


def test_a_cure_goes_by_what_the_sessions_teach_unless_it_is_left_out(ask, shop):
    for session in demo_root().glob("sessions/*/journal.jsonl"):
        shutil.copytree(session.parent, shop / "sessions" / session.parent.name)
    sheet = demo_root() / "resins/slow-laminating.toml"
    shutil.copy(sheet, shop / "resins")
    words = ("--temps", "20 degC:12 h")
    _, learnt = ask(cure, "slow-laminating", *words)
    _, plain = ask(cure, "slow-laminating", *words, "--no-lessons")
    _, elsewhere = ask(cure, str(sheet), *words)
    taught = [line for line in learnt["assumptions"] if line.startswith("learnt: slow-laminating lives")]
    assert len(taught) == 1
    assert ("shorter" in taught[0]) == (learnt["course"][4]["conversion"] > plain["course"][4]["conversion"])
    assert elsewhere == plain
    assert not any(line.startswith("learnt") for line in plain["assumptions"])


def test_a_cure_of_numbers_that_contradict_each_other_names_their_line(ask, shop):
    wrong = HOTTER_AND_LONGER.replace("[[film]]", "[cure]")
    (shop / "resins/invented.toml").write_text(RESIN.replace("[cure]", wrong), encoding="utf-8")
    with pytest.raises(FileError, match=r"invented.toml:\d+: pot_life: pot life grows with temperature"):
        ask(cure, "invented", "--temps", "20 degC:12 h")


@pytest.mark.parametrize("clamps", [8, 12, 18])
def test_close_draws_the_clamps_over_the_pressure_along_the_caul(ask, clamps):
    words = ("board", "--clamps", str(clamps), "--thickness", "9 mm")
    _, text = ask(close, *words, as_json=False)
    marks = next(line for line in text.splitlines() if "▼" in line)
    assert marks.count("▼") == clamps
    _, data = ask(close, *words)
    along = data["clamps"]["along_shares"]
    assert sum(along) / len(along) == pytest.approx(1.0, abs=0.02)
    assert min(along) == pytest.approx(data["clamps"]["lowest_share"], abs=0.08)


def test_close_says_what_a_foam_mould_does_overnight_and_what_curved_ends_need(ask, shop):
    path = shop / "sessions/board/plan.toml"
    more = 'curved_ends = "150 mm"\nfoam = { thickness = "50 mm", density = "40 kg/m^3" }\n'
    path.write_text(path.read_text(encoding="utf-8") + more, encoding="utf-8")
    code, data = ask(close, "board")
    assert code == 1
    assert data["foam"]["verdict"] == "creeps"
    assert data["foam"]["bears_Pa"] == pytest.approx(72_000.0)
    assert data["curved_end_N"] > 0.0
    row = data["clamps"]["count"] * data["clamps"]["force_each_N"]
    assert row + 2.0 * data["curved_end_N"] == pytest.approx(data["force_N"])
    _, text = ask(close, "board", as_json=False)
    assert "on each curved end" in text
    assert f"a clamp {data['clamps']['force_each_N'] / 1000.0:.2f} kN" in " ".join(text.split())
    assert "foam creeps under 100 kPa: for a night it bears 72 kPa" in " ".join(text.split())
