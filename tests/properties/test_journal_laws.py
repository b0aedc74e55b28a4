"""Laws of the journal: what was written is read back, undo is exact, time never runs backwards, nothing is lost."""

from __future__ import annotations

import errno
import os
import tempfile
from copy import deepcopy
from dataclasses import fields, replace
from functools import reduce
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from machine_clock import MachineClock
from session_examples import NOON, journal_bytes, mixed, stamped, start, summed_up

from layup.files.durable import JOURNAL
from layup.session.batch_events import (
    BatchLost,
    BatchMixed,
    BatchPouredOut,
    CupTemperatureRead,
    Demoulded,
    MixLeft,
    Observation,
    PourRead,
    PressClosed,
    Replanned,
    Retightened,
    StepDone,
    Tightened,
)
from layup.session.clock import JUMP_S, Moment, advance
from layup.session.day_events import (
    AlarmAcknowledged,
    Checked,
    HumidityRead,
    LotRecorded,
    Note,
    PeopleChanged,
    SessionEnded,
    StepAdded,
    StepMerged,
    StepSkipped,
    TemperatureRead,
    Undone,
    WoodMoistureRead,
)
from layup.session.fields import BatchPlan, Stamp
from layup.session.journal import Journal
from layup.session.lines import line_of
from layup.session.reader import LINE, LineReader, read_journal
from layup.session.records import (
    ClockJumped,
    ClockTold,
    JournalOpened,
    MachineRestarted,
    extend,
    fold,
    record_of,
    refusal,
)
from layup.session.state import (
    CouponBurnt,
    Event,
    NightExpected,
    Outcome,
    PartWeighed,
    Record,
    SessionState,
    ThicknessMeasured,
)
from layup.session.text import clean_text

