"""Write a resin or plan file as a person would: what stands there stays as it is, comments, order and bytes.

tomlkit reads the text without loss; what is put in, moved or taken out is a line or a block of what it read.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from copy import deepcopy
from typing import Any

import tomlkit
from pydantic import BaseModel
from tomlkit import TOMLDocument
from tomlkit.items import AoT, Array, Comment, InlineTable, Item, Key, Table, Whitespace

from layup.errors import InputError
from layup.files.toml import KeyPath, key_name, models_in

Body = list[tuple[Key | None, Item]]
"""What a table holds, in its order: pairs and tables with their key, comments and blank lines without."""
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
    data = _read(text)
    wanted, pieces = deepcopy(data), _Text(text, model)
    for path, value in changes.items():
        if found(wanted, path) != value:
            try:
                _put(wanted, path, value)
                pieces.put(path, value)
            except (ValueError, LookupError, TypeError):
                raise _refused(path) from None
    return _sure(pieces, wanted, next(iter(changes), ())) if wanted != data else text


def arranged(text: str, path: KeyPath, items: Sequence[int | Mapping[str, object]], model: type[BaseModel]) -> str:
    """Return the text with the list of tables at `path` made of `items`: those it has, by their places, and new ones.

    So an item is moved, left out or put in; one that stays keeps its bytes and its comments. Raises as `written`.
    """
    wanted = _read(text)
    there = found(wanted, path) or []
    new = [there[item] if isinstance(item, int) else dict(item) for item in items]
    if not there or not new or new == there:
        return written(text, {path: new or None}, model)
    pieces = _Text(text, model)
    _put(wanted, path, new)
    pieces.put(path, list(items))
    return _sure(pieces, wanted, path)


def _read(text: str) -> dict[str, Any]:  # Any: whatever a person wrote
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError("file", f"is not valid TOML: {error}", todo="mend it with an editor") from None


def _sure(pieces: _Text, wanted: dict[str, Any], path: KeyPath) -> str:
    """Return the text, once it says what is wanted, and no more."""
    text = pieces.as_string()
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


# -- values ----------------------------------------------------------------------------------------------------------


def _value(value: object) -> str:
    """Write a value: a table in one line, a list of tables or a long one in a line an item."""
    if isinstance(value, Mapping):
        pairs = [f"{_key(key)} = {_value(each)}" for key, each in value.items() if each is not None]
        return "{ " + ", ".join(pairs) + " }" if pairs else "{}"
    if isinstance(value, list | tuple):
        items = [_value(each) for each in value]
        short = f"[{', '.join(items)}]"
        long = len(short) > LONGEST_LINE or (len(items) > 1 and isinstance(value[0], Mapping))
        return _list(items) if long else short
    if isinstance(value, str):
        return tomlkit.string(value, multiline="\n" in value).as_string()
    return tomlkit.item(value).as_string()


def _key(name: str) -> str:
    return tomlkit.key(name).as_string()


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


# -- a text as tomlkit reads it --------------------------------------------------------------------------------------


class _Text:
    """A text in pieces: pairs, comments and tables, of which each header holds what stands right above it."""

    def __init__(self, text: str, model: type[BaseModel]) -> None:
        self.model = model
        self.document = _parsed(text)

    def as_string(self) -> str:
        return self.document.as_string()

    def put(self, path: KeyPath, value: object) -> None:
        """Put a value at a path, or take away what stands there; numbers in a list of tables are places in it."""
        self._put(self.document.body, (), path, value)

    def _put(self, body: Body, home: KeyPath, path: KeyPath, value: object) -> None:
        """Put a value in the table at `home`."""
        name, rest, here = path[0], path[1:], (*home, path[0])
        spots = [place for place, (key, _) in enumerate(body) if key is not None and key.key == name]
        if not spots:
            self._put_new(body, home, str(name), _nested(rest, value))
        elif rest:
            holding = [place for place in spots if rest[0] in _names(body[place][1])]
            place = (holding or spots)[-1]
            body[place] = (body[place][0], self._within(body[place][1], here, rest, value))
            if value is None and not _names(body[place][1]):
                body[place : place + 1] = _remains(body[place][1])
        elif value is None:
            for place in reversed(spots):
                body[place : place + 1] = _remains(body[place][1])
        else:
            key, item = body[spots[0]]
            body[spots[0]] = (key, self._over(item, here, value))

    def _within(self, item: Item, here: KeyPath, path: KeyPath, value: object) -> Item:
        """Return an item with a value put at a path in it."""
        key, rest = path[0], path[1:]
        if isinstance(item, Table):
            self._put(item.value.body, here, path, value)
            return item
        if isinstance(item, InlineTable):
            return self._in_braces(item, here, path, value)
        assert isinstance(item, AoT | Array)
        assert isinstance(key, int)
        items: list[Any] = item.body if isinstance(item, AoT) else item
        if key == len(items):
            new = _nested(rest, value)
            items.append(self._table(here, new) if isinstance(item, AoT) else tomlkit.value(_value(new)))
        elif value is None and not rest:
            del items[key]
        else:
            old = items[key]
            items[key] = self._within(old, (*here, key), rest, value) if rest else self._over(old, here, value)
            if value is None and not _names(items[key]):
                del items[key]
        return _in_lines(item) if isinstance(item, Array) else item

    def _in_braces(self, item: InlineTable, here: KeyPath, path: KeyPath, value: object) -> Item:
        """Return a table of one line with a value put at a path in it, its other pairs as they were."""
        name, rest = str(path[0]), path[1:]
        pairs = {key.key: (f"{key.as_string()}{key.sep}", each) for key, each in item.value.body if key is not None}
        head, old = pairs.get(name, (f"{_key(name)} = ", None))
        texts = {each: begin + one.as_string() for each, (begin, one) in pairs.items()}
        if value is None and not rest:
            del texts[name]
        elif old is not None and rest:
            texts[name] = head + self._within(old, (*here, name), rest, value).as_string()
        else:
            texts[name] = head + _value(_nested(rest, value))
        if old is None:
            known = _order(self.model, here)
            texts = {each: texts[each] for each in sorted(texts, key=lambda each: _rank(known, each))}
        return _like(item, "{ " + ", ".join(texts.values()) + " }" if texts else "{}")

    def _over(self, item: Item, here: KeyPath, value: object) -> Item:
        """Return what takes an item's place: of a table or a list, what stays in it keeps its comments."""
        if isinstance(item, Table) and isinstance(value, Mapping):
            for name in [*_names(item), *value]:
                self._put(item.value.body, here, (name,), value.get(name))
        elif isinstance(item, AoT | Array) and isinstance(value, list):
            places = value if any(isinstance(each, int) for each in value) else _places(item.unwrap(), value)
            if isinstance(item, AoT):
                item.body[:] = [item.body[at] if isinstance(at, int) else self._table(here, at) for at in places]
            else:
                return _refilled(item, places)
        else:
            return _like(item, _value(value))
        return item

    def _table(self, here: KeyPath, value: Mapping[str, object]) -> Table:
        """Return a new table of the list at `here`."""
        (table,) = _tables(_parsed(self._block(here, value, item=True)).body[0][1])
        table.trivia.indent = "\n"
        return table

    def _block(self, here: KeyPath, value: Mapping[str, object], *, item: bool) -> str:
        """Write a table with its header; of a list one `item`."""
        known = _order(self.model, here)
        keys = sorted((key for key in value if value[key] is not None), key=lambda key: _rank(known, key))
        name = ".".join(_key(part) for part in here if isinstance(part, str))
        header = f"[[{name}]]" if item else f"[{name}]"
        return "".join(f"{line}\n" for line in (header, *(f"{_key(key)} = {_value(value[key])}" for key in keys)))

    def _put_new(self, body: Body, home: KeyPath, name: str, value: object) -> None:
        """Put a new key in a table, behind those that come before it: a line, or among the tables one of its own."""
        known = _order(self.model, home)
        tables: list[Any] = value if isinstance(value, list) else [value]
        block = not home and name not in IN_LINE and tables and all(isinstance(each, Mapping) for each in tables)
        named = [(place, key.key, _has_header(key, item)) for place, (key, item) in enumerate(body) if key is not None]
        heads = [place for place, _, head in named if head]
        alike = [place for place, _, head in named if head == bool(block)]
        before = [place for place, other, _ in named if place in alike and _rank(known, other) < _rank(known, name)]
        at = before[-1] + 1 if before else alike[0] if alike else heads[0] if heads else len(body)
        if block:
            listed = isinstance(value, list)
            text = "\n".join(self._block((name,), each, item=listed) for each in tables)
            body[at:at] = _parsed(text).body
            for place in (at, at + 1):
                if place < len(body) and any(key is not None for key, _ in body[:place]):
                    first = _tables(body[place][1])[0]
                    first.trivia.indent = "\n" + first.trivia.indent.removeprefix("\n")
            return
        while not before and at > 0 and alike and isinstance(body[at - 1][1], Comment):
            at -= 1
        indent = body[alike[-1]][1].trivia.indent if alike else ""
        body[at:at] = _parsed(f"{indent}{_key(name)} = {_value(value)}\n").body


