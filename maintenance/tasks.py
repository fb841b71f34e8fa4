"""What runs by itself."""

from __future__ import annotations

from django.utils import timezone

from assets.models import Site
from maintenance.actions.messages import send_what_waits, write_what_is_owed
from maintenance.actions.nightly import at_night


def nightly() -> str:
    """Do the night's work of every site whose night has begun; running it twice does the same as once."""
    reports = [report for site in Site.objects.order_by("pk") if (report := at_night(site))]
    return "; ".join(f"{report.site}: {report.differences} differences" for report in reports) or "nothing to do"


def write_messages() -> str:
    """Write the morning messages whose time has come, and those of what is past its last allowed day."""
    return f"{write_what_is_owed(timezone.now())} written"


def send_messages() -> str:
    """Send what waits for the post; what the mail server did not take is tried again later."""
    done = send_what_waits(timezone.now())
    return "; ".join(f"{number} {word}" for word, number in done.items())
