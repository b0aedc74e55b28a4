"""The page in a real browser: read at three sizes, a press day by taps alone, and what goes wrong on a network."""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from playwright.sync_api import Browser, Page, expect
from scripted_days import day_of

from layup.bench.doing import Question, do
from layup.bench.view import bench_view
from layup.session.batch_events import Demoulded, PressClosed

SIZES = {
    "phone": (390, 844),
    "small phone": (390, 667),
    "tablet": (820, 1180),
    "lying tablet": (1024, 768),
    "desktop": (1280, 800),
}
HOSTILE = "<b>1</b>&amp;"


@contextmanager
def page_of(browser: Browser, shown, size: str = "phone", scheme: str = "light") -> Iterator[Page]:
    """Return the page of a day, once it shows its act; what goes wrong in it fails the test."""
    width, height = SIZES[size]
    page = browser.new_page(viewport={"width": width, "height": height}, color_scheme=scheme)
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.clock.install()
    page.goto(shown.address)
    expect(page.locator("#act-words")).not_to_be_empty()
    yield page
    page.close()
    assert wrong == []


def drawn_long_enough(page: Page) -> None:
    """Let the page believe that a second has passed since the act was drawn."""
    page.clock.run_for(1300)


def until(page: Page, true: Callable[[], object]) -> None:
    """Wait until something holds, with patience that no slow machine wears out."""
    for _ in range(1000):
        if true():
            return
        page.wait_for_timeout(10)
    raise AssertionError("it never came to be")


def do_the_act(page: Page, shown, button: str = "#do") -> None:
    """Tap a button, the big one unless it is said, and answer what it asks."""
    before = shown.do(lambda: shown.day.state.seq)
    drawn_long_enough(page)
    expect(page.locator(button)).to_be_enabled()
    page.locator(button).click()
    logged = False

    def came() -> bool:
        nonlocal logged
        logged = shown.do(lambda: shown.day.state.seq) != before
        return logged or page.locator("#ask").is_visible()

    until(page, came)
    if not logged:
        page.locator("#ask-choices button").first.click()
        until(page, lambda: shown.do(lambda: shown.day.state.seq) != before)


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_everything_is_on_the_page_and_nothing_is_cut_at_three_sizes(browser, shown, size, scheme):
    shown.do(lambda: shown.day.read_scale(1, "281"))
    shown.do(lambda: shown.day.hardener_in(1))
    shown.later(1500.0)
    with page_of(browser, shown, size, scheme) as page:
        drawn_long_enough(page)
        width = SIZES[size][0]
        assert page.evaluate("document.documentElement.scrollWidth") <= width
        for name in ("#do", "#seen", "#beside"):
            box = page.locator(name).bounding_box()
            if box is not None:
                assert box["height"] >= (60 if size == "small phone" else 88)
                assert box["x"] + box["width"] <= width
        digits = page.locator("#cup-digits")
        assert re.fullmatch(r"\+?\d+( min|:\d\d)", digits.inner_text().replace("\n", ""))
        assert float(digits.evaluate("e => parseFloat(getComputedStyle(e).fontSize)")) >= 72
        assert digits.evaluate("e => e.scrollWidth <= e.clientWidth")
        expect(page.locator("#cup-foot")).to_contain_text("empty by")
        expect(page.locator("#press")).to_contain_text("estimate")
        assert page.locator("#cup-fan .band").bounding_box()["width"] > 0
        act = shown.do(lambda: bench_view(shown.day).act)
        assert page.locator("#act-words").inner_text().endswith(act.words)