def _parsed(text: str) -> TOMLDocument:
    """Read a text; each header takes the comments right above it, and the blank lines above those, to itself."""
    document = tomlkit.parse(text if text.endswith("\n") or not text else f"{text}\n")
    _lead(document.body, document.body)
    return document


def _lead(body: Body, above: Body) -> Body:
    """Give each header in a table what stands right above it, at the end of `above`; return what is above the next."""
    pieces = list(body)
    body.clear()
    for key, item in pieces:
        tables = _tables(item) if key is not None and _has_header(key, item) else ()
        for table in tables:
            if table.is_super_table():
                above = _lead(table.value.body, above)
            else:
                table.trivia.indent = _taken(above) + table.trivia.indent
                above = _lead(table.value.body, table.value.body)
        body.append((key, item))
        above = above if tables else body
    return above


def _taken(above: Body) -> str:
    """Take the comments at the end of a table, and the blank lines above them."""
    text = ""
    while above and isinstance(above[-1][1], Comment):
        text = above.pop()[1].as_string() + text
    while above and isinstance(above[-1][1], Whitespace):
        text = above.pop()[1].as_string() + text
    return text


def _has_header(key: Key, item: Item) -> bool:
    return isinstance(item, AoT | Table) and not key.is_dotted()


def _tables(item: Item) -> Sequence[Table]:
    return item.body if isinstance(item, AoT) else [item] if isinstance(item, Table) else []


