"""The lowest valid standards, requirements and checks, made through the actions as the tool itself makes them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from pathlib import Path

from django.utils import timezone

from assets.models import Person, Position, Role, Site
from calibration.actions.drafts import begin_draft, keep_draft
from calibration.actions.lots import LotTyped, record_lot_fact, register_lot
from calibration.actions.requirements import LimitTyped, TermsTyped, set_requirement
from calibration.actions.sets import sign_set
from calibration.actions.tables import load_standard_tables
from calibration.compute.methods import METHODS
from calibration.models import Check, Draft, Lot, Requirement, StandardKind
from maintenance.actions.routines import Interval, Work, register_routine
from maintenance.models import Plan
from tests.make import make_person, make_position, make_site, proof_of

TABLES = Path(__file__).parents[1] / "fixtures" / "tables" / "ph_buffers.csv"
KINDS = {
    "4": ("phthalate", "4.01"),
    "6": ("phosphate", "6.86"),
    "7": ("phosphate-7.00", "7.00"),
    "10": ("carbonate", "10.01"),
}

# Two buffers at 12.5 degC, invented readings. The values of both come from the tables: 7.0475 and 10.1485 pH; what
# follows from them is worked by hand in tests/calibration/compute/test_ph_check.py.
COLD = {
    "hold": "on",
    "hold_on_at": "06:40",
    "hold_off_at": "07:05",
    "process_shown": "7.80",
    "process_temperature": "11.0",
    "point1_temperature": "12.5",
    "point1_mv": "-4.8",
    "point1_shown": "7.08",
    "point1_seconds": "40",
    "point1_steady": "yes",
    "point2_temperature": "12.5",
    "point2_mv": "-178.6",
    "point2_shown": "10.15",
    "point2_seconds": "55",
    "point2_steady": "yes",
    "next": "nothing",
}
FAILING = COLD | {"point1_shown": "7.20", "next": "more"}


def held_in_the_past(fields: Mapping[str, str], site: Site) -> dict[str, str]:
    """The fields, with the usual hold on the day before where the site's clock has not come to its end today."""
    now = timezone.now().astimezone(site.zone)
    usual = all(fields[name] == COLD[name] for name in ("hold_on_at", "hold_off_at"))
    if not usual or f"{now:%H:%M}" >= fields["hold_off_at"]:
        return dict(fields)
    before = now.date() - dt.timedelta(days=1)
    return {**fields, **{name: f"{before} {fields[name]}" for name in ("hold_on_at", "hold_off_at")}}


def make_tables() -> None:
    """The buffers' tables, from the project's own file."""
    load_standard_tables(files={"ph_buffers.csv": TABLES.read_text(encoding="utf-8")}, by=None)


def make_lot(
    *,
    site: Site,
    by: Person,
    kind: str = "7",
    number: str = "2608-A",
    expires_on: dt.date | None = None,
    opened_on: dt.date | None = None,
    uncertainty: str = "",
) -> Lot:
    """A lot in date, opened three weeks ago; `kind` is 4, 6, 7 or 10. A stated uncertainty is in pH, with k = 2."""
    if not StandardKind.objects.exists():
        make_tables()
    code, label = KINDS[kind]
    today = timezone.now().astimezone(site.zone).date()
    lot = register_lot(
        site=site,
        lot=LotTyped(
            kind=StandardKind.objects.get(code=code),
            number=number,
            label_value=label,
            received_on=today - dt.timedelta(days=200),
            expires_on=expires_on or today + dt.timedelta(days=120),
            uncertainty=uncertainty,
            coverage="2" if uncertainty else "",
        ),
        by=by,
    )
    record_lot_fact(lot=lot, kind="opened", day=opened_on or today - dt.timedelta(days=21), why="", by=by)
    return lot


