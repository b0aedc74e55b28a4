"""A session looked back on: its day, its findings, what was built, and which entries would have told of a cause.

And its verdict in a sentence: what came of it, its first causes, and those that a number rejects.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import pairwise

from layup.chemistry.calibration import Calibration, calibrate
from layup.chemistry.climate import surface_margin_K
from layup.chemistry.looks import LOOKS
from layup.errors import LayupError, Problem
from layup.planning.budget import for_part
from layup.review import causes_air, causes_bench, causes_cup
from layup.review.as_built import AsBuilt, as_built
from layup.review.changed_days import saving_causes
from layup.review.evidence import (
    DEFECTS,
    OF_TIME,
    Cause,
    Finding,
    Scene,
    defects_of,
    find,
    rank,
    usual_causes,
    without_slips,
)
from layup.review.pace import dry_run_in
from layup.review.recalled import told_findings
from layup.review.resin_lessons import alone, change_words, trial_words
from layup.review.timeline import Track, is_running, track
from layup.session.archive import StoredSession
from layup.session.state import SessionState
from layup.units import in_minutes, mass, minutes, temperature, temperature_change

# -- missing ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class MissingEntry:
    """An entry that is missing, and what it would have told."""

    entry: str
    tells: str


_Entries = tuple[tuple[str, Callable[[SessionState], bool], str, set[Cause]], ...]
"""Kinds of entry: whether a session lacks one, what it would have told, and the causes that only it can show."""


def _read_after(state: SessionState, closed_s: float | None) -> bool:
    """Return whether a temperature of mould or shop was read once the press was closed."""
    return closed_s is not None and any(at_s > closed_s for at_s, _ in (*state.mould, *state.air))


_ENTRIES: _Entries = (
    (
        "the humidity of the shop",
        lambda state: not state.humidity,
        "dew on the mould, or blush",
        {"dew or blush"},
    ),
    (
        f"how the mix in each cup looked ({', '.join(LOOKS)})",
        lambda state: not any(batch.observations for batch in state.batches),
        "mix used past thickening, and whether this resin is faster than its datasheet",
        {"past thickening", "closed late"},
    ),
    (
        "the temperature of the mould while the layup was open",
        lambda state: not any(state.closed_s is None or at_s <= state.closed_s for at_s, _ in state.mould),
        "a film that closed early, or a mould too cold to set on",
        {"mould outside the window", "closed late"},
    ),
    (
        "the temperature of the shop more than once",
        lambda state: len(state.air) < 2,
        "a shop that warmed or cooled during the day",
        {"shop outside the window", "past thickening", "closed late"},
    ),
    (
        "a temperature measured in a cup",
        lambda state: not any(batch.temperatures for batch in state.batches),
        "a cup that heated itself",
        {"cup too hot", "cup too large"},
    ),
    (
        "the weight of the part and of its dry pieces",
        lambda state: state.weighed is None and not state.coupons and not state.thicknesses,
        "too little or too much resin in the part",
        {"starved", "resin-rich"},
    ),
    (
        "the pressure when the press was closed",
        lambda state: state.pressure_Pa is None,
        "plies that were not pressed together",
        {"resin-rich", "closed late"},
    ),
    (
        "when the part came out",
        lambda state: state.demoulded_s is None,
        "a cure that was cut short",
        {"cure cut short"},
    ),
    (
        "the temperature of the mould after closing",
        lambda state: not _read_after(state, state.closed_s),
        "a cure that was too cold to finish",
        {"cure cut short", "mould outside the window"},
    ),
    (
        "the lot numbers of both cans",
        lambda state: len({lot.component for lot in state.lots}) < 2,
        "a can that was old or mixed up",
        {"off ratio"},
    ),
)


_OF_A_CASTING: _Entries = (
    (
        f"how the mix in each cup looked ({', '.join(LOOKS)})",
        lambda state: not any(batch.observations for batch in state.batches),
        "whether this resin is faster than its datasheet",
        {"poured late", "joined late"},
    ),
    (
        "the temperature of the core",
        lambda state: not state.mould,
        "a pour that set soft or late",
        {"core cold", "joined late", "planed early"},
    ),
    (
        "the moisture of the core",
        lambda state: state.wood_moisture is None,
        "water that foams",
        {"core wet"},
    ),
    ("the humidity of the shop", lambda state: not state.humidity, "damp that foams", {"core wet"}),
    (
        "when it was planed",
        lambda state: state.demoulded_s is None,
        "a wall too soft to plane",
        {"planed early"},
    ),
)


def missing_entries(state: SessionState, defects: Sequence[str]) -> tuple[MissingEntry, ...]:
    """Return the entries that a session lacks and that could have told of its defects, or of anything without one."""
    usual = usual_causes(defects)
    return tuple(
        MissingEntry(words, tells)
        for words, lacks, tells, causes in (_OF_A_CASTING if state.is_casting else _ENTRIES)
        if lacks(state) and (not usual or causes & usual)
    )


# -- review ----------------------------------------------------------------------------------------------------------

CASTING_DETECTORS = (*causes_cup.OF_POURS, *causes_air.OF_A_CORE, *causes_cup.OF_THE_MIX)
DETECTORS = (*causes_cup.DETECTORS, *causes_bench.DETECTORS, *causes_air.DETECTORS)
NOTHING_FOUND = "no cause found in what was logged"
NOTHING_TOLD = "no cause found in what was told"
NOTHING_WRONG = "nothing stands out"
TRIAL = "a trial cup: what it taught"
DRY_RUN = "a dry run: what it took"


@dataclass(frozen=True, slots=True)
class Review:
    """Everything that is known of one session afterwards."""

    stored: StoredSession
    track: Track | None
    """None where the plan or the resin of the session cannot be read."""
    problems: tuple[Problem, ...]
    assumptions: tuple[str, ...]
    findings: tuple[Finding, ...] = ()
    as_built: AsBuilt | None = None
    defects: tuple[str, ...] = ()
    unexplained: tuple[str, ...] = ()
    """The defects that none of the findings usually makes."""
    missing: tuple[MissingEntry, ...] = ()
    """The entries that would have told of them, or of anything where nothing was found."""
    taught: tuple[str, ...] = ()
    """Of a trial cup, which has nothing to judge: what it saw, and what that teaches by itself."""

    @property
    def verdict(self) -> str:
        """The first line: the likeliest cause, or that none was found."""
        if self.findings:
            return self.findings[0].words
        told = self.stored.state.recalled
        if self.taught and told is None:
            return DRY_RUN if self.stored.state.kind == "dry run" else TRIAL
        if self.track is None and told is not None and not told.resin_known:
            return "nothing can be judged: nobody knows which resin it was"
        if self.track is None:
            return "nothing can be judged: the session's plan or resin cannot be read"
        if told is not None:
            return NOTHING_TOLD
        return NOTHING_FOUND if self.defects else NOTHING_WRONG


_LAST: deque[Review] = deque(maxlen=4)


def review(stored: StoredSession, *, calibration: Calibration | None = None) -> Review:
    """Look back on a session, with its resin as its datasheet says, or as it is known from other sessions.

    By its datasheet the last few are kept: list, opened day and pages of the Logbook ask for the same one in turn.
    """
    if calibration is not None:
        return _review(stored, calibration)
    for one in tuple(_LAST):
        if one.stored == stored:
            return one
        if not one.problems and replace(one.stored, folder=stored.folder) == stored:
            return replace(one, stored=stored)
    found = _review(stored, None)
    _LAST.append(found)
    return found


def _review(stored: StoredSession, calibration: Calibration | None) -> Review:
    kind, outcome = stored.state.kind, stored.state.outcome
    if kind == "dry run":  # nothing was pressed, so nothing is judged
        run = dry_run_in(stored.state, stored.plan) if stored.plan is not None else None
        return Review(stored, None, stored.problems, (), taught=("nothing was ticked",) if run is None else run.words)
    if kind == "trial":
        stated = alone(stored)
        taught = trial_words(stored, *stated) if stated else ("nothing can be told: its resin cannot be read",)
        return Review(stored, None, stored.problems, stated[0].assumptions if stated else (), taught=taught)
    defects = defects_of(outcome.tags) if outcome else ()
    problems = list(stored.problems)
    built = None if stored.state.is_casting else as_built(stored)
    found: tuple[Finding, ...] = ()
    day: Track | None = None
    assumptions: tuple[str, ...] = ()
    if stored.plan is not None and stored.sheet is not None and stored.state.start is not None:
        try:
            law = for_part(calibration or calibrate(stored.sheet), stored.plan)
            if stored.state.recalled is not None:
                day, found, assumptions = told_findings(stored, stored.plan, stored.sheet, law, defects)
            else:
                state = without_slips(stored.state)
                day = track(state, stored.plan, stored.sheet, law)
                scene = Scene(state, day, stored.plan, stored.sheet, law, day.result, built, defects)
                found = find(scene, CASTING_DETECTORS if stored.state.is_casting else DETECTORS)
                found = rank(found, defects, saving_causes(stored, day, found))
            assumptions = (*law.assumptions, *assumptions, *(built.words if built else ()))
        except LayupError as error:
            problems.append(Problem(str(stored.folder), 0, "", str(error)))
    unexplained = tuple(defect for defect in defects if not DEFECTS[defect].comes_from & {f.cause for f in found})
    return Review(
        stored=stored,
        track=day,
        findings=found,
        as_built=built,
        defects=defects,
        unexplained=unexplained,
        missing=missing_entries(stored.state, unexplained),
        problems=tuple(problems),
        assumptions=assumptions,
        taught=_taught(stored),
    )


def _taught(stored: StoredSession) -> tuple[str, ...]:
    """Say that a day was told from memory, and what that teaches by itself; nothing of one that was logged."""
    told = stored.state.recalled
    if told is None:
        return ()
    found = None if stored.sheet is None else alone(stored)
    lesson = None if found is None else found[1]
    when = f", {told.when}" if told.when else ""
    if found is None or lesson is None or not lesson.observations:
        far = "what was seen is too far off to be its doing"
        why = far if lesson is not None and lesson.looks else "that takes resin, warmth, grams in the cup and when"
        return f"recalled{when}", f"it teaches nothing of the resin: {why}"
    return f"recalled{when}", lesson.words, change_words(found[0], lesson)


# -- verdict ---------------------------------------------------------------------------------------------------------

MOST_CAUSES = 2


def verdict_line(found: Review) -> str:
    """Return the verdict of a session in one sentence: what came of it and why, without a cause where none was found.

    As "Cup 1 emptied 14 min too late: lower glass took 19 min, not 9 min, batch 1 thickened in its cup."
    """
    causes = [one.brief or one.cause for one in found.findings if one.cause != "closed late"][:MOST_CAUSES]
    if not made_late(found) and (beside := late_words(found)):
        causes = [*causes[:1], beside]
    said = ": ".join(filter(None, (came_of(found), ", ".join(causes) or found.verdict)))
    memory = "Recalled: about. " if found.stored.state.recalled is not None else ""
    return f"{memory}{said[:1].upper()}{said[1:].rstrip('.')}."


def came_of(found: Review) -> str:
    """Return what came of the day: its defects, and by how much it was late, or that it never was closed."""
    track, outcome = found.track, found.stored.state.outcome
    tags = ", ".join(outcome.tags) if outcome else ""
    if track is None:
        return tags
    if track.closed_s is None:
        if is_running(found.stored.state):
            return tags or "still running"
        day = found.stored.state.recalled
        stayed_open = track.contact_s is not None and (day is None or day.closed is False)
        return tags or ("never closed" if stayed_open else "")
    return ", ".join(filter(None, (tags, made_late(found))))


def late_words(found: Review) -> str:
    """Return by how much its tightest cup or its press was late; empty where none was, or nobody knows.

    A cup is late only where the review says so: that its mix was past thickening.
    """
    track = found.track
    if track is None or track.closed_s is None:
        return ""
    if found.stored.state.recalled is not None:  # by how much, nobody told so exactly
        return "closed too late" if track.press_by is not None and track.closed_s > track.press_by.low else ""
    left_s, where = track.tightest or (0.0, "")
    thick = any(finding.cause == "past thickening" for finding in found.findings)
    what = "closed" if where == "the part" else f"{where} emptied" if thick else ""
    return f"{what} {minutes(-left_s)} too late" if left_s < 0.0 and what else ""


def made_late(found: Review) -> str:
    """Return the same where the first cause makes late, or none is known; a cup late beside it heads no day."""
    return late_words(found) if not found.findings or found.findings[0].cause in OF_TIME else ""


@dataclass(frozen=True, slots=True)
class Rejected:
    """One cause that was considered, and why it was none, with its number."""

    cause: Cause
    words: str


def rejected(found: Review) -> tuple[Rejected, ...]:
    """Return the causes that the log speaks against, each with its number, those of the recorded defects first.

    A cause of which nothing was logged is not among them, nor a cup as planned where one thickened: smaller ones help.
    """
    if found.track is None or found.stored.state.recalled is not None:  # what is remembered rejects nothing by a number
        return ()
    named, usual = {finding.cause for finding in found.findings}, usual_causes(found.defects)
    named |= {"cup too large"} if "past thickening" in named else set()
    said = [*_why_not_cups(found.track, found.stored.state), *_why_not_else(found.track, found.stored.state)]
    known = [Rejected(cause, words) for cause, words in said if cause not in named]
    return tuple(sorted(known, key=lambda one: one.cause not in usual))


def _why_not_cups(track: Track, state: SessionState) -> Iterator[tuple[Cause, str]]:
    """Yield what speaks against each cause in the cups and on the part, where the log says anything of it."""
    mixed, by = [batch for batch in track.batches if batch.contact_s is not None], track.press_by
    spares = [(batch.cup_left_s, batch.number) for batch in track.batches if batch.cup_left_s is not None]
    if spares and min(spares)[0] >= 0.0:
        left_s, number = min(spares)
        yield "past thickening", f"cup {number} was the tightest: empty {minutes(left_s)} before it had to be"
    if by is not None and track.closed_s is not None and track.closed_s <= by.low:
        first = min(batch.number for batch in track.batches if batch.part == by)
        words = f"closed {minutes(by.low - track.closed_s)} before batch {first} may shut on the part"
        shut = ", ".join(str(batch.number) for batch in track.batches if batch.used and not batch.laid_open)
        yield "closed late", f"{words}; batch {shut} was shut before it was laid" if shut else words
    if planned := [batch for batch in mixed if batch.planned_g > 0.0]:
        most = max(planned, key=lambda batch: batch.mass_g / batch.planned_g)
        spare_s = most.cup_left_s or 0.0
        early = f", and empty {minutes(spare_s)} before it had to be" if spare_s > 0.0 else ""
        beside = f"{mass(most.mass_g)} of {mass(most.planned_g)}"
        yield "cup too large", f"batch {most.number} was the largest beside its plan: {beside}{early}"
    if read := [(kelvin, batch.number) for batch in state.batches for _, kelvin in batch.temperatures]:
        kelvin, number = max(read)
        yield "cup too hot", f"the hottest cup measured was cup {number} at {temperature(kelvin)}"
    if off := [(abs(batch.off_ratio), batch.number) for batch in track.batches if batch.off_ratio is not None]:
        share, number = max(off)
        yield "off ratio", f"batch {number} was furthest off: {100 * share:.1f} % in hardener"
    if mixed and not any(batch.unread for batch in mixed):
        yield "ratio unread", f"the scale was read for {len(mixed)} of {len(mixed)} batches"


def _why_not_else(track: Track, state: SessionState) -> Iterator[tuple[Cause, str]]:
    """Yield the same of shop, mould, steps, cure and log."""
    air, mould = ([kelvin for at_s, kelvin in read if at_s <= track.end_s] for read in (state.air, state.mould))
    if air:
        span = f"the shop was at {temperature(min(air))} to {temperature(max(air))}"
        yield "shop outside the window", f"{span}, planned for {temperature(track.shop.temperature_K)}"
    if mould:
        span = f"the open mould was at {temperature(min(mould))} to {temperature(max(mould))}"
        yield "mould outside the window", span
    if over := [(step.over_s, step.name) for step in track.steps if step.over_s is not None]:
        most_s, name = max(over)
        yield "slow step", f"'{name}' was the slowest beside its plan: {in_minutes(most_s, '+.0f')}"
    if state.humidity and state.air:
        air_K = state.air[0][1]
        with suppress(LayupError):
            margin_K = surface_margin_K(min([air_K, *mould]), air_K, state.humidity[0][1])
            yield "dew or blush", f"the coldest surface was {temperature_change(margin_K)} above the dew point"
    if state.closed_s is not None and state.demoulded_s is not None:
        yield "cure cut short", f"the part stayed shut for {minutes(state.demoulded_s - state.closed_s)}"
    times = sorted(r.when_s for r in state.records if (track.contact_s or 0.0) <= r.when_s <= track.end_s)
    if len(times) > 1:
        yield "gap in the log", f"the longest silence was {minutes(max(b - a for a, b in pairwise(times)))}"
