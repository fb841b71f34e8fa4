"""What somebody would try against each lockout rule, through each door; the walk is in test_doors."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.utils import timezone

from assets.actions import retire_person
from assets.models import Person, Role
from assets.proofs import demo_proof
from maintenance.actions.isolation_procedures import approve_procedure
from maintenance.actions.lockout.ending import close_lockout
from maintenance.actions.lockout.hang import take_off
from maintenance.actions.lockout.register import mark_lock_lost
from maintenance.actions.lockout.runs import ask_for_test_run, begin_test_run
from maintenance.actions.lockout.seen import Seen
from maintenance.actions.lockout.steps import record_test
from maintenance.models import Application, Lockout, LockoutEntry, LockoutLine, ProcedureDecision
from tests.maintenance.lockout.browsers import Phone, seen_at
from tests.maintenance.lockout.raw import insert_application, insert_entry, raw, remove_raw
from tests.make import PIN, make_person
from tests.make_locks import YES, Pump, make_neighbour


@dataclass
class Plant:
    """P-2 tested with K-1 on, its pump swapped and unanswered; a lock of another job on the shared breaker."""

    pump: Pump
    phone: Phone
    keeper: Person

    @property
    def k1(self) -> Application:
        return self.pump.application("K-1")


@dataclass(frozen=True)
class Post:
    """One form sent by one person ('phone': by K's link)."""

    by: str
    path: str
    typed: dict[str, str]


@dataclass(frozen=True)
class Rule:
    """What one rule is tried with: an act, a form, rows written by hand; `says` is in every refusal of act and form."""

    says: str
    act: Callable[[Plant], Any]
    post: Callable[[Plant], Post]
    insert: Callable[[Plant], None]
    update: Callable[[Plant], None]
    rows: Callable[[Plant], list[Any]]
    page_says: str = ""


def off_post(plant: Plant, number: str, place: str, by: str, **typed: str) -> Post:
    answers = {f"q{n}": "yes" for n in range(1, 9)}
    path = f"/locks/1/off/{plant.pump.application(number).pk}/"
    return Post(by, path, {**seen_at(plant.pump, number, place), **answers, "proof": PIN, **typed})


def phone_post(plant: Plant, **typed: str) -> Post:
    answers = {f"q{n}": "yes" for n in range(1, 9)}
    sent = {**seen_at(plant.pump, "K-1", "box"), **answers, "proof": plant.phone.code, **typed}
    return Post("phone", f"/job/off/{plant.k1.pk}/", sent)


def test_now(plant: Plant) -> Any:
    pump = plant.pump
    line = pump.lockout.lines.first()
    return record_test(
        lockout=pump.lockout, line=line, tester=pump.tester, reading="0 V", by=pump.ana, proof=demo_proof(pump.ana)
    )


def off_with(plant: Plant, proof: Person) -> Any:
    seen = Seen.at(plant.pump.box, plant.k1.lock, stamp="SK1", plate="BX3")
    return take_off(application=plant.k1, seen=seen, proof=demo_proof(proof), by=plant.pump.kim, answers=YES)


def now() -> Any:
    return timezone.now()


def sql(plant: Plant, statement: str, *values: Any) -> None:
    raw(statement, *values)


def entries(plant: Plant) -> list[Any]:
    return list(LockoutEntry.objects.filter(lockout=plant.pump.lockout)[:3])


def end(plant: Plant, kind: str) -> None:
    insert_entry(plant.pump, kind, topic="10")


RULES: dict[str, Rule] = {
    "L1": Rule(
        says="is still on box 3",
        act=lambda p: p.pump.take("41"),
        post=lambda p: off_post(p, "41", "B-2", "ana"),
        insert=lambda p: insert_application(p.pump, point_id=None, box_id=p.pump.box.pk + 1000),
        update=lambda p: remove_raw(p.pump, "41", p.pump.ana.pk),
        rows=lambda p: [p.pump.application("41")],
    ),
    "L2": Rule(
        says="Nobody else can take it off",
        act=lambda p: p.pump.take("K-1", by=p.pump.ana),
        post=lambda p: off_post(p, "K-1", "box", "ana"),
        insert=lambda p: insert_application(p.pump, applied_by_id=p.pump.ana.pk),
        update=lambda p: remove_raw(p.pump, "K-1", p.pump.ana.pk),
        rows=lambda p: [p.k1],
    ),
    "L3": Rule(
        says="is still on",
        act=lambda p: close_lockout(lockout=p.pump.lockout, by=p.pump.ana),
        post=lambda p: Post("ana", "/locks/1/close/", {}),
        insert=lambda p: end(p, "available"),
        update=lambda p: sql(
            p, "UPDATE maintenance_lockout SET closed_at = %s WHERE id = %s", now(), p.pump.lockout.pk
        ),
        rows=lambda p: [Lockout.objects.get(pk=p.pump.lockout.pk)],
    ),
    "L4": Rule(
        says="Answer first",
        act=test_now,
        post=lambda p: Post(
            "ana",
            f"/locks/1/test/{p.pump.lockout.lines.first().pk}/",
            {"tester": str(p.pump.tester.pk), "reading": "0 V", "proof": PIN},
        ),
        insert=lambda p: insert_entry(p.pump, "tested", line_id=p.pump.lockout.lines.first().pk, text="0 V"),
        update=lambda p: sql(
            p, "UPDATE maintenance_lockoutentry SET number = number + 900 WHERE lockout_id = %s", p.pump.lockout.pk
        ),
        rows=entries,
    ),
    "L5": Rule(
        says="author of a procedure does not approve it",
        act=lambda p: approve_procedure(
            version=p.pump.version, by=p.pump.version.written_by, proof=demo_proof(p.pump.version.written_by)
        ),
        post=lambda p: Post("noor", f"/locks/procedure/revision/{p.pump.version.pk}/approve/", {"proof": PIN}),
        insert=lambda p: sql(
            p,
            "INSERT INTO maintenance_lockoutline (lockout_id, number, energy, point_id, safe_state, relief, test,"
            " added_number) VALUES (%s, 9, 'x', %s, '', '', '', 0)",
            p.pump.lockout.pk,
            p.pump.points["B-2"].pk,
        ),
        update=lambda p: sql(
            p, "UPDATE maintenance_lockoutline SET test = 'none' WHERE lockout_id = %s", p.pump.lockout.pk
        ),
        rows=lambda p: [LockoutLine.objects.first(), ProcedureDecision.objects.first()],
    ),
    "L6": Rule(
        says="one lock hangs in one place",
        act=lambda p: p.pump.hang("43", p.pump.points["V-21"]),
        post=lambda p: Post(
            "ben",
            f"/locks/1/on/{p.pump.lockout.lines.get(point=p.pump.points['V-21']).pk}/",
            {"lock": str(p.pump.locks["43"].pk), **seen_at(p.pump, "43", "V-21"), "proof": PIN},
        ),
        insert=lambda p: insert_application(p.pump, lock_id=p.pump.locks["43"].pk, applied_by_id=p.pump.ben.pk),
        update=lambda p: sql(
            p,
            "UPDATE maintenance_application SET lock_id = %s WHERE id = %s",
            p.pump.locks["43"].pk,
            p.pump.application("41").pk,
        ),
        rows=lambda p: [p.pump.application("43")],
    ),
    "L8": Rule(
        says="Lock 44 of Ben",
        act=lambda p: ask_for_test_run(lockout=p.pump.lockout, why="rotation", by=p.pump.kim),
        post=lambda p: Post("phone", "/job/run/", {"why": "rotation"}),
        insert=lambda p: end(p, "test run begun"),
        update=lambda p: sql(
            p,
            "UPDATE maintenance_pointofposition SET to_at = %s WHERE point_id = %s",
            now(),
            p.pump.points["B-2"].pk,
        ),
        rows=lambda p: [p.pump.application("44"), p.pump.points["B-2"]],
    ),
    "L10": Rule(
        says="recorded as on; it cannot be marked lost",
        act=lambda p: mark_lock_lost(lock=p.pump.locks["K-1"], by=p.pump.ruth),
        post=lambda p: Post("ruth", f"/locks/register/{p.pump.locks['K-1'].pk}/lost/", {}),
        insert=lambda p: insert_application(p.pump, removed_at=now()),
        update=lambda p: sql(p, "UPDATE maintenance_application SET removed_at = %s WHERE id = %s", now(), p.k1.pk),
        rows=lambda p: [p.pump.locks["K-1"]],
    ),
    "L12": Rule(
        says="Lock K-1 of K is on",
        act=lambda p: retire_person(site=p.pump.site, person=p.pump.kim, by=p.keeper),
        post=lambda p: Post("keeper", f"/people/{p.pump.kim.pk}/retire/", {}),
        insert=lambda p: insert_application(p.pump, lock_id=p.pump.locks["K-1"].pk, applied_by_id=p.pump.kim.pk),
        update=lambda p: sql(p, "UPDATE assets_person SET is_active = %s WHERE id = %s", False, p.pump.kim.pk),
        rows=lambda p: [p.pump.kim],
    ),
    "L14": Rule(
        says="Waiting for Ana",
        act=lambda p: p.pump.take("K-1"),
        post=phone_post,
        insert=lambda p: end(p, "available"),
        update=lambda p: sql(
            p,
            "UPDATE maintenance_lockout SET position_id = (SELECT MAX(id) FROM assets_position) WHERE id = %s",
            p.pump.lockout.pk,
        ),
        rows=lambda p: [Lockout.objects.get(pk=p.pump.lockout.pk)],
    ),
    "L16": Rule(
        says="Ask for the test run first",
        act=lambda p: begin_test_run(lockout=p.pump.lockout, minutes=10, by=p.pump.ana, proof=demo_proof(p.pump.ana)),
        post=lambda p: Post("ana", "/locks/1/run/begin/", {"minutes": "10", "proof": PIN}),
        insert=lambda p: end(p, "test run begun"),
        update=lambda p: sql(
            p, "UPDATE maintenance_lockoutentry SET kind = 'test run begun' WHERE id = %s", entries(p)[0].pk
        ),
        rows=entries,
    ),
    "L17": Rule(
        says="another person",
        act=lambda p: off_with(p, p.pump.ana),
        post=lambda p: off_post(p, "K-1", "box", "ben"),
        insert=lambda p: insert_application(p.pump, applied_by_id=p.pump.kim.pk),
        update=lambda p: sql(
            p, "UPDATE maintenance_application SET applied_by_id = %s WHERE id = %s", p.pump.ana.pk, p.k1.pk
        ),
        rows=lambda p: [p.k1],
        page_says="Nobody else can take it off",
    ),
    "L22": Rule(
        says="Everybody out and clear of the machine: not answered.",
        act=lambda p: p.pump.take("K-1", answers={t: a for t, a in YES.items() if not t.startswith("Everybody")}),
        post=lambda p: phone_post(p, q8=""),
        insert=lambda p: insert_entry(p.pump, "answered", topic="Everybody out", answer="?"),
        update=lambda p: sql(
            p, "UPDATE maintenance_lockoutentry SET recorded_at = %s WHERE id = %s", now(), entries(p)[0].pk
        ),
        rows=entries,
    ),
    "L23": Rule(
        says="Lockout 1 is not closed",
        act=lambda p: p.pump.accept(),
        post=lambda p: Post("ben", "/locks/1/accept/", {"proof": PIN}),
        insert=lambda p: end(p, "available"),
        update=lambda p: sql(
            p, "UPDATE maintenance_lockoutentry SET kind = 'available' WHERE id = %s", entries(p)[0].pk
        ),
        rows=entries,
    ),
    "L24": Rule(
        says="Selector left at: nothing is written",
        act=lambda p: p.pump.accept(lines={}),
        post=lambda p: Post("ben", "/locks/1/accept/", {"proof": PIN, "a1": "good"}),
        insert=lambda p: end(p, "available"),
        update=lambda p: sql(
            p,
            "UPDATE maintenance_lockoutentry SET text = 'auto' WHERE kind = 'selector found' AND lockout_id = %s",
            p.pump.lockout.pk,
        ),
        rows=entries,
    ),
}


def make_plant(verified: Pump) -> Plant:
    """Bring the verified pump to where every rule has something to refuse."""
    second = make_neighbour(verified)
    second.hang("44", verified.points["B-2"])
    verified.swap()
    phone = Phone(verified)
    phone.enter()
    return Plant(verified, phone, make_person(site=verified.site, role=Role.ADMINISTRATOR))


__all__ = ["RULES", "Plant", "Post", "Rule", "make_plant"]
