"""The JSON Schema of a journal's lines, made from the models. `python -m layup.session.schema` writes it anew."""

from __future__ import annotations

import json
from pathlib import Path

from layup.session.reader import LINE

SCHEMA_PATH = Path(__file__).with_name("journal.schema.json")


def schema_text() -> str:
    """Return the schema of one line as it is written; only its sum, and a time told afterwards, may be absent."""
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "One line of a session's journal.jsonl",
        "description": "sum: sixteen hex digits of the line before, then sixteen of its own: the first of SHA-256 "
        "over all bytes of the line up to them. The first of format 2 begins with the same of all bytes before it.",
    }
    schema = LINE.json_schema(mode="serialization")
    for model in schema["$defs"].values():
        for shape in model.get("properties", {}).values():
            shape["description"] = shape.pop("description")  # behind the rest, where people look for it
        for key in ("happened_s", "sum"):
            if key in model.get("required", ()):
                model["required"].remove(key)
    return json.dumps(head | schema, indent=1) + "\n"


if __name__ == "__main__":
    SCHEMA_PATH.write_text(schema_text(), encoding="utf-8")
