"""Planning the demo's skis: a plan, each what-if dial of the app, anew and remembered, and which of ten resins to take.

A plan asks for the lives of over a thousand cups; its rival is scipy's LSODA on those same cups and nothing else: no
grams, no batches, no window. So does the choice among ten resins, by temperature and people. A dial's rival is our own
plan of the same settings with nothing remembered.
"""

import io
import shutil
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import redirect_stdout
from functools import partial
from pathlib import Path
from unittest.mock import patch

import numpy as np
from forgetting import forget
from results import Row
from scipy_lives import lsoda
from stopwatch import Trial, best

from layup.bench.dials import DIALS, Dial
from layup.bench.planner import Planner
from layup.chemistry.kinetics import Kinetics
from layup.chemistry.prediction import Vessel
from layup.chemistry.uncertainty import Use
from layup.cli import main
from layup.files.workshop import demo_root
from layup.planning import clocks as planned_lives
from layup.planning.planner import Settings

PLAN = "touring-skis"
RTOL = 3e-6
"""At which LSODA is within 0.1 % of a cup's time, as the benchmark of pot lives finds."""
PLAN_S, WHAT_IF_S, CHOOSE_S = 0.15, 0.06, 1.0

Cup = tuple[Kinetics, Vessel, float, float]


def rows(*, smallest: bool = False) -> Iterator[Row]:
    """Measure the plan, then each dial."""
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        for part in ("resins", "sessions"):
            shutil.copytree(demo_root() / part, root / part)
        yield from plans(root, rounds=1 if smallest else 3, most_cups=20 if smallest else None)
        yield ten_resins(root, 2 if smallest else 10, rounds=1 if smallest else 3, most_cups=20 if smallest else None)
        planner = Planner(root)
        settings = planner.read()
        planner.learn()
        for dial in DIALS[:1] if smallest else DIALS:
            yield what_if(planner, settings, dial, rounds=1 if smallest else 4)


def plans(root: Path, rounds: int, most_cups: int | None) -> Iterator[Row]:
    """Measure `layup plan` from its words to its JSON, lessons of two sessions and odds included."""

    def plan() -> None:
        with redirect_stdout(io.StringIO()):
            assert main(["plan", PLAN, "--json", "--workshop", str(root)]) in (0, 1)

    forget()
    cups = asked_for(plan)[:most_cups]

    def by_lsoda() -> None:
        for law, vessel, mass_g, shop_K in cups:
            lsoda(law, vessel, mass_g, shop_K, rtol=RTOL)

    took = best(Trial(plan, forget), Trial(by_lsoda), Trial(plan, plan), rounds=rounds)
    first_s, scipy_s, again_s = (each.processor_s for each in took)
    yield Row("layup plan, the first time", first_s, scipy_s, f"LSODA on its {len(cups):,d} cups", "CPU", most=PLAN_S)
    yield Row("layup plan, once more", again_s, first_s, "layup plan, the first time", "CPU")


def ten_resins(root: Path, count: int, rounds: int, most_cups: int | None) -> Row:
    """Measure `layup choose` with the demo's slow resin and others of 0.6 to 1.5 times its lives, lessons left out."""
    shop = root.with_name(f"{root.name}-ten")
    slow = (root / "resins" / "slow-laminating.toml").read_text(encoding="utf-8")
    shutil.copytree(root, shop, ignore=shutil.ignore_patterns("dgeba-*", "fast-*"))
    for number in range(1, count):
        share = 0.5 + number / 10.0
        text = slow.replace("slow-laminating", f"resin-{number}").replace('"45 min"', f'"{45 * share:.1f} min"')
        text = text.replace('time = "2.5 h"', f'time = "{2.5 * share:.2f} h"')
        (shop / "resins" / f"resin-{number}.toml").write_text(text, encoding="utf-8")

    def choose() -> None:
        with redirect_stdout(io.StringIO()):
            assert main(["choose", PLAN, "--json", "--no-lessons", "--workshop", str(shop)]) in (0, 1)

    forget()
    cups = asked_for(choose)[:most_cups]

    def by_lsoda() -> None:
        for law, vessel, mass_g, shop_K in cups:
            lsoda(law, vessel, mass_g, shop_K, rtol=RTOL)

    ours, scipy = (each.processor_s for each in best(Trial(choose, forget), Trial(by_lsoda), rounds=rounds))
    shutil.rmtree(shop)
    return Row(f"layup choose, {count} resins", ours, scipy, f"LSODA on its {len(cups):,d} cups", "CPU", most=CHOOSE_S)


def asked_for(plan: Callable[[], None]) -> list[Cup]:
    """Return the cups whose lives a plan asks the engine for."""
    cups: list[Cup] = []
    asked = planned_lives.ageing

    def noted(cases: Sequence[tuple[Kinetics, Use]], vessel: Vessel, **at: np.ndarray) -> object:
        for mass_g, shop_K in zip(at["mass_g"].tolist(), at["ambient_K"].tolist(), strict=True):
            cups.extend((law, vessel, use.mass_g(mass_g), shop_K) for law, use in cases)
        return asked(cases, vessel, **at)

    with patch.object(planned_lives, "ageing", noted):
        plan()
    return cups


def what_if(planner: Planner, settings: Settings, dial: Dial, *, rounds: int) -> Row:
    """Turn one dial one step from a plan just worked out; the app does the same beside its screen."""
    turned = dial.turned(settings, planner, 1)
    assert turned != settings

    def after_the_first() -> None:
        forget()
        planner.work_out(settings)

    turn = partial(planner.work_out, turned)
    ours, anew = best(Trial(turn, after_the_first), Trial(turn, forget), rounds=rounds)
    what = f"what if: {dial.name.lower()}, one step on"
    return Row(what, ours.processor_s, anew.processor_s, "the same plan, nothing remembered", "CPU", most=WHAT_IF_S)
