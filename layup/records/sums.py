"""The sums by which the lines of a journal prove themselves, so that any program can check them.

A line of format 2 ends in `"sum":"` and 32 hexadecimal digits: sixteen that stand for what was written before it, and
sixteen of its own, which are the first of the SHA-256 of all bytes of the line up to them. Those before are the own
digits of its predecessor; in the first line of format 2 they are the same of all bytes before it: of none in a new
journal, of the lines of format 1 in one that was begun with them. So each line can be checked alone, and that nothing
is missing before it. It guards against accidents, not against people. SHA-256: FIPS 180-4.
"""

from __future__ import annotations

from hashlib import sha256

from layup.records.record import Record

DIGITS = 16
"""64 bits: one damaged line in 2e19 passes."""
END = DIGITS + 2
"""What a line ends in: its own digits, a quote and a brace."""


def digits(data: bytes) -> str:
    """Return the digits that stand for some bytes."""
    return sha256(data).hexdigest()[:DIGITS]


def own_digits(line: bytes) -> str:
    """Return the digits that a line should have as its own."""
    return sha256(line[:-END]).hexdigest()[:DIGITS]


def stated_digits(line: bytes) -> str:
    """Return the digits that a line has as its own, whatever they are."""
    return line[-END:-2].decode("ascii", "replace")


def summed(record: Record, before: str) -> Record:
    """Return a record with its sum; `before` stands for what was written before it."""
    line = record.model_copy(update={"sum": before + DIGITS * "0"}).model_dump_json().encode()
    return record.model_copy(update={"sum": before + own_digits(line)})


def line_of(record: Record) -> bytes:
    """Return the line of a record as it stands in a journal; one of format 1 has no sum."""
    return record.model_dump_json(exclude=None if record.v > 1 else {"sum"}).encode() + b"\n"
