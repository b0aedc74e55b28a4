"""The bench as it stands, or as it stood at any minute: the next act, what comes then, each batch, the press."""

from __future__ import annotations

import argparse
from math import isfinite

from layup.bench.acts import NOTED, Act
from layup.bench.day import PressDay
from layup.bench.replay import Replay
from layup.bench.view import SHAPES, BenchView, Fan, coming, press_words, until_words, view_data
from layup.commands.command import answer, takes
from layup.files.workshop import Workshop
from layup.report.bars import bar, fan, table_lines
from layup.review.recalled import MEMORY
from layup.session.clock import TOLD, SystemClock
from layup.session.recall import told_rows
from layup.units import countdown, in_minutes, mass, minutes

EXAMPLE = 'layup view 2026-03-07-touring-skis-168 --at "25 min"'
WIDEST = 96
RECALLED = "recalled: about"
HORIZON = 1.15
"""A fan goes on for so much beyond the late end of its band, so that the end can be seen."""


add_arguments = takes(f"""
SESSION
--at TIME  {TOLD} (default: now, or the end of a session that ended)
--workshop DIR
--json
""")


def run(args: argparse.Namespace) -> int:
    """Answer with the bench at one moment; nothing is written."""
    workshop = Workshop(args.workshop)
    replay = Replay(workshop.session_path(args.session), workshop, SystemClock())
    view = replay.view_at(replay.last_s if args.at is None else replay.when_s(args.at))
    day = replay.day

    assumed = assumptions(day)
    data = {**view_data(day, view), "recalled": None if day.state.recalled is None else RECALLED}
    return answer(
        args.json,
        data,
        lambda width: view_lines(day, view, width=min(width, WIDEST)),
        assumptions=assumed,
        telling=assumed[:1],
    )


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
        resin = day.state.resin_id
        rows = table_lines(("told", ""), told_rows(told, resin), left="ll", width=width)
        return [f"{title}   {RECALLED}", "", *rows]
    mark = f"{view.mark}   " if view.mark else ""
    lines = [f"{mark}{title}   {day.clock_time(view.now_s)}, {minutes(view.now_s)} in", ""]
    lines += [f"▶ {_act_words(day, view.act)}", *(f"  {_act_words(day, act)}" for act in view.others)]
    if view.notice:
        lines.append(f"  {view.notice}")
    lines += ["", *_step_lines(view, width)]
    if view.then:
        lines.append("THEN  " + " · ".join("".join(coming(day, act)) for act in view.then))
    for each in (*view.cups, *view.parts):
        lines += ["", *_fan_lines(day, view, each, width)]
    press = " · ".join(press_words(day, view)[0])
    if view.press.out_s is not None and not day.state.is_casting:
        low_s, _, high_s = view.press.out_s
        press += f" ({day.clock_time(low_s)} to {day.clock_time(high_s)})"
    return [*lines, *(["", press] if press else [])]


def _act_words(day: PressDay, act: Act) -> str:
    said = [f"{act.person}: {act.words}" if act.person else act.words, act.amount]
    if act.deadline_s is not None and isfinite(act.deadline_s):
        said.append(f"by {day.clock_time(act.deadline_s)}")
    if act.level:
        said.append(f"{SHAPES[act.urgency]} {act.urgency}")
    return "   ".join(filter(None, [*said, act.why, f"{NOTED} {act.note}" if act.note else ""]))


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
    end_s = each.mixed_s + HORIZON * (each.high_s - each.mixed_s)
    drawn = fan(each.mixed_s, view.now_s, each.by_s, each.low_s, each.high_s, end_s, width - 2)
    return [f"{head}   {until_words(day, each)}", f"▕{drawn}▏"]
