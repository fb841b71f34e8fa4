"""A contractor is invited to one lockout by a personal link and a code told apart from it."""

from __future__ import annotations

from assets.actions.links import IssuedLink, close_access_link, make_access_link
from assets.errors import Refusal
from assets.models import Person
from maintenance.actions.lockout.opening import LockAct
from maintenance.models import Lockout
from maintenance.permissions.locks import open_link, path_of


def invite(*, lockout: Lockout, person: Person, by: Person) -> IssuedLink:
    """Make a contractor's link to this lockout; an earlier one of theirs ends in the same act.

    The link and its code are returned this once and kept only as hashes.
    """
    with LockAct.on(lockout, by) as opened:
        story = opened.story()
        has_a_lock_on = any(h.owner.id == person.pk for h in story.on)
        if story.closed_at is not None and not has_a_lock_on:
            raise Refusal(f"Lockout {story.number} is closed; there is nothing left to do in it.", field="person")
        if story.box_id is None:
            raise Refusal("This lockout uses no box; a visitor's lock goes on a box. Begin the lockout with one.")
        earlier = open_link(person, opened.lockout)
        if earlier is not None:
            close_access_link(link=earlier, by=by)
        issued = make_access_link(site=lockout.site, person=person, path=path_of(lockout), by=by)
        opened.write("lockout.invited", person=person.name, again=earlier is not None)
    return issued
