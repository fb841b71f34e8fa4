"""Where the apps above upkeep are asked: each adds its functions in its AppConfig.ready."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable

from assets.models import Person, Site
from maintenance.compute.handover import Told

# What a handover tells of a shift: asked with the site, who hands over, when the shift began and when it ends.
handover_tellers: list[Callable[[Site, Person, dt.datetime, dt.datetime], Iterable[Told]]] = []
