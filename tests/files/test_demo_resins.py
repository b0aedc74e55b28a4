"""Resins that came with the program are marked in their files, and proposed to no plan that has a real one."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from layup.bench.dials import _next_resin
from layup.bench.planner import Planner
from layup.chemistry.datasheet import offered
from layup.errors import InputError
from layup.files.workshop import Workshop, demo_root, new_workshop
from layup.session.told import Interview

OURS = ("shed-fast", "shed-slow")


@pytest.fixture
def shop(tmp_path: Path) -> Workshop:
    """Make a workshop with the demo's files and two resins that somebody bought, and a plan with one of these."""
    root = tmp_path / "shop"
    new_workshop(root)
    text = (root / "resins/slow-laminating.toml").read_text(encoding="utf-8").replace("demo = true\n", "")
    for name in OURS:
        own = text.replace('"slow-laminating"', f'"{name}"').replace("Slow laminating epoxy (demo)", f"Epoxy {name}")
        (root / f"resins/{name}.toml").write_text(own, encoding="utf-8")
    plan = (root / "sessions/touring-skis/plan.toml").read_text(encoding="utf-8")
    (root / "sessions/ours").mkdir()
    (root / "sessions/ours/plan.toml").write_text(plan.replace('"slow-laminating"', '"shed-slow"'), encoding="utf-8")
    return Workshop(root)


def test_every_resin_of_the_demo_is_marked_in_its_file_and_a_mark_is_no_title():
    sheets = Workshop(demo_root()).resins()
    assert len(sheets) == 5
    assert all(sheet.is_demo for sheet in sheets.values())
    assert list(offered(sheets)) == list(sheets), "where there are no others they are all there is"


def test_a_real_plan_is_offered_real_resins_on_its_dial_and_as_a_way_out(shop):
    demo = {"slow-laminating", "fast-laminating", "dgeba-ipda", "dgeba-teta"}
    for name, expected in (("ours", set(OURS)), ("touring-skis", {*OURS, *demo})):
        desk = Planner(shop.root, plan=name)
        now = desk.read()
        turned = {now.resin_id}
        for _ in desk.resins:
            now = _next_resin(now, desk, 1)
            turned.add(now.resin_id)
        assert turned == expected
        back = _next_resin(_next_resin(now, desk, 1), desk, -1)
        assert back == now
    changes = Planner(shop.root, plan="ours")
    figures = changes.work_out(changes.read())
    assert not [change for change in changes.remedies(figures) if "(demo)" in change.words]


def test_a_layup_told_from_memory_lists_real_resins_and_understands_any(shop):
    talk = Interview(shop, datetime(2026, 3, 7, tzinfo=UTC), "ours", keep=False)
    assert [sheet.id for sheet in talk.resins] == list(OURS)
    assert talk._resin("fast-laminating", "resin").id == "fast-laminating"
    demo = Interview(shop, datetime(2026, 3, 7, tzinfo=UTC), "touring-skis", keep=False)
    assert len(demo.resins) == 7


def test_a_wrong_name_is_told_the_real_ones_and_a_misspelt_demo_one_its_own(shop):
    with pytest.raises(InputError, match=r"\(zzz\) - known are shed-fast, shed-slow$"):
        shop.resin("zzz")
    with pytest.raises(InputError, match=r"did you mean slow-laminating\?"):
        shop.resin("slow-laminatin")
