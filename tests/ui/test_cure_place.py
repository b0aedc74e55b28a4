"""Press & cure: how to close, and once closed how far the part has cured and when it may come out."""

import json
import re
from pathlib import Path

import numpy as np
import pytest
from app_driver import at_each, begin_day, come, press, running, said, settled, words
from app_driver import workshop as make_workshop
from cure_by_scipy import scipy_demould_s
from gallery import text_in

from layup.app.shell import BigDigits
from layup.chemistry.demould import setting_of
from layup.files.durable import JOURNAL
from layup.session.batch_events import BatchMixed, BatchPouredOut, PressClosed, StepDone
from layup.session.clock import ManualClock
from layup.session.day_events import TemperatureRead

HOUR = 3600.0


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return make_workshop(tmp_path)


def journal(shop: Path) -> list[dict[str, object]]:
    (path,) = shop.glob(f"sessions/*/{JOURNAL}")
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


async def closed(app, pilot, clock: ManualClock) -> None:
    """Bring a day to its closed press."""
    await begin_day(app, pilot)
    day = app.day
    for batch in list(day.state.batches):
        resin_g, hardener_g = batch.plan.resin_g, batch.plan.hardener_g
        day.log(BatchMixed(batch=batch.number, resin_g=resin_g, hardener_g=hardener_g, start_K=293.15), "")
        clock.advance(600)
        day.log(BatchPouredOut(batch=batch.number), "")
    for step in list(day.state.steps):
        clock.advance(60)
        day.log(StepDone(step=step.number), "")
    day.log(PressClosed(), "")
    await press(app, pilot, "p")


async def wait(app, pilot, clock: ManualClock, hours: float) -> None:
    clock.advance(hours * HOUR)
    app.tick()
    await settled(app, pilot)


def body(app) -> str:
    return words(app, "#cure-body")


async def test_before_closing_it_says_pressure_checks_and_what_to_mind(shop):
    async with running(shop) as (app, pilot):
        await press(app, pilot, "p")
        plan = app.planner.plan
        assert words(app, "#cure-title") == "CLOSE THE PRESS"
        assert app.query_one("#cure-clock", BigDigits).value == "100"
        beside = words(app, "#cure-now")
        assert beside.startswith(f"kPa {plan.closing.method}")
        assert "17.1 kN a piece, 0.17 m²" in beside
        assert "[ ] Press tried" in body(app)
        assert "A bladder is a pressure vessel" in body(app)
        assert any("Bladder held 100 kPa" in line for line in app.place.details()), "in full where all else is"
        await press(app, pilot, "i", "end", "enter", "escape")
        assert "[x] Resin way out" in body(app)


async def test_clamps_show_their_row_and_their_order(shop):
    path = shop / "sessions" / "touring-skis" / "plan.toml"
    path.write_text(
        path.read_text(encoding="utf-8").replace('method = "bladder"', 'method = "clamps"'), encoding="utf-8"
    )
    async with running(shop) as (app, pilot):
        await press(app, pilot, "p")
        text = " ".join(body(app).split())
        row = re.search(r"(\d+) clamps over each piece, \d+ mm apart, .* ([0-9.]+) kN a clamp;", text)
        assert row is not None
        assert int(row[1]) * float(row[2]) == pytest.approx(17.1, abs=0.05 * int(row[1]))
        assert "order " in text
        assert "of the pressure at the worst place" in text
        assert "Clamps hold energy" in text


async def test_a_pressure_that_no_cloth_is_known_for_is_said_and_the_rest_still_shown(shop):
    path = shop / "sessions" / "touring-skis" / "plan.toml"
    text = path.read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith("target_pressure"))
    path.write_text(text.replace(line, 'target_pressure = "3 MPa"'), encoding="utf-8")
    async with running(shop) as (app, pilot):
        await press(app, pilot, "p")
        assert "! pressure" in body(app)
        assert "A bladder is a pressure vessel" in body(app)


