"""Plan a wet layup, mix its resin, keep its clocks on press day and learn from it."""

__version__ = "0.1.0"
