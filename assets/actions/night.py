"""What the nightly comparisons found."""

from __future__ import annotations

import datetime as dt

from assets.history import act
from assets.models import NightReport, Person, Site


def report_night(
    *, site: Site | None, kind: str, site_day: dt.date, differences: int, text: str = "", by: Person | None = None
) -> NightReport | None:
    """Keep what one nightly comparison found, one report a day and kind; None when that day has one already."""
    with act(site=site, by=by) as opened:
        if NightReport.objects.filter(site=site, kind=kind, site_day=site_day).exists():
            return None
        report = opened.add(
            NightReport(
                site=site,
                kind=kind,
                site_day=site_day,
                differences=differences,
                text=text,
                recorded_at=opened.at,
            )
        )
        opened.write("night.reported", subject=report, facts={"kind": kind, "differences": differences})
    return report
