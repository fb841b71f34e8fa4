"""A site with one of everything that an address can name, and a browser for each role.

Two of them are made: what one site's address names must not exist for the people of the other.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from django.test import Client
from django.urls import reverse
from django.utils import timezone

from assets.actions import (
    LimitFacts,
    ReadingFacts,
    SiteFacts,
    add_holiday,
    change_site,
    record_reading,
    set_limit,
    start_running,
)
from assets.models import (
    Holiday,
    KeptFile,
    Limit,
    Person,
    Position,
    Production,
    Qualification,
    Reading,
    Role,
    SignalUse,
    Site,
)
from calibration.actions.recall import withdraw_standard
from calibration.actions.standards_instruments import UseTyped, serve_as_standard
from calibration.models import Check, Draft, Lot, Recall, StandardKind
from maintenance.actions.lockout.links import invite
from maintenance.actions.order_steps import add_step
from maintenance.actions.performances import record_work
from maintenance.models import (
    Application,
    BalancePart,
    CheckPoint,
    Handover,
    Occurrence,
    Override,
    OverrideExtension,
    Performance,
    Plan,
    Step,
    StopAnswer,
    StrappingTable,
    Walk,
    WorkOrder,
)
from tests.contract.roles_bearing import Bears, make_bears
from tests.make import make_file, make_person, make_position, make_use, proof_of
from tests.make_checks import FAILING, Bench
from tests.make_locks import Pump, make_neighbour, make_pump
from tests.make_orders import Store, make_store
from tests.make_standards import make_kind
from tests.make_upkeep import make_extension, make_handover, make_order, make_override, make_plan, open_item
from tests.make_walks import make_part, make_strapping, make_walk, stop_of, write

SIGNED_OUT = "signed out"
LINK = "contractor's link"
ROLES = (Role.VIEWER, Role.OPERATOR, Role.SUPERVISOR, Role.ADMINISTRATOR)
VISITORS = (*(role.value for role in ROLES), SIGNED_OUT, LINK)


@dataclass
class World:
    """A site, its people by role, and what its addresses name."""

    bench: Bench
    pump: Pump
    unchecked: Position
    people: Mapping[str, Person]
    use: SignalUse
    limit: Limit
    reading: Reading
    qualification: Qualification
    holiday: Holiday
    running: Production
    file: KeptFile
    handover: Handover
    bears: Bears
    override: Override
    extension: OverrideExtension
    check: Check
    drafts: Mapping[str, Draft]
    plan: Plan
    item: Occurrence
    performance: Performance
    order: WorkOrder
    step: Step
    walk: Walk
    store: Store
    recall: Recall
    kind: StandardKind
    token: str
    cookies: dict[str, dict[str, str]] = field(default_factory=dict)
    client: Client = field(default_factory=Client)  # one for all: each new one reads every static file

    def browser(self, visitor: str) -> Client:
        """A browser of a visitor with the cookies of the start, since an address may end a session."""
        self.client.cookies.clear()
        self.client.cookies.load(self.cookies[visitor])
        return self.client

    def application(self, number: str) -> Application:
        """The record of a lock of this site's lockout; the other site has locks of the same numbers."""
        return Application.objects.get(lockout=self.pump.lockout, lock__number=number)

    @property
    def check_point(self) -> CheckPoint:
        """The first check point of the walk."""
        return self.walk.stops.all()[0].point

    @property
    def second(self) -> StopAnswer:
        """What came second at it."""
        return StopAnswer.objects.filter(stop__walk=self.walk, beside__isnull=False)[0]

    @property
    def balance_part(self) -> BalancePart:
        """What counts in the water balance."""
        return BalancePart.objects.filter(site=self.walk.site)[0]

    @property
    def strapping(self) -> StrappingTable:
        """What a tank holds at its levels."""
        return StrappingTable.objects.filter(position__site=self.walk.site).order_by("pk")[0]

    def draft_of(self, visitor: str) -> Draft:
        """The visitor's own draft: nobody opens another person's."""
        return self.drafts.get(visitor, self.drafts[Role.OPERATOR])


def _withdrawn(lot: Lot, *, by: Person) -> Recall:
    today = timezone.now().astimezone(lot.site.zone).date()
    why = "cloudy from the first day"
    return withdraw_standard(
        site=lot.site, standard=lot, from_day=today, because=why, seen=[], proof=proof_of(by), by=by
    )


