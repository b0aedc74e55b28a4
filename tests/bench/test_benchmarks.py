"""Every benchmark runs at its smallest size, and the table says what it found; how quick anything is, is not tested."""

import importlib
import math
import os
from dataclasses import replace
from itertools import groupby

import pytest
import run
from results import Row, amount_words, ratio_words, table
from stopwatch import Took, Trial, best

ROW = Row("a plan", 0.030, 0.010, "a rival", "CPU")


@pytest.mark.skipif(os.name != "posix", reason="needs a pseudo-terminal and the processor's clock of another program")
@pytest.mark.parametrize("name", run.NAMES)
def test_a_benchmark_runs_at_its_smallest_size(name):
    rows = list(importlib.import_module(f"bench_{name}").rows(smallest=True))
    assert rows
    for row in rows:
        assert math.isfinite(row.ratio), row
        assert row.ratio > 0, row
        assert row.against, row
    assert len(table(rows).splitlines()) == len(rows) + 3


def test_a_name_that_is_no_benchmark_is_refused_with_those_there_are(capsys):
    assert run.main(["nothing"]) == 2
    assert "there are app, journal, plan, potlife, start" in capsys.readouterr().err


def test_a_target_is_met_only_where_all_that_is_asked_holds():
    assert ROW.met is None
    assert replace(ROW, most=0.030).met is True
    assert replace(ROW, most=0.029).met is False
    assert replace(ROW, most_ratio=3.0).met is True
    assert replace(ROW, most_ratio=2.9).met is False
    assert replace(ROW, most=0.029, most_ratio=3.0).met is False


def test_the_table_counts_the_targets_and_says_no_where_one_is_missed():
    drawn = table([ROW, replace(ROW, most=0.1), replace(ROW, most=0.02)]).splitlines()
    assert "<= 20.0 ms  NO" in drawn[3]
    assert drawn[-1] == "1 of 2 targets are met"


@pytest.mark.parametrize(
    ("value", "words"),
    [(4.2e-7, "0.420 us"), (0.0153, "15.3 ms"), (0.9996, "1000 ms"), (1.0, "1 s"), (1820.4, "1820 s")],
)
def test_a_time_is_written_in_its_handiest_unit(value, words):
    assert amount_words(value, "s") == words


@pytest.mark.parametrize(("ratio", "words"), [(3.234, "3.23 x"), (0.35, "0.350 x"), (1 / 400, "1/400"), (5.0, "5 x")])
def test_a_ratio_is_a_factor_or_a_part(ratio, words):
    assert ratio_words(ratio) == words


def test_trials_take_turns_and_what_comes_before_each_is_not_timed():
    seen = []
    took = best(
        Trial(lambda: seen.append("ours"), lambda: seen.append("before")), Trial(lambda: seen.append("rival")), rounds=2
    )
    turns = [who for who, _ in groupby(each for each in seen if each != "before")]
    assert turns == ["ours", "rival", "ours", "rival"]
    assert seen.count("before") == seen.count("ours")
    assert all(isinstance(each, Took) and each.processor_s >= 0 for each in took)
