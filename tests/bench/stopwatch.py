"""How long calls take: the best of several, ours and the rival's in turn: a busy machine is unfair to neither."""

import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from time import perf_counter, process_time
from typing import NamedTuple

ENOUGH_S = 0.02
"""A call much shorter than this is made again and again in its turn."""


def nothing() -> None:
    """Do nothing."""


class Took(NamedTuple):
    """Times [s], by the processor's clock and by the wall's."""

    processor_s: float
    wall_s: float


@dataclass(frozen=True)
class Trial:
    """Something to time, and what to do each time before the clock starts."""

    call: Callable[[], object]
    before: Callable[[], object] = nothing


def once(trial: Trial) -> Took:
    """Return how long one call takes; by the processor's clock a busy machine does not count."""
    trial.before()
    wall_s, processor_s = perf_counter(), process_time()
    trial.call()
    return Took(process_time() - processor_s, perf_counter() - wall_s)


def best(*trials: Trial, rounds: int) -> list[Took]:
    """Return the shortest times that each trial takes, all of them in turn in each round."""
    found: list[list[Took]] = [[] for _ in trials]
    for _ in range(rounds):
        for trial, took in zip(trials, found, strict=True):
            spent_s = 0.0
            while spent_s < ENOUGH_S:
                took.append(once(trial))
                spent_s += max(took[-1].wall_s, ENOUGH_S / 1000)
    return [Took(min(t.processor_s for t in took), min(t.wall_s for t in took)) for took in found]


def interpreter_s(*words: str) -> float:
    """Return the processor time of a fresh interpreter that is given some words [s]."""
    command = [sys.executable, *words]
    quiet = [(os.POSIX_SPAWN_OPEN, 1, os.devnull, os.O_WRONLY, 0)]
    process = os.posix_spawn(command[0], command, os.environ, file_actions=quiet)
    _, status, used = os.wait4(process, 0)
    assert status == 0, f"{command} ended with {os.waitstatus_to_exitcode(status)}"
    return used.ru_utime + used.ru_stime
