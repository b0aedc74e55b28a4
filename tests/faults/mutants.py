"""Spoil a file the way disks, editors, syncing folders and people do: seeded, so that a number gives it back."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Callable
from typing import Any

ODD_VALUES = (
    *("0", "-1", "1", "1e9", "-1e9", "1e308", "1e-308", "nan", "inf", "-inf", "NaN", "Infinity", "1e999", "9" * 30),
    *("9" * 5000, "0x" + "f" * 4000, "true", "false", "null", "1979-05-27", "07:32:00", "1979-05-27T07:32:00Z"),
    *("[]", "{}", "[1, [2], {}]", "[" * 400 + "]" * 400, '""', '" "', "'x'", '"nan"', '"-5 g"', '"1e9 g"', '"0 m"'),
    *('"٣٤ g"', '"１５０ g"', '"²"', '"1,234 g"', '"5 furlong"', '"25 degC"', '"45 min"', '"20 mm"', '"62 %"'),
    *('"1e300 m"', '"1e-300 m"', '"inf g"', '"999999999999 h"', '"\\u001b[31m"', '"\\u0000"', '"\\u202e"', '"é"'),
    *('"' + "x" * 100_000 + '"', '"🎿' + "\u0301" * 500 + '"', '"../../etc"', '"resin"', "\x00", "٣", "1_000", "+5"),
)
"""What to write where a value stands; not all of it is TOML or JSON."""
ODD_PIECES = (
    *('"', "'", "=", "[", "]", "{", "}", ",", "\n", "\r", "\t", "\x00", "\x1b[2J", "\x7f", "\u2028", "\ufeff", "é"),
    *("#", "\\", '"""', "[[x]]\n", "[steps]\n", "[[steps]]\n", "unknown = 1\n", "title = 1\n", "a.b.c = 1\n", "{}\n"),
    *("[" * 2000, "{" * 2000, "x" * 200_000, "\n" * 1000, "=" * 300, "<<<<<<< ours\n", "[[steps]]\nkind = 'place'\n"),
)
UNITS = ("g", "kg", "mm", "m", "h", "min", "d", "degC", "K", "degF", "g/m^2", "g/cm^3", "kg/m^3", "%", "ml", "Pa", "oz")
FACTORS = (0.0, -1.0, 1e-9, 1e-3, 0.1, 0.5, 0.9, 1.1, 2.0, 10.0, 100.0, 1e3, 1e6, 1e9, 1e15)
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e-?\d+)?")
_VALUE = re.compile(r'(?<== )(?:"[^"\n]*"|[^\s,{}\[\]]+)|(?<=":)(?:"[^"\n]*"|[^\s,{}\[\]]+)')
_UNIT = re.compile(r'(?<=\d )(?:[A-Za-z%][A-Za-z0-9/^*]*)(?=")')

Spoiler = Callable[[random.Random, str], str]


def _replaced(pattern: re.Pattern[str], pick: Callable[[random.Random, str], str]) -> Spoiler:
    """Return a spoiler that puts something else in place of one match."""

    def spoil(dice: random.Random, text: str) -> str:
        found = list(pattern.finditer(text))
        if not found:
            return text
        match = dice.choice(found)
        return text[: match.start()] + pick(dice, match[0]) + text[match.end() :]

    return spoil


def _scaled(dice: random.Random, number: str) -> str:
    scaled = float(number) * dice.choice(FACTORS)
    whole = "." not in number and "e" not in number and abs(scaled) < 1e16
    return str(round(scaled)) if whole else repr(scaled)


def _swap_values(dice: random.Random, text: str) -> str:
    """Exchange two values."""
    found = list(_VALUE.finditer(text))
    if len(found) < 2:
        return text
    first, second = sorted(dice.sample(found, 2), key=lambda match: match.start())
    return (
        text[: first.start()] + second[0] + text[first.end() : second.start()] + first[0] + text[second.end() :]
    )  # fmt: skip


def _lines(change: Callable[[random.Random, list[str]], None]) -> Spoiler:
    """Return a spoiler that works on the list of lines."""

    def spoil(dice: random.Random, text: str) -> str:
        rows = text.split("\n")
        change(dice, rows)
        return "\n".join(rows)

    return spoil


def _drop_line(dice: random.Random, rows: list[str]) -> None:
    del rows[dice.randrange(len(rows))]


def _double_line(dice: random.Random, rows: list[str]) -> None:
    at = dice.randrange(len(rows))
    rows.insert(dice.randrange(len(rows) + 1) if dice.random() < 0.5 else at, rows[at])


def _swap_lines(dice: random.Random, rows: list[str]) -> None:
    a, b = dice.randrange(len(rows)), dice.randrange(len(rows))
    rows[a], rows[b] = rows[b], rows[a]


def _double_block(dice: random.Random, rows: list[str]) -> None:
    """Repeat some lines, as a merge does."""
    start = dice.randrange(len(rows))
    block = rows[start : start + dice.randint(1, 40)]
    rows[start:start] = block * dice.choice((1, 1, 1, 3, 200))


