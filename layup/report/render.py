"""A report as one HTML file that needs nothing else, as Markdown, as CSV and JSON Lines; and what is cut, on paper.

The HTML has no script, no font, no picture from elsewhere; it prints on A4 and on letter. In Markdown every mark of
Markdown in its texts is made harmless, and charts stand in words. CSV is RFC 4180 in UTF-8 with a byte order mark, as
spreadsheets need it; a text that one would take for a formula gets an apostrophe in front (OWASP, CSV injection).
"""

from __future__ import annotations

import csv
import io
import json
import re
from base64 import b64encode
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict
from html import escape
from itertools import product, zip_longest
from math import ceil

from layup.planning.cuts import Cut, EVERY_m, offsets
from layup.planning.outline import Outline, ring_m
from layup.report.charts import Block, Chart, EmbeddedPhoto, Heading, Paragraph, Points, Space, Table
from layup.review.review import Review
from layup.session.lines import written
from layup.units import length

# -- html ------------------------------------------------------------------------------------------------------------

STYLE = """
:root { color-scheme: light; }
* { box-sizing: border-box; }
body { font: 11pt/1.4 system-ui, sans-serif; color: #000; background: #fff; max-width: 186mm; margin: 1.5em auto;
  padding: 0 1em; overflow-wrap: anywhere; }
h1 { font-size: 1.6em; margin: 0 0 .2em; }
h2 { font-size: 1.2em; margin: 1.4em 0 .3em; border-bottom: 1px solid #000; }
h3 { font-size: 1em; margin: 1em 0 .2em; }
p, ul, ol { margin: .3em 0; }
p.strong { font-weight: bold; }
table { border-collapse: collapse; width: 100%; margin: .6em 0; font-size: .85em; }
th { white-space: nowrap; }
th, td { border-bottom: 1px solid #999; padding: .15em .4em; text-align: left; vertical-align: top; }
th.number, td.number { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
figure { margin: .6em 0; }
figure { overflow-x: auto; }
figure svg { width: 100%; min-width: 36em; height: auto; }
figcaption { font-size: .85em; }
figure.photo img { max-width: 100%; max-height: 120mm; height: auto; display: block; }
div.space { border: 1px dashed #000; height: 46mm; width: 62mm; padding: .3em .5em; margin: 0 0 .6em 1em;
  font-size: .85em; float: right; }
figure, h2 { clear: both; }
thead { display: table-header-group; }
h2, h3 { break-after: avoid; }
figure, tr, li { break-inside: avoid; }
@page { margin: 12mm; }
@media print { body { max-width: none; margin: 0; padding: 0; font-size: 10pt; }
  figure { overflow: visible; } figure svg { min-width: 0; } }
"""
POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"


def html(title: str, blocks: Iterable[Block]) -> str:
    return page(title, STYLE, "\n".join(_html_block(block) for block in blocks))


def page(title: str, style: str, body: str) -> str:
    """Return a whole HTML file around its body; the policy lets it load nothing."""
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{style}</style>\n</head>\n<body>\n{body}\n</body>\n</html>\n"
    )


def _html_block(block: Block) -> str:
    match block:
        case Heading(text, level):
            return f"<h{level}>{escape(text)}</h{level}>"
        case Paragraph(text, strong):
            opening = '<p class="strong">' if strong else "<p>"
            return f"{opening}{_lines(text)}</p>"
        case Points(items, numbered):
            tag = "ol" if numbered else "ul"
            return f"<{tag}>" + "".join(f"<li>{_lines(item)}</li>" for item in items) + f"</{tag}>"
        case Table(head, rows, numbers):
            heads = [("number" if name in numbers else "", escape(name)) for name in head]
            return table_html(heads, [[_lines(cell) for cell in row] for row in rows])
        case Chart(svg, words):
            return f"<figure>{svg}<figcaption>{_lines(words)}</figcaption></figure>"
        case Space(words):
            return f'<div class="space">{_lines(words)}</div>'
        case EmbeddedPhoto(data, media, words):
            source = f"data:{media};base64,{b64encode(data).decode()}"
            shown = f'<img src="{source}" alt="{escape(words)}">' if data else ""
            return f'<figure class="photo">{shown}<figcaption>{_lines(words)}</figcaption></figure>'


