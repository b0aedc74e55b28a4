"""The verdict of a session in a sentence, what came of it, its first causes, and those that a number rejects."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

from layup.chemistry.climate import surface_margin_K
from layup.errors import LayupError
from layup.review.evidence import OF_TIME, Cause, usual_causes
from layup.review.review import Review
from layup.review.timeline import Track, is_running
from layup.session.state import SessionState
from layup.units import in_minutes, mass, minutes, temperature, temperature_change

MOST_CAUSES = 2


def verdict_line(found: Review) -> str:
    """Return the verdict of a session in one sentence: what came of it and why, without a cause where none was found.

    As "Cup 1 emptied 14 min too late: lower glass took 19 min, not 9 min, batch 1 thickened in its cup."
    """
    causes = [one.brief or one.cause for one in found.findings if one.cause != "closed late"][:MOST_CAUSES]
    if not made_late(found) and (beside := late_words(found)):
        causes = [*causes[:1], beside]
    said = ": ".join(filter(None, (came_of(found), ", ".join(causes) or found.verdict)))
    memory = "Recalled: about. " if found.kept.state.recalled is not None else ""
    return f"{memory}{said[:1].upper()}{said[1:].rstrip('.')}."


def came_of(found: Review) -> str:
    """Return what came of the day: its defects, and by how much it was late, or that it never was closed."""
    track, outcome = found.track, found.kept.state.outcome
    tags = ", ".join(outcome.tags) if outcome else ""
    if track is None:
        return tags
    if track.closed_s is None:
        if is_running(found.kept.state):
            return tags or "still running"
        day = found.kept.state.recalled
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
    by, tight, late = track.press_by, track.tightest, ""
    if found.kept.state.recalled is not None:  # by how much, nobody told so exactly
        late = "closed too late" if by is not None and track.closed_s > by.low else ""
    elif tight is not None and tight[0] < 0.0:
        left_s, where = tight
        thick = any(finding.cause == "past thickening" for finding in found.findings)
        what = "closed" if where == "the part" else f"{where} emptied" if thick else ""
        late = f"{what} {minutes(-left_s)} too late" if what else ""
    return late


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
    if found.track is None or found.kept.state.recalled is not None:  # what is remembered rejects nothing by a number
        return ()
    named = {finding.cause for finding in found.findings}
    said = [
        Rejected(cause, words)
        for cause, why_not in WHY_NOT.items()
        if cause not in named and not (cause == "cup too large" and "past thickening" in named)
        for words in why_not(found.track, found.kept.state)
    ]
    usual = usual_causes(found.defects)
    return tuple(sorted(said, key=lambda one: one.cause not in usual))


def _in_cup(track: Track, _: SessionState) -> Iterator[str]:
    spares = [(batch.cup_left_s, batch.number) for batch in track.batches if batch.cup_left_s is not None]
    if spares and min(spares)[0] >= 0.0:
        left_s, number = min(spares)
        yield f"cup {number} was the tightest: empty {minutes(left_s)} before it had to be"


def _closed(track: Track, _: SessionState) -> Iterator[str]:
    by = track.press_by
    if by is not None and track.closed_s is not None and track.closed_s <= by.low:
        first = min((batch for batch in track.batches if batch.part == by), key=lambda batch: batch.number)
        words = f"closed {minutes(by.low - track.closed_s)} before batch {first.number} may shut on the part"
        shut = ", ".join(str(batch.number) for batch in track.batches if batch.used and not batch.laid_open)
        yield f"{words}; batch {shut} was shut before it was laid" if shut else words


def _large(track: Track, _: SessionState) -> Iterator[str]:
    mixed = [batch for batch in track.batches if batch.contact_s is not None and batch.planned_g > 0.0]
    if mixed:
        most = max(mixed, key=lambda batch: batch.mass_g / batch.planned_g)
        spare_s = most.cup_left_s or 0.0
        early = f", and empty {minutes(spare_s)} before it had to be" if spare_s > 0.0 else ""
        planned = f"{mass(most.mass_g)} of {mass(most.planned_g)}"
        yield f"batch {most.number} was the largest beside its plan: {planned}{early}"


def _hot(_: Track, state: SessionState) -> Iterator[str]:
    read = [(kelvin, batch.number) for batch in state.batches for _, kelvin in batch.temperatures]
    if read:
        kelvin, number = max(read)
        yield f"the hottest cup measured was cup {number} at {temperature(kelvin)}"


def _ratio(track: Track, _: SessionState) -> Iterator[str]:
    off = [(abs(batch.off_ratio), batch.number) for batch in track.batches if batch.off_ratio is not None]
    if off:
        share, number = max(off)
        yield f"batch {number} was furthest off: {100 * share:.1f} % in hardener"


def _read(track: Track, _: SessionState) -> Iterator[str]:
    mixed = [batch for batch in track.batches if batch.contact_s is not None]
    if mixed and not any(batch.unread for batch in mixed):
        yield f"the scale was read for {len(mixed)} of {len(mixed)} batches"


def _air(track: Track, state: SessionState) -> Iterator[str]:
    read = [kelvin for at_s, kelvin in state.air if at_s <= track.end_s]
    if read:
        planned = temperature(track.shop.temperature_K)
        yield f"the shop was at {temperature(min(read))} to {temperature(max(read))}, planned for {planned}"


def _mould(track: Track, state: SessionState) -> Iterator[str]:
    read = [kelvin for at_s, kelvin in state.mould if at_s <= track.end_s]
    if read:
        yield f"the open mould was at {temperature(min(read))} to {temperature(max(read))}"


def _slow(track: Track, _: SessionState) -> Iterator[str]:
    over = [(step.over_s, step.name) for step in track.steps if step.over_s is not None]
    if over:
        most_s, name = max(over)
        yield f"'{name}' was the slowest beside its plan: {in_minutes(most_s, '+.0f')}"


def _damp(track: Track, state: SessionState) -> Iterator[str]:
    if not state.humidity or not state.air:
        return
    air_K = state.air[0][1]
    surface_K = min([air_K, *(kelvin for at_s, kelvin in state.mould if at_s <= track.end_s)])
    try:
        margin_K = surface_margin_K(surface_K, air_K, state.humidity[0][1])
    except LayupError:
        return
    yield f"the coldest surface was {temperature_change(margin_K)} above the dew point"


def _cure(_: Track, state: SessionState) -> Iterator[str]:
    if state.closed_s is not None and state.demoulded_s is not None:
        yield f"the part stayed shut for {minutes(state.demoulded_s - state.closed_s)}"


def _gap(track: Track, state: SessionState) -> Iterator[str]:
    times = sorted(r.when_s for r in state.records if (track.contact_s or 0.0) <= r.when_s <= track.end_s)
    if len(times) > 1:
        yield f"the longest silence was {minutes(max(b - a for a, b in pairwise(times)))}"


WHY_NOT: dict[Cause, Callable[[Track, SessionState], Iterator[str]]] = {
    "past thickening": _in_cup,
    "closed late": _closed,
    "cup too large": _large,
    "cup too hot": _hot,
    "off ratio": _ratio,
    "ratio unread": _read,
    "shop outside the window": _air,
    "mould outside the window": _mould,
    "slow step": _slow,
    "dew or blush": _damp,
    "cure cut short": _cure,
    "gap in the log": _gap,
}
"""What speaks against each cause, where the log says anything of it."""
