"""The JSON Schema of a journal's lines, made from the models. `python -m layup.records.schema` writes it anew."""

from __future__ import annotations

import json
from pathlib import Path

from layup.records.lines import LINE

SCHEMA_PATH = Path(__file__).with_name("journal.schema.json")


def schema_text() -> str:
    """Return the schema of one line as it is written: every key is there."""
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "One line of a session's journal.jsonl",
    }
    return json.dumps(head | LINE.json_schema(mode="serialization"), indent=1) + "\n"


if __name__ == "__main__":
    SCHEMA_PATH.write_text(schema_text(), encoding="utf-8")
