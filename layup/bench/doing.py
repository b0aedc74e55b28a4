"""What an act does: which events are logged for it, and what is asked first. The surfaces only pass the key."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from math import isfinite
from typing import Literal

from layup.bench.acts import TAKES_TIME, Act, ranked
from layup.bench.changes import press_act_done, supposed
from layup.bench.cup_dues import stirs_for_s
from layup.bench.day import HERE, LogSurface, PressDay, Said
from layup.bench.dues import dues, next_at_press
from layup.bench.forecast import out_likely_s, outlook_of, part_under_press, work_out
from layup.bench.opening import rescue_now
from layup.errors import LayupError
from layup.review.pace import dry_run_in
from layup.session.batch_events import CupTemperatureRead, Demoulded, Observation, PressClosed
from layup.session.day_events import AlarmAcknowledged, Checked, SessionEnded, TemperatureRead, WoodMoistureRead
from layup.session.lifetimes import SET_ASIDE
from layup.session.mass_balance import without_mix
from layup.session.state import Event
from layup.session.state_parts import BatchState
from layup.session.text import clean, number_runs
from layup.units import mass, minutes, temperature

REPLAN_AFTER = ("rescue", "spread outside")
"""Acts that lose a batch: how the rest of the day goes on is asked next."""
DRAWN_FOR_S = 1.0
"""How long an act must have been drawn before the key does it (common practice, no source)."""
RELEASE = "Let the pressure off first: presses, bladders and clamps store force."

Answer = str | float | bool | None
"""What was answered: a reading or a word, a mass or a temperature, yes or no; None where nobody was asked yet."""
QuestionKind = Literal[
    "lay anyway", "laid", "close anyway", "looks", "sure", "out", "end", "clock", "temperature", "scale", "replan",
    "core", "moisture", "undo",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Question:
    """What has to be asked before an act is logged; the answer goes to `do` with the same act.

    "lay anyway", "close anyway", "sure", "out", "end": yes or no; with a word for a look in `about`, a yes goes to
    `looks`, with a reading to `PressDay.read_scale`. "looks": a `LookWord`. "laid": grams that stay on the
    part, of `most_g`, usually `usual_g`. "temperature", "core": in K. "moisture": a share. "scale": a reading, an empty
    one for the number shown. "clock": yes where the computer's clock is right, else `PressDay.tell_clock`. "replan":
    the rest planned anew is shown, and no where the batches stay as they were. "undo": a yes goes to `undo` with what
    it is `about`.
    """

    kind: QuestionKind
    act: Act
    title: str
    usual_g: float = 0.0
    most_g: float = 0.0
    about: str = ""


def do(day: PressDay, act: Act, answer: Answer = None) -> Said | Question:
    """Do an act as it was drawn: log what it logs, or return what must be asked first; the answer comes with it."""
    if day.watching:
        return day.log(AlarmAcknowledged(alarm=act.key, rank=act.rank), "")
    batch = day.state.batch(act.batch)
    if act.kind in ("empty cup", "spread outside", "look") and batch is not None:
        return _cup(day, act, batch, answer)
    if act.kind in ("weigh", "pour resin", "read scale", "add") and batch is not None:
        if not isinstance(answer, str):
            return Question("scale", act, f"Batch {batch.number}: the scale should show {act.number}")
        if odd := day.readings(batch.number).odd(answer):
            return Question("sure", act, odd, about=answer)
        return day.read_scale(batch.number, answer)
    if act.kind in ("pour hardener", "start clock") and batch is not None:
        return day.hardener_in(batch.number)
    if act.kind in ("colour", "scrape"):
        words = clean(_small(act))
        return day.log(Checked(item=act.key, words=words), f"{words}: undo takes it back")
    if act.kind in ("core", "moisture"):
        return _core(day, act, answer)
    if act.kind in ("step", "close", "rescue"):
        return _work(day, act, answer)
    return _others(day, act, answer)


def _small(act: Act) -> str:
    """Return one of the small acts of a pour as it is kept."""
    return f"{act.number} {act.words.lower()}" if act.kind == "colour" else f"cup {act.batch} scraped out"


def _core(day: PressDay, act: Act, answer: Answer) -> Said | Question:
    """Log how warm or how wet the core is."""
    if act.kind == "core":
        if not isinstance(answer, float):
            return Question("core", act, "Temperature of the core")
        return day.log(TemperatureRead(place="mould", temperature_K=answer), f"core at {temperature(answer, '.1f')}")
    if not isinstance(answer, float):
        return Question("moisture", act, "Moisture of the core")
    return day.log(WoodMoistureRead(moisture_fraction=answer), f"core at {100 * answer:.0f} % moisture")


def _cup(day: PressDay, act: Act, batch: BatchState, answer: Answer) -> Said | Question:
    if act.kind == "look":
        if not isinstance(answer, str):
            return Question("looks", act, f"Batch {batch.number} looks")
        return looks(day, batch.number, answer)
    if act.kind == "empty cup":
        stands, stirring = day.doubt(batch.number), _stirring_words(day, batch)
        if stands and answer is None:
            return _lay_anyway(day, act, [batch.number])
        if stirring and answer is None:
            return Question("sure", act, f"{stirring}\n\nIs its cup empty already?")
        return kept(day, batch.number) if answer is False else day.poured_out(batch.number, stands)
    if batch.lost_s is not None:
        return seen(day, act)
    return _lost(day, act, batch, answer)


def _stirring_words(day: PressDay, batch: BatchState) -> str:
    """Say that a cup is still to be stirred; empty where it is not."""
    left_s = stirs_for_s(day, batch, day.now_s())
    return f"Batch {batch.number} is stirred until {day.clock_time(day.now_s() + left_s)}." if left_s else ""


def looks(day: PressDay, number: int, word: str, *, sure: bool = False) -> Said | Question:
    """Log how a batch looks, by a `LookWord`, or why not.

    One that the model cannot explain is asked again, with what it does to the closing, unless somebody is `sure`.
    """
    if sure or not (title := _doubted(day, number, word)):
        return day.observed(number, word)
    return Question("sure", Act("look", "", f"cup {number}", batch=number), title, about=word)


def gelled_early(day: PressDay, batch: BatchState) -> str:
    """Ask about a batch said to be lost as gelled sooner than the model can explain; empty where it can."""
    life = day.alive.get(batch.number)
    return "" if life is None or day.now_s() >= life.over_s.low else _doubted(day, batch.number, "gelled")


def _doubted(day: PressDay, number: int, word: str) -> str:
    """Ask about a look that the model cannot explain, with what it does to the closing; empty where it can."""
    after = supposed(day, [Observation.model_validate({"batch": number, "word": word})])
    if isinstance(after, str):
        return ""
    before, now = day.today, after.today
    if before is None or now is None or now.strange <= before.strange:
        return ""
    by, then = _press_by_words(day), _press_by_words(after)
    moved = f"Press by {then}, not {by}." if then != by else "It moves no deadline."
    if now.aside > before.aside:
        moved = f"{SET_ASIDE[0].upper()}{SET_ASIDE[1:]}.\n{moved}"
    return f"{_as_foretold(day, number, word)}\n{moved}\n\nSure?"


def _as_foretold(day: PressDay, number: int, word: str) -> str:
    """Say how a batch looks, after how long, and when that was foretold."""
    before = day.alive.get(number)
    if before is None:
        return f"Batch {number}?"
    low, high = (day.clock_time(edge_s) for edge_s in (before.over_s.low, before.over_s.high))
    return f"Batch {number} {word}, after {minutes(day.now_s() - before.mixed_s)}? Foretold {low}-{high}."


def _press_by_words(day: PressDay) -> str:
    return "open" if day.press_by_at_best_s is None else day.clock_time(day.press_by_at_best_s)


def laid_question(batch: BatchState) -> str:
    """Ask how much of a lost batch stays on the part."""
    return f"Batch {batch.number}, {mass(batch.poured_g)}: how much of it stays on the part?"


def _lost(day: PressDay, act: Act, batch: BatchState, answer: Answer) -> Said | Question:
    """Log a batch as lost, once it is known how much of it stays on the part."""
    if isinstance(answer, float):
        word = batch.looks
        life = day.alive.get(batch.number)
        over = life is None or day.now_s() >= life.due(day.closing_s).by_s
        return day.lost(batch, word if word not in (None, "runny") else "past its time" if over else "other", answer)
    usual_g = 0.0 if act.kind == "rescue" else day.laid_so_far_g(batch)
    return Question("laid", act, laid_question(batch), usual_g=usual_g, most_g=batch.poured_g)


def _lay_anyway(day: PressDay, act: Act, doubtful: list[int]) -> Question:
    words = "\n".join(doubt_words(day, number) for number in doubtful)
    return Question("lay anyway", act, f"{words}\n\nLay it anyway?")


def doubt_words(day: PressDay, number: int) -> str:
    """Return what stands against laying a batch, and what to do instead."""
    life = day.alive.get(number)
    if day.doubt(number) != "hot" or life is None or life.read_K is None:
        return day.readings(number).doubt_words()
    return (
        f"Batch {number} is HOT: {temperature(life.read_K[1])} in its cup.\nIt may set as you lay it: carry it outside."
    )


def kept(day: PressDay, number: int) -> Said:
    """Say what becomes of a batch in doubt that is not laid."""
    todo = "carry it outside now" if day.doubt(number) == "hot" else "read or put it right at the scale"
    return Said(f"batch {number} stays in its cup: {todo}", False)


def _work(day: PressDay, act: Act, answer: Answer) -> Said | Question:
    """A step done, the press closed, or what saves most of a part that is late."""
    if act.kind == "step":
        refused = day.step_refusal()
        if refused or day.state.step_now is None or day.state.step_now.number != act.step:
            return Said(refused or "not now: another step is on the bench", False)
        if doubtful := day.doubtful_cups():
            if answer is None:
                return _lay_anyway(day, act, doubtful)
            return kept(day, doubtful[0]) if answer is False else day.step_done(day.doubt(doubtful[0]))
        stirring = max((_stirring_words(day, batch) for batch in day.laid_from()), default="")
        if stirring and answer is None:
            return Question("sure", act, f"{stirring}\n\nIs the step done already?")
        return Said("the step goes on: stir first", False) if answer is False else day.step_done()
    if act.kind == "rescue":
        rescue = rescue_now(day)
        first = day.state.batch(act.batch)
        if rescue.kind == "scrape" and first is not None and first.lost_s is None:
            return _lost(day, act, first, answer)
        if not rescue.closes:
            return seen(day, act)
    missing = closing_doubts(day)
    if missing and answer is None:
        title = "\n".join([*(f"! {words}" for words in missing), "", "Log closed anyway?"])
        return Question("close anyway", act, title)
    if answer is False:
        return Said("the press stays open", False)
    if day.state.is_casting:
        return day.log(PressClosed(), "poured: leave it level until it is firm")
    return day.log(PressClosed(), f"press closed: leave it shut, clear of the {day.closing.method}")


def closing_doubts(day: PressDay) -> tuple[str, ...]:
    """Return what is not done yet that a press is closed after, in words; nothing where all is."""
    state = day.state
    dry = [batch for batch in state.batches if batch.status in ("to mix", "weighed", "in the cup")]
    missing = [f"batch {batch.number} ({mass(batch.plan.mass_g)}): {batch.status}" for batch in dry]
    if unmixed := without_mix(state, day.balance):
        missing.append(f"no mix: {_steps(unmixed)}")
    if left := [step.number for step in state.steps if step.left]:
        missing.append(f"not done: {_steps(left)}")
    return tuple(missing)


def _steps(numbers: Collection[int]) -> str:
    return f"step{'' if len(numbers) == 1 else 's'} {number_runs(numbers)}"


def _others(day: PressDay, act: Act, answer: Answer) -> Said | Question:
    if act.kind == "answer clock":
        if answer is True:
            return day.tell_clock()
        return Question("clock", act, "Is the computer's clock right?")
    if act.kind == "temperature":
        if isinstance(answer, float):
            return temperature_read(day, "air", answer)
        return Question("temperature", act, "Temperature of the shop")
    if act.kind == "retighten":
        return press_act_done(day, act.key)
    if act.kind == "replan":
        return seen(day, act) if answer is False else Question("replan", act, "The rest of the day")
    if act.kind == "demould":
        if answer is None:
            return Question("out", act, f"{_too_early(day)}{out_question(day)}")
        stays = "it is not planed yet" if day.state.is_casting else "it stays in the mould"
        return taken_out(day) if answer else Said(stays, False)
    if act.kind == "end":
        if answer is None:
            return Question("end", act, end_question(day))
        return ended(day) if answer else Said("it goes on", False)
    if act.kind == "save":
        day.tick()
        return Said(day.fault or "saved: every entry is on the disk", True)
    return Said(_nothing_to_log(day, act), True) if act.kind in TAKES_TIME else seen(day, act)


def _too_early(day: PressDay) -> str:
    """Warn of a part that by the estimate may not leave its mould yet, or of which nothing is foretold."""
    try:
        part = part_under_press(day)
        words = "" if part is None else work_out(part, outlook_of(day)).early_words(part.now_s)
    except LayupError as error:
        words = f"▲ How far it has cured is {error.not_known}"
    return words and f"{words}\n\n"


def out_question(day: PressDay) -> str:
    """Ask whether the part is out of the mould, or a casting planed."""
    return "Is it planed flush?" if day.state.is_casting else f"Is the part out of the mould? {RELEASE}"


def still_inside(day: PressDay) -> bool:
    """Say whether the part is in its mould."""
    return day.state.closed_s is not None and day.state.demoulded_s is None and not day.is_dry


def end_question(day: PressDay) -> str:
    """Ask whether to end the session."""
    if day.mark == "PLAY":
        return "End this session? It was for play: nothing of it stays."
    if not still_inside(day):
        return "End this session? It stays in the logbook."
    now_s = day.now_s()
    act, out = next_at_press(day, now_s), "the casting planed" if day.state.is_casting else "the part out"
    try:
        out_s = out_likely_s(day)
    except LayupError:
        out_s = None  # nothing is foretold
    if out_s is not None and now_s < out_s and isfinite(out_s):
        out = f"{out} at ≈ {day.clock_time(out_s)}"
    at_press = "" if act is None else f"{act.words.lower()} at {day.clock_time(act.at_s or now_s)}, "
    return f"End this session? Still to come: {at_press}{out}. Its clock to demoulding ends too."


def taken_out(day: PressDay) -> Said:
    """Log that the part is out of the mould, or a casting planed."""
    return day.log(Demoulded(), "planed" if day.state.is_casting else "the part is out of the mould")


def ended(day: PressDay, words: str = "session ended: it is in the logbook") -> Said:
    """Log the end of a session; of a dry run say what of it counts, of a day for play that nothing stays."""
    words = "session ended: nothing of it stays" if day.mark == "PLAY" else words
    run = dry_run_in(day.state, day.plan) if day.is_dry and day.is_known else None
    return day.log(SessionEnded(), words if run is None else run.counted)


def temperature_read(day: PressDay, place: str, read_K: float) -> Said:
    """Log the temperature of the air, the mould, the cans or a cup [K], as somebody read it; say what it moves."""
    if place.startswith("cup "):
        event: Event = CupTemperatureRead(batch=int(place.removeprefix("cup ")), temperature_K=read_K)
    else:
        event = TemperatureRead.model_validate({"place": place, "temperature_K": read_K})
    follows = place != "resin" and day.state.closed_s is None
    moves = "every countdown follows it" if follows else _out_moved(day, event)
    return day.log(event, ": ".join(filter(None, (f"{place} at {temperature(read_K, '.1f')}", moves))))


def _out_moved(day: PressDay, event: Event) -> str:
    """Say how an entry moves the time at which the part may come out; empty where there is none, or it stays."""
    after = supposed(day, [event])
    try:
        ends = [None if isinstance(each, str) else out_likely_s(each) for each in (day, after)]
    except LayupError:
        return ""  # nothing is foretold
    was, out = ("" if end_s is None else day.clock_time(end_s) for end_s in ends)
    return f"out ≈ {out}, was {was}" if out and out != was else ""


def _nothing_to_log(day: PressDay, act: Act) -> str:
    """Return what to say of an act that only takes time."""
    what = act.words.capitalize()
    until_s = act.deadline_s
    return f"{what} until {day.clock_time(until_s)}" if until_s is not None and isfinite(until_s) else what


def seen(day: PressDay, act: Act | None = None) -> Said:
    """Log that somebody has seen an act: it waits, and makes no noise, until it gets more urgent.

    Which, unless it is said: the one on top, or where that is calm the loudest that nobody has seen.
    """
    act = act or to_be_seen(day)
    if act is None:
        return Said("not now: nothing here waits to be seen", False)
    return day.log(AlarmAcknowledged(alarm=act.key, rank=act.rank), f"seen: {act.words.lower()}")


def to_be_seen(day: PressDay) -> Act | None:
    """Return what the key for "seen" is about: the act on top if it is urgent, else the loudest alarm."""
    now_s = day.now_s()
    found = dues(day, now_s)
    top = ranked(found.standing)[0]
    if not top.seen and (top.alarm or top.level) and top.kind != "step":
        return top
    step = day.state.step_now
    met = step is not None and any(act.note for act in found.standing)
    note = day.note_at(step.plan.name) if met and step is not None else None
    if note is not None:
        return Act("step", note.text, note.key)
    loud = (act for act in ranked((*found.standing, *found.coming)) if act.alarm and not act.seen)
    return next((act for act in loud if act.since_s <= now_s), None)


def undo(day: PressDay, surface: LogSurface, sure_of: str = "") -> Said | Question:
    """Take the last entry back, asked first where another surface logged it: a yes is for that entry alone."""
    seq = day.state.undoable
    record, by = day.state.record(seq), day.entered_on.get(seq or 0, HERE)
    if record is None or by == surface or sure_of == f"{seq}":
        return day.undo()
    whose = f"another {by.kind}" if by.kind == surface.kind else f"the {by.kind}"
    title = f"Take back {record.describe_in(day.state)}, from {whose}?"
    return Question("undo", Act("wait", "", "undo"), title, about=f"{seq}")


@dataclass(frozen=True, slots=True)
class OnScreen:
    """What stands on a screen and since when: a key does an act only if it has been drawn for a second."""

    act: Act | None = None
    since_s: float = 0.0

    def drawn(self, act: Act, at_s: float) -> OnScreen:
        """Return this after `act` was drawn at a time of any clock that only goes on."""
        same = self.act is not None and self.act.is_same_as == act.is_same_as
        return replace(self, act=act) if same else OnScreen(act, at_s)

    def meant(self, at_s: float) -> Act | None:
        """Return the act that a key pressed at a time means; None where what is drawn is too new to have been read."""
        return self.act if at_s - self.since_s >= DRAWN_FOR_S else None
