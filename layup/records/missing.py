"""What the log does not say: the entries that would have told of a cause, where none was found."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from layup.records.outcomes import FindingKind, usual_causes
from layup.records.state import SessionState


@dataclass(frozen=True, slots=True)
class MissingEntry:
    """An entry that is missing, and what it would have told."""

    entry: str
    tells: str


@dataclass(frozen=True, slots=True)
class _Entry:
    """One kind of entry: whether a session lacks it, and the causes that only it can show."""

    words: str
    lacks: Callable[[SessionState], bool]
    tells: str
    kinds: frozenset[FindingKind]


def _after_closing(state: SessionState) -> bool:
    """Return whether a temperature of mould or shop was read once the press was closed."""
    closed_s = state.closed_s
    return closed_s is not None and any(at_s > closed_s for at_s, _ in (*state.mould, *state.air))


_ENTRIES = (
    _Entry(
        "the humidity of the shop",
        lambda state: not state.humidity,
        "dew on the mould, or blush",
        frozenset({"dew or blush"}),
    ),
    _Entry(
        "how the mix in each cup looked (runny, thickening, stringy, gelled)",
        lambda state: not any(batch.observations for batch in state.batches),
        "mix used past thickening, and whether this resin is faster than its datasheet",
        frozenset({"past thickening", "closed late"}),
    ),
    _Entry(
        "the temperature of the mould while the layup was open",
        lambda state: not any(state.closed_s is None or at_s <= state.closed_s for at_s, _ in state.mould),
        "a film that closed early, or a mould too cold to set on",
        frozenset({"mould outside the window", "closed late"}),
    ),
    _Entry(
        "the temperature of the shop more than once",
        lambda state: len(state.air) < 2,
        "a shop that warmed or cooled during the day",
        frozenset({"shop outside the window", "past thickening", "closed late"}),
    ),
    _Entry(
        "a temperature measured in a cup",
        lambda state: not any(batch.temperatures for batch in state.batches),
        "a cup that heated itself",
        frozenset({"cup too hot", "cup too large"}),
    ),
    _Entry(
        "the weight of the part and of its dry pieces",
        lambda state: state.weighed is None and not state.coupons and not state.thicknesses,
        "too little or too much resin in the part",
        frozenset({"starved", "resin-rich"}),
    ),
    _Entry(
        "the pressure when the press was closed",
        lambda state: state.pressure_Pa is None,
        "plies that were not pressed together",
        frozenset({"resin-rich", "closed late"}),
    ),
    _Entry(
        "when the part came out",
        lambda state: state.demoulded_s is None,
        "a cure that was cut short",
        frozenset({"cure cut short"}),
    ),
    _Entry(
        "the temperature of the mould after closing",
        lambda state: not _after_closing(state),
        "a cure that was too cold to finish",
        frozenset({"cure cut short", "mould outside the window"}),
    ),
    _Entry(
        "the lot numbers of both cans",
        lambda state: len({lot.component for lot in state.lots}) < 2,
        "a can that was old or mixed up",
        frozenset({"off ratio"}),
    ),
)


def missing_entries(state: SessionState, defects: Sequence[str]) -> tuple[MissingEntry, ...]:
    """Return the entries that a session lacks and that could have told of its defects, or of anything without one."""
    usual = usual_causes(defects)
    return tuple(
        MissingEntry(entry.words, entry.tells)
        for entry in _ENTRIES
        if entry.lacks(state) and (not usual or entry.kinds & usual)
    )
