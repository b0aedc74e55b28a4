"""The wall sheet as a PDF, one page a batch, through fpdf2 (the extra `pdf`)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

from layup.errors import InputError
from layup.report.print_sheet import PENCIL, BatchSheet, PrintSheet

if TYPE_CHECKING:
    from fpdf import FPDF

Paper = Literal["a4", "letter"]
MARGIN_MM = 12.0
FONT = "Helvetica"
"""One of the fonts that every PDF reader has; it knows Latin-1."""


def wall_pdf(sheet: PrintSheet, paper: Paper) -> tuple[bytes, int]:
    """Return the wall sheet as a PDF, and how many characters its font lacks and shows as a question mark."""
    try:
        from fpdf import FPDF
    except ImportError:
        raise InputError(
            "--pdf",
            "needs the library fpdf2",
            todo="install it (pip install 'layup[pdf]'), or write --html and print that",
        ) from None
    page = Pages(FPDF(format=paper, unit="mm"))
    page.pdf.set_margins(MARGIN_MM, MARGIN_MM)
    page.pdf.set_auto_page_break(auto=True, margin=MARGIN_MM)
    page.pdf.set_title(page.plain(sheet.title))
    if sheet.items:
        _checklist(page, sheet)
    for batch in sheet.batches:
        _batch(page, batch)
    return bytes(page.pdf.output()), page.missing


class Pages:
    """A PDF being written, from the top of each page down."""

    def __init__(self, pdf: FPDF) -> None:
        self.pdf = pdf
        self.missing = 0

    def plain(self, text: str) -> str:
        """Return text in the characters that the font has, and count what it lacks."""
        latin = text.encode("latin-1", errors="replace").decode("latin-1")
        self.missing += sum(given != shown for given, shown in zip(text, latin, strict=True))
        return latin

    def write(
        self, text: str, *, size: float, bold: bool = False, indent_mm: float = 0.0, space_mm: float = 0.0
    ) -> None:
        """Write a paragraph under what stands there."""
        pdf = self.pdf
        pdf.set_font(FONT, "B" if bold else "", size)
        pdf.set_x(MARGIN_MM + indent_mm)
        pdf.multi_cell(0, size * 0.45, self.plain(text), align="L", new_x="LMARGIN", new_y="NEXT")
        pdf.set_y(pdf.get_y() + space_mm)

    def box(self, text: str, *, size: float) -> None:
        """Write a paragraph with a box to tick before it, whole on one page."""
        pdf = self.pdf
        pdf.set_font(FONT, "", size)
        height_mm, side_mm = size * 0.45, size * 0.3
        with pdf.offset_rendering() as tried:
            tried.multi_cell(0, height_mm, self.plain(text), align="L")
        if tried.page_break_triggered:
            pdf.add_page()
        pdf.rect(MARGIN_MM, pdf.get_y() + 0.5 * (height_mm - side_mm), side_mm, side_mm)
        self.write(text, size=size, indent_mm=2.0 * side_mm, space_mm=0.8)


def _checklist(page: Pages, sheet: PrintSheet) -> None:
    page.pdf.add_page()
    page.write(sheet.title, size=20, bold=True)
    page.write(f"{sheet.under}. {sheet.answer}", size=11, space_mm=1.0)
    for words in sheet.reasons:
        page.write(f"- {words}", size=11, space_mm=0.6)
    for name, items in sheet.groups:
        page.write(name.capitalize(), size=13, bold=True, space_mm=0.5)
        for item in items:
            page.box(item.words, size=11)
        page.pdf.set_y(page.pdf.get_y() + 1.0)


def _batch(page: Pages, batch: BatchSheet) -> None:
    page.pdf.add_page()
    page.write(batch.title, size=26, bold=True)
    page.write(batch.under, size=12)
    page.write(f"for {'; '.join(batch.serves)}", size=12, space_mm=2.0)
    page.write(batch.tare, size=12, space_mm=2.0)
    for place, pour in enumerate(batch.pours, 1):
        page.write(f"{place} {pour.component.upper()} to", size=20, bold=True)
        page.write(pour.shows, size=72, bold=True)
        page.write(pour.within, size=14, space_mm=4.0)
    for line in batch.facts:
        page.write(f"- {line}", size=11, space_mm=0.6)
    page.write(PENCIL, size=11, space_mm=2.0)
    for line in batch.cautions:
        page.write(f"- {line}", size=11, space_mm=0.6)
