"""A post office that tests send to, and the clock at the time of the morning message."""

from __future__ import annotations

from collections.abc import Iterator
from zoneinfo import ZoneInfo

import pytest

from tests.conftest import Clock
from tests.maintenance.messages.post_office import PostOffice, post_office

DENVER = ZoneInfo("America/Denver")


@pytest.fixture
def office(settings: object) -> Iterator[PostOffice]:
    """The site's mail server."""
    with post_office() as opened:
        settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"  # type: ignore[attr-defined]
        settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", opened.port  # type: ignore[attr-defined]
        settings.EMAIL_USE_TLS = settings.EMAIL_USE_SSL = False  # type: ignore[attr-defined]
        settings.MAIL_IS_ON = True  # type: ignore[attr-defined]
        yield opened


@pytest.fixture
def morning(clock: Clock) -> Clock:
    """The clock at 06:00 at the site, a Wednesday."""
    clock.set(2026, 11, 25, 6, 0, tz=DENVER)
    return clock
