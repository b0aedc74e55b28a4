"""The same examples on every run, unless random ones are asked for: `LAYUP_RANDOM=1 pytest tests/properties`."""

import gc
import os
import sys
from pathlib import Path

import pytest
from hypothesis import settings

settings.register_profile("fixed", derandomize=True, deadline=None)
settings.register_profile("random", deadline=None)
settings.load_profile("random" if os.environ.get("LAYUP_RANDOM") else "fixed")

# On matrices of some hundred rows the threads of a linear algebra do little but wait for each other, at full speed.
for threads in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ.setdefault(threads, "1")

# Tests start the program hundreds of times, which else would compile all of it each time anew.
sys.dont_write_bytecode = False
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# What is loaded lasts to the end: looks through it for garbage, again and again, were a twelfth of the time.
gc.set_threshold(20_000, 20, 20)
gc.disable()


def pytest_collection_finish() -> None:
    """Leave all that is there by now out of every later search for garbage."""
    gc.freeze()
    gc.enable()


@pytest.hookimpl(trylast=True)
def pytest_unconfigure() -> None:
    """Spare two more looks through all that is there: pytest has just taken all garbage away."""
    gc.freeze()


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Leave the tests in a real browser to those who ask for them: they want Chromium, and a loop of their own."""
    asked = any("browser" in str(arg) for arg in config.args)
    return True if collection_path.name == "browser" and not asked else None
