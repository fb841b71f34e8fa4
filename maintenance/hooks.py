"""Where the apps above upkeep are asked: each adds its functions in its AppConfig.ready."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from assets.models import Person, Role, Site
from maintenance.compute.handover import Told

# What a handover tells of a shift: asked with the site, who hands over, when the shift began and when it ends.
handover_tellers: list[Callable[[Site, Person, dt.datetime, dt.datetime], Iterable[Told]]] = []


@dataclass(frozen=True, slots=True)
class DigestLine:
    """One line of a morning message; `decide` is what waits for a supervisor, else it is the person's own."""

    text: str
    decide: bool = False


# What a morning message tells a person beside upkeep: asked with the site, the person, and their role there.
digest_tellers: list[Callable[[Site, Person, Role], Iterable[DigestLine]]] = []
