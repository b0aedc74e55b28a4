"""Time what must be quick: `python tests/bench/run.py [NAME ...]` runs the benchmarks of this folder, or those named.

Each is a module `bench_NAME.py` here with a function `rows(*, smallest=False)` that yields what it measures, ours
beside a stated rival, both in turn in the same run. One table of all rows is printed at the end. Times depend on the
machine and on what else it is doing, ratios hardly; where the clock is CPU, only the program's own time counts. Where
it is wall, more programs than cores make the times longer than they are.
"""

import importlib
import os
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

FOLDER = Path(__file__).parent
NAMES = tuple(path.stem.removeprefix("bench_") for path in sorted(FOLDER.glob("bench_*.py")))


def main(names: list[str]) -> int:
    """Run the benchmarks named, or all; return 2 for a name that is not there."""
    unknown = [name for name in names if name not in NAMES]
    if unknown:
        print(f"no such benchmark: {', '.join(unknown)} - there are {', '.join(NAMES)}", file=sys.stderr)
        return 2
    sys.path[:0] = [str(FOLDER), str(FOLDER.parent)]
    from results import table

    began_s, rows = time.monotonic(), []
    with byte_code_kept():
        for name in names or NAMES:
            print(f"measuring {name} ...", file=sys.stderr)
            rows += importlib.import_module(f"bench_{name}").rows()
    print(table(rows))
    busy, cores = os.getloadavg()[1], os.cpu_count()
    print(f"measured in {time.monotonic() - began_s:.0f} s; on average {busy:.1f} programs wanted the {cores} cores")
    return 0


@contextmanager
def byte_code_kept() -> Iterator[None]:
    """Let the programs that are started find byte code from the second time on, as after an installation."""
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    with tempfile.TemporaryDirectory() as os.environ["PYTHONPYCACHEPREFIX"]:
        yield


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
