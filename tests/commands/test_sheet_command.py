"""`layup sheet`: the list and the mix sheets, on the screen, as one HTML file."""

import re
from dataclasses import replace
from functools import cache, partial
from html.parser import HTMLParser
from itertools import pairwise

import pytest
from command_line import ask_in, assert_no_wider

from layup import cli
from layup.bench.planner import Planner
from layup.chemistry.kinetics import EPOXY_J_g_K
from layup.files.attachments import read_polyline_m
from layup.files.plan_file import load_plan
from layup.files.workshop import demo_root
from layup.planning.outline import Outline, shape
from layup.report.render import POLICY
from layup.units import in_minutes

SHEET = ("sheet", "touring-skis", "--temp", "20 degC")
PLAN = ("plan", "touring-skis", "--temp", "20 degC")


@pytest.fixture(autouse=True)
def known(monkeypatch):
    monkeypatch.setitem(cli.COMMANDS, "sheet", "the list before you start, and mix sheets for the wall")


@pytest.fixture(scope="module")
def demo():
    """Return a function that runs a command where the demo's files are, once for the same words."""
    return cache(partial(ask_in, demo_root()))


class Page(HTMLParser):
    """What a page shows, its tags, and everything it would load from elsewhere."""

    def __init__(self, text):
        super().__init__()
        self.text, self.tags, self.loads = [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.loads += [value for name, value in attrs if name in ("src", "href")]

    def handle_data(self, data):
        self.text.append(data)


def test_the_mix_sheets_are_those_of_the_plan(demo):
    sheets, batches = demo(*SHEET, "--json").data["batches"], demo(*PLAN, "--json").data["batches"]
    assert [sheet["mass_g"] for sheet in sheets] == [batch["mass_g"] for batch in batches]
    for sheet, batch in zip(sheets, batches, strict=True):
        resin, hardener = sheet["pours"]
        assert resin["shows_g"] == pytest.approx(batch["resin_g"], abs=0.51)
        assert hardener["shows_g"] == pytest.approx(batch["mass_g"], abs=0.51)
        assert resin["within_g"][0] <= resin["shows_g"] <= resin["within_g"][1]
        assert sheet["batches"] == len(batches)


def test_the_list_and_every_batch_are_printed_and_fit_the_console(demo, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    answer = demo(*SHEET)
    assert answer.code == 0
    assert_no_wider(answer.out, 80)
    data = demo(*SHEET, "--json").data
    assert answer.out.count("[ ] ") == len(data["checklist"])
    for item in data["checklist"]:
        assert item["words"] in answer.words
    for sheet in data["batches"]:
        assert f"Batch {sheet['batch']} of {sheet['batches']}: {sheet['mass_g']:.0f} g" in answer.out


def test_the_list_says_why_it_is_no_go(demo, tmp_path):
    cold = demo(*SHEET, "--night", "9 degC")
    reasons = demo(*SHEET, "--night", "9 degC", "--json").data["reasons"]
    assert len(reasons) == 2
    assert all(words.startswith("WAIT: ") and words in cold.words for words in reasons)
    demo(*SHEET, "--night", "9 degC", "--html", str(tmp_path / "cold.html"))
    page = " ".join(Page((tmp_path / "cold.html").read_text(encoding="utf-8")).text)
    assert all(words in page for words in reasons)
    (tight,) = demo(*SHEET, "--temp", "23 degC", "--json").data["reasons"]
    assert tight.startswith("WAIT: Batch 2: 3 min spare in its cup, 5 min wanted.")


def test_one_batch_alone_has_no_list(demo):
    data = demo(*SHEET, "--batch", "2", "--json").data
    assert [sheet["batch"] for sheet in data["batches"]] == [2]
    assert data["checklist"] == []
    assert demo(*SHEET, "--batch", "2").out.startswith("Batch 2 of 3")


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("--batch", "9"), "batch: is not in this plan (9) - 1 to 3 - see 'layup plan'"),
        (("--batch", "two"), "batch: is no whole number (two)"),
        (("--batch", "0"), "batch: is out of range (0)"),
        (("--night", "6 kg"), "tonight's temperature: "),
        (("--out-by", "5 min"), "time to demould: is out of range"),
        (("--moisture", "900 %"), "moisture of the wood: "),
    ],
)
def test_what_cannot_be_printed_is_refused(demo, words, complaint):
    answer = demo(*SHEET, *words)
    assert answer.code == 2
    assert complaint in answer.complaint