small = st.integers(1, 4)
grams = st.floats(0.0, 500.0)
kelvin = st.floats(260.0, 400.0)
words = st.text(max_size=20).map(lambda text: clean_text(text, limit=20).text)
plans = st.builds(BatchPlan, batch=small, mass_g=grams, resin_g=grams, hardener_g=grams, steps=st.just(()))
trays = st.one_of(
    st.tuples(st.just("cup"), st.none()),
    st.tuples(st.just("tray"), st.floats(0.001, 0.1)),
)
mixings = st.builds(
    lambda batch, resin_g, hardener_g, start_K, tray: BatchMixed(
        batch=batch, resin_g=resin_g, hardener_g=hardener_g, start_K=start_K, vessel=tray[0], depth_m=tray[1]
    ),
    *(small, grams, grams, kelvin, trays),
)
by_hand = st.one_of(
    st.builds(LotRecorded, component=st.sampled_from(["resin", "hardener"]), lot=words),
    st.builds(PourRead, batch=small, resin_g=grams, hardener_g=grams),
    mixings,
    st.builds(BatchPouredOut, batch=small),
    st.builds(BatchLost, batch=small, why=words, laid_g=st.none() | grams),
    st.builds(StepDone, step=small),
    st.builds(StepSkipped, step=small, why=words),
    st.builds(StepMerged, step=small, into_step=small),
    st.builds(
        StepAdded,
        step=st.integers(3, 6),
        name=st.just("a patch"),
        kind=st.just("bond"),
        planned_s=st.floats(0.0, 900.0),
        mix_g=st.floats(1.0, 50.0),
        before_step=st.none() | small,
    ),
    st.builds(
        lambda batch, left_g, step, share: MixLeft(
            batch=batch, left_in_cup_g=left_g, left_for=(step,), left_shares=(share,)
        ),
        *(small, grams, small, st.floats(0.0, 1.0)),
    ),
    st.builds(TemperatureRead, place=st.sampled_from(["air", "resin", "mould"]), temperature_K=kelvin),
    st.builds(HumidityRead, relative_humidity=st.floats(0.0, 1.0)),
    st.builds(WoodMoistureRead, moisture_fraction=st.floats(0.0, 1.0)),
    st.builds(NightExpected, coldest_K=kelvin, out_by_s=st.none() | st.floats(3600.0, 86_400.0)),
    st.builds(Checked, item=st.sampled_from(["cups", "gloves"]), words=words, done=st.booleans()),
    st.builds(Observation, batch=small, word=st.sampled_from(["runny", "thickening", "stringy", "gelled"])),
    st.builds(CupTemperatureRead, batch=small, temperature_K=kelvin),
    st.builds(Note, text=words),
    st.builds(PeopleChanged, people=small),
    st.builds(AlarmAcknowledged, alarm=words, rank=st.sampled_from(["when free", "soon", "now"])),
    st.builds(Replanned, batches=st.lists(plans, max_size=3).map(tuple)),
    st.builds(PressClosed, pressure_Pa=st.none() | st.floats(0.0, 1e6)),
    st.builds(PartWeighed, part_g=st.floats(600.0, 900.0), dry_g=st.floats(0.0, 600.0)),
    st.builds(CouponBurnt, coupon_g=st.floats(2.0, 3.0), residue_g=st.floats(0.0, 1.9)),
    st.builds(ThicknessMeasured, thickness_m=st.floats(0.001, 0.01)),
    st.builds(Tightened),
    st.builds(Retightened),
    st.builds(Demoulded),
    st.builds(Outcome, tags=st.lists(words, max_size=2).map(tuple), notes=words),
    st.builds(SessionEnded),
)
by_machine = st.one_of(
    st.builds(
        TemperatureRead,
        place=st.sampled_from(["air", "mould"]),
        temperature_K=kelvin,
        source=st.just("thermometer"),
    ),
    st.builds(
        ClockJumped, wall_s=st.floats(-1e4, 1e4), monotonic_s=st.floats(0.0, 1e4), taken_s=st.floats(0.0, 1e4)
    ),
    st.builds(MachineRestarted, wall_s=st.floats(-1e4, 1e4), taken_s=st.floats(0.0, 1e4)),
    st.builds(ClockTold, utc=st.just(NOON), taken_s=st.floats(0.0, 1e4)),
    st.builds(
        JournalOpened, boot_id=words, monotonic_s=st.floats(0.0, 1e6), process_id=small, program=words,
        reason=st.sampled_from(["created", "resumed"]),
    ),
)  # fmt: skip
undos = st.builds(Undone, undone_seq=st.integers(1, 30))
anything = st.one_of(by_hand, by_hand, by_machine, undos, st.just(start()))


def known(state: SessionState, *, without: tuple[str, ...] = ("records", "cancelled", "redoable")) -> dict[str, object]:
    """Return what a state says of the session, apart from its own bookkeeping."""
    return {field.name: getattr(state, field.name) for field in fields(state) if field.name not in without}


def then(state: SessionState, event: Event, *, happened_s: float | None = None) -> SessionState:
    """Return the state a minute later, when `event` was logged, or told to have happened before."""
    elapsed_s = state.records[-1].elapsed_s + 60.0 if state.records else 0.0
    stamp = {"seq": state.seq + 1, "at": NOON, "elapsed_s": elapsed_s, "happened_s": happened_s}
    return extend(state, (record_of(event, stamp),))


def one_more(state: SessionState, record: Record) -> SessionState:
    return extend(state, (record,))


@given(st.lists(anything, max_size=30))
@settings(max_examples=150, deadline=None)
def test_folding_all_is_the_same_as_applying_one_after_the_other(chosen: list[Event]) -> None:
    records = stamped([start(), *chosen])
    assert fold(records) == reduce(one_more, records, SessionState())


numbered = st.lists(st.tuples(st.one_of(by_hand, by_hand, by_machine), st.booleans()), min_size=1, max_size=20)