def make_terms(
    *, from_day: dt.date = dt.date(2026, 1, 4), error: str = "0.10", source: str = "site setting", **other: str
) -> TermsTyped:
    """The method's own limits, with another error limit where a test wants one."""
    limits = {
        limit.name: LimitTyped(
            low=f"{float(limit.low):g}",  # type: ignore[arg-type]
            high=f"{float(limit.high):g}",  # type: ignore[arg-type]
            unit=limit.unit,
            source=limit.source,
            tag=limit.tag,
        )
        for limit in METHODS["ph"].limits
    }
    limits["error"] = LimitTyped(low=f"-{error}", high=error, unit="pH", source="site setting", tag="site setting")
    return TermsTyped(limits=limits, from_day=from_day, source=source, **other)


def make_routine(*, position: Position, by: Person, every: int = 30) -> Plan:
    """A routine that asks for a calibration every so many days."""
    return register_routine(
        site=position.site,
        target=position,
        work=Work(kind="calibrate", title="Calibrate pH"),
        interval=Interval(mode="floating", every=every, unit="day", source="from memory"),
        by=by,
    )


def make_requirement(
    *, position: Position, by: Person, plan: Plan | None = None, terms: TermsTyped | None = None
) -> Requirement:
    """A position checked by the pH method, on demand unless a routine is given."""
    return set_requirement(position=position, method="ph", terms=terms or make_terms(), plan=plan, by=by)


class Bench:
    """A place where pH can be checked: site, people, tag, routine, requirement and four lots of buffer."""

    def __init__(self, *, routine: bool = True) -> None:
        self.site = make_site()
        self.supervisor = make_person(site=self.site, role=Role.SUPERVISOR, name="Ruth Penhall")
        self.operator = make_person(site=self.site, role=Role.OPERATOR, name="Ines Calder")
        self.position = make_position(site=self.site, tag="AIT-310")
        self.plan = make_routine(position=self.position, by=self.supervisor) if routine else None
        self.requirement = make_requirement(position=self.position, by=self.supervisor, plan=self.plan)
        self.lots = {
            name: make_lot(site=self.site, by=self.supervisor, kind=kind, number=number)
            for name, kind, number in (
                ("7", "7", "2608-A"),
                ("10", "10", "2607-B"),
                ("7b", "7", "2611-C"),
                ("10b", "10", "2612-D"),
                ("4", "4", "2609-E"),
            )
        }

    def fields(
        self, changes: Mapping[str, str] | None = None, *, lots: tuple[str, str] = ("7", "10"), carried: bool = False
    ) -> dict[str, str]:
        """The fields of the cold check with some changed; `carried`: without those that a later set takes over."""
        first, second = (str(self.lots[name].pk) for name in lots)
        typed = {**COLD, "point1_lot": first, "point2_lot": second, **(changes or {})}
        fields = held_in_the_past(typed, self.site)
        return {name: text for name, text in fields.items() if not carried or not name.startswith(("process", "next"))}

    def draft(
        self,
        changes: Mapping[str, str] | None = None,
        *,
        by: Person | None = None,
        stage: str = "as found",
        check: Check | None = None,
        lots: tuple[str, str] = ("7", "10"),
        answers: Mapping[str, Mapping[str, str]] | None = None,
    ) -> Draft:
        """A draft with these fields typed and kept."""
        person = by or self.operator
        draft = begin_draft(requirement=self.requirement, by=person, stage=stage, check=check)
        return keep_draft(
            draft=draft,
            fields=self.fields(changes, lots=lots),
            answers=answers or {},
            version=draft.version,
            settles=False,
            by=person,
        )

    def sign(self, draft: Draft, **late: dt.datetime | str) -> Check:
        """The draft signed by its person."""
        return sign_set(
            draft=draft,
            version=draft.version,
            proof=proof_of(draft.person),
            by=draft.person,
            **late,  # type: ignore[arg-type]
        )

    def check(self, changes: Mapping[str, str] | None = None, *, by: Person | None = None) -> Check:
        """A signed as found; with nothing done, a whole check."""
        return self.sign(self.draft(changes, by=by))
