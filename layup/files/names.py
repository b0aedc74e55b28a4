"""The names that files have in a workshop."""

from __future__ import annotations

PLAN = "plan.toml"
JOURNAL = "journal.jsonl"
RESIN_COPY = "resin.toml"
"""The resin file as used, in a session's folder."""