def told_late(events: list[tuple[Event, bool]], order: list[int]) -> tuple[list[Record], list[Record]]:
    """Return a day logged as it went, and the same day with some of it told afterwards in another order."""
    day = stamped([start(), *(event for event, _ in events)])
    late = [place for place, (event, told) in enumerate(events, 1) if told and not event.any_time]
    last_s = day[-1].elapsed_s
    kept = [record for place, record in enumerate(day) if place not in late]
    told = [day[place] for _, place in sorted(zip(order, late, strict=False))]
    retold = [record.model_copy(update={"seq": n}) for n, record in enumerate(kept, 1)]
    for n, record in enumerate(told, len(kept) + 1):
        retold.append(record.model_copy(update={"seq": n, "elapsed_s": last_s + n, "happened_s": record.elapsed_s}))
    return day, retold


def of_what_happened(state: SessionState) -> dict[str, object]:
    """Return what a state says of the session, apart from the numbers of its lines and what the undo key does."""
    said = known(state, without=("records", "cancelled", "redoable", "undoable"))
    said["misfits"] = [(misfit.event, misfit.why) for misfit in state.misfits]
    said["notes"] = [(note.at_s, note.text) for note in state.notes]
    stamp = {*Stamp.model_fields, "sum"}
    kept = {name: value for name, value in said.items() if isinstance(value, Record)}
    said |= {name: value.model_dump(exclude=stamp) for name, value in kept.items()}
    for name in ("coupons", "thicknesses"):
        said[name] = [record.model_dump(exclude=stamp) for record in getattr(state, name)]
    return said


@given(numbered, st.permutations(range(20)))
@settings(max_examples=120, deadline=None)
def test_what_is_told_afterwards_counts_as_if_told_at_its_time(
    events: list[tuple[Event, bool]], order: list[int]
) -> None:
    day, retold = told_late(events, order)
    assert of_what_happened(fold(retold)) == of_what_happened(fold(day))


@given(numbered, st.permutations(range(20)), st.lists(anything, max_size=4))
@settings(max_examples=50, deadline=None)
def test_a_day_told_afterwards_folds_at_once_as_it_does_line_by_line(
    events: list[tuple[Event, bool]], order: list[int], later: list[Event]
) -> None:
    _, retold = told_late(events, order)
    state = reduce(then, later, fold(retold))
    assert state == reduce(one_more, state.records, SessionState()) == fold(state.records)
    for record in summed_up(retold):
        assert LINE.validate_json(line_of(record)) == record


@given(st.lists(by_hand, max_size=12), by_hand, st.floats(0.0, 1.0))
@settings(max_examples=80, deadline=None)
def test_what_is_told_afterwards_is_let_through_only_where_it_and_all_since_then_still_fit_and_in_its_turn(
    chosen: list[Event], event: Event, share: float
) -> None:
    before = fold(stamped([start(), *chosen]))
    happened_s = share * before.last_s
    why = refusal(before, event, happened_s)
    after = then(before, event, happened_s=happened_s)
    fits = {misfit.seq for misfit in after.misfits} <= {misfit.seq for misfit in before.misfits}
    turn = isinstance(event, StepDone) and any(
        s.number < event.step and (s.done_s or 0.0) > happened_s for s in after.steps
    )
    assert (why is None) == (fits and not turn)
    if why is not None:
        return
    undone = then(after, Undone(undone_seq=after.seq))
    assert refusal(after, Undone(undone_seq=after.seq)) is None
    assert known(undone) == known(before)


@given(st.lists(anything, max_size=20), st.lists(anything, min_size=1, max_size=5))
@settings(max_examples=150, deadline=None)
def test_a_state_that_was_handed_out_stays_as_it_is_whatever_is_logged_on_top(
    chosen: list[Event], later: list[Event]
) -> None:
    state = fold(stamped([start(), *chosen]))
    before = deepcopy({field.name: getattr(state, field.name) for field in fields(state)})
    reduce(then, later, state)
    extend(state, stamped([start(), *chosen, *later])[len(state.records) :])
    assert {field.name: getattr(state, field.name) for field in fields(state)} == before


@given(anything)
@settings(max_examples=200)
def test_every_event_is_read_back_from_its_line_as_it_was_written(event: Event) -> None:
    (record,) = stamped([event])
    line = record.model_dump_json()
    assert "\n" not in line
    assert LINE.validate_json(line) == record


