"""Half as many examples of a law of smooth numbers, which has no rare corner, unless random ones are asked for."""

from hypothesis import settings

smooth = settings(max_examples=50 if settings().derandomize else 100)
