"""The cans: what is wrong in their file, what sessions took from them, what a plan has to buy, and which are old."""

from datetime import date
from pathlib import Path

import pytest
from command_line import ask_in
from hypothesis import given
from hypothesis import strategies as st
from plan_examples import PLAN, SLOW
from session_examples import good_day, journal_bytes, stamped

from layup.chemistry.calibration import calibrate
from layup.files.durable import JOURNAL
from layup.files.workshop import Can, Workshop, load_stock, new_workshop
from layup.planning.checklist import CanLeft, Stock, stock_rows, stock_words, with_stock
from layup.planning.night import NightOutlook
from layup.planning.plan import Shop
from layup.planning.planner import PlanResult
from layup.planning.readiness import ANSWERS, readiness
from layup.session.day_events import LotRecorded
from layup.session.mass_balance import Poured, stock_left, stock_of

TODAY = date(2026, 3, 20)
OURS = "slow-laminating"
GOOD = """[[can]]
resin = "slow-laminating"
component = "hardener"
lot = "H-7"
mass = "1 kg"
opened = 2026-01-10
expires = "2027-12-31"
"""


def told(tmp_path: Path, text: str, today: date = TODAY) -> list[str]:
    path = tmp_path / "stock.toml"
    path.write_text(text, encoding="utf-8")
    cans, problems = load_stock(path, resin_ids=[OURS, "fast"], today=today)
    assert (cans is None) == any(not problem.warning for problem in problems)
    return [str(problem).partition("stock.toml:")[2] for problem in problems]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            '"hardener"',
            '"hardner"',
            "3: can[1].component: is not one of the choices (hardner) - did you mean hardener?",
        ),
        ('"slow-laminating"', '"slow"', "2: can[1].resin: is not in resins/ (slow) - did you mean slow-laminating?"),
        ('"1 kg"', '"1 l"', "5: can[1].mass: "),
        ('"1 kg"', '"-1 kg"', "5: can[1].mass: is out of range (-1 kg) - must be above 0 g"),
        ("2026-01-10", '"10.1.2026"', "6: can[1].opened: is not a day (10.1.2026) - write it as 2027-05-31"),
        ("2026-01-10", "2026-11-10", "6: can[1].opened: is still to come (2026-11-10) - check the year"),
        ("expires", "expiry", "7: can[1].expiry: is not a known key - did you mean expires?"),
        ('lot = "H-7"\n', "", "1: can[1]: lot is missing - write lot = "),
        ("[[can]]", "[can]", "1: can: "),
        ("2027-12-31", "2026-03-01", "7: warning: can[1].expires: lot H-7 expired 2026-03-01 - try a trial cup first"),
        (
            "2026-01-10",
            "2024-11-10",
            "6: warning: can[1].opened: lot H-7 open since 2024-11-10, more than a year - try",
        ),
    ],
)
def test_what_is_wrong_with_a_can_says_where_what_and_what_to_do(tmp_path, old, new, said):
    assert old in GOOD
    found = told(tmp_path, GOOD.replace(old, new))
    assert len(found) == 1
    assert found[0].startswith(said)


def test_a_good_file_and_one_without_cans_have_no_problem(tmp_path):
    assert told(tmp_path, GOOD) == told(tmp_path, "") == []


def test_a_can_is_good_on_its_last_day_and_only_a_hardener_ages_open():
    can = Can(OURS, "hardener", "H", 1000.0, opened=date(2025, 3, 20), expires=TODAY)
    assert (can.caution(TODAY), can.expired(TODAY)) == ("", False)
    assert can.expired(date(2026, 3, 21))
    assert "open since 2025-03-20" in Can(OURS, "hardener", "H", 1000.0, can.opened).caution(date(2026, 3, 21))
    assert Can(OURS, "resin", "R", 1000.0, can.opened).caution(date(2030, 1, 1)) == ""


def left_of(cans, poured):
    return [round(can.left_g, 6) for can in stock_left(cans, poured, TODAY).cans]


def test_a_session_takes_from_the_cans_of_its_lot_the_one_opened_first():
    first, second = (Can(OURS, "resin", "R-1", 500.0, opened=date(2026, month, 1)) for month in (1, 2))
    closed, other = Can(OURS, "resin", "R-1", 500.0), Can(OURS, "resin", "R-2", 500.0, opened=date(2026, 1, 1))
    took = Poured(OURS, "resin", "R-1", 700.0, date(2025, 12, 24))
    assert left_of([closed, second, other, first], [took]) == [500.0, 300.0, 500.0, 0.0]
    assert left_of([first], [took]) == [-200.0], "more than it held is not hidden"
    assert left_of([first], [Poured("fast", "resin", "R-1", 70.0, TODAY)]) == [500.0]
    assert left_of([first], [Poured(OURS, "hardener", "R-1", 70.0, TODAY)]) == [500.0]
    assert left_of([first], [Poured(OURS, "resin", "R-0", 70.0, TODAY)]) == [500.0], "a can that is gone"


def test_a_session_that_named_no_lot_takes_from_the_cans_open_on_its_day():
    may, closed = Can(OURS, "resin", "R-1", 500.0, opened=date(2026, 1, 10)), Can(OURS, "resin", "R-2", 500.0)
    for day, left in ((date(2026, 1, 9), 500.0), (date(2026, 1, 10), 430.0)):
        assert left_of([may, closed], [Poured(OURS, "resin", "", 70.0, day)]) == [left, 500.0]


LOTS = st.sampled_from(["A", "B"])
MASSES = st.floats(1.0, 1000.0)


