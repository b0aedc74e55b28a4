"""How a part turns out, in the trade's words, and what each defect usually comes from."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

FindingKind = Literal[
    "past thickening",
    "cup too large",
    "cup too hot",
    "off ratio",
    "ratio unread",
    "scale too coarse",
    "shop outside the window",
    "mould outside the window",
    "closed late",
    "starved",
    "resin-rich",
    "slow step",
    "dew or blush",
    "cure cut short",
    "gap in the log",
]
GOOD = "good"
"""The tag of a part without a defect."""


@dataclass(frozen=True, slots=True)
class Defect:
    """One way in which a part goes wrong; `comes_from` are its usual causes (common practice, no source)."""

    words: str
    comes_from: frozenset[FindingKind]


DEFECTS: dict[str, Defect] = {
    "dry spot": Defect(
        "cloth that resin never reached",
        frozenset({"past thickening", "starved", "shop outside the window", "mould outside the window", "slow step"}),
    ),
    "void": Defect(
        "air shut in between plies",
        frozenset({"past thickening", "closed late", "starved", "slow step", "cup too hot", "shop outside the window"}),
    ),
    "delamination": Defect(
        "plies or core that do not hold together",
        frozenset(
            {
                *("closed late", "past thickening", "dew or blush", "off ratio", "ratio unread", "scale too coarse"),
                *("starved", "slow step", "cure cut short", "mould outside the window"),
            }
        ),
    ),
    "starved": Defect("too little resin all over", frozenset({"starved", "past thickening"})),
    "resin-rich": Defect(
        "too much resin, heavy and brittle", frozenset({"resin-rich", "closed late", "past thickening"})
    ),
    "tacky": Defect(
        "does not set hard, or sticks to the finger",
        frozenset(
            {
                *("off ratio", "ratio unread", "scale too coarse", "dew or blush", "cure cut short"),
                *("shop outside the window", "mould outside the window"),
            }
        ),
    ),
    "scorched": Defect("browned or foamed by its own heat", frozenset({"cup too large", "cup too hot", "off ratio"})),
    "twist": Defect(
        "comes out crooked, or moves later",
        frozenset({"cure cut short", "mould outside the window", "closed late", "off ratio"}),
    ),
}


def defects_of(tags: Iterable[str]) -> tuple[str, ...]:
    """Return the tags that name a defect, in their order."""
    return tuple(tag for tag in tags if tag in DEFECTS)


def usual_causes(defects: Iterable[str]) -> frozenset[FindingKind]:
    """Return everything that any of these defects usually comes from."""
    return frozenset(kind for defect in defects for kind in DEFECTS[defect].comes_from)
