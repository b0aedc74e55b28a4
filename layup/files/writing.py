"""Write a resin or plan file as a person would: what stands there stays as it is, comments, order and bytes.

A place is found by the scanner that gives problems their lines; what comes to stand there is written by tomlkit.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from copy import deepcopy
from typing import Any

from pydantic import BaseModel

from layup.errors import InputError
from layup.files.toml import KeyPath, Scanner, key_name, models_in

LONGEST_LINE = 100
"""Columns from which on a list stands in lines of its own."""
IN_LINE = ("target_fibre_fraction",)
"""Tables of one line, among the plain keys of a file."""

# -- a text, altered -------------------------------------------------------------------------------------------------


def written(text: str, changes: Mapping[KeyPath, object], model: type[BaseModel]) -> str:
    """Return a TOML text with each value of `changes` at its path; None takes what stands there away.

    A key that is new goes behind those that come before it in `model`; a table, or a list's next item, is made for it,
    and one that is left empty goes. The comments of a key outlive it, those of a list's item go with it. Raises
    InputError for a text that is no TOML, or that cannot be altered without loss.
    """
    for path, value in changes.items():
        data = _read(text)
        if found(data, path) == value:
            continue
        wanted = _wanted(data, path, value)
        text = _sure(_without(text, path) if value is None else _with(text, path, value, model), wanted, path)
    return text


def arranged(text: str, path: KeyPath, items: Sequence[int | Mapping[str, object]], model: type[BaseModel]) -> str:
    """Return the text with the list of tables at `path` made of `items`: those it has, by their places, and new ones.

    So an item is moved, left out or put in; one that stays keeps its bytes and its comments. Raises as `written`.
    """
    data = _read(text)
    there = found(data, path) or []
    new = [there[item] if isinstance(item, int) else dict(item) for item in items]
    if not there or not new:
        return written(text, {path: new or None}, model)
    return _sure(_arranged(text, path, items, model), _wanted(data, path, new), path)


def _read(text: str) -> dict[str, Any]:  # Any: whatever a person wrote
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError("file", f"is not valid TOML: {error}", todo="mend it with an editor") from None


def _wanted(data: dict[str, Any], path: KeyPath, value: object) -> dict[str, Any]:
    """Return what a file says with `value` at `path` in place of what stands there, and all else as it is."""
    wanted = deepcopy(data)
    try:
        _put(wanted, path, value)
    except (TypeError, KeyError, IndexError):
        raise _refused(path) from None
    return wanted


def _sure(text: str, wanted: dict[str, Any], path: KeyPath) -> str:
    """Return the text, once it says what is wanted, and no more."""
    try:
        if tomllib.loads(text) == wanted:
            return text
    except (ValueError, RecursionError):
        pass
    raise _refused(path)


def _refused(path: KeyPath) -> InputError:
    return InputError(key_name(path), "cannot be altered here without loss", todo="write it with an editor")


def _put(data: Any, path: KeyPath, value: object) -> None:
    """Put a value in its place; a table or list that is left empty goes."""
    key, rest = path[0], path[1:]
    if rest:
        if isinstance(data, list) and key == len(data):
            data.append({})
        if isinstance(data, dict) and key not in data:
            data[key] = [] if isinstance(rest[0], int) else {}
        _put(data[key], rest, value)
        if value is None and data[key] in ({}, []):
            del data[key]
    elif value is None:
        del data[key]
    elif isinstance(data, list) and key == len(data):
        data.append(value)
    else:
        data[key] = value


def found(data: Any, path: KeyPath) -> Any:  # Any: whatever a person wrote
    """Return what stands at a path of a file's data; None where nothing does."""
    for key in path:
        try:
            data = data[key]
        except (KeyError, IndexError, TypeError):
            return None
    return data


# -- where things stand ----------------------------------------------------------------------------------------------


