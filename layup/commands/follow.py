"""Follow a running session: each act as one plain line, as it comes, for a screen reader, a speaker or a log."""

from __future__ import annotations

import argparse
import json
import time
from collections.abc import Callable, Iterator
from math import isfinite

from layup.bench.acts import NOTED, Act
from layup.bench.day import PressDay
from layup.bench.opening import meet, resume
from layup.bench.view import BenchView, act_data, bench_view
from layup.commands.command import finite, takes
from layup.files.workshop import Workshop
from layup.review.carried import carriers
from layup.session.clock import SystemClock

EXAMPLE = "layup follow 2026-03-07-touring-skis-168"
LOOK_S = 0.5
"""How often to look at the session."""


add_arguments = takes("SESSION\n--workshop DIR\n--json")


def run(args: argparse.Namespace) -> int:
    """Print each act until the session ends; nothing is written."""
    workshop = Workshop(args.workshop)
    day = resume(workshop.session_path(args.session), SystemClock(), workshop=workshop, watch=True)
    meet(day, carriers(workshop))

    def wait() -> None:
        time.sleep(LOOK_S)
        day.tick()

    for view, act in acts(day, wait=wait):
        data = {"session": day.folder.name, "at_s": view.now_s, "mark": view.mark, **act_data(act)}
        print(json.dumps(finite(data), allow_nan=False) if args.json else line(day, act), flush=True)
    return 0


def acts(day: PressDay, *, wait: Callable[[], None]) -> Iterator[tuple[BenchView, Act]]:
    """Yield each act of a day as it comes on top, gets more urgent, or is the other one's; end with the session."""
    before: set[tuple[object, ...]] = set()
    while True:
        view = bench_view(day)
        now = {(*act.is_same_as, act.person, act.urgency): act for act in (view.act, *view.others)}
        yield from ((view, act) for key, act in now.items() if key not in before and act.kind != "wait")
        before = set(now)
        if day.state.ended_s is not None:
            return
        wait()


def line(day: PressDay, act: Act) -> str:
    """Return an act as somebody would say it, with no sign that is not read aloud."""
    said = [f"{act.person}: {act.words.lower()}" if act.person else act.words.capitalize()]
    said += [act.told] if act.number else []
    late = act.is_due
    if act.deadline_s is not None and isfinite(act.deadline_s):
        said.append(f"it was due {day.clock_time(act.deadline_s)}" if late else f"by {day.clock_time(act.deadline_s)}")
    said += [act.why] if act.why else []
    said += [f"{NOTED.rstrip(':')} {act.note}"] if act.note else []
    mark = f"{day.mark.capitalize()}: " if day.mark else ""
    return f"{day.clock_time(day.now_s())}  {mark}{'Now! ' if late else ''}{', '.join(said)}."
