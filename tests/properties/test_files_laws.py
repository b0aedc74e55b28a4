"""Laws of the file formats: line numbers are right, and no text whatever makes a traceback."""

import re
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from layup.errors import Problem
from layup.files.plan_file import load_plan
from layup.files.resin_file import check_resin, load_resin
from layup.files.toml import key_lines
from layup.files.workshop import demo_root

RESIN = (demo_root() / "resins" / "slow-laminating.toml").read_text(encoding="utf-8")
PLAN = (demo_root() / "sessions" / "touring-skis" / "plan.toml").read_text(encoding="utf-8")
pytestmark = pytest.mark.filterwarnings("error::pytest.PytestUnraisableExceptionWarning")
"""No error is swallowed on the way either."""
FILES = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])

# --- line numbers: TOML text is generated with numbers that occur once, so that a number's line is its key's line.

BARE = st.sampled_from(["a", "b-c", "D_1", "7", "steps"])
KEY = BARE | BARE.map(lambda word: f'"{word} . #"') | BARE.map(lambda word: f"'[{word}]'")
NOISE = st.sampled_from(["", " ", "\t", '  # [x] = {y} "', "\n", "\n\n# note = 1\n"])
STRING = st.sampled_from(
    ['"# ] } ="', "'''\n[t]\nk = 1\n'''", '"""a\\"""b\n"""', "''", '"\\"["', "1979-05-27 07:32:00"]
)


@st.composite
def values(draw, depth=2):
    """Draw the text of a value; "@" stands where a number that occurs once will be put."""
    kind = draw(st.integers(0, 3 if depth else 1))
    if kind == 0:
        return "@"
    if kind == 1:
        return draw(STRING)
    if kind == 2:
        items = draw(st.lists(values(depth=depth - 1), max_size=3))
        return (
            "["
            + ",".join(draw(NOISE) + item + _closed(draw(NOISE)) for item in items)
            + draw(st.sampled_from(["", "\n"]))
            + "]"
        )
    keys = draw(st.lists(KEY, max_size=3, unique=True))
    return "{" + ", ".join(f"{key} = {draw(values(depth=depth - 1))}" for key in keys) + "}"


def _closed(noise):
    """End a comment, so that what follows it counts."""
    return noise if "#" not in noise or noise.endswith("\n") else f"{noise}\n"


@st.composite
def documents(draw):
    """Draw TOML text of tables, arrays of tables and pairs; some are not valid, as a key may come twice."""
    parts = [f"{draw(KEY)} = {draw(values())}" for _ in range(draw(st.integers(0, 3)))]
    for _ in range(draw(st.integers(0, 4))):
        name = ".".join(draw(st.lists(KEY, min_size=1, max_size=2)))
        parts.append(f"[[{name}]]" if draw(st.booleans()) else f"[ {name} ]")
        parts += [
            f"{draw(KEY)}{draw(st.sampled_from(['', '.x']))} = {draw(values())}" for _ in range(draw(st.integers(0, 3)))
        ]
    text = "".join(_closed(draw(NOISE)) + part + draw(st.sampled_from(["\n", " # ]\n", "\n\n"])) for part in parts)
    count = iter(range(100_000, 200_000))
    return re.sub("@", lambda _: str(next(count)), text)


@given(text=documents())
@settings(max_examples=100)
def test_the_scanner_finds_the_very_keys_that_tomllib_finds_each_on_its_line(text):
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    lines = key_lines(text)
    leaves = dict(_paths(data))
    assert set(lines) == set(leaves)
    rows = text.split("\n")
    for path, value in leaves.items():
        if type(value) is int:
            assert str(value) in rows[lines[path] - 1], path


def _paths(value, path=()):
    """Yield (path, value) of everything inside `value`."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        yield (*path, key), inner
        yield from _paths(inner, (*path, key))


# --- damage: whatever is done to a file, the answer is a value or problems with a line of that file.

HUGE = "0x" + "f" * 4000
"""A whole number of more decimal digits than Python will write."""
PUNCTUATION = ["", '"', "'", "=", "[", "]", "\n", "\x00", "é"]
VALUES = [
    "0",
    "-1",
    "1e999",
    "nan",
    "-inf",
    "true",
    "[]",
    "{}",
    HUGE,
    "9" * 30,
    "1979-05-27",
    "[1, [2], {}]",
]
WORDS = ['"6 oz"', '"200 g"', '"\\u001b[31m"', '"volume"', '"cast"', '"tray"', "{ by = 1 }"]
LINES = ["[[x]]", "[steps]", "[[steps]]\n", "kind = 3\n", 'file = "x.svg"\n']
PIECES = st.sampled_from([*PUNCTUATION, *VALUES, *WORDS, *LINES])


@st.composite
def damaged(draw, text):
    """Draw `text` with a few cuts, insertions and values replaced."""
    for _ in range(draw(st.integers(1, 3))):
        kind = draw(st.integers(0, 2))
        if kind == 0:
            start = draw(st.integers(0, len(text)))
            text = text[:start] + text[start + draw(st.integers(1, 30)) :]
        elif kind == 1:
            start = draw(st.integers(0, len(text)))
            text = text[:start] + draw(PIECES) + text[start:]
        else:
            rows = text.split("\n")
            row = draw(st.integers(0, len(rows) - 1))
            rows[row] = rows[row].partition("=")[0] + "= " + draw(PIECES)
            text = "\n".join(rows)
    return text


def _assert_answers(path: Path, text: str, value: object, problems: list[Problem]) -> None:
    rows = text.count("\n") + 1
    assert (value is None) == any(not problem.warning for problem in problems)
    for problem in problems:
        assert problem.file == str(path)
        assert 1 <= problem.line <= rows
        assert problem.message
        assert str(problem).isprintable()


@given(text=damaged(RESIN))
@example(text=f"{RESIN}\n[other]\nkey = {HUGE}\n")
@FILES
def test_a_damaged_resin_file_gives_problems_with_lines_and_no_traceback(tmp_path, text):
    path = tmp_path / "slow-laminating.toml"
    path.write_text(text, encoding="utf-8")
    _assert_answers(path, text, *load_resin(path))
    assert set(load_resin(path)[1]) <= set(check_resin(path))


@given(text=damaged(PLAN))
@FILES
def test_a_damaged_plan_file_gives_problems_with_lines_and_no_traceback(tmp_path, text):
    path = tmp_path / "plan.toml"
    path.write_text(text, encoding="utf-8")
    _assert_answers(path, text, *load_plan(path, resin_ids=["slow-laminating", "casting-urethane"]))


@given(data=st.binary(max_size=200))
@FILES
def test_any_bytes_at_all_give_problems_with_lines(tmp_path, data):
    path = tmp_path / "noise.toml"
    path.write_bytes(data)
    plan, problems = load_plan(path)
    assert plan is None
    assert all(problem.line >= 1 and str(problem).isprintable() for problem in problems)
    assert problems
