"""The bench view in words that stand on more than one surface: what comes, how long a batch lasts, the press."""

from __future__ import annotations

from math import inf, isfinite

from layup.bench.acts import Act
from layup.bench.casting_dues import casting_words
from layup.bench.day import PressDay
from layup.bench.view import BenchView, Fan
from layup.units import mass, minutes, time_left


def mode_words(day: PressDay, view: BenchView) -> str:
    """Return what a day is where it is no press day that is written here; empty where it is one."""
    return view.mark or ("LOOKING ON" if day.watching else "")


def coming(day: PressDay, act: Act) -> tuple[str, str]:
    """Return the words of an act that comes, and its time, which may be empty."""
    words = "close" if act.kind == "close" else act.words.lower()
    if act.deadline_s is not None and act.kind != "step":
        return words, f" by {day.clock_time(act.deadline_s)}"
    return words, "" if act.at_s is None else f" ≈ {day.clock_time(act.at_s)}"


def title_words(one: Fan) -> str:
    """Return which batch it is, what stands against it, and how it is: a shape and a word."""
    mark = f"  ! {one.mark.upper()}" if one.mark else ""
    looks = f", {one.looks}" if one.looks else ""
    return f"{one.name}  {mass(one.mass_g)}{mark}  {one.shape} {one.words.upper()}{looks}"


def until_words(day: PressDay, one: Fan) -> str:
    """Return until when a batch lasts, and the band in which it ends; why that is not known where it is not."""
    if one.by_s is None or one.low_s is None or one.high_s is None:
        return one.why
    band = f"{day.clock_time(one.low_s)}-{day.clock_time(one.high_s)}"
    in_cup = one.where == "in the cup"
    return f"{one.until} {day.clock_time(one.by_s)} · thickens {band}" if in_cup else f"{one.until} {band}"


def press_words(day: PressDay, view: BenchView, *, out: bool = True) -> tuple[list[str], bool]:
    """Return what to say of the press, the most wanted first, with when the part is `out`; whether it is late.

    Nothing of one that was never closed, once the session is ended.
    """
    press = view.press
    if day.state.is_casting:
        return casting_words(day)
    if press.closed_s is not None:
        out_s = press.out_s[1] if out and press.out_s is not None and day.state.demoulded_s is None else inf
        out_words = [f"OUT ≈ {day.clock_time(out_s)}"] if isfinite(out_s) else []
        return [f"PRESS CLOSED {day.clock_time(press.closed_s)}", *out_words], False
    if day.state.ended_s is not None:
        return [], False
    closes = [] if press.ready_s is None else [f"closed ≈ {day.clock_time(press.ready_s)}"]
    if any(fan.by_s is None for fan in view.parts):
        return ["PRESS BY not known: close as soon as you can"], True
    if press.by_s is None and press.if_poured_s is None:
        return closes if day.is_dry else ["PRESS BY: starts with batch 1", *closes], False
    if press.by_s is None:
        left = f"{day.at_most}{time_left((press.if_poured_s or 0.0) - view.now_s)} if poured"
        return [f"PRESS BY {day.clock_time(press.if_poured_s or 0.0)}", left, *closes], False
    by = f"PRESS BY {day.clock_time(press.by_s)}"
    if view.now_s > press.by_s:
        return [by, f"▲ LATE by {day.at_least}{minutes(view.now_s - press.by_s)}"], True
    unsure = [f"{day.at_most}{time_left(press.by_s - view.now_s)} left"] if day.at_most else []
    spare_s = press.spare_s or 0.0
    spare = f"{minutes(spare_s)} spare" if spare_s >= 0.0 else f"▲ {minutes(-spare_s)} TOO LATE"
    return [by, *unsure, *closes, spare], spare_s < 0.0
