"""A report as one HTML file that needs nothing else: no script, no font, no picture from elsewhere.

It prints on A4 and on letter: widths are shares of the page, and the page's size is the printer's.
"""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from layup.report.blocks import Block, Chart, Heading, Paragraph, Points, Table

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
thead { display: table-header-group; }
h2, h3 { break-after: avoid; }
figure, tr, li { break-inside: avoid; }
@page { margin: 12mm; }
@media print { body { max-width: none; margin: 0; padding: 0; font-size: 10pt; }
  figure { overflow: visible; } figure svg { min-width: 0; } }
"""
POLICY = "default-src 'none'; style-src 'unsafe-inline'"


def html(title: str, blocks: Sequence[Block]) -> str:
    """Return a report as a page."""
    return page(title, STYLE, "\n".join(_block(block) for block in blocks))


def page(title: str, style: str, body: str) -> str:
    """Return a whole HTML file around its body; the policy lets it load nothing."""
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{style}</style>\n</head>\n<body>\n{body}\n</body>\n</html>\n"
    )


def _block(block: Block) -> str:
    match block:
        case Heading(text, level):
            return f"<h{level}>{escape(text)}</h{level}>"
        case Paragraph(text, strong):
            opening = '<p class="strong">' if strong else "<p>"
            return f"{opening}{_lines(text)}</p>"
        case Points(items, numbered):
            tag = "ol" if numbered else "ul"
            return f"<{tag}>" + "".join(f"<li>{_lines(item)}</li>" for item in items) + f"</{tag}>"
        case Table():
            return _table(block)
        case Chart(svg, words):
            return f"<figure>{svg}<figcaption>{_lines(words)}</figcaption></figure>"


def _lines(text: str) -> str:
    """Return text escaped, with its line ends."""
    return escape(text).replace("\n", "<br>")


def _table(table: Table) -> str:
    classes = [' class="number"' if name in table.numbers else "" for name in table.head]
    head = "".join(f'<th scope="col"{c}>{escape(name)}</th>' for name, c in zip(table.head, classes, strict=True))
    rows = "".join(
        "<tr>" + "".join(f"<td{c}>{_lines(cell)}</td>" for cell, c in zip(row, classes, strict=True)) + "</tr>"
        for row in table.rows
    )
    return f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
