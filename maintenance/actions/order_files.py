"""Photographs and other files of a work order."""

from __future__ import annotations

from collections.abc import Sequence

from assets import history
from assets.actions.files import MOST_AT_ONCE, add_file
from assets.errors import Refusal
from assets.history import Act
from assets.models import KeptFile, Person
from assets.permissions import OPERATORS, must_have_role
from maintenance.models import OrderFile, WorkOrder


def add_order_files(*, order: WorkOrder, files: list[KeptFile], words: str, by: Person) -> list[OrderFile]:
    """Put files, read before by `read_file`, to a work order, several in one act; their hashes are in its event."""
    must_have_role(by, order.site, OPERATORS, to="add a file to a work order")
    if not files:
        raise Refusal("Choose at least one photograph or file.", field="attached")
    with history.act(site=order.site, by=by) as act:
        order.refresh_from_db(fields=["state"])
        if order.state == "withdrawn":
            raise Refusal(f"Work order {order.number} is withdrawn; it takes no more files.")
        rows = put_files(act, order, files, words=words)
        act.write("order.files_added", subject=order, facts={"files": files_told(rows), "words": words.strip()})
    return rows


def put_files(opened: Act, order: WorkOrder, files: Sequence[KeptFile], *, words: str) -> list[OrderFile]:
    """Put files to a work order as part of another act, whose event then names them with `files_told`."""
    if len(files) > MOST_AT_ONCE:
        raise Refusal(f"At most {MOST_AT_ONCE} files at once; send the others after them.", field="attached")
    return [opened.add(OrderFile(order=order, file=add_file(opened, file, words=words))) for file in files]


def files_told(rows: Sequence[OrderFile]) -> list[dict[str, str]]:
    """Return the names and hashes of files for an event."""
    return [{"name": row.file.name, "sha256": row.file.sha256} for row in rows]
