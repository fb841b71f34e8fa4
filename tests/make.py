"""The lowest valid objects of the plant, made through the history as the tool itself makes them."""

from __future__ import annotations

import datetime as dt
import io
import itertools

from django.contrib.auth.hashers import make_password
from django.utils import timezone

from assets.actions.files import add_file, read_file
from assets.history import act
from assets.models import (
    Area,
    Asset,
    Company,
    Fitting,
    KeptFile,
    Membership,
    Person,
    Position,
    Qualification,
    Role,
    SignalUse,
    Site,
)
from assets.proofs import Proof, demo_proof

NUMBERS = itertools.count(1)
PASSWORD = "a-long-test-word"
PIN = "483920"


def make_site(*, name: str = "Test Hollow Works", time_zone: str = "America/Denver", **other: str) -> Site:
    """A site in the mountains of the United States, whose clock changes twice a year."""
    with act(site=None, by=None) as made:
        site = made.add(Site(name=name, time_zone=time_zone, ask_name="Ruth Penhall", ask_phone="555 0110", **other))
        made.write("site.registered", subject=site)
    return site


def make_person(
    *,
    site: Site,
    role: Role = Role.OPERATOR,
    name: str | None = None,
    company: Company | None = None,
    qualified: bool = False,
) -> Person:
    """A person with a role at the site; contractors get no sign-in name and no password."""
    number = next(NUMBERS)
    outside = role == Role.CONTRACTOR
    with act(site=site, by=None) as made:
        person = made.add(
            Person(
                name=name or f"{role.label.capitalize()} {number}",
                sign_in=None if outside else f"{role.value}{number}",
                password=make_password(None if outside else PASSWORD),
                pin_hash="" if outside else make_password(PIN),
                phone=f"555 01{number % 100:02d}",
                company=company,
            )
        )
        made.add(Membership(person=person, site=site, role=role, from_at=made.at, from_by=person))
        if qualified:
            made.add(
                Qualification(
                    person=person,
                    site=site,
                    kind="lockout",
                    from_day=dt.date(2020, 1, 1),
                    proof="course record",
                    recorded_at=made.at,
                    recorded_by=person,
                )
            )
        made.write("person.registered", subject=person)
    return person


def make_company(*, site: Site, name: str = "Alder Pump Service") -> Company:
    """An outside employer."""
    with act(site=site, by=None) as made:
        company = made.add(Company(site=site, name=name, phone="555 0190"))
        made.write("company.registered", subject=company)
    return company


def make_area(*, site: Site, name: str | None = None, walk_order: int = 1) -> Area:
    """An area of the site."""
    with act(site=site, by=None) as made:
        area = made.add(Area(site=site, name=name or f"Area {next(NUMBERS)}", walk_order=walk_order))
        made.write("area.registered", subject=area)
    return area


def make_position(
    *,
    site: Site,
    area: Area | None = None,
    tag: str | None = None,
    does: str = "measures",
    quantity: str = "pH",
    unit: str = "pH",
    matters_for: str = "compliance",
    service: str = "pH, treated water",
    compliance_point: bool = False,
) -> Position:
    """A tagged position; `does="moves"` makes a machine."""
    number = next(NUMBERS)
    moves = does == "moves"
    with act(site=site, by=None) as made:
        position = made.add(
            Position(
                site=site,
                area=area or Area.objects.filter(site=site).first() or make_area(site=site),
                tag=tag or (f"P-N{number}" if moves else f"AIT-N{number}"),  # no test writes such a tag by hand
                label_code=f"T{number:05d}",
                service="Booster pump" if moves and service.startswith("pH") else service,
                does=does,
                quantity="" if moves else quantity,
                unit="" if moves else unit,
                range_low="" if moves else "0",
                range_high="" if moves else "14",
                matters_for=matters_for,
                compliance_point=compliance_point,
                walk_order=number,
            )
        )
        made.write("position.registered", subject=position)
    return position


def make_asset(*, site: Site, kind: str = "pH probe", serial: str | None = None) -> Asset:
    """A serial-numbered asset that is fitted nowhere."""
    with act(site=site, by=None) as made:
        asset = made.add(Asset(site=site, kind=kind, serial=serial or f"40-{next(NUMBERS)}"))
        made.write("asset.registered", subject=asset)
    return asset


def make_fitting(*, position: Position, asset: Asset, by: Person, from_at: dt.datetime | None = None) -> Fitting:
    """An asset fitted at a position, without what the apps above do about it."""
    with act(site=position.site, by=by) as made:
        moment = from_at or timezone.now()
        fitting = made.add(Fitting(position=position, asset=asset, from_at=moment, from_by=by, recorded_at=made.at))
        made.write("asset.fitted", subject=position)
    return fitting


def make_use(*, position: Position, target: Position, by: Person, use: str = "paces") -> SignalUse:
    """A use of a position's signal."""
    with act(site=position.site, by=by) as made:
        row = made.add(SignalUse(position=position, use=use, target=target, from_at=made.at, from_by=by))
        made.write("use.registered", subject=position)
    return row


def picture(*, size: tuple[int, int] = (40, 30), kind: str = "PNG") -> bytes:
    """The bytes of a picture of one colour."""
    from PIL import Image

    drawn = io.BytesIO()
    Image.new("RGB", size, "teal").save(drawn, kind)
    return drawn.getvalue()


def make_file(*, site: Site, by: Person, data: bytes | None = None, name: str = "coating on the glass.png") -> KeptFile:
    """A picture kept at the site."""
    file = read_file(data=data or picture(), name=name)
    with act(site=site, by=by) as made:
        add_file(made, file)
        made.write("file.kept", subject=site)
    return file


def proof_of(person: Person) -> Proof:
    """Stand in for the person's PIN."""
    return demo_proof(person)
