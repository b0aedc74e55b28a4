"""The published JSON Schema is the one the program writes by."""

import json
import re

from session_examples import good_day, stamped, summed_up

from layup.session.lines import line_of
from layup.session.records import EVENTS, RECORDS
from layup.session.schema import SCHEMA_PATH, schema_text
from layup.session.state import Event, Record

SCHEMA = json.loads(schema_text())


def test_the_published_schema_is_current() -> None:
    published = SCHEMA_PATH.read_text(encoding="utf-8")
    assert published == schema_text(), "run python -m layup.session.schema"


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
