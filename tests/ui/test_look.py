"""Every screen, in every look and size: nothing cut, every frame whole, and enough contrast to read."""

from collections.abc import Iterator

import pytest
from gallery import MOST_WORDS, NOT_LETTERS, SHOWS, SIZES, TROUBLES, USUAL, WORD, drawn, posed, stage, text_in, troubled
from rich.color import ColorTriplet
from textual.app import App
from textual.color import Color
from textual.strip import Strip
from textual.widget import Widget
from textual.widgets import Static

from layup.app.bench import BenchPlace
from layup.app.shell import CHOSEN_BY, LOOKS, NAMES, first_look, next_look, tapped

ENOUGH_CONTRAST = 4.5
"""W3C, WCAG 2.2 (2023), success criterion 1.4.3, contrast (minimum) of text."""
FRAMES = ".scale, .prompt, .page"


def luminance(colour: ColorTriplet) -> float:
    """Return the relative luminance of a colour as WCAG 2.2 defines it."""
    shares = [value / 255 for value in colour]
    linear = [share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4 for share in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: ColorTriplet, other: ColorTriplet) -> float:
    """Return the contrast ratio of WCAG 2.2, 1 to 21."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_that_of_the_standard():
    black, white = ColorTriplet(0, 0, 0), ColorTriplet(255, 255, 255)
    assert contrast(black, white) == pytest.approx(21.0)
    # The lightest grey that passes on white is #767676, at 4.54 : 1 (WebAIM's contrast checker, and many others).
    assert contrast(ColorTriplet(0x76, 0x76, 0x76), white) == pytest.approx(4.54, abs=0.005)


def segments(app: App[None], strips: list[Strip]) -> Iterator[tuple[str, ColorTriplet, ColorTriplet]]:
    """Yield each piece of text on the stage with its ink and its paper."""
    place = stage(app)
    for y in range(place.y, place.bottom):
        for text, style, _ in strips[y].crop(place.x, place.right)._segments:
            if text.strip() and style is not None and style.color and style.bgcolor:
                pair = style.color.get_truecolor(), style.bgcolor.get_truecolor()
                yield text, *(reversed(pair) if style.reverse else pair)


def in_view(widget: Widget) -> bool:
    """Say whether all of a widget is on the stage, nothing of it scrolled out of sight."""
    return bool(widget.region.area) and all(
        parent.is_scrollable is False or widget.region in parent.region
        for parent in widget.ancestors
        if isinstance(parent, Widget)
    )


def cut_words(app: App[None], strips: list[Strip]) -> list[str]:
    """Return the words that a text of the screen holds and nobody can read."""
    place, found = stage(app), []
    for widget in app.screen.query(Static):
        if not widget.visible or widget.region not in place or not in_view(widget):
            continue
        shown = text_in(app, widget.region, strips)
        if "…" in shown:
            continue
        there = NOT_LETTERS.sub("", shown)
        for word in NOT_LETTERS.split(str(widget.content)):
            if word not in there:
                found.append(f"{widget.id or widget.classes}: {word!r} of {str(widget.content)[:60]!r}")
    return found


def broken_frames(app: App[None], strips: list[Strip]) -> list[str]:
    """Return the frames that do not stand whole on the screen."""
    broken = []
    for frame in app.screen.query(FRAMES):
        region = frame.region
        if not region.area:
            continue
        if region not in app.screen.region:
            broken.append(f"{frame} leaves the screen: {region}")
            continue
        lines = text_in(app, region, strips).split("\n")
        corners = lines[0][0], lines[0][-1], lines[-1][0], lines[-1][-1]
        if "".join(corners) not in ("╭╮╰╯", "┏┓┗┛", "╔╗╚╝"):
            broken.append(f"{frame} has corners {corners}")
    return broken


@pytest.mark.parametrize("trouble", TROUBLES)
async def test_a_workshop_that_cannot_be_used_yet_says_why_and_what_to_do(trouble):
    async with troubled(USUAL, "light", trouble) as app:
        assert not cut_words(app, drawn(app))
        text = text_in(app, app.screen.region)
        assert ("first board" if trouble == "no plan" else "r to read it again") in text.lower(), text


async def test_every_screen_can_be_read_whole_at_every_size_and_in_every_look():
    """One walk through the day: each screen at four sizes, over these in each look, and the last with few words.

    Each screen begins in the look in which the one before it ended: to change it is a third of what a screen costs.
    """
    seen, wrong, spare = [], [], len(SIZES) - len(NAMES)
    assert spare >= 0
    async with posed(USUAL, NAMES[0]) as gallery:
        app = gallery.app
        async for name in gallery.screens():
            seen.append(name)
            for turn, size in enumerate(SIZES):
                look = NAMES[((len(NAMES) - 1) * len(seen) + max(turn - spare, 0)) % len(NAMES)]
                await gallery.at(size, look)
                of, strips = f"{name} at {size[0]}x{size[1]}, {look}", drawn(app)
                faults = *unread(app, look, strips), *cut_words(app, strips), *broken_frames(app, strips)
                wrong += [f"{of}: {words}" for words in faults]
                wrong += [f"{of} does not show {words!r}" for words in gallery.missing(name, strips)]
            count = len(WORD.findall(text_in(app, stage(app), strips)))
            wrong += [f"{name} has {count} words, more than {MOST_WORDS[name]}"] if count > MOST_WORDS[name] else []
    assert seen == list(SHOWS) == list(MOST_WORDS)
    assert not wrong, "\n".join(wrong)


async def test_a_large_screen_is_drawn_on_to_its_lower_third():
    async with posed((160, 50), NAMES[0]) as gallery:
        for key in "spl":
            await gallery.keys(key)
            lines = text_in(gallery.app, gallery.app.place.region).splitlines()
            assert max(row for row, line in enumerate(lines) if line.strip()) > 2 * len(lines) // 3, key


def unread(app: App[None], look: str, strips: list[Strip]) -> Iterator[str]:
    """Yield the texts that are too faint, and in the look of one colour those that are coloured."""
    for text, ink, paper in segments(app, strips):
        if contrast(ink, paper) < ENOUGH_CONTRAST and NOT_LETTERS.sub("", text):
            yield f"{text!r} has a contrast of {contrast(ink, paper):.1f}"
        if look == "plain" and (len(set(ink)) > 1 or len(set(paper)) > 1):
            yield f"{text!r} is coloured"


@pytest.mark.parametrize("look", LOOKS, ids=NAMES)
def test_every_ink_of_a_look_can_be_read_on_each_of_its_papers(look):
    papers = {look.background, look.surface, look.panel, look.boost}
    for ink in (look.foreground, look.warning, look.error, look.success):
        for paper in papers:
            colours = (ColorTriplet(*Color.parse(one).rgb) for one in (ink, paper))
            assert contrast(*colours) >= ENOUGH_CONTRAST, f"{ink} on {paper}"


async def test_soon_and_over_are_told_apart_without_their_colours():
    """What is soon is bold, what is over is filled, in each look, and both can be read."""
    async with posed(USUAL, NAMES[0]) as gallery:
        block = gallery.app.at(BenchPlace).query_one("#bench-main")
        for look in NAMES:
            gallery.app.theme = look
            shown = {}
            for urgency in ((), ("soon",), ("soon", "over")):
                block.set_classes(" ".join(urgency))
                _, _, paper, ink = block.colors
                shown[urgency] = (paper != gallery.app.base.background_colors[1], bool(block.rich_style.bold))
                colours = (ColorTriplet(*colour.rgb) for colour in (ink, paper))
                assert contrast(*colours) >= ENOUGH_CONTRAST, f"{look} {urgency}"
            assert list(shown.values()) == [(False, False), (False, True), (True, True)], look


def test_words_that_can_be_tapped_keep_the_weight_and_fill_of_their_block():
    assert (tapped("o").bold, tapped("o").reverse) == (None, None)
    assert (tapped("o", bold=True).bold, tapped("o", reverse=True).reverse) == (True, True)


def test_each_look_follows_the_one_before_and_comes_round():
    names = [NAMES[0]]
    for _ in LOOKS:
        names.append(next_look(names[-1]))
    assert names == [*NAMES, NAMES[0]]


@pytest.mark.parametrize(
    ("wish", "name", "trouble"), [("", "dark", ""), ("light", "light", ""), ("pink", "dark", "pink")]
)
def test_a_look_is_chosen_by_its_name_and_a_wrong_one_is_said(monkeypatch, wish, name, trouble):
    monkeypatch.setenv(CHOSEN_BY, wish)
    chosen, said = first_look()
    assert chosen == name
    assert trouble in said
    assert bool(said) is bool(trouble)