@pytest.mark.parametrize("size", ["phone", "small phone", "lying tablet"])
def test_three_cups_what_came_of_a_tap_and_a_pressure_fit_with_no_button_cut(browser, shown, size):
    shown.day = day_of(2, 28.0)

    def mix_all() -> None:
        while (batch := shown.day.next_to_mix()) is not None:
            for take in (shown.day.read_scale, shown.day.hardener_in, shown.day.read_scale):
                take(batch.number, *([""] if take == shown.day.read_scale else []))

    def close() -> None:
        for batch in shown.day.in_cup():
            assert shown.day.poured_out(batch.number).done
        while shown.day.state.step_now is not None:
            assert shown.day.step_done().done
        do(shown.day, bench_view(shown.day).act, True)

    with page_of(browser, shown, size) as page:
        shown.do(mix_all)
        expect(page.locator("#others .card")).to_have_count(2)
        expect(page.locator("#do")).to_be_hidden()  # it is stirred: that only takes time
        expect(page.locator("#act-by")).to_contain_text("by ")
        page.locator("#looks").click()
        box = page.locator("#ask-choices button", has_text="thickening")
        assert box.evaluate("e => e.scrollWidth <= e.clientWidth && e.scrollHeight <= e.clientHeight")
        assert (
            box.evaluate(
                "e => { const r = document.createRange(); r.selectNodeContents(e); return r.getClientRects().length; }"
            )
            == 1
        ), "no word is split"
        page.locator("#ask-choices button", has_text="BACK").click()
        shown.later(200.0)
        expect(page.locator("#do")).to_be_visible()
        page.locator("#temperature").click()
        page.locator("#ask-choices button").nth(2).click()
        expect(page.locator("#said")).to_contain_text("every countdown follows it")
        foot = page.locator("footer").bounding_box()
        assert page.locator("#press").evaluate("e => e.closest('footer') !== null"), "nothing that is said covers it"
        for one in page.locator("button:visible, #said, #press").all():
            box, footed = one.bounding_box(), one.evaluate("e => e.closest('footer') !== null")
            assert box["y"] >= 0.0
            assert box["y"] + box["height"] <= (SIZES[size][1] if footed else foot["y"])
            assert one.evaluate("e => e.scrollWidth <= e.clientWidth")
        shown.do(close)
        number = page.locator("#act-number")
        expect(number).to_contain_text("kPa")
        assert number.evaluate("e => e.scrollWidth <= e.clientWidth")


def test_a_press_day_by_taps_alone_logs_what_the_same_day_by_keys_logs(browser, shown):
    """Each act as it comes, by the big button, the one beside where the other one works, and the first answer."""
    keys = day_of()
    with page_of(browser, shown) as page:
        for _ in range(120):
            view = shown.do(lambda: bench_view(shown.day))
            if view.act.kind in ("leave closed", "over"):
                break
            if view.act.kind in ("stir", "wait"):
                other = next((act for act in view.others if act.kind == "step"), None)
                if other is None:
                    shown.later(60.0)
                    keys.clock.advance(60.0)
                    continue
                do_the_act(page, shown, "#beside")
                mirror(keys, other)
                shown.later(60.0)
                keys.clock.advance(60.0)
                continue
            expect(page.locator("#act-words")).to_contain_text(view.act.words)
            do_the_act(page, shown)
            mirror(keys, view.act)
            shown.later(30.0)
            keys.clock.advance(30.0)
        assert view.act.kind == "leave closed"
    said = [record.event for record in shown.day.state.records]
    assert said == [record.event for record in keys.state.records]
    assert said.count("step-done") == len(shown.day.state.steps)
    assert said.count("press-closed") == 1
    assert said[-1] in ("tightened", "retightened")
    assert shown.day.state.closed_s == pytest.approx(keys.state.closed_s)


def mirror(day, drawn) -> None:
    """Do the same act as a key does, with the answers that the test's taps give."""
    view = bench_view(day)
    acts = (view.act, *view.others)
    act = next(each for each in acts if each.is_same_as == drawn.is_same_as)
    found = do(day, act)
    if isinstance(found, Question):
        first = {"scale": "", "looks": "runny", "clock": True, "replan": False, "laid": found.usual_g}
        do(day, act, first.get(found.kind, True))


def test_what_is_done_on_the_laptop_or_on_another_tablet_is_seen(browser, shown):
    with page_of(browser, shown) as one, page_of(browser, shown, "tablet") as two:
        shown.do(lambda: shown.day.read_scale(1, "281"))
        for page in (one, two):
            expect(page.locator("#act-words")).to_contain_text("POUR HARDENER")
        do_the_act(one, shown)
        expect(two.locator("#cup-name")).to_contain_text("CUP 1")


def test_nothing_of_a_day_is_left_once_none_runs(browser, shown):
    with page_of(browser, shown) as page:
        do_the_act(page, shown)
        expect(page.locator("#press")).to_contain_text("PRESS BY")
        shown.do(lambda: setattr(shown, "day", None))
        expect(page.locator("#act-words")).to_have_text("NO PRESS DAY RUNS")
        assert page.locator("main").inner_text().split("\n\n") == [
            "NO PRESS DAY RUNS",
            "Begin it on the bench computer.",
        ]
        expect(page.locator("#press")).to_be_empty()


