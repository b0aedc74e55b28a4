"""A session on paper and for other programs: whole, harmless, and the same facts in every format."""

import csv
import io
import json
import re
from html.parser import HTMLParser
from pathlib import Path
from xml.etree import ElementTree

import pytest
from session_examples import mixed, stamped, start
from simulate.demo_days import SESSIONS

from layup.files.workshop import Workshop, demo_root
from layup.report.charts import (
    AxisScale,
    Chart,
    Heading,
    Paragraph,
    Points,
    Space,
    Table,
    cure_chart,
    day_picture,
    spare_of,
    thinned,
    time_ticks_s,
)
from layup.report.hindsight import hindsight
from layup.report.render import CSV_HEAD, FORMULA_STARTS, csv_text, html, json_lines, markdown, plain, safe_cell
from layup.report.report_blocks import report_blocks
from layup.review.review import Review, review, verdict_line
from layup.session.archive import StoredSession, stored_session
from layup.session.batch_events import BatchLost
from layup.session.clock import ManualClock
from layup.session.day_events import LotRecorded, Note, TemperatureRead, Undone
from layup.session.fields import StepPlan
from layup.session.records import fold
from layup.session.state import Event, Outcome

EVIL = '<script>alert("x")</script><img src=x onerror=alert(1)> & "quoted" \'single\' | pipe ` tick _low_ **bold** [a](http://x)'


@pytest.fixture(scope="module")
def failed() -> Review:
    return review(stored_session(SESSIONS / "2026-03-07-touring-skis-168"))


def evil() -> Review:
    """Return a session whose every text tries to be markup, or a formula."""
    begun = start().model_copy(
        update={"title": EVIL, "steps": (StepPlan(step=1, name=EVIL, kind="fabric", planned_s=60.0),)}
    )
    events: list[Event] = [
        begun,
        mixed(1),
        BatchLost(batch=1, why=EVIL),
        Note(text=f"=HYPERLINK(1)\n{EVIL}\n- item\n1. one\n# head\n==="),
        LotRecorded(component="resin", lot="@SUM(A1)"),
        Outcome(tags=(EVIL, "tacky"), notes=f"+1+1\n{EVIL}"),
    ]
    shop = Workshop(demo_root())
    kept = StoredSession(
        Path(f"2026-{EVIL}"), fold(stamped(events)), shop.plan("touring-skis"), shop.resin("slow-laminating"), ()
    )
    return review(kept)


class Page(HTMLParser):
    """What a page holds: its tags in order, the attributes that fetch something, and its text."""

    VOID = frozenset({"meta", "br", "rect", "polyline", "line"})

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[str] = []
        self.fetches: list[str] = []
        self.words: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.fetches += [f"{name}={value}" for name, value in attrs if name in ("src", "href", "action", "data")]
        self.fetches += [f"{name}" for name, _ in attrs if name.startswith("on")]
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, _attrs):
        self.tags.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.words.append(data)


def test_a_page_needs_nothing_from_elsewhere_and_runs_nothing(failed: Review) -> None:
    text = html("t", report_blocks(failed))
    page = Page(text)
    assert page.open == []
    assert page.fetches == []
    assert not {"script", "link", "img", "iframe", "object", "base"} & set(page.tags)
    assert "default-src 'none'" in text
    assert not re.search(r"url\((?!#)|@import|https?://(?!www\.w3\.org/2000/svg)", text)


def test_a_page_prints_on_any_paper_without_a_size_of_its_own(failed: Review) -> None:
    text = html("t", report_blocks(failed))
    assert "@page { margin: 12mm; }" in text
    assert not re.search(r"size:\s*(a4|letter)", text, re.IGNORECASE)
    assert "break-inside: avoid" in text
    assert '<html lang="en">' in text
    assert text.count("<h1>") == 1


def test_a_page_holds_the_verdict_the_findings_with_evidence_the_day_and_the_log(failed: Review) -> None:
    words = " ".join(Page(html("t", report_blocks(failed))).words)
    for finding in failed.findings:
        assert finding.words in words
        assert finding.change in words
        assert all(f"entry {one.seq} at" in words for one in finding.evidence)
    for step in failed.stored.state.steps:
        assert step.plan.name in words
    assert words.count("batch 1 looks thickening") >= 2
    assert "As built" in words


def test_every_chart_is_well_formed_and_named_and_told_in_words(failed: Review) -> None:
    charts = [block for block in report_blocks(failed) if isinstance(block, Chart)]
    assert len(charts) == 2
    for chart in charts:
        root = ElementTree.fromstring(chart.svg)
        assert root.attrib["role"] == "img"
        assert root[0].tag.endswith("title")
        assert root[0].text
        assert len(chart.words) > 20
        box = [float(number) for number in root.attrib["viewBox"].split()]
        for element in root.iter():
            for name, most in (("x", box[2]), ("y", box[3])):
                if name in element.attrib and element.tag.endswith(("rect", "text")):
                    assert -1.0 <= float(element.attrib[name]) <= most + 1.0