def test_the_page_is_whole_in_itself_and_prints_one_batch_a_page_on_any_paper(demo, tmp_path):
    file = tmp_path / "sheet.html"
    assert ask_in(demo_root(), *SHEET, "--html", str(file), "--json").data["written"] == [str(file)]
    text = file.read_text(encoding="utf-8")
    page, data = Page(text), demo(*SHEET, "--json").data
    assert page.loads == []
    assert "script" not in page.tags
    assert POLICY in text
    assert text.count('<section class="batch"') == len(data["batches"])
    assert "break-before: page" in text
    assert not re.search(r"size:\s*(a4|letter)", text, re.I), "the paper is the printer's"
    shown = " ".join(page.text)
    for sheet in data["batches"]:
        assert all(f"{pour['shows_g']:g} g" in shown for pour in sheet["pours"])
    assert text.count('class="box"') == len(data["checklist"])


def test_names_from_a_file_cannot_style_the_page(workshop, edit, tmp_path):
    edit("sessions/touring-skis/plan.toml", 'name = "Veneer"', 'name = "<script>alert(1)</script>"')
    file = tmp_path / "sheet.html"
    assert ask_in(workshop, *SHEET, "--html", str(file)).code == 0
    page = Page(file.read_text(encoding="utf-8"))
    assert "script" not in page.tags
    assert "<script>alert(1)</script>" in "".join(page.text)


def test_a_file_that_cannot_be_written_is_refused(tmp_path):
    answer = ask_in(demo_root(), *SHEET, "--html", str(tmp_path / "missing" / "sheet.html"))
    assert answer.code == 3
    assert "cannot be written" in answer.complaint


def test_a_plan_that_has_no_batches_has_no_sheets(demo):
    answer = demo(*SHEET, "--cup", "5 g")
    assert answer.code == 2
    assert "cannot be mixed" in answer.complaint


def test_a_mix_sheet_alone_on_the_wall_says_of_which_resin_and_for_what_temperature(say, workshop):
    under = "Touring skis 168: Slow laminating epoxy (demo), shop at 20 °C"
    data = say("sheet", "touring-skis", "--html", "sheet.html", "--json").data
    assert [batch["under"] for batch in data["batches"]] == [under] * len(data["batches"])
    pages = (workshop / "sheet.html").read_text(encoding="utf-8").split('<section class="batch">')[1:]
    assert len(pages) == len(data["batches"])
    assert all(under in page for page in pages)
    assert under in say("sheet", "touring-skis", "--batch", "2").words
    assert "Weigh it first." in data["batches"][0]["facts"]


def test_the_order_of_the_day_is_the_plans_own_with_who_does_it(demo):
    data, plan = demo(*SHEET, "--json").data, demo(*PLAN, "--json").data
    weighed = [line for line in data["order"] if line["batch"]]
    assert [line["begin_min"] for line in weighed] == [batch["weigh_min"] for batch in plan["batches"]]
    assert {line["who"] for line in weighed} == {"A"}
    assert data["order"][-1]["what"] == "CLOSE THE PRESS"
    assert data["order"][-1]["end_min"] == pytest.approx(plan["closed_min"])
    begins = [line["begin_min"] for line in data["order"]]
    assert begins == sorted(begins)
    alone = demo(*SHEET, "--people", "1", "--json").data["order"]
    assert {line["who"] for line in alone} <= {""}


