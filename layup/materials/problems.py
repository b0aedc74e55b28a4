"""Turn what pydantic finds wrong in a document into Problems: a line, a key, plain words and the nearest name."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from difflib import SequenceMatcher, get_close_matches
from typing import Any, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from layup.errors import LayupError, Problem
from layup.materials.fields import printable
from layup.materials.toml_lines import Document, KeyPath

LISTED = 8
"""Names that a hint lists before it counts the rest."""
_WORDS = {
    "list_type": ("is not a list", "write it in square brackets, or each as [[{key}]]"),
    "tuple_type": ("is not a list", "write it in square brackets, or each as [[{key}]]"),
    "model_type": ("is not a table", "write it as {table} with its keys below"),
    "model_attributes_type": ("is not a table", "write it as {table} with its keys below"),
}


def nearest(word: str, known: Iterable[str]) -> str:
    """Return a hint: the known word that is nearest to `word`, or all of them."""
    names = sorted(known)
    if not names:
        return "there are none"
    near = _near(word, names)
    return f"did you mean {near}?" if near else f"known are {', '.join(names)}"


def likeliest(word: str, known: Collection[str]) -> str:
    """Return a hint for names of which there may be many: those most like `word` first, and how many more there are."""
    matcher = SequenceMatcher(b=word.lower())

    def likeness(name: str) -> float:
        matcher.set_seq1(name.lower())
        return matcher.ratio()

    near = _near(word, known)
    others = sorted(sorted(set(known) - {near}), key=likeness, reverse=True)
    if not others:
        return f"did you mean {near}?" if near else "there are none"
    more = f" and {len(others) - LISTED} more" if len(others) > LISTED else ""
    listed = ", ".join(others[:LISTED]) + more
    return f"did you mean {near}? there are also {listed}" if near else f"there are {listed}"


def _near(word: str, known: Iterable[str]) -> str | None:
    """Return the known word that may have been meant."""
    by_lower = {name.lower(): name for name in known}
    close = get_close_matches(word.lower(), by_lower, n=1, cutoff=0.6)
    return by_lower[close[0]] if close else None


def key_name(path: KeyPath) -> str:
    """Write a key path as people count: steps[3].minutes is in the third step."""
    name = ""
    for part in path:
        name += f"[{part + 1}]" if isinstance(part, int) else f".{printable(part)}" if name else printable(part)
    return name


def problem_at(document: Document, path: KeyPath, message: str, hint: str = "", *, warning: bool = False) -> Problem:
    """Make a Problem at the line of `path`."""
    return Problem(document.file, document.line(path), key_name(path), message, hint, warning)


def problem_from(document: Document, path: KeyPath, error: LayupError) -> Problem:
    """Make a Problem of an error of the core, at `path`, or at the key in it that the error is about."""
    wrong = error.wrong
    if (*path, error.where) in document.lines:
        path = (*path, error.where)
    elif document.is_table(path) and error.where not in ("value", *path):
        wrong = f"{error.where} {wrong}"
    message = wrong if error.value is None else f"{wrong} ({printable(error.value)})"
    return problem_at(document, path, message, " - ".join(part for part in (error.allowed, error.todo) if part))


def problems_from(document: Document, model: type[BaseModel], errors: ValidationError) -> list[Problem]:
    """Make one Problem of each thing that pydantic refused, in the order of the file's lines."""
    problems = [_problem(document, model, error) for error in errors.errors(include_url=False)]
    return sorted(problems, key=lambda problem: problem.line)


def _problem(document: Document, model: type[BaseModel], error: Any) -> Problem:  # Any: pydantic's ErrorDetails
    path, models = _resolve(model, error["loc"])
    kind, context = str(error["type"]), error.get("ctx", {})
    if isinstance(context.get("error"), LayupError):
        return problem_from(document, path, context["error"])
    key = str(path[-1]) if path else ""
    known = {name: field for each in models for name, field in each.model_fields.items()}
    if kind == "extra_forbidden":
        return problem_at(document, path, "is not a known key", nearest(key, known))
    if kind == "missing":
        return problem_at(document, path[:-1], f"{key} is missing", _example(key, known[key]))
    if kind == "literal_error":
        return _no_choice(document, path, error["input"], context["expected"])
    if kind == "union_tag_invalid":
        return _no_choice(document, (*path, "kind"), context["tag"], context["expected_tags"])
    if kind == "union_tag_not_found":
        kinds = ", ".join(sorted(_kind_of(each) for each in models))
        return problem_at(document, path, "kind is missing", f"write kind = one of {kinds}")
    message, hint = _WORDS.get(kind, (error["msg"], ""))
    name = key_name(tuple(part for part in path if isinstance(part, str)))
    table = f"[[{name}]]" if path and isinstance(path[-1], int) else f"[{name}]"
    return problem_at(document, path, message, hint.format(key=name, table=table))


def _no_choice(document: Document, path: KeyPath, given: object, expected: str) -> Problem:
    """Make a Problem of a word that is none of those allowed; `expected` is pydantic's list of them, in words."""
    known = expected.replace(" or ", ", ").replace("'", "").split(", ")
    word = printable(given)
    return problem_at(document, path, f"is not one of the choices ({word})", nearest(word, known))


def _resolve(model: type[BaseModel], location: Iterable[str | int]) -> tuple[KeyPath, list[type[BaseModel]]]:
    """Return the document's path for pydantic's location, and the models whose keys its last part is one of.

    Pydantic's location also names the variant of a step, which is no part of the path: it stands where several
    models are possible.
    """
    path: KeyPath = ()
    around, models = [model], [model]
    for part in location:
        if isinstance(part, str) and len(models) > 1:
            models = [each for each in models if _kind_of(each) == part]
            continue
        path = (*path, part)
        around = models
        if isinstance(part, str):
            fields = [each.model_fields[part] for each in models if part in each.model_fields]
            models = [found for field in fields for found in models_in(field.annotation)]
    return path, models if path and isinstance(path[-1], int) else around


def _kind_of(model: type[BaseModel]) -> str:
    """Return the word that chooses this variant of a step."""
    return str(get_args(model.model_fields["kind"].annotation)[0])


def models_in(annotation: object) -> Iterator[type[BaseModel]]:
    """Yield the models anywhere inside a type annotation."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from models_in(part)


def _example(key: str, field: FieldInfo) -> str:
    """Return how to write a missing key: the example of its field, or of a table."""
    if field.examples:
        return f"write {key} = {field.examples[0]}"
    if not any(models_in(field.annotation)):
        return f"write {key} = ..."
    return f"write [[{key}]] tables" if get_origin(field.annotation) is tuple else f"write a [{key}] table"