@given(st.lists(anything, max_size=25), by_hand)
@settings(max_examples=200, deadline=None)
def test_what_the_rules_let_through_applies_and_what_they_refuse_changes_nothing(
    chosen: list[Event], event: Event
) -> None:
    state = fold(stamped([start(), *chosen]))
    after = then(state, event)
    if refusal(state, event) is None:
        assert after.misfits == state.misfits
    else:
        assert len(after.misfits) == len(state.misfits) + 1
        assert known(replace(after, misfits=state.misfits, undoable=state.undoable)) == known(state)


@given(st.lists(anything, max_size=25), by_hand)
@settings(max_examples=150, deadline=None)
def test_undo_takes_back_exactly_one_event_and_redo_brings_it_back(chosen: list[Event], event: Event) -> None:
    before = fold(stamped([start(), *chosen]))
    after = then(before, event)
    assert after.undoable == after.seq
    undo = Undone(undone_seq=after.undoable)
    assert refusal(after, undo) is None
    undone = then(after, undo)
    assert known(undone) == known(before)
    assert undone.redoable == undone.seq
    redone = then(undone, Undone(undone_seq=undone.redoable))
    assert known(redone) == known(after)
    assert redone.redoable is None or redone.redoable < after.seq


@given(st.lists(st.one_of(by_hand, by_machine), max_size=15))
@settings(max_examples=80, deadline=None)
def test_undoing_all_there_is_leaves_the_start_and_redoing_all_brings_the_day_back(chosen: list[Event]) -> None:
    begun = fold(stamped([start()]))
    day = reduce(lambda state, event: then(state, event) if refusal(state, event) is None else state, chosen, begun)
    state, undone = day, 0
    while state.undoable is not None:
        assert refusal(state, Undone(undone_seq=state.undoable)) is None
        state, undone = then(state, Undone(undone_seq=state.undoable)), undone + 1
    machines = [record for record in day.records if record.any_time]
    automatic = [r for r in day.records if isinstance(r, TemperatureRead) and r.source == "thermometer"]
    assert undone == len(day.records) - 1 - len(machines) - len(automatic)
    kept = ("records", "cancelled", "redoable", "air", "mould", "boot_id", "raw_offset_s", "sure", "told")
    assert known(state, without=kept) == known(begun, without=kept)
    while state.redoable is not None:
        assert refusal(state, Undone(undone_seq=state.redoable)) is None
        state = then(state, Undone(undone_seq=state.redoable))
    assert known(state) == known(day)


@given(st.lists(anything, max_size=30))
@settings(max_examples=150, deadline=None)
def test_times_of_a_session_are_in_their_order(chosen: list[Event]) -> None:
    state = fold(stamped([start(), *chosen]))
    for history in (state.air, state.resin, state.mould, state.humidity):
        assert all(a[0] < b[0] for a, b in pairwise(history))
    for batch in state.batches:
        for first_s in (batch.weighed_s, batch.mixed_s):  # the hardener may be read after first contact
            times = [t for t in (first_s, batch.poured_out_s, batch.pressed_s) if t is not None]
            assert times == sorted(times)
        assert batch.pressed_s in (None, state.closed_s)
        assert batch.lost_s is None or batch.pressed_s is None
    assert all(step.took_s is None or step.took_s >= 0 for step in state.steps)
    assert [batch.number for batch in state.batches] == sorted({batch.number for batch in state.batches})


@given(st.lists(by_hand, min_size=1, max_size=12), st.data())
@settings(max_examples=80, deadline=None)
def test_one_line_turned_to_rubbish_costs_that_line_and_is_reported(chosen: list[Event], data: st.DataObject) -> None:
    records = summed_up(stamped([start(), *chosen]))
    lines = journal_bytes(records).split(b"\n")[:-1]
    hit = data.draw(st.integers(0, len(lines) - 1))
    rubbish = data.draw(st.binary(min_size=1, max_size=30).filter(lambda raw: b"\n" not in raw and raw.strip()))
    lines[hit] = rubbish
    reader = LineReader("journal.jsonl")
    assert reader.feed(b"\n".join(lines) + b"\n") == records[:hit] + records[hit + 1 :]
    assert [problem.line for problem in reader.problems] == [hit + 1]