class _Layout:
    """Where the pairs and headers of a text stand, and which lines go with them."""

    def __init__(self, text: str) -> None:
        self.text = text
        scanner = Scanner(text)
        self.lines, self.stands, self.headers = scanner.lines, scanner.stands, scanner.headers
        self._begins = {self.line_start(stand.begin) for stand in self.stands.values()}
        self._begins |= {self.line_start(begin) for _, begin, _ in self.headers}

    def has(self, path: KeyPath) -> bool:
        """Whether anything stands at a path."""
        return not path or path in self.lines

    def line_start(self, at: int) -> int:
        return self.text.rfind("\n", 0, at) + 1

    def line_end(self, at: int) -> int:
        """Return where the line after that of `at` begins."""
        end = self.text.find("\n", at)
        return len(self.text) if end < 0 else end + 1

    def lead(self, at: int) -> int:
        """Return where the comment lines right above the line of `at` begin."""
        start = self.line_start(at)
        while start > 0 and self._is_comment(above := self.line_start(start - 1)):
            start = above
        return start

    def tail(self, at: int) -> int:
        """Return where the line of `at` ends, with the comment lines right below that are not the next key's lead."""
        end = below = self.line_end(at)
        while below < len(self.text) and self._is_comment(below):
            below = self.line_end(below)
        return end if below in self._begins else below

    def _is_comment(self, start: int) -> bool:
        return start not in self._begins and self.text[start : self.line_end(start)].lstrip().startswith("#")

    def around(self, at: int) -> tuple[KeyPath, int, int]:
        """Return the header that `at` stands under: its path, where it ends, and where the next one begins."""
        ends = [*(begin for _, begin, _ in self.headers), len(self.text)]
        found: tuple[KeyPath, int, int] = ((), 0, ends[0])
        for (path, begin, end), stop in zip(self.headers, ends[1:], strict=True):
            if begin <= at:
                found = path, end, stop
        return found

    def below(self, path: KeyPath) -> list[tuple[KeyPath, int, int]]:
        """Return what stands at or below a path in lines of its own, pairs and headers: path, begin, end; in order."""
        pairs = [(each, stand.begin, stand.end) for each, stand in self.stands.items() if each[:-1] not in self.stands]
        found = [each for each in (*pairs, *self.headers) if each[0][: len(path)] == path]
        return sorted(found, key=lambda each: each[1])

    def end_of(self, path: KeyPath) -> int:
        """Return the end of all that stands at or below a path, its comments with it."""
        return self.tail(max(end for _, _, end in self.below(path)))

    def count(self, path: KeyPath) -> int:
        """Return how many items the list at a path has."""
        return sum(1 for each in self.lines if len(each) == len(path) + 1 and each[:-1] == path)


def _order(model: type[BaseModel], path: KeyPath) -> list[str]:
    """Return the keys that the table at `path` may have, in the order of the contract; those of all kinds of step."""
    models = [model]
    for part in path:
        if isinstance(part, str):
            fields = [each.model_fields[part] for each in models if part in each.model_fields]
            models = [found for field in fields for found in models_in(field.annotation)]
    names: list[str] = []
    for each in models:
        for place, name in enumerate(each.model_fields):
            if name not in names:
                before = [names.index(other) for other in list(each.model_fields)[:place] if other in names]
                names.insert(max(before, default=-1) + 1, name)
    return names


# -- values, by tomlkit ----------------------------------------------------------------------------------------------


def _value(value: object) -> str:
    """Write a value: a table in one line, a list of tables or a long one in a line an item."""
    import tomlkit  # here, off the way to the first frame

    if isinstance(value, Mapping):
        pairs = [_pair((key,), each) for key, each in value.items() if each is not None]
        return "{ " + ", ".join(pairs) + " }" if pairs else "{}"
    if isinstance(value, list | tuple):
        items = [_value(each) for each in value]
        short = f"[{', '.join(items)}]"
        long = len(short) > LONGEST_LINE or (len(items) > 1 and isinstance(value[0], Mapping))
        return _in_lines(items) if long else short
    if isinstance(value, str):
        return tomlkit.string(value, multiline="\n" in value).as_string()
    return tomlkit.item(value).as_string()


def _in_lines(items: Sequence[str]) -> str:
    return "[\n" + "".join(f"  {item},\n" for item in items) + "]"


def _key(path: KeyPath) -> str:
    """Write the key or the header of a path; places in a list have no name."""
    import tomlkit  # here, off the way to the first frame

    return ".".join(tomlkit.key(part).as_string() for part in path if isinstance(part, str))


def _pair(path: KeyPath, value: object) -> str:
    return f"{_key(path)} = {_value(value)}"


def _block(path: KeyPath, value: Mapping[str, object], model: type[BaseModel], *, item: bool) -> str:
    """Write a table with its header; of a list one `item`."""
    known = _order(model, path)
    keys = sorted((key for key in value if value[key] is not None), key=lambda key: _rank(known, key))
    header = f"[[{_key(path)}]]" if item else f"[{_key(path)}]"
    return "\n".join([header, *(_pair((key,), value[key]) for key in keys), ""])


def _rank(known: Sequence[str], key: str) -> int:
    return known.index(key) if key in known else len(known)


# -- putting in ------------------------------------------------------------------------------------------------------


