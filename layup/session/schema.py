"""The JSON Schema of a journal's lines, made from the models. `python -m layup.session.schema` writes it anew."""

from __future__ import annotations

import json
from pathlib import Path

from layup.session.reader import LINE

MEANINGS = {
    "v": "version of the format",
    "seq": "number of the line, from 1",
    "at": "wall clock, UTC",
    "elapsed_s": "age of the session by the best of the clocks; never falls",
    "event": "what happened",
    "alarm": "which alarm",
    "batch": "number of the batch",
    "batches": "the batches to mix",
    "boot_id": "names the run of the machine that monotonic_s counts in",
    "cloth_g": "of the dry pieces the cloth, where that was weighed on its own",
    "coldest_K": "the coldest that the shop is expected to get",
    "component": "resin or hardener",
    "coupon_g": "the coupon before it was burnt",
    "depth_m": "depth of the mix in a tray",
    "despite": "what stood against laying the mix, where somebody was asked and laid it all the same",
    "done": "ticked, or the tick taken away",
    "dry_g": "all that is in the part but resin: cloth as laid, core, sheets, edges",
    "fibre_fraction": "target as set on Stack",
    "hardener_g": "hardener in the batch",
    "hazards_acknowledged": "whether the cautions were on the screen before the day began",
    "in_water_g": "what the coupon weighed hanging in water",
    "item": "which item of the list",
    "kind": "fabric, bond, place or cast",
    "laid_g": "of a lost batch what is on the part; null: what the steps took that were done since it was mixed",
    "largest_cup_g": "the most mix in one cup, as set on Stack",
    "left_g": "mix left in all cups, brushes and rollers",
    "lessons_used": "whether pace, losses and pot life were those that earlier sessions taught",
    "lot": "as printed on the can",
    "mass_g": "resin and hardener together",
    "moisture_fraction": "water over dry mass",
    "monotonic_s": "raw clock that no one can set",
    "name": "as the plan names it",
    "notes": "free words",
    "offcut_g": "trimmed off before the part was weighed",
    "out_by_s": "how long after closing the part is wanted out",
    "part_g": "the finished part",
    "people": "hands on the job",
    "pieces": "pressed in one go",
    "place": "what was measured",
    "plan": "folder of the plan",
    "planned_s": "time that the step was planned to take",
    "pressure_Pa": "pressure on the part",
    "process_id": "of the program that writes",
    "program": "its name and version",
    "rank": "how urgent",
    "readability_g": "last digit of the scale",
    "readability_m": "what the caliper may be off by, either way",
    "reason": "a new session, or one gone on with",
    "relative_humidity": "of the shop's air",
    "residue_g": "what the burnt coupon left",
    "resin": "id of the laminating resin",
    "resin_g": "resin in the batch",
    "shares": "how much of each of its steps the batch lays, in the same order",
    "source": "typed, or a thermometer",
    "start_K": "temperature of the mix at first contact",
    "step": "number of the step in the plan",
    "steps": "steps of the plan: all of them, or those that the batch serves",
    "sum": "proves the line; absent from lines of format 1",
    "tags": "words of the outcome",
    "taken_s": "the time that is counted as passed",
    "temperature_K": "what it showed",
    "text": "the note",
    "thickness_m": "of all full-width plies together",
    "title": "of the part",
    "utc": "what time it is",
    "undone_seq": "number of the line taken back",
    "vessel": "cup or tray",
    "wall_s": "time passed by the wall clock",
    "why": "in a word",
    "word": "how it looked",
    "words": "the item as people read it",
}
"""What each key of a line means; a key means the same in every event."""
SCHEMA_PATH = Path(__file__).with_name("journal.schema.json")


def schema_text() -> str:
    """Return the schema of one line as it is written: every key is there, but for the sum in format 1."""
    head = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "One line of a session's journal.jsonl",
        "description": "sum: sixteen hex digits of the line before, then sixteen of its own: the first of SHA-256 "
        "over all bytes of the line up to them. The first of format 2 begins with the same of all bytes before it.",
    }
    schema = LINE.json_schema(mode="serialization")
    for model in schema["$defs"].values():
        for key, shape in model.get("properties", {}).items():
            shape["description"] = MEANINGS[key]
        if "sum" in model.get("required", ()):
            model["required"].remove("sum")
    return json.dumps(head | schema, indent=1) + "\n"


if __name__ == "__main__":
    SCHEMA_PATH.write_text(schema_text(), encoding="utf-8")