@given(
    st.lists(st.builds(Can, st.just(OURS), st.just("resin"), LOTS, MASSES), max_size=5),
    st.lists(st.builds(Poured, st.just(OURS), st.just("resin"), LOTS, MASSES, st.just(TODAY)), max_size=5),
)
def test_what_is_left_and_what_was_poured_is_what_was_bought(cans, poured):
    lots = {can.lot for can in cans}
    bought = sum(can.mass_g for can in cans) - sum(one.mass_g for one in poured if one.lot in lots)
    assert sum(left_of(cans, poured)) == pytest.approx(bought, abs=1e-3)


# -- plan ------------------------------------------------------------------------------------------------------------

RESULT = PlanResult(PLAN, SLOW, calibrate(SLOW), Shop(293.15))
NEED_G = RESULT.budget.buy_resin_g, RESULT.budget.buy_hardener_g


def rows_of(*cans: CanLeft):
    return stock_rows(Stock(cans), RESULT)


def test_a_plan_says_what_to_buy_and_does_not_count_on_an_expired_can():
    rows = rows_of(
        CanLeft("slow", "resin", "R", NEED_G[0] + 1.0),
        CanLeft("slow", "hardener", "H", NEED_G[1] - 40.0),
        CanLeft("slow", "hardener", "O", 900.0, "expired 2026-03-01", expired=True),
        CanLeft("fast", "hardener", "F", 900.0),
    )
    assert [row.short_g for row in rows] == [0.0, pytest.approx(40.0)]
    assert rows[1].lots == ("H", "O")
    words, enough = stock_words(rows)
    assert not enough
    left = f"{NEED_G[1] - 40.0:.0f} g left"
    assert words == f"Buy 40 g hardener ({left}). Hardener lot O expired 2026-03-01: try a trial cup first."


def test_enough_of_both_is_said_in_one_line_and_too_much_poured_asks_for_the_scale():
    cans = CanLeft("slow", "resin", "R", 2000.0), CanLeft("slow", "hardener", "H", 500.0)
    assert stock_words(rows_of(*cans)) == ("Enough in stock: 2000 g resin, 500 g hardener.", True)
    words, enough = stock_words(rows_of(*cans, CanLeft("slow", "resin", "Q", -30.0)))
    assert (words, enough) == ("Resin lot Q: 30 g more was poured than it held, weigh it.", False)


def test_what_is_missing_makes_the_day_wait_and_where_nobody_keeps_account_nothing_is_said():
    ready = readiness(RESULT, NightOutlook())
    assert with_stock(ready, None, RESULT) is ready
    for stock, begins in (
        (Stock(), f"Buy {NEED_G[0]:.0f} g resin (0 g left)"),
        (Stock(trouble="stock.toml has 1 problem."), "stock.toml has 1 problem."),
    ):
        told = with_stock(ready, stock, RESULT)
        assert told.answer == max(ready.answer, "wait", key=ANSWERS.index)
        assert next(reason for reason in told.reasons if reason.kind == "stock").words.startswith(begins)
    assert stock_rows(Stock(trouble="stock.toml has 1 problem."), RESULT) == ()


# -- workshop --------------------------------------------------------------------------------------------------------


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    """Make a workshop in which one day was pressed, of the lots R-1 and, told in the middle of it, H-7."""
    root = tmp_path / "shop"
    new_workshop(root)
    lots = [LotRecorded(component="resin", lot="R-1"), LotRecorded(component="hardener", lot="H-7")]
    events = good_day()
    folder = root / "sessions" / "2026-03-07-pair-of-skis"
    folder.mkdir()
    (folder / JOURNAL).write_bytes(journal_bytes(stamped([*events[:2], lots[0], *events[2:7], lots[1], *events[7:]])))
    return root


def test_what_a_day_poured_is_taken_off_when_asked_and_never_written(shop):
    assert stock_of(Workshop(shop), TODAY) is None
    text = GOOD + GOOD.replace("hardener", "resin").replace("H-7", "R-1")
    (shop / "stock.toml").write_text(text, encoding="utf-8")
    stock = stock_of(Workshop(shop), TODAY)
    # two batches were mixed, 100 g and 30 g each as logged at mixing; the one that was knocked over took its share
    assert [can.left_g for can in stock.cans] == [1000.0 - 60.0, 1000.0 - 200.0]
    assert (shop / "stock.toml").read_text(encoding="utf-8") == text


def test_the_commands_tell_it_and_say_nothing_where_there_is_no_file(shop):
    without = ask_in(shop, "plan", "touring-skis", "--json").data
    assert without["stock"] == []
    assert "stock" not in {reason["kind"] for reason in without["readiness"]["reasons"]}
    (shop / "stock.toml").write_text(GOOD.replace("2027-12-31", "2020-12-31"), encoding="utf-8")
    answer = ask_in(shop, "plan", "touring-skis")
    said = " ".join(answer.out.split())
    assert "WAIT Buy" in said
    assert "Hardener lot H-7 expired 2020-12-31: try a trial cup first." in said
    rows = ask_in(shop, "plan", "touring-skis", "--json").data["stock"]
    assert [(row["component"], row["left_g"], row["lots"]) for row in rows] == [
        ("resin", 0.0, []),
        ("hardener", 0.0, ["H-7"]),
    ]
    assert all(row["short_g"] == row["need_g"] > 0.0 for row in rows)
    checked = ask_in(shop, "check")
    assert "stock.toml:7: warning: can[1].expires: lot H-7 expired 2020-12-31" in checked.out
    (shop / "stock.toml").write_text(GOOD.replace("[[can]]", "[[cans]]"), encoding="utf-8")
    assert "WAIT stock.toml has 1 problem: see 'layup check'." in " ".join(
        ask_in(shop, "plan", "touring-skis").out.split()
    )