def test_an_act_is_not_done_before_it_has_been_drawn_for_a_second(browser, shown):
    with page_of(browser, shown) as page:
        expect(page.locator("#do")).to_be_disabled()
        drawn_long_enough(page)
        expect(page.locator("#do")).to_be_enabled()


def test_old_data_say_so_and_the_page_comes_back_by_itself(browser, shown):
    with page_of(browser, shown) as page:
        expect(page.locator("#old")).to_be_hidden()
        shown.down()
        page.clock.run_for(10_000)
        expect(page.locator("#old")).to_contain_text("last seen")
        shown.do(lambda: shown.day.read_scale(1, "281"))
        shown.up()
        page.clock.resume()
        expect(page.locator("#act-words")).to_contain_text("POUR HARDENER", timeout=20_000)
        expect(page.locator("#old")).to_be_hidden()


def test_what_was_not_sent_looks_like_an_alarm_and_stays_until_something_was(browser, shown):
    shown.do(lambda: shown.day.read_scale(1, "281"))
    with page_of(browser, shown) as page:
        shown.down()
        drawn_long_enough(page)
        page.locator("#undo").click()
        said = page.locator("#said")
        expect(said).to_contain_text("NOT SENT")
        page.clock.run_for(60_000)
        expect(said).to_contain_text("NOT SENT")
        dark = page.locator("#do").evaluate("e => getComputedStyle(e).backgroundColor")
        assert said.evaluate("e => getComputedStyle(e).backgroundColor") == dark
        shown.up()
        page.clock.resume()
        until(page, lambda: page.locator("#old").is_hidden())
        page.locator("#undo").click()
        expect(said).not_to_contain_text("NOT SENT", timeout=20_000)


def test_the_button_says_what_the_scale_is_to_show_and_an_empty_field_is_no_reading(browser, shown):
    with page_of(browser, shown) as page:
        expect(page.locator("#act-number")).to_contain_text("SCALE TO")
        expect(page.locator("#act-how")).to_have_text("TARE CUP, resin first")
        drawn_long_enough(page)
        page.locator("#do").click()
        page.locator("#ask-choices button", has_text="AS TYPED").click()
        expect(page.locator("#said")).to_contain_text("is empty")
        page.locator("#do").click()
        page.locator("#ask-entry").fill("400")
        page.locator("#ask-choices button", has_text="AS TYPED").click()
        expect(page.locator("#ask-title")).to_contain_text("typed right?")
        assert shown.do(lambda: shown.day.readings(1).poured_g) == ()
        page.locator("#ask-choices button", has_text="YES").click()
        until(page, lambda: shown.do(lambda: shown.day.readings(1).poured_g) == (400.0,))
        number = page.locator("#act-number")
        expect(page.locator("#do")).to_contain_text("DO NOT TARE")
        assert number.evaluate("e => e.scrollWidth <= e.clientWidth")


def test_looks_and_temperature_are_two_taps(browser, shown):
    shown.do(lambda: shown.day.read_scale(1, "281"))
    shown.do(lambda: shown.day.hardener_in(1))
    with page_of(browser, shown) as page:
        drawn_long_enough(page)
        page.locator("#looks").click()
        page.locator("#ask-choices button", has_text="runny").click()
        expect(page.locator("#cup-name")).to_contain_text("runny")
        page.locator("#temperature").click()
        page.locator("#ask-choices button", has_text="21.0").click()
        expect(page.locator("#said")).to_contain_text("21.0")
        page.locator("#undo").click()
        expect(page.locator("#said")).to_contain_text("taken back")


def test_who_came_and_the_rest_planned_anew_are_two_taps_each(browser, shown):
    shown.do(lambda: (shown.day.read_scale(1, "281"), shown.day.hardener_in(1)))
    with page_of(browser, shown, "small phone") as page:

        def tap(*words: str) -> None:
            for each in words:
                page.locator("#ask-choices button", has_text=each).first.click()
                page.wait_for_timeout(50)

        page.locator("#more").click()
        tap("SOMEBODY LEFT")
        expect(page.locator("#ask-title")).to_contain_text("Somebody left: 1 at the bench")
        tap("YES")
        until(page, lambda: shown.do(lambda: shown.day.state.people) == 1)
        shown.do(lambda: shown.day.lost(shown.day.state.batch(1), "spilt", 0.0))
        page.locator("#more").click()
        tap("REPLAN")
        expect(page.locator("#ask-title")).to_contain_text("batch 1 lost")
        tap("mix ")
        expect(page.locator("#ask-title")).to_contain_text("closes")
        tap("YES")
        until(page, lambda: shown.do(lambda: shown.day.state.records[-1].event) == "replanned")
        page.locator("#undo").click()
        expect(page.locator("#said")).to_contain_text("taken back")


