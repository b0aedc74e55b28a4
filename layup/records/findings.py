"""What went wrong and why: each cause that the log shows, with its evidence, its size and what to change, ranked.

Detectors stand in the modules `causes_cup`, `causes_bench` and `causes_air`. The size of an effect is counted in its
own tolerance: 1 is where harm begins to be likely. A cause outranks what follows from it, and what usually makes the
defects that were recorded outranks what does not.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf
from typing import Literal

from layup.chemistry.datasheet import Datasheet
from layup.chemistry.potlife import Calibration
from layup.planning.stack import Plan
from layup.planning.window import Window
from layup.records.as_built import AsBuilt
from layup.records.ledger import Evidence, Ledger
from layup.records.outcomes import GOOD, FindingKind, usual_causes
from layup.records.state import SessionState
from layup.records.track import Track

Certainty = Literal["certain", "likely", "possible"]
WEIGHT: dict[Certainty, float] = {"certain": 1.0, "likely": 0.8, "possible": 0.5}
LARGEST = 6.0
"""Sizes beyond this are as bad as can be."""
FIRST = 100.0
"""The size of what stands before all else, whatever else went wrong."""
HARMS_BY_WHAT_FOLLOWS: frozenset[FindingKind] = frozenset({"slow step"})
"""What does no harm of its own: where everything was in time all the same, it counts as the least that harms."""
FITS_DEFECT, OTHER_DEFECT = 1.5, 0.7
"""How much more, or less, a finding counts that does or does not usually make the defects recorded."""
FOLLOWS_FROM: dict[FindingKind, frozenset[FindingKind]] = {
    "past thickening": frozenset({"slow step", "cup too large", "cup too hot", "shop outside the window"}),
    "cup too hot": frozenset({"cup too large", "shop outside the window"}),
    "closed late": frozenset(
        {"slow step", "shop outside the window", "mould outside the window", "cup too hot", "past thickening"}
    ),
    "cure cut short": frozenset({"off ratio", "ratio unread"}),
}
"""What each finding may follow from."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One cause: what happened, how far it went, what it did, and what to change."""

    kind: FindingKind
    words: str
    effect: str
    change: str
    size: float
    certainty: Certainty
    evidence: tuple[Evidence, ...]
    also: tuple[str, ...] = ()
    """The same again, of other batches or steps, in words."""


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything that a detector looks at."""

    state: SessionState
    ledger: Ledger
    track: Track
    plan: Plan
    sheet: Datasheet
    calibration: Calibration
    window: Window | None
    """Temperatures in which the plan works; None where it could not be worked out again."""
    as_built: AsBuilt | None
    defects: tuple[str, ...]

    @property
    def wet(self) -> tuple[float, float] | None:
        """From first contact until the press closed, or until the bench went quiet; None before first contact."""
        contact_s = self.track.contact_s
        return None if contact_s is None else (contact_s, max(self.track.end_s, contact_s))

    def foretold(self, kind: FindingKind, certainty: Certainty, *, on_part: bool = True) -> Certainty:
        """Return how sure a finding is that a model makes: certain only of what is on the part and fits how it is."""
        usual, outcome = usual_causes(self.defects), self.state.outcome
        fits = kind in usual if usual else outcome is None or GOOD not in outcome.tags
        return certainty if certainty != "certain" or (on_part and fits) else "likely"


Detector = Callable[[Scene], Iterator[Finding]]


def find(scene: Scene, detectors: Sequence[Detector]) -> tuple[Finding, ...]:
    """Return what all detectors find, one finding a kind, the most telling first."""
    found: dict[FindingKind, list[Finding]] = {}
    for detector in detectors:
        for finding in detector(scene):
            found.setdefault(finding.kind, []).append(finding)
    return rank([_together(same) for same in found.values()], scene.defects)


def _together(same: Sequence[Finding]) -> Finding:
    """Return the worst of some findings of one kind, with the others as more of it."""
    worst = max(same, key=_weight)
    others = [finding for finding in same if finding is not worst]
    records = {one.seq: one for finding in same for one in finding.evidence}
    return replace(
        worst,
        also=tuple(finding.words for finding in others),
        evidence=tuple(records[seq] for seq in sorted(records)),
    )


def _weight(finding: Finding) -> float:
    """Return how much a finding counts before it is known what it explains, and what follows from it."""
    return finding.size if finding.size >= FIRST else min(finding.size, LARGEST) * WEIGHT[finding.certainty]


def rank(findings: Iterable[Finding], defects: Sequence[str]) -> tuple[Finding, ...]:
    """Return findings in the order of how likely each is the cause of what went wrong.

    That is the order of harm: what harms only by what it makes late counts little where nothing was late. A cause takes
    over the score of what follows from it, so that it stands above it.
    """
    found = list(findings)
    usual = usual_causes(defects)

    def score(finding: Finding) -> float:
        fits = 1.0 if not usual else FITS_DEFECT if finding.kind in usual else OTHER_DEFECT
        return min(_weight(finding), 1.0 if finding.kind in HARMS_BY_WHAT_FOLLOWS else inf) * fits

    own = [score(finding) for finding in found]
    behind = list(own)
    for _ in FOLLOWS_FROM:  # as many rounds as the longest chain can have links
        for i, cause in enumerate(found):
            follows = (behind[j] for j, one in enumerate(found) if cause.kind in FOLLOWS_FROM.get(one.kind, ()))
            behind[i] = max(own[i], max(follows, default=0.0) * 1.001)
    order = sorted(range(len(found)), key=lambda i: (-behind[i], -own[i], found[i].kind))
    return tuple(found[i] for i in order)
