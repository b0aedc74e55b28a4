"""One switch for the units people see; numbers for programs stay what they are."""

import json

import pytest

from layup.bench.scale_readings import grams
from layup.cli import UNITS_KEY, main
from layup.units import use_units

POTLIFE = ["potlife", "slow-laminating", "--mass", "250 g", "--temp", "20 degC"]


@pytest.fixture(autouse=True)
def shop(workshop, monkeypatch):
    monkeypatch.chdir(workshop)
    monkeypatch.setenv(UNITS_KEY, "metric")
    yield
    use_units("metric")


def test_us_units_are_seen_with_the_option_and_with_the_variable(capsys, monkeypatch):
    assert main(["--units", "us", *POTLIFE]) == 0
    asked = capsys.readouterr().out
    assert "8.818 oz in a cup, 68 °F" in asked
    assert "°C" not in asked
    monkeypatch.setenv(UNITS_KEY, "us")
    assert main(POTLIFE) == 0
    assert capsys.readouterr().out == asked


def test_numbers_for_programs_do_not_follow_the_switch(capsys):
    assert main([*POTLIFE, "--json"]) == 0
    metric = json.loads(capsys.readouterr().out)
    assert main(["--units", "us", *POTLIFE, "--json"]) == 0
    us = json.loads(capsys.readouterr().out)
    numbers = {key for key, value in metric.items() if isinstance(value, int | float)}
    assert len(numbers) > 5
    assert {key: us[key] for key in numbers} == {key: metric[key] for key in numbers}


def test_units_that_are_none_are_refused(capsys, monkeypatch):
    monkeypatch.setenv(UNITS_KEY, "imperial")
    assert main(POTLIFE) == 2
    assert "units: are not known (imperial) - metric or us" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("units", "text", "mass_g"),
    [
        ("us", "7.05", 199.864),
        ("us", "200 g", 200.0),
        ("us", "7.05 oz", 199.864),
        ("metric", "200", 200.0),
        ("metric", "200 g", 200.0),
    ],
)
def test_a_bare_scale_reading_is_in_the_unit_that_the_screen_shows(units, text, mass_g):
    use_units(units)
    assert grams(text) == pytest.approx(mass_g, rel=1e-4)
