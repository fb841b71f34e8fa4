"""What the shell around every page shows: the works, the person, the sections, whom to ask."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import reverse
from django.utils import timezone

from assets.models import Role
from assets.permissions import Desk
from maintenance.reads.walks import has_rounds

SECTIONS = (
    ("Today", "today", "/"),
    ("Walk", "maintenance:walks", "/walk/"),
    ("Plant", "assets:plant", "/plant/"),
    ("Checks", "calibration:checks", "/checks/"),
    ("Upkeep", "maintenance:due", "/upkeep/"),
    ("Locks", "maintenance:locks", "/locks/"),
    ("Review", "review", "/review/"),
)


@dataclass(frozen=True, slots=True)
class Tab:
    """One section of the tool."""

    label: str
    url: str
    current: bool


@dataclass(frozen=True, slots=True)
class Shell:
    """What stands around the sheet."""

    site_name: str
    person_name: str
    role_word: str
    is_signed_in: bool
    tabs: tuple[Tab, ...]
    ask_name: str
    ask_phone: str
    is_demo: bool
    now: dt.datetime


ADMINISTRATION = (("People", "assets:people", "/people/"), ("Site", "assets:site-edit", "/site/"))


def tabs_for(path: str, role: Role, *, walks: bool) -> tuple[Tab, ...]:
    """The sections of a role, the one that holds the page marked; the walk only where there is a round to walk."""
    starts = {"/tag/": "/plant/", "/standards/": "/checks/", "/people/": "/plant/", "/assets/": "/plant/"}
    if role == Role.ADMINISTRATOR:
        starts = {}
    home = next((section for start, section in starts.items() if path.startswith(start)), path)
    return tuple(
        Tab(label, reverse(name), home == start if start == "/" else home.startswith(start))
        for label, name, start in (ADMINISTRATION if role == Role.ADMINISTRATOR else SECTIONS)
        if walks or name != "maintenance:walks"
    )


def _has_signed_in(request: HttpRequest) -> bool:
    user = getattr(request, "user", None)
    return user is not None and user.is_authenticated


def shell(request: HttpRequest) -> dict[str, Any]:
    """Context processor: `shell` for the templates. A contractor's pages set `shell_site` instead."""
    desk: Desk | None = getattr(request, "desk", None)
    site = desk.site if desk else getattr(request, "shell_site", None)
    person_name = desk.person.name if desk else getattr(request, "shell_person", "")
    return {
        "shell": Shell(
            site_name=site.name if site else "",
            person_name=person_name,
            role_word=desk.role.label if desk else ("contractor" if person_name else ""),
            is_signed_in=desk is not None or (bool(person_name) and _has_signed_in(request)),
            tabs=tabs_for(request.path, desk.role, walks=has_rounds(desk.site)) if desk else (),
            ask_name=site.ask_name if site else "",
            ask_phone=site.ask_phone if site else "",
            is_demo=settings.DEMO,
            now=timezone.now(),
        )
    }
