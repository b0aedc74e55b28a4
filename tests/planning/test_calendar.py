"""The days before: a textbook's network, an independent solution by linear programming, hours and errors."""

from dataclasses import replace
from math import inf
from types import SimpleNamespace as Given

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_examples import PLAN
from scipy.optimize import linprog

from layup.chemistry.temperature import DAY_S
from layup.chemistry.uncertainty import Band
from layup.errors import InputError, RangeError
from layup.planning.plan import Task
from layup.planning.warming import critical, network, tasks_of

WEEK = 7 * DAY_S
RELIABLE = {
    "A": (2, ""),
    "B": (4, "A"),
    "C": (10, "B"),
    "D": (6, "C"),
    "E": (4, "C"),
    "F": (5, "E"),
    "G": (7, "D"),
    "H": (9, "EG"),
    "I": (7, "C"),
    "J": (8, "FI"),
    "K": (4, "J"),
    "L": (5, "J"),
    "M": (2, "H"),
    "N": (6, "KL"),
}
"""Weeks and forerunners of the contractor's network of Hillier and Lieberman, Introduction to Operations Research
(from memory): 44 weeks, by A, B, C, E, F, J, L and N."""


def textbook():
    return [Task(name, weeks * WEEK, tuple(after)) for name, (weeks, after) in RELIABLE.items()]


def test_the_textbooks_network_takes_forty_four_weeks_along_its_critical_path():
    placed = network(textbook(), end_s=44 * WEEK, hours_s=None)
    assert placed[0].latest_s == pytest.approx(0.0)
    assert "".join(each.task.name for each in critical(placed)) == "ABCEFJLN"
    slack = {each.task.name: each.slack_s / WEEK for each in placed}
    assert {name for name, weeks in slack.items() if weeks == 0.0} == set("ABCEFJLN")
    assert (slack["D"], slack["I"], slack["K"]) == (4.0, 2.0, 1.0)


@st.composite
def networks(draw):
    count = draw(st.integers(1, 9))
    tasks = []
    for i in range(count):
        after = [f"t{j}" for j in range(i) if draw(st.booleans())]
        tasks.append(Task(f"t{i}", draw(st.floats(60.0, 5 * DAY_S)), tuple(after)))
    return tasks


@given(networks())
def test_the_latest_start_is_that_of_a_linear_program(tasks):
    """Independent: minimise the whole, each task after its forerunners, by scipy."""
    number = {task.name: i for i, task in enumerate(tasks)}
    rows, bounds = [], []
    for task in tasks:
        for name in task.after:
            row = np.zeros(len(tasks) + 1)
            row[number[name]], row[number[task.name]] = 1.0, -1.0
            rows.append(row)
            bounds.append(-tasks[number[name]].takes_s)
        row = np.zeros(len(tasks) + 1)
        row[number[task.name]], row[-1] = 1.0, -1.0
        rows.append(row)
        bounds.append(-task.takes_s)
    cost = np.zeros(len(tasks) + 1)
    cost[-1] = 1.0
    whole_s = linprog(cost, A_ub=np.array(rows), b_ub=np.array(bounds), bounds=(0, None)).fun
    placed = network(tasks, end_s=0.0, hours_s=None)
    assert -placed[0].latest_s == pytest.approx(whole_s, rel=1e-9, abs=1e-3)
    assert all(each.slack_s >= -1e-6 for each in placed)
    assert sum(each.task.takes_s for each in critical(placed)) == pytest.approx(whole_s, rel=1e-9, abs=1e-3)


@given(networks().map(lambda tasks: [replace(task, takes_s=task.takes_s / 10.0) for task in tasks]))
def test_hands_work_whole_in_the_shops_hours_and_nothing_begins_before_what_it_waits_for(tasks):
    tasks = [replace(task, hands=i % 2 == 0) for i, task in enumerate(tasks)]
    placed = {each.task.name: each for each in network(tasks, end_s=100 * DAY_S)}
    for each in placed.values():
        for start_s in (each.latest_s, each.earliest_s) if each.task.hands else ():
            assert start_s % DAY_S >= 8 * 3600.0 - 1e-3
            assert start_s % DAY_S + each.task.takes_s <= 21 * 3600.0 + 1e-3
        for name in each.task.after:
            assert placed[name].latest_end_s <= each.latest_s + 1e-3
        assert each.latest_end_s <= 100 * DAY_S


def test_a_day_starts_no_later_for_work_in_hours_than_round_the_clock():
    tasks = [Task("glue", 3600.0), Task("sets", DAY_S, ("glue",), hands=False), Task("press", 7200.0, ("sets",))]
    end_s = 10 * DAY_S + 9 * 3600.0
    in_hours, always = (network(tasks, end_s=end_s, hours_s=hours) for hours in ((28800.0, 75600.0), None))
    assert in_hours[0].latest_s < always[0].latest_s
    assert in_hours[-1].latest_end_s == 9 * DAY_S + 21 * 3600.0


@pytest.mark.parametrize(
    ("tasks", "error", "words"),
    [
        ([Task("a", 60.0), Task("a", 60.0)], InputError, r"has a task twice \(a\)"),
        ([Task("a", 60.0, ("b",))], InputError, r"a: after: is no task \(b\)"),
        ([Task("a", 60.0, ("b",)), Task("b", 60.0, ("a",))], InputError, r"wait for each other \(a, b\)"),
        ([Task("a", 14 * 3600.0)], RangeError, "longer than the shop's hours"),
    ],
)
def test_what_cannot_be_placed_is_refused_by_name(tasks, error, words):
    with pytest.raises(error, match=words):
        network(tasks, end_s=0.0)


def test_a_wait_begins_when_what_it_waits_for_is_over_and_leaves_no_hole():
    tasks = [Task("press", 7200.0), Task("cure", 20 * 3600.0, ("press",), hands=False), Task("out", 0.0, ("cure",))]
    placed = {each.task.name: each for each in network(tasks, end_s=10 * DAY_S + 18 * 3600.0)}
    assert placed["cure"].latest_s == placed["press"].latest_end_s
    assert placed["out"].latest_end_s == 10 * DAY_S + 18 * 3600.0


@pytest.mark.parametrize(("late_s", "counted_s"), [(6 * DAY_S, 6 * DAY_S), (inf, 5 * DAY_S)])
def test_a_casting_and_the_part_count_the_same_edge_of_when_they_are_hard(late_s, counted_s):
    hard = Given(out_s=Band(4 * DAY_S, 5 * DAY_S, late_s))
    pouring = Given(name="walls", starts_s=None, takes_s=600.0, planable=hard)
    found = tasks_of(PLAN, Given(timeline=Given(closed_s=7200.0)), [pouring], Given(ready=hard))
    takes_s = {task.name: task.takes_s for task in found}
    assert takes_s["castings harden"] == takes_s["cure in the press"] == counted_s
