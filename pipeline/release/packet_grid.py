"""The one way in which the packet makes a table."""

from __future__ import annotations

from reportlab.platypus import Table

from pipeline.release import packet_style as style

TALLEST_ROW = 600  # points; with a head it still fits a page of either paper
_Sides = tuple[float, float, float, float]


class RowTable(Table):
    """A table that parts between rows, and within a row only where the row alone is longer than a page."""

    def split(self, availWidth: float, availHeight: float) -> list[Table]:
        # The library would part any row that does not fit what is left of the page, under a second head.
        first = self._rowHeights[self.repeatRows : self.repeatRows + 1]
        self.splitInRow = int(max(first, default=0) > TALLEST_ROW)
        return super().split(availWidth, availHeight)


def grid(rows: list[list], widths: list[float], look: list[tuple], padding: _Sides = (0, 0, 0, 0), repeat: int = 0) -> RowTable:
    """Return a table, its cells set from the top.

    Args:
        rows: cells: a flowable, or a list of them.
        widths: of the columns in points.
        look: further commands, which come last and so win.
        padding: of every cell in points: left, right, top, bottom.
        repeat: rows of its head, set again on every page.
    """
    table = RowTable(rows, colWidths=widths, repeatRows=repeat)
    sides = zip(("LEFTPADDING", "RIGHTPADDING", "TOPPADDING", "BOTTOMPADDING"), padding, strict=True)
    # The library names a cell's font in the PDF even where the cell holds no plain text; its default is not embedded.
    base = [("FONTNAME", (0, 0), (-1, -1), style.SANS), ("VALIGN", (0, 0), (-1, -1), "TOP")]
    table.setStyle([*base, *((side, (0, 0), (-1, -1), size) for side, size in sides), *look])
    return table