def _names(item: Item) -> Sequence[object]:
    """Return the keys of a table, the places of a list; a plain value has itself."""
    if isinstance(item, Table | InlineTable):
        return [key.key for key, _ in item.value.body if key is not None]
    return range(len(item.body if isinstance(item, AoT) else item)) if isinstance(item, AoT | Array) else [""]


def _rank(known: Sequence[str], key: str) -> int:
    return known.index(key) if key in known else len(known)


def _nested(path: KeyPath, value: Any) -> Any:
    """Return what holds a value at a path."""
    for key in reversed(path):
        value = [value] if isinstance(key, int) else {key: value}
    return value


def _places(old: Sequence[object], new: Sequence[Any]) -> Sequence[Any]:
    """Return a list with the place of each item that stands in an old one, each place once."""
    places: list[Any] = []
    for each in new:
        same = [at for at, other in enumerate(old) if other == each and at not in places]
        places.append(same[0] if same else each)
    return places


def _refilled(array: Array, places: Sequence[Any]) -> Item:
    """Return a list in brackets with some of its items, by their places, and new ones."""
    kept = [each for each in places if isinstance(each, int)]
    if not kept or kept != sorted(set(kept)):
        return _like(array, _list([array[at].as_string() if isinstance(at, int) else _value(at) for at in places]))
    for place in reversed(range(len(array))):
        if place not in kept:
            del array[place]
    for place, each in enumerate(places):
        if not isinstance(each, int):
            array.insert(place, tomlkit.value(_value(each)))
    return _in_lines(array)


def _in_lines(array: Array) -> Item:
    """Return a list in brackets, in a line an item where it has become too long for one."""
    text = array.as_string()
    return (
        array
        if "\n" in text or len(text) <= LONGEST_LINE
        else _like(array, _list([each.as_string() for each in array]))
    )


def _list(items: Sequence[str]) -> str:
    return "[\n" + "".join(f"  {item},\n" for item in items) + "]"


def _like(old: Item, text: str) -> Item:
    """Return a value with the indent and the comment of an old one."""
    new, was = tomlkit.value(text), old.trivia
    new.trivia.indent, new.trivia.comment_ws = was.indent, was.comment_ws
    new.trivia.comment, new.trivia.trail = was.comment, was.trail
    return new


def _remains(item: Item) -> Body:
    """Return what is left of a pair or table that goes: its comments."""
    if isinstance(item, AoT):
        return []
    text = item.trivia.comment and f"{item.trivia.indent}{item.trivia.comment}\n"
    if isinstance(item, Table):
        inner = "".join(each.as_string() for key, each in item.value.body if key is None)
        text = (text or item.trivia.indent) + inner
    return [(None, tomlkit.ws(text))] if "#" in text else []
