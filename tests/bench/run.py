"""Time what must be quick: `python tests/bench/run.py [NAME ...]` runs the benchmarks of this folder, or those named.

A benchmark is a module `bench_NAME.py` here with a function `lines()` that yields the lines to print as it goes.
Numbers depend on the machine and on what else it is doing; ratios are taken within one run.
"""

import importlib
import sys
from pathlib import Path

FOLDER = Path(__file__).parent


def main(names: list[str]) -> int:
    """Run the benchmarks named, or all; return 2 for a name that is not there."""
    known = {path.stem.removeprefix("bench_"): path.stem for path in sorted(FOLDER.glob("bench_*.py"))}
    unknown = [name for name in names if name not in known]
    if unknown:
        print(f"no such benchmark: {', '.join(unknown)} - there are {', '.join(known)}", file=sys.stderr)
        return 2
    sys.path.insert(0, str(FOLDER))
    for name in names or known:
        print(f"== {name}")
        for line in importlib.import_module(known[name]).lines():
            print(line, flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