def _lines(text: str) -> str:
    """Return text escaped, with its line ends."""
    return escape(text).replace("\n", "<br>")


def table_html(heads: Sequence[tuple[str, str]], rows: Sequence[Sequence[str]], kinds: Sequence[str] = ()) -> str:
    """Return a table of HTML: the class and the name of each column, its rows, and the class of each of these."""
    of = {kind: f' class="{kind}"' if kind else "" for kind in ("", *(kind for kind, _ in heads), *kinds)}
    head = "".join(f'<th scope="col"{of[kind]}>{name}</th>' for kind, name in heads)
    body = ""
    for row, of_row in zip_longest(rows, kinds, fillvalue=""):
        cells = "".join(f"<td{of[kind]}>{cell}</td>" for (kind, _), cell in zip(heads, row, strict=True))
        body += f"<tr{of[of_row]}>{cells}</tr>"
    return f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


# -- markdown --------------------------------------------------------------------------------------------------------

_MARKS = re.compile(r"([\\`*_{}\[\]<>#|~!&])")
_LIST_OR_RULE = re.compile(r"^(\s*\d*)([-+=.)])(?=[\s=-]|$)", re.MULTILINE)
"""What would begin a list, or underline a heading, at the start of a line."""


def markdown(blocks: Iterable[Block]) -> str:
    return "\n\n".join(_markdown_block(block) for block in blocks) + "\n"


def plain(text: str) -> str:
    """Return text in which nothing is markup."""
    return _LIST_OR_RULE.sub(r"\1\\\2", _MARKS.sub(r"\\\1", text))


def _markdown_block(block: Block) -> str:
    match block:
        case Heading(text, level):
            return f"{'#' * level} {_one_line(text)}"
        case Paragraph(text, strong):
            words = plain(text).replace("\n", "  \n")
            return f"**{_one_line(text)}**" if strong else words
        case Points(items, numbered):
            marks = [f"{number}." if numbered else "-" for number in range(1, len(items) + 1)]
            return "\n".join(f"{mark} {_one_line(item)}" for mark, item in zip(marks, items, strict=True))
        case Table(head, rows, numbers):
            rule = ["---:" if name in numbers else "---" for name in head]
            lines = [[_one_line(cell) for cell in row] for row in (head, *rows)]
            return "\n".join(f"| {' | '.join(line)} |" for line in (lines[0], rule, *lines[1:]))
        case Chart(_, words) | EmbeddedPhoto(_, _, words):
            return f"*{_one_line(words)}*"
        case Space(words):
            return f"{_one_line(words)}: ____"


def _one_line(text: str) -> str:
    return plain(" ".join(text.split()))


# -- tables ----------------------------------------------------------------------------------------------------------

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""What a cell must not begin with: also in full width, which some spreadsheets take for the same."""
CSV_HEAD = ("session", "seq", "at", "elapsed_s", "event", "batch", "step", "what", "taken_back", "happened_s")


def safe_cell(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula."""
    return f"'{text}" if text.lstrip(" ").startswith(FORMULA_STARTS) else text


def csv_text(review: Review) -> str:
    """Return the log of a session, one event a row."""
    state = review.stored.state
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(CSV_HEAD)
    for record in state.records:
        writer.writerow(
            (
                *(safe_cell(review.stored.name), record.seq, record.at.isoformat(), record.elapsed_s, record.event),
                *(getattr(record, "batch", ""), getattr(record, "step", ""), safe_cell(record.describe_in(state))),
                "yes" if record.seq in state.cancelled else "no",
                record.when_s,
            )
        )
    return "\ufeff" + out.getvalue()


