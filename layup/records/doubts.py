"""What stands against laying a batch: it is off ratio, or nobody read on the scale what went into it."""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

from layup.chemistry.mixing import off_ratio
from layup.errors import LayupError
from layup.planning.verdict import ratio_word
from layup.records.event_fields import Doubt
from layup.records.facts import BatchState


def poured_off_ratio(batch: BatchState, parts: Sequence[float]) -> float | None:
    """Return how far off ratio a batch was mixed (+0.1: 10 % too much hardener); None where its masses cannot tell."""
    if batch.mixed_s is None or not batch.resin_g or not batch.hardener_g:
        return None
    try:
        off = off_ratio((batch.resin_g, batch.hardener_g), parts)
    except LayupError:
        return None
    return off if isfinite(off) else None


def doubt(batch: BatchState, parts: Sequence[float]) -> Doubt | None:
    """Return what stands against laying a mixed batch, by its last readings: the one rule for asking and for marks."""
    if batch.mixed_s is None:
        return None
    off = poured_off_ratio(batch, parts)
    if off is not None and ratio_word(off) == "off ratio":
        return "off ratio"
    return "unread" if off is None or unread(batch) else None


def unread(batch: BatchState) -> tuple[str, ...]:
    """Return the components of a mixed batch that were never read on the scale."""
    known = (("resin", batch.resin_read), ("hardener", batch.hardener_read))
    return tuple(name for name, read in known if not read)