def test_the_wall_has_the_order_the_pieces_to_cut_and_the_batches_on_one_axis(demo, tmp_path):
    file = tmp_path / "sheet.html"
    ask_in(demo_root(), *SHEET, "--html", str(file))
    text = file.read_text(encoding="utf-8")
    data = demo(*SHEET, "--json").data
    shown = Page(text)
    assert text.count("<tr class=") == len(data["order"])
    assert shown.tags.count("svg") == 2, "the day, and the outline"
    assert all(f"Batch {batch['batch']}" in text.split("<svg")[1].split("</svg>")[0] for batch in data["batches"])
    assert "1730 mm" in text.split("Cut list")[1].split("</table>")[0]


def test_a_mix_sheet_says_what_is_added_and_what_not_to_do_with_the_tare(demo, workshop, edit):
    for sheet in demo(*SHEET, "--json").data["batches"]:
        resin, hardener = sheet["pours"]
        assert (resin["tare"], hardener["tare"]) == ("", "DO NOT TARE")
        assert resin["shows_g"] + hardener["adds_g"] == hardener["shows_g"]
        assert "+ 3" in sheet["pencil"]
        assert f"+{hardener['adds_g']:.0f} g hardener" in demo(*SHEET).out
    edit("sessions/touring-skis/plan.toml", "[scale]", "[scale]\ntare_each = true")
    each = ask_in(workshop, *SHEET, "--json").data["batches"][0]["pours"]
    assert each[1]["tare"] == "TARE TO 0"
    assert each[1]["adds_g"] == each[1]["shows_g"] < each[0]["shows_g"]


def test_cautions_are_printed_once(demo):
    cautions = demo(*SHEET, "--json").data["batches"][0]["cautions"]
    assert cautions
    assert all(demo(*SHEET).words.count(words) == 1 for words in cautions)
    assert all(demo(*SHEET, "--batch", "2").words.count(words) == 1 for words in cautions)


def test_the_template_is_the_outline_in_full_size_and_on_paper_to_scale(demo, tmp_path):
    """Read back as any drawing is: the same piece, within the tolerance of a drawing."""
    plan, _ = load_plan(demo_root() / "sessions" / "touring-skis" / "plan.toml")
    full, paper = tmp_path / "full.svg", tmp_path / "wall.html"
    asked = demo(*SHEET, "--template", str(full), "--html", str(paper), "--json").data
    drawn = shape(Outline(polyline_m=read_polyline_m(full, None)))
    stated = shape(plan.outline)
    assert drawn.area_m2 == pytest.approx(stated.area_m2, rel=2e-4)
    assert (drawn.length_m, drawn.widest_m) == pytest.approx((stated.length_m, stated.widest_m), rel=1e-5)
    page = paper.read_text(encoding="utf-8")
    assert "1:10, tip on the right" in page
    assert 'width="180.000mm"' in page, "1680 mm at 1:10 and 6 mm on either side"
    waist = next(each for each in asked["template"] if each["at_m"] == pytest.approx(0.86))
    assert (waist["left_m"], waist["right_m"]) == (0.046, 0.046)
    assert '<td class="number">860.0</td><td class="number">46.0</td><td class="number">46.0</td>' in page
    refused = demo(*SHEET, "--template", str(tmp_path / "full.pdf"))
    assert (refused.code, "ends in .svg" in refused.err) == (2, True)


