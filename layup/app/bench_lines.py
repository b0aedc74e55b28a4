"""The Bench in characters: the act on top, the worst batch in block digits with its fan, all else in one line each.

Pure: what is shown is the bench view; here is only where it stands and what is left out where there is no room.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import isfinite
from textwrap import wrap

from layup.app.shell import GLYPHS, ROWS, big_lines
from layup.bench.acts import NOTED, TAKES_TIME, Act, Kind
from layup.bench.day import PressDay
from layup.bench.forecast import outlook_of_day
from layup.bench.view import SHAPES, BenchView, Fan, coming, press_words, title_words
from layup.planning.clocks import STAGES
from layup.report.bars import AHEAD, CUP, MARK, PART, WORK, Span, bar, bars, fan, labels, strip
from layup.session.text import shortened
from layup.units import minutes, time_left

LOW, TALL = 16, 30
"""Rows below which the act takes one line and the digits may be plain; rows from which the digits are twice as tall."""
BESIDE = 30
"""Columns beside the digits from which on another batch stands there."""
ESTIMATE = "estimate"
"""Once on the screen: what is counted is no promise."""
STEP_S = 10.0
"""How often a fan moves on: a bar that creeps each second is drawn each second, and tells nobody more."""
BAR = 12
"""Columns of a small bar."""


@dataclass(frozen=True, slots=True)
class BenchLine:
    """One line, with the batch or the key that a tap on it means; what stands beside may be another batch."""

    words: str
    batch: int | None = None
    beside: str = ""
    other: int | None = None
    key: str = ""


@dataclass(frozen=True, slots=True)
class Picture:
    """What the Bench shows, block by block; each line fits its width."""

    act: tuple[BenchLine, ...]
    due: int
    """How urgent the act is, 0 the calm one: from 1 on it has the whole top."""
    main: tuple[BenchLine, ...]
    urgency: int
    rest: tuple[BenchLine, ...]


def act_of_enter(view: BenchView) -> Act | None:
    """Return what Enter does: the act on top or, where that only takes time, what the other one does."""
    return next((act for act in (view.act, *view.others) if act.kind not in TAKES_TIME), None)


def due(act: Act) -> int:
    """Return how much of the top an act takes: 0 for one line; a step is never a matter that presses by itself."""
    return 0 if act.kind == "step" else act.level


ENTER: dict[Kind, str] = {
    "empty cup": "empty", "step": "done", "weigh": "weigh", "close": "closed", "spread outside": "outside",
    "demould": "out", "end": "end", "look": "look", "replan": "replan", "rescue": "seen", "retighten": "done",
    "colour": "added", "scrape": "scraped", "core": "measured", "moisture": "measured",
}  # fmt: skip
"""What the key bar says that Enter does, in a word: the act itself stands on top."""
OF_WORDS = {"PLANE IT": "planed", "LEAVE IT LEVEL": "left level", "SCRAPE IT OFF": "scraped off"}


def enter_words(act: Act | None) -> str:
    """Return what the key bar says that Enter does."""
    if act is None:
        return ""
    usual = ENTER["close"] if act.closes else ENTER.get(act.kind, act.words.lower())
    return OF_WORDS.get(act.words, usual)


def picture(day: PressDay, view: BenchView, *, width: int, rows: int, tabled: bool = False) -> Picture:
    """Return the Bench for a size: what matters most first, what has no room left out whole; steps may be `tabled`."""
    act = _act_lines(day, view, width, rows)
    fans = sorted((*view.cups, *view.parts), key=_worst_first)
    steady_s = view.now_s - view.now_s % STEP_S
    room = rows - len(act)
    main, used = _main(day, view, fans, width, room, steady_s)
    if room - len(main) < len(_deadlines(view)):
        main, used = _main(day, view, fans, width, min(room, ROWS + 2), steady_s)  # its digits give way
    rest = _rest(day, view, fans[used:], width, room - len(main), steady_s, tabled)
    urgency = STAGES.index(fans[0].urgency) if fans else 0
    key = "enter" if act_of_enter(view) is not None else ""
    return Picture(tuple(BenchLine(words, key=key) for words in act), due(view.act), tuple(main), urgency, tuple(rest))


def _worst_first(one: Fan) -> tuple[int, float]:
    return -STAGES.index(one.urgency), float("-inf") if one.by_s is None else one.by_s


# -- the act ---------------------------------------------------------------------------------------------------------


def _act_lines(day: PressDay, view: BenchView, width: int, rows: int) -> list[str]:
    """Return the act, and what the other one does; one that is due has the whole top, with a shape on both sides."""
    act, level = view.act, due(view.act)
    if not level:
        mark = "▶" if act is act_of_enter(view) else " "
        lines = [_with_bar(f"{mark} {_words(day, act, width - 2)}", view, act, width)]
        lines += [f"  {act.beside_bar}"] if act.beside_bar else []
    else:
        shape = SHAPES[act.urgency] * (3 if width >= 60 else 1)
        words = _words(day, act, width - 2 * len(shape) - 6)
        now = "" if level < STAGES.index("now") or "NOW" in words else " NOW"
        head = f"{shape} {words}{now} {shape}"
        lines = [head, *([f"  {act.why}"] if act.why else [])]
        if rows >= LOW:
            lines = ["", *lines, *([] if act.why else [""])]
    if (note := _note(view, width)) and rows >= LOW - 2:
        lines.insert(1 if not level else len(lines), note)
    for other in view.others:
        mark = "▶" if other is act_of_enter(view) else " "
        lines.append(_with_bar(f"{mark} {_words(day, other, width - 2)}", view, other, width))
    return [shortened(line, width) if len(line) > width else line for line in lines]


def _note(view: BenchView, width: int) -> str:
    """Return what an earlier session carried forward to the step on the bench; empty where nothing was."""
    note = next((act.note for act in (view.act, *view.others) if act.note), "")
    return f"  {shortened(f'{NOTED} {note}', width - 2)}" if note else ""


def _words(day: PressDay, act: Act, width: int) -> str:
    """Return an act with whom it is for, its number and by when, as far as there is room."""
    who = f"{act.person.upper()}: " if act.person else ""
    number = f"  {act.amount}" if act.number else ""
    by = "" if act.deadline_s is None or act.kind != "weigh" else f"  by {day.clock_time(act.deadline_s)}"
    return _fitting(width, f"{who}{act.words}{number}{by}", f"{who}{act.words}{number}", f"{act.words}{number}")


def _fitting(width: int, *wordings: str) -> str:
    """Return the first of some wordings that fits, each of which says less; a name that is too long is shortened."""
    return next((words for words in wordings if len(words) <= width), shortened(wordings[-1], max(width, 1)))


def _with_bar(words: str, view: BenchView, act: Act, width: int) -> str:
    """Return an act with the time it takes at the right: of stirring what is left, of the step on the bench a bar."""
    step = view.step
    if act.kind == "stir" and act.deadline_s is not None:
        times = short = time_left(max(act.deadline_s - view.now_s, 0.0))
    elif step is None or act.kind != "step" or act.step != step.number:
        return words
    else:
        short = time_left(step.spent_s) if step.spent_s > 0.0 else ""  # its mix is not stirred yet
        times = f"{step.place}/{step.of}  {f'{short} / ' if short else ''}{minutes(step.planned_s)}"
        over = step.spent_s - step.planned_s
        times += f" ▲ {minutes(over)} over" if over >= 60.0 else ""
        if short and width >= len(words) + len(times) + BAR + 6:
            times += f" ▕{bar(step.spent_s / max(step.planned_s, 1.0), BAR)}▏"
    if len(words) + len(times) + 2 > width:
        times = short
    return f"{words}{times:>{max(width - len(words), len(times) + 1)}}".rstrip()


# -- the worst batch -------------------------------------------------------------------------------------------------


def figure(value: str, width: int, rows: int) -> list[str]:
    """Return a time or a number in block digits, its unit small beside them; in plain text where they do not fit.

    Never a part of a digit: "28 min" is two digits and a word, "2 h 35" is blocks throughout.
    """
    digits, _, unit = value.partition(" ")
    if unit[:2] == "h ":
        digits, unit = f"{digits}h{unit[2:]}", ""
    narrow = max(map(len, big_lines(digits)), default=0) if set(digits) <= set(GLYPHS) else 0
    tall = rows // ROWS
    wide = min((width - len(unit) - 1) // narrow, 2 * tall) if narrow else 0
    if tall < 1 or wide < 1:
        return [value]
    lines = big_lines(digits, wide=wide, tall=tall if wide >= tall else 1)
    return [*lines[:-1], f"{lines[-1]:<{narrow * wide}} {unit}".rstrip()]


def _main(
    day: PressDay, view: BenchView, fans: list[Fan], width: int, rows: int, now_s: float
) -> tuple[list[BenchLine], int]:
    """Return the one big figure with what it counts, and how many of the fans it shows."""
    tall = 2 * ROWS if rows >= TALL else ROWS if rows >= ROWS + 3 else 1
    if not fans:
        return [BenchLine(words) for words in _without_batch(day, view, width, tall, now_s)], 0
    first, beside = fans[0], fans[1:]
    title = title_words(first)
    if first.by_s is None:
        return [BenchLine(shortened(f" {words}", width), first.batch) for words in (title, first.why)], 1
    left = " ".join(filter(None, (day.at_most.strip(), time_left(first.by_s - view.now_s))))
    blocks = figure(left, width - 1, tall)
    if len(blocks) == 1:
        over_s = view.now_s - first.by_s
        left = f"{minutes(over_s)} past {day.clock_time(first.by_s)}" if over_s >= 60.0 else left
        plain = f" {title}  {left}"
        lines = [plain if len(plain) <= width else f" {_where(first)} {first.shape} {first.words.upper()}  {left}"]
    else:
        lines = [f" {title}", *(f" {line}" for line in blocks)]
    if len(lines[0]) + len(ESTIMATE) < width:
        lines[0] = f"{lines[0]:<{width - len(ESTIMATE)}}{ESTIMATE}"
    drawn = [BenchLine(words, first.batch) for words in lines]
    at, used = max(map(len, lines[1:]), default=width) + 3, 1
    if width - at >= BESIDE:
        for place, other in enumerate(beside[: len(blocks) // 2]):
            for row, words in enumerate(_small(day, other, now_s, width - at), 1 + 2 * place):
                drawn[row] = BenchLine(f"{lines[row]:<{at}}", first.batch, words, other.batch)
            used += 1
    return [*drawn, *(BenchLine(words, first.batch) for words in fan_lines(day, first, now_s, width))], used


def _where(one: Fan) -> str:
    return one.name


def fan_lines(day: PressDay, one: Fan, now_s: float, width: int) -> list[str]:
    """Return the fan over the whole width, and the clock under what it shows."""
    low_s, high_s = one.low_s or 0.0, one.high_s or 0.0
    by_s = one.by_s or 0.0
    end_s = max(high_s if isfinite(high_s) else low_s, now_s) + 0.02 * (low_s - one.mixed_s)
    word = "thick?" if one.where == "in the cup" else "firm?" if one.of == "POUR" else "shut?"
    cells = width - 3
    drawn = fan(one.mixed_s, now_s, by_s, low_s, high_s, end_s, cells, word=word)
    marks = [(by_s, f"{one.until} {day.clock_time(by_s)}"), (low_s, day.clock_time(low_s))]
    marks += [(high_s, day.clock_time(high_s))] if isfinite(high_s) else []
    marks.append((one.mixed_s, day.clock_time(one.mixed_s)))
    return [f" ▕{drawn}▏", f"  {labels(marks, one.mixed_s, end_s, cells)}".rstrip()]


def _small(day: PressDay, one: Fan, now_s: float, width: int) -> list[str]:
    """Return a batch in two lines: what it is and by when, and a small fan."""
    if one.by_s is None or one.low_s is None or one.high_s is None:
        return [shortened(title_words(one), width), shortened(one.why, width)]
    mark = f" ! {one.mark.upper()}" if one.mark else ""
    words = f"{_where(one)}{mark} {one.shape} {one.until} {day.clock_time(one.by_s)}"
    end_s = max(one.high_s if isfinite(one.high_s) else one.low_s, now_s)
    drawn = fan(one.mixed_s, now_s, one.by_s, one.low_s, one.high_s, end_s, width - 2)
    return [shortened(words, width), f"▕{drawn}▏"]


def _without_batch(day: PressDay, view: BenchView, width: int, tall: int, now_s: float) -> list[str]:
    """Return what there is to count while no batch lives: until the part may come out, or what to weigh."""
    out = view.press.out_s
    if out is not None and view.press.closed_s is not None:
        if not isfinite(out[1]):
            return [f" {'PLANE' if day.state.is_casting else 'OUT'}: not at this temperature"]
        *weekday, digits = day.clock_time(out[1]).split()
        lines = [
            f" {'PLANE' if day.state.is_casting else 'OUT'} ≈ {' '.join(weekday)}".rstrip(),
            *(f" {line}" for line in figure(digits, width - 1, tall)),
        ]
        start_s, end_s = view.press.closed_s, out[2] if isfinite(out[2]) else out[1]
        drawn = fan(start_s, now_s, out[1], out[0], out[2], max(end_s, now_s), width - 3)
        ends = [(out[1], day.clock_time(out[1])), (out[0], day.clock_time(out[0])), (start_s, day.clock_time(start_s))]
        return [*lines, f" ▕{drawn}▏", f"  {labels(ends, start_s, max(end_s, now_s), width - 3)}".rstrip()]
    return [f" {line}" for line in figure(view.act.number, width - 1, tall)] if view.act.number else []


# -- all else --------------------------------------------------------------------------------------------------------


def _rest(
    day: PressDay, view: BenchView, fans: list[Fan], width: int, rows: int, now_s: float, tabled: bool
) -> list[BenchLine]:
    """Return all else, one line each, the most wanted first and in that order, as many as there is room for."""
    words, step = list[str](), view.step
    shown = {act.step for act in (view.act, *view.others) if act.kind == "step"}
    if step is not None and step.number not in shown:
        name = f" STEP {shortened(step.name, min(26, max(width - 15, 8)))}"
        words.append(_with_bar(name, view, Act("step", "", "", step=step.number), width))
    then = _then(day, view, width, tabled)
    cut = len(words) + len(then) > rows and _deadlines(view)
    words = [*_then(day, replace(view, then=_deadlines(view)), width, tabled), *words] if cut else words + then
    words += wrap(f"! {view.notice}", width - 1, initial_indent=" ", subsequent_indent="   ") if view.notice else []
    lines = [BenchLine(shortened(line, width) if len(line) > width else line) for line in words]
    lines += [BenchLine(shortened(_line(day, one, now_s, width), width), one.batch) for one in fans]
    lines = lines[: max(rows, 0)]
    strips = [BenchLine(line) for line in day_strips(day, view, width, now_s, clocks=rows >= TALL // 2, tabled=tabled)]
    return [*lines, *strips] if len(lines) + len(strips) <= rows else lines


def _deadlines(view: BenchView) -> tuple[Act, ...]:
    """Return what comes by a deadline: nothing else on the screen takes its room, least of all a message."""
    return tuple(act for act in view.then if act.deadline_s is not None and act.kind != "step")


def _then(day: PressDay, view: BenchView, width: int, tabled: bool) -> list[str]:
    """Return the next two acts with their times, on one line where they fit; no step where all stand in a table."""
    step = None if view.step is None else view.step.number
    acts = [
        _coming(day, act, width - 6) for act in view.then if act.kind != "step" or (act.step != step and not tabled)
    ]
    line = " THEN " + " · ".join(acts)
    if not acts or len(line) <= width:
        return [line] if acts else []
    return [f" THEN {acts[0]}", *(f"      {words}" for words in acts[1:])]


def _coming(day: PressDay, act: Act, width: int) -> str:
    """Return an act that comes, with its time where there is room."""
    words, at = coming(day, act)
    number = f" {act.told}" if act.number else ""
    return _fitting(width, f"{words}{number}{at}", f"{words}{at}", words)


def _line(day: PressDay, one: Fan, now_s: float, width: int) -> str:
    """Return a batch on one line, with a small fan where there is room."""
    words, drawn = _small(day, one, now_s, min(BAR + 2, width))
    words = _small(day, one, now_s, width)[0]
    return f" {words:<{width - len(drawn) - 3}} {drawn}" if width - len(drawn) - 4 >= len(words) else f" {words}"


def day_strips(day: PressDay, view: BenchView, width: int, now_s: float, *, clocks: bool, tabled: bool) -> list[str]:
    """Return the whole day on one axis: each batch in its cup and on the part, and by when the press must close.

    Over a table of steps it is the axis of that, too.
    """
    press = view.press
    if press.closed_s is not None or press.ready_s is None:
        return []
    by_s, end_s = press.by_s or press.if_poured_s, _day_end_s(view)
    rows = [("day", [Span(0.0, now_s, "█"), Span(now_s, press.ready_s, "·")]), *_lives(day, end_s)]
    margin = STEP_COLUMNS - 1 if tabled else 1
    drawn = bars([(f" {name}".ljust(margin), spans) for name, spans in rows], end=end_s, width=width - 1, mark=by_s)
    if not clocks:
        return drawn
    label = STEP_COLUMNS if tabled else max(len(name) for name, _ in rows) + 2
    marks = [] if by_s is None else [(by_s, f"{MARK} press by")]
    marks += [(press.ready_s, f"≈ {day.clock_time(press.ready_s)} closed"), (0.0, day.clock_time(0.0))]
    return [*drawn, f"{'':{label}}{labels(marks, 0.0, end_s, width - 1 - label)}".rstrip()]


def _day_end_s(view: BenchView) -> float:
    """Return where the axis of the day ends: past the closing and past when the press must be closed."""
    press = view.press
    return 1.02 * max(press.ready_s or view.now_s, press.by_s or press.if_poured_s or 0.0, view.now_s, 1.0)


def _lives(day: PressDay, end_s: float) -> Iterator[tuple[str, list[Span]]]:
    for batch in day.state.batches:
        life = day.alive.get(batch.number)
        if batch.mixed_s is None or life is None:
            continue
        out_s = batch.poured_out_s
        spans = [Span(batch.mixed_s, min(life.empty_by_s if out_s is None else out_s, end_s), CUP)]
        spans += [] if out_s is None else [Span(out_s, min(life.over_s.low, end_s), PART)]
        yield f"{batch.number}", spans


# -- the steps -------------------------------------------------------------------------------------------------------

STEP_COLUMNS = 56
"""Columns of a step before its bar."""
DONE_STEPS = 1
"""How many steps are shown before the one on the bench where there is no room for all."""


def step_lines(day: PressDay, view: BenchView, *, width: int, rows: int) -> list[str]:
    """Return the steps, or those around the one on the bench: planned and real minutes, when done, and a bar.

    The day's table, on the day's axis: no more than `rows` lines, the first of which says what stands below it.
    """
    state, now_s = day.state, view.now_s
    room, cells = STEP_COLUMNS - 30, width - STEP_COLUMNS
    end_s = _day_end_s(view)
    ends_s = outlook_of_day(day, now_s).ends_s
    here = next((place for place, step in enumerate(state.steps) if step is state.step_now), len(state.steps))
    lines, before_s = [], 0.0
    for place, step in enumerate(state.steps):
        batches = "+".join(str(batch.number) for batch in state.batches if step.number in batch.steps)
        took_s, mark, done_s = step.took_s, " ", ends_s.get(step.number, now_s)
        begin_s = before_s
        if not step.left:
            done_s, mark = (before_s, "-") if step.done_s is None else (step.done_s, "x")
            begin_s = done_s - (took_s or 0.0)
        elif place == here:
            took_s, mark = None if view.step is None else view.step.spent_s or None, "▸"
            begin_s = now_s - (took_s or 0.0)
        before_s = done_s
        words = day.clock_time(done_s) if mark != "-" else "out" if step.skipped_s is not None else "merged"
        took = "" if took_s is None else f"{took_s / 60:.0f}"
        plan_min, name = day.planned_s(step) / 60, shortened(step.plan.name, room)
        line = f" {mark} {step.number:>2} {name:<{room}} {batches:>4} {plan_min:>5.0f} {took:>4} {words:>6} "
        spans = [Span(begin_s, done_s, WORK if mark == "x" else AHEAD), Span(begin_s, min(now_s, done_s), WORK)]
        drawn = strip([one for one in spans if one.end > one.begin], 0.0, end_s, cells) if cells >= BAR else ""
        lines.append(f"{line}{drawn}".rstrip())
    first = max(min(here - DONE_STEPS, len(lines) - rows + 1), 0)
    shown = lines[first:][: max(rows - 1, 0)]
    return [f" {'':{room + 5}} {'cup':>4} {'plan':>5} {'took':>4} {'done':>6}", *shown]


# -- the line on top -------------------------------------------------------------------------------------------------


def top_words(day: PressDay, view: BenchView, width: int, *, at: str) -> tuple[str, bool]:
    """Return the line that always stands on top, and whether it is urgent: the press; elsewhere the act before it.

    What is not saved, and a clock that is not sure, go before both; what has no room is left out from its end.
    """
    act, level = view.act, due(view.act)
    head, _, _ = day.fault.partition(":")
    first = [head] if head else []
    first += ["CLOCK UNSURE"] if day.state.clock_unsure else []
    told = at == "bench" or act.kind in ("save", "answer clock")
    first += [f"{SHAPES[act.urgency]} {act.words}"] if level and not told else []
    urgent = bool(first) and (level > 1 or bool(head) or day.state.clock_unsure)
    ended = day.state.ended_s is not None
    pieces, late = (
        (["SESSION ENDED", "S for the next plan"], False) if ended else press_words(day, view, out=at != "cure")
    )
    line = "  ".join([*first, pieces[0]])
    line = "  ".join(first) if first and len(line) > width else line  # a cut time would be another one
    for piece in pieces[1:]:
        line += f" · {piece}" if len(line) + len(piece) + 3 <= width else ""
    return line, urgent or late
