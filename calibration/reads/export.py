"""Signed sets as rows of a file: as typed, with what they came to."""

from __future__ import annotations

import re
from collections.abc import Iterator

from assets.compute.csv_text import harmless
from assets.compute.workbook import workbook_of
from assets.models import Site
from calibration.compute.method import Judged, Line, Verdict
from calibration.compute.methods import METHODS
from calibration.models import Figure, ReadingSet
from calibration.reads.checks import CheckFilter, chosen
from calibration.reads.line import figures_of, stored_line
from calibration.reads.own_fields import is_test
from calibration.reads.stored import judged_in, lines_in, read_lot
from calibration.reads.sure import sure_figures
from calibration.reads.words import hardest_words

OF_PH = ("process_ph", "error", "slope", "percent_slope", "offset", "zero_point", "error_third")
"""Figures that stand in columns of their own from the beginning; those of any method follow, with their units."""


def csv_of(site: Site, which: CheckFilter) -> str:
    """Return the checks that a filter asks for as CSV text, one row a signed set, oldest first."""
    # Loaded here: it takes a quarter of a second that no other page should wait for.
    import pandas as pd

    rows = list(_rows(site, which))
    frame = pd.DataFrame(rows, columns=_columns(rows), dtype="string").fillna("")
    return str(frame.map(harmless).to_csv(index=False, lineterminator="\r\n"))


def xlsx_of(site: Site, which: CheckFilter) -> bytes:
    """Return the same rows as a spreadsheet, every cell as text, so that what looks like a formula stays text."""
    rows = list(_rows(site, which))
    columns = _columns(rows)
    return workbook_of({"Checks": [columns, *([row.get(name, "") for name in columns] for row in rows)]})


def _columns(rows: list[dict[str, str]]) -> list[str]:
    fixed = [
        *("check", "tag", "service", "method", "instrument", "set", "performed", "entered", "by"),
        *("entered late because", "lost because", "same as as found", "valid", "not valid because", "verdict"),
        "what it says",
        *("corrects", "corrected by", "reliance withdrawn"),
    ]
    more = dict.fromkeys(name for row in rows for name in row if name not in (*fixed, "method version"))
    return [*fixed, *more, "method version"]


def _rows(site: Site, which: CheckFilter) -> Iterator[dict[str, str]]:
    sets = (
        ReadingSet.objects.filter(check_of__in=chosen(site, which))
        .select_related("check_of__position", "check_of__replaces", "check_of__replaced_by", "outcome", "recorded_by")
        .prefetch_related("points", "entries", "outcome__figures", "check_of__withdrawals")
        .order_by("performed_at", "pk")
    )
    for of in sets:
        yield {**_head(of, site), **_result(of), **_typed(of)}


def _head(of: ReadingSet, site: Site) -> dict[str, str]:
    check = of.check_of
    replaced_by = getattr(check, "replaced_by", None)
    return {
        "check": str(check.number),
        "tag": check.position.tag,
        "service": check.position.service,
        "method": METHODS[check.method].name,
        "instrument": check.asset_label,
        "set": "test" if is_test(METHODS[check.method]) else of.get_kind_display(),
        "performed": of.performed_at.astimezone(site.zone).isoformat(timespec="seconds"),
        "entered": of.recorded_at.astimezone(site.zone).isoformat(timespec="seconds"),
        "by": of.recorded_by.name,
        "entered late because": of.late_because,
        "lost because": of.lost_because,
        "same as as found": "yes" if of.same_as_found else "",
        "corrects": str(check.replaces.number) if check.replaces is not None else "",
        "corrected by": str(replaced_by.number) if replaced_by is not None else "",
        "reliance withdrawn": "; ".join(f"{one.standard}: {one.because}" for one in check.withdrawals.all()),
    }


def _result(of: ReadingSet) -> dict[str, str]:
    outcome = getattr(of, "outcome", None)
    if outcome is None:
        return {}
    method, judged = METHODS[of.check_of.method], judged_in(outcome)
    figures, line = list(outcome.figures.all()), stored_line(method, outcome, judged)
    return {
        "valid": "yes" if outcome.valid else "no",
        "not valid because": outcome.because,
        "verdict": outcome.verdict,
        "what it says": hardest_words(of) if outcome.valid else "",
        "method version": outcome.method_version,
        **dict(_figure(one, named=method.by_point) for one in figures if not method.by_point or one.name in OF_PH),
        **(figures_of(line) if line is not None else {}),
        **(_sure(judged, lines_in(outcome)) if outcome.valid else {}),
    }


def _sure(judged: tuple[tuple[Judged, Verdict], ...], lines: tuple[Line, ...]) -> dict[str, str]:
    """Return the probability that each true value is inside its limit, where an uncertainty is stated."""
    return {
        f"{name.replace('_', ' ')} inside its limit, probability": said
        for name, said in sure_figures(judged, lines).items()
    }


def _figure(one: Figure, *, named: bool) -> tuple[str, str]:
    """Return the column and the text of a figure; `named`: its column has a name of old that says no unit."""
    unit = f" ({one.unit})" if one.unit and not named else ""
    return f"{one.name.replace('_', ' ')}{unit}", one.shown.replace("\u2212", "-")


def _typed(of: ReadingSet) -> dict[str, str]:
    """What was typed, by the names of its fields: 'point 1 temperature (°C)'; standards by their labels."""
    points = {
        point.pk: "" if point.field else "third buffer" if point.role == "third" else f"point {point.number}"
        for point in of.points.all()
    }
    typed = {
        _words(point.field) or f"{points[point.pk]} lot": read_lot(point.lot_copy).label for point in of.points.all()
    }
    for entry in of.entries.all():
        prefix = f"{points[entry.point_id]} " if entry.point_id is not None and points[entry.point_id] else ""
        unit = f" ({entry.unit})" if entry.unit else ""
        typed[f"{prefix}{_words(entry.quantity)}{unit}"] = entry.text
    return typed


def _words(name: str) -> str:
    """Write the name of a field as words: 'run2_seconds' is 'run 2 seconds'."""
    return re.sub(r"^([a-z]+)([0-9]+)_", r"\1 \2 ", name).replace("_", " ")
