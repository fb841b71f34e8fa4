"""Signed sets as rows of a file: as typed, with what they came to."""

from __future__ import annotations

from collections.abc import Iterator

from assets.models import Site
from calibration.models import ReadingSet
from calibration.reads.checks import CheckFilter, chosen
from calibration.reads.stored import read_lot
from maintenance.compute.sheets import harmless

FIGURES = ("process_ph", "error", "slope", "percent_slope", "offset", "zero_point", "error_third")
BUFFER = ("lot", "temperature", "mv", "shown", "seconds", "steady")


def csv_of(site: Site, which: CheckFilter) -> str:
    """Return the checks that a filter asks for as CSV text, one row a signed set, oldest first."""
    # Loaded here: it takes a quarter of a second that no other page should wait for.
    import pandas as pd

    rows = list(_rows(site, which))
    frame = pd.DataFrame(rows, columns=_columns(rows), dtype="string").fillna("")
    return str(frame.map(harmless).to_csv(index=False, lineterminator="\r\n"))


def _columns(rows: list[dict[str, str]]) -> list[str]:
    fixed = [
        *("check", "tag", "service", "probe", "set", "performed", "entered", "by", "entered late because"),
        *("lost because", "same as as found", "valid", "not valid because", "verdict", "corrects", "corrected by"),
        *(name.replace("_", " ") for name in FIGURES),
        "method version",
    ]
    more = dict.fromkeys(name for row in rows for name in row if name not in fixed)
    return [*fixed, *more]


def _rows(site: Site, which: CheckFilter) -> Iterator[dict[str, str]]:
    sets = (
        ReadingSet.objects.filter(check_of__in=chosen(site, which))
        .select_related("check_of__position", "check_of__replaces", "check_of__replaced_by", "outcome", "recorded_by")
        .prefetch_related("points", "entries", "outcome__figures")
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
        "probe": check.asset_label,
        "set": of.get_kind_display(),
        "performed": of.performed_at.astimezone(site.zone).isoformat(timespec="seconds"),
        "entered": of.recorded_at.astimezone(site.zone).isoformat(timespec="seconds"),
        "by": of.recorded_by.name,
        "entered late because": of.late_because,
        "lost because": of.lost_because,
        "same as as found": "yes" if of.same_as_found else "",
        "corrects": str(check.replaces.number) if check.replaces is not None else "",
        "corrected by": str(replaced_by.number) if replaced_by is not None else "",
    }


def _result(of: ReadingSet) -> dict[str, str]:
    outcome = getattr(of, "outcome", None)
    if outcome is None:
        return {}
    shown = {one.name: one.shown.replace("\u2212", "-") for one in outcome.figures.all()}
    return {
        "valid": "yes" if outcome.valid else "no",
        "not valid because": outcome.because,
        "verdict": outcome.verdict,
        "method version": outcome.method_version,
        **{name.replace("_", " "): shown.get(name, "") for name in FIGURES},
    }


def _typed(of: ReadingSet) -> dict[str, str]:
    names = {
        point.pk: "third buffer" if point.role == "third" else f"point {point.number}" for point in of.points.all()
    }
    typed = {f"{names[point.pk]} lot": read_lot(point.lot_copy).label for point in of.points.all()}
    for entry in of.entries.all():
        prefix = f"{names[entry.point_id]} " if entry.point_id is not None else ""
        unit = f" ({entry.unit})" if entry.unit else ""
        typed[f"{prefix}{entry.quantity.replace('_', ' ')}{unit}"] = entry.text
    return typed