def test_charts_are_drawn_in_greys_and_textures_only(failed: Review) -> None:
    for chart in (block for block in report_blocks(failed) if isinstance(block, Chart)):
        for colour in re.findall(r"#([0-9a-f]{3})\b", chart.svg):
            assert len(set(colour)) == 1, colour


def test_text_from_outside_stays_text_in_a_page() -> None:
    text = html(EVIL, report_blocks(evil()))
    page = Page(text)
    assert page.open == []
    assert page.fetches == []
    assert "script" not in page.tags
    assert "img" not in page.tags
    assert 'alert("x")' in "".join(page.words)


def test_text_from_outside_stays_text_in_markdown() -> None:
    lines = markdown(report_blocks(evil())).splitlines()
    assert not [line for line in lines if re.search(r"(?<!\\)<script|(?<!\\)\[a\]|(?<!\\)`", line)]
    assert sum(line.startswith("# ") for line in lines) == 1
    table = [line for line in lines if line.startswith("| 4 |")]
    assert [len(re.findall(r"(?<!\\)\|", line)) for line in table] == [5]


@pytest.mark.parametrize(
    ("text", "safe"),
    [
        ("2.7 min", "2.7 min"),
        ("1. one", r"1\. one"),
        ("- item", r"\- item"),
        ("-3 K", "-3 K"),
        ("===", r"\==="),
        ("a_b*c", r"a\_b\*c"),
        ("later\n+ plus", "later\n\\+ plus"),
    ],
)
def test_markdown_s_own_marks_are_made_harmless_and_nothing_else(text: str, safe: str) -> None:
    assert plain(text) == safe


def test_markdown_tells_what_the_page_tells(failed: Review) -> None:
    text = markdown(report_blocks(failed)).replace("\\", "")
    for finding in failed.findings:
        assert finding.words in text
        assert finding.change in text


def test_a_csv_has_one_row_an_event_and_the_session_s_own_values(failed: Review) -> None:
    text = csv_text(failed)
    assert text.startswith("\ufeff")
    rows = list(csv.DictReader(io.StringIO(text.removeprefix("\ufeff"))))
    records = failed.stored.state.records
    assert tuple(rows[0]) == CSV_HEAD
    assert [int(row["seq"]) for row in rows] == [record.seq for record in records]
    assert [float(row["elapsed_s"]) for row in rows] == [record.elapsed_s for record in records]
    assert [row["event"] for row in rows] == [record.event for record in records]


def test_no_cell_of_a_csv_is_taken_for_a_formula() -> None:
    rows = list(csv.reader(io.StringIO(csv_text(evil()).removeprefix("\ufeff"))))
    for row in rows[1:]:
        for cell in row:
            assert not cell.startswith(FORMULA_STARTS)
    assert len(rows) == 7


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "  =1", "＝1"])
def test_a_cell_that_looks_like_a_formula_gets_an_apostrophe(text: str) -> None:
    assert safe_cell(text) == f"'{text}"


@pytest.mark.parametrize("text", ["1 g", "a=b", "", "12-3", "'x"])
def test_a_cell_that_does_not_look_like_one_stays(text: str) -> None:
    assert safe_cell(text) == text


def test_json_lines_hold_everything_by_kind(failed: Review) -> None:
    lines = [json.loads(line) for line in json_lines(failed).splitlines()]
    kinds = [line["kind"] for line in lines]
    assert kinds[0] == "session"
    assert kinds.count("event") == len(failed.stored.state.records)
    assert kinds.count("finding") == len(failed.findings)
    assert kinds.count("batch") == 2
    assert kinds.count("step") == 12
    assert kinds.count("as-built") == 1
    assert {line["session"] for line in lines} == {failed.stored.name}
    first = next(line for line in lines if line["kind"] == "finding")
    assert (first["rank"], first["cause"]) == (1, "past thickening")
    assert first["evidence"][0]["seq"] == failed.findings[0].evidence[0].seq


def test_what_was_taken_back_is_marked_in_every_format() -> None:
    events: list[Event] = [start(), TemperatureRead(place="air", temperature_K=300.0), Undone(undone_seq=2)]
    shop = Workshop(demo_root())
    kept = StoredSession(Path("s"), fold(stamped(events)), shop.plan("touring-skis"), shop.resin("slow-laminating"), ())
    found = review(kept)
    assert "taken back" in html("t", report_blocks(found))
    assert "taken back" in markdown(report_blocks(found))
    rows = list(csv.DictReader(io.StringIO(csv_text(found).removeprefix("\ufeff"))))
    assert [row["taken_back"] for row in rows] == ["no", "yes", "no"]
    lines = [json.loads(line) for line in json_lines(found).splitlines()]
    assert [line["taken_back"] for line in lines if line["kind"] == "event"] == [False, True, False]


