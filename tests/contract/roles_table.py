"""Which role may do what at each address: written down here by hand, apart from the code that decides it.

`gets` and `posts` are the roles that may open and send; None: this address knows no such request (405). A signed-out
visitor is sent to the sign-in page unless the address is for everybody. A contractor's job is no page of the plant: it
is there for who holds a link to it, and for nobody else does it exist.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from tests.contract.roles_world import World

V, O, S, A = "viewer", "operator", "supervisor", "administrator"  # noqa: E741 - the letters of the table
READ = frozenset({V, O, S})
WORK = frozenset({O, S})
KEEP = frozenset({S})
PEOPLE = frozenset({S, A})
NOBODY: frozenset[str] = frozenset()
ALL = frozenset({V, O, S, A})

Names = Callable[[World, str], dict[str, Any]]


@dataclass(frozen=True)
class Row:
    """One address. `names` gives its parts from a world and the visitor; empty when it names no record."""

    gets: frozenset[str] | None
    posts: frozenset[str] | None = None
    names: Names | None = None
    public: bool = False
    job: bool = False
    unseen: frozenset[str] = frozenset()  # to these it is not there, instead of forbidden
    everywhere: bool = False  # its parts name no record, but something that every site has
    secret: bool = False  # the address itself is the key: whoever has it comes in


def page(gets: frozenset[str], names: Names | None = None) -> Row:
    """An address that is only read."""
    return Row(gets, None, names)


def form(roles: frozenset[str], names: Names | None = None) -> Row:
    """A form and its sending, for the same roles."""
    return Row(roles, roles, names)


def press(roles: frozenset[str], names: Names | None = None) -> Row:
    """An address that is only sent to."""
    return Row(None, roles, names)


def job(row: Row) -> Row:
    """An address of a contractor's job."""
    return replace(row, job=True)


def pk(of: Callable[[World], Any]) -> Names:
    """An address with the key of a record."""
    return lambda world, visitor: {"pk": of(world).pk}


def part(of: Callable[[World], Any]) -> Names:
    """An address with the number of the lockout and the key of a part of it."""
    return lambda world, visitor: {"number": world.pump.lockout.number, "pk": of(world).pk}


def number(of: Callable[[World], Any]) -> Names:
    """An address with the number of a record."""
    return lambda world, visitor: {"number": of(world).number}


def code(world: World, visitor: str) -> dict[str, Any]:
    """The code on the label of a tag."""
    return {"code": world.bench.position.label_code}


def own_draft(world: World, visitor: str) -> dict[str, Any]:
    """A draft of the visitor's own."""
    return {"pk": world.draft_of(visitor).pk}


def step(world: World, visitor: str) -> dict[str, Any]:
    """A step of a work order."""
    return {"number": world.order.number, "step": world.step.number}


def of_order(of: Callable[[World], Any]) -> Names:
    """A record written on a work order."""
    return lambda world, visitor: {"number": world.order.number, "pk": of(world).pk}


def of_template(of: Callable[[World], Any]) -> Names:
    """A line of a template."""
    return lambda world, visitor: {"pk": world.store.template.pk, "line": of(world).pk}


def log(world: World, visitor: str) -> dict[str, Any]:
    """The history of a tag."""
    return {"kind": "assets.position", "pk": world.bench.position.pk}


AREA = pk(lambda w: w.bench.position.area)
TAG = pk(lambda w: w.bench.position)
MACHINE = pk(lambda w: w.pump.position)
ASSET = pk(lambda w: w.pump.tester)
PERSON = pk(lambda w: w.pump.ben)
ORDER = number(lambda w: w.order)
PART = pk(lambda w: w.store.part)
TEMPLATE = pk(lambda w: w.store.template)
OVERRIDE = number(lambda w: w.override)
CHECK = number(lambda w: w.check)
LOCKOUT = number(lambda w: w.pump.lockout)
LINE = part(lambda w: w.pump.lockout.lines.exclude(point=None)[0])
OWN_LOCK = part(lambda w: w.application("41"))
POINT = pk(lambda w: w.pump.points["B-2"])
REVISION = pk(lambda w: w.pump.version)
LOT = pk(lambda w: w.bench.lots["7"])
ROUND = pk(lambda w: w.walk.round)
WALK = number(lambda w: w.walk)
CHECK_POINT = pk(lambda w: w.check_point)