def json_lines(review: Review) -> str:
    """Return everything known of a session, one object a line; `kind` says what it is."""
    return "".join(json.dumps(line, ensure_ascii=False, allow_nan=False) + "\n" for line in _records_of(review))


def _records_of(review: Review) -> Iterator[dict[str, object]]:
    state, name = review.stored.state, review.stored.name
    start = state.start
    yield {
        "kind": "session",
        "session": name,
        "title": start.title if start else None,
        "resin": start.resin if start else None,
        "started_at": state.started_at.isoformat() if state.started_at else None,
        "people": state.people,
        "closed_s": state.closed_s,
        "demoulded_s": state.demoulded_s,
        "tags": list(state.outcome.tags) if state.outcome else [],
        "notes": state.outcome.notes if state.outcome else "",
        "verdict": review.verdict,
    }
    for rank, finding in enumerate(review.findings, 1):
        yield {"kind": "finding", **asdict(finding), "session": name, "rank": rank}
    if review.track is not None:
        for batch in review.track.batches:
            yield {"kind": "batch", "session": name, **asdict(batch), "used": batch.used}
        for step in review.track.steps:
            yield {**asdict(step), "kind": "step", "session": name, "step_kind": step.kind, "over_s": step.over_s}
    if review.as_built is not None:
        yield {"kind": "as-built", "session": name, **asdict(review.as_built)}
    for record in state.records:
        line = json.loads(written(record, with_sum=False))  # its sum proves the journal's line, and not this one
        if "kind" in line:
            line["session_kind"] = line.pop("kind")
        yield {"kind": "event", "session": name, "taken_back": record.seq in state.cancelled, **line}


# -- what is cut -------------------------------------------------------------------------------------------------------

SCALES = (1, 2, 5, 10, 20, 50, 100)
"""How many times smaller than the piece a drawing may be."""
PAPER_m, MARGIN_m, BAR_m = 0.186, 0.006, 0.05
"""What a page holds across, what is left free around a drawing, and the bar that shows whether it was printed true."""


def cuts_html(cuts: Sequence[Cut]) -> str:
    """Return the cut list as a table of a page."""
    rows = [(str(cut.count), escape(cut.name), length(cut.length_m), length(cut.width_m)) for cut in cuts]
    heads = (("number", "pieces"), ("", "cloth"), ("number", "long"), ("number", "wide"))
    return f"<h2>Cut list</h2>{table_html(heads, rows)}"


def template_svg(title: str, outline: Outline, *, scale: int = 1) -> str:
    """Return the outline of one piece as a drawing of which a millimetre is `scale` millimetres of the piece.

    An SVG file with its size in millimetres; the outline is its only closed line. Raises InputError for an area without
    a length.
    """
    ring = [(x * 1000.0 / scale, y * 1000.0 / scale) for x, y in ring_m(outline, "a template")]
    margin = MARGIN_m * 1000.0
    wide = max(x for x, _ in ring) + 2.0 * margin
    top, bottom = max(y for _, y in ring) + margin, min(y for _, y in ring) - 3.0 * margin
    path = " ".join(f"{x + margin:.3f},{top - y:.3f}" for x, y in ring)
    ahead = max(x for x, _ in ring) + margin
    parts = [
        f'<path d="M {path} Z" fill="none" stroke="#000" stroke-width="0.3"/>',
        _stroke(margin / 2, top, ahead + margin / 2, top, 0.2, dash="6 2 1 2"),
    ]
    for number in range(int(ahead / EVERY_m / 1000.0) + 1) if scale == 1 else ():
        x = margin + number * EVERY_m * 1000.0
        parts.append(_stroke(x, top - 3, x, top + 3, 0.2) + _words(x + 1.0, top - 1.0, length.digits(number * EVERY_m)))
    low = top - bottom - 1.2 * margin
    parts += [
        _stroke(margin, low, margin + BAR_m * 1000.0, low, 0.8),
        _words(margin, low + 5.0, f"1:{scale}, tip on the right; this bar is {length(BAR_m)} if printed at 100 %"),
    ]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.3f}mm" height="{top - bottom:.3f}mm" '
        f'viewBox="0 0 {wide:.3f} {top - bottom:.3f}" overflow="visible" '
        f'font-family="sans-serif"><title>{escape(title)}</title>{"".join(parts)}</svg>\n'
    )


