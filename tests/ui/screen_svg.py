"""A screen of the app as an SVG picture: letters as text, blocks as rectangles, nothing to fetch."""

import re
from html import escape, unescape

from rich.style import Style
from textual.app import App

CELL_W, CELL_H, BASE = 9.6, 20.0, 15.0
"""Width and height of a cell and where its letters stand, in pixels."""
FONTS = "ui-monospace, Menlo, Consolas, DejaVu Sans Mono, monospace"
EIGHTHS = {character: number / 8 for number, character in enumerate("▁▂▃▄▅▆▇█", 1)}
SHADES = {"░": 0.25, "▒": 0.5, "▓": 0.75}
EIGHTHS_ACROSS = {character: number / 8 for number, character in enumerate("▏▎▍▌▋▊▉", 1)}
BRAILLE = {chr(0x2800 + bits): bits for bits in range(1, 256)}
DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
"""The bit of each dot of a Braille cell, by row and column (The Unicode Standard, block Braille Patterns)."""
DRAWN = "█▁-▇░▒▓▉-▏\u2801-\u28ff"
PIECES = re.compile(rf"([█▁-▇░▒▓])\1*|[▉-▏]|[\u2801-\u28ff]+|[^{DRAWN}\s]+(?: [^{DRAWN}\s]+)*")
ROW = re.compile(r'<g id="row-\d+"><title>(.*?)</title>')


def screen_svg(app: App[None], title: str) -> str:
    """Draw what stands on the screen; each row carries its text, for people who listen and for tests."""
    strips = app.screen._compositor.render_strips()
    columns, rows = app.size
    width, height = columns * CELL_W, rows * CELL_H
    usual = app.theme_variables["foreground"].lower(), app.theme_variables["background"].lower()
    paper = usual[1]
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" role="img" aria-label="{title}" '
        f'shape-rendering="crispEdges" font-family="{FONTS}" font-size="16">',
        f'<rect width="{width:g}" height="{height:g}" fill="{paper}"/>',
    ]
    for number, strip in enumerate(strips):
        text = escape(strip.text.rstrip())
        lines.append(f'<g id="row-{number}"><title>{text}</title>')
        column = 0
        for segment, style, _ in strip._segments:
            lines += _segment(segment, style, column * CELL_W, number * CELL_H, usual)
            column += len(segment)
        lines.append("</g>")
    return "\n".join([*lines, "</svg>", ""])


def text_of(svg: str) -> list[str]:
    """Return the text of each row of such a picture."""
    return [unescape(row) for row in ROW.findall(svg)]


def _colours(style: Style | None, usual: tuple[str, str]) -> tuple[str, str]:
    """Return ink and paper."""
    if style is None:
        return usual
    ink = style.color.get_truecolor().hex if style.color else usual[0]
    paper = style.bgcolor.get_truecolor().hex if style.bgcolor else usual[1]
    return (paper, ink) if style.reverse else (ink, paper)


def _segment(text: str, style: Style | None, x: float, y: float, usual: tuple[str, str]) -> list[str]:
    ink, paper = _colours(style, usual)
    drawn = [] if paper == usual[1] else [_box(x, y, len(text) * CELL_W, CELL_H, paper)]
    for match in re.finditer(PIECES, text):
        at, run = x + match.start() * CELL_W, match[0]
        wide = len(run) * CELL_W
        if run[0] in EIGHTHS:
            tall = CELL_H * EIGHTHS[run[0]]
            drawn.append(_box(at, y + CELL_H - tall, wide, tall, ink))
        elif run[0] in EIGHTHS_ACROSS:
            drawn.append(_box(at, y, CELL_W * EIGHTHS_ACROSS[run[0]], CELL_H, ink))
        elif run[0] in BRAILLE:
            drawn += _dots(run, at, y, ink)
        elif run[0] in SHADES:
            drawn.append(_box(at, y, wide, CELL_H, ink, f' fill-opacity="{SHADES[run[0]]}"'))
        else:
            weight = ' font-weight="bold"' if style is not None and style.bold else ""
            drawn.append(
                f'<text x="{at:.1f}" y="{y + BASE:g}" textLength="{wide:.1f}" fill="{ink}"{weight} '
                f'xml:space="preserve">{escape(run)}</text>'
            )
    return drawn


def _dots(run: str, x: float, y: float, ink: str) -> list[str]:
    """Draw the dots of some Braille cells."""
    return [
        _box(x + column * CELL_W + right * CELL_W / 2, y + down * CELL_H / 4, CELL_W / 4, CELL_H / 8, ink)
        for column, cell in enumerate(run)
        for down, bits in enumerate(DOTS)
        for right, bit in enumerate(bits)
        if BRAILLE[cell] & bit
    ]


def _box(x: float, y: float, width: float, height: float, fill: str, more: str = "") -> str:
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="{fill}"{more}/>'
