"""Print what hangs on the wall: the list "before you start" and a mix sheet for each batch, or one batch alone."""

from __future__ import annotations

import argparse
from dataclasses import asdict, replace
from pathlib import Path

from layup.bench.acts import NOTED
from layup.bench.planner import hanging
from layup.commands.command import answer, facts, panel_lines, require_ending, takes, whole_number, write_output
from layup.commands.plan import PLAN_WORDS, planned
from layup.commands.plan_text import cut_lines, days_data, days_lines, days_of, each_hanging, outlook_of
from layup.planning.batches import MOST_BATCHES
from layup.planning.castings import pourings
from layup.planning.checklist import with_stock
from layup.planning.cuts import offsets
from layup.planning.readiness import readiness
from layup.report.bars import table_lines
from layup.report.print_sheet import START, BatchSheet, DayLine, PrintSheet, print_sheet, wall_html
from layup.report.render import template_sheets, template_svg

PAPER = 78
"""Columns of the days before, which fit a page and a terminal."""
EXAMPLE = "layup sheet touring-skis --batch 1     layup sheet touring-skis --html sheet.html"


add_arguments = takes(f"""{PLAN_WORDS}
--batch N  the mix sheet of this batch alone (default: the list and all batches)
--html FILE  write one HTML file that prints on A4 or letter (default: to the screen)
--template FILE  write one piece in full size, as .svg, or as .html on sheets of A4 or letter (default: none)
--force  replace an earlier file of that name
--json
""")


def run(args: argparse.Namespace) -> int:
    """Print the sheets, or write them to files."""
    if args.html is not None:
        require_ending(Path(args.html), (".html", ".htm"), "--html")
    if args.template is not None:
        require_ending(Path(args.template), (".svg", ".html"), "--template")
    assumed: list[str] = []
    batch = None if args.batch is None else whole_number(args.batch, where="batch", high=MOST_BATCHES)
    planner, result = planned(args, assumed)
    stock = planner.beginning.stock
    ready = with_stock(readiness(result, outlook_of(args, assumed), chance=result.chance), stock, result)
    days = days_of(args, result, pourings(result, result.timeline), ready, assumed)
    sheet = print_sheet(result, ready, batch=batch, notes=planner.notes_of(result), stock=stock, as_set=planner.as_set)
    if sheet.items:
        sheet = replace(sheet, days=tuple(days_lines(days, width=PAPER))[1:])
    files = {} if args.html is None else {args.html: wall_html(sheet)}
    if args.template is not None:
        draw = template_svg if args.template.lower().endswith(".svg") else template_sheets
        files[args.template] = draw(sheet.title, result.plan.outline)
    for name, content in files.items():
        write_output(Path(name), content.encode("utf-8"), force=args.force)
    data = {
        "title": sheet.title,
        "answer": ready.answer,
        "reasons": sheet.reasons,
        "verdict": ready.fit.word,
        "fits": ready.fit.works,
        "order": [
            {**facts(line, "begin_s end_s what"), "mix": line.detail, **facts(line, "who batch note")}
            for line in sheet.order
        ],
        "calendar": days_data(days),
        "checklist": [asdict(item) for item in sheet.items],
        "batches": [asdict(each) for each in sheet.batches],
        "template": [asdict(each) for each in offsets(sheet.outline)] if sheet.outline else [],
        "written": list(files),
    }

    def text(width: int) -> list[str]:
        return [f"written: {name}" for name in files] or sheet_lines(sheet, width=width)

    return answer(args.json, data, text, assumptions=assumed if args.json or files else [])


def sheet_lines(sheet: PrintSheet, *, width: int) -> list[str]:
    lines = [sheet.title, sheet.under, sheet.answer] if sheet.items else []
    lines += each_hanging("- ", sheet.reasons if sheet.items else (), width)
    lines += ["", *sheet.days] if sheet.days else []
    if sheet.order:
        lines += ["", START, *filter(None, [sheet.hands]), *_order_lines(sheet.order, width)]
    if sheet.cuts:
        lines += ["", *cut_lines(sheet.cuts, width=width)]
    for name, items in sheet.groups:
        lines += ["", name.upper(), *each_hanging("[ ] ", (item.words for item in items), width)]
    for batch in sheet.batches:
        lines += [*([""] if lines else []), *_batch_lines(batch)]
    return [*lines, "", *panel_lines(sheet.cautions)]


def _order_lines(order: tuple[DayLine, ...], width: int) -> list[str]:
    rows = []
    for line in order:
        times = f"{round(line.begin_s / 60.0) + 0}", f"{round(line.end_s / 60.0) + 0}"
        rows.append((*times, line.what, line.detail, line.who))
        rows += [
            ("", "", f"  {words}", "", "")
            for words in hanging("", f"{NOTED} {line.note}", max(width - 40, 30))
            if line.note
        ]
    return table_lines(("from", "to, min", "what", "mix", "who"), rows, left="rrlll", width=width)


def _batch_lines(batch: BatchSheet) -> list[str]:
    rows = [
        (str(place), pour.component.upper(), pour.tare, f"to {pour.shows}", pour.adds, pour.within)
        for place, pour in enumerate(batch.pours, 1)
    ]
    pours = table_lines(("",) * 6, rows, left="llrlll", indent=2)
    lines = [batch.title, batch.under, f"for {'; '.join(batch.serves)}", "", batch.tare, *pours]
    return [*lines, "", *panel_lines(batch.facts), "", f"  {batch.pencil}"]
