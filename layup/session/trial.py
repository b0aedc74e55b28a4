"""A trial cup, told after it was watched: a session of its own, so that the next plans know this resin's real times."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from pathlib import Path

from layup.chemistry.kinetics import Word
from layup.chemistry.mixing import parts_by_mass
from layup.chemistry.ratio import split_mass
from layup.errors import InputError, RangeError
from layup.files.durable import RESIN_COPY
from layup.files.workshop import Workshop
from layup.session.batch_events import BatchMixed, CupTemperatureRead, Observation
from layup.session.clock import ManualClock
from layup.session.day_events import SessionEnded, TemperatureRead
from layup.session.fields import NAME_LIMIT, BatchPlan
from layup.session.folder import copied, session_folder
from layup.session.journal import Journal
from layup.session.state import Event, SessionStarted
from layup.session.text import clean_text

LEAST_G, MOST_G = 50.0, 200.0
"""Less loses its heat like a film, more wastes resin and smokes (common practice; EN 14022 method 1 takes 200 g)."""
LONGEST_S = 2 * 86_400.0
ORDER: tuple[Word, ...] = ("thickening", "stringy", "gelled")


@dataclass(frozen=True, slots=True)
class Trial:
    """One cup that was only watched: how much, how warm, and what was seen when, from first contact."""

    mass_g: float
    start_K: float
    shop_K: float
    seen: tuple[tuple[Word, float], ...]
    read: tuple[tuple[float, float], ...] = ()
    """(time [s], temperature [K]) of a thermometer in the cup."""

    def __post_init__(self) -> None:
        if not LEAST_G <= self.mass_g <= MOST_G:
            raise RangeError(
                "mass of the trial",
                "is out of range",
                value=f"{self.mass_g:g} g",
                allowed=f"must be between {LEAST_G:g} and {MOST_G:g} g",
                todo="pour what you usually mix, within that",
            )
        if not self.seen:
            raise InputError("trial", "nothing was seen", todo='say when it thickened or gelled: --gel "36 min"')
        for what, at_s in (*self.seen, *(("a temperature", at_s) for at_s, _ in self.read)):
            if not 0.0 < at_s <= LONGEST_S:
                raise RangeError(what, "is out of range", value=f"{at_s / 60:g} min", allowed="above 0 to 2 days")
        ordered = sorted(self.seen, key=lambda one: ORDER.index(one[0]))
        for (word, at_s), (then, then_s) in pairwise(ordered):
            if then_s < at_s:
                raise InputError(
                    then, f"comes before {word}", value=f"{then_s / 60:g} min", allowed=f"{at_s / 60:g} min or later"
                )

    @property
    def ends_s(self) -> float:
        """When the last of it was seen."""
        return max(at_s for at_s in (*(at for _, at in self.seen), *(at for at, _ in self.read)))


def write_trial(workshop: Workshop, resin: str, trial: Trial, started: datetime) -> Path:
    """Write a trial into a session folder of its own and return that.

    Parameters
    ----------
    workshop : Workshop
        Where it goes [-]
    resin : str
        The resin's id or path [-]
    trial : Trial
        What was seen [-]
    started : datetime
        First contact of resin and hardener [-]

    Returns
    -------
    folder : Path
        The session [-]

    Raises
    ------
    StorageError
        If it cannot be written.
    """
    sheet, path = workshop.resin(resin), workshop.resin_path(resin)
    resin_g, hardener_g = split_mass(trial.mass_g, parts_by_mass(sheet))
    start = SessionStarted(
        title=clean_text(f"Trial cup, {sheet.title}", limit=NAME_LIMIT).text,
        kind="trial",
        plan="trial",
        resin=sheet.id,
        people=1,
        pieces=1,
        batches=(BatchPlan(batch=1, mass_g=trial.mass_g, resin_g=resin_g, hardener_g=hardener_g),),
        hazards_acknowledged=True,
    )
    events: list[tuple[float, Event]] = [
        (0.0, TemperatureRead(place="air", temperature_K=trial.shop_K)),
        (0.0, BatchMixed(batch=1, resin_g=resin_g, hardener_g=hardener_g, start_K=trial.start_K)),
        *((at_s, CupTemperatureRead(batch=1, temperature_K=kelvin)) for at_s, kelvin in trial.read),
        *((at_s, Observation(batch=1, word=word)) for word, at_s in trial.seen),
    ]
    copy = copied(path)
    folder = session_folder(workshop.root, started.astimezone().date(), f"trial {sheet.id}")
    clock, now_s = ManualClock(started), 0.0
    with Journal.create(folder, clock, start, files={RESIN_COPY: copy}) as journal:
        for at_s, event in sorted(events, key=lambda one: one[0]):
            clock.advance(at_s - now_s)
            now_s = at_s
            journal.append(event)
        journal.append(SessionEnded())
    return folder
