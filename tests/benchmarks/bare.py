"""What the due list is compared with: the same 50 rows by one statement of SQL, drawn as HTML, and nothing else.

No sign-in, no roles, no filters with counts, no shell around the rows; the same middleware, the same number of bytes.
"""

from __future__ import annotations

import datetime as dt
from functools import cache
from html import escape
from typing import Any

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.template import engines
from django.urls import path

from spanwell.urls import handler400, handler403, handler404, handler500
from spanwell.urls import urlpatterns as own

__all__ = ["handler400", "handler403", "handler404", "handler500", "urlpatterns"]

WANTED = """
SELECT item.id, item.due, item.latest, routine.title, routine.kind, routine.minutes, tag.tag, tag.matters_for, area.name
FROM maintenance_occurrence AS item
JOIN maintenance_plan AS routine ON routine.id = item.plan_id
JOIN assets_position AS tag ON tag.id = routine.position_id
JOIN assets_area AS area ON area.id = tag.area_id
WHERE item.ended = 'open' AND item.site_id = 1 AND item.blocked_from IS NULL AND item.missed_from IS NULL
AND item.due <= %s
ORDER BY item.due, item.id LIMIT 50
"""
CELLS = "<tr><td>{6}</td><td>{3}</td><td>{4}</td><td>{1}</td><td>{2}</td><td>{7}</td><td>{8}</td><td>{5}</td>"
IN_A_TEMPLATE = CELLS
for _number in range(9):
    IN_A_TEMPLATE = IN_A_TEMPLATE.replace(f"{{{_number}}}", f"{{{{ row.{_number} }}}}")
IN_A_TEMPLATE = f"<table>{{% for row in rows %}}{IN_A_TEMPLATE}<td>{{{{ filler }}}}</td></tr>{{% endfor %}}</table>"

filler = ""
"""Text in every row that makes the page as long as the real one; `fill` sets it."""


def rows() -> list[tuple[object, ...]]:
    """The 50 rows that have been owed longest."""
    with connection.cursor() as cursor:
        cursor.execute(WANTED, [dt.datetime.now(dt.UTC).date()])
        found: list[tuple[object, ...]] = cursor.fetchall()
    return found


@cache
def template() -> Any:
    """The one flat template, parsed once as Django does with a file."""
    return engines["django"].from_string(IN_A_TEMPLATE)


def by_template(request: HttpRequest) -> HttpResponse:
    """Draw them with it."""
    return HttpResponse(template().render({"rows": rows(), "filler": filler}, request))


def by_hand(_request: HttpRequest) -> HttpResponse:
    """Draw them with Python's own text, which no page that has to be kept up could do."""
    drawn = (CELLS.format(*(escape(str(cell)) for cell in row)) + f"<td>{filler}</td></tr>" for row in rows())
    return HttpResponse(f"<table>{''.join(drawn)}</table>")


def fill(length: int) -> None:
    """Make both pages about as long as the page they stand beside."""
    global filler
    filler = ""
    empty = len(by_hand(HttpRequest()).content)
    filler = "x" * max(0, (length - empty) // 50)


urlpatterns = [*own, path("bare/template/", by_template), path("bare/hand/", by_hand)]
