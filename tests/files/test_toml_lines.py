"""TOML with line numbers: each kind of damage to a file is told with its line."""

import tomllib

import pytest

from layup.errors import Problem, StorageError
from layup.files.toml import LARGEST_FILE_BYTES, Document, key_lines, parse_toml, read_toml

TRICKY = '''\
# [not.a.table]
title = "a # no comment, [no] {array}"   # but this is one = 1
"quoted key".'and.dotted' . plain = 3
text = """
[steps]
x = 1 \\""" still inside
"""
raw = \'\'\'
y = 2 ''
\'\'\'
[[steps]]
name = "one"
list = [
  1, # ]
  { a = 2, b = [ 3 ] },

  "]",
]
[steps.inner]
when = 1979-05-27 07:32:00
[[steps]]
[[steps.deep]]
z = +1e-3
empty = ""
'''


def test_every_key_gets_the_line_that_it_stands_on():
    lines = key_lines(TRICKY)
    expected = {
        ("title",): 2,
        ("quoted key", "and.dotted", "plain"): 3,
        ("text",): 4,
        ("raw",): 8,
        ("steps",): 11,
        ("steps", 0): 11,
        ("steps", 0, "name"): 12,
        ("steps", 0, "list"): 13,
        ("steps", 0, "list", 0): 14,
        ("steps", 0, "list", 1, "a"): 15,
        ("steps", 0, "list", 1, "b", 0): 15,
        ("steps", 0, "list", 2): 17,
        ("steps", 0, "inner"): 19,
        ("steps", 0, "inner", "when"): 20,
        ("steps", 1): 21,
        ("steps", 1, "deep", 0): 22,
        ("steps", 1, "deep", 0, "z"): 23,
        ("steps", 1, "deep", 0, "empty"): 24,
    }
    tomllib.loads(TRICKY)
    assert {path: lines.get(path) for path in expected} == expected


def test_a_path_that_is_not_there_gets_the_line_around_it():
    document = Document("f", {}, {("a",): 3, ("a", "b"): 4})
    assert [document.line(path) for path in (("a", "b", 0, "x"), ("a", "c"), ("z",), ())] == [4, 3, 1, 1]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a = 1\nb =\n", "f.toml:2: is not valid TOML: invalid value"),
        ("a = 1\n\nb = 'x\n", "f.toml:3: is not valid TOML: "),
        ("a = 1\na = 2\n", "f.toml:2: is not valid TOML: cannot overwrite a value - it stands above already"),
        ("[t]\nx = 1\n[t]\n", "f.toml:3: is not valid TOML: cannot declare"),
        ("a = [1,\n2\n", "f.toml:2: is not valid TOML: "),
        ("a = " + "9" * 5000, "f.toml:1: holds a number of thousands of digits - write it shorter"),
        ("b = 1\na = [2, 0x" + "f" * 4000 + "]", "f.toml:2: a[2]: holds a number of thousands of digits"),
        ("b = 1\na = " + "[" * 100_000, "f.toml:1: is nested too deep to read - write plain tables"),
    ],
)
def test_text_that_is_no_toml_is_told_with_its_line(text, words):
    problem = parse_toml(text, "f.toml")
    assert isinstance(problem, Problem)
    assert str(problem).startswith(words)


def test_bytes_that_are_not_utf_8_are_told_with_their_line(tmp_path):
    path = tmp_path / "latin.toml"
    path.write_bytes('a = 1\nb = "schräg"\n'.encode("latin-1"))
    assert str(read_toml(path)) == f"{path}:2: is not UTF-8 text (byte 0xe4) - save it as UTF-8"


def test_a_byte_order_mark_and_windows_line_ends_are_read(tmp_path):
    path = tmp_path / "windows.toml"
    path.write_bytes("\ufeffa = 1\r\n\r\nb = '''x\r\ny'''\r\nc = 2\r\n".encode())
    document = read_toml(path)
    assert isinstance(document, Document)
    assert document.data == {"a": 1, "b": "x\ny", "c": 2}
    assert document.lines == {("a",): 1, ("b",): 3, ("c",): 5}


def test_a_file_that_is_far_too_large_is_no_plan(tmp_path):
    path = tmp_path / "large.toml"
    path.write_bytes(b"#" * (LARGEST_FILE_BYTES + 1))
    assert str(read_toml(path)).startswith(f"{path}:1: is larger than 1 MB")


@pytest.mark.parametrize("name", ["missing.toml", "folder", "no\0name"])
def test_a_file_that_cannot_be_read_is_a_storage_error(tmp_path, name):
    (tmp_path / "folder").mkdir()
    with pytest.raises(StorageError, match="cannot be read") as caught:
        read_toml(tmp_path / name)
    assert caught.value.exit_code == 3