async def test_the_big_figure_is_when_the_part_may_come_out_and_the_picture_has_now_band_resin_and_mould(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await closed(app, pilot, clock)
        out_s = app.day.state.closed_s + app.place.cure.night.ready.out_s.likely
        moment = app.day.moment(out_s)
        assert app.query_one("#cure-clock", BigDigits).value == f"{moment:%H:%M}"
        assert words(app, "#cure-out") == f"OUT ≈ {moment:%a %H:%M} (estimate)"
        (day, low), (same, high) = (app.day.clock_time(app.day.out_s[edge]).split() for edge in (0, 2))
        assert day == same, "the day stands once"
        assert words(app, "#cure-now").startswith(f"{day} {low} - {high}\n")
        assert text_in(app, app.screen.region).count("estimate") == 1
        text = body(app)
        rows = [line[7:] for line in text[text.index("⠒⠒ Tg") :].splitlines()[1:]]
        resin = [line for line in rows if any("\u2800" < cell <= "\u28ff" for cell in line)]
        mould = [line for line in rows if "╌" in line]
        assert len(resin) >= 3, "where it softens rises"
        assert len(mould) == 1, "the mould stays"
        assert mould[0].count("╌") > 50, "two lines of unlike marks"
        assert "╌╌ mould" in text
        await wait(app, pilot, clock, 6)
        out, resin, axis = body(app).splitlines()[:3]
        cells, ready, end_s = len(out) - 7, app.place.cure.night.ready, app.place.cure.course.end.time_s
        assert out.startswith("out    █")
        assert out.count("█") == pytest.approx(cells * 6 * HOUR / end_s, abs=1.0)
        assert out.index("▓") - 7 == pytest.approx(cells * ready.out_s.low / end_s, abs=1.0)
        assert out.index("┃") - 7 == pytest.approx(cells * ready.out_s.likely / end_s, abs=1.0)
        assert re.fullmatch(r"(liquid )?░*(soft )?▒*hard ▓+ *", resin.removeprefix("resin  "))
        assert "Sun" in axis
        assert axis.endswith(" h")
        assert all(len(line) <= app.size.width for line in body(app).splitlines())


@pytest.mark.parametrize("stated", [True, False], ids=["maker's time", "glass alone"])
async def test_the_earliest_demoulding_by_the_logged_mould_agrees_with_scipy(shop, stated):
    """Independent integration (scipy LSODA) of the history built from the journal's own lines, to 0.1 %."""
    resin = shop / "resins" / "slow-laminating.toml"
    text = resin.read_text(encoding="utf-8")
    if not stated:
        begin = text.index("demould = [")
        resin.write_text(text[:begin] + text[text.index("]", begin) + 1 :], encoding="utf-8")
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await closed(app, pilot, clock)
        for minutes, celsius in ((0, 20), (30, 22), (80, 31), (130, 34), (180, 33), (230, 27), (280, 22), (330, 19)):
            closed_s = app.day.state.closed_s
            clock.advance(closed_s + minutes * 60 - app.day.now_s())
            app.day.log(TemperatureRead(place="mould", temperature_K=celsius + 273.15), "")
        app.redraw()
        await settled(app, pilot)
        cure = app.place.cure
        entries = journal(shop)
        closed_s = next(entry["elapsed_s"] for entry in entries if entry["event"] == "press-closed")
        mould = [
            (entry["elapsed_s"] - closed_s, entry["temperature_K"])
            for entry in entries
            if entry["event"] == "temperature-read" and entry["place"] == "mould"
        ]
        assert len(mould) == 8
        setting, _ = setting_of(app.day.sheet, app.day.calibration_now.kinetics)
        start = min(life.state_at(closed_s)[0] for life in app.day.alive.values())
        assert 0.0 < start < 0.1
        assert cure.night.ready.out_s.likely == pytest.approx(scipy_demould_s(setting, mould, start=start), rel=1e-3)
        assert np.isfinite(cure.night.ready.out_s.high)
        moment = app.day.moment(closed_s + cure.night.ready.out_s.likely)
        today = moment.date() == app.day.moment(app.day.now_s()).date()
        assert words(app, "#cure-out").startswith(f"OUT ≈ {'today' if today else f'{moment:%a}'} {moment:%H:%M} ")


async def test_a_cold_night_does_not_make_it_and_the_heating_that_does_is_shown(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await closed(app, pilot, clock)
        await press(app, pilot, "t", "m", *"21", "enter")
        assert "MAKES IT" in body(app)
        assert "DOES NOT" not in body(app)
        await press(app, pilot, "t", "n", "6", "enter", "enter")
        assert "tonight 6 °C" in said(app)
        assert "mould → 6 °C: DOES NOT MAKE IT by" in body(app)
        assert "▲ below 15 °C from" in body(app)
        assert body(app).count(" h  → ") == len(app.place.cure.heatings) >= 2
        assert "Never leave a heater alone" in body(app)
        assert journal(shop)[-1]["event"] == "night-expected"


async def test_a_part_wanted_too_soon_gets_no_false_hope(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await closed(app, pilot, clock)
        await press(app, pilot, "t", "n", *"20", "enter", "backspace", "backspace", "2", "enter")
        assert "no heat to 50 °C makes it" in body(app)


async def test_a_gelled_witness_updates_the_estimate(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await closed(app, pilot, clock)
        await wait(app, pilot, clock, 2)
        before = app.place.cure
        await press(app, pilot, "e", "1", "4")
        assert "looks gelled" in said(app)
        after = app.place.cure
        assert after.part.setting.kinetics.k_ref_per_s > before.part.setting.kinetics.k_ref_per_s
        assert after.gel_s < before.gel_s
        assert "learnt: gelled came" in " ".join(app.place.details())


async def test_a_stale_or_missing_mould_reading_is_named_and_a_hot_one_does_not_count_for_all_of_the_silence(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await closed(app, pilot, clock)
        assert "◆ T  only shop read" in words(app, "#cure-now")
        await press(app, pilot, "t", "m", *"20", "enter")
        assert "◆" not in words(app, "#cure-now").splitlines()[-1]
        await wait(app, pilot, clock, 3)
        assert words(app, "#cure-now").splitlines()[-1].startswith("◆ T  mould read")
        await wait(app, pilot, clock, 19)
        await press(app, pilot, "t", "m", *"40", "enter", "y")
        assert app.place.cure.night.ready.out_s.low > 22 * HOUR
        assert "LEAVE IT CLOSED" in words(app, "#cure-title")


async def test_states_go_in_words_and_shapes_to_the_part_out_which_is_logged_and_its_post_cure_shown(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await press(app, pilot, "p", "z")
        assert "no press day is running" in said(app)
        await closed(app, pilot, clock)
        assert "■ LEAVE IT CLOSED · LIQUID" in words(app, "#cure-title")
        ready = app.place.cure.night.ready
        await wait(app, pilot, clock, (ready.out_s.low + 600) / HOUR)
        assert "◆ LEAVE IT CLOSED · hard" in words(app, "#cure-title")
        assert app.place.act_words() == ""
        await wait(app, pilot, clock, (ready.out_s.likely - ready.out_s.low) / HOUR)
        assert "● TAKE IT OUT · hard" in words(app, "#cure-title")
        assert words(app, "#keys").startswith("▶ ENTER TAKE IT OUT")
        await wait(app, pilot, clock, 40 - (ready.out_s.likely + 600) / HOUR)
        await press(app, pilot, "z", "n")
        assert journal(shop)[-1]["event"] != "demoulded"
        await press(app, pilot, "z", "y")
        assert journal(shop)[-1]["event"] == "demoulded"
        assert words(app, "#cure-title").startswith("● OUT ")
        assert "after 40.0 h" in words(app, "#cure-title")
        assert words(app, "#top").startswith("PRESS CLOSED Sat ")
        assert "POST-CURE 8 h at 60 °C" in body(app)
        await wait(app, pilot, clock, 5)
        assert "after 40.0 h" in words(app, "#cure-title")
        assert 30.0 < float(app.query_one("#cure-clock", BigDigits).value) < 90.0, "where it softens"
        assert "KEEP IT COOLER" in words(app, "#cure-now")
        await press(app, pilot, "z")
        assert "the part is out already" in said(app)


async def test_the_forecast_is_worked_out_beside_the_screen(shop, monkeypatch):
    """While it is worked out the act stands and a line says so."""
    import threading

    from layup.app import cure

    clock, gate, work_out = ManualClock(), threading.Event(), cure.work_out

    def slow(*words, **options):
        gate.wait(30)
        return work_out(*words, **options)

    monkeypatch.setattr(cure, "work_out", slow)
    async with running(shop, clock=clock) as (app, pilot):
        await begin_day(app, pilot)
        day = app.day
        day.log(BatchMixed(batch=1, resin_g=280.0, hardener_g=84.0, start_K=293.15), "")
        day.log(BatchPouredOut(batch=1), "")
        day.log(PressClosed(), "")
        app.action_go("cure")
        await come(app, pilot)
        assert "working out when it may come out" in words(app, "#cure-out")
        clock.advance(61)
        app.tick()
        assert "■ LEAVE IT CLOSED" in words(app, "#cure-title")
        gate.set()
        await settled(app, pilot)
        assert "LEAVE IT CLOSED" in words(app, "#cure-title")


async def test_what_matters_is_on_the_screen_without_scrolling_at_every_size(shop):
    clock = ManualClock()
    async with running(shop, clock=clock) as (app, pilot):
        await closed(app, pilot, clock)
        await press(app, pilot, "t", "n", "6", "enter", "enter")
        wanted = ("LEAVE IT CLOSED", "OUT ≈", app.day.clock_time(app.day.out_s[0]), "% reacted", "Tg ", "mould ")
        async for _, rows in at_each(app, pilot, ((40, 16), (80, 24), (120, 36), (160, 50))):
            lines = body(app).splitlines()
            room = app.query_one("#cure-scroll").size.height
            heads = ("mould →", "▲") if rows < 20 else ("out", "mould →", "▲", "HEAT")
            assert max(index for index, line in enumerate(lines) if line.startswith(heads)) < room
            assert ("⠒⠒ Tg" in body(app)) == (rows >= 24), "the plot takes what room is left"
            shown = " ".join(text_in(app, app.place.region).split())
            assert [words for words in wanted if words not in shown] == []
            big = app.query_one("#cure-clock", BigDigits)
            assert max(map(len, str(big.content).splitlines())) <= big.size.width
