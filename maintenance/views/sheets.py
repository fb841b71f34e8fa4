"""Lists sent as files: CSV in which no cell is taken for a formula, XLSX in which text stays text."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from django.http import HttpResponse

from assets.compute.workbook import workbook_of
from maintenance.compute.sheets import harmless

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def csv_answer(rows: Iterable[Sequence[str]], name: str) -> HttpResponse:
    """Send rows, the heading first, as CSV under a name without its ending."""
    written = io.StringIO()
    writer = csv.writer(written)
    writer.writerows([harmless(cell) for cell in row] for row in rows)
    answer = HttpResponse(written.getvalue(), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    return answer


def xlsx_answer(title: str, rows: Iterable[Sequence[str]], name: str) -> HttpResponse:
    """Send the same as a spreadsheet."""
    answer = HttpResponse(workbook_of({title: rows}), content_type=XLSX)
    answer["Content-Disposition"] = f'attachment; filename="{name}.xlsx"'
    return answer
