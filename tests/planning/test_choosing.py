"""Which resin for which day: the verdicts are a plan's own, demo resins stay out of real plans, the best is first."""

from dataclasses import replace
from functools import cache
from random import Random

import pytest
from plan_examples import FAST, PLAN, SLOW, WALLS

from layup.bench.planner import Planner
from layup.chemistry.blending import with_blends
from layup.chemistry.calibration import calibrate
from layup.chemistry.datasheet import PotLifePoint
from layup.errors import InputError
from layup.files.workshop import demo_root
from layup.planning.choosing import choices, choosable, resin_table, temperatures_K
from layup.planning.fit import Fit
from layup.planning.night import NightOutlook
from layup.planning.plan import Shop
from layup.planning.planner import PlanResult, Settings
from layup.planning.readiness import readiness
from layup.report.advice import LETTERS, picture, sentence

SHEETS = {sheet.id: sheet for sheet in (SLOW, FAST)}
TONIGHT = Settings("slow", 295.15, 2, None, 0.6)


def asked_of(sheets):
    """Return what asks for a plan with some settings, of resins that no file holds."""

    def asked(settings):
        sheet = sheets[settings.resin_id]
        plan = replace(PLAN, resin_id=sheet.id, crew=replace(PLAN.crew, people=settings.people))
        return PlanResult(plan, sheet, calibrate(sheet), Shop(settings.temperature_K), settings=settings)

    return asked


@cache
def invented():
    return resin_table(asked_of(SHEETS), PLAN, SHEETS, TONIGHT)


def test_every_verdict_is_the_one_that_a_plan_of_that_resin_shop_and_crew_gets():
    desk = Planner(demo_root(), plan="touring-skis")
    tonight = replace(desk.read(), temperature_K=291.15)
    table = resin_table(desk.asked, desk.plan, with_blends(desk.resins), tonight)
    cells = len(temperatures_K(291.15)) * 3
    assert len(table.rows) == 5 * cells
    works = [row for row in table.rows if row.fit.works]
    assert {row.verdict for row in table.rows} == {"fits", "tight", "does not fit"}
    for row in Random(7).sample(works, 4) + Random(7).sample(table.rows, 3):
        whole = desk.work_out(
            replace(tonight, resin_id=row.result.datasheet.id, temperature_K=row.temperature_K, people=row.people)
        )
        ready = readiness(whole, NightOutlook(), chance=whole.chance)
        assert (row.verdict, row.result.split) == (ready.fit.word, whole.split)
        assert row.chance == (whole.chance if ready.fit.works else None)
        assert row.night == ready.night
        assert row.result.budget == whole.budget


@pytest.mark.parametrize(("out_by_s", "shop_K"), [(36 * 3600.0, 289.15), (16 * 3600.0, 295.15)])
def test_a_part_that_must_be_out_sooner_is_judged_as_a_plan_judges_it(out_by_s, shop_K):
    outlook, result = NightOutlook(out_by_s=out_by_s), asked_of(SHEETS)(replace(TONIGHT, temperature_K=shop_K))
    (row,) = choices([result], [shop_K], outlook)
    assert not row.night.makes_it
    assert row.verdict == readiness(result, outlook, chance=result.chance).fit.word


def test_tonights_resins_stand_by_verdict_then_by_what_they_have_to_spare():
    ranked = [row.rank for row in invented().tonight]
    assert ranked == sorted(ranked)
    assert [row.result.datasheet.id for row in invented().tonight] == ["slow", "fast"]


def test_of_resins_that_are_out_at_the_same_second_the_one_that_the_plan_has_comes_first():
    sheets = {name: replace(SLOW, id=name) for name in ("slow", "same", "again")}
    asked = asked_of(sheets)
    rows = [row for name in sheets for row in choices([asked(replace(TONIGHT, resin_id=name))], [295.15])]
    later = [replace(row, night=delayed(row.night, -1e-6 * number)) for number, row in enumerate(rows)]
    assert [row.result.datasheet.id for row in sorted(later, key=lambda row: row.rank)] == ["slow", "same", "again"]