def test_a_template_on_paper_covers_the_whole_piece_on_numbered_sheets_of_a4_and_letter(demo, tmp_path):
    """Sheets lying: A4 is 297 x 210 mm (ISO 216), letter 11 x 8.5 in (ANSI/ASME Y14.1, from memory); 10 mm margins."""
    full, sheets = tmp_path / "full.svg", tmp_path / "sheets.html"
    demo(*SHEET, "--template", str(full))
    demo(*SHEET, "--template", str(sheets))
    ((wide, high),) = re.findall(r'viewBox="0 0 ([0-9.]+) ([0-9.]+)"', full.read_text(encoding="utf-8"))
    page = sheets.read_text(encoding="utf-8")
    found = [tuple(map(float, each)) for each in re.findall(r'mm" viewBox="(\S+) (\S+) (\S+) (\S+)"', page)]
    assert max(x + w for x, _, w, _ in found) >= float(wide)
    assert max(y + h for _, y, _, h in found) >= float(high)
    starts = sorted({x for x, *_ in found})
    assert all(x + found[0][2] - after == pytest.approx(10.0) for x, after in pairwise(starts)), (
        "each overlaps the next"
    )
    assert all(w <= min(297.0, 279.4) - 20.0 and h <= min(210.0, 215.9) - 20.0 for *_, w, h in found)
    assert re.findall(r"sheet (\d+) of (\d+)", page) == [(f"{at}", f"{len(found)}") for at, _ in enumerate(found, 1)]
    assert len(found) == 8, "1692 mm in steps of 240"


def test_the_sheet_names_the_lots_in_stock_and_waits_for_what_is_to_buy(say, workshop):
    can = '[[can]]\nresin = "slow-laminating"\ncomponent = "{}"\nlot = "{}"\nmass = "{}"\n'
    (workshop / "stock.toml").write_text(can.format("resin", "A-17", "5 kg") + can.format("hardener", "H-22", "100 g"))
    out = " ".join(say(*SHEET).out.split())
    assert "Begin: WAIT" in out
    assert "WAIT: Buy 127 g hardener (100 g left)." in out
    assert "at hand, lot A-17, H-22 read on the cans; hardener cloudy" in out
    (workshop / "stock.toml").unlink()
    out = " ".join(say(*SHEET).out.split())
    assert "Begin: GO" in out
    assert "lot numbers written down" in out


def turn(workshop, **dials):
    """Turn dials of Stack over the sample plan, and leave the app."""
    desk = Planner(workshop, plan="touring-skis")
    desk.load()
    assert desk.change(replace(desk.settings, **dials)) == ""
    desk.keep()
    return desk.figures


def test_paper_and_app_plan_with_the_same_dials_and_the_paper_says_so(say, workshop):
    figures = turn(workshop, temperature_K=298.15, cans_K=292.15, people=3, cup_g=400.0)
    by_app = [batch.cup.empty_by_s for batch in figures.split.batches]
    head = "shop at 25 °C, cans at 19 °C, 3 at the bench"
    as_set = "as set on Stack: Shop 25 °C, People 3, Cup max 400 g, Cans 19 °C"
    sheet = say("sheet", "touring-skis", "--html", "sheet.html", "--json").data
    for empty_s, batch in zip(by_app, sheet["batches"], strict=True):
        assert f"+ {in_minutes(empty_s, '.0f')}" in batch["pencil"]
    assert all("cans at 19 °C" in batch["under"] for batch in sheet["batches"])
    for shown in (say("sheet", "touring-skis").words, " ".join(Page((workshop / "sheet.html").read_text()).text)):
        assert head in shown
        assert as_set in shown
    for command in ("plan", "choose"):
        assert as_set in say(command, "touring-skis").words
    for command in ("plan", "close"):
        assert say(command, "touring-skis").out.splitlines()[1] == as_set
    warm = say("warm", "touring-skis", "--from", "3 degC", "--to", "18 degC").out.splitlines()[1]
    assert warm == "as set on Stack: People 3, Cup max 400 g", "its own words say how warm shop and cans are"
    plan = say("plan", "touring-skis", "--json").data
    assert (plan["people"], plan["cans_K"]) == (3, 292.15)
    assert [batch["mass_g"] for batch in plan["batches"]] == [each.mass_g for each in figures.split.batches]


def test_words_go_before_dials_and_the_plans_file_is_asked_for_by_a_word(say, workshop):
    by_file = say("plan", "touring-skis").out
    turn(workshop, temperature_K=298.15, cans_K=292.15, people=3)
    told = say("plan", "touring-skis", "--temp", "21 degC").words
    assert "as set on Stack: People 3 " in told, "a temperature that was said is of shop, cans and part"
    assert say("plan", "touring-skis", "--no-dials").out == by_file
    assert "Stack" not in say("sheet", "touring-skis", "--no-dials").words


