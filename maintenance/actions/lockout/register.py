"""The lock register and the boxes."""

from __future__ import annotations

from assets.errors import Refusal
from assets.models import Company, Person, Role, Site
from assets.permissions import SUPERVISORS, must_have_role, role_of
from maintenance.actions.lockout.opening import LockAct
from maintenance.actions.lockout.seen import Seen
from maintenance.compute.lockout_stamps import STAMP_LENGTH, normal
from maintenance.models import IsolationPoint, Lock, LockBox


def register_lock(
    *, site: Site, number: str, stamp: str, issued_to: Person, by: Person, issuer: Company | None = None
) -> Lock:
    """Register a lock of the plant (no issuer) or of a visiting company, issued to one person who alone uses it."""
    must_have_role(by, site, SUPERVISORS, to="register a lock")
    if role_of(issued_to, site) is None or role_of(issued_to, site) == Role.ADMINISTRATOR:
        raise Refusal(f"{issued_to.name} has no role at this site that works on machines.", field="issued_to")
    if issuer is not None and issued_to.company_id != issuer.pk:
        raise Refusal(
            f"{issued_to.name} is not of {issuer.name}; a company's lock is its own people's.", field="issuer"
        )
    if len(normal(stamp)) < STAMP_LENGTH:
        raise Refusal("Type at least the last three characters stamped on the lock.", field="stamp")
    hashed = Seen.hashed(stamp)
    with LockAct.on_site(site, by) as act:
        lock = act.add(
            Lock(
                site=site,
                issuer=issuer,
                number=number.strip().upper(),
                stamp_hash=hashed,
                issued_to=issued_to,
                registered_at=act.at,
            )
        )
        whose = issuer.name if issuer else "the plant"
        act.write("lock.registered", subject=lock, facts={"whose": whose, "issued to": issued_to.name})
    return lock


def mark_lock_lost(*, lock: Lock, by: Person) -> Lock:
    """Mark a lock lost, so that it cannot be put on again; refused while it is recorded as on."""
    must_have_role(by, lock.site, SUPERVISORS, to="mark a lock lost")
    with LockAct.on_site(lock.site, by) as act:
        act.change(lock, expect={"lost_at": None}, lost_at=act.at)
        act.write("lock.lost", subject=lock)
    return lock


def register_box(*, site: Site, name: str, plate_code: str, by: Person) -> LockBox:
    """Register a lock box; the code on its plate is shown nowhere again."""
    must_have_role(by, site, SUPERVISORS, to="register a lock box")
    code = normal(plate_code)
    if IsolationPoint.objects.filter(site=site, plate_code=code).exists():
        raise Refusal("An isolation point has this plate code; a code belongs to one place.", field="plate_code")
    with LockAct.on_site(site, by) as act:
        box = act.add(LockBox(site=site, name=name.strip(), plate_code=code))
        act.write("box.registered", subject=box)
    return box