def delayed(night, seconds):
    """Return a night whose part comes out a little later."""
    out_s = night.ready.out_s
    return replace(night, ready=replace(night.ready, out_s=out_s._replace(likely=out_s.likely + seconds)))


def test_what_came_with_the_program_is_offered_only_to_a_plan_that_uses_such_a_one():
    demo = replace(FAST, id="demo", is_demo=True)
    other = replace(FAST, id="cast", chemistry="urethane")
    sheets = {each.id: each for each in (SLOW, FAST, demo, other)}
    assert [sheet.id for sheet in choosable(PLAN, sheets, SLOW)] == ["slow", "fast"]
    assert [sheet.id for sheet in choosable(replace(PLAN, resin_id="demo"), sheets, demo)] == ["demo", "slow", "fast"]


def test_a_resin_whose_numbers_contradict_each_other_is_left_out_and_named():
    slower_warm = replace(FAST, id="odd", pot_lives=(*FAST.pot_lives, PotLifePoint(9000.0, 150.0, 308.15)))
    sheets = {**SHEETS, "odd": slower_warm}
    table = resin_table(asked_of(sheets), PLAN, sheets, TONIGHT)
    assert {row.result.datasheet.id for row in table.rows} == {"slow", "fast"}
    (words,) = table.left_out
    assert words.startswith("Fast test resin: ")


def test_a_plan_that_lays_nothing_is_refused():
    only_pours = replace(PLAN, steps=(WALLS,))
    with pytest.raises(InputError, match="lays nothing"):
        resin_table(asked_of(SHEETS), only_pours, SHEETS, TONIGHT)


def test_the_picture_shows_each_crew_where_there_is_room_and_else_tonights():
    rows = {(row.result.datasheet.id, row.temperature_K, row.people): row for row in invented().rows}
    wide, narrow = picture(invented(), width=80), picture(invented(), width=40)
    assert wide[-2].split()[3:] == [
        "".join(LETTERS[rows["slow", kelvin, crew].verdict] for crew in (1, 2, 3)) for kelvin in invented().shops_K
    ]
    assert narrow[-2].split()[-8:] == [LETTERS[rows["slow", kelvin, 2].verdict] for kelvin in invented().shops_K]
    assert all(len(line) <= 40 for line in narrow)


@pytest.mark.parametrize("width", [28, 30, 36])
def test_a_narrow_picture_leaves_out_the_shops_furthest_from_tonights_and_no_row_is_wider(width):
    _, heads, *rows = picture(invented(), width=width)
    assert max(map(len, (heads, *rows))) <= width
    assert "▶22" in heads
    assert all(row.split()[-1] in LETTERS.values() for row in rows)


def test_the_sentence_names_the_resin_to_take_or_where_one_would_fit():
    table = invented()
    best = table.tonight[0]
    assert sentence(replace(table, rows=(replace(best, fit=Fit()),))).startswith(
        "22 °C, 2 people: take Slow test resin, "
    )
    assert "nothing fits with room; Slow test resin is tight" in sentence(
        replace(table, rows=(replace(best, fit=Fit(tight=("thick",))),))
    )
    late = tuple(replace(row, fit=Fit(against=("late",))) for row in table.rows if row.temperature_K == 295.15)
    assert "no resin fits, nor at any" in sentence(replace(table, rows=late))
    assert "Nearest: Slow test resin at 22 °C with 3 people," in sentence(
        replace(table, rows=(*late, *(row for row in table.rows if row.verdict == "fits" and row.people == 3)))
    )
    assert "no resin can be judged" in sentence(replace(table, rows=()))
    doubted = replace(table, rows=tuple(replace(row, odd="unusual, 100:370") for row in table.rows))
    assert sentence(doubted) == f"{sentence(table).removesuffix('.')}, if its file is right."
