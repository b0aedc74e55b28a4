"""The published JSON Schema is the one the program writes by. As a script it writes the schema anew."""

import json
import re
from pathlib import Path

from session_examples import good_day, stamped, summed_up

import layup.session
from layup.session.lines import line_of
from layup.session.reader import LINE
from layup.session.records import EVENTS, RECORDS
from layup.session.state import Event, Record

SCHEMA_PATH = Path(layup.session.__file__).with_name("journal.schema.json")


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


SCHEMA = json.loads(schema_text())


def test_the_published_schema_is_current() -> None:
    published = SCHEMA_PATH.read_text(encoding="utf-8")
    assert published == schema_text(), "run python tests/session/test_journal_schema.py"


def test_the_schema_knows_every_event_by_its_name() -> None:
    mapping = SCHEMA["discriminator"]["mapping"]
    assert set(mapping) == set(RECORDS)
    assert len(mapping) == len(EVENTS)
    for name, reference in mapping.items():
        model = SCHEMA["$defs"][reference.rsplit("/", 1)[1]]
        assert model["properties"]["event"]["const"] == name
        assert model["additionalProperties"] is False


def test_every_line_has_exactly_the_keys_that_the_schema_requires() -> None:
    for record in summed_up(stamped(good_day())):
        line = json.loads(line_of(record))
        reference = SCHEMA["discriminator"]["mapping"][record.event]
        model = SCHEMA["$defs"][reference.rsplit("/", 1)[1]]
        assert list(line) == [*model["required"], "sum"]
        told = json.loads(line_of(record.model_copy(update={"happened_s": 0.5})))
        assert list(told) == list(model["properties"]), "a line told afterwards says when it happened"
        assert set(told) - set(line) == {"happened_s"}
        before = json.loads(line_of(record.model_copy(update={"v": 1, "sum": ""})))
        assert list(before) == model["required"], "a line of format 1 has no sum"


def test_names_are_kebab_case_and_numbers_of_a_physical_kind_carry_their_unit() -> None:
    plain = {
        "v",
        "seq",
        "undone_seq",
        "carried_seq",
        "batch",
        "step",
        "into_step",
        "before_step",
        "people",
        "pieces",
        "process_id",
        "relative_humidity",
        "cups",
        *("low", "likely", "high"),  # edges of what is remembered, in the unit of the key that holds them
    }
    for model in SCHEMA["$defs"].values():
        name = model["properties"].get("event", {}).get("const", "a-b")
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", name)
        for key, value in model["properties"].items():
            kinds = {value.get("type"), *(choice.get("type") for choice in value.get("anyOf", []))}
            if kinds & {"number", "integer"} and key not in plain:
                assert re.search(r"_(g|K|s|m|Pa|fraction)$", key), key


def test_every_key_of_a_line_is_explained_and_means_the_same_in_every_event() -> None:
    meanings: dict[str, str] = {}
    for model in SCHEMA["$defs"].values():
        for key, shape in model["properties"].items():
            assert meanings.setdefault(key, shape["description"]) == shape["description"], key
    assert "" not in meanings.values()


def test_every_event_that_is_defined_can_stand_in_a_journal() -> None:
    known = [Event]
    for kind in known:
        known += [each for each in kind.__subclasses__() if not issubclass(each, Record)]
    assert {kind for kind in known if not kind.model_fields["event"].is_required()} == set(EVENTS)


if __name__ == "__main__":
    SCHEMA_PATH.write_text(schema_text(), encoding="utf-8")