def _with(text: str, path: KeyPath, value: object, model: type[BaseModel]) -> str:
    """Return the text with a value at a path, whatever stands there or around it by now."""
    layout, parent, key = _Layout(text), path[:-1], path[-1]
    if path in layout.stands:
        if isinstance(value, list) and layout.count(path) and not any(isinstance(each, int) for each in value):
            return _over(text, path, value, model)
        stand = layout.stands[path]
        return text[: stand.value] + _value(value) + text[stand.end :]
    if isinstance(key, int):
        if not layout.has(parent):
            return _with(text, parent, [value], model)
        assert isinstance(value, Mapping)
        return _arranged(text, parent, [*range(layout.count(parent)), value], model)
    if layout.has(path):
        return _over(text, path, value, model)
    if not layout.has(parent):
        return _with(text, parent, {key: value}, model)
    if not parent and key not in IN_LINE:
        if isinstance(value, Mapping):
            return _in_order(layout, key, _block(path, value, model, item=False), model)
        if isinstance(value, list) and value and all(isinstance(each, Mapping) for each in value):
            return _in_order(layout, key, "\n".join(_block(path, each, model, item=True) for each in value), model)
    return _pair_put(layout, parent, key, value, model)


def _over(text: str, path: KeyPath, value: object, model: type[BaseModel]) -> str:
    """Return the text with a list, or a table that has a header or dotted keys, made what `value` is."""
    old = found(_read(text), path)
    if isinstance(old, list) and isinstance(value, list):
        kept = [old.index(each) if each in old else each for each in value]
        return _arranged(text, path, kept, model)
    if not isinstance(value, Mapping):
        raise _refused(path)
    changes = {(*path, key): each for key, each in value.items()}
    return written(text, changes | {(*path, key): None for key in old if key not in value}, model)


def _in_order(layout: _Layout, name: str, block: str, model: type[BaseModel]) -> str:
    """Return the text with a table behind those that come before it, a blank line to either side."""
    known, text = _order(model, ()), layout.text
    tables = dict.fromkeys(path[0] for path, _, _ in layout.headers)
    before = [table for table in tables if isinstance(table, str) and _rank(known, table) < _rank(known, name)]
    if before:
        at = max(layout.end_of((table,)) for table in before)
    elif layout.headers:
        at = layout.lead(layout.headers[0][1])
    else:
        at = len(text)
    return _parted(text[:at], block, text[at:])


def _parted(head: str, block: str, rest: str) -> str:
    """Put a block between two pieces of text, a blank line to either side."""
    if head and not head.endswith("\n"):
        head += "\n"
    between = "\n" if head.strip() and not head.endswith("\n\n") else ""
    after = "\n" if rest.strip() and not rest.startswith("\n") else ""
    return head + between + block + after + rest


def _pair_put(layout: _Layout, parent: KeyPath, key: str, value: object, model: type[BaseModel]) -> str:
    """Return the text with a new key in a table that stands there: in braces, under its header, or dotted."""
    text, known = layout.text, _order(model, parent)
    spans: dict[str, tuple[int, int]] = {}
    for path, stand in layout.stands.items():
        if len(path) > len(parent) and path[: len(parent)] == parent:
            begin, end = spans.get(str(path[len(parent)]), (stand.begin, stand.end))
            spans[str(path[len(parent)])] = min(begin, stand.begin), max(end, stand.end)
    if parent in layout.stands:
        stand = layout.stands[parent]
        if not spans:
            return text[: stand.value] + _value({key: value}) + text[stand.end :]
        before = [end for name, (_, end) in spans.items() if _rank(known, name) < _rank(known, key)]
        at = max(before) if before else min(begin for begin, _ in spans.values())
        pair = f", {_pair((key,), value)}" if before else f"{_pair((key,), value)}, "
        return text[:at] + pair + text[at:]
    headed = next((end for path, _, end in layout.headers if path == parent), None)
    if parent and headed is None:
        spans = {name: span for name, span in spans.items() if len(layout.around(span[0])[0]) <= len(parent)}
        if not spans:  # only tables below it have headers
            at = layout.lead(layout.below(parent)[0][1])
            return _parted(text[:at], _block(parent, {key: value}, model, item=False), text[at:])
    home, under, stop = layout.around(headed if headed is not None else min((b for b, _ in spans.values()), default=0))
    if not parent:
        home, under, stop = (), 0, layout.headers[0][1] if layout.headers else len(text)
    own = {name: span for name, span in spans.items() if under <= span[0] < stop}
    line = _pair((*parent, key)[len(home) :], value) + "\n"
    before = [end for name, (_, end) in own.items() if _rank(known, name) < _rank(known, key)]
    if before:
        at = layout.tail(max(before))
    elif own:
        at = layout.line_start(min(begin for begin, _ in own.values()))
    elif home:
        at = layout.line_end(under)
    else:
        at = layout.lead(stop) if layout.headers else len(text)
        return _parted(text[:at], line, text[at:])
    indent = ""
    if own:
        begin = max(begin for begin, _ in own.values())
        indent = text[layout.line_start(begin) : begin]
    head = text[:at] if not at or text[:at].endswith("\n") else text[:at] + "\n"
    return head + indent + line + text[at:]


