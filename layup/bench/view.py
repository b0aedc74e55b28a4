"""The bench view: what is shown of a press day at one moment, a pure function of its state and the clock.

Every surface draws this and nothing else: one act, the step, what comes then, a fan for each batch, the press; and the
words of it that stand on more than one surface.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from math import inf, isfinite

from layup.bench.acts import MIXING, Act, Person, ranked
from layup.bench.casting_day import casting_words
from layup.bench.cup_dues import heats_on
from layup.bench.day import PressDay
from layup.bench.dues import Dues, dues
from layup.bench.forecast import spent_s
from layup.planning.clocks import LifeStage
from layup.session.folder import HeldError
from layup.session.lifetimes import Where
from layup.session.mass_balance import doubt
from layup.session.state_parts import BatchState
from layup.units import mass, minutes, spare_of, time_left

SHAPES: dict[LifeStage, str] = {"fresh": "●", "soon": "◆", "now": "▲", "may be over": "▲", "past": "■"}
"""A shape for each stage, always beside its word: calm, soon, act now, over."""
COMING = 2
"""So many acts are shown after the one on top."""


@dataclass(frozen=True, slots=True)
class Fan:
    """One batch in its cup or on the part, with the 80 % band in which it ends there. Times on the session's clock.

    The four times are None where nobody can say how long it lasts; `words` then say so, and `why` the reason.
    """

    batch: int
    where: Where
    mass_g: float
    urgency: LifeStage
    words: str
    mark: str
    """What stands against it for good: "off ratio", "unread", or nothing."""
    looks: str
    """How it looked last; empty where nobody looked."""
    mixed_s: float
    by_s: float | None = None
    """The one deadline of it that is shown: by when its cup must be empty; on the part the early edge."""
    low_s: float | None = None
    likely_s: float | None = None
    high_s: float | None = None
    why: str = ""
    of: str = "PART"
    """What it is called on the part: a part, or of a casting day a pour."""

    @property
    def name(self) -> str:
        return f"{'CUP' if self.where == 'in the cup' else self.of} {self.batch}"

    @property
    def until(self) -> str:
        """What goes before its deadline."""
        return "empty by" if self.where == "in the cup" else "soft until" if self.of == "POUR" else "open until"

    @property
    def shape(self) -> str:
        """The shape that goes with the urgency."""
        return SHAPES[self.urgency]


@dataclass(frozen=True, slots=True)
class StepNow:
    number: int
    of: int
    name: str
    spent_s: float
    planned_s: float
    place: int
    """Its number or, of a dry run, in which each cup is a step too, its place among them."""


@dataclass(frozen=True, slots=True)
class Press:
    """The press: by when it must be closed, when it will be, what is to spare, and when the part may come out.

    `if_poured_s` is by when it would have to be closed if all cups were poured out now, while nothing is on the part.
    """

    by_s: float | None
    if_poured_s: float | None
    ready_s: float | None
    spare_s: float | None
    closed_s: float | None
    out_s: tuple[float, float, float] | None
    """Low edge, likely and high edge; inf for never."""


@dataclass(frozen=True, slots=True)
class BenchView:
    """Everything on the bench at one moment."""

    now_s: float
    mark: str
    """"DRY RUN" or "PLAY"; empty on a day that counts."""
    act: Act
    others: tuple[Act, ...]
    """What the other one does, where two have something of their own to do."""
    then: tuple[Act, ...]
    step: StepNow | None
    cups: tuple[Fan, ...]
    parts: tuple[Fan, ...]
    press: Press
    notice: str
    """At most one line; it goes by itself."""
    alarms: tuple[Act, ...]
    """All that rings or was seen of it, the loudest first, wherever it is shown: what the bell goes by."""


def bench_view(day: PressDay) -> BenchView:
    """Return what the bench shows of a session that runs, is looked on, or as it stood: always with one act to do."""
    now_s = day.now_s()
    found = dues(day, now_s)
    order = ranked(found.standing)
    two = day.state.people > 1 and day.state.closed_s is None
    act, others = _for_whom(order) if two else (order[0], ())
    shown = {each.key for each in (act, *others)}
    then = _then(*([each for each in acts if each.key not in shown] for acts in (order, found.coming)))
    fans = _fans(day, now_s)
    return BenchView(
        now_s=now_s,
        mark=day.mark,
        act=act,
        others=others,
        then=then,
        step=_step(day, now_s),
        cups=tuple(fan for fan in fans if fan.where == "in the cup"),
        parts=_parts(fans, order),
        press=_press(day, found),
        notice=_notice(day, found, shown | {each.key for each in then}),
        alarms=tuple(each for each in ranked((*found.standing, *found.coming)) if each.alarm),
    )


def _for_whom(order: Sequence[Act]) -> tuple[Act, tuple[Act, ...]]:
    """Return the act on top and, where two have something of their own to do, what the other one does."""
    act = order[0]
    other = next((each for each in order[1:] if _role(each) != _role(act) and not each.seen), None)
    if other is None:
        return act, ()
    return replace(act, person=_role(act)), (replace(other, person=_role(other)),)


def _role(act: Act) -> Person:
    return "mixing" if act.kind in MIXING else "laying"


def _then(standing: Sequence[Act], coming: Sequence[Act]) -> tuple[Act, ...]:
    """Return the next acts, each once: what rings already in the one ranking, the rest by their times."""
    rings = [act for act in standing if act.alarm and not act.seen]
    by_key: dict[str, Act] = {}
    for act in (*rings, *sorted((*standing, *coming), key=_comes_s)):
        by_key.setdefault(act.key, act)
    return tuple(act for act in by_key.values() if act.kind not in ("wait", "over"))[:COMING]


def _comes_s(act: Act) -> float:
    known = [at_s for at_s in (act.at_s, act.deadline_s) if at_s is not None]
    return min(known, default=float("inf"))


def _notice(day: PressDay, found: Dues, shown: set[str]) -> str:
    """Return the loudest matter that nobody has seen and that stands nowhere else, or what a shop seen as too cold or
    too warm still is."""
    loud = [act for act in ranked((*found.standing, *found.coming)) if act.alarm and not act.seen]
    act = next((act for act in loud if act.key not in shown), None)
    if act is None:
        shop = (
            each.why for each in found.standing if each.kind in ("cool shop", "warm shop") and each.key not in shown
        )
        return found.notice or next(shop, "")
    if act.deadline_s is not None and act.urgency == "soon":
        return f"{act.words} by {day.clock_time(act.deadline_s)}"
    return f"{act.words}: {act.why}" if act.why else act.words


def _fans(day: PressDay, now_s: float) -> list[Fan]:
    """Return a fan for each batch that lives, the tightest first."""
    live = [batch for batch in day.state.batches if where_of(day, batch)]
    found = [_fan(day, batch, now_s) for batch in live]
    return sorted(found, key=lambda fan: float("-inf") if fan.by_s is None else fan.by_s)


def _parts(fans: Sequence[Fan], order: Sequence[Act]) -> tuple[Fan, ...]:
    """Return what is on the part; where something else than closing saves most, no card says that it be closed now."""
    saves = next((act.words.lower() for act in order if act.kind == "rescue" and not act.closes), "")
    parts = (fan for fan in fans if fan.where == "on the part")
    return tuple(replace(fan, words=saves) if saves and fan.urgency == "now" else fan for fan in parts)


def where_of(day: PressDay, batch: BatchState) -> Where | None:
    """Return where a batch stands whose clock matters: none once the day is over, and what heats itself once closed."""
    state = day.state
    if state.ended_s is not None or (state.closed_s is not None and not heats_on(day, batch)):
        return None
    return "on the part" if batch.stays else "in the cup" if batch.status == "in the cup" else None


def _fan(day: PressDay, batch: BatchState, now_s: float) -> Fan:
    """Return a batch; a pour in its channel is soft, setting, firm, and no matter that presses: the next pour is."""
    where, life = where_of(day, batch) or "in the cup", day.alive.get(batch.number)
    in_cup = where == "in the cup"
    pour = not in_cup and day.state.is_casting
    fan = Fan(
        batch=batch.number,
        where=where,
        mass_g=batch.mass_g if in_cup else day.balance.of_batch(batch.number).laid_g,
        urgency="fresh" if pour else "may be over",
        words="life not known",
        mark=doubt(batch, day.parts) or "",
        looks=batch.looks or "",
        mixed_s=batch.mixed_s or 0.0,
        why=day.unknown.get(batch.number, ""),
        of="POUR" if pour else "PART",
    )
    if life is None:
        return fan
    low_s, likely_s, high_s = life.gel_s if pour else life.over_s
    fan = replace(fan, by_s=life.empty_by_s if in_cup else low_s, low_s=low_s, likely_s=likely_s, high_s=high_s)
    if pour:
        return replace(fan, words="soft" if now_s < low_s else "setting" if now_s < high_s else "firm")
    return replace(fan, urgency=life.stage(now_s, day.closing_s), words=life.word(now_s, day.closing_s))


def _step(day: PressDay, now_s: float) -> StepNow | None:
    step = day.state.step_now
    if step is None or day.state.closed_s is not None:
        return None
    steps = day.state.steps
    place = steps.index(step) + 1 if day.is_dry else step.number
    last = max(each.number for each in steps)
    return StepNow(step.number, last, step.plan.name, spent_s(day, now_s), day.planned_s(step), place)


def _press(day: PressDay, found: Dues) -> Press:
    state = day.state
    open_yet = state.closed_s is None and state.ended_s is None
    closes_s = found.ready_s if state.steps else None
    by_s = day.press_by_s
    if state.is_casting:
        return Press(None, None, None, None, state.closed_s, None if state.closed_s is None else day.out_s)
    return Press(
        by_s=by_s,
        if_poured_s=day.press_by_if_poured_s() if open_yet and by_s is None else None,
        ready_s=closes_s,
        spare_s=None if by_s is None or closes_s is None else by_s - closes_s,
        closed_s=state.closed_s,
        out_s=None if state.closed_s is None else day.out_s,
    )


# -- data ----------------------------------------------------------------------------------------------------------


OF_AN_ACT = ("kind", "words", "number", "why", "note", "deadline_s", "urgency", "person", "batch", "step", "seen")
OF_A_FAN = ("batch", "mass_g", "urgency", "words", "mark", "looks", "mixed_s", "low_s", "likely_s", "high_s")
"""What programs are told of an act and of a fan by these names, beside what has another."""


def view_data(day: PressDay, view: BenchView) -> dict[str, object]:
    """Return a view as data: times in seconds of the session, and each band with both its edges."""
    press = asdict(view.press)
    out_s = press.pop("out_s") or (None, None, None)
    return {
        "session": day.folder.name,
        "at_s": view.now_s,
        "mark": view.mark,
        "act": act_data(view.act),
        "others": [act_data(act) for act in view.others],
        "then": [act_data(act) for act in view.then],
        "step": None if view.step is None else asdict(view.step),
        "cups": [_fan_data(each) for each in view.cups],
        "parts": [_fan_data(each) for each in view.parts],
        "press": press | dict(zip(("out_low_s", "out_likely_s", "out_high_s"), out_s, strict=True)),
        "notice": view.notice,
    }


def act_data(act: Act) -> dict[str, object]:
    return {name: getattr(act, name) for name in OF_AN_ACT} | {"expected_s": act.at_s}


def _fan_data(each: Fan) -> dict[str, object]:
    by = "empty_by_s" if each.where == "in the cup" else "open_until_s"
    return {name: getattr(each, name) for name in OF_A_FAN} | {by: each.by_s}


def mode_words(day: PressDay, view: BenchView) -> str:
    """Return what a day is where it is no press day that is written here; empty where it is one."""
    return view.mark or ("LOOKING ON" if day.watching else "")


def looks_on_words(day: PressDay) -> str:
    """Return why nothing is logged here, and how to come to where it is; empty where it is here."""
    if not day.watching:
        return ""
    if isinstance(day.looks_on, HeldError):
        return "Looking on: the app writes. To tap: end layup serve, press 9 in the app"
    return "Looking on, as asked. To tap: start it without --watch"


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
    spare = ("▲ " if spare_s < 0.0 else "") + spare_of(spare_s, "TOO LATE")
    return [by, *unsure, *closes, spare], spare_s < 0.0
