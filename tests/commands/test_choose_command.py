"""`layup choose`: one row for each resin, shop and crew, and tonight's resin in a sentence."""

import re
from functools import cache, partial

import pytest
from command_line import ask_in, assert_no_wider

from layup.files.workshop import demo_root, new_workshop

CHOOSE = ("choose", "touring-skis", "--temp", "18 degC", "--people", "2")


@pytest.fixture(scope="module")
def demo():
    """Return a function that runs a command where the demo's files are, once for the same words."""
    return cache(partial(ask_in, demo_root()))


def test_a_row_for_each_resin_shop_and_crew_says_what_the_plan_says(demo):
    data = demo(*CHOOSE, "--json").data
    rows = data["rows"]
    alone = {"slow-laminating", "fast-laminating", "dgeba-ipda", "dgeba-teta"}
    assert {row["resin"] for row in rows} == {*alone, "fast-laminating+slow-laminating"}
    assert {row["people"] for row in rows} == {1, 2, 3}
    assert [min(row["temperature_K"] for row in rows), max(row["temperature_K"] for row in rows)] == [278.15, 308.15]
    assert len({(row["resin"], row["temperature_K"], row["people"]) for row in rows}) == len(rows) == 5 * 8 * 3
    assert {row["verdict"] for row in rows} == {"fits", "tight", "does not fit"}
    place = {"resin": "slow-laminating", "people": 2, "temperature_K": 291.15}
    (here,) = [row for row in rows if row.items() >= place.items()]
    plan = demo("plan", "touring-skis", "--temp", "18 degC", "--people", "2", "--json").data
    assert [here[key] for key in ("verdict", "chance", "slack_min")] == [
        plan[key] for key in ("verdict", "chance", "slack_min")
    ]
    assert here["low"] < here["demould_min"] < here["high"]
    assert here["mix_g"] == pytest.approx(plan["budget"]["mix_g"])
    assert here["reasons"][0] == plan["reasons"][0]


@pytest.mark.parametrize("columns", ["40", "80"])
def test_the_text_answers_in_one_sentence_and_fits_the_console(monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", columns)
    answer = ask_in(demo_root(), *CHOOSE)
    assert answer.code == 0
    assert answer.words.startswith("18 °C, 2 people: ")
    assert answer.words.count("F fits T tight - does not fit") == 1
    assert_no_wider(answer.out, int(columns))


def test_a_resin_whose_file_check_doubts_is_marked_and_a_last_line_says_why(tmp_path, monkeypatch):
    shop = tmp_path / "shop"
    new_workshop(shop, whole=True)
    path = shop / "resins" / "fast-laminating.toml"
    text = path.read_text(encoding="utf-8")
    assert "resin = 100\nhardener = 26" in text
    text = text.replace("resin = 100\nhardener = 26", "resin = 26\nhardener = 100")
    path.write_text(re.sub(r"\n(equivalent_weight|functionality) .*", "", text), encoding="utf-8")
    for columns in (40, 80):
        monkeypatch.setenv("COLUMNS", str(columns))
        answer = ask_in(shop, *CHOOSE)
        assert answer.words.count("F fits T tight - does not fit ! odd") == 1
        assert "! Fast laminating" in answer.words
        assert "! Slow laminating" not in answer.words
        assert "! Fast laminating epoxy: unusual, 100:385" in answer.words
        assert_no_wider(answer.out, columns)
    odd = {row["resin"]: row["odd"] for row in ask_in(shop, *CHOOSE, "--json").data["rows"]}
    assert odd["fast-laminating"] == "unusual, 100:385"
    assert odd["slow-laminating"] == ""


def test_where_no_resin_fits_the_answer_is_no_and_says_where_one_would(demo):
    answer = demo("choose", "touring-skis", "--temp", "33 degC", "--people", "1")
    assert answer.code == 1
    assert "no resin fits. Nearest: Slow laminating epoxy" in answer.words


def test_a_past_day_is_played_again_with_each_resin(demo):
    past = ("choose", "touring-skis", "--as", "2026-03-07-touring-skis-168")
    answer = demo(*past, "--json")
    rows = answer.data["rows"]
    (used,) = [row for row in rows if row["used"]]
    assert (answer.code, used["resin"], used["verdict"]) == (1, "slow-laminating", "does not fit")
    own_s = demo("review", past[-1], "--json").data["changed_days"]["own_spare_s"]
    assert used["slack_min"] == pytest.approx(own_s / 60.0)
    (fast,) = [row for row in rows if row["resin"] == "fast-laminating"]
    assert fast["slack_min"] < used["slack_min"] < 0.0
    assert fast["demould_min"] < used["demould_min"]
    assert "Slow laminating epoxy (demo) failed, " in answer.data["words"]
    assert "leave out --temp" in demo(*past, "--temp", "20 degC").complaint


def test_more_people_who_are_tighter_are_told_that_their_cups_are_larger_and_smaller_ones_fit(workshop, edit):
    """Three lay so fast that one batch is just in time; a pair takes two."""
    edit("sessions/touring-skis/plan.toml", '[cups]\nlargest = "300 g"\n', "")
    words = ("touring-skis", "--temp", "20 degC", "--no-lessons")
    chosen = ask_in(workshop, "choose", *words)
    place = {"resin": "slow-laminating", "temperature_K": 293.15}
    rows = [row for row in ask_in(workshop, "choose", *words, "--json").data["rows"] if row.items() >= place.items()]
    pair, three = (next(row for row in rows if row["people"] == people) for people in (2, 3))
    assert (pair["verdict"], three["verdict"]) == ("fits", "tight")
    assert three["batches"] < pair["batches"]
    assert (three["batches"], pair["batches"]) == (1, 2)
    line = "Slow laminating epoxy: 3 people lay it in 1 cup and have less to spare than 2 in 2: take smaller cups."
    assert line in chosen.words
    plan = ask_in(workshop, "plan", *words, "--people", "3", "--json").data
    cups = plan["changes"][0]
    assert (cups["kind"], cups["verdict"]) == ("cups", "fits")
    assert "smaller cups" in cups["words"]


def test_crews_whose_cups_are_alike_are_told_nothing_of_cups(demo):
    assert "smaller cups" not in demo(*CHOOSE).words
