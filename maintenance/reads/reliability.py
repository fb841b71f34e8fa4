"""How often what stands at a tag has failed: mean time, trend, life, and whether replacing it before pays.

A failure is a work order for corrective work, on the day it was raised; where no type is written, one that no routine
raised. One of a failed check that is not confirmed yet does not count. Time is counted in days, in or out of service,
from the day the first fitting at the tag was written down: of failures before that nothing is known here.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from django.db.models import Q

from assets.compute.chart import Picture
from assets.compute.chart_time import Result, TimeFigures, time_picture
from assets.compute.reliability.lifetimes import Lifetime, TooFewFailures, WeibullLife, weibull_life
from assets.compute.reliability.rates import MeanTime, mean_time_between_failures
from assets.compute.reliability.repairs import PowerLaw, Repairs, TooFewRepairs, laplace, power_law
from assets.compute.reliability.replacement import Costs, ReplaceAt, RunToFailure, age_replacement_weibull
from assets.compute.words import day_named
from assets.models import Fitting, Position
from maintenance.models import WorkOrder
from maintenance.models.orders import CORRECTIVE, Confirmed, OrderState


@dataclass(frozen=True, slots=True)
class Failure:
    """One day on which it failed: how many days since it was first fitted, and the orders raised."""

    day: dt.date
    days: int
    orders: tuple[WorkOrder, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reliability:
    """What the failures at a tag say; `trend` and `says` are sentences, empty where nothing was ever fitted."""

    begun: dt.date | None
    days: int
    failures: tuple[Failure, ...]
    swaps: int
    mean: MeanTime | None
    trend: str
    power: PowerLaw | TooFewRepairs | None
    life: WeibullLife | TooFewFailures | None
    best: ReplaceAt | RunToFailure | None
    picture: Picture | None


def reliability_of(position: Position, today: dt.date, costs: Costs | None = None) -> Reliability:
    """Return what the failures at a tag say on a day; `costs` asks for the best age to replace as well."""
    zone = position.site.zone
    written = list(Fitting.objects.filter(position=position).order_by("from_at").values_list("recorded_at", flat=True))
    if not written or (today - written[0].astimezone(zone).date()).days < 1:
        return Reliability(
            begun=None,
            days=0,
            failures=(),
            swaps=0,
            mean=None,
            trend="",
            power=None,
            life=None,
            best=None,
            picture=None,
        )
    begun = written[0].astimezone(zone).date()
    failures = tuple(_failures(position, begun, today))
    days = (today - begun).days
    repairs = Repairs(times=tuple(float(one.days) for one in failures), end=float(days))
    life = weibull_life(_lives(repairs))
    best = None
    if costs is not None and isinstance(life, WeibullLife):
        best = age_replacement_weibull(scale=life.scale.value, shape=life.shape.value, costs=costs, n=life.failures)
    return Reliability(
        begun=begun,
        days=days,
        failures=failures,
        swaps=len(written) - 1,
        mean=mean_time_between_failures(len(failures), float(days)),
        trend=_trend(repairs),
        power=power_law(repairs),
        life=life,
        best=best,
        picture=_picture(failures),
    )


def _failures(position: Position, begun: dt.date, today: dt.date) -> Sequence[Failure]:
    """Orders of one day are one failure; the first and the last day of the count have no time before or after."""
    by_day: dict[dt.date, list[WorkOrder]] = {}
    counts = Q(type__in=CORRECTIVE) | Q(type="", plan=None)
    orders = WorkOrder.objects.filter(counts, position=position).order_by("raised_at")
    for order in orders.exclude(state=OrderState.WITHDRAWN).exclude(confirmed=Confirmed.NOT_YET):
        day = order.raised_at.astimezone(position.site.zone).date()
        if begun < day < today:
            by_day.setdefault(day, []).append(order)
    return [Failure(day, (day - begun).days, tuple(orders)) for day, orders in by_day.items()]


def _lives(repairs: Repairs) -> list[Lifetime]:
    """Take each stretch from one failure to the next as a life; the one that still runs has not ended."""
    edges = (0.0, *repairs.times)
    ended = [Lifetime(age=later - earlier) for earlier, later in pairwise(edges)]
    return [*ended, Lifetime(age=repairs.end - edges[-1], failed=False)]


CLEAR = 0.05
"""Probability below which a trend is said to stand out: common practice, no source."""


def _trend(repairs: Repairs) -> str:
    found = laplace(repairs)
    if isinstance(found, TooFewRepairs):
        return found.says
    if found.worsening < CLEAR:
        way = f"It fails more often as time goes on (probability without a trend {found.worsening:.3f})."
    elif found.improving < CLEAR:
        way = f"It fails more seldom as time goes on (probability without a trend {found.improving:.3f})."
    else:
        way = "No trend stands out: neither more often nor more seldom."
    return f"{way} Laplace test, n = {found.n}."


def _picture(failures: Sequence[Failure]) -> Picture | None:
    if len(failures) < 2:
        return None
    marks = tuple(
        Result(at=one.day, value=float(number), shown=str(number), when=day_named(one.day), shape="fail")
        for number, one in enumerate(failures, 1)
    )
    caption = f"Failures counted up, n = {len(failures)}"
    return time_picture(TimeFigures(name="failures", caption=caption, figure="Failures", results=marks))
