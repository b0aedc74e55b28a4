"""How far a day is from its minutes, guessed or told by earlier runs of the plan: standard deviations of logarithms."""

from __future__ import annotations

from math import hypot, sqrt

GUESS_PACE, RUN_PACE = 0.20, 0.12
"""How far guessed minutes are from a crew's own, and one run of a plan from its next, as logarithms (common practice,
no source)."""
BATCH_PACE = 0.10
"""How far the pace of each stretch of a day is from that of the day (common practice, no source)."""


def day_pace(passes: int, run_pace: float = RUN_PACE) -> float:
    """Return how far the next run of a plan is from its minutes.

    The standard deviation of the logarithm of the time [-]: each pass makes the mean surer, none one run like the next.

    Parameters
    ----------
    passes : Runs whose mean its minutes are, 0 where they are guessed [-]
    run_pace : How far one run is from the next, as a logarithm [-]
    """
    return hypot(run_pace, run_pace / sqrt(passes) if passes else GUESS_PACE)


DAY_PACE = day_pace(0)
GUESSES, PRESS_DAYS = "guesses", "press days"
"""Where minutes are from that nobody timed, and that earlier days taught."""
