"""Personal links of contractors: a secret address and a code told apart from it."""

from __future__ import annotations

import hashlib
import secrets
from dataclasses import dataclass

from django.contrib.auth.hashers import make_password

from assets.compute.label_codes import LETTERS
from assets.errors import Refusal
from assets.history import act
from assets.models import AccessLink, Person, Role, Site
from assets.permissions import SUPERVISORS, must_have_role, role_of

CODE_LENGTH = 8


@dataclass(frozen=True, slots=True)
class IssuedLink:
    """A link just made, with its secrets, which are shown this once and kept only as hashes."""

    link: AccessLink
    token: str
    code: str


def token_hash(token: str) -> str:
    """Return the hash a link is found by; the token has 256 random bits, so a plain SHA-256 is enough."""
    return hashlib.sha256(token.encode()).hexdigest()


def make_access_link(*, site: Site, person: Person, path: str, by: Person) -> IssuedLink:
    """Make the personal link of a contractor to one job (a path of this site)."""
    must_have_role(by, site, SUPERVISORS, to="invite a contractor")
    if role_of(person, site) != Role.CONTRACTOR:
        raise Refusal(f"{person.name} is no contractor at this site; people of the plant sign in.", field="person")
    token = secrets.token_urlsafe(32)
    code = "".join(secrets.choice(LETTERS) for _ in range(CODE_LENGTH))
    hashed = make_password(code)
    with act(site=site, by=by) as opened:
        link = opened.add(
            AccessLink(
                site=site,
                person=person,
                path=path,
                token_hash=token_hash(token),
                code_hash=hashed,
                made_at=opened.at,
                made_by=by,
            )
        )
        opened.write("link.made", subject=link, facts={"person": person.name, "path": path})
    return IssuedLink(link, token, code)


def close_access_link(*, link: AccessLink, by: Person) -> AccessLink:
    """End a personal link; who holds it can no longer come in by it."""
    must_have_role(by, link.site, SUPERVISORS, to="end a contractor's link")
    with act(site=link.site, by=by) as opened:
        opened.change(link, expect={"closed_at": None}, closed_at=opened.at)
        opened.write("link.closed", subject=link, facts={"person": link.person.name, "path": link.path})
    return link