def _cut(dice: random.Random, text: str) -> str:
    return text[: dice.randrange(len(text) + 1)]


def _hole(dice: random.Random, text: str) -> str:
    start = dice.randrange(len(text) + 1)
    return text[:start] + text[start + dice.choice((1, 2, 5, 30, 300)) :]


def _insert(dice: random.Random, text: str) -> str:
    at = dice.randrange(len(text) + 1)
    return text[:at] + dice.choice(ODD_PIECES) + text[at:]


def _json_value(dice: random.Random, text: str) -> str:
    """Change one value anywhere in one line of a journal; text of another kind stays."""
    rows = text.split("\n")
    at = dice.randrange(len(rows))
    try:
        line = json.loads(rows[at])
    except ValueError:
        return text
    holders: list[tuple[Any, Any]] = []
    pending = [line]
    while pending:
        holder = pending.pop()
        for key, value in holder.items() if isinstance(holder, dict) else enumerate(holder):
            holders.append((holder, key))
            if isinstance(value, dict | list):
                pending.append(value)
    if not holders:
        return text
    holder, key = dice.choice(holders)
    old, kind = holder[key], dice.random()
    if kind < 0.15:
        del holder[key]
    elif kind < 0.25 and isinstance(holder, dict):
        holder[dice.choice(("x", "event", "v", "batch", f"{key}_g"))] = old
    elif isinstance(old, int | float) and not isinstance(old, bool) and kind < 0.7:
        holder[key] = type(old)(old * dice.choice(FACTORS)) if abs(old) < 1e12 else -old
    else:
        odd = (None, True, -1, 0, 1, 2, 7, 10**9, 10**30, 1e308, float("nan"), float("inf"), "", "x" * 30_000, [], {})
        holder[key] = dice.choice((*odd, [[old]], {"a": old}, str(old), "gelled", "tray", "\x1b[31m", "🎿\u202e\u0301"))
    rows[at] = json.dumps(line, ensure_ascii=dice.random() < 0.5)
    return "\n".join(rows)


TEXT_SPOILERS: tuple[tuple[int, Spoiler], ...] = (
    (14, _replaced(_NUMBER, _scaled)),
    (5, _replaced(_VALUE, lambda dice, _: dice.choice(ODD_VALUES))),
    (5, _replaced(_UNIT, lambda dice, _: dice.choice(UNITS))),
    (3, _swap_values),
    (8, _json_value),
    (3, _lines(_drop_line)),
    (3, _lines(_double_line)),
    (3, _lines(_swap_lines)),
    (1, _lines(_double_block)),
    (2, _cut),
    (3, _hole),
    (4, _insert),
)
"""How often each is picked, and what it does."""


def _flip(dice: random.Random, data: bytes) -> bytes:
    spoilt = bytearray(data)
    for _ in range(dice.choice((1, 1, 2, 20))):
        if spoilt:
            spoilt[dice.randrange(len(spoilt))] ^= 1 << dice.randrange(8)
    return bytes(spoilt)


def _zeroed(dice: random.Random, data: bytes) -> bytes:
    """Fill a stretch with zeros, as a disk does that lost its power."""
    start = dice.randrange(len(data) + 1)
    return data[:start] + b"\0" * min(dice.choice((1, 64, 4096)), len(data) - start)


BYTE_SPOILERS: tuple[tuple[int, Callable[[random.Random, bytes], bytes]], ...] = (
    (90, lambda _dice, data: data),
    (5, _flip),
    (2, _zeroed),
    (1, lambda _dice, data: data.decode("utf-8", "replace").encode("utf-16")),
    (1, lambda _dice, data: data.decode("utf-8", "replace").encode("latin-1", "replace") + b"# \xe9\n"),
    (1, lambda _dice, data: b"\xef\xbb\xbf" + data),
    (1, lambda _dice, data: data.replace(b"\n", b"\r\n")),
    (1, lambda _dice, data: data.replace(b"\n", b"\r")),
    (1, lambda dice, data: data[: dice.randrange(len(data) + 1)]),
    (1, lambda _dice, _data: b""),
    (1, lambda dice, _data: dice.randbytes(300)),
)


def mutant(source: str, seed: int) -> bytes:
    """Return `source` spoilt in one to three ways; the same number spoils it in the same way."""
    dice = random.Random(seed)
    weights, spoilers = zip(*TEXT_SPOILERS, strict=True)
    text = source
    for spoil in dice.choices(spoilers, weights, k=dice.choice((1, 1, 1, 1, 2, 3))):
        text = spoil(dice, text) if text else text
    byte_weights, byte_spoilers = zip(*BYTE_SPOILERS, strict=True)
    return dice.choices(byte_spoilers, byte_weights)[0](dice, text.encode("utf-8", "surrogatepass"))
