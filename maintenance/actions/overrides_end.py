"""Forced values, holds, bypasses, shelved alarms: taken over at a change of shift, taken off, seen to work again."""

from __future__ import annotations

import datetime as dt

from assets import history
from assets.compute.canonical import digest
from assets.errors import Reason, Refusal
from assets.history import UPKEEP
from assets.models import Asset, Person, Position
from assets.permissions import OPERATORS, must_have_role
from assets.proofs import Proof, sign
from maintenance.models import Override, Restoration, WorkOrder

A_MINUTE = dt.timedelta(minutes=1)


def take_over_override(*, override: Override, by: Person) -> Override:
    """Carry it from now on; until somebody takes it over, who carries it goes on carrying it."""
    must_have_role(by, override.site, OPERATORS, to="carry a forced value")
    with history.act(site=override.site, by=by) as act:
        history.lock_site(UPKEEP, override.site)
        override.refresh_from_db()
        if override.restored_at is not None:
            raise Refusal(f"{str(override).capitalize()} has ended.")
        if override.owner_id == by.pk:
            raise Refusal("You carry it already.")
        was = override.owner.name
        shown = override.version
        act.change(override, expect={"version": shown}, version=shown + 1, owner=by, owned_since=act.at)
        act.write("override.taken_over", subject=override, facts={"from": was})
    return override


def take_off(*, override: Override, words: str, by: Person, at: dt.datetime | None = None) -> Override:
    """Write that it was taken off. It stays in the list until another person has seen that the function works."""
    must_have_role(by, override.site, OPERATORS, to="take a forced value or a hold off")
    with history.act(site=override.site, by=by) as act:
        history.lock_site(UPKEEP, override.site)
        override.refresh_from_db()
        if override.begun_at is None:
            raise Refusal(f"{str(override).capitalize()} was never put on.")
        if override.removed_at is not None:
            raise Refusal(f"{str(override).capitalize()} was taken off already.")
        if at is not None and at > act.at + A_MINUTE:
            raise Refusal("That moment has not come yet; write when it was taken off.", field="at")
        moment = min(at or act.at, act.at)
        if moment <= override.begun_at:
            raise Refusal("It was put on only after that moment; look at day and time.", field="at")
        shown = override.version
        act.change(
            override,
            expect={"version": shown},
            version=shown + 1,
            removed_at=moment,
            removed_by=by,
            removed_words=words.strip(),
        )
        act.write("override.taken_off", subject=override, facts={"words": words.strip()}, happened_at=moment)
    return override


def see_restored(*, override: Override, how: str, words: str, proof: Proof, by: Person) -> Override:
    """Say, as another person than who took it off, by what it is seen that the function works again; signed."""
    must_have_role(by, override.site, OPERATORS, to="see that a function works again")
    faults = []
    if how not in Restoration.values:
        faults.append(Reason("Choose by what you saw that it works again.", "how"))
    if not words.strip():
        faults.append(Reason("Write what you saw, with its value: “moved from 38.0 to 36.4 L/s”.", "words"))
    if faults:
        raise Refusal(faults)
    with history.act(site=override.site, by=by) as act:
        history.lock_site(UPKEEP, override.site)
        override.refresh_from_db()
        _must_be_off(override)
        if override.removed_by_id == by.pk:
            raise Refusal("You took it off; another person sees that it works again.")
        meaning = f"I saw that what {override} defeated at {override.position.tag} works again."
        told = [override.number, how, words.strip()]
        sign(act, site=override.site, person=by, proof=proof, meaning=meaning, digest=digest(told))
        shown = override.version
        act.change(
            override,
            expect={"version": shown},
            version=shown + 1,
            restored_at=act.at,
            restored_by=by,
            restored_how=how,
            restored_words=words.strip(),
        )
        act.write("override.seen_restored", subject=override, facts={"how": how, "saw": words.strip()})
    return override


def say_not_restored(*, override: Override, words: str, by: Person) -> Override:
    """Say that it does not work yet although it was taken off: it counts as in force again until taken off anew."""
    must_have_role(by, override.site, OPERATORS, to="see that a function works again")
    if not words.strip():
        raise Refusal("Write what you saw.", field="words")
    with history.act(site=override.site, by=by) as act:
        history.lock_site(UPKEEP, override.site)
        override.refresh_from_db()
        _must_be_off(override)
        facts = {"saw": words.strip(), "was taken off": override.removed_at}
        shown = override.version
        act.change(
            override, expect={"version": shown}, version=shown + 1, removed_at=None, removed_by=None, removed_words=""
        )
        act.write("override.not_restored", subject=override, facts=facts)
    return override


def _must_be_off(override: Override) -> None:
    if override.restored_at is not None:
        raise Refusal(f"{str(override).capitalize()} has ended already.")
    if override.removed_at is None:
        raise Refusal(f"{str(override).capitalize()} is not taken off yet.")


def refuse_while_overridden(what: Position | Asset | Person, at: dt.datetime) -> None:
    """Refuse to retire a tag at which something is forced or defeated."""
    if isinstance(what, Position):
        standing = Override.objects.put_on().filter(position=what).order_by("number").first()
        if standing is not None:
            raise Refusal(f"{str(standing).capitalize()} stands at {what.tag}; take it off and see it restored first.")


def stops_forced(position: Position) -> list[Reason]:
    """What keeps a machine from being taken back: something forced or defeated at it or at a signal that acts on it."""
    return [
        Reason(
            f"{str(one).capitalize()} stands at {one.position.tag}: take it off, and let another person see that it "
            "works, before the machine is taken back.",
            "forced",
        )
        for one in Override.objects.put_on().touching(position).select_related("position").order_by("number")
    ]


def refuse_open_overrides(order: WorkOrder) -> None:
    """Refuse the end of an order while something at its tag, or put on for it, is not seen to be restored."""
    standing = Override.objects.put_on().filter(site=order.site)
    mine = standing.filter(order=order) | (
        standing.filter(position=order.position) if order.position_id else standing.none()
    )
    still = mine.order_by("number").first()
    if still is not None:
        raise Refusal(
            f"{str(still).capitalize()} stands at {still.position.tag}; it is taken off, and another person has seen "
            "that the function works again, before this work is accepted."
        )