@given(st.lists(by_hand, min_size=1, max_size=12), st.lists(st.integers(0, 4000), max_size=6))
@settings(max_examples=80, deadline=None)
def test_a_journal_read_in_pieces_is_the_journal_read_whole(chosen: list[Event], cuts: list[int]) -> None:
    records = summed_up(stamped([start(), *chosen]))
    data = journal_bytes(records)
    edges = [0, *sorted(min(cut, len(data)) for cut in cuts), len(data)]
    reader = LineReader("journal.jsonl")
    assert [r for a, b in pairwise(edges) for r in reader.feed(data[a:b])] == records
    assert reader.tail == b""


moves = st.one_of(
    st.tuples(st.just("advance"), st.floats(0.0, 5000.0)),
    st.tuples(st.just("sleep"), st.floats(0.0, 5000.0)),
    st.tuples(st.just("set"), st.floats(-1e5, 1e5)),
    st.tuples(st.just("reboot"), st.floats(0.0, 5000.0)),
)


def run_clock(steps: list[tuple[str, float]], *, counts_sleep: bool) -> list[tuple[float, float]]:
    """Return (true time passed, age) after each move, looking at the clocks after every one."""
    clock = MachineClock(NOON, counts_sleep=counts_sleep)
    moment, true_s, seen = Moment.first(clock), 0.0, []
    for number, (move, amount) in enumerate(steps):
        if move == "advance":
            clock.advance(amount)
        elif move == "sleep":
            clock.sleep(amount)
        elif move == "reboot":
            clock.reboot(amount, f"boot-{number}")
        else:
            clock.set_wall(amount)
        true_s += 0.0 if move == "set" else amount
        moment, _ = advance(moment, clock)
        seen.append((true_s, moment.elapsed_s))
    return seen


@given(st.lists(moves, max_size=12), st.booleans())
@settings(max_examples=150)
def test_no_age_ever_falls_whatever_the_clocks_do(steps: list[tuple[str, float]], counts_sleep: bool) -> None:
    ages = [0.0, *(age for _, age in run_clock(steps, counts_sleep=counts_sleep))]
    assert ages == sorted(ages)


@given(st.lists(moves, max_size=12))
@settings(max_examples=150)
def test_a_clock_that_counts_sleep_tells_the_true_age_until_the_machine_was_off_and_no_less_than_it_was_on(
    steps: list[tuple[str, float]],
) -> None:
    begun = [move for move, _ in steps].index("reboot") if "reboot" in (move for move, _ in steps) else len(steps)
    for number, (true_s, age_s) in enumerate(run_clock(steps, counts_sleep=True)):
        if number <= begun:
            assert age_s == pytest.approx(true_s, abs=1e-3)
        assert age_s >= true_s - 1e-3 - sum(amount for move, amount in steps[: number + 1] if move == "reboot")


@given(st.lists(moves.filter(lambda step: step[0] != "set" or step[1] > 0), max_size=12))
@settings(max_examples=150)
def test_a_clock_that_stands_still_in_sleep_never_makes_a_batch_look_younger(steps: list[tuple[str, float]]) -> None:
    for number, (true_s, age_s) in enumerate(run_clock(steps, counts_sleep=False), 1):
        assert age_s >= true_s - number * JUMP_S


