"""A session looked back on: its day, its findings, what was built, and which entries would have told of a cause."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from layup.chemistry.calibration import Calibration, calibrate
from layup.chemistry.looks import LOOKS
from layup.errors import LayupError, Problem
from layup.planning.budget import for_part
from layup.review import causes_air, causes_bench, causes_cup
from layup.review.as_built import AsBuilt, as_built
from layup.review.causes_bench import LEFT_OPEN
from layup.review.changed_days import saving_causes
from layup.review.evidence import (
    DEFECTS,
    Cause,
    Finding,
    Scene,
    defects_of,
    find,
    rank,
    usual_causes,
    without_slips,
)
from layup.review.lessons import alone, change_words, trial_words
from layup.review.pace import dry_run_in
from layup.review.recalled import told_findings
from layup.review.timeline import Track, track
from layup.session.archive import StoredSession
from layup.session.state import SessionState

# -- missing ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class MissingEntry:
    """An entry that is missing, and what it would have told."""

    entry: str
    tells: str


@dataclass(frozen=True, slots=True)
class _EntryKind:
    """One kind of entry: whether a session lacks it, and the causes that only it can show."""

    words: str
    lacks: Callable[[SessionState], bool]
    tells: str
    causes: frozenset[Cause]


def _after_closing(state: SessionState) -> bool:
    """Return whether a temperature of mould or shop was read once the press was closed."""
    closed_s = state.closed_s
    return closed_s is not None and any(at_s > closed_s for at_s, _ in (*state.mould, *state.air))


_ENTRIES = (
    _EntryKind(
        "the humidity of the shop",
        lambda state: not state.humidity,
        "dew on the mould, or blush",
        frozenset({"dew or blush"}),
    ),
    _EntryKind(
        f"how the mix in each cup looked ({', '.join(LOOKS)})",
        lambda state: not any(batch.observations for batch in state.batches),
        "mix used past thickening, and whether this resin is faster than its datasheet",
        frozenset({"past thickening", "closed late"}),
    ),
    _EntryKind(
        "the temperature of the mould while the layup was open",
        lambda state: not any(state.closed_s is None or at_s <= state.closed_s for at_s, _ in state.mould),
        "a film that closed early, or a mould too cold to set on",
        frozenset({"mould outside the window", "closed late"}),
    ),
    _EntryKind(
        "the temperature of the shop more than once",
        lambda state: len(state.air) < 2,
        "a shop that warmed or cooled during the day",
        frozenset({"shop outside the window", "past thickening", "closed late"}),
    ),
    _EntryKind(
        "a temperature measured in a cup",
        lambda state: not any(batch.temperatures for batch in state.batches),
        "a cup that heated itself",
        frozenset({"cup too hot", "cup too large"}),
    ),
    _EntryKind(
        "the weight of the part and of its dry pieces",
        lambda state: state.weighed is None and not state.coupons and not state.thicknesses,
        "too little or too much resin in the part",
        frozenset({"starved", "resin-rich"}),
    ),
    _EntryKind(
        "the pressure when the press was closed",
        lambda state: state.pressure_Pa is None,
        "plies that were not pressed together",
        frozenset({"resin-rich", "closed late"}),
    ),
    _EntryKind(
        "when the part came out",
        lambda state: state.demoulded_s is None,
        "a cure that was cut short",
        frozenset({"cure cut short"}),
    ),
    _EntryKind(
        "the temperature of the mould after closing",
        lambda state: not _after_closing(state),
        "a cure that was too cold to finish",
        frozenset({"cure cut short", "mould outside the window"}),
    ),
    _EntryKind(
        "the lot numbers of both cans",
        lambda state: len({lot.component for lot in state.lots}) < 2,
        "a can that was old or mixed up",
        frozenset({"off ratio"}),
    ),
)


_OF_A_CASTING = (
    _EntryKind(
        f"how the mix in each cup looked ({', '.join(LOOKS)})",
        lambda state: not any(batch.observations for batch in state.batches),
        "whether this resin is faster than its datasheet",
        frozenset({"poured late", "joined late"}),
    ),
    _EntryKind(
        "the temperature of the core",
        lambda state: not state.mould,
        "a pour that set soft or late",
        frozenset({"core cold", "joined late", "planed early"}),
    ),
    _EntryKind(
        "the moisture of the core",
        lambda state: state.wood_moisture is None,
        "water that foams",
        frozenset({"core wet"}),
    ),
    _EntryKind(
        "the humidity of the shop", lambda state: not state.humidity, "damp that foams", frozenset({"core wet"})
    ),
    _EntryKind(
        "when it was planed",
        lambda state: state.demoulded_s is None,
        "a wall too soft to plane",
        frozenset({"planed early"}),
    ),
)


def missing_entries(state: SessionState, defects: Sequence[str]) -> tuple[MissingEntry, ...]:
    """Return the entries that a session lacks and that could have told of its defects, or of anything without one."""
    usual = usual_causes(defects)
    return tuple(
        MissingEntry(entry.words, entry.tells)
        for entry in (_OF_A_CASTING if state.is_casting else _ENTRIES)
        if entry.lacks(state) and (not usual or entry.causes & usual)
    )


# -- review ----------------------------------------------------------------------------------------------------------

CASTING_DETECTORS = (*causes_cup.OF_POURS, *causes_air.OF_A_CORE, *causes_cup.OF_THE_MIX)
DETECTORS = (*LEFT_OPEN, *causes_cup.DETECTORS, *causes_bench.DETECTORS, *causes_air.DETECTORS)
NOTHING_FOUND = "no cause found in what was logged"
NOTHING_TOLD = "no cause found in what was told"
NOTHING_WRONG = "nothing stands out"
TRIAL = "a trial cup: what it taught"
DRY_RUN = "a dry run: what it took"


@dataclass(frozen=True, slots=True)
class Review:
    """Everything that is known of one session afterwards."""

    kept: StoredSession
    track: Track | None
    """None where the plan or the resin of the session cannot be read."""
    findings: tuple[Finding, ...]
    as_built: AsBuilt | None
    defects: tuple[str, ...]
    unexplained: tuple[str, ...]
    """The defects that none of the findings usually makes."""
    missing: tuple[MissingEntry, ...]
    """The entries that would have told of them, or of anything where nothing was found."""
    problems: tuple[Problem, ...]
    assumptions: tuple[str, ...]
    taught: tuple[str, ...] = ()
    """Of a trial cup, which has nothing to judge: what it saw, and what that teaches by itself."""

    @property
    def verdict(self) -> str:
        """The first line: the likeliest cause, or that none was found."""
        if self.findings:
            return self.findings[0].words
        told = self.kept.state.recalled
        if self.taught and told is None:
            return DRY_RUN if self.kept.state.start and self.kept.state.start.kind == "dry run" else TRIAL
        if self.track is None and told is not None and not told.resin_known:
            return "nothing can be judged: nobody knows which resin it was"
        if self.track is None:
            return "nothing can be judged: the session's plan or resin cannot be read"
        if told is not None:
            return NOTHING_TOLD
        return NOTHING_FOUND if self.defects else NOTHING_WRONG


_LAST: deque[Review] = deque(maxlen=4)


def review(kept: StoredSession, *, calibration: Calibration | None = None) -> Review:
    """Look back on a session, with its resin as its datasheet says, or as it is known from other sessions.

    By its datasheet the last few are kept: list, opened day and pages of the Logbook ask for the same one in turn.
    """
    if calibration is not None:
        return _review(kept, calibration)
    for one in tuple(_LAST):
        if one.kept == kept:
            return one
        if not one.problems and replace(one.kept, folder=kept.folder) == kept:
            return replace(one, kept=kept)
    found = _review(kept, None)
    _LAST.append(found)
    return found


def _review(kept: StoredSession, calibration: Calibration | None) -> Review:
    if kept.state.start is not None and kept.state.start.kind == "trial":
        return _trial(kept)
    if kept.state.start is not None and kept.state.start.kind == "dry run":
        return _dry_run(kept)
    outcome = kept.state.outcome
    defects = defects_of(outcome.tags) if outcome else ()
    problems = list(kept.problems)
    built = None if kept.state.is_casting else as_built(kept)
    found: tuple[Finding, ...] = ()
    day: Track | None = None
    assumptions: tuple[str, ...] = ()
    if kept.plan is not None and kept.sheet is not None and kept.state.start is not None:
        try:
            law = for_part(calibration or calibrate(kept.sheet), kept.plan)
            if kept.state.recalled is not None:
                day, found, assumptions = told_findings(kept, kept.plan, kept.sheet, law, defects)
            else:
                state = without_slips(kept.state)
                day = track(state, kept.plan, kept.sheet, law)
                scene = Scene(state, day, kept.plan, kept.sheet, law, day.result, built, defects)
                found = find(scene, CASTING_DETECTORS if kept.state.is_casting else DETECTORS)
                found = rank(found, defects, saving_causes(kept, day, found))
            assumptions = (*law.assumptions, *assumptions, *(built.words if built else ()))
        except LayupError as error:
            problems.append(Problem(str(kept.folder), 0, "", str(error)))
    unexplained = tuple(defect for defect in defects if not DEFECTS[defect].comes_from & {f.cause for f in found})
    return Review(
        kept=kept,
        track=day,
        findings=found,
        as_built=built,
        defects=defects,
        unexplained=unexplained,
        missing=missing_entries(kept.state, unexplained),
        problems=tuple(problems),
        assumptions=assumptions,
        taught=_taught(kept),
    )


def _taught(kept: StoredSession) -> tuple[str, ...]:
    """Say that a day was told from memory, and what that teaches by itself; nothing of one that was logged."""
    told = kept.state.recalled
    if told is None:
        return ()
    found = None if kept.sheet is None else alone(kept)
    lesson = None if found is None else found[1]
    when = f", {told.when}" if told.when else ""
    if found is None or lesson is None or not lesson.observations:
        far = "what was seen is too far off to be its doing"
        why = far if lesson is not None and lesson.looks else "that takes resin, warmth, grams in the cup and when"
        return f"recalled{when}", f"it teaches nothing of the resin: {why}"
    return f"recalled{when}", lesson.words, change_words(found[0], lesson)


def _trial(kept: StoredSession) -> Review:
    """Look back on a trial cup: nothing was pressed, so nothing is judged."""
    found, problems = alone(kept), list(kept.problems)
    taught: tuple[str, ...] = ("nothing can be told: its resin cannot be read",)
    assumptions: tuple[str, ...] = ()
    if found is not None:
        stated, lesson = found
        taught, assumptions = trial_words(kept, stated, lesson), stated.assumptions
    return Review(kept, None, (), None, (), (), (), tuple(problems), assumptions, taught)


def _dry_run(kept: StoredSession) -> Review:
    """Look back on a dry run: no resin, so nothing is judged."""
    run = dry_run_in(kept.state, kept.plan) if kept.plan is not None else None
    taught = ("nothing was ticked",) if run is None else run.words
    return Review(kept, None, (), None, (), (), (), kept.problems, (), taught)
