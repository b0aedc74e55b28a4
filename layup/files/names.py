"""The names that files have in a workshop."""

from __future__ import annotations

import re
import unicodedata

PLAN = "plan.toml"
JOURNAL = "journal.jsonl"
RESIN_COPY = "resin.toml"
"""The resin file as used, in a session's folder."""
STOCK = "stock.toml"
"""The cans of a workshop, where somebody keeps account of them."""
SLUG_LIMIT = 40


def slug(title: str, otherwise: str) -> str:
    """Return a name for a file or folder, made of a title: small letters, digits and dashes."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain)[:SLUG_LIMIT].strip("-") or otherwise