def test_the_cans_to_warm_are_those_of_the_resin_and_the_batches_that_the_dials_plan(say, workshop):
    warm = ("warm", "touring-skis", "--from", "3 degC", "--to", "18 degC", "--json")
    figures = turn(workshop, resin_id="dgeba-ipda")
    can = say(*warm).data["bodies"][0]
    assert can["name"] == "resin can"
    assert can["stored_J_K"] == pytest.approx(figures.budget.buy_resin_g * EPOXY_J_g_K, rel=0.1)
    assert say(*warm, "--no-dials").data["bodies"][0]["stored_J_K"] != pytest.approx(can["stored_J_K"], rel=0.01)


@pytest.mark.parametrize("spoilt", ["[{", '[{"people": 1}, 2]', None])
def test_dials_that_cannot_be_read_or_no_longer_suit_leave_the_plan_as_its_file_has_it(say, workshop, spoilt):
    by_file = say("plan", "touring-skis").out
    turn(workshop, resin_id="fast-laminating")
    (kept,) = workshop.glob(".drafts/dials-*")
    text = kept.read_text(encoding="utf-8")
    kept.write_text(spoilt or text.replace('"people": 2', '"people": "many"'), encoding="utf-8")
    assert say("plan", "touring-skis").out == by_file
    kept.write_text(text, encoding="utf-8")
    (workshop / "resins" / "fast-laminating.toml").unlink()
    assert say("plan", "touring-skis").out == by_file


def test_do_not_tare_is_never_broken_at_a_line_end(workshop, edit, monkeypatch, tmp_path):
    """Scales that show tenths, and a narrow console: the widest numbers in the fewest columns."""
    edit("sessions/touring-skis/plan.toml", 'readability = "1 g"', 'readability = "0.1 g"')
    for columns in (80, 60, 40):
        monkeypatch.setenv("COLUMNS", f"{columns}")
        lines = ask_in(workshop, *SHEET).out.splitlines()
        hardener = [line for line in lines if re.match(r" +\d +HARDENER ", line)]
        assert hardener
        assert all("DO NOT TARE" in line for line in hardener), columns
    ask_in(workshop, *SHEET, "--html", str(tmp_path / "wall.html"))
    page = (tmp_path / "wall.html").read_text(encoding="utf-8")
    assert re.search(r"\.pour \.tare \{[^}]*white-space: nowrap", page)


def test_a_column_of_which_nothing_is_known_is_left_out(workshop, edit):
    assert "roll  unused" in ask_in(workshop, *SHEET).out
    edit("sessions/touring-skis/plan.toml", "roll_width", "# roll_width")
    sheet = ask_in(workshop, *SHEET)
    assert sheet.code == 0
    (head,) = (line for line in sheet.out.splitlines() if "cut list" in line)
    assert head.split() == ["cut", "list", "pieces", "long", "wide"]
    casting = ask_in(workshop, *SHEET, "--casting").out
    assert "…" not in casting, "no number is cut"
    (head,) = (line for line in casting.splitlines() if "to, min" in line)
    assert head.split() == ["from", "to,", "min", "what", "mix"], "nobody shares a casting day's pours"


def test_the_sheet_says_who_a_and_b_are(demo, workshop, tmp_path):
    pair = "A weighs and mixes: ______________  B lays on meanwhile: ______________"
    ask_in(workshop, *SHEET, "--html", str(tmp_path / "wall.html"))
    page = (tmp_path / "wall.html").read_text(encoding="utf-8")
    for shown in (demo(*SHEET).out, page):
        assert shown.count(pair) == 1
        assert shown.index(pair) < shown.index("WEIGH BATCH 1"), "before A is read"
    assert "the others lay on meanwhile" in demo(*SHEET, "--people", "3").out
    assert "A weighs" not in demo(*SHEET, "--people", "1").out
