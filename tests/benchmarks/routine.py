"""One routine check of every method, set up and not begun: the good set of its case, without what is folded away."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tests.benchmarks import place

if TYPE_CHECKING:
    from calibration.compute.method import AnyMethod
    from calibration.models import Requirement
    from tests.calibration.places import Ground


@dataclass(frozen=True)
class Task:
    """A routine check that is still to be made: where it begins, who makes it, what they write, by field."""

    code: str
    name: str
    begin: str
    cookie: str
    pin: str
    typed: Mapping[str, str]
    rare: frozenset[str]
    needless: tuple[str, ...]


def tasks() -> list[Task]:
    """Every method once, pH first."""
    from tests.calibration.test_catches_on_page import EVERY

    today = dt.datetime.now(dt.UTC).date()
    return [_ph(), *(_of_case(case, today) for case in EVERY)]


def _clock(zone: dt.tzinfo, minutes: int) -> str:
    """A time of day that has just passed."""
    return f"{dt.datetime.now(zone) - dt.timedelta(minutes=minutes):%Y-%m-%d %H:%M}"[-5:]


def _task(requirement: Requirement, person: object, typed: Mapping[str, str], needless: Iterator[str]) -> Task:
    from django.urls import reverse

    from calibration.compute.methods import METHODS
    from calibration.compute.typed import UNIT, fields_for
    from tests.make import PIN

    method = METHODS[requirement.method]
    fields = {one.name: one for one in fields_for(method, "as found")}
    rare = frozenset(name for name, one in fields.items() if one.ask.rare)
    units = {
        name + UNIT: typed.get(name + UNIT, one.ask.units[0])
        for name, one in fields.items()
        if one.has_units and name in typed
    }
    hold = {"hold_on_at": _clock(requirement.site.zone, 4), "hold_off_at": _clock(requirement.site.zone, 3)}
    own = {"next": "nothing", **(hold if typed.get("hold") == "on" else {})}
    written = {name: text for name, text in typed.items() if name not in rare and name.removesuffix(UNIT) not in rare}
    return Task(
        code=method.code,
        name=method.name,
        begin=reverse("calibration:check-start", args=[requirement.pk]),
        cookie=place.session_of(person),
        pin=PIN,
        typed={**units, **written, **own},
        rare=rare,
        needless=tuple(needless),
    )


def _ph() -> Task:
    from tests.make_checks import Bench

    bench = Bench()
    return _task(bench.requirement, bench.operator, bench.fields(), iter(()))


def _of_case(case: object, today: dt.date) -> Task:
    from tests.calibration.compute.methods.cases import MethodCase
    from tests.calibration.places import Ground, requirement_for

    assert isinstance(case, MethodCase)
    ground = Ground(case, today)
    requirement = requirement_for(ground)
    typed = ground.named(case.good, "as found")
    return _task(requirement, ground.operator, typed, _needless(ground, case.method, typed))


def _needless(ground: Ground, method: AnyMethod, typed: Mapping[str, str]) -> Iterator[str]:
    """The fields that are written in sight though the set is a valid pass without them, one at a time."""
    from tests.calibration.places import outcome_of

    for name in typed:
        without = {one: text for one, text in typed.items() if one != name}
        outcome = outcome_of(ground, "as found", without, {})
        if outcome.validity == "valid" and outcome.verdict == "pass":
            yield name