def make_world(*, ahead: bool = False) -> World:
    """Make a site through the actions; `ahead`: with numbers of checks and orders that the first site has not come to.

    Records with a number are numbered at each site anew, so equal numbers would name something at both.
    """
    bench = Bench()
    site, ruth, ines = bench.site, bench.supervisor, bench.operator
    if not ahead:
        change_site(site=site, facts=_site_facts(), by=ruth)
    pump = _locked(site, ahead=ahead)
    people = {role.value: make_person(site=site, role=role) for role in (Role.VIEWER, Role.ADMINISTRATOR)}
    people |= {Role.OPERATOR.value: ines, Role.SUPERVISOR.value: ruth}
    by_hand = make_plan(pump.position, by=ruth)
    performance = _done(by_hand, by=ines)
    for _ in range(3 if ahead else 0):
        bench.check()
        make_order(pump.position, by=ruth)
    check = bench.check(FAILING)
    order = WorkOrder.objects.at(site).latest("number")
    serve_as_standard(asset=pump.tester, use=UseTyped(family="source", unit="mA"), by=ruth)
    made = World(
        bench=bench,
        pump=pump,
        unchecked=make_position(site=site),
        people=people,
        use=make_use(position=bench.position, target=pump.position, by=ruth),
        limit=set_limit(position=bench.position, facts=_limit(), by=ruth),
        reading=record_reading(of=bench.position, facts=ReadingFacts("pH", "7.41", "pH", "display"), by=ines),
        qualification=Qualification.objects.filter(site=site).latest("pk"),
        holiday=add_holiday(site=site, day=dt.date(2027, 1, 1), name="New Year", by=ruth),
        running=start_running(site=site, unit=pump.position, by=ines),
        file=make_file(site=site, by=ines),
        handover=_handed_over(ines, ahead=ahead),
        bears=make_bears(bench.position, ruth=ruth, ines=ines),
        override=(forced := _forced(bench.position, by=ines, ahead=ahead)),
        extension=make_extension(forced, by=ines),
        check=check,
        drafts={role: bench.draft(by=people[role]) for role in (Role.OPERATOR.value, Role.SUPERVISOR.value)},
        plan=by_hand,
        item=open_item(by_hand),
        performance=performance,
        order=order,
        step=add_step(order=order, text="Look at the junction", by=ines),
        store=make_store(order, by=ines, keeper=ruth),
        kind=make_kind(site=site, by=ruth),
        walk=_walked(bench.position, ines, ruth, ahead=ahead),
        recall=_withdrawn(bench.lots["4"], by=ruth),
        token=invite(lockout=pump.lockout, person=pump.kim, by=ruth).token,
    )
    for visitor in VISITORS:
        made.cookies[visitor] = _cookies(made, visitor)
    return made


def _site_facts() -> SiteFacts:
    return SiteFacts(name="Elm Reach Works", time_zone="America/Denver", address="https://elm.example.org")


def _locked(site: Site, *, ahead: bool) -> Pump:
    pump = make_pump(site=site)
    if ahead:
        make_neighbour(pump)
    pump.make_verified()
    return pump


def _done(plan: Plan, *, by: Person) -> Performance:
    return record_work(
        occurrence=open_item(plan),
        performed_at=timezone.now() - dt.timedelta(hours=1),
        what="The drip is one a second",
        could_not="",
        key=f"first at {plan.site_id}",
        by=by,
    )


def _handed_over(by: Person, *, ahead: bool) -> Handover:
    for _ in range(2 if ahead else 0):
        make_handover(by=by)
    return make_handover(by=by)


def _walked(position: Position, by: Person, keeper: Person, *, ahead: bool) -> Walk:
    """A walk whose first check point was written twice; and a part of the water balance."""
    for _ in range(2 if ahead else 0):
        make_walk(site=position.site, by=by)
    walk = make_walk(site=position.site, by=by)
    write(stop_of(walk), by=by)
    write(stop_of(walk), by=keeper)
    make_part(position, by=keeper)
    make_strapping(position, by=keeper)
    return walk


def _forced(position: Position, *, by: Person, ahead: bool) -> Override:
    for _ in range(2 if ahead else 0):
        make_override(position, by=by)
    return make_override(position, by=by)


def _limit() -> LimitFacts:
    return LimitFacts(
        name="Permit", side="high", value="9.0", unit="pH", source="made up for a test", from_day=dt.date(2026, 1, 1)
    )


def _cookies(world: World, visitor: str) -> dict[str, str]:
    client = Client()
    if visitor in world.people:
        client.force_login(world.people[visitor], backend="django.contrib.auth.backends.ModelBackend")
    if visitor == LINK:
        client.get(reverse("maintenance:job-enter", args=[world.token]))
    return {name: morsel.value for name, morsel in client.cookies.items()}