def test_a_session_without_anything_mixed_or_read_still_makes_a_report() -> None:
    shop = Workshop(demo_root())
    state = fold(stamped([start()]))
    for plan, sheet in ((shop.plan("touring-skis"), shop.resin("slow-laminating")), (None, None)):
        found = review(StoredSession(Path("s"), state, plan, sheet, ()))
        assert Page(html("t", report_blocks(found))).open == []
        assert json_lines(found)
    assert cure_chart(state) is None
    day = review(StoredSession(Path("s"), state, shop.plan("touring-skis"), shop.resin("slow-laminating"), ())).track
    assert day is not None
    assert "spare" not in day_picture(day, state).words


def test_a_report_leads_with_verdict_cause_a_place_for_a_photo_and_the_day_on_one_axis(failed: Review) -> None:
    blocks = [*report_blocks(failed)]
    kinds = [type(block) for block in blocks]
    texts = [block.text for block in blocks if isinstance(block, Paragraph)]
    assert texts[1] == verdict_line(failed)
    assert texts[2].startswith(f"Cause ({failed.findings[0].certainty}): {failed.findings[0].cause}")
    assert kinds.index(Space) < kinds.index(Chart) < next(i for i, kind in enumerate(kinds[1:], 1) if kind is Heading)
    (day, *_) = (block for block in blocks if isinstance(block, Chart))
    ticks = [element for element in ElementTree.fromstring(day.svg).iter() if (element.text or "").endswith(" min")]
    places = {float(tick.attrib["y"]) for tick in ticks if tick.attrib["text-anchor"] == "middle"}
    assert len(places) == 1, "one axis of time for steps, batches, spare time and temperatures"
    assert all(words in day.svg for words in ("Batch 1", "time to spare", "mould"))


def test_blocks_become_what_they_are() -> None:
    blocks = (
        Heading("H", 2),
        Paragraph("p"),
        Points(("a", "b"), numbered=True),
        Table(("x", "y"), (("1", "2"),), frozenset({"y"})),
    )
    assert "<ol><li>a</li><li>b</li></ol>" in html("t", blocks)
    assert markdown(blocks) == "## H\n\np\n\n1. a\n2. b\n\n| x | y |\n| --- | ---: |\n| 1 | 2 |\n"


def test_a_scale_stays_within_its_chart_and_many_points_keep_their_extremes() -> None:
    scale = AxisScale(0.0, 10.0, 100.0, 200.0)
    assert [scale(value) for value in (-5.0, 0.0, 5.0, 10.0, 99.0)] == [100.0, 100.0, 150.0, 200.0, 200.0]
    points = [(float(i), 290.0 + (7.0 if i == 4321 else 0.0)) for i in range(10_000)]
    few = thinned(points)
    assert len(few) <= 500
    assert (4321.0, 297.0) in few
    assert (few[0], few[-1]) == (points[0], points[-1])
    assert [x for x, _ in few] == sorted(x for x, _ in few)


@pytest.mark.parametrize(
    ("end_s", "words"), [(600.0, "10 min"), (7200.0, "120 min"), (86_400.0, "24 h"), (1e6, "240 h")]
)
def test_an_axis_of_time_has_round_marks_and_not_too_many(end_s: float, words: str) -> None:
    ticks = time_ticks_s(0.0, end_s)
    assert 3 <= len(ticks) <= 14
    assert words in [text for _, text in ticks]


def test_the_minute_that_decided_and_the_changed_days_are_drawn_on_the_axis_of_the_day(failed: Review) -> None:
    clock, shop = ManualClock(), Workshop(demo_root())
    seen = hindsight(failed, shop, clock)
    assert seen.decided is not None
    assert seen.changed is not None
    (day, *_) = (block for block in report_blocks(failed, seen) if isinstance(block, Chart))
    drawn = list(ElementTree.fromstring(day.svg).iter())
    texts = [one for one in drawn if one.tag.endswith("text")]
    (mark,) = [one for one in texts if one.text == "✗ decided"]
    ticks = {one.text: float(one.attrib["x"]) for one in texts if one.attrib["text-anchor"] == "middle"}
    per_s = (ticks["60 min"] - ticks["0 min"]) / 3600.0
    assert float(mark.attrib["x"]) == pytest.approx(ticks["0 min"] + per_s * seen.decided.at_s, abs=0.2)
    first = seen.changed.rows[0]
    row = next(one for one in texts if (one.text or "").startswith(f"→ {first.words}"))
    y = float(row.attrib["y"]) - 6.0
    cups = [one for one in drawn if one.tag.endswith("rect") and float(one.attrib["y"]) == pytest.approx(y, abs=0.2)]
    begins = [ticks["0 min"] + per_s * begin_s for begin_s, _ in first.cups]
    assert [float(one.attrib["x"]) for one in cups] == pytest.approx(begins, abs=0.2)
    assert spare_of(first.spare_s) in [one.text for one in texts]


def test_a_day_that_is_looked_at_again_was_decided_at_the_same_clock(failed: Review):
    """What decided it is kept; by which clock is asked of the day as it stood then, wherever its replay stands."""
    first, again = (hindsight(failed, Workshop(demo_root()), ManualClock()) for _ in range(2))
    assert first.decided is not None
    assert again == first
