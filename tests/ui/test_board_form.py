"""The board form on the screen: a sketch typed with the keyboard alone becomes a plan on Stack with a verdict."""

from itertools import product

import pytest
from app_driver import press, running, words
from gallery import text_in
from textual.widgets import Input

from layup.app.board_form import BoardForm
from layup.files.plan_file import load_plan
from layup.files.workshop import new_workshop

SKETCH = (
    *("Powder board 172", "slow", "1", "2", "20", "50", "1720"),
    *("from the tail: 0 20/30, 80 120/110, 860 118/110, 1720 40/30", "", "", ""),
    *("base", "tri 750", "core in place", "veneer"),
)


@pytest.fixture
def shop(tmp_path):
    new_workshop(tmp_path / "shop")
    return tmp_path / "shop"


def at_path(form, *path):
    """Return the place of the field that fills a key."""
    return next(at for at, each in enumerate(form.fields) if each.path == path)


async def type_lines(app, pilot, *lines):
    """Put each line in, and press Enter."""
    for line in lines:
        app.screen.entry.value = line or app.screen.entry.value
        await pilot.press("enter")
    await press(app, pilot)


async def test_a_sketch_typed_line_by_line_is_a_plan_with_a_verdict(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f", "n")
        form = app.screen
        assert isinstance(form, BoardForm)
        assert "7 needed" in words(app, "#form-title")
        assert "ready" not in words(app, "#form-title")
        await type_lines(app, pilot, *SKETCH)
        beside = words(app, "#form-beside")
        verdict, section = beside.split("\n\n")[:2]
        assert verdict.split(" · ")[0][2:] in ("FITS", "TIGHT")
        assert [line.split()[0] for line in section.splitlines()[1:6]] == [*"4321", "cups"]
        column = [int(line.split()[-1]) for line in section.splitlines()[1:6] if line.split()[-1].isdecimal()]
        total_g = int(section.partition("TOTAL ")[2].split()[0])
        assert sum(column) == pytest.approx(total_g, abs=len(column) / 2), (
            "the column sums to the total, but for rounding"
        )
        assert "1720 x 230 mm" in beside
        await type_lines(app, pilot, "walnut 95 g/m2")
        assert beside != words(app, "#form-beside"), "section and grams follow"
        assert "5 ░░ Walnut" in words(app, "#form-above")
        # On its line: to the bottom of the stack, a copy of it, the copy out again, and all of it back.
        await press(app, pilot, "up", *["<"] * 4, "=")
        names = [step["name"] for step in form.data["steps"]]
        assert names[:3] == ["Walnut", "Walnut", "Base sheet"]
        await press(app, pilot, "backspace", "ctrl+z")
        assert [step["name"] for step in form.data["steps"]] == names
        await press(app, pilot, "backspace", "ctrl+s")
        top = words(app, "#top")
    plan, problems = load_plan(shop / "sessions" / "powder-board-172" / "plan.toml")
    assert problems == []
    assert plan.outline.edges_m[0] == (0.0, 0.02, 0.03)
    assert [step.name for step in plan.steps][:3] == ["Walnut", "Base sheet", "Glass triaxial 750"]
    assert "Powder board 172" in top
    assert not list(shop.glob(".drafts/*"))


@pytest.mark.parametrize(("letter", "value"), [("y", "yes"), ("t", "yes"), ("n", "no"), ("F", "no")])
def test_yes_and_no_are_also_chosen_as_true_and_false(shop, letter, value):
    line = next(each for each in BoardForm(shop).asked({}) if each.label == "Tare twice")
    assert line.chosen("", letter.lower(), letter) == value


async def test_arrows_choose_among_offers_while_they_are_shown_and_move_once_none_is(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f", "n")
        form = app.screen
        await type_lines(app, pilot, "Board", "slow", "1", "2", "20")
        assert form.here.label == "Fibre"
        assert "↑↓ pick" in words(app, "#form-ways")
        offered = [offer.value for offer in form.offers()]
        await press(app, pilot, "down", "down")
        assert form.here.label == "Fibre"
        assert form.marked == 1
        await press(app, pilot, "enter")
        assert form.data["target_fibre_fraction"] == offered[1]
        await press(app, pilot, "up")
        assert "↑↓ pick" not in words(app, "#form-ways"), "a value stands, and no offer is shown"
        await press(app, pilot, *"52")
        note = words(app, "#form-note")
        assert "▸ 52 % by volume" in note
        assert "52 % by weight" in note
        await press(app, pilot, "down", "enter")
        assert form.data["target_fibre_fraction"] == {"by": "weight", "value": 0.52}


async def test_an_outline_without_a_shape_is_needed_and_not_wrong(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f", "n")
        form = app.screen
        await type_lines(app, pilot, "Board", "slow", "1", "2", "20", "60", "1680")
        assert form.here.label == "Widths"
        assert "wrong" not in words(app, "#form-title")
        assert "widths, an area or a drawing" in words(app, "#form-note")
        assert "stations" not in text_in(app, form.region)


async def test_the_share_of_fibre_is_needed_by_name_until_a_stack_without_cloth_stands(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f", "n")
        form = app.screen
        fibre = at_path(form, "target_fibre_fraction")
        assert form.fields[fibre].needed
        await type_lines(app, pilot, "Board", "slow", "1", "2", "20", "", "1720")
        await type_lines(app, pilot, "from the tail: 0 100, 860 80, 1720 100", "", "", "", "base", "veneer")
        assert not form.fields[fibre].needed
        assert "needed" not in words(app, "#form-title")
        await type_lines(app, pilot, "tri 750")
        assert "1 needed" in words(app, "#form-title")
        assert "wrong" not in words(app, "#form-title")
        assert words(app, "#form-beside").startswith("No verdict yet, it needs: fibre")
        await press(app, pilot, "ctrl+s")
        assert form.here.label == "Fibre"
        shown = text_in(app, form.region)
        assert not [words for words in ("Such", "target", "{") if words in shown]
        await type_lines(app, pilot, "60")
        assert "ready" in words(app, "#form-title")
        await press(app, pilot, "ctrl+z")
        step = at_path(form, "steps", 2)
        form.go(step)
        await press(app, pilot, "enter")
        form.go(at_path(form, "steps", 2, "target_fibre_fraction"))
        await type_lines(app, pilot, "55")
        assert "ready" in words(app, "#form-title"), "the only cloth has its own"


async def test_a_draft_that_waits_is_named_where_its_form_is_opened_and_enter_goes_on_with_it(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f")
        assert "draft" not in text_in(app, app.screen.region)
        await press(app, pilot, "n")
        await type_lines(app, pilot, "Powder board 172", "slow")
        await press(app, pilot, "escape", "f")
        assert "▸ n a new one: draft Powder board 172" in " ".join(text_in(app, app.screen.region).split())
        await press(app, pilot, "enter")
        assert app.screen.data["title"] == "Powder board 172"
        await press(app, pilot, "ctrl+r", "escape", "f", "t", *"X", "escape", "f")
        shown = " ".join(text_in(app, app.screen.region).split())
        assert "▸ t this one: touring-skis: draft X" in shown
        assert "n a new one" in shown
        assert "Powder" not in shown
        await press(app, pilot, "escape", "7", "n", *"Quick", "escape", "7")
        assert "▸ n a new one, from its datasheet: draft Quick" in " ".join(text_in(app, app.screen.region).split())


async def test_a_refused_choice_is_said_on_its_own_line_only(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f", "n")
        form = app.screen
        await type_lines(
            app, pilot, "Board", "slow", "1", "2", "20", "50", "1720", "10 cm 100, 150 cm 110, 160 cm 100", ""
        )
        await press(app, pilot, "enter")
        assert form.here.label == "Ends"
        await press(app, pilot, *"tail")
        assert "←→ chooses: round, straight" in words(app, "#form-said")
        await press(app, pilot, "enter")
        assert "chooses" not in form.said
        assert form.here.label != "Ends"


async def test_a_step_is_cut_behind_a_word_and_never_at_what_parts_its_words(shop):
    async with running(shop, size=(40, 16)) as (app, pilot):
        await press(app, pilot, "f", "n")
        form = app.screen
        await type_lines(app, pilot, *SKETCH[:11], "triax glass 750 g/m2 60 mm", "base")
        for width, at in product(range(30, 58, 3), (at_path(form, "steps", 0), at_path(form, "steps", 1))):
            await pilot.resize_terminal(width, 16)
            form.go(at)
            await press(app, pilot)
            (first,) = [line for line in text_in(app, form.region).splitlines() if "██ Glass" in line]
            assert first.rstrip()[-2:] not in (" ·", "·…", " …"), first
            assert first.rstrip().endswith(("…", "guess")), first


@pytest.mark.parametrize("form", ["f", "7"])
async def test_on_a_narrow_screen_the_keys_write_and_leave_as_well(shop, form):
    async with running(shop, size=(40, 16)) as (app, pilot):
        await press(app, pilot, form, "n")
        ways = words(app, "#form-ways")
        assert [each.split()[0] for each in ways.split("   ")] == ["Enter", "^L", "^S", "Esc"]
        assert len(ways) <= 38


async def test_widths_in_centimetres_typed_bare_are_doubted_at_their_line(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f", "n")
        form = app.screen
        await type_lines(app, pilot, "Board", "slow", "1", "2", "20", "60", "1720", "17 cm 6.0/6.6", "92 cm 4.5/4.7")
        assert "1 odd" in words(app, "#form-title")
        assert words(app, "#form-beside").splitlines()[0] == "No verdict yet, it needs: stack", "the outline stands"
        assert form._placed()[at_path(form, "outline", "stations", 0)].warning
        assert "! 13 mm wide on 1720 mm? a sketch may" in words(app, "#form-above")


@pytest.mark.parametrize("size", [(76, 20), (80, 24)])
async def test_what_is_not_known_yet_breaks_between_its_words(shop, size):
    async with running(shop, size=size) as (app, pilot):
        await press(app, pilot, "f", "n", *"AB", "enter")
        shown = text_in(app, app.screen.query_one("#form-beside").region)
        assert shown.split()[:8] == ["No", "verdict", "yet,", "it", "needs:", "resin,", "outline,", "stack"]


async def test_what_was_typed_outlives_the_program_and_offers_show_their_source(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f", "n")
        await type_lines(app, pilot, "Half a board")
        await press(app, pilot, *"slo")
        note = words(app, "#form-note")
        assert "▸ Slow laminating epoxy (demo)" in note
        assert "invented, for the demo" in note
        # No leaving: the program is gone here, as with its power cut.
    async with running(shop, size=(40, 16)) as (app, pilot):
        await press(app, pilot, "f", "n")
        assert "draft taken up again" in words(app, "#form-said")
        assert app.screen.data == {"title": "Half a board"}
        await press(app, pilot, *"nobody")
        await press(app, pilot, "enter")
        assert "is not there (nobody)" in words(app, "#form-said"), "what cannot be is said where it is typed"
        assert app.screen.query_one(Input).value == "nobody"
        assert all(len(line) <= 40 for line in text_in(app, app.screen.region).splitlines())


def of(form, label):
    return next(each.row.value for each in form.fields if each.label == label)


async def test_undo_brings_back_what_stood_before_and_an_emptied_station_skips_none(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f", "n")
        await type_lines(app, pilot, "Board", "slow", "1", "2", "20", "50", "178 cm")
        await type_lines(app, pilot, "10 cm 66/70, 92 cm 56/59, 166 cm 63/66")
        form = app.screen
        before = form.draft.text
        form.go(next(at for at, each in enumerate(form.fields) if each.label == "at 10 cm"))
        form.entry.value = ""
        await press(app, pilot, "enter")
        assert form.here.label == "at 92 cm", "the next one is not passed"
        await press(app, pilot, "ctrl+z")
        assert form.draft.text == before
        await press(app, pilot, "enter", "up", "up")
        assert form.draft.text == before, "looking at lines changes none"


async def test_a_value_that_is_refused_is_typed_over_and_a_choice_says_its_keys(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f", "n")
        form = app.screen
        form.go(next(at for at, each in enumerate(form.fields) if each.label == "Backing, mould"))
        await press(app, pilot, *"nonsense", "enter")
        assert "names no board (nonsense) - such as plywood 30 mm" in words(app, "#form-said")
        await press(app, pilot, *"plywood 30", "enter")
        assert form.data["closing"]["backing"] == {"material": "birch plywood", "thickness": "30 mm"}
        form.go(next(at for at, each in enumerate(form.fields) if each.label == "Tare twice"))
        await press(app, pilot, "5")
        assert "←→" in words(app, "#form-said")


async def test_enter_takes_the_one_resin_that_there_is(shop):
    for resin in shop.glob("resins/*.toml"):
        if resin.stem != "slow-laminating":
            resin.unlink()
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f", "n", *"Board", "enter")
        form = app.screen
        assert form.here.label == "Resin"
        assert "▸ Slow laminating epoxy" in words(app, "#form-note"), "the only one is what Enter takes"
        await press(app, pilot, "enter")
        assert of(form, "Resin") == "slow-laminating"
        assert form.here.label == "Pieces"


async def test_what_is_wrong_says_what_to_write_and_leaves_the_drawing(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f", "n")
        await type_lines(app, pilot, *SKETCH)
        form = app.screen
        drawn = words(app, "#form-beside").split("\n\n")
        form.go(next(at for at, each in enumerate(form.fields) if each.label == "Pressure"))
        await press(app, pilot, *"-80 kPa", "up")
        at = next(at for at, each in enumerate(form.fields) if each.label == "Pressure")
        form.go(at)
        note = " ".join(words(app, "#form-note").split())
        assert "is below zero (-80 kPa) - write 80 kPa: a bag's counts below the shop's air" in note
        beside = words(app, "#form-beside").split("\n\n")
        assert beside[2:] == drawn[2:]
        assert [line[:20] for line in beside[1].splitlines()][1:5] == [line[:20] for line in drawn[1].splitlines()][1:5]


async def test_what_is_typed_is_called_wrong_once_nobody_goes_on_with_it(shop, monkeypatch):
    monkeypatch.setattr("layup.app.form.PAUSE_S", 3600.0)
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f", "n")
        await type_lines(app, pilot, *SKETCH)
        form = app.screen
        form.go(next(at for at, each in enumerate(form.fields) if each.label == "Pressure"))
        await press(app, pilot, *"-80 kPa")
        form._paused("-80 k")
        assert "below zero" not in words(app, "#form-note"), "since then more was typed"
        form._paused("-80 kPa")
        assert "below zero" in words(app, "#form-note")


async def test_down_leaves_a_list_at_its_end_and_undone_names_its_line(tmp_path):
    root = tmp_path / "shop"
    new_workshop(root)
    async with running(root) as (app, pilot):
        form = BoardForm(root)
        await app.push_screen(form)
        await press(app, pilot, "X", "down")
        assert form.row.label == "Resin"
        await press(app, pilot, *["down"] * (len(form.offers()) + 1))
        assert form.row.label == "Pieces"
        assert "resin" not in form.data, "gone through, and none taken"
        await press(app, pilot, "2", "ctrl+z")
        assert form.said == "undone: Pieces"


async def test_a_cast_that_is_typed_opens_where_it_lacks_something_and_an_act_before_is_a_line(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f", "n")
        await type_lines(app, pilot, *SKETCH, "cast side walls")
        form = app.screen
        assert form.here.label == "Channel"
        assert "1 needed" in words(app, "#form-title")
        assert " ".join(words(app, "#form-beside").split()).startswith("No verdict yet: channel is missing")
        await type_lines(app, pilot, "8x12")
        assert form.here.label == "or volume"
        assert "of channel along both sides, 8 x 12 mm" in " ".join(words(app, "#form-note").split())
        await type_lines(app, pilot, "", "black, white and red")
        assert "1 needed" in words(app, "#form-title")
        assert form.here.label == "Pigment of"
        await type_lines(app, pilot, "2 %")
        form.go(at_path(form, "before"))
        await type_lines(app, pilot, "glue the core 2 h", "sealer dries 12 h alone after glue")
        await press(app, pilot, *"waits", "enter")
        assert "say how long" in words(app, "#form-said")
        form.entry.value = ""
        await press(app, pilot, "up")
        assert form.row.value == "Sealer dries 12 h alone after Glue the core"
        await press(app, pilot, "ctrl+s")
    plan, problems = load_plan(shop / "sessions" / "powder-board-172" / "plan.toml")
    assert problems == []
    assert plan.steps[-1].pigments == ("black", "white", "red")
    assert [task.name for task in plan.before] == ["Glue the core", "Sealer dries"]


async def test_a_casting_among_the_days_before_is_sent_to_the_stack_whose_rows_say_their_keys_and_take_one_above(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f", "n")
        form = app.screen
        await type_lines(app, pilot, *SKETCH)
        assert "cast tips 60 ml" in words(app, "#form-note"), "the line of the stack says that castings go there"
        form.go(at_path(form, "before"))
        form.entry.value = "cast side walls red 120 g 2 h"
        await press(app, pilot, "enter")
        assert "before" not in form.data
        assert "is a casting" in words(app, "#form-said")
        assert "type it in STACK: cast tips 60 ml in red" in words(app, "#form-said")
        await type_lines(app, pilot, "plane the casting 20 min")
        assert form.data["before"][0]["name"] == "Plane the casting"
        form.go(at_path(form, "steps", 0))
        await press(app, pilot)
        assert words(app, "#form-note").strip().startswith("drinks 60 g/m² on 0."), "where its grams are from"
        assert words(app, "#form-ways") == "Enter open   type: new below   Ins above   < > move   = copy   ⌫ remove"
        await press(app, pilot, "insert")
        assert form.here.label == "before 1"
        form.entry.value = "tri 400"
        await press(app, pilot, "enter")
        assert "400" in form.data["steps"][0]["name"]
        assert form.data["steps"][1]["name"] == "Base sheet"


async def test_undo_first_clears_what_was_refused_and_then_goes_to_what_it_took_back(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f", "n")
        form = app.screen
        await type_lines(app, pilot, *SKETCH)
        names = [step["name"] for step in form.data["steps"]]
        form.go(at_path(form, "before"))
        await press(app, pilot, *"wait", "enter")
        assert "say how long" in words(app, "#form-said")
        await press(app, pilot, "ctrl+z")
        assert form.entry.value == ""
        assert form.row.path == ("before",)
        assert form.said == "typing cleared   ^Z again undoes the last change"
        assert [step["name"] for step in form.data["steps"]] == names
        await press(app, pilot, "ctrl+z")
        assert [step["name"] for step in form.data["steps"]] == names[:-1]
        assert form.said == "undone: 4 Veneer"
        assert form.row.path[0] == "steps", "the form goes to where it was"
        form.go(at_path(form, "steps", 0))
        await press(app, pilot, "backspace")
        form.go(0)
        await press(app, pilot, "ctrl+z")
        assert form.said == "undone: 1 Base sheet"
        assert form.row.path == ("steps", 0)


@pytest.mark.parametrize(("base", "why"), [("base", "add plies"), ("base 0 g/m2", "nothing to wet")])
async def test_a_base_alone_has_no_verdict_and_says_what_to_add(shop, base, why):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f", "n")
        await type_lines(app, pilot, *SKETCH[:11], base)
        assert words(app, "#form-beside").startswith(f"No verdict yet: {why}")
        assert "batches" not in words(app, "#form-beside")
        await type_lines(app, pilot, "tri 750 x2")
        assert words(app, "#form-beside")[2:].startswith(("FITS", "TIGHT"))


async def test_the_line_of_the_resin_opens_its_datasheet_and_takes_a_new_one(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "f", "n", *"Board", "enter")
        form = app.screen
        assert "^O its datasheet" in words(app, "#form-ways")
        await press(app, pilot, "ctrl+o")
        await type_lines(app, pilot, "Shed epoxy", "100:32 w", "42 min (150 g at 23 degC, to gel)")
        await press(app, pilot, "ctrl+s")
        assert app.screen is form
        assert form.row.path == ("resin",)
        assert form.data["resin"] == "shed-epoxy"
        await press(app, pilot, "ctrl+o")
        assert app.screen.heading == "RESIN shed-epoxy"
        await press(app, pilot, "escape")
        assert app.screen is form
