"""A small invented session for the tests of records."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from functools import cache
from pathlib import Path

from layup.chemistry.calibration import Calibration, calibrate
from layup.files.resin_file import load_resin
from layup.session import lifetimes as lives
from layup.session.batch_events import (
    BatchLost,
    BatchMixed,
    BatchPouredOut,
    Demoulded,
    Observation,
    PourRead,
    PressClosed,
    StepDone,
)
from layup.session.clock import Jump
from layup.session.day_events import HumidityRead, Note, PeopleChanged, SessionEnded, TemperatureRead
from layup.session.fields import BatchPlan, StepPlan
from layup.session.lines import DIGITS, digits, line_of, summed
from layup.session.records import RECORDS, ClockJumped, MachineRestarted
from layup.session.state import Event, Record, SessionStarted, SessionState

NOON = datetime(2026, 3, 7, 12, 0, tzinfo=UTC)
RESINS = Path(__file__).parents[1] / "resins"
TOLD = {
    "resin": "slow-laminating",
    "shop": "about 24 C",
    "cup": "about 400 g",
    "thick": "about 25 min, hot",
    "on_part": "4",
    "closed": "no",
    "people": "alone",
    "wrong": "gelled in the cup",
}
"""A layup told from memory: the eight answers."""


@cache
def resin(name: str = "slow-laminating") -> Calibration:
    """Return a demo resin."""
    sheet, problems = load_resin(RESINS / f"{name}.toml")
    assert sheet is not None, problems
    return calibrate(sheet)


def batch_plan(number: int) -> BatchPlan:
    """Return a batch of 130 g, 100:30."""
    return BatchPlan(batch=number, mass_g=130.0, resin_g=100.0, hardener_g=30.0, steps=(number,))


def start(batches: int = 3, steps: int = 3) -> SessionStarted:
    """Return the start of a pair of skis in some batches and steps."""
    return SessionStarted(
        title="Pair of skis",
        plan="touring-skis",
        resin="slow-laminating",
        people=2,
        pieces=2,
        steps=tuple(StepPlan(step=n, name=f"step {n}", kind="fabric", planned_s=300.0) for n in range(1, steps + 1)),
        batches=tuple(batch_plan(n) for n in range(1, batches + 1)),
        hazards_acknowledged=True,
    )


def mixed(batch: int) -> BatchMixed:
    """Return a batch mixed as planned, in a cup at 20 degC."""
    return BatchMixed(batch=batch, resin_g=100.0, hardener_g=30.0, start_K=293.15)


def good_day() -> list[Event]:
    """Return the events of a short press day on which all goes well, but for one batch lost."""
    return [
        start(),
        TemperatureRead(place="air", temperature_K=293.15),
        HumidityRead(relative_humidity=0.55),
        PourRead(batch=1, resin_g=100.4, hardener_g=30.1),
        mixed(1),
        Observation(batch=1, word="runny"),
        BatchPouredOut(batch=1),
        StepDone(step=1),
        mixed(2),
        BatchLost(batch=2, why="knocked over"),
        Note(text="später, mit 手袋 ✋"),
        PeopleChanged(people=1),
        StepDone(step=2),
        PressClosed(pressure_Pa=50_000.0),
        TemperatureRead(place="mould", temperature_K=303.15),
        SessionEnded(),
        Demoulded(),
    ]


def stamped(events: Iterable[Event], *, every_s: float = 60.0) -> list[Record]:
    """Return the records of `events`, one each `every_s` from the session's start."""
    return [
        RECORDS[event.event].model_validate({"seq": n, "at": NOON, "elapsed_s": (n - 1) * every_s} | dict(event))
        for n, event in enumerate(events, 1)
    ]


def summed_up(records: Iterable[Record], *, before: bytes = b"") -> list[Record]:
    """Return the records with their sums, as a journal holds them after the lines `before`."""
    last, found = digits(before), []
    for record in records:
        found.append(summed(record, last))
        last = found[-1].sum[DIGITS:]
    return found


def journal_bytes(records: Iterable[Record]) -> bytes:
    """Return the records as a journal holds them."""
    return b"".join(line_of(record) for record in summed_up(records))


def lifetimes(state: SessionState, law: Calibration, cap: Calibration | None = None) -> dict[int, lives.Lifetime]:
    """Return the lifetime to go by of each batch that is in its cup or on the part, by its number."""
    return {b.number: lives.careful(b.on_part(), state, law, cap) for b in lives.mixed(state)}


def jumps_of(state: SessionState) -> tuple[tuple[float, Jump], ...]:
    """Return what the clocks did, as the journal has it, each with when."""
    return tuple(
        (
            one.elapsed_s,
            Jump(one.wall_s, getattr(one, "monotonic_s", 0.0), one.taken_s, isinstance(one, MachineRestarted)),
        )
        for one in state.records
        if isinstance(one, ClockJumped | MachineRestarted)
    )