def _stroke(x1: float, y1: float, x2: float, y2: float, width: float, *, dash: str = "") -> str:
    ends = f'x1="{x1:.3f}" y1="{y1:.3f}" x2="{x2:.3f}" y2="{y2:.3f}"'
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<line {ends} stroke="#000" stroke-width="{width}"{dashes}/>'


def _words(x: float, y: float, words: str) -> str:
    return f'<text x="{x:.3f}" y="{y:.3f}" font-size="3.5">{escape(words)}</text>'


STEP_mm, LAP_mm = (240.0, 170.0), 10.0
"""What each sheet of a template shows, and how far over that: so large, it prints on A4 and on letter, lying."""
SHEETS = "@page { size: landscape; margin: 10mm } body { margin: 0 } .sheet { display: block; break-after: page }"


def template_sheets(title: str, outline: Outline) -> str:
    """Return the outline of one piece in full size, on sheets of paper with overlap marks and numbers."""
    drawing = template_svg(title, outline)
    size = re.findall(r'viewBox="0 0 ([0-9.]+) ([0-9.]+)"', drawing)[0]
    across, down = (ceil(float(each) / step) for each, step in zip(size, STEP_mm, strict=True))
    inside = drawing.partition(">")[2].rpartition("</svg>")[0]
    parts = [f'<svg width="0" height="0" style="position: absolute"><defs><g id="piece">{inside}</g></defs></svg>']
    wide, high = (step + LAP_mm for step in STEP_mm)
    for number, (row, column) in enumerate(product(range(down), range(across)), 1):
        x, y = column * STEP_mm[0], row * STEP_mm[1]
        how = f"sheet {number} of {across * down}: trim it left and above, lay it on the dashed lines of those before"
        parts.append(
            f'<svg class="sheet" width="{wide:g}mm" height="{high:g}mm" viewBox="{x:g} {y:g} {wide:g} {high:g}" '
            f'font-family="sans-serif"><use href="#piece"/><rect x="{x:g}" y="{y:g}" width="{STEP_mm[0]:g}" '
            f'height="{STEP_mm[1]:g}" fill="none" stroke="#000" stroke-width="0.2" stroke-dasharray="2 2"/>'
            f"{_words(x + 3.0, y + high - 3.0, f'{title}, {how}')}</svg>"
        )
    return page(title, SHEETS, "".join(parts))


def template_html(title: str, outline: Outline) -> str:
    """Return the section of a page with the drawing, to the largest scale that fits, and the table of offsets."""
    found = offsets(outline)
    long_m = found[-1].at_m
    scale = next((each for each in SCALES if long_m / each + 2.0 * MARGIN_m <= PAPER_m), SCALES[-1])
    half = -(-len(found) // 2)
    cells = [[length.digits(each, ".1f") for each in (at.at_m, at.left_m, at.right_m)] for at in found]
    rows = [[*one, *other] for one, other in zip_longest(cells[:half], cells[half:], fillvalue=[""] * 3)]
    heads = [("number", name) for name in (f"from tail, {length.sign}", "left", "right")] * 2
    return (
        f'<section class="list"><h2>Template</h2><figure class="drawn">{template_svg(title, outline, scale=scale)}'
        "</figure><p>Both edges from the centre line, the tip ahead: join the points with a batten. "
        "In full size: layup sheet with --template, as .svg, or as .html on sheets to tape together.</p>"
        f"{table_html(heads, rows)}</section>"
    )
