"""A session looked back on: its day on a time axis, its findings, what was built, and what the log leaves open."""

from __future__ import annotations

from dataclasses import dataclass

from layup.chemistry.datasheet import Datasheet
from layup.chemistry.potlife import Calibration, calibrate
from layup.errors import LayupError, Problem
from layup.planning.case import Case
from layup.planning.stack import Plan
from layup.planning.window import Window, temperature_window
from layup.records import causes_air, causes_bench, causes_cup
from layup.records.as_built import AsBuilt, as_built
from layup.records.findings import Finding, Scene, find
from layup.records.kept import Kept
from layup.records.ledger import ledger_of
from layup.records.left_open import LEFT_OPEN
from layup.records.missing import MissingEntry, missing_entries
from layup.records.outcomes import DEFECTS, defects_of
from layup.records.track import Track, track

DETECTORS = (*LEFT_OPEN, *causes_cup.DETECTORS, *causes_bench.DETECTORS, *causes_air.DETECTORS)
NOTHING_FOUND = "no cause found in what was logged"
NOTHING_WRONG = "nothing stands out"


@dataclass(frozen=True, slots=True)
class Review:
    """Everything that is known of one session afterwards."""

    kept: Kept
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

    @property
    def verdict(self) -> str:
        """The first line: the likeliest cause, or that none was found."""
        if self.findings:
            return self.findings[0].words
        if self.track is None:
            return "nothing can be judged: the session's plan or resin cannot be read"
        return NOTHING_FOUND if self.defects else NOTHING_WRONG


def review(kept: Kept, *, calibration: Calibration | None = None) -> Review:
    """Look back on a session, with its resin as its datasheet says, or as it is known from other sessions."""
    outcome = kept.state.outcome
    defects = defects_of(outcome.tags) if outcome else ()
    problems = list(kept.problems)
    built = as_built(kept)
    found: tuple[Finding, ...] = ()
    day: Track | None = None
    assumptions: tuple[str, ...] = ()
    if kept.plan is not None and kept.sheet is not None and kept.state.start is not None:
        try:
            law = calibration or calibrate(kept.sheet)
            day = track(kept.state, kept.plan, kept.sheet, law)
            found = find(scene_of(kept, kept.plan, kept.sheet, law, day, built, defects), DETECTORS)
            assumptions = (*law.assumptions, *(built.words if built else ()))
        except LayupError as error:
            problems.append(Problem(str(kept.folder), 0, "", str(error)))
    unexplained = tuple(defect for defect in defects if not DEFECTS[defect].comes_from & {f.kind for f in found})
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
    )


def scene_of(
    kept: Kept,
    plan: Plan,
    sheet: Datasheet,
    calibration: Calibration,
    day: Track,
    built: AsBuilt | None,
    defects: tuple[str, ...],
) -> Scene:
    """Return all that the detectors look at."""
    return Scene(
        state=kept.state,
        ledger=ledger_of(kept.state),
        track=day,
        plan=plan,
        sheet=sheet,
        calibration=calibration,
        window=_window(plan, sheet, calibration, day),
        as_built=built,
        defects=defects,
    )


def _window(plan: Plan, sheet: Datasheet, calibration: Calibration, day: Track) -> Window | None:
    """Return the temperatures in which the plan works; None where it could not be worked out again."""
    if day.settled is None:
        return None
    try:
        return temperature_window(Case(plan, sheet, calibration, day.shop), day.settled.job)
    except LayupError:
        return None
