"""What a person read where the lock hangs: the lock's stamp and the code on the plate. Presence is not proven by it."""

from __future__ import annotations

from dataclasses import dataclass

from django.contrib.auth.hashers import check_password, make_password

from assets.errors import Reason, Refusal
from maintenance.compute.lockout_stamps import last_of, normal
from maintenance.models import IsolationPoint, Lock, LockBox

PRESENCE = "entered, presence not proven"


@dataclass(frozen=True, slots=True)
class Seen:
    """The stamp of one lock and the plate code of one place were typed rightly; built by `at` alone."""

    lock_id: int
    point_id: int | None
    box_id: int | None

    @classmethod
    def at(cls, place: IsolationPoint | LockBox, lock: Lock, *, stamp: str, plate: str) -> Seen:
        """Compare what was typed with the stamp and the plate code; raises Refusal naming each that differs.

        Done before the transaction: the stamp is kept hashed, and comparing it takes time on purpose.
        """
        reasons = []
        if not check_password(normal(stamp), lock.stamp_hash):
            reasons.append(
                Reason(
                    f"These are not the last three characters stamped on lock {lock.number}; read the lock.", "stamp"
                )
            )
        if normal(plate) != normal(place.plate_code):
            reasons.append(Reason(f"This is not the code on the plate of {place}; read the plate.", "plate"))
        if reasons:
            raise Refusal(reasons)
        is_point = isinstance(place, IsolationPoint)
        return cls(lock.pk, place.pk if is_point else None, None if is_point else place.pk)

    def must_be(self, lock_id: int, *, point_id: int | None, box_id: int | None) -> None:
        """Refuse when something else was read than what the act is about."""
        if (self.lock_id, self.point_id, self.box_id) != (lock_id, point_id, box_id):
            raise Refusal("What was read belongs to another lock or place; read this one.", field="stamp")

    @staticmethod
    def hashed(stamp: str) -> str:
        """Return what is kept of a stamp: the hash of its last three characters."""
        return make_password(last_of(stamp))
