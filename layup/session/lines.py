"""Put the records that were read from a journal in order, and say of each line that does not fit what is wrong.

A line is placed by its number, wherever it stands, and has to be as old as its neighbours allow: so one wrong line
costs only itself. What is missing before a line is told by the sums, which any program can check.

A line of format 2 ends in `"sum":"` and 32 hexadecimal digits: sixteen that stand for what was written before it, and
sixteen of its own, which are the first of the SHA-256 of all bytes of the line up to them. Those before are the own
digits of its predecessor; in the first line of format 2 they are the same of all bytes before it: of none in a new
journal, of the lines of format 1 in one that was begun with them. So each line can be checked alone, and that nothing
is missing before it. It guards against accidents, not against people. SHA-256: FIPS 180-4.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from hashlib import sha256
from typing import NamedTuple

from layup.session.clock import JUMP_S
from layup.session.state import Record

# -- sums ------------------------------------------------------------------------------------------------------------

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


def summed(record: Record, before: str) -> Record:
    """Return a record with its sum; `before` stands for what was written before it."""
    line = written(record.model_copy(update={"sum": before + DIGITS * "0"})).encode()
    return record.model_copy(update={"sum": before + own_digits(line)})


def line_of(record: Record) -> bytes:
    return written(record).encode() + b"\n"


def written(record: Record, *, with_sum: bool = True) -> str:
    """Return a record as JSON; a line of format 1 has no sum, one not told afterwards no time of its own."""
    left_out = set[str]() if with_sum and record.v > 1 else {"sum"}
    return record.model_dump_json(
        exclude=left_out | {name for name in ("happened_s", "told_s") if getattr(record, name, None) is None}
    )


# -- order -----------------------------------------------------------------------------------------------------------

MOST_BAD = 10_000
"""So many bad lines are kept in mind, to tell what is missing from what cannot be read."""
NOT_COUNTED = "the line stays in the file and does not count"
_COUNTED = "the line counts all the same"
_WRITERS = "two writers, or two journals merged"


class Found(NamedTuple):
    """A record, and the number of the line that it was read from."""

    line: int
    record: Record
    proven: bool
    """Whether its sum holds."""


class Wrong(NamedTuple):
    """What is wrong with a line, and what becomes of it."""

    line: int
    key: str
    message: str
    hint: str


@dataclass(slots=True)
class Chain:
    """Where the order of what was read so far ends."""

    seq: int = 0
    elapsed_s: float = 0.0
    own: str = ""
    """The own digits of the last line that proved itself; empty before the first."""
    first: str = ""
    """What stands for all bytes before the first of those."""
    line: int = 0
    """Which line was the last in order."""
    bad_lines: list[int] = field(default_factory=list)
    """The lines that cannot be read, from the first on."""
    bad_sums: set[str] = field(default_factory=set)
    """The own digits of lines that do not prove themselves: as they have them, and as they should."""

    def bad(self, number: int, line: bytes) -> None:
        """Take down a line that cannot be read or does not prove itself; of very many only the first."""
        if len(self.bad_lines) < MOST_BAD:
            self.bad_lines.append(number)
            self.bad_sums |= {own_digits(line), line[-END:-2].decode("ascii", "replace")}

    def goes_on(self, records: Sequence[Record], last_line: int) -> bool:
        """Follow records that are all as they should be; return False, and stay, where one is not."""
        seq, elapsed_s, own, first = self.seq, self.elapsed_s, self.own, self.first
        for record in records:
            if record.seq <= seq or record.elapsed_s < elapsed_s:
                return False
            seq, elapsed_s, said = record.seq, record.elapsed_s, record.sum
            if said:
                if said[:DIGITS] != (own or first):
                    return False
                own = said[DIGITS:]
            elif own or record.v > 1:
                return False
        self.seq, self.elapsed_s, self.own, self.line = seq, elapsed_s, own, last_line
        return True

    def put_in_order(self, found: Sequence[Found]) -> tuple[list[Record], list[Wrong]]:
        """Return the records that count, in order, and what is wrong with lines of theirs."""
        wrong: list[Wrong] = []
        numbered = self._one_a_number(found, wrong)
        fitting = self._of_their_age(numbered, wrong)
        in_place = set(_never_falling([each.line for each in fitting]))
        for place, each in enumerate(fitting):
            if place not in in_place:
                words = f"seq {each.record.seq} stands out of its place"
                wrong.append(Wrong(each.line, "seq", words, "it counts in its place"))
            wrong += self._what_is_before(each)
            if each.proven:
                self.own = each.record.sum[DIGITS:]
            self.seq, self.elapsed_s, self.line = each.record.seq, each.record.elapsed_s, each.line
        return [each.record for each in fitting], wrong

    def _one_a_number(self, found: Sequence[Found], wrong: list[Wrong]) -> list[Found]:
        """Return one line of each number: the one that proves itself, then the one that stands behind its number."""
        chosen: dict[int, tuple[tuple[bool, bool], Found]] = {}
        before = self.seq
        for each in found:
            seq = each.record.seq
            claim = each.proven, before == seq - 1
            before = seq
            if seq > self.seq and (seq not in chosen or claim > chosen[seq][0]):
                chosen[seq] = claim, each
        highest = self.seq
        for each in found:
            seq = each.record.seq
            if seq not in chosen or chosen[seq][1] is not each:
                twin = chosen[seq][1] if seq in chosen else None
                same = twin is not None and twin.record == each.record
                why = f"line {twin.line} stands here again" if twin is not None and same else _WRITERS
                wrong.append(Wrong(each.line, "seq", f"seq is {seq} after {highest}: {why}", NOT_COUNTED))
            highest = max(highest, seq)
        return [chosen[seq][1] for seq in sorted(chosen)]

    def _of_their_age(self, numbered: Sequence[Found], wrong: list[Wrong]) -> list[Found]:
        """Return the lines whose ages never fall, as many as can be."""
        doubtful = set(_unlike_the_wall(numbered))
        old_enough = [
            each
            for place, each in enumerate(numbered)
            if each.record.elapsed_s >= self.elapsed_s and place not in doubtful
        ]
        fitting = [old_enough[place] for place in _never_falling([each.record.elapsed_s for each in old_enough])]
        kept = {each.record.seq for each in fitting}
        last_s = self.elapsed_s
        for each in numbered:
            age_s = each.record.elapsed_s
            if each.record.seq in kept:
                last_s = age_s
            elif age_s < last_s:
                words = f"elapsed_s falls from {last_s:g} to {age_s:g}"
                wrong.append(Wrong(each.line, "elapsed_s", words, NOT_COUNTED))
            else:
                words = f"elapsed_s is {age_s:g} after {last_s:g}, and less in the lines behind it"
                wrong.append(Wrong(each.line, "elapsed_s", words, NOT_COUNTED))
        return fitting

    def _what_is_before(self, each: Found) -> Iterator[Wrong]:
        """Yield what is wrong between the last line in order and the next one."""
        record, gap = each.record, each.record.seq - self.seq - 1
        if not each.proven:
            if record.v == 1 and self.own:
                yield Wrong(each.line, "sum", "the line has no sum, unlike those before it", _COUNTED)
            return
        before = record.sum[:DIGITS]
        if before == (self.own or self.first) or before in self.bad_sums:
            return
        if gap > 0 and gap <= self._bad_between(each.line):
            return
        if gap > 0:
            which = f"seq {self.seq + 1}" if gap == 1 else f"seq {self.seq + 1} to {record.seq - 1}"
            words = f"{'a line is' if gap == 1 else f'{gap} lines are'} missing before it ({which})"
        elif self.own:
            words = f"it was not written after seq {self.seq}: {_WRITERS}"
        else:
            words = "a line before it, which has no sum, was changed, added or lost"
        yield Wrong(each.line, "sum", words, _COUNTED)

    def _bad_between(self, line: int) -> int:
        """Return how many lines that cannot be read stand between the last line in order and another."""
        low, high = sorted((self.line, line))
        return bisect_left(self.bad_lines, high) - bisect_right(self.bad_lines, low)


def _unlike_the_wall(numbered: Sequence[Found]) -> Iterator[int]:
    """Yield the places of lines without a sum that contradict a neighbour's age, and alone their own wall clock.

    Of two ages that cannot both be, the wall clock tells which is the wrong one.
    """
    for place in range(1, len(numbered) - 1):
        before, each, after = (numbered[place + step].record for step in (-1, 0, 1))
        if numbered[place].proven or before.elapsed_s <= each.elapsed_s <= after.elapsed_s:
            continue
        if not _agree(before, each) and not _agree(each, after) and _agree(before, after):
            yield place


def _agree(first: Record, second: Record) -> bool:
    """Return whether as much time passed by the age as by the wall clock."""
    return abs((second.at - first.at).total_seconds() - (second.elapsed_s - first.elapsed_s)) <= JUMP_S


def _never_falling(values: Iterable[float]) -> list[int]:
    """Return the places of as many values as can be kept so that they never fall; of several ways the earliest.

    Patience sorting (C. Schensted, Canad. J. Math. 13 (1961) 179-191, from memory), in n log n steps.
    """
    tops: list[float] = []
    last: list[int] = []
    under: list[int] = []
    end = -1
    for place, value in enumerate(values):
        pile = bisect_right(tops, value)
        under.append(last[pile - 1] if pile else -1)
        if pile == len(tops):
            tops.append(value)
            last.append(place)
            end = place
        else:
            tops[pile], last[pile] = value, place
    kept = []
    while end >= 0:
        kept.append(end)
        end = under[end]
    return kept[::-1]
