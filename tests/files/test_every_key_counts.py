"""No key of a file that people write does nothing: without it the plan or the resin is another one, or is refused."""

import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from pydantic import BaseModel

from layup.commands.check import keys_of
from layup.errors import Problem
from layup.files.plan_file import PlanFile, load_plan
from layup.files.resin_file import ResinFile, load_resin
from layup.files.toml import KeyPath
from layup.files.writing import written

RESIN = """
id = "r"
title = "Resin"
chemistry = "epoxy-amine"
price_per_kg = 20
blends_with = ["fast"]
[resin]
name = "A"
density = "1.15 g/cm^3"
equivalent_weight = 178
functionality = 2.1
[hardener]
name = "B"
density = "0.97 g/cm^3"
equivalent_weight = 53
functionality = 4
[ratio]
by = "weight"
resin = 100
hardener = 30
[[pot_life]]
time = "45 min"
mass = "150 g"
temperature = "25 degC"
endpoint = "gel"
diameter = "70 mm"
[[pot_life]]
time = "80 min"
mass = "150 g"
temperature = "25 degC"
endpoint = "gel"
vessel = "tray"
depth = "10 mm"
[[pot_life]]
time = "40 min"
mass = "150 g"
temperature = "25 degC"
endpoint = "temperature"
reaches = "50 degC"
[[film]]
time = "2.5 h"
temperature = "25 degC"
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
demo = true
"""
BOARD = """
title = "Board"
resin = "slow"
pieces = 2
people = 3
wanted = "2026-12-05 18:00"
target_fibre_fraction = { by = "weight", value = 0.62 }
[outline]
length = "1.2 m"
stations = [{ at = "100 mm", width = "100 mm" }, { at = "1 m", left = "120 mm", right = "90 mm" }]
measured_from = "tip"
ends = "straight"
overhang = "20 mm"
roll_width = "50 in"
[[steps]]
name = "Base"
kind = "bond"
surface = "my cork"
uptake = "90 g/m^2"
area = "0.1 m^2"
minutes = 3
[[steps]]
name = "Veneer"
kind = "bond"
surface = "poplar core face"
presealed = true
coverage = 0.5
minutes = 3
[[steps]]
name = "Glass"
kind = "fabric"
areal_weight = "6 oz/yd^2"
fibre = "bamboo"
fibre_density = "0.9 g/cm^3"
layers = 2
width = "3 in"
overhang = "0 mm"
target_fibre_fraction = { by = "volume", value = 0.5 }
price_per_m2 = 4
minutes = 10
[[steps]]
name = "More glass"
kind = "fabric"
fabric = "carbon twill 200"
minutes = 10
[[steps]]
name = "Core"
kind = "place"
thickness = "11 mm"
minutes = 2
[[steps]]
name = "Sides"
kind = "cast"
resin = "urethane"
pigments = ["black", "red", "white"]
fade = true
loading = "3 %"
loading_limit = "5 %"
loss = "5 g"
overfill = "15 %"
join = { when = "firm", earliest = "4 min", latest = "0.5 h" }
minutes = 8
[steps.channel]
width = "8 mm"
depth = "12 mm"
bottom = "6 mm"
offset = "2 mm"
sides = "one"
begin = "20 cm"
end = "80 cm"
[[steps]]
name = "Tips"
kind = "cast"
resin = "urethane"
volume = "60 ml"
pours = 2
before_press_day = false
pigment = "black"
pigment_to = "red"
loading = "2 %"
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
foam = { thickness = "50 mm", density = "35 kg/m^3", strength = "200 kPa", hottest = "45 degC" }
curved_ends = "150 mm"
[scale]
readability = "0.1 g"
capacity = "2 kg"
tare_each = true
[cups]
largest = "400 g"
[crew]
mixing = "5 min"
second_pair = 0.4
stirring = "2 min"
[casting]
core_temperature = "77 degF"
core_moisture = "8 %"
warm = "20 min"
seal = "5 min"
seal_wait = "1.5 h"
tape = "10 min"
[shop]
forecast = "4 degC to 16 degC"
[[before]]
name = "Glue up the core"
time = "2 h"
[[before]]
name = "It sets"
time = "12 h"
after = ["Glue up the core"]
hands = false
"""
WITH_AREA = """
title = "Panel"
resin = "slow"
pieces = 1
people = 1
[outline]
area = "0.2 m^2"
[[steps]]
name = "Base"
kind = "bond"
surface = "base sheet"
minutes = 3
"""
DRAWN = WITH_AREA.replace('area = "0.2 m^2"', 'file = "board.csv"\nunit = "mm"')
DRAWING = "0,0\n1000,0\n1000,200\n0,200\n"
SAMPLES = [*((PlanFile, text) for text in (BOARD, WITH_AREA, DRAWN)), (ResinFile, RESIN)]


def places(told: object, path: str, at: KeyPath = ()) -> Iterator[KeyPath]:
    """Yield where a key stands: in each table of a list."""
    name, _, below = path.partition(".")
    if isinstance(told, list):
        for number, each in enumerate(told):
            yield from places(each, path, (*at, number))
    elif isinstance(told, dict) and name in told:
        yield from places(told[name], below, (*at, name)) if below else [(*at, name)]


def read(model: type[BaseModel], text: str, folder: Path) -> tuple[object, list[Problem]]:
    path = folder / "r.toml"
    path.write_text(text, encoding="utf-8")
    return load_resin(path) if model is ResinFile else load_plan(path, resin_ids=("slow", "urethane"))


@pytest.mark.parametrize("model", [PlanFile, ResinFile])
def test_without_a_key_the_file_says_something_else(model: type[BaseModel], tmp_path: Path) -> None:
    (tmp_path / "board.csv").write_text(DRAWING, encoding="utf-8")
    does_nothing = {key.path for key in keys_of(model)}  # or stands in none of the samples
    for text in (text for kind, text in SAMPLES if kind is model):
        whole = read(model, text, tmp_path)
        assert whole[1] == [], whole
        for path in sorted(does_nothing):
            at = list(places(tomllib.loads(text), path))
            if any(read(model, written(text, {place: None}, model), tmp_path) != whole for place in at):
                does_nothing.discard(path)
    assert does_nothing == set()
