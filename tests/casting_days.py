"""Casting days played by a crew that does what the bench says: three colours, both side walls, 5 min of pot life."""

from dataclasses import replace
from pathlib import Path

from scripted_days import Player, beside
from view_checks import check_it_can_be_done, check_one_act

from layup.bench.opening import begin
from layup.bench.planner import Planner
from layup.files.workshop import new_workshop
from layup.session.clock import ManualClock

CAUSES = frozenset({"poured late", "joined late", "joined early", "core cold", "core wet", "planed early"})
"""What only a casting can go wrong by; `tests/review/test_casting_review.py` brings each about."""
WALLS = """title = "Side walls"
resin = "casting-urethane"
pieces = 2
people = 1
[outline]
length = "1680 mm"
stations = [
  { at = "0 mm", width = "100 mm" }, { at = "840 mm", width = "70 mm" }, { at = "1680 mm", width = "95 mm" },
]
[scale]
readability = "0.1 g"
[casting]
core_temperature = "22 degC"
seal_wait = "45 min"
[[steps]]
kind = "cast"
name = "Side walls"
resin = "casting-urethane"
minutes = 30
channel = { width = "8 mm", depth = "12 mm" }
pigments = ["black", "red", "white"]
loading = "3 %"
loss = "5 g"
"""


def bench(tmp_path: Path, text: str = WALLS, *, celsius: float = 18.0):
    """Return a casting day with 5 min of pot life that begins now, in a workshop of its own, kept in memory."""
    root = tmp_path / "w"
    if not root.exists():
        new_workshop(root)
        resin = root / "resins" / "casting-urethane.toml"
        resin.write_text(resin.read_text(encoding="utf-8").replace('"4 min"', '"5 min"'), encoding="utf-8")
    folder = root / "sessions" / "walls"
    folder.mkdir(exist_ok=True)
    (folder / "plan.toml").write_text(text, encoding="utf-8")
    planner = Planner(root, plan="walls")
    planner.load()
    assert planner.settings is not None, planner.problem
    assert not planner.change(replace(planner.settings, temperature_K=celsius + 273.15))
    return beside(begin(planner, planner.figures, ManualClock()))


def played(day, script=(), *, until_min=240.0):
    """Play a day; return each act with the time at which it was first on top."""
    acts = []

    def seen(day, view):
        check_one_act(view)
        if not acts or acts[-1][1] != view.act.words:
            acts.append((view.now_s, view.act.words))
            check_it_can_be_done(day, view)

    Player(day, seen=seen).play(script, until_min=until_min)
    return acts
