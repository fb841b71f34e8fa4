"""What the demo keeps beside its database, so that its second start can say again what was shown only once."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path

from spanwell.demo import cast

FILE = "demo.json"


@dataclass(frozen=True, slots=True)
class Keepsake:
    """The contractor's secret path and code, and up to which day the past was written (ISO).

    `whole` is false while it is still being written.
    """

    whole: bool
    written: str = ""
    link: str = ""
    code: str = ""


def read(folder: Path) -> Keepsake | None:
    """Return what was kept in a folder; None when no demo was ever begun there."""
    place = folder / FILE
    if not place.exists():
        return None
    try:
        return Keepsake(**json.loads(place.read_text(encoding="utf-8")))
    except (ValueError, TypeError):
        return Keepsake(whole=False)


def write(folder: Path, keepsake: Keepsake) -> None:
    """Keep it, whole or not at all."""
    begun = folder / f"{FILE}.part"
    begun.write_text(json.dumps(asdict(keepsake), indent=1), encoding="utf-8")
    begun.replace(folder / FILE)


def lines(keepsake: Keepsake, *, address: str) -> Iterator[str]:
    """What the demo says at every start: that all is invented, the sign-ins, the link, what is stamped on metal."""
    yield ""
    yield f"This is a demo. {cast.SITE}, its people and every figure are invented; it is nobody's plant."
    yield "It keeps to a folder of its own and knows published passwords: never put a real plant into it."
    yield f"Its past was written up to {keepsake.written}; `python3 manage.py demo --fresh` writes it anew up to now."
    yield ""
    yield f"Sign in with one of these names and the password {cast.PASSWORD}; sign records with the PIN."
    for part in cast.STAFF:
        yield f"  {part.sign_in:<6}  PIN {part.pin}  {part.name}, {part.role.label}: {part.does}"
    yield ""
    yield f"{cast.DAVOR.name}, {cast.DAVOR.does}:"
    yield f"  link  {address.rstrip('/')}{keepsake.link}"
    yield f"  code  {keepsake.code}"
    yield ""
    yield "Read at the locks and plates of P-72; no page shows it:"
    for number in ("DM-4", "14", "15", "16"):
        yield f"  {cast.STAMPS[number].name}: stamped …{cast.STAMPS[number].characters}"
    for name in ("3", "B-72", "V-721", "V-722"):
        yield f"  {cast.PLATES[name].name}: plate {cast.PLATES[name].characters}"
    yield ""
