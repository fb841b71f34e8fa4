"""The rows of lockouts, read as the stories that `compute.lockout` judges; the same few queries for one or many."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import TypeVar

from django.db.models import Model, Q, QuerySet

from assets.models import Fitting, Membership, Person, Position, Role
from maintenance.compute.lockout import Fitted, Foreign, Hung, Note, Source, Story, Who
from maintenance.models import Application, Lockout, LockoutEntry, LockoutLine, ProcedureDecision
from maintenance.queries import ApplicationQuerySet

Row = TypeVar("Row", bound=Model)
MAY_BE_IN_CHARGE = frozenset({Role.OPERATOR, Role.SUPERVISOR})


def who(person: Person) -> Who:
    """A person as a page names them."""
    return Who(person.pk, person.name, person.phone)


def story_of(lockout: Lockout) -> Story:
    """Read one lockout as it stands in the database now."""
    return stories_of(Lockout.objects.filter(pk=lockout.pk))[lockout.pk]


def stories_of(lockouts: QuerySet[Lockout]) -> dict[int, Story]:
    """Read lockouts, by their primary key; the number of queries does not depend on how many there are."""
    rows = list(lockouts.select_related("position", "version__written_for", "in_charge", "box", "site"))
    ids = [row.pk for row in rows]
    lines = _by_lockout(LockoutLine.objects.filter(lockout__in=ids).select_related("point"))
    hung = _by_lockout(_applications().filter(lockout__in=ids))
    notes = _by_lockout(LockoutEntry.objects.filter(lockout__in=ids).select_related("by", "tester"))
    fitted = {
        f.position_id: Fitted(f.pk, f.asset_id, str(f.asset))
        for f in Fitting.objects.now().filter(position__in=[r.position_id for r in rows]).select_related("asset")
    }
    foreign = _foreign_of(rows, lines)
    runs = _runs_elsewhere(rows, lines)
    in_charge = _may_be_in_charge(rows)
    withdrawn = {
        d.version_id: d.why
        for d in ProcedureDecision.objects.filter(version__in=[r.version_id for r in rows], kind="withdrawn")
    }
    return {
        row.pk: Story(
            number=row.number,
            tag=row.position.tag,
            revision=row.version.revision,
            in_charge=who(row.in_charge),
            in_charge_may=(row.site_id, row.in_charge_id) in in_charge,
            box_id=row.box_id,
            box=str(row.box or ""),
            written_for_id=row.version.written_for_id,
            written_for=str(row.version.written_for or ""),
            fitted=fitted.get(row.position_id),
            withdrawn_because=withdrawn.get(row.version_id, ""),
            questions=lines_of(row.version.closing),
            acceptance=lines_of(row.version.acceptance),
            sources=tuple(_source(line) for line in lines[row.pk]),
            hung=tuple(hung_of(application) for application in hung[row.pk]),
            notes=tuple(_note(entry) for entry in notes[row.pk]),
            foreign=foreign[row.pk],
            runs_elsewhere=runs[row.pk],
            closed_at=row.closed_at,
        )
        for row in rows
    }


def lines_of(text: str) -> tuple[str, ...]:
    """The lines of a procedure's list, without empty ones and without repeats."""
    return tuple(dict.fromkeys(line.strip() for line in text.splitlines() if line.strip()))


def locks_of_anyone(position: Position, *, lockout: Lockout | None = None) -> tuple[Foreign, ...]:
    """Locks of anyone that keep a position from running: on its points, in its lockouts, on points a lockout used."""
    stopping = (
        Q(point__serves__position=position, point__serves__to_at__isnull=True)
        | Q(lockout__position=position)
        | Q(point__in=LockoutLine.objects.filter(lockout=lockout).values("point") if lockout else [])
    )
    rows = _applications().on().filter(stopping).distinct().order_by("lockout__number", "number")
    return tuple(_foreign(application) for application in rows)


def hung_of(application: Application) -> Hung:
    """One lock record; its lock, owner and place are read with it."""
    point = application.point
    return Hung(
        id=application.pk,
        number=application.number,
        lock_id=application.lock_id,
        lock=application.lock.number,
        owner=who(application.applied_by),
        point_id=application.point_id,
        box_id=application.box_id,
        place=f"{point.kind} {point.name}" if point else str(application.box),
        on_at=application.applied_at,
        key_in=application.key_in_box_number,
        off_number=application.removed_number,
        off_at=application.removed_at,
        recorded_at=application.recorded_at,
    )


def _applications() -> ApplicationQuerySet:
    return Application.objects.select_related("lock", "applied_by", "point", "box", "lockout")


def _by_lockout(rows: Iterable[Row]) -> defaultdict[int, list[Row]]:
    found: defaultdict[int, list[Row]] = defaultdict(list)
    for row in rows:
        found[row.lockout_id].append(row)  # type: ignore[attr-defined]
    return found


def _source(line: LockoutLine) -> Source:
    return Source(
        id=line.pk,
        number=line.number,
        energy=line.energy,
        point_id=line.point_id,
        point=f"{line.point.kind} {line.point.name}" if line.point else "",
        safe_state=line.safe_state,
        relief=line.relief,
        test=line.test,
        added_number=line.added_number,
    )


def _note(entry: LockoutEntry) -> Note:
    return Note(
        number=entry.number,
        kind=entry.kind,
        by=who(entry.by),
        at=entry.happened_at,
        recorded_at=entry.recorded_at,
        topic=entry.topic,
        answer=entry.answer,
        text=entry.text,
        source_id=entry.line_id,
        fitting_id=entry.fitting_id,
        tester=str(entry.tester or ""),
    )


def _foreign(application: Application) -> Foreign:
    place = hung_of(application).place
    return Foreign(application.lock.number, who(application.applied_by), place, application.lockout.number)


def _foreign_of(rows: Sequence[Lockout], lines: dict[int, list[LockoutLine]]) -> dict[int, tuple[Foreign, ...]]:
    """Locks of other lockouts on points that each of these uses, whichever position they serve."""
    points = {line.point_id for of_one in lines.values() for line in of_one if line.point_id}
    on = list(_applications().on().filter(point__in=points))
    found = {}
    for row in rows:
        used = {line.point_id for line in lines[row.pk]}
        found[row.pk] = tuple(_foreign(a) for a in on if a.point_id in used and a.lockout_id != row.pk)
    return found


def _runs_elsewhere(
    rows: Sequence[Lockout], lines: dict[int, list[LockoutLine]]
) -> dict[int, tuple[tuple[int, int], ...]]:
    """Points of each lockout at which a test run of another one is under way."""
    points = {line.point_id for of_one in lines.values() for line in of_one if line.point_id}
    using = LockoutLine.objects.filter(point__in=points, lockout__closed_at=None)
    pairs = list(using.values_list("point_id", "lockout_id", "lockout__number"))
    kinds = ["test run begun", "test run ended"]
    entries = LockoutEntry.objects.filter(lockout__in={lockout for _, lockout, _ in pairs}, kind__in=kinds)
    newest = dict(entries.order_by("number").values_list("lockout_id", "kind"))
    running = {lockout for lockout, kind in newest.items() if kind == "test run begun"}
    found = {}
    for row in rows:
        used = {line.point_id for line in lines[row.pk]}
        found[row.pk] = tuple((p, n) for p, of, n in pairs if p in used and of in running and of != row.pk)
    return found


def _may_be_in_charge(rows: Sequence[Lockout]) -> set[tuple[int, int]]:
    people = Membership.objects.now().filter(person__in={r.in_charge_id for r in rows}, role__in=MAY_BE_IN_CHARGE)
    return set(people.values_list("site_id", "person_id"))
