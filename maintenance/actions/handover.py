"""Handing over at the end of a shift, and taking over, each thing by one named person."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection

from django.db.models import Max

from assets import history
from assets.compute.canonical import digest
from assets.errors import Refusal, Stale
from assets.history import UPKEEP, Act
from assets.models import Person, Site
from assets.permissions import OPERATORS, must_have_role
from assets.proofs import Proof, sign
from maintenance.actions.overrides_end import take_over_override
from maintenance.compute.handover import CARRIED, Told
from maintenance.models import Handover, HandoverItem, HandoverNote, Override
from maintenance.reads.handover import told_at

LONGEST_SHIFT = dt.timedelta(hours=48)


def hand_over(*, site: Site, shift_from: dt.datetime, words: str, proof: Proof, by: Person) -> Handover:
    """Write and sign what is handed over: generated from what was written, with one's own words beside it.

    Until somebody takes a thing over, who hands over goes on carrying it.
    """
    must_have_role(by, site, OPERATORS, to="hand a shift over")
    with history.act(site=site, by=by) as act:
        history.lock_site(UPKEEP, site)
        if shift_from >= act.at:
            raise Refusal("That moment has not come yet; write when your shift began.", field="shift_from")
        if act.at - shift_from > LONGEST_SHIFT:
            raise Refusal("That is more than two days ago; write when your shift began.", field="shift_from")
        told = told_at(site, by, shift_from, act.at)
        what = [words.strip(), *(f"{one.kind} {one.tag} {one.title}" for one in told)]
        signature = sign(
            act, site=site, person=by, proof=proof, meaning="I hand over what is written here.", digest=digest(what)
        )
        row = act.add(
            Handover(
                site=site,
                number=_next_number(site),
                shift_from=shift_from,
                made_at=act.at,
                made_by=by,
                words=words.strip(),
                signature=signature,
            )
        )
        act.add_all([_item(row, number, one) for number, one in enumerate(told, 1)])
        carried = [one.key for one in told if one.part == CARRIED]
        act.write("shift.handed_over", subject=row, facts={"from": shift_from, "words": row.words, "carried": carried})
    return row


def _next_number(site: Site) -> int:
    newest = Handover.objects.filter(site=site).aggregate(newest=Max("number"))["newest"]
    return int(newest or 0) + 1


def _item(row: Handover, number: int, one: Told) -> HandoverItem:
    return HandoverItem(
        handover=row,
        number=number,
        kind=one.kind[:20],
        carried_key=one.key,
        at=one.at,
        tag=one.tag,
        code=one.code,
        machine=one.machine,
        matters_for=one.matters_for,
        title=one.title,
        text=one.text,
        path=one.path,
    )


def take_over(*, handover: Handover, items: Collection[HandoverItem], words: str, proof: Proof, by: Person) -> Handover:
    """Take over the things chosen, signed; what is not chosen stays with who handed over."""
    must_have_role(by, handover.site, OPERATORS, to="take a shift over")
    if handover.made_by_id == by.pk:
        raise Refusal("Who hands over does not take over; the oncoming person does.")
    if not items:
        raise Refusal("Choose what you take over.", field="items")
    with history.act(site=handover.site, by=by) as act:
        history.lock_site(UPKEEP, handover.site)
        taken = [_take(act, handover, item, by) for item in items]
        what = [handover.number, *(item.title for item in taken), words.strip()]
        meaning = f"I take over from {handover.made_by.name} what I chose."
        sign(act, site=handover.site, person=by, proof=proof, meaning=meaning, digest=digest(what))
        if words.strip():
            note = HandoverNote(handover=handover, words=words.strip(), written_by=by, recorded_at=act.at)
            act.add(note)
        facts = {"took": [item.title for item in taken], "saw differently": words.strip()}
        act.write("shift.taken_over", subject=handover, facts=facts)
    return handover


def _take(act: Act, handover: Handover, item: HandoverItem, by: Person) -> HandoverItem:
    now = HandoverItem.objects.select_related("taken_by").filter(handover=handover, pk=item.pk).first()
    if now is None or not now.carried_key:
        raise Refusal("This was only told; there is nothing to take over.", field="items")
    if now.taken_by is not None:
        raise Stale(f"{now.tag}, {now.title}: {now.taken_by.name} took it over meanwhile. Nothing was changed.")
    kind, _, number = now.carried_key.partition(" ")
    if kind == "override":
        override = Override.objects.put_on().filter(site=handover.site, number=int(number)).first()
        if override is not None and override.owner_id != by.pk:
            take_over_override(override=override, by=by)
    return act.close(now, taken_at=act.at, taken_by=by)