TABLE: dict[str, Row] = {
    # spanwell
    "today": page(ALL),
    "tag": page(READ, code),
    "do": page(WORK, pk(lambda w: w.item)),
    "review": page(READ),
    "figures": page(READ),
    "figures-csv": page(READ),
    "figures-xlsx": page(READ),
    "ahead": page(READ),
    "ahead-csv": page(READ),
    "ahead-xlsx": page(READ),
    "words": Row(ALL, None, public=True),
    # the plant
    "assets:sign-in": Row(ALL, ALL, public=True),
    "assets:sign-out": Row(None, ALL, public=True),
    "assets:me": form(ALL),
    "assets:plant": page(READ),
    "assets:labels": page(READ),
    "assets:import": form(KEEP),
    "assets:export": page(READ),
    "assets:export-xlsx": page(READ),
    "assets:area-new": form(KEEP),
    "assets:area-edit": form(KEEP, AREA),
    "assets:area-retire": form(KEEP, AREA),
    "assets:position-new": form(KEEP),
    "assets:position-edit": form(KEEP, TAG),
    "assets:position-retire": form(KEEP, TAG),
    "assets:fit": form(WORK, TAG),
    "assets:use-new": form(KEEP, TAG),
    "assets:limit-new": form(KEEP, TAG),
    "assets:reading-new": form(WORK, TAG),
    "assets:use-end": form(KEEP, pk(lambda w: w.use)),
    "assets:limit-end": form(KEEP, pk(lambda w: w.limit)),
    "assets:reading-correct": form(WORK, pk(lambda w: w.reading)),
    "assets:label": page(READ, code),
    "assets:assets": page(READ),
    "assets:asset-new": form(KEEP),
    "assets:asset": page(READ, ASSET),
    "assets:asset-edit": form(KEEP, ASSET),
    "assets:asset-retire": form(KEEP, ASSET),
    # people
    "assets:people": page(ALL),
    "assets:person-new": form(PEOPLE),
    "assets:person": page(ALL, PERSON),
    "assets:person-edit": form(PEOPLE, PERSON),
    "assets:role-change": form(PEOPLE, PERSON),
    "assets:person-password": form(PEOPLE, PERSON),
    "assets:person-pin-clear": form(PEOPLE, PERSON),
    "assets:person-retire": form(PEOPLE, PERSON),
    "assets:qualification-new": form(PEOPLE, PERSON),
    "assets:qualification-end": form(PEOPLE, pk(lambda w: w.qualification)),
    "assets:company-new": form(PEOPLE),
    "assets:company-edit": form(PEOPLE, pk(lambda w: w.pump.company)),
    "assets:site-edit": form(PEOPLE),
    "assets:rules": page(READ),
    "assets:rule-set": replace(form(KEEP, lambda world, visitor: {"name": "grab_hours"}), everywhere=True),
    "assets:holiday-new": form(KEEP),
    "assets:holiday-withdraw": form(KEEP, pk(lambda w: w.holiday)),
    "assets:running": page(READ),
    "assets:running-start": form(WORK),
    "assets:running-stop": form(WORK, pk(lambda w: w.running)),
    "assets:running-withdraw": form(KEEP, pk(lambda w: w.running)),
    "assets:file": page(READ, pk(lambda w: w.file)),
    "assets:file-shown": page(READ, pk(lambda w: w.file)),
    "assets:history": Row(READ, None, log, unseen=frozenset({A})),
    # upkeep
    "maintenance:due": page(READ),
    "maintenance:routines": page(READ),
    "maintenance:routine-new": form(KEEP),
    "maintenance:routines-offered": page(KEEP),
    "maintenance:routine": page(READ, pk(lambda w: w.plan)),
    "maintenance:term-new": form(KEEP, pk(lambda w: w.plan)),
    "maintenance:routine-retire": form(KEEP, pk(lambda w: w.plan)),
    "maintenance:pause-new": form(KEEP, pk(lambda w: w.plan)),
    "maintenance:pause-end": form(KEEP, pk(lambda w: w.bears.pause)),
    "maintenance:fulfils-new": form(KEEP, pk(lambda w: w.plan)),
    "maintenance:fulfils-end": form(KEEP, pk(lambda w: w.bears.fulfils)),
    "maintenance:need-new": form(KEEP, pk(lambda w: w.plan)),
    "maintenance:need-end": press(KEEP, pk(lambda w: w.bears.need)),
    "maintenance:deferral-new": form(WORK, pk(lambda w: w.item)),
    "maintenance:deferral-approve": form(KEEP, pk(lambda w: w.bears.deferral)),
    "maintenance:deferral-refuse": form(KEEP, pk(lambda w: w.bears.deferral)),
    "maintenance:performance-new": form(WORK, pk(lambda w: w.item)),
    "maintenance:performance-correct": form(WORK, pk(lambda w: w.performance)),
    "maintenance:reliability": page(READ, code),
    "maintenance:orders": page(READ),
    "maintenance:order-new": form(WORK),
    "maintenance:order": page(READ, ORDER),
    "maintenance:order-plan": form(KEEP, ORDER),
    "maintenance:order-start": press(WORK, ORDER),
    "maintenance:order-wait": form(WORK, ORDER),
    "maintenance:order-resume": press(WORK, ORDER),
    "maintenance:order-finish": form(WORK, ORDER),
    "maintenance:order-accept": press(KEEP, ORDER),
    "maintenance:order-send-back": form(KEEP, ORDER),
    "maintenance:order-withdraw": form(KEEP, ORDER),
    "maintenance:order-step-new": form(WORK, ORDER),
    "maintenance:order-step-done": press(WORK, step),
    "maintenance:orders-csv": page(READ),
    "maintenance:orders-xlsx": page(READ),
    "maintenance:order-ask": form(READ),
    "maintenance:order-labour": form(WORK, ORDER),
    "maintenance:order-labour-correct": form(WORK, of_order(lambda w: w.store.labour)),
    "maintenance:order-part": form(WORK, ORDER),
    "maintenance:order-cost": form(KEEP, ORDER),
    "maintenance:order-cost-correct": form(KEEP, of_order(lambda w: w.store.cost)),
    "maintenance:order-failure": form(WORK, ORDER),
    "maintenance:order-files": form(WORK, ORDER),
    "maintenance:order-checks": form(WORK, ORDER),
    "maintenance:order-check-end": form(KEEP, of_order(lambda w: w.store.check)),
    "maintenance:parts": page(READ),
    "maintenance:parts-csv": page(READ),
    "maintenance:parts-xlsx": page(READ),
    "maintenance:part-new": form(KEEP),
    "maintenance:part": page(READ, PART),
    "maintenance:part-change": form(KEEP, PART),
    "maintenance:part-receive": form(WORK, PART),
    "maintenance:part-count": form(WORK, PART),
    "maintenance:part-scrap": form(WORK, PART),
    "maintenance:part-retire": form(KEEP, PART),
    "maintenance:order-templates": page(READ),
    "maintenance:order-template-new": form(KEEP),
    "maintenance:order-template": page(READ, TEMPLATE),
    "maintenance:order-template-change": form(KEEP, TEMPLATE),
    "maintenance:order-template-retire": form(KEEP, TEMPLATE),
    "maintenance:order-template-step": form(KEEP, TEMPLATE),
    "maintenance:order-template-step-end": press(KEEP, of_template(lambda w: w.store.step)),
    "maintenance:order-template-part": form(KEEP, TEMPLATE),
    "maintenance:order-template-part-end": press(KEEP, of_template(lambda w: w.store.needed)),
    "maintenance:hand-over": form(WORK),
    "maintenance:handovers": page(READ),
    "maintenance:handover": form(READ, number(lambda w: w.handover)),
    "maintenance:own-messages": form(WORK),
    "maintenance:overrides": page(READ),
    "maintenance:override-new": form(WORK, code),
    "maintenance:override": page(READ, OVERRIDE),
    "maintenance:override-approve": form(KEEP, OVERRIDE),
    "maintenance:override-refuse": form(KEEP, OVERRIDE),
    "maintenance:override-on": form(WORK, OVERRIDE),
    "maintenance:override-extend": form(WORK, OVERRIDE),
    "maintenance:extension-grant": form(KEEP, pk(lambda w: w.extension)),
    "maintenance:extension-refuse": form(KEEP, pk(lambda w: w.extension)),
    "maintenance:override-look": form(WORK, OVERRIDE),
    "maintenance:override-take-over": form(WORK, OVERRIDE),
    "maintenance:override-off": form(WORK, OVERRIDE),
    "maintenance:override-restored": form(WORK, OVERRIDE),
    "maintenance:override-not-restored": form(WORK, OVERRIDE),
    # the walk
    "maintenance:walks": page(READ),
    "maintenance:walks-csv": page(READ),
    "maintenance:walks-xlsx": page(READ),
    "maintenance:walk-worker": Row(ALL, None, public=True),
    "maintenance:walk-begin": press(WORK, ROUND),
    "maintenance:walk": page(READ, WALK),
    "maintenance:walk-end": press(WORK, WALK),
    "maintenance:walk-point": form(WORK, lambda w, visitor: {"number": w.walk.number, "point": 1}),
    "maintenance:walk-second": press(WORK, pk(lambda w: w.second)),
    "maintenance:rounds": page(READ),
    "maintenance:round-new": form(KEEP),
    "maintenance:round": page(READ, ROUND),
    "maintenance:round-edit": form(KEEP, ROUND),
    "maintenance:round-retire": press(KEEP, ROUND),
    "maintenance:check-point-new": form(KEEP, ROUND),
    "maintenance:check-point-edit": form(KEEP, CHECK_POINT),
    "maintenance:check-point-place": form(KEEP, CHECK_POINT),
    "maintenance:check-point-retire": press(KEEP, CHECK_POINT),
    "maintenance:line-new": form(KEEP, CHECK_POINT),
    "maintenance:line-edit": form(KEEP, pk(lambda w: w.check_point.lines.first())),
    "maintenance:line-end": press(KEEP, pk(lambda w: w.check_point.lines.first())),
    "maintenance:walk-day": page(READ),
    "maintenance:balance-new": form(KEEP),
    "maintenance:balance-end": form(KEEP, pk(lambda w: w.balance_part)),
    "maintenance:strappings": page(READ),
    "maintenance:strapping": page(READ, pk(lambda w: w.strapping)),
    "maintenance:strapping-new": form(KEEP),
    "maintenance:strapping-end": form(KEEP, pk(lambda w: w.strapping)),
    # locks
    "maintenance:locks": page(READ),
    "maintenance:lockout-new": form(WORK, MACHINE),
    "maintenance:points": page(READ),
    "maintenance:point-new": form(KEEP),
    "maintenance:point-serve": form(KEEP, POINT),
    "maintenance:point-retire": press(KEEP, POINT),
    "maintenance:service-end": press(KEEP, pk(lambda w: w.pump.points["B-2"].serves.first())),
    "maintenance:lock-register": page(READ),
    "maintenance:lock-new": form(KEEP),
    "maintenance:lock-lost": press(KEEP, pk(lambda w: w.pump.locks["44"])),
    "maintenance:boxes": page(READ),
    "maintenance:box-new": form(KEEP),
    "maintenance:procedure": page(READ, MACHINE),
    "maintenance:procedure-new": form(KEEP, MACHINE),
    "maintenance:procedure-approve": form(KEEP, REVISION),
    "maintenance:procedure-withdraw": form(WORK, REVISION),
    "maintenance:lockout": page(READ, LOCKOUT),
    "maintenance:lockout-record": page(READ, LOCKOUT),
    "maintenance:lockout-tell-before": form(WORK, LOCKOUT),
    "maintenance:lockout-down": form(WORK, LOCKOUT),
    "maintenance:lockout-set": form(WORK, LINE),
    "maintenance:lockout-relieve": form(WORK, LINE),
    "maintenance:lockout-key": form(WORK, OWN_LOCK),
    "maintenance:lockout-close-box": form(WORK, LOCKOUT),
    "maintenance:lockout-test": form(WORK, LINE),
    "maintenance:lockout-add-point": form(WORK, LOCKOUT),
    "maintenance:lockout-charge": form(WORK, LOCKOUT),
    "maintenance:lockout-on-point": form(WORK, LINE),
    "maintenance:lockout-on-box": form(WORK, LOCKOUT),
    # Who has a lock on takes it off, whatever became of their role; a viewer has none and is told whose it is.
    "maintenance:lockout-off": form(READ, OWN_LOCK),
    "maintenance:lockout-answers": form(WORK, LOCKOUT),
    "maintenance:lockout-fits": form(WORK, LOCKOUT),
    "maintenance:lockout-run-ask": form(WORK, LOCKOUT),
    "maintenance:lockout-run-begin": form(WORK, LOCKOUT),
    "maintenance:lockout-run-end": form(WORK, LOCKOUT),
    "maintenance:lockout-close": form(WORK, LOCKOUT),
    "maintenance:lockout-tell-after": form(WORK, LOCKOUT),
    "maintenance:lockout-accept": form(WORK, LOCKOUT),
    "maintenance:invite": form(KEEP, LOCKOUT),
    # a contractor's job
    "maintenance:job-enter": Row(ALL, None, lambda world, visitor: {"token": world.token}, public=True, secret=True),
    "maintenance:job": job(page(NOBODY)),
    "maintenance:job-on": job(press(NOBODY)),
    "maintenance:job-off": job(press(NOBODY, pk(lambda w: w.application("K-1")))),
    "maintenance:job-answers": job(press(NOBODY)),
    "maintenance:job-run": job(press(NOBODY)),
    "maintenance:job-leave": Row(None, ALL, public=True),
    # checks
    "calibration:checks": page(READ),
    "calibration:checks-csv": page(READ),
    "calibration:checks-xlsx": page(READ),
    "calibration:check": page(READ, CHECK),
    "calibration:check-paper": page(READ, CHECK),
    "calibration:check-dcc": page(READ, CHECK),
    "calibration:correct": form(WORK, CHECK),
    "calibration:check-review": press(KEEP, CHECK),
    "calibration:check-start": form(WORK, pk(lambda w: w.bench.requirement)),
    "calibration:draft": form(WORK, own_draft),
    "calibration:draft-work": press(WORK, own_draft),
    "calibration:draft-sign": press(WORK, own_draft),
    "calibration:draft-discard": press(WORK, own_draft),
    "calibration:standards": page(READ),
    "calibration:lot-new": form(KEEP),
    "calibration:lot": page(READ, LOT),
    "calibration:lot-fact": form(WORK, LOT),
    "calibration:certificates-in": form(KEEP),
    "calibration:certificate-new": form(KEEP, ASSET),
    "calibration:kind": page(READ, pk(lambda w: w.kind)),
    "calibration:kind-new": form(KEEP),
    "calibration:dilution-new": form(WORK),
    "calibration:lot-assign": form(WORK, LOT),
    "calibration:recall-lot": form(KEEP, LOT),
    "calibration:instrument": page(READ, ASSET),
    "calibration:instrument-serve": form(KEEP, ASSET),
    "calibration:instrument-end": form(KEEP, ASSET),
    "calibration:instrument-intake": form(KEEP, ASSET),
    "calibration:instrument-send": form(WORK, ASSET),
    "calibration:instrument-back": form(WORK, ASSET),
    "calibration:recall-asset": form(KEEP, ASSET),
    "calibration:recall": page(READ, pk(lambda w: w.recall)),
    "calibration:history-of": page(READ, pk(lambda w: w.bench.requirement)),
    "calibration:baseline": press(KEEP, pk(lambda w: w.bench.requirement)),
    "calibration:interval": press(KEEP, pk(lambda w: w.bench.requirement)),
    "calibration:requirement": Row(READ, KEEP, pk(lambda w: w.bench.requirement)),
    "calibration:requirement-new": form(KEEP, pk(lambda w: w.unchecked)),
}
