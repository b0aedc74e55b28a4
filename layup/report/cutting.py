"""What is cut, on paper: the cut list, and the template of a piece: its offsets, and its outline to a stated scale."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from layup.planning.cuts import Cut, EVERY_m, Offset, offsets
from layup.planning.outline import Outline, ring_m
from layup.units import length

SCALES = (1, 2, 5, 10, 20, 50, 100)
"""How many times smaller than the piece a drawing may be."""
PAPER_m, MARGIN_m, BAR_m = 0.186, 0.006, 0.05
"""What a page holds across, what is left free around a drawing, and the bar that shows whether it was printed true."""


def cuts_html(cuts: Sequence[Cut]) -> str:
    """Return the cut list as a table of a page."""
    rows = "".join(
        f'<tr><td class="number">{cut.count}</td><td>{escape(cut.name)}</td>'
        f'<td class="number">{length(cut.length_m)}</td><td class="number">{length(cut.width_m)}</td></tr>'
        for cut in cuts
    )
    heads = '<th class="number">pieces</th><th>cloth</th><th class="number">long</th><th class="number">wide</th>'
    return f"<h2>Cut list</h2><table><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table>"


def template_svg(title: str, outline: Outline, *, scale: int = 1) -> str:
    """Return the outline of one piece as a drawing of which a millimetre is `scale` millimetres of the piece.

    Parameters
    ----------
    title : str
        What the piece is [-]
    outline : Outline
        One piece from above [-]
    scale : int
        How many times smaller than the piece it is drawn [-]

    Returns
    -------
    str
        An SVG file with its size in millimetres; the outline is its only closed line [-]

    Raises
    ------
    InputError
        An area without a length.
    """
    ring = [(x * 1000.0 / scale, y * 1000.0 / scale) for x, y in ring_m(outline, "a template")]
    margin = MARGIN_m * 1000.0
    wide = max(x for x, _ in ring) + 2.0 * margin
    top, bottom = max(y for _, y in ring) + margin, min(y for _, y in ring) - 3.0 * margin
    path = " ".join(f"{x + margin:.3f},{top - y:.3f}" for x, y in ring)
    ahead = max(x for x, _ in ring) + margin
    parts = [
        f'<path d="M {path} Z" fill="none" stroke="#000" stroke-width="0.3"/>',
        f'<line x1="{margin / 2:.3f}" y1="{top:.3f}" x2="{ahead + margin / 2:.3f}" y2="{top:.3f}" stroke="#000" '
        'stroke-width="0.2" stroke-dasharray="6 2 1 2"/>',
    ]
    for number in range(int(ahead / EVERY_m / 1000.0) + 1) if scale == 1 else ():
        x = margin + number * EVERY_m * 1000.0
        parts.append(
            f'<line x1="{x:.3f}" y1="{top - 3:.3f}" x2="{x:.3f}" y2="{top + 3:.3f}" stroke="#000" stroke-width="0.2"/>'
        )
        parts.append(_words(x + 1.0, top - 1.0, length.digits(number * EVERY_m)))
    low = top - bottom - 1.2 * margin
    parts += [
        f'<line x1="{margin:.3f}" y1="{low:.3f}" x2="{margin + BAR_m * 1000.0:.3f}" y2="{low:.3f}" '
        'stroke="#000" stroke-width="0.8"/>',
        _words(margin, low + 5.0, f"1:{scale}, tip on the right; this bar is {length(BAR_m)} if printed at 100 %"),
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.3f}mm" height="{top - bottom:.3f}mm" '
        f'viewBox="0 0 {wide:.3f} {top - bottom:.3f}" overflow="visible" '
        f'font-family="sans-serif"><title>{escape(title)}</title>{"".join(parts)}</svg>\n'
    )


def _words(x: float, y: float, words: str) -> str:
    return f'<text x="{x:.3f}" y="{y:.3f}" font-size="3.5">{escape(words)}</text>'


def template_html(title: str, outline: Outline) -> str:
    """Return the section of a page with the drawing, to the largest scale that fits, and the table of offsets."""
    found = offsets(outline)
    long_m = found[-1].at_m
    scale = next((each for each in SCALES if long_m / each + 2.0 * MARGIN_m <= PAPER_m), SCALES[-1])
    half = -(-len(found) // 2)
    rows = "".join(
        f"<tr>{_cells(found[number])}{_cells(found[number + half]) if number + half < len(found) else '<td></td>' * 3}"
        "</tr>"
        for number in range(half)
    )
    names = (f"from tail, {length.sign}", "left", "right")
    heads = "".join(f'<th class="number">{name}</th>' for name in names) * 2
    return (
        f'<section class="list"><h2>Template</h2><figure class="drawn">{template_svg(title, outline, scale=scale)}'
        "</figure><p>Both edges from the centre line, the tip ahead: join the points with a batten. "
        f"In full size: layup sheet with --template.</p><table><thead><tr>{heads}</tr></thead>"
        f"<tbody>{rows}</tbody></table></section>"
    )


def _cells(at: Offset) -> str:
    return "".join(f'<td class="number">{length.digits(each, ".1f")}</td>' for each in (at.at_m, at.left_m, at.right_m))
