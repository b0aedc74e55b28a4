"""Laws of the one writer of TOML: what is written is read back, and all else stands as it stood.

The outside check is Python's own tomllib; that comments and bytes are kept is checked on the text itself.
"""

import re
import tomllib
from collections import namedtuple
from copy import deepcopy

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from layup.errors import InputError
from layup.files.plan_file import PlanFile
from layup.files.resin_file import ResinFile
from layup.files.toml import _Scanner
from layup.files.workshop import demo_root
from layup.files.writing import arranged, written

TEXTS = [
    (path.read_text(encoding="utf-8"), ResinFile if path.parent.name == "resins" else PlanFile)
    for path in sorted([*demo_root().glob("resins/*.toml"), *demo_root().glob("sessions/*/plan.toml")])
]
ODD = """\
id = "odd"
cure.minimum_temperature = "15 degC"   # dotted
cure.demould = [{time = "36 h",temperature="18 degC"}]
hardener = { name = "B" }
[resin] # the can
  name = "A"

# detached

# the first
[[pot_life]]
time = "45 min" # read twice
# its end

[[pot_life]]
time = "20 min"
[hazards]
cautions = [
  "one", # why
  # of two
  "two"
]
# the last word"""
TEXTS.append((ODD, ResinFile))
Stand = namedtuple("Stand", "begin end")


class Scanner(_Scanner):
    """Where each value stands in a text."""

    def __init__(self, text):
        super().__init__(text)
        self.stands = {}
        self.scan()

    def _value(self, path):
        self._skip_blank()
        begin = self.at
        super()._value(path)
        self.stands[path] = Stand(begin, begin + len(self.text[begin : self.at].rstrip()))


PLAIN = st.sampled_from(["45 min", "a # b", 'say "x"', "ü", "two\nlines", 100, 0.5, True])
ITEM = st.fixed_dictionaries({"time": PLAIN}, optional={"temperature": PLAIN, "of my own": PLAIN})
NEW = [
    *(("title",), ("price_per_kg",), ("people",), ("resin", "density"), ("ratio", "by"), ("hazards", "signal_word")),
    *(("cure", "glass_transition"), ("cure", "minimum_temperature"), ("source", "note"), ("losses", "squeeze_out")),
    *(("casting", "seal_wait"), ("steps", 0, "channel", "sides"), ("steps", 0, "join", "when"), ("before", 0, "hands")),
    *(("steps", 0, "pigments"), ("steps", 0, "price_per_m2"), ("wanted",), ("closing", "area")),
    *(("pot_life", 0, "vessel"), ("closing", "caul", "material"), ("hardener", "density"), ("ratio", "hardener")),
]
LISTS = [("pot_life",), ("film",), ("viscosity",), ("steps",), ("before",), ("cure", "demould"), ("cure", "post_cure")]


@st.composite
def commented(draw):
    """Draw a file with more comments: lines of their own, and ends of lines, each with a number that occurs once."""
    text, model = draw(st.sampled_from(TEXTS))
    count = iter(range(1000))
    lines = []
    outside = {text.count("\n", 0, stand.begin) for stand in Scanner(text).stands.values()}
    inner = {line for stand in Scanner(text).stands.values() for line in _inside(text, stand)}
    above, behind, below = (draw(st.sets(st.integers(0, text.count("\n")), max_size=6)) for _ in range(3))
    for number, line in enumerate(text.split("\n")):
        if number not in inner and number in above:
            lines.append(f"# new {next(count)}")
        ends = number not in inner and number in outside and not line.rstrip().endswith(("[", "{"))
        lines.append(f"{line} # new {next(count)}" if ends and "#" not in line and number in behind else line)
        if number in below and number not in inner:
            lines.append("")
    text = "\n".join(lines)
    tomllib.loads(text)
    return text, model


def _inside(text, stand):
    first, last = text.count("\n", 0, stand.begin), text.count("\n", 0, stand.end)
    return range(first + 1, last + 1) if last > first else ()


def _found(data, path):
    for key in path:
        known = (isinstance(data, dict) and key in data) or (isinstance(data, list) and key < len(data))
        data = data[key] if known else None
    return data


def _comments(text):
    """Return the comments of a text: what is left of it without its strings."""
    bare = re.sub(r'"""(?:[^\\]|\\.)*?"""|"(?:[^"\\\n]|\\.)*"', '""', text, flags=re.DOTALL)
    return sorted(each.strip() for each in re.findall(r"#[^\n]*", bare))


def _kept(before, after, path):
    """Check that each pair elsewhere has the bytes that it had."""
    old, new = Scanner(before).stands, Scanner(after).stands
    for each, stand in old.items():
        if each[: len(path)] == path or path[: len(each)] == each:
            continue
        assert after[new[each].begin : new[each].end] == before[stand.begin : stand.end], each


@given(file=commented(), data=st.data())
@settings(max_examples=30, deadline=None)
@example(file=("", ResinFile), data=None)
def test_a_value_is_read_back_and_every_comment_and_other_byte_stands_as_it_stood(file, data):
    text, model = file
    stands = [path for path in Scanner(text).stands if not isinstance(path[-1], int)]
    path = ("title",) if data is None else data.draw(st.sampled_from([*stands, *NEW]))
    value = "x" if data is None else data.draw(st.one_of(PLAIN, st.none()))
    before = tomllib.loads(text)
    if value is None and not any(path[: len(each)] == each for each in stands):
        return
    if any(isinstance(_found(before, path[:length]), str) for length in range(1, len(path))):
        with pytest.raises(InputError, match="cannot be altered here without loss"):
            written(text, {path: value}, model)
        return
    after = written(text, {path: value}, model)
    said = tomllib.loads(after)
    if value is not None:
        assert _found(said, path) == value
    if not any(isinstance(key, int) for key in path) or value is not None:
        stand = Scanner(text).stands.get(path)
        around = text if stand is None else f'{text[: stand.begin]}""{text[stand.end :]}'
        assert _comments(after) == _comments(around), "but those inside a list that goes"
        _kept(text, after, path)
    else:
        return
    assert written(after, {path: value}, model) == after, "a second time changes nothing"
    if value is not None and path in Scanner(text).stands:
        back = written(after, {path: _found(before, path)}, model)
        assert tomllib.loads(back) == before


@given(file=commented(), data=st.data())
@settings(max_examples=30, deadline=None)
def test_a_list_is_arranged_and_what_stays_of_it_keeps_its_bytes_and_comments(file, data):
    text, model = file
    path = data.draw(st.sampled_from(LISTS))
    before = tomllib.loads(text)
    there = _found(before, path) or []
    order = data.draw(st.permutations(range(len(there))))
    left = data.draw(st.integers(0, len(there)))
    new = data.draw(st.lists(ITEM, max_size=2))
    items = [*order[:left], *new]
    after = arranged(text, path, items, model)
    wanted = [there[item] if isinstance(item, int) else item for item in items]
    said = tomllib.loads(after)
    assert (_found(said, path) if wanted else []) == wanted
    rest, was = deepcopy(said), deepcopy(before)
    for each in (rest, was):
        table = each.get(path[0], {}) if len(path) > 1 else each
        table.pop(path[-1], None)
        if not each.get(path[0], True):
            each.pop(path[0])
    assert rest == was
    _kept(text, after, path)
    if left == len(there):
        assert _comments(after) == _comments(text)
    elif there:
        assert set(_comments(after)) <= set(_comments(text))
