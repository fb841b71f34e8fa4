"""Runs in a process of the site's own beside its web servers: makes its plant, and tells what its database holds."""

from __future__ import annotations

import json
import sys
from collections import Counter
from typing import Any

from django.db import connections

from assets.models import Event, Position, Reading, Role, Signature, Site
from assets.reads.records import check_records
from calibration.actions.drafts import begin_draft
from calibration.models import Check, Draft, ReadingSet
from tests.make import PASSWORD, PIN, make_person, make_position, make_site
from tests.make_checks import COLD, held_in_the_past, make_lot, make_requirement

LOTS = (("7", "2608-A"), ("10", "2607-B"))


def answer_until_the_end() -> None:
    """Answer a test's questions, a line each way: function and its arguments in, what it returns out."""
    for line in sys.stdin:
        name, given = json.loads(line)
        print(json.dumps(globals()[name](**given)), flush=True)  # noqa: T201 - the terminal is how it answers
        connections.close_all()  # so that after a kill the site's own start is what recovers the database


def make_plant(*, people: int, tags: int) -> dict[str, Any]:
    """A site with supervisors, who may write readings and change tags, and some tags; each has begun a pH check."""
    site = make_site()
    persons = [make_person(site=site, role=Role.SUPERVISOR, name=f"Supervisor {n}") for n in range(people)]
    places = [make_position(site=site, tag=f"AIT-{300 + n}") for n in range(tags)]
    requirement = make_requirement(position=places[0], by=persons[0])
    lots = [make_lot(site=site, by=persons[0], kind=kind, number=number) for kind, number in LOTS]
    drafts = [begin_draft(requirement=requirement, by=person) for person in persons]
    return {
        "names": [person.sign_in for person in persons],
        "password": PASSWORD,
        "tags": [place.pk for place in places],
        "drafts": [draft.pk for draft in drafts],
        "set": held_in_the_past(COLD, site)
        | {"point1_lot": str(lots[0].pk), "point2_lot": str(lots[1].pk), "proof": PIN},
    }


def readings() -> dict[str, int]:
    """How often each note stands in the readings."""
    return dict(Counter(Reading.objects.values_list("source", flat=True)))


def checks() -> dict[str, int]:
    """How many checks are signed, with how many reading sets and signatures."""
    models = {"checks": Check, "sets": ReadingSet, "signatures": Signature}
    return {name: model.objects.count() for name, model in models.items()}


def typed_in(draft: int) -> str:
    """The reading of the process that a draft holds now."""
    return str(Draft.objects.get(pk=draft).typed["fields"].get("process_shown", ""))


def events(verb: str) -> int:
    """How many acts of a kind the history holds."""
    return Event.objects.filter(verb=verb).count()


def position(pk: int) -> dict[str, Any]:
    """What the plant knows of a tag."""
    return Position.objects.values("service", "range_high", "version").get(pk=pk)


def faults() -> list[str]:
    """What the record does not agree with itself in."""
    assert Site.objects.exists()
    return [str(fault) for fault in check_records()]
