"""What a passing second costs: the clocks are drawn, and the screen is not laid out anew."""

import pytest
from app_driver import begin_day, bench, press, running, workshop
from textual.widget import Widget

from layup.session.clock import ManualClock


@pytest.fixture
def laid_out(monkeypatch):
    """The widgets that ask for a new layout."""
    asked = []
    refresh = Widget.refresh

    def noted(self, *regions, repaint=True, layout=False, recompose=False):
        if layout:
            asked.append(self.id or type(self).__name__)
        return refresh(self, *regions, repaint=repaint, layout=layout, recompose=recompose)

    monkeypatch.setattr(Widget, "refresh", noted)
    return asked


async def test_a_second_that_only_moves_digits_lays_nothing_out_anew(tmp_path, laid_out):
    clock = ManualClock()
    async with running(workshop(tmp_path), clock=clock) as (app, pilot):
        await begin_day(app, pilot)
        await press(app, pilot, "enter", "h", "enter", "b")
        clock.advance(605)
        app.tick()
        await pilot.pause()
        laid_out.clear()
        before = bench(app)
        clock.advance(1)
        app.tick()
        assert bench(app) != before, "the step on the bench counts its seconds"
        assert laid_out == []
