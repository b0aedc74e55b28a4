"""The wall sheet as one HTML file that needs nothing else, and prints on A4 and on letter: one page a batch."""

from __future__ import annotations

from html import escape

from layup.report.html import page
from layup.report.wall import PENCIL, BatchSheet, WallSheet

STYLE = """
:root { color-scheme: light; }
*, *::before { box-sizing: border-box; }
body { font: 12pt/1.35 system-ui, sans-serif; color: #000; background: #fff; max-width: 186mm; margin: 1em auto;
  padding: 0 1em; overflow-wrap: anywhere; }
h1 { font-size: 1.7em; margin: 0; }
h2 { font-size: 1.1em; margin: .9em 0 .2em; border-bottom: 2px solid #000; break-after: avoid; }
p, ul { margin: .3em 0; }
ul { list-style: none; padding: 0; }
li { break-inside: avoid; padding-left: 1.7em; text-indent: -1.7em; margin: .18em 0; }
li.box::before { content: ""; display: inline-block; width: .9em; height: .9em; border: 2px solid #000;
  margin-right: .8em; vertical-align: -.1em; }
li.point { padding-left: 1em; text-indent: -1em; }
li.point::before { content: "\\2022"; margin-right: .6em; }
section.batch { break-before: page; break-inside: avoid; }
.pour { border: 3px solid #000; padding: .2em .5em; margin: .5em 0; }
.pour .name { font-size: 1.6em; font-weight: bold; text-transform: uppercase; }
.pour .shows { font-size: 4.6em; font-weight: bold; line-height: 1.05; font-variant-numeric: tabular-nums; }
.pencil { white-space: pre-wrap; margin-top: 1em; }
@page { margin: 12mm; }
@media print { body { max-width: none; margin: 0; padding: 0; font-size: 11pt; } }
"""


def wall_html(sheet: WallSheet) -> str:
    """Return the wall sheet as a page."""
    parts = [f"<h1>{escape(sheet.title)}</h1>", f"<p>{escape(sheet.under)}<br>{escape(sheet.answer)}</p>"]
    parts += [f"<p>{escape(words)}</p>" for words in sheet.reasons]
    for name, items in sheet.groups:
        parts.append(f"<h2>{escape(name.capitalize())}</h2><ul>")
        parts += [f'<li class="box">{escape(item.words)}</li>' for item in items]
        parts.append("</ul>")
    parts += [_batch(batch) for batch in sheet.batches]
    return page(sheet.title, STYLE, "\n".join(parts))


def _batch(batch: BatchSheet) -> str:
    pours = "".join(
        f'<div class="pour"><span class="name">{place} {escape(pour.component)} to</span>'
        f'<div class="shows">{escape(pour.shows)}</div>{escape(pour.within)}</div>'
        for place, pour in enumerate(batch.pours, 1)
    )
    facts, cautions = (
        "<ul>" + "".join(f'<li class="point">{escape(line)}</li>' for line in lines) + "</ul>"
        for lines in (batch.facts, batch.cautions)
    )
    return (
        f'<section class="batch"><h1>{escape(batch.title)}</h1>'
        f"<p>{escape(batch.under)}<br>for {escape('; '.join(batch.serves))}</p>\n"
        f"<p>{escape(batch.tare)}</p>\n{pours}\n"
        f'{facts}\n<p class="pencil">{escape(PENCIL)}</p>\n{cautions}</section>'
    )
