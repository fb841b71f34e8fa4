"""What runs by itself for the plant: sweeps that do the same when run twice or late."""

from __future__ import annotations

import os
from pathlib import Path

from django.conf import settings
from django.utils import timezone

from assets import actions
from assets.models import Site
from assets.reads.night import night_of
from assets.reads.records import Fault, check_records, heads_text, read_heads

NAMED = 50  # faults named in a report; the command names all


def nightly_records() -> None:
    """Prove the record once a site's night, against the newest heads, and write the heads outside the database."""
    due = [
        (site, day)
        for site in Site.objects.order_by("pk")
        if (day := night_of(site, "records", timezone.now())) is not None
    ]
    if not due:
        return
    faults = check_against_newest_heads()
    write_heads(folder() / f"{timezone.now():%Y-%m-%d}.txt")
    for site, day in due:
        actions.report_night(
            site=site, kind="records", site_day=day, differences=len(faults), text=_told(faults), by=None
        )


def check_against_newest_heads() -> list[Fault]:
    """Return what does not agree; heads that cannot be read are a fault themselves."""
    try:
        return check_records(read_heads(newest_heads()))
    except ValueError as wrong:
        return [Fault("Heads in the data folder", str(wrong)), *check_records()]


def _told(faults: list[Fault]) -> str:
    rest = [f"and {len(faults) - NAMED} more"] if len(faults) > NAMED else []
    return "\n".join([str(fault) for fault in faults[:NAMED]] + rest)


def folder() -> Path:
    """Return where the heads are kept, outside the database."""
    place = Path(settings.DATA) / "heads"
    place.mkdir(parents=True, exist_ok=True)
    return place


def newest_heads() -> str:
    """Return the heads that were written last; nothing before the first night."""
    files = sorted(folder().glob("*.txt"))
    return files[-1].read_text(encoding="ascii") if files else ""


def write_heads(path: Path) -> None:
    """Write the heads to a file, whole or not at all; one that stands there already is never overwritten."""
    if path.exists():
        return
    begun = path.with_suffix(f".{os.getpid()}.part")
    begun.write_text(heads_text(), encoding="ascii")
    begun.replace(path)