class FailingDisk(RuleBasedStateMachine):
    """A press day on a disk that fails when it likes: the file is always a prefix, and in the end it is all there."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.patch = pytest.MonkeyPatch()
        self.clock = MachineClock(NOON)
        self.room: int | None = None
        self.broken: set[str] = set()
        write, fsync, truncate = os.write, os.fsync, os.ftruncate

        def small_write(fd: int, data: bytes) -> int:
            self.fail_if("write")
            if self.room is None:
                return write(fd, data)
            if self.room == 0:
                raise OSError(errno.ENOSPC, "full")
            written = write(fd, data[: self.room])
            self.room -= written
            return written

        def small_truncate(fd: int, length: int) -> None:
            self.fail_if("truncate")
            truncate(fd, length)

        def small_fsync(fd: int) -> None:
            self.fail_if("fsync")
            fsync(fd)

        self.patch.setattr(os, "write", small_write)
        self.patch.setattr(os, "fsync", small_fsync)
        self.patch.setattr(os, "ftruncate", small_truncate)

    def fail_if(self, call: str) -> None:
        """Fail if this call is broken now."""
        if call in self.broken:
            raise OSError(errno.EIO, f"{call} fails")

    @initialize()
    def begin(self) -> None:
        """Start the session while all is well."""
        self.journal = Journal.create(Path(self.folder.name), self.clock, start())

    @rule(event=by_hand, seconds=st.floats(0.0, 100.0))
    def log(self, event: Event, seconds: float) -> None:
        """Log something."""
        self.clock.advance(seconds)
        record = self.journal.append(event)
        assert self.journal.state.records[-1] == record

    @rule(room=st.integers(0, 300))
    def fill_up(self, room: int) -> None:
        """Leave little room."""
        self.room = room

    @rule(calls=st.sets(st.sampled_from(["write", "fsync", "truncate"])))
    def break_down(self, calls: set[str]) -> None:
        """Let some calls fail."""
        self.broken = calls

    @rule()
    def mend(self) -> None:
        """Make all well again."""
        self.room, self.broken = None, set()
        assert self.journal.flush_pending()

    @precondition(lambda self: self.room is None and not self.broken)
    @rule()
    def close_and_open(self) -> None:
        """Go on in a new process."""
        state = self.journal.state
        self.journal.close()
        self.journal = Journal.open(Path(self.folder.name), self.clock)
        assert not self.journal.problems
        assert self.journal.state.records[:-1] == state.records

    @invariant()
    def the_file_is_a_prefix_that_holds_all_that_was_confirmed(self) -> None:
        """Read it as another process would."""
        records, problems = read_journal(Path(self.folder.name))
        logged = list(self.journal.state.records)
        assert records == logged[: len(records)]
        assert len(records) >= len(logged) - len(self.journal.pending)
        assert [problem for problem in problems if "torn" not in problem.message] == []
        assert bool(self.journal.fault) == bool(len(self.journal.pending))

    def teardown(self) -> None:
        """Mend the disk: everything must be there."""
        self.mend()
        self.journal.close()
        assert read_journal(Path(self.folder.name)) == (list(self.journal.state.records), [])
        self.patch.undo()
        self.folder.cleanup()


TestFailingDisk = FailingDisk.TestCase
TestFailingDisk.settings = settings(max_examples=30, stateful_step_count=20, deadline=None)


@given(st.binary(max_size=300), st.integers(0, 600))
@settings(max_examples=60, deadline=None)
def test_whatever_stands_in_the_file_the_day_goes_on_and_no_byte_is_lost(junk: bytes, cut: int) -> None:
    good = journal_bytes(stamped([start(), mixed(1)]))
    data = good[:cut] + junk
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / JOURNAL).write_bytes(data)
        clock = MachineClock(NOON)
        clock.reboot(3600.0, "boot-2")
        with Journal.open(folder, clock) as journal:
            journal.append(Note(text="on"))
        records, _ = read_journal(folder)
        assert records == list(journal.state.records)
        kept = (folder / JOURNAL).read_bytes()
        aside = b"".join(path.read_bytes() for path in folder.glob("journal.torn-*"))
        whole = data.rpartition(b"\n")[0]
        assert kept.startswith(whole)
        assert aside in (data[len(whole) :].lstrip(b"\n"), b"")
        assert aside or kept.startswith(data)
