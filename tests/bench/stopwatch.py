"""How long a call takes: the best of several, which is what the machine can do when left alone."""

from collections.abc import Callable
from time import perf_counter, process_time
from typing import NamedTuple


class Took(NamedTuple):
    """The shortest of several times [s], by the processor's clock and by the wall's."""

    processor_s: float
    wall_s: float


def best(call: Callable[[], object], *, repeats: int = 5) -> Took:
    """Return the shortest times that `call` takes; a busy machine spoils the wall's, not the processor's."""
    processor_s, wall_s = [], []
    for _ in range(repeats):
        wall, processor = perf_counter(), process_time()
        call()
        processor_s.append(process_time() - processor)
        wall_s.append(perf_counter() - wall)
    return Took(min(processor_s), min(wall_s))