# -- taking away -----------------------------------------------------------------------------------------------------


def _without(text: str, path: KeyPath) -> str:
    """Return the text without what stands at a path; what it leaves empty goes with it."""
    data = _read(text)
    while len(path) > 1 and len(found(data, path[:-1])) == 1:
        path = path[:-1]
    layout, parent, key = _Layout(text), path[:-1], path[-1]
    if isinstance(key, int):
        kept = [place for place in range(layout.count(parent)) if place != key]
        return _arranged(text, parent, kept, None)
    if parent in layout.stands:
        begins = sorted((layout.stands[each] for each in layout.stands if each[:-1] == parent), key=lambda s: s.begin)
        at = begins.index(layout.stands[path])
        if at + 1 < len(begins):
            return text[: begins[at].begin] + text[begins[at + 1].begin :]
        return text[: begins[at - 1].end] + text[begins[at].end :]
    if any(isinstance(each[len(path)], int) for each, _, _ in layout.below(path) if len(each) > len(path)):
        return _arranged(text, path, [], None)
    return _lines_out(layout, ((begin, end) for _, begin, end in layout.below(path)))


def _lines_out(layout: _Layout, spans: Iterator[tuple[int, int]]) -> str:
    """Return the text without some pairs and headers; a comment behind one stays, on a line of its own."""
    text = layout.text
    for begin, end in sorted(spans, reverse=True):
        start, stop = layout.line_start(begin), layout.line_end(end)
        comment = text[end:stop].strip()
        head, rest = text[:start], text[stop:]
        if comment:
            head += text[start:begin] + comment + "\n"
        elif head.endswith("\n\n") and (rest.startswith("\n") or not rest):
            head = head[:-1]
        text = head + rest
    return text


# -- lists -----------------------------------------------------------------------------------------------------------


def _arranged(text: str, path: KeyPath, items: Sequence[object], model: type[BaseModel] | None) -> str:
    """Return the text with the items of a list in another order, without some, or with new ones."""
    layout = _Layout(text)
    if path in layout.stands:
        return _in_brackets(layout, path, items)
    count = layout.count(path)
    spans = [(layout.lead(layout.below((*path, at))[0][1]), layout.end_of((*path, at))) for at in range(count)]
    gaps = [text[spans[at][1] : spans[at + 1][0]] for at in range(count - 1)]
    pieces = []
    for item in items:
        if isinstance(item, int):
            piece = text[slice(*spans[item])]
        else:
            assert model is not None
            assert isinstance(item, Mapping)
            piece = _block(path, item, model, item=True)
        pieces.append(piece if piece.endswith("\n") else f"{piece}\n")
    body = ""
    for at in range(max(len(pieces), len(gaps))):
        body += pieces[at] if at < len(pieces) else ""
        gap = gaps[at] if at < len(gaps) else "\n"
        body += gap if at + 1 < len(pieces) or gap.strip() else ""
    head, rest = text[: spans[0][0]], text[spans[-1][1] :]
    if not pieces and head.endswith("\n\n"):
        rest = rest.removeprefix("\n")
    return head + body + rest


def _in_brackets(layout: _Layout, path: KeyPath, items: Sequence[object]) -> str:
    """Return the text with a list in brackets arranged; each item that stands in lines of its own keeps them."""
    text, whole = layout.text, layout.stands[path]
    stands = [layout.stands[*path, at] for at in range(layout.count(path))]
    edges = [whole.value + 1, *(stand.end for stand in stands)]
    if not stands or any("\n" not in text[edge : stand.begin] for edge, stand in zip(edges, stands, strict=False)):
        plain = [
            text[stands[each].begin : stands[each].end] if isinstance(each, int) else _value(each) for each in items
        ]
        short = f"[{', '.join(plain)}]"
        return text[: whole.value] + (_in_lines(plain) if len(short) > LONGEST_LINE else short) + text[whole.end :]
    first = layout.line_end(whole.value)
    cuts = [first, *(min(layout.line_end(stand.end), whole.end - 1) for stand in stands)]
    indent = text[layout.line_start(stands[0].begin) : stands[0].begin]
    body = ""
    for item in items:
        if isinstance(item, int):
            head, rest = text[cuts[item] : stands[item].end], text[stands[item].end : cuts[item + 1]].lstrip(" \t")
            body += f"{head}," + (rest[1:] if rest.startswith(",") else f" {rest}" if rest.startswith("#") else rest)
        else:
            body += f"{indent}{_value(item)},"
        body = body if body.endswith("\n") else f"{body.rstrip(' ')}\n"
    return text[:first] + body + text[cuts[-1] :]
