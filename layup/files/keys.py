"""Every key of resin and plan files, with what it means: for `layup check --keys`.

All of it comes from the models that read the files.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from layup.files.plan_file import PlanFile
from layup.files.resin_file import ResinFile
from layup.files.toml import models_in


@dataclass(frozen=True, slots=True)
class Key:
    """One key of a file: its path, how to write it where that is not plain, whether it must be there, its meaning."""

    path: str
    example: str
    needed: bool
    words: str


def resin_keys() -> list[Key]:
    """Return the keys of a resin file, in the order that its tables have."""
    return _keys(ResinFile)


def plan_keys() -> list[Key]:
    """Return the keys of a plan file, in the order that its tables have."""
    return _keys(PlanFile)


def _keys(model: type[BaseModel]) -> list[Key]:
    found: dict[str, Key] = {}
    for path, field, kind in _fields(model):
        words = f"({kind}) {field.description}" if kind else field.description or ""
        found.setdefault(path, Key(path, _example(field), field.is_required(), words))
    return list(found.values())


def _fields(model: type[BaseModel], above: str = "", kind: str = "") -> Iterator[tuple[str, FieldInfo, str]]:
    """Yield every field of a file with its path and the one kind of step that has it, variants after each other."""
    for name, field in model.model_fields.items():
        yield above + name, field, kind
        variants = list(models_in(field.annotation))
        for table in variants:
            for path, below, of in _fields(table, f"{above}{name}.", kind):
                shared = all(path.split(".")[above.count(".") + 1] in other.model_fields for other in variants)
                yield path, below, of or ("" if shared else get_args(table.model_fields["kind"].annotation)[0])


def _example(field: FieldInfo) -> str:
    """Return how a value is written: a table's brackets, or the example that error messages give too."""
    if any(models_in(field.annotation)):
        return "[[ ]]" if get_origin(field.annotation) is tuple else "[ ]"
    return str(field.examples[0]) if field.examples else ""
