"""The bench as it stands, or as it stood at any minute: the next act, what comes then, each batch, the press."""

from __future__ import annotations

import argparse
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING

from layup.bench.acts import NOTED, Act
from layup.bench.casting_dues import casting_words
from layup.bench.day import PressDay
from layup.bench.replay import Replay
from layup.bench.view import SHAPES, BenchView, Fan, view_data
from layup.commands.answer import add_json_argument, answer
from layup.commands.reading import SESSION_HELP, add_workshop_argument
from layup.files.workshop import Workshop
from layup.report.bars import bar, fan
from layup.report.tables import table_lines
from layup.review.recalled import MEMORY
from layup.session.clock import TOLD, SystemClock
from layup.session.told import told_rows
from layup.units import countdown, in_minutes, mass, minutes

if TYPE_CHECKING:
    from rich.console import Console

EXAMPLE = 'layup view 2026-03-07-touring-skis-168 --at "25 min"'
WIDEST = 96
RECALLED = "recalled: about"
HORIZON = 1.15
"""A fan goes on for so much beyond the late end of its band, so that the end can be seen."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the words of `layup view`."""
    parser.add_argument("session", metavar="SESSION", help=SESSION_HELP)
    parser.add_argument("--at", metavar="TIME", help=f"{TOLD} (default: now, or the end of a session that ended)")
    add_workshop_argument(parser)
    add_json_argument(parser)


def run(args: argparse.Namespace) -> int:
    """Answer with the bench at one moment; nothing is written."""
    workshop = Workshop(Path(args.workshop))
    replay = Replay(workshop.session_path(args.session), workshop, SystemClock())
    view = replay.view_at(replay.last_s if args.at is None else replay.when_s(args.at))
    day = replay.day

    def text(console: Console) -> None:
        for line in view_lines(day, view, width=min(console.width, WIDEST)):
            console.print(line)

    assumed = assumptions(day)
    data = {**view_data(day, view), "recalled": None if day.state.recalled is None else RECALLED}
    return answer(args.json, data, text, assumptions=assumed, telling=assumed[:1])


def assumptions(day: PressDay) -> list[str]:
    """Return what the times of a view rest on."""
    if day.state.recalled is not None:
        return [MEMORY]
    said = ["every countdown is an estimate: its low edge is passed in one case out of ten"]
    if day.state.closed_s is None:
        said.append("the rest of the day goes at today's pace, as the steps done tell it")
    said += [f"batch {number}: how long it lasts is {why}" for number, why in day.unknown.items()]
    return [*said, *(f"learnt today: {words}" for words in day.learnt_words)]


# -- text ------------------------------------------------------------------------------------------------------------


def view_lines(day: PressDay, view: BenchView, *, width: int) -> list[str]:
    """Return a view as lines for people: the act first."""
    title = day.state.start.title if day.state.start else day.folder.name
    if (told := day.state.recalled) is not None:  # nobody stood at this bench: no act and no countdown is known
        resin = day.state.start.resin if day.state.start else ""
        rows = table_lines(("told", ""), told_rows(told, resin), left="ll", width=width)
        return [f"{title}   {RECALLED}", "", *rows]
    mark = f"{view.mark}   " if view.mark else ""
    lines = [f"{mark}{title}   {day.clock_time(view.now_s)}, {minutes(view.now_s)} in", ""]
    lines += [f"▶ {_act_words(day, view.act)}", *(f"  {_act_words(day, act)}" for act in view.others)]
    if view.notice:
        lines.append(f"  {view.notice}")
    lines += ["", *_step_lines(view, width)]
    if view.then:
        lines.append("THEN  " + " · ".join(_then_words(day, act) for act in view.then))
    for each in (*view.cups, *view.parts):
        lines += ["", *_fan_lines(day, view, each, width)]
    press = _press_words(day, view)
    return [*lines, *(["", press] if press else [])]


def _act_words(day: PressDay, act: Act) -> str:
    said = [f"{act.person}: {act.words}" if act.person else act.words, act.number]
    if act.deadline_s is not None and isfinite(act.deadline_s):
        said.append(f"by {day.clock_time(act.deadline_s)}")
    if act.level:
        said.append(f"{SHAPES[act.urgency]} {act.urgency}")
    return "   ".join(filter(None, [*said, act.why, f"{NOTED} {act.note}" if act.note else ""]))


def _then_words(day: PressDay, act: Act) -> str:
    words = act.words.lower()
    if act.kind != "step" and act.deadline_s is not None:
        return f"{words} by {day.clock_time(act.deadline_s)}"
    return words if act.at_s is None else f"{words} ≈ {day.clock_time(act.at_s)}"


def _step_lines(view: BenchView, width: int) -> list[str]:
    step = view.step
    if step is None:
        return []
    head = f"STEP  {step.place}/{step.of} {step.name}   {countdown(step.spent_s)} of {in_minutes(step.planned_s)}  "
    room = min(width - len(head) - 2, 20)
    share = step.spent_s / step.planned_s if step.planned_s > 0.0 else 1.0
    return [head + (f"▕{bar(share, room)}▏" if room >= 6 else "")]


def _fan_lines(day: PressDay, view: BenchView, each: Fan, width: int) -> list[str]:
    in_cup = each.where == "in the cup"
    marks = "".join(f"   {words.upper()}" for words in (each.mark, each.looks) if words)
    head = (
        f"{each.name if not in_cup else f'CUP  {each.batch}'}  {mass(each.mass_g)}   {each.shape} {each.words}{marks}"
    )
    if each.by_s is None or each.low_s is None or each.high_s is None:
        return [f"{head}   mixed {countdown(view.now_s - each.mixed_s)} ago: {each.why}"]
    band = f"{day.clock_time(each.low_s)}-{day.clock_time(each.high_s)}"
    until = f"empty by {day.clock_time(each.by_s)} · thickens {band}" if in_cup else f"{each.until} {band}"
    end_s = each.mixed_s + HORIZON * (each.high_s - each.mixed_s)
    drawn = fan(each.mixed_s, view.now_s, each.by_s, each.low_s, each.high_s, end_s, width - 2)
    return [f"{head}   {until}", f"▕{drawn}▏"]


def _press_words(day: PressDay, view: BenchView) -> str:
    press = view.press
    if day.state.is_casting:
        return " · ".join(casting_words(day)[0])
    if press.closed_s is not None:
        closed = f"PRESS closed {day.clock_time(press.closed_s)}"
        if press.out_s is None:
            return closed
        low, likely, high = (day.clock_time(at_s) for at_s in press.out_s)
        return f"{closed} · OUT ≈ {likely} ({low} to {high})"
    by = "PRESS BY starts with batch 1"
    if press.by_s is not None:
        by = f"PRESS BY {day.clock_time(press.by_s)}"
    elif press.if_poured_s is not None:
        by = f"PRESS BY {day.clock_time(press.if_poured_s)} if poured now"
    close = "" if press.ready_s is None else f" · close ≈ {day.clock_time(press.ready_s)}"
    if press.spare_s is None:
        return by + close
    return f"{by}{close} · " + (
        f"{minutes(press.spare_s)} spare" if press.spare_s >= 0 else f"▲ {minutes(-press.spare_s)} LATE"
    )
