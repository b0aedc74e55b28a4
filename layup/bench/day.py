"""The press day as the app holds it: a journal to write or to look on, the state it amounts to, and the clocks.

Key -> decision -> event appended -> state folded -> lifetimes: no widget here, so tests drive it by hand.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import inf, isfinite
from pathlib import Path

from layup.bench.as_used import AsUsed
from layup.bench.scale_readings import ScaleReadings, usual_pour_s
from layup.chemistry.calibration import Calibration
from layup.chemistry.datasheet import Datasheet
from layup.errors import LayupError
from layup.planning.crew import pace_of
from layup.planning.plan import Plan
from layup.review.lessons import Lessons
from layup.review.pace import HASTY
from layup.session.batch_events import BatchLost, BatchMixed, BatchPouredOut, Observation, PourRead, StepDone
from layup.session.clock import ROUNDED, Clock, advance
from layup.session.day_events import Undone
from layup.session.fields import Doubt
from layup.session.folder import HeldError
from layup.session.journal import Journal
from layup.session.lifetimes import DayLives, Lifetime, Today, careful, lives_of_day
from layup.session.lifetimes import fresh_cup_s as cup_life_s
from layup.session.mass_balance import MassBalance, doubt, laid_by_steps_g, mass_balance
from layup.session.reader import Follower
from layup.session.records import refusal
from layup.session.state import Event
from layup.session.state_parts import BatchState, StepState
from layup.units import clock_time, in_minutes, mass

SAVED = "saved now: every entry is on the disk"
REPLANNED_WITH, AT_ONCE_S = ("step-skipped", "step-added", "mix-left"), 1.0
"""What changes the batches by itself; both are one act, and logged within a moment."""
OFTEN_S = 60.0
"""How often a number is worked out anew that only drifts."""


@dataclass(frozen=True, slots=True)
class Said:
    """What to tell the person who pressed a key; `done` is whether it was logged."""

    words: str
    done: bool


@dataclass(frozen=True, slots=True)
class LogSurface:
    """Where somebody logs: the bench computer, or a page on another device; `device` tells two of a kind apart."""

    kind: str = "bench computer"
    device: str = ""


HERE = LogSurface()


class PressDay(AsUsed):
    """One session, running or looked on, with its plan and resin as used."""

    def __init__(
        self,
        source: Journal | Follower,
        folder: Path,
        plan: Plan | LayupError,
        sheet: Datasheet | LayupError,
        clock: Clock,
        *,
        looks_on: LayupError | None = None,
    ) -> None:
        """`plan` and `sheet` may be why they cannot be read: all that needs none of them goes on."""
        super().__init__(source, plan, sheet)
        self.folder = folder
        self.clock = clock
        self.looks_on = looks_on
        """Why this process only looks on."""
        self.offered = False
        """Whether it was asked to write on for a writer that is gone."""
        self.greeting = ""
        self.entered_on: dict[int, LogSurface] = {}
        """The entries that were logged on pages; all others are the bench computer's."""
        self.window_K: tuple[float | None, float | None] = (None, None)
        """The shop temperatures between which the plan works; None where that is not known."""
        self.out_s: tuple[float, float, float] | None = None
        """When the part may come out (low, likely, high), as `cure.work_out` found it last; None before that."""
        self.thermometer_silent_s: float | None = None
        """For how long the thermometer that is followed has not spoken; None where it has, or none is followed."""
        self._lives = DayLives(None, {}, {})

        self._alive_of: tuple[object, ...] = ()
        self._balance = MassBalance(())
        self._balance_of: tuple[object, ...] = ()
        self._if_poured: tuple[float, object, float | None] = (-inf, None, None)
        self._spare: dict[object, float] = {}

    def use(self, lessons: Lessons) -> None:
        """Go by what earlier sessions taught, where the day was planned with it."""
        if self.state.start is not None and self.state.start.lessons_used:
            self.learn(lessons)
            self._alive_of = ()

    @property
    def watching(self) -> bool:
        """Whether this process only looks on."""
        return isinstance(self.source, Follower)

    def clock_time(self, at_s: float) -> str:
        """Return a moment of the session as the clock on the wall shows it, with the day where it is not today."""
        if not isfinite(at_s):
            return "not within two weeks"
        seconds = self.state.is_casting and self.state.closed_s is None
        return clock_time(self.moment(at_s), self.moment(self.now_s()).date(), seconds=seconds)

    def tell_clock(self, utc: datetime | None = None) -> Said:
        """Log what time it is after the machine was off; None for what its clock shows."""
        if isinstance(self.source, Follower):
            return Said(f"only looking on: {self._why_looking_on()}", False)
        behind = (utc or self.clock.utc()) < self.least_utc - ROUNDED
        counted_s = self.source.tell_clock(utc)
        more = f": {in_minutes(counted_s)} more are counted" if counted_s else ""
        more = ", before the last entry: 0 min are counted, all may be older" if behind else more
        return Said(self.source.fault or f"it is {self.clock_time(self.now_s())}{more}", True)

    @property
    def least_utc(self) -> datetime:
        """What time it is at least, by all that is known."""
        moment = self.state.moment
        return self.clock.utc() if moment is None else advance(moment, self.clock)[0].least_utc

    @property
    def at_least(self) -> str:
        """What goes before an age, where nobody has said yet for how long the machine was off."""
        return "at least " if self.state.clock_unsure else ""

    @property
    def at_most(self) -> str:
        """What goes before a time that is left."""
        return "at most " if self.state.clock_unsure else ""

    def moment(self, at_s: float) -> datetime:
        """Return a moment of the session, in the time of this place: as it was told, or as the clock shows it."""
        if self.state.told is not None:
            return self.state.told.time(at_s).astimezone()
        return (self.clock.utc() + timedelta(seconds=at_s - self.now_s())).astimezone()

    @property
    def fault(self) -> str:
        """Why something is not saved, or cannot be seen any more; empty where all is well."""
        return self.source.fault

    @property
    def mended(self) -> str:
        """What another program did to the session's files, and what was done about it; empty if nothing was."""
        return self.source.mended

    def _known_lives(self) -> DayLives:
        """Return what is known of the batches, worked out anew when a batch or a temperature changed."""
        state = self.state
        known = state.batches, state.air, state.mould, state.resin, state.forecast
        if known != self._alive_of:
            self._lives, self._alive_of = lives_of_day(state, self._resin), known
        return self._lives

    @property
    def alive(self) -> dict[int, Lifetime]:
        """The lifetime of each mixed batch for which it can be worked out."""
        return self._known_lives().alive

    @property
    def on_part(self) -> list[Lifetime]:
        """Those of what is on the part."""
        return [life for life in self.alive.values() if life.where == "on the part"]

    @property
    def unknown(self) -> dict[int, str]:
        """Each mixed batch for which it cannot, and why."""
        return self._known_lives().unknown

    @property
    def today(self) -> Today | None:
        """What today's batches have taught of the resin; None where that cannot be read."""
        return self._known_lives().today

    @property
    def calibration_now(self) -> Calibration:
        """The resin as today's batches have taught it."""
        return self.calibration if self.today is None else self.today.calibration

    @property
    def learnt_words(self) -> tuple[str, ...]:
        """What they taught, in words."""
        return () if self.today is None else self.today.words

    @property
    def balance(self) -> MassBalance:
        """Where all mix is, worked out anew when a batch or a step changed."""
        known = self.state.batches, self.state.steps, self._plan
        if known != self._balance_of:
            self._balance = mass_balance(self.state, self.mix_g)
            self._balance_of = known
        return self._balance

    @property
    def calibration_for_cure(self) -> Calibration:
        """The resin to judge demoulding by: a look far too soon to be true is not taken for a faster cure."""
        return (self.today and self.today.doubted) or self.calibration_now

    @property
    def press_by_s(self) -> float | None:
        """By when the press must be closed; None before anything is on the part, once closed, for a casting."""
        closed = self.state.closed_s is not None or self.state.is_casting
        return None if closed else min((life.over_s.low for life in self.on_part), default=None)

    def press_by_if_poured_s(self) -> float | None:
        """Return by when the press would have to be closed if all cups were poured out now; None without cups.

        Worked out anew every `OFTEN_S`, and when a batch or a temperature changed.
        """
        now_s, alive = self.now_s() // OFTEN_S * OFTEN_S, self.alive
        if alive is not self._if_poured[1] or now_s != self._if_poured[0]:
            ends = [self.open_if_poured_s(batch, now_s) for batch in self.in_cup() if batch.number in alive]
            self._if_poured = now_s, alive, min(ends, default=None)
        return self._if_poured[2]

    @property
    def press_by_at_best_s(self) -> float | None:
        """By when the press must be closed or, while nothing is on the part, would have to be if all cups were."""
        return self.press_by_if_poured_s() if self.press_by_s is None else self.press_by_s

    def open_if_poured_s(self, batch: BatchState, poured_s: float) -> float:
        """Return until when a batch in its cup stays open (early end) if it is poured out at `poured_s`."""
        poured = replace(batch, poured_out_s=max(poured_s, batch.mixed_s or 0.0))
        return careful(poured, self.state, self.calibration_now, self.today and self.today.cap).over_s.low

    def cup_spare_s(self, batch: BatchState, pace: float) -> float:
        """Return what a batch still to be mixed has to spare in its cup at today's pace; below zero it goes off."""
        planned = {step.number: self.planned_s(step) for step in self.state.steps if step.left}
        work_s = sum(planned.get(step, 0.0) * share for step, share in batch.serves) * pace
        return self.fresh_cup_s(batch.plan.mass_g, self.mix_K) - pace_of(self.crew).stirring_s - work_s

    def fresh_cup_s(self, mass_g: float, start_K: float) -> float:
        """Return how long a fresh cup may stay full in the shop as it is now."""
        case = mass_g, start_K, self.air_K, self.calibration_now.kinetics
        if case not in self._spare:
            self._spare[case] = cup_life_s(self.calibration_now, mass_g, start_K, self.air_K)
        return self._spare[case]

    def tick(self) -> bool:
        """Look at the clocks, retry what is unsaved, read what another process wrote; True if the state changed."""
        before = self.state
        self.source.tick()
        return self.state is not before

    def log(self, event: Event, words: str, at_s: float | None = None) -> Said:
        """Log an event if it can apply now, or then if told afterwards; the words are said once it is on the disk."""
        if isinstance(self.source, Follower):
            return Said(f"only looking on: {self._why_looking_on()}", False)
        if at_s is not None and at_s > self.now_s():
            return Said("not then: that time has not come yet", False)
        why = refusal(self.state, event, at_s)
        if why is not None:
            return Said(f"not {'now' if at_s is None else 'then'}: {why}", False)
        waited = bool(self.source.fault)
        self.source.append(event, at_s)
        if self.source.fault:
            return Said(f"NOT SAVED yet: {words}", True)
        return Said(f"{words}   {SAVED}" if waited else words, True)

    def _why_looking_on(self) -> str:
        if isinstance(self.looks_on, HeldError):
            return f"{self.looks_on.value} writes this session"
        return str(self.looks_on) if self.looks_on else "it was asked for so"

    def undo(self) -> Said:
        """Take the last event back, and the change that it was logged with; both stay in the journal."""
        record = self.state.record(self.state.undoable)
        if record is None:
            return Said("not now: there is nothing to undo", False)
        words, before = record.describe_in(self.state), self.state.record(record.seq - 1) or record
        said = self.log(Undone(undone_seq=record.seq), f"taken back: {words} (both stay in the log)")
        at_once = before.event in REPLANNED_WITH and record.elapsed_s - before.elapsed_s < AT_ONCE_S
        return self.undo() if said.done and at_once and record.event == "replanned" else said

    # -- batches ----------------------------------------------------------------------------------------------------

    def next_to_mix(self) -> BatchState | None:
        return next((batch for batch in self.state.batches if batch.waits), None)

    def in_cup(self) -> list[BatchState]:
        """Return the batches in their cups, oldest first."""
        cups = [batch for batch in self.state.batches if batch.status == "in the cup"]
        return sorted(cups, key=lambda batch: batch.mixed_s or 0.0)

    def readings(self, number: int) -> ScaleReadings:
        """Return the mix station of a batch, with what the journal knows of its readings.

        Where hardener is in and the resin was never read, the resin is taken as planned: the next reading is the sum.
        """
        batch = self.state.batch(number)
        if batch is None:
            raise KeyError(number)
        readings = ScaleReadings(
            batch=number,
            planned_g=(batch.plan.resin_g, batch.plan.hardener_g),
            parts=self.parts,
            readability_g=self.scale.readability_g,
            cup_g=self.cup_g,
            tare_each=self.scale.tare_each,
            zero_g=batch.zero_g,
            stir_s=self.stir_s,
            poured_g=batch.on_scale_g,
            clock_runs=batch.mixed_s is not None,
            resin_assumed=batch.mixed_s is not None and not batch.resin_read,
        )
        if readings.clock_runs and not readings.poured_g:
            return replace(readings, poured_g=(readings.next_g,))
        return readings

    def read_scale(self, number: int, text: str) -> Said:
        """Take one reading of the scale for a batch; an empty text means it shows what it should."""
        readings = self.readings(number).read(text)
        resin_g, hardener_g = (*readings.poured_g, 0.0)[:2]
        if len(readings.poured_g) < 2:
            return self.log(
                PourRead(batch=number, resin_g=resin_g, hardener_g=0.0), f"resin {mass(resin_g, 'g')}; now the hardener"
            )
        judged, late = readings.verdict, ""
        if not readings.clock_runs:  # hardener went in a usual pour ago, after the resin was read
            batch = self.state.batch(number)
            at_s = max(self.now_s() - usual_pour_s(self.state), (batch and batch.weighed_s) or 0.0)
            event = BatchMixed(batch=number, resin_g=resin_g, hardener_g=hardener_g, start_K=self.mix_K)
            started = self.log(event, "", at_s)
            if not started.done:
                return started
            late = f"   its clock runs since {self.clock_time(at_s)}: hardener was not logged as it went in"
        words = f"batch {number}: {judged.word.upper()} {100 * judged.off_ratio:+.1f} %" if judged else ""
        return self.log(PourRead(batch=number, resin_g=resin_g, hardener_g=hardener_g), words + late)

    def hardener_in(self, number: int) -> Said:
        """Start a batch's clock: hardener meets resin now."""
        resin_g, hardener_g = self.readings(number).masses_g()
        event = BatchMixed(batch=number, resin_g=resin_g, hardener_g=hardener_g, start_K=self.mix_K)
        said = self.log(event, "")
        if not said.done:
            return said
        unknown = "" if number in self.alive else f", how long it lasts is {self.unknown.get(number, 'not known')}"
        return Said(f"{said.words}batch {number}: clock started{unknown}", True)

    def doubt(self, number: int) -> Doubt | None:
        """Return what stands against laying a batch from its cup, unless somebody laid some of it all the same."""
        batch, life = self.state.batch(number), self.alive.get(number)
        if batch is None or batch.doubt_accepted:
            return None
        return "hot" if life and life.belongs_outside(self.now_s()) else doubt(batch, self.parts)

    def poured_out(self, number: int, despite: Doubt | None = None) -> Said:
        """Move a batch from its cup to the part; one in doubt only where somebody said so."""
        where = "in the channel" if self.state.is_casting else "on the part"
        return self.log(BatchPouredOut(batch=number, despite=despite), f"batch {number} is {where}")

    def laid_so_far_g(self, batch: BatchState) -> float:
        """Return what is on the part of a batch, as far as the steps done tell."""
        return laid_by_steps_g(batch, self.state.steps, self.mix_g)

    def lost(self, batch: BatchState, why: str, laid_g: float) -> Said:
        """Lose a batch, but for what is on the part of it."""
        laid = f", {mass.digits(laid_g)} of {mass(batch.poured_g)} stay on the part" if laid_g > 0.0 else ""
        words = f"batch {batch.number} lost: {why}{laid}. A warm cup goes outside, away from anything that burns"
        return self.log(BatchLost(batch=batch.number, why=why, laid_g=laid_g), words)

    def observed(self, number: int, word: str) -> Said:
        """Log how a batch looks."""
        event = Observation.model_validate({"batch": number, "word": word})
        return self.log(event, f"batch {number} looks {word}")

    def _serving(self, step: StepState) -> list[BatchState]:
        return [batch for batch in self.state.batches if step.number in batch.steps]

    def step_refusal(self) -> str:
        """Return why the step on the bench cannot be done now, or an empty text."""
        step = self.state.step_now
        if step is None:
            return "not now: every step is done - close the press"
        if self.state.closed_s is not None:
            return "not now: the press is closed"
        dry = [batch for batch in self._serving(step) if batch.mixed_s is None and batch.lost_s is None]
        return f"not now: {step.plan.name} wants batch {dry[0].number}, which has no hardener in yet" if dry else ""

    def laid_from(self) -> list[BatchState]:
        """Return the cups that the step on the bench is laid with: those stirred; all if none is or one is in doubt."""
        step, now_s = self.state.step_now, self.now_s()
        cups = [batch for batch in (self._serving(step) if step else ()) if batch.status == "in the cup"]
        stirred = [batch for batch in cups if (batch.mixed_s or 0.0) + self.stir_s <= now_s]
        return cups if not stirred or any(self.doubt(batch.number) for batch in stirred) else stirred

    def doubtful_cups(self) -> list[int]:
        """Return the batches that the step on the bench is laid with and something stands against, off ratio first."""
        cups = [batch.number for batch in self.laid_from()]
        return sorted(filter(self.doubt, cups), key=lambda number: self.doubt(number) != "off ratio")

    def step_done(self, despite: Doubt | None = None) -> Said:
        """Finish the step on the bench; one laid with a batch in doubt only where somebody said so."""
        step, refusal = self.state.step_now, self.step_refusal()
        if step is None or refusal:
            return Said(refusal, False)
        took_s, planned_s = self.now_s() - self.state.bench_free_s, self.planned_s(step)
        hasty = took_s < HASTY * planned_s
        quick = "too quick, not counted: " if hasty and self.is_dry else ""
        after = f" {quick}after {took_s:.0f} s, {in_minutes(planned_s)} planned: undo takes it back" if hasty else ""
        return self.log(StepDone(step=step.number, despite=despite), f"done: {step.plan.name}{after}")

    @property
    def step_next(self) -> StepState | None:
        """The step after the one on the bench."""
        waiting = [step for step in self.state.steps if step.left]
        return waiting[1] if len(waiting) > 1 else None

    def close(self) -> None:
        """Let others write."""
        self.source.close()
