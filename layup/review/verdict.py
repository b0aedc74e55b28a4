"""The verdict of a session in one sentence: what came of it, then its first two causes, in the order of harm."""

from __future__ import annotations

from layup.review.review import Review
from layup.review.timeline import is_running
from layup.units import minutes

MOST_CAUSES = 2


def verdict_line(found: Review) -> str:
    """Return the verdict of a session in one sentence.

    Parameters
    ----------
    found : Review
        A session looked back on [-]

    Returns
    -------
    str
        What came of it and why, without a cause where none was found [-]

    Notes
    -----
    As "Cup 1 emptied 14 min too late: lower glass took 19 min, not 9 min, batch 1 thickened in its cup."
    """
    causes = [one.brief or one.kind for one in found.findings if one.kind != "closed late"][:MOST_CAUSES]
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
    return ", ".join(filter(None, (tags, late_words(found))))


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
        thick = any(finding.kind == "past thickening" for finding in found.findings)
        what = "closed" if where == "the part" else f"{where} emptied" if thick else ""
        late = f"{what} {minutes(-left_s)} too late" if what else ""
    return late