def test_undo_of_what_the_laptop_logged_is_asked_first(browser, shown):
    with page_of(browser, shown) as page:
        shown.do(lambda: shown.day.read_scale(1, "281"))
        expect(page.locator("#act-words")).to_contain_text("POUR HARDENER")
        expect(page.locator("#seen")).to_be_hidden()  # there is nothing to see
        page.locator("#undo").click()
        expect(page.locator("#ask-title")).to_contain_text("from the bench computer?")
        page.locator("#ask-choices button", has_text="BACK").click()
        assert shown.do(lambda: shown.day.state.records[-1].event) != "undone"


def test_hostile_words_stay_words(browser, shown):
    """What somebody types comes back from the server in its complaint, and is shown as it was typed."""
    with page_of(browser, shown) as page:
        drawn_long_enough(page)
        page.locator("#do").click()
        page.locator("#ask-entry").fill(HOSTILE)
        page.locator("#ask-choices button", has_text="AS TYPED").click()
        expect(page.locator("#said")).to_contain_text(HOSTILE)
        assert page.locator("#said b, img").count() == 0


@pytest.mark.parametrize("shown", ["viewer"], indirect=True)
def test_a_device_that_only_looks_on_has_no_button_that_works(browser, shown):
    with page_of(browser, shown) as page:
        drawn_long_enough(page)
        for name in ("#do", "#beside", "#seen", "#looks", "#temperature", "#undo"):
            expect(page.locator(name)).to_be_hidden()
        page.locator("#more").click()
        assert page.locator("#ask-choices button").all_inner_texts() == ["TURN SOUND ON", "BACK"]


def test_a_note_is_typed_with_letters_and_met_again_at_the_step_that_it_is_about(browser, shown):
    shown.do(lambda: (shown.day.read_scale(1, "281"), shown.day.hardener_in(1)))
    with page_of(browser, shown, "small phone") as page:
        page.locator("#more").click()
        for one in page.locator("#ask-choices button").all():
            assert one.evaluate("e => e.scrollWidth <= e.clientWidth && e.scrollHeight <= e.clientHeight")
        page.locator("#ask-choices button", has_text="NOTE").click()
        entry = page.locator("#ask-entry")
        expect(entry).to_be_focused()
        assert entry.get_attribute("inputmode") == "text"
        entry.fill(f"{HOSTILE} the left edge wants more mix")
        page.locator("#ask-choices button", has_text="KEEP IT").click()
        page.locator("#ask-choices button", has_text="yes: at").click()
        until(page, lambda: shown.do(lambda: shown.day.state.carried))
        assert shown.do(lambda: shown.day.state.notes[-1].text) == f"{HOSTILE} the left edge wants more mix"
        page.locator("#more").click()
        assert entry.is_hidden()


def test_the_words_of_an_outcome_are_whole_on_the_smallest_phone_and_none_opens_the_keyboard(browser, shown):
    for event in (PressClosed(), Demoulded()):
        shown.do(lambda event=event: shown.day.log(event, ""))
    with page_of(browser, shown, "small phone") as page:
        for taps in (("#more", "HOW IT"), ("#temperature", "BACK")):
            page.locator(taps[0]).click()
            buttons = page.locator("#ask-choices button")
            buttons.filter(has_text=taps[1]).click(trial=True)
            if taps[1] != "BACK":
                buttons.filter(has_text=taps[1]).click()
                expect(page.locator("#ask-title")).to_have_text("How it turned out")
            for one in buttons.all():
                assert one.evaluate("e => e.scrollWidth <= e.clientWidth && e.scrollHeight <= e.clientHeight")
            expect(page.locator("#ask-entry")).not_to_be_focused()
            buttons.last.click()
        page.locator("#temperature").click()
        page.locator("#ask-entry").fill("12,5")
        page.locator("#ask-choices button", has_text="AS TYPED").click()
        expect(page.locator("#said")).to_contain_text("12.5")
