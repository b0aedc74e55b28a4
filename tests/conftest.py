"""The same examples on every run, unless random ones are asked for: `LAYUP_RANDOM=1 pytest tests/properties`."""

import os

from hypothesis import settings

settings.register_profile("fixed", derandomize=True, deadline=None)
settings.register_profile("random", deadline=None)
settings.load_profile("random" if os.environ.get("LAYUP_RANDOM") else "fixed")
